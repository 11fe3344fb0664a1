/** What the figures of the price of heat are drawn from. */
import type { IntervalCurve } from '../report/cost-film.js';
import type { RowBars } from '../report/heat-rows.js';
import type { CostDocument } from '../study/cost-result.js';
import type { FilmResult } from '../study/cost-types.js';
import { moneyText } from './cost-text.js';

const PART = '#3f6f8f';
const UPKEEP = '#8fb3a1';
const DEARER = '#b3382c';
const CHEAPER = '#3f8f6b';
const WHOLE = '#d9c9a3';
/** Levers drawn. */
const SHOWN = 10;

function foot(result: CostDocument): string {
  return `${result.site.name} · seed ${result.seed} · scene ${result.scene_hash.slice(0, 12)}`;
}

/** Parts of a price one after the other, up to the whole. */
export function splitRows(result: CostDocument): RowBars {
  const { cost } = result;
  let from = 0;
  const bars = [...cost.lines]
    .sort((one, other) => other.per_kwh - one.per_kwh)
    .map((line) => {
      const start = from;
      from += line.per_kwh;
      return {
        label: line.name,
        from: start,
        to: from,
        colour: line.kind === 'part' ? PART : UPKEEP,
        note: `${line.per_kwh.toFixed(4)} · ${((100 * line.per_kwh) / cost.per_kwh).toFixed(1)} %`,
        mark: null,
      };
    });
  return {
    title: `What a kWh of heat costs: ${result.title}`,
    subtitles: [
      `${moneyText(cost.per_kwh)} ${cost.currency}/kWh, 95 % from ${moneyText(cost.ci95_per_kwh[0])} to ${moneyText(cost.ci95_per_kwh[1])} · ${cost.years} years at ${(100 * cost.rate).toFixed(1)} %, ${cost.heat_kwh.toFixed(0)} kWh in the first`,
      `${foot(result)} · blue: bought parts with their crew; green: paid yearly`,
    ],
    xLabel: `price of heat / (${cost.currency} per kWh)`,
    bars: [
      ...bars,
      {
        label: 'together',
        from: 0,
        to: cost.per_kwh,
        colour: WHOLE,
        note: `${cost.per_kwh.toFixed(4)} ${cost.currency}`,
        mark: cost.ci95_per_kwh,
      },
    ],
    steps: false,
  };
}

export function leverRows(result: CostDocument): RowBars {
  const { cost } = result;
  return {
    title: `What moves the price: ${result.title}`,
    subtitles: ['change of the price for one per cent more of each input, strongest first', foot(result)],
    xLabel: 'change of the price / % per %',
    bars: cost.levers.slice(0, SHOWN).map(({ name, elasticity }) => ({
      label: name,
      from: 0,
      to: elasticity,
      colour: elasticity > 0 ? DEARER : CHEAPER,
      note: `${elasticity >= 0 ? '+' : '−'}${Math.abs(elasticity).toFixed(2)}`,
      mark: null,
    })),
    steps: false,
  };
}

export function filmCurve(result: CostDocument, film: FilmResult): IntervalCurve {
  const { cost } = result;
  return {
    title: `When to replace the film: ${result.title}`,
    subtitles: [
      `best every ${film.best.interval_months} months; from ${film.flat_from_months} to ${film.flat_to_months} months less than 1 % is lost`,
      `heat counts ${moneyText(film.heat_price)} ${cost.currency}/kWh (${film.heat_price_of}) · ${foot(result)}`,
    ],
    xLabel: 'time between replacements / months',
    yLabel: `heat less film and washing / (${cost.currency} a year)`,
    points: film.by_interval.map(({ interval_months, worth }) => ({ interval: interval_months, worth })),
    best: film.best.interval_months,
    flat: [film.flat_from_months, film.flat_to_months],
  };
}
