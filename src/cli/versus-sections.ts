/** Scenes side by side as a part of a report page. */
import { drawRowBars } from '../report/heat-rows.js';
import { drawStackedBars } from '../report/season-bars.js';
import type { ReportSection } from '../report/section.js';
import type { VersusResult } from '../study/line-points.js';
import { letterOf } from './compare-report.js';
import { receiversText } from './season-text.js';
import { versusBars, versusRows } from './versus-output.js';
import { VERSUS_FOOT, versusCells, versusCsv, versusNotes } from './versus-text.js';

export function versusSection(result: VersusResult): ReportSection {
  const { entries } = result;
  return {
    id: 'versus',
    title: `Side by side: the year ${result.year}`,
    lead: [
      ...versusNotes(result),
      `${result.site.name}; ${receiversText(result.receivers)}. Sky: ${result.sky}.`,
    ].join(' '),
    figures: [
      {
        drawn: drawStackedBars(versusBars(result)),
        caption: 'Where the sunlight of the year goes, scene by scene.',
        description:
          'Bars of energy per m² of mirror, heat delivered at the foot; the figures are in the table below.',
        csv: 'versus.csv',
      },
      {
        drawn: drawRowBars(versusRows(result)),
        caption: 'Heat of the year, scene by scene.',
        description: entries
          .map(
            ({ delivered_per_m2_kwh }, i) =>
              `${letterOf(i)}: ${delivered_per_m2_kwh.toFixed(0)} kWh per m² of mirror`,
          )
          .join('; '),
        csv: 'versus.csv',
      },
    ],
    tables: [
      {
        caption: 'The scenes',
        head: ['', 'file', 'title'],
        rows: entries.map(({ file, title }, i) => [letterOf(i), file, title]),
      },
      {
        caption: 'Figures, each with its error or its span',
        head: ['', ...entries.map((_, i) => letterOf(i))],
        rows: versusCells(result),
      },
    ],
    csv: [{ name: 'versus.csv', text: versusCsv(result) }],
    methods: [`Side by side: ${VERSUS_FOOT}`],
  };
}
