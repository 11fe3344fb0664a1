/** When to replace the mirror film: it grows dull and spreads the light, dirt comes and goes, a new one costs money. */

import { aboveZero, risingTable, wholeFrom, within } from './inputs.js';
import { checkSoiling, checkWashing, type Soiling, soilingByMonth, type Washing } from './soiling.js';
import { linearBetween } from './table.js';

/** Change with age: `linear` adds `perYear` each year, `exponential` multiplies by exp(perYear x years). */
export interface Drift {
  readonly kind: 'linear' | 'exponential';
  readonly perYear: number;
}

export interface AgeingFilm {
  readonly reflectance: number;
  /** Below 0 for a film that grows dull. */
  readonly reflectanceDrift: Drift;
  /** Specular spread of the new film, radians. */
  readonly spread: number;
  /** Above 0 for a film that grows hazy. */
  readonly spreadDrift: Drift;
}

function drifted(start: number, drift: Drift, years: number): number {
  return drift.kind === 'linear' ? start + drift.perYear * years : start * Math.exp(drift.perYear * years);
}

/** Reflectance at an age, held to 0..1. @param years 0 or more */
export function reflectanceAtAge(film: AgeingFilm, years: number): number {
  return Math.min(1, Math.max(0, drifted(film.reflectance, film.reflectanceDrift, years)));
}

/** Specular spread at an age, radians, not below 0. */
export function spreadAtAge(film: AgeingFilm, years: number): number {
  return Math.max(0, drifted(film.spread, film.spreadDrift, years));
}

/** Share of the light in the opening against the film's specular spread (radians), from traces. */
export interface SpreadCurve {
  readonly spread: readonly number[];
  readonly fraction: readonly number[];
}

export interface FilmPlan {
  readonly film: AgeingFilm;
  /** Constant 1 where left out: the spread then costs nothing. */
  readonly interceptBySpread?: SpreadCurve;
  /** Heat of each month, January first, with a clean film of the reference reflectance and spread. */
  readonly monthlyHeat: readonly number[];
  readonly reference: { readonly reflectance: number; readonly spread: number };
  /** Money per unit of heat. */
  readonly heatPrice: number;
  /** All mirrors once. */
  readonly filmPrice: number;
  readonly replacementWork: number;
  readonly soiling: Soiling | null;
  readonly washing: Washing | null;
}

/** Rain by chance over some years (`draw` uniform on [0, 1)); evenly spaced where left out. */
export interface Weather {
  readonly years: number;
  readonly draw: () => number;
}

/** @throws RangeError naming the first figure that cannot be */
export function checkFilmPlan(plan: FilmPlan): void {
  within('reflectance', plan.film.reflectance, 0, 1);
  within('spread, rad,', plan.film.spread, 0, 0.2);
  within('reference reflectance', aboveZero('reference reflectance', plan.reference.reflectance), 0, 1);
  within('reference spread, rad,', plan.reference.spread, 0, 0.2);
  if (plan.monthlyHeat.length !== 12) {
    throw new RangeError(`monthly heat needs 12 months, got ${plan.monthlyHeat.length}`);
  }
  for (const heat of plan.monthlyHeat) within('heat of a month', heat, 0);
  within('price of heat', plan.heatPrice, 0);
  within('film price', plan.filmPrice, 0);
  within('work of a replacement', plan.replacementWork, 0);
  if (plan.soiling) checkSoiling(plan.soiling);
  if (plan.washing) checkWashing(plan.washing);
  if (plan.interceptBySpread) {
    const { spread, fraction } = plan.interceptBySpread;
    risingTable('intercept by spread', spread, [fraction]);
    for (const value of fraction) within('intercepted fraction', value, 0, 1);
    aboveZero('intercepted fraction at the reference spread', interceptOf(plan, plan.reference.spread));
  }
}

function interceptOf(plan: FilmPlan, spread: number): number {
  const curve = plan.interceptBySpread;
  return curve === undefined ? 1 : linearBetween(curve.spread, curve.fraction, spread);
}

