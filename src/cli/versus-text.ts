/** Line against points in words and tables. */
import { createColors } from 'picocolors';
import { toCsv } from '../report/csv.js';
import { plainText } from '../report/plain-text.js';
import { formatFigure } from '../result/number-format.js';
import type { VersusEntry, VersusResult } from '../study/line-points.js';
import { letterOf } from './compare-report.js';
import { moneyText } from './cost-text.js';
import { lineSum, spanText } from './heat-text.js';
import { noticesText, receiversText } from './season-text.js';
import type { Channel } from './session.js';
import { textTable } from './text-table.js';

const percent = (share: number): string => `${(100 * share).toFixed(1)}`;

const ROWS: readonly (readonly [string, (entry: VersusEntry) => string])[] = [
  ['mirror area, m²', (entry) => entry.mirror_area_m2.toFixed(3)],
  ['receivers', (entry) => `${entry.receivers} ${entry.kind.replace('_', ' ')}`],
  ['mirror over opening area', (entry) => entry.geometric_concentration.toFixed(1)],
  ['light caught, kWh', (entry) => formatFigure(entry.caught_kwh, { bare: true })],
  ['heat delivered, kWh', (entry) => spanText(entry.delivered_kwh)],
  ['  ± rays and table (95 %)', (entry) => `± ${(1.96 * entry.ray_std_err_kwh).toFixed(0)}`],
  [
    '  95 % for uncertain inputs',
    (entry) => `${entry.ci95_kwh[0].toFixed(0)} to ${entry.ci95_kwh[1].toFixed(0)}`,
  ],
  ['  per m² of mirror', (entry) => entry.delivered_per_m2_kwh.toFixed(0)],
  ['hours at temperature', (entry) => spanText(entry.hours)],
  [
    'lost by receivers and pipes, kWh',
    (entry) => lineSum(entry.waterfall_kwh, ['receiver_losses', 'pipes']).toFixed(0),
  ],
  ['peak flux, brightest hour, kW/m²', (entry) => formatFigure(entry.peak_flux_kw_m2, { bare: true })],
  ['  ceiling by closed form', (entry) => entry.closed_forms.flux_ceiling_kw_m2?.toFixed(0) ?? '-'],
  ['oil film under the spot, °C', (entry) => spanText(entry.film_temperature_c)],
  ['without flow, °C', (entry) => (entry.stagnation_c === null ? '-' : spanText(entry.stagnation_c))],
  ['cosine loss, %: traced', (entry) => percent(entry.closed_forms.cosine_traced)],
  ['  summed without rays', (entry) => percent(entry.closed_forms.cosine_summed)],
  ['efficiency of the hardest receiver, %', (entry) => percent(entry.closed_forms.efficiency)],
  ['  with radiation as the only loss', (entry) => percent(entry.closed_forms.radiation_only_efficiency)],
  [
    'best opening (the scene has), mm',
    (entry) =>
      entry.best_opening_mm === null
        ? '-'
        : `${entry.best_opening_mm.toFixed(0)} (${entry.present_opening_mm?.toFixed(0) ?? '-'})`,
  ],
  [
    'spent at first',
    (entry) => (entry.price === null ? '-' : `${moneyText(entry.price.investment)} ${entry.price.currency}`),
  ],
  ['price per kWh', (entry) => (entry.price === null ? '-' : entry.price.per_kwh.toFixed(4))],
  [
    '  95 %',
    (entry) =>
      entry.price === null
        ? '-'
        : `${entry.price.ci95_per_kwh[0].toFixed(3)} to ${entry.price.ci95_per_kwh[1].toFixed(3)}`,
  ],
];

/** What counts beside the bare figures: areas and scenes that differ. */
export function versusNotes({ equal_area, differences }: VersusResult): readonly string[] {
  return [
    ...(equal_area ? [] : ['Mirror areas differ: compare figures per m² of mirror.']),
    ...(differences.length === 0 ? [] : [`Not the same in all: ${differences.join('; ')}.`]),
  ];
}

export function versusCells({ entries }: VersusResult): string[][] {
  return ROWS.map(([name, of]) => [name, ...entries.map(of)]);
}

export const VERSUS_FOOT =
  'In brackets: span of the loss formulas. Ceilings: sin² of the rim angle over sin² of the half sun for points, 4/π times the plain ratio for a line, times film and beam.';

export function versusText(result: VersusResult, out: Channel): string {
  const { bold, yellow } = createColors(out.colour);
  const { entries } = result;
  return [
    bold(`Side by side: the year ${result.year}`),
    plainText(`${result.site.name}; ${receiversText(result.receivers)}. Sky: ${result.sky}.`),
    ...entries.map(({ title, file }, i) => plainText(`  ${letterOf(i)}  ${title} (${file})`)),
    '',
    ...result.answer.map(plainText),
    ...versusNotes(result).map((note) => yellow(plainText(note))),
    '',
    textTable(['', ...entries.map((_, i) => letterOf(i))], versusCells(result), out.colour),
    '',
    VERSUS_FOOT,
    noticesText(result, out),
  ].join('\n');
}

export function versusCsv({ entries }: VersusResult): string {
  return toCsv(
    [
      'file',
      'mirror_area_m2',
      'caught_kwh',
      'caught_std_err_kwh',
      'delivered_kwh',
      'delivered_low_kwh',
      'delivered_high_kwh',
      'ray_std_err_kwh',
      'hours',
      'peak_flux_kw_m2',
      'price_per_kwh',
      'price_low_per_kwh',
      'price_high_per_kwh',
    ],
    entries.map((entry) => [
      entry.file,
      entry.mirror_area_m2,
      entry.caught_kwh.value,
      entry.caught_kwh.std_err,
      entry.delivered_kwh.best,
      entry.delivered_kwh.low,
      entry.delivered_kwh.high,
      entry.ray_std_err_kwh,
      entry.hours.best,
      entry.peak_flux_kw_m2.value,
      entry.price?.per_kwh ?? '',
      entry.price?.ci95_per_kwh[0] ?? '',
      entry.price?.ci95_per_kwh[1] ?? '',
    ]),
  );
}
