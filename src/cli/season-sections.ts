/** The energy of a year as a part of a report page. */
import { drawStackedBars, drawSteps } from '../report/season-bars.js';
import type { ReportSection, SectionTable } from '../report/section.js';
import { formatFigure, halfWidth } from '../result/number-format.js';
import type { SeasonResult, SeasonSums } from '../study/season-types.js';
import {
  gapsText,
  LOSSES,
  MONTHS,
  monthBars,
  receiversText,
  seasonCsv,
  tableText,
  tiltText,
  yearSteps,
} from './season-text.js';

function monthTable({ months, total }: SeasonResult): SectionTable {
  const share = (kwh: number, { available_kwh }: SeasonSums): string =>
    available_kwh > 0 ? ((100 * kwh) / available_kwh).toFixed(1).replace(/^-0\.0$/, '0.0') : '';
  const row = (name: string, sums: SeasonSums): string[] => [
    name,
    sums.sun_hours.toFixed(0),
    sums.dni_kwh_m2.toFixed(1),
    sums.available_kwh.toFixed(0),
    `${sums.caught.value.toFixed(1)} ± ${halfWidth(sums.caught).toFixed(1)}`,
    `${sums.caught_per_m2.value.toFixed(1)} ± ${halfWidth(sums.caught_per_m2).toFixed(1)}`,
    share(sums.caught.value, sums),
    ...LOSSES.map(([, key]) => share(sums[key], sums)),
  ];
  return {
    caption: 'The months; ± is the 95 % half width, shares are of DNI x area',
    head: [
      'month',
      'sun, h',
      'DNI, kWh/m²',
      'DNI x area, kWh',
      'caught, kWh',
      'caught, kWh per m²',
      'caught, %',
      ...LOSSES.map(([name]) => `${name}, %`),
    ],
    rows: [...months.map((sums) => row(MONTHS[sums.month - 1], sums)), row('year', total)],
  };
}

export function seasonSection(result: SeasonResult): ReportSection {
  const { total, months } = result;
  const tilt = tiltText(result);
  const best = months.reduce((a, b) => (b.caught.value > a.caught.value ? b : a));
  const least = months.reduce((a, b) => (b.caught.value < a.caught.value ? b : a));
  const largest = LOSSES.reduce((a, b) => (total[b[1]] > total[a[1]] ? b : a));
  return {
    id: 'season',
    title: `The year ${result.year}`,
    lead:
      `Caught in the year: ${formatFigure(total.caught)}, ${formatFigure(total.caught_per_m2)} of mirror; ${receiversText(result.receivers)}` +
      `${tilt === '' ? '' : `; ${tilt}`}. Sky: ${result.sky}. Heat that reaches the openings, before losses of the receivers.${gapsText(
        result,
      )
        .map((text) => ` ${text}`)
        .join('')}`,
    figures: [
      {
        drawn: drawStackedBars(monthBars(result)),
        caption: 'Where the sunlight goes, month by month.',
        description: `Most is caught in ${MONTHS[best.month - 1]}: ${formatFigure(best.caught)}; least in ${MONTHS[least.month - 1]}: ${formatFigure(least.caught)}.`,
        csv: 'season.csv',
      },
      {
        drawn: drawSteps(yearSteps(result)),
        caption: 'Where the sunlight of the year goes.',
        description: `The largest loss is that to ${largest[0]}: ${total[largest[1]].toFixed(0)} of ${total.available_kwh.toFixed(0)} kWh.`,
        csv: 'season.csv',
      },
    ],
    tables: [monthTable(result)],
    csv: [{ name: 'season.csv', text: seasonCsv(result) }],
    methods: [`Year: power is read from a table over the sun's places. ${tableText(result.table)}`],
  };
}