/** Heat of a clean film of an age over that of the reference: reflectance times caught share, wear of washing included. */
export function heatFactorAtAge(plan: FilmPlan, years: number): number {
  const washes = plan.washing ? (years * 365) / plan.washing.everyDays : 0;
  const wear = plan.washing ? (1 - plan.washing.wear) ** washes : 1;
  return (
    (wear * reflectanceAtAge(plan.film, years) * interceptOf(plan, spreadAtAge(plan.film, years))) /
    (plan.reference.reflectance * interceptOf(plan, plan.reference.spread))
  );
}

/** What one way of keeping the film brings in a mean year. */
export interface FilmWorth {
  /** Months from one replacement to the next. */
  readonly interval: number;
  /** Month of replacement, 0 January; null where it moves through the year. */
  readonly month: number | null;
  readonly heat: number;
  readonly heatValue: number;
  readonly replacement: number;
  readonly washing: number;
  /** heatValue - replacement - washing. */
  readonly worth: number;
}

const gcd = (a: number, b: number): number => (b === 0 ? a : gcd(b, a % b));

/** Ages and dirt worked out once for all intervals. */
interface Prepared {
  /** Heat factor in the middle of each month of age. */
  readonly byAge: readonly number[];
  /** Heat of each calendar month with its dirt. */
  readonly byMonth: readonly number[];
}

function prepare(plan: FilmPlan, longest: number, weather?: Weather): Prepared {
  const dirt = plan.soiling
    ? soilingByMonth(plan.soiling, weather?.years ?? 4, plan.washing, weather?.draw)
    : new Array<number>(12).fill(1);
  return {
    byAge: Array.from({ length: longest }, (_, month) => heatFactorAtAge(plan, (month + 0.5) / 12)),
    byMonth: plan.monthlyHeat.map((heat, month) => heat * dirt[month]),
  };
}

function worthOf(plan: FilmPlan, prepared: Prepared, interval: number, month: number): FilmWorth {
  // After this many replacements the same month comes round again.
  const cycles = 12 / gcd(interval, 12);
  let heat = 0;
  for (let cycle = 0; cycle < cycles; cycle++) {
    for (let age = 0; age < interval; age++) {
      heat += prepared.byAge[age] * prepared.byMonth[(month + cycle * interval + age) % 12];
    }
  }
  const years = (cycles * interval) / 12;
  const yearHeat = heat / years;
  const replacement = (plan.filmPrice + plan.replacementWork) / (interval / 12);
  const washing = plan.washing ? (plan.washing.cost * 365) / plan.washing.everyDays : 0;
  const heatValue = yearHeat * plan.heatPrice;
  return {
    interval,
    month: interval % 12 === 0 ? month : null,
    heat: yearHeat,
    heatValue,
    replacement,
    washing,
    worth: heatValue - replacement - washing,
  };
}

export interface BestReplacement {
  readonly best: FilmWorth;
  /** Intervals, months, round the best that lose less than `flatLoss` of its worth, each in its best month. */
  readonly flatFrom: number;
  readonly flatTo: number;
  /** For the best interval: months of replacement that lose less than `flatLoss`; all twelve where it moves through the year. */
  readonly flatMonths: readonly number[];
  /** The best of each interval, for a curve. */
  readonly byInterval: readonly FilmWorth[];
  /** The best lies at the longest interval: replacing does not pay within it. */
  readonly atEnd: boolean;
}

/**
 * Best interval and month of replacement by trying all whole months up to the longest. Worth is a mean year's, undiscounted. The
 * dirt that a replacement takes away is not counted: it is one washing's worth.
 * @param longest months, 1 to 600
 * @throws RangeError for a plan that cannot be
 */
