/**
 * When to replace the film. Net heat falls faster than light, as losses stay: so light is turned into heat before the plant's
 * film formulas see it. They are given a film whose "reflectance" is the heat it leaves, in units in which the new film has 0.4.
 */
import {
  type AgeingFilm,
  bestReplacement,
  breakEvenFilmPrice,
  compareStrategies,
  type FilmPlan,
  type FilmWorth,
} from '../plant/film-economics.js';
import type { CostSpec, FilmAgeingSpec } from '../scene/plant-types.js';
import type { Film, Scene } from '../scene/types.js';
import type { FilmResult, FilmWorthResult } from './cost-types.js';
import { type Ratio, specularSpread } from './heat-response.js';

/** What stands for the new film's heat; the better film may give up to 2.5 times as much. */
const UNIT = 0.4;

/** Specular spreads beyond the new film's own at which the light is traced, radians. */
export const SPREAD_STEPS = [1e-3, 2.5e-3, 4.5e-3, 7e-3, 10e-3];

/** Spreads to trace, rising: narrower ones for a better film, the film's own, wider ones for age. */
export function spreadsToTrace(film: Film, spec: FilmAgeingSpec): readonly number[] {
  const own = specularSpread(film);
  const narrow = spec.better !== null && spec.better.spread < own ? [spec.better.spread] : [];
  return [...narrow, own, ...SPREAD_STEPS.map((step) => own + step)];
}

export interface FilmInput {
  readonly scene: Scene;
  readonly cost: CostSpec;
  readonly spec: FilmAgeingSpec;
  readonly mirrorArea: number;
  /** kWh of each month. */
  readonly monthlyHeat: readonly number[];
  /** Heat of the year with the light times a factor, J. */
  readonly heatAtFactor: (factor: number) => number;
  /** Money per kWh that heat is worth, and whose price that is. */
  readonly heatPrice: number;
  readonly heatPriceOf: string;
  readonly spreads: readonly number[];
  /** Light caught at each spread over that at the film's own. */
  readonly ratios: readonly Ratio[];
}

function worthResult(worth: FilmWorth): FilmWorthResult {
  return {
    interval_months: worth.interval,
    month: worth.month === null ? null : worth.month + 1,
    heat_kwh: worth.heat,
    worth: worth.worth,
  };
}

/** @throws RangeError for figures that cannot be */
export function filmResult(input: FilmInput): FilmResult {
  const { scene, cost, spec, mirrorArea, heatAtFactor, heatPrice, spreads, ratios } = input;
  const [film] = scene.films;
  const reflectance = film.reflectance.value[0] * film.soilingFactor * film.ageingFactor;
  const now = heatAtFactor(1);
  const share = (light: number) => (now > 0 ? Math.max(0, heatAtFactor(light) / now) : 0);
  const perLight = (share(1.05) - share(0.95)) / 0.1;
  const ageing = (start: number, drop: number, spread: number, growth: number): AgeingFilm => ({
    reflectance: Math.min(1, UNIT * share(start / reflectance)),
    reflectanceDrift: { kind: 'linear', perYear: (UNIT * perLight * drop) / reflectance },
    spread,
    spreadDrift: { kind: 'linear', perYear: growth },
  });
  const own = specularSpread(film);
  const { soiling, washing, better } = spec;
  const wide = Math.max(...ratios.map(({ value }) => share(value)));
  const plan: FilmPlan = {
    film: ageing(reflectance, spec.reflectancePerYear, own, spec.spreadPerYear),
    interceptBySpread: {
      spread: spreads,
      // A share of at most 1, whatever a narrower spread gains.
      fraction: ratios.map(({ value }) => share(value) / wide),
    },
    monthlyHeat: input.monthlyHeat,
    reference: { reflectance: UNIT, spread: own },
    heatPrice,
    filmPrice: spec.pricePerArea * mirrorArea,
    replacementWork: spec.workPerArea * mirrorArea * cost.crewPrice,
    soiling:
      soiling === null
        ? null
        : {
            kind: 'exponential',
            perDay: Math.min(0.5, perLight * soiling.perDay),
            floor: share(soiling.floor),
            rainDays: soiling.rainDays,
            rainRecovery: soiling.rainRecovery,
          },
    washing:
      washing === null
        ? null
        : {
            everyDays: washing.everyDays,
            cost: washing.price,
            recovery: washing.recovery,
            wear: Math.min(0.5, perLight * washing.wear),
          },
  };
  const longest = Math.max(1, Math.round(12 * spec.longestYears));
  const best = bestReplacement(plan, longest);
  const ways = compareStrategies(plan, longest);
  const strategies = [
    { name: 'nothing done', worth: ways.none },
    ...(ways.washing === null ? [] : [{ name: 'washed', worth: ways.washing }]),
    { name: 'replaced', worth: ways.replacement.best },
    ...(ways.both === null ? [] : [{ name: 'washed and replaced', worth: ways.both.best }]),
  ].map(({ name, worth }) => ({ name, worth: worth.worth, heat_kwh: worth.heat }));
  const price =
    better === null
      ? null
      : breakEvenFilmPrice(
          plan,
          ageing(better.reflectance, better.reflectancePerYear, better.spread, better.spreadPerYear),
          longest,
        );
  return {
    heat_price: heatPrice,
    heat_price_of: input.heatPriceOf,
    heat_per_light: perLight,
    film_price: plan.filmPrice,
    work_price: plan.replacementWork,
    best: worthResult(best.best),
    flat_from_months: best.flatFrom,
    flat_to_months: best.flatTo,
    flat_months: best.flatMonths.map((month) => month + 1),
    at_end: best.atEnd,
    by_interval: best.byInterval.map(worthResult),
    strategies,
    break_even_per_m2: price === null ? null : price / mirrorArea,
    better_given: better !== null,
    spread_response: spreads.map((spread, i) => ({
      spread_mrad: 1000 * spread,
      caught_ratio: ratios[i].value,
      std_err: ratios[i].std_err,
    })),
  };
}
