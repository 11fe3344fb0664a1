/** Heat and its price as parts of a report page. */
import { drawIntervalCurve } from '../report/cost-film.js';
import { drawOpeningFigure } from '../report/heat-opening.js';
import { drawRowBars } from '../report/heat-rows.js';
import { drawStackedBars } from '../report/season-bars.js';
import type { ReportSection, SectionFigure, SectionTable } from '../report/section.js';
import type { CostDocument } from '../study/cost-result.js';
import type { HeatResult } from '../study/heat-result.js';
import type { BookLine } from '../study/heat-types.js';
import { filmCurve, leverRows, splitRows } from './cost-pictures.js';
import { costCsv, filmCsv, moneyText } from './cost-text.js';
import { heatBars, momentRows, openingCurve, yearRows } from './heat-pictures.js';
import { monthsCsv, openingCsv, openingText, spanText } from './heat-text.js';

const METHODS: readonly string[] = [
  'Heat: radiation of a grey or selective wall; convection of cavities after Stine and McDonald with bounds by Siebers and Kraabel, wind after Ma; plates and tubes by Churchill and Chu and others; low and high are the ends of what these formulas span, not an interval of chance.',
  'Year: one body temperature warms with absorbed light less losses, delivers once it is as hot as wanted, cools at rest; all absorbed light is booked.',
  'Uncertainty: propagation of distributions by draws (JCGM 101) over whole years worked out at several factors on the light.',
];

function waterfall(caption: string, lines: readonly BookLine[], unit: string): SectionTable {
  const [first, ...rest] = lines;
  let left = first.value;
  return {
    caption,
    head: ['', unit, '%', `left, ${unit}`],
    rows: [
      [first.label, first.value.toFixed(0), '100.0', first.value.toFixed(0)],
      ...rest.map(({ key, label, value }) => {
        if (key !== 'delivered') left -= value;
        return [label, value.toFixed(0), ((100 * value) / first.value).toFixed(1), left.toFixed(0)];
      }),
    ],
  };
}

export function heatSection(result: Omit<HeatResult, 'kind'>): ReportSection {
  const { heat, moment } = result;
  const own: HeatResult = { ...result, kind: 'heat' };
  const figures: SectionFigure[] = [];
  const tables: SectionTable[] = [];
  if (heat !== null) {
    figures.push(
      {
        drawn: drawRowBars(yearRows(own, heat)),
        caption: 'From sunlight on the mirrors to heat delivered, over the year.',
        description: `Of ${heat.waterfall_kwh[0].value.toFixed(0)} kWh on the mirrors ${heat.delivered_kwh.best.toFixed(0)} kWh are delivered.`,
        csv: 'heat-months.csv',
      },
      {
        drawn: drawStackedBars(heatBars(own, heat)),
        caption: 'The same month by month.',
        description: 'Bars of the twelve months, heat delivered at the foot.',
        csv: 'heat-months.csv',
      },
    );
    tables.push(waterfall('The year, step by step', heat.waterfall_kwh, 'kWh'), {
      caption: 'One kWh of sunlight, followed',
      head: ['', 'kWh left'],
      rows: heat.follow_one_kwh.map(({ label, value }) => [label, value.toFixed(3)]),
    });
    if (heat.opening !== null) {
      figures.push({
        drawn: drawOpeningFigure(openingCurve(own, heat.opening)),
        caption: 'Heat of the year against the size of the opening.',
        description: openingText(heat.opening),
        csv: 'heat-opening.csv',
      });
    }
  }
  figures.push({
    drawn: drawRowBars(momentRows(own)),
    caption:
      heat === null ? 'From light to heat at the moment.' : 'From light to heat in the brightest hour.',
    description: `Delivered ${spanText(moment.delivered_w)} W at ${moment.time ?? 'the moment of the scene'}.`,
    csv: null,
  });
  tables.push(waterfall('The moment, step by step', moment.waterfall_w, 'W'));
  return {
    id: 'heat',
    title: 'Heat',
    lead:
      heat === null
        ? `At ${moment.time ?? 'the moment of the scene'} ${spanText(moment.delivered_w)} W of heat are delivered.`
        : `The year delivers ${spanText(heat.delivered_kwh)} kWh of heat at ${heat.mean_oil_c.toFixed(0)} °C, in ${heat.hours.best.toFixed(0)} hours.`,
    figures,
    tables,
    csv:
      heat === null
        ? []
        : [
            { name: 'heat-months.csv', text: monthsCsv(heat) },
            ...(heat.opening === null ? [] : [{ name: 'heat-opening.csv', text: openingCsv(heat.opening) }]),
          ],
    methods: METHODS,
  };
}

export function costSection(result: CostDocument): ReportSection {
  const { cost } = result;
  const figures: SectionFigure[] = [
    {
      drawn: drawRowBars(splitRows(result)),
      caption: 'What a kWh of heat is paid for.',
      description: `Parts and yearly work add up to ${moneyText(cost.per_kwh)} ${cost.currency} per kWh.`,
      csv: 'cost.csv',
    },
    {
      drawn: drawRowBars(leverRows(result)),
      caption: 'What moves the price most.',
      description: cost.levers
        .slice(0, 3)
        .map(({ name, elasticity }) => `1 % more of ${name}: ${elasticity.toFixed(2)} % on the price`)
        .join('; '),
      csv: null,
    },
  ];
  if (cost.film !== null) {
    figures.push({
      drawn: drawIntervalCurve(filmCurve(result, cost.film)),
      caption: 'When to replace the film.',
      description: `Best every ${cost.film.best.interval_months} months; between ${cost.film.flat_from_months} and ${cost.film.flat_to_months} months less than 1 % is lost.`,
      csv: 'film.csv',
    });
  }
  return {
    id: 'cost',
    title: 'Price of heat',
    lead: `A kWh of heat costs ${moneyText(cost.per_kwh)} ${cost.currency}, 95 % from ${moneyText(cost.ci95_per_kwh[0])} to ${moneyText(cost.ci95_per_kwh[1])}.`,
    figures,
    tables: [
      {
        caption: `Parts and upkeep, ${cost.currency}`,
        head: ['', 'at first', 'present cost', 'per kWh', '%'],
        rows: cost.lines.map((line) => [
          line.name,
          moneyText(line.first),
          moneyText(line.present),
          line.per_kwh.toFixed(4),
          ((100 * line.per_kwh) / cost.per_kwh).toFixed(1),
        ]),
      },
    ],
    csv: [
      { name: 'cost.csv', text: costCsv(result) },
      ...(cost.film === null ? [] : [{ name: 'film.csv', text: filmCsv(cost.film) }]),
    ],
    methods: [
      'Price: levelised cost, (investment + replacements and upkeep, discounted) over discounted heat; replacements paid when due.',
    ],
  };
}