export function bestReplacement(
  plan: FilmPlan,
  longest: number,
  flatLoss = 0.01,
  weather?: Weather,
): BestReplacement {
  checkFilmPlan(plan);
  within('longest interval, months,', wholeFrom('longest interval, months,', longest, 1), 1, 600);
  within('flat loss', flatLoss, 0, 0.5);
  const prepared = prepare(plan, longest, weather);
  const byInterval = Array.from({ length: longest }, (_, index) => {
    const interval = index + 1;
    return monthsOf(plan, prepared, interval).reduce((one, other) => (other.worth > one.worth ? other : one));
  });
  const best = byInterval.reduce((one, other) => (other.worth > one.worth ? other : one));
  const enough = best.worth - flatLoss * Math.abs(best.worth);
  let from = best.interval;
  while (from > 1 && byInterval[from - 2].worth >= enough) from--;
  let to = best.interval;
  while (to < longest && byInterval[to].worth >= enough) to++;
  const months = Array.from({ length: 12 }, (_, month) => month);
  return {
    best,
    flatFrom: from,
    flatTo: to,
    flatMonths: months.filter((month) => worthOf(plan, prepared, best.interval, month).worth >= enough),
    byInterval,
    atEnd: best.interval === longest,
  };
}

/** One entry for each set of calendar months that an interval can fall on. */
function monthsOf(plan: FilmPlan, prepared: Prepared, interval: number): readonly FilmWorth[] {
  return Array.from({ length: gcd(interval, 12) }, (_, month) => worthOf(plan, prepared, interval, month));
}

export interface Strategies {
  /** Neither washed nor replaced before the end. */
  readonly none: FilmWorth;
  /** Washed, not replaced before the end. */
  readonly washing: FilmWorth | null;
  /** Not washed, replaced at the best interval. */
  readonly replacement: BestReplacement;
  readonly both: BestReplacement | null;
}

/**
 * Doing nothing, gentle washing, replacement, both: a mean year's worth of each over the same span. Doing nothing still pays one
 * film over the span.
 * @param span months
 */
export function compareStrategies(plan: FilmPlan, span: number, weather?: () => Weather): Strategies {
  const dry: FilmPlan = { ...plan, washing: null };
  checkFilmPlan(plan);
  const kept = (of: FilmPlan) => worthOf(of, prepare(of, span, weather?.()), span, 0);
  return {
    none: kept(dry),
    washing: plan.washing ? kept(plan) : null,
    replacement: bestReplacement(dry, span, 0.01, weather?.()),
    both: plan.washing ? bestReplacement(plan, span, 0.01, weather?.()) : null,
  };
}

/**
 * Price of a better film at which it is worth just as much as the film of the plan, each at its own best interval; work costs the
 * same.
 * @returns null where it is worth less even as a gift
 */
export function breakEvenFilmPrice(plan: FilmPlan, better: AgeingFilm, longest: number): number | null {
  const target = bestReplacement(plan, longest).best.worth;
  const other: FilmPlan = { ...plan, film: better };
  checkFilmPlan(other);
  const prepared = prepare(other, longest);
  // Heat does not hang on the price: only the best month of each interval is needed, and the best price is the greatest over them.
  const prices = Array.from({ length: longest }, (_, index) => {
    const free: FilmPlan = { ...other, filmPrice: 0 };
    const worth = Math.max(...monthsOf(free, prepared, index + 1).map((entry) => entry.worth));
    return (worth - target) * ((index + 1) / 12);
  });
  const price = Math.max(...prices);
  return price >= 0 ? price : null;
}

/**
 * Check value: best interval for reflectance that falls linearly by the share k a year, T* = sqrt(2 C / (v E k)): the yearly loss
 * v E k T / 2 then equals the yearly cost C / T. Closed form.
 * @param cost of one replacement
 * @param price of a unit of heat
 * @param heat of a year with new film
 * @param fall share of the new film's heat lost a year
 * @returns years
 */
export function linearBestInterval(cost: number, price: number, heat: number, fall: number): number {
  return Math.sqrt(
    (2 * aboveZero('cost', cost)) /
      (aboveZero('price', price) * aboveZero('heat', heat) * aboveZero('fall', fall)),
  );
}
