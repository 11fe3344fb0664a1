/** Price of heat as it appears in the JSON document. Money in the scene's currency, heat in kWh. */
import type { CostLine } from '../plant/cost.js';
import type { Span } from './heat-types.js';

export interface CostLineResult extends Pick<CostLine, 'name' | 'kind'> {
  readonly count: number;
  /** Price of one, and what it is per; of upkeep: a year's. */
  readonly price: number;
  readonly first: number;
  readonly replacements: number;
  readonly residual: number;
  readonly yearly: number;
  readonly present: number;
  readonly per_kwh: number;
}

export interface CostLever {
  readonly name: string;
  /** Per cent of the price for one per cent of the input. */
  readonly elasticity: number;
}

export interface StoreResult {
  readonly volume_m3: number;
  readonly mass_kg: number;
  readonly capacity_kwh: number;
  readonly loss_w: number;
  readonly loss_per_day: number;
  /** Hours of the wanted load from a full store. */
  readonly hours: number | null;
  readonly delivered_share: number;
  readonly nights: number;
  readonly heat_out_kwh: number;
  readonly day_per_kwh: number;
  readonly losses_per_kwh: number;
  readonly store_per_kwh: number;
  readonly night_per_kwh: number;
  /** A day's mean heat of the field, beside what one charge takes. */
  readonly day_heat_kwh: number;
  readonly charge_kwh: number;
  readonly pipe_spacing_mm: number;
}

export interface FilmWorthResult {
  readonly interval_months: number;
  /** 1 to 12; null where it moves through the year. */
  readonly month: number | null;
  readonly heat_kwh: number;
  readonly worth: number;
}

export interface FilmResult {
  /** Price of heat that the film is judged by, and whose it is. */
  readonly heat_price: number;
  readonly heat_price_of: string;
  /** Per cent of net heat for one per cent of light. */
  readonly heat_per_light: number;
  readonly film_price: number;
  readonly work_price: number;
  readonly best: FilmWorthResult;
  readonly flat_from_months: number;
  readonly flat_to_months: number;
  readonly flat_months: readonly number[];
  readonly at_end: boolean;
  readonly by_interval: readonly FilmWorthResult[];
  readonly strategies: readonly {
    readonly name: string;
    readonly worth: number;
    readonly heat_kwh: number;
  }[];
  /** Per m2; null where a better film is not given, or not worth having as a gift. */
  readonly break_even_per_m2: number | null;
  readonly better_given: boolean;
  /** Light caught against the film's specular spread: value and standard error. */
  readonly spread_response: readonly {
    readonly spread_mrad: number;
    readonly caught_ratio: number;
    readonly std_err: number;
  }[];
}

export interface CostResultDocument {
  readonly currency: string;
  readonly heat_kwh: number;
  readonly years: number;
  readonly rate: number;
  readonly investment: number;
  readonly capital_recovery: number;
  readonly present_cost: number;
  readonly present_heat_kwh: number;
  readonly per_kwh: number;
  readonly lines: readonly CostLineResult[];
  /** With the heat at the ends of the loss formulas. */
  readonly formula_span_per_kwh: Span;
  /** With uncertain heat and prices (JCGM 101). */
  readonly mean_per_kwh: number;
  readonly sd_per_kwh: number;
  readonly ci95_per_kwh: readonly [number, number];
  readonly trials: number;
  readonly levers: readonly CostLever[];
  readonly fuel: {
    readonly name: string;
    readonly price_per_kwh: number;
    readonly efficiency: number;
    readonly heat_per_kwh: number;
    readonly break_even_per_kwh: number;
    readonly simple_payback_years: number | null;
    readonly discounted_payback_years: number | null;
  } | null;
  readonly store: StoreResult | null;
  readonly film: FilmResult | null;
}
