/** Re-settings as a part of a report page. */
import { drawYearCurves } from '../report/season-curves.js';
import type { ReportSection, SectionTable } from '../report/section.js';
import {
  changesCells,
  curves,
  dateCells,
  lateCells,
  methodText,
  planCells,
  type ResettingsFound,
  type ResettingWords,
  resettingTables,
  type StudiedWay,
  sideCells,
  subtitlesOf,
  titledAnswer,
} from './season-resetting-text.js';

/** Heads of a terminal's table, for a page; none where it has no rows. */
function titled(caption: string, { head, rows }: Pick<SectionTable, 'head' | 'rows'>): SectionTable[] {
  return rows.length === 0
    ? []
    : [
        {
          caption,
          head: head.map((text) => text.replace('\n', ' ').replace(/(\w) (kWh|%|days)$/, '$1, $2')),
          rows,
        },
      ];
}

function wayTables(way: StudiedWay): SectionTable[] {
  const { name } = way.study.table.kind;
  return [
    ...titled(
      `Re-set: ${name}, by the number of changes a year; ± is the 95 % half width`,
      changesCells(way),
    ),
    ...titled(`Plans, ${name}`, planCells(way)),
    ...titled(`The plan asked for, ${name}`, dateCells(way)),
    ...titled(`What lateness costs that plan, ${name}`, lateCells(way)),
  ];
}

export function resettingSection(found: ResettingsFound, words: ResettingWords): ReportSection {
  const { ways } = found;
  const { year, subtitle, sky } = words;
  const answers = ways.map(titledAnswer).join(' ');
  return {
    id: 'resettings',
    title: `Re-settings in ${year}`,
    lead: `${subtitle}. Sky: ${sky}. Heat that reaches the openings, before losses of the receivers.`,
    figures: [
      {
        drawn: drawYearCurves(curves(ways, subtitlesOf(words))),
        caption: 'Energy of the year against the number of re-settings.',
        description: answers,
        csv: 'resettings.csv',
      },
    ],
    tables: [...ways.flatMap(wayTables), ...titled('The ways side by side', sideCells(ways))],
    csv: resettingTables(found).map(({ name, text }) => ({ name, text })),
    methods: [
      'Re-settings: plans are the best there are for the energy of each day at each setting (exact dynamic programming); what the last one ' +
        'brings is against the best plan of one fewer.',
      ...ways.map((way) => `Re-settings, ${way.study.table.kind.name}: ${methodText(way)}`),
    ],
  };
}
