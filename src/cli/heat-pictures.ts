/** What the figures of heat are drawn from. */
import type { OpeningFigure } from '../report/heat-opening.js';
import type { RowBar, RowBars } from '../report/heat-rows.js';
import { LIGHT_COLOURS, type StackedBars } from '../report/season-bars.js';
import type { HeatResult } from '../study/heat-result.js';
import type { BookLine, HeatYear, OpeningStudy, Span } from '../study/heat-types.js';
import { lineSum, spanText } from './heat-text.js';
import { MONTHS, receiversText } from './season-text.js';

/** Light in the colours of the year's figures, heat in reds and greys. */
export const COLOURS: Readonly<Record<string, string>> = {
  on_mirrors: '#fbe7a8',
  cosine: LIGHT_COLOURS.cosine,
  shading: LIGHT_COLOURS.shading,
  film: LIGHT_COLOURS.film,
  blocking: LIGHT_COLOURS.blocking,
  spill: LIGHT_COLOURS.spill,
  reflected: '#f3d27a',
  too_little: '#b9b3a8',
  start_up: '#8d8577',
  receiver_losses: '#b3382c',
  radiation: '#b3382c',
  convection: '#d0705f',
  conduction: '#e5aba0',
  pipes: '#7c2b4a',
  delivered: '#c2571a',
};

function foot(result: HeatResult): string {
  return `${result.site.name} · seed ${result.seed} · scene ${result.scene_hash.slice(0, 12)} · error mark: span of the loss formulas`;
}

/** Bars that go down from what there is; the last stands on the foot. */
function waterfallBars(lines: readonly BookLine[], delivered: Span, unit: string): readonly RowBar[] {
  const [first, ...rest] = lines;
  const share = (value: number) => `${((100 * value) / Math.max(first.value, 1e-300)).toFixed(1)} %`;
  const note = (value: number) => `${value.toFixed(0)} ${unit} · ${share(value)}`;
  let left = first.value;
  return [
    {
      label: first.label,
      from: 0,
      to: first.value,
      colour: COLOURS[first.key],
      note: `${first.value.toFixed(0)} ${unit}`,
      mark: null,
    },
    ...rest.map(({ key, label, value }): RowBar => {
      if (key === 'delivered')
        return {
          label,
          from: 0,
          to: value,
          colour: COLOURS[key],
          note: note(value),
          mark: [delivered.low, delivered.high],
        };
      const from = left;
      left -= value;
      return { label, from, to: left, colour: COLOURS[key], note: note(value), mark: null };
    }),
  ];
}

export function momentRows(result: HeatResult): RowBars {
  const { moment } = result;
  return {
    title: `From light to heat: ${result.title}`,
    subtitles: [
      `${moment.time ?? ''}, beam ${moment.dni_w_m2.toFixed(0)} W/m², air ${moment.ambient_c.toFixed(0)} °C, wind ${moment.wind_m_s.toFixed(1)} m/s · delivered ${spanText(moment.delivered_w)} W`,
      foot(result),
    ],
    xLabel: 'power / W',
    bars: waterfallBars(moment.waterfall_w, moment.delivered_w, 'W'),
    steps: true,
  };
}

export function yearRows(result: HeatResult, heat: HeatYear): RowBars {
  return {
    title: `From sunlight to heat: ${result.title}`,
    subtitles: [
      `${result.year}, ${receiversText(result.receivers)} · delivered ${spanText(heat.delivered_kwh)} kWh at ${heat.mean_oil_c.toFixed(0)} °C`,
      `sky: ${result.sky}`,
      foot(result),
    ],
    xLabel: 'energy of the year / kWh',
    bars: waterfallBars(heat.waterfall_kwh, heat.delivered_kwh, 'kWh'),
    steps: true,
  };
}

export const BAR_PARTS: readonly (readonly [string, string, readonly string[]])[] = [
  ['pipes', 'pipes', ['pipes']],
  ['receiver_losses', 'hot receivers', ['receiver_losses']],
  ['start_up', 'warming up, standing', ['start_up', 'too_little']],
  ['reflected', 'reflected by receivers', ['reflected']],
  ['spill', 'spill', ['spill']],
  ['blocking', 'blocking', ['blocking']],
  ['film', 'film', ['film']],
  ['shading', 'shading', ['shading']],
  ['cosine', 'cosine', ['cosine']],
];

export function heatBars(result: HeatResult, heat: HeatYear): StackedBars {
  const { months } = heat;
  return {
    title: `Heat by month: ${result.title}`,
    subtitles: [
      `${result.year}, ${receiversText(result.receivers)} · delivered ${spanText(heat.delivered_kwh)} kWh in ${heat.hours.best.toFixed(0)} hours`,
      `sky: ${result.sky}`,
      foot(result).replace(' · error mark: span of the loss formulas', ''),
    ],
    yLabel: 'energy on the mirrors / kWh',
    bars: months.map(({ month }) => MONTHS[month - 1]),
    parts: [
      {
        label: 'heat delivered',
        colour: COLOURS.delivered,
        value: months.map(({ waterfall_kwh }) => lineSum(waterfall_kwh, ['delivered'])),
      },
      ...BAR_PARTS.map(([key, label, keys]) => ({
        label,
        colour: COLOURS[key],
        value: months.map(({ waterfall_kwh }) => lineSum(waterfall_kwh, keys)),
      })),
    ],
    notes: months.map(({ delivered_kwh }) => delivered_kwh.best.toFixed(0)),
    // The span of the formulas is in the table: marks would hide the numbers.
    halfWidth: months.map(() => 0),
  };
}

export function openingCurve(result: HeatResult, opening: OpeningStudy): OpeningFigure {
  return {
    title: `The best opening: ${result.title}`,
    subtitles: [
      `best ${opening.measure} ${opening.best_mm.toFixed(0)} mm; from ${opening.flat_from_mm.toFixed(0)} to ${opening.flat_to_mm.toFixed(0)} mm less than 1 % is lost`,
      foot(result).replace('error mark', 'band'),
    ],
    xLabel: `${opening.measure} of the opening / mm`,
    yLabel: 'energy of the year / kWh',
    points: opening.points.map((point) => ({
      size: point.size_mm,
      caught: point.caught_kwh,
      low: point.delivered_low_kwh,
      best: point.delivered_kwh,
      high: point.delivered_high_kwh,
    })),
    best: opening.best_mm,
    flat: [opening.flat_from_mm, opening.flat_to_mm],
    present: opening.present_mm,
  };
}
