/** Heat of a scene as it appears in the JSON document: at a moment and over a year. */
import type { Figure } from '../result/types.js';
import type { TableReport } from './season-types.js';

/** Low, best and high end of the published formulas; no interval of chance. */
export interface Span {
  readonly low: number;
  readonly best: number;
  readonly high: number;
}

/** One way that energy goes. Lines of a waterfall: the first is what there is, the others sum to it. */
export interface BookLine {
  readonly key: string;
  readonly label: string;
  readonly value: number;
}

export interface FormulaLine {
  readonly formula: string;
  readonly value: number;
  /** Made for such a case; those that are not do not count. */
  readonly in_range: boolean;
}

/** The oil's limits, degrees Celsius; null where not known. */
export interface OilLimitsC {
  readonly film_limit_c: number | null;
  readonly bulk_limit_c: number | null;
  readonly flash_point_c: number | null;
  readonly autoignition_c: number | null;
}

/** The receiver with the highest flux, taken as the last of its string, where the oil is hottest. */
export interface HardestReceiver {
  readonly name: string;
  readonly light_w: number;
  readonly peak_flux_kw_m2: Figure;
  readonly inlet_c: number;
  readonly wall_c: number;
  readonly absorbed_w: number;
  readonly radiation_w: number;
  readonly convection_w: number;
  readonly conduction_w: number;
  readonly reflected_w: number;
  readonly useful_w: Span;
  readonly efficiency: Span;
  readonly outlet_c: Span;
  readonly film_coefficient_w_m2_k: Span;
  readonly reynolds: number;
  readonly film_temperature_c: Span;
  readonly hottest_wall_c: Span;
  /** Up to the highest film temperature of the span; null where the oil's limit is not known. */
  readonly film_margin_k: number | null;
  readonly convection_formulas: {
    readonly unit: 'W/K' | 'W/m2 K';
    readonly still_air: readonly FormulaLine[];
    readonly wind: readonly FormulaLine[];
    readonly together: Span;
  };
  /** Without flow; null: nothing that was counted ends the heating. */
  readonly stagnation_c: Span | null;
  /** Of the hottest place alone, which hands on no heat sideways. */
  readonly hot_spot_stagnation_c: Span | null;
  /** From a stopped pump until the film limit: the body as a whole, shortest; the hottest place alone. Null: never, or no limit known. */
  readonly minutes_to_film_limit: number | null;
  readonly hot_spot_minutes_to_film_limit: number | null;
  /** Least flow of the string that keeps film and bulk limits; null: not even the greatest does, or no limit is known. */
  readonly least_flow_kg_s: number | null;
  readonly flow_kg_s: number;
}

export interface HeatMoment {
  /** By the clock; null for the moment that the scene gives. */
  readonly time: string | null;
  readonly dni_w_m2: number;
  readonly sun_azimuth_deg: number;
  readonly sun_elevation_deg: number;
  readonly ambient_c: number;
  readonly wind_m_s: number;
  readonly receivers: number;
  readonly strings: number;
  /** W: what falls on the mirrors and where it goes; the lines after the first sum to it. */
  readonly waterfall_w: readonly BookLine[];
  readonly delivered_w: Span;
  /** Standard error of the light caught, from the rays. */
  readonly caught_w: Figure;
  readonly outlet_c: Span;
  readonly field_efficiency: number;
  readonly hardest: HardestReceiver;
  readonly limits: OilLimitsC;
  readonly cautions: readonly string[];
}

export interface HeatMonth {
  /** 1 to 12. */
  readonly month: number;
  readonly waterfall_kwh: readonly BookLine[];
  readonly delivered_kwh: Span;
}

/** Yearly heat for openings of other sizes. */
export interface OpeningStudy {
  readonly measure: 'diameter' | 'width' | 'side';
  readonly points: readonly {
    readonly scale: number;
    readonly size_mm: number;
    readonly caught_kwh: number;
    readonly delivered_kwh: number;
    readonly delivered_low_kwh: number;
    readonly delivered_high_kwh: number;
  }[];
  readonly best_mm: number;
  readonly best_delivered_kwh: number;
  /** Between them less than a hundredth of the best is lost. */
  readonly flat_from_mm: number;
  readonly flat_to_mm: number;
  /** With the losses at their low and high ends. */
  readonly best_low_loss_mm: number;
  readonly best_high_loss_mm: number;
  readonly at_end: boolean;
  readonly present_mm: number;
}

/** Yearly heat with uncertain inputs (JCGM 101). Rays and formulas are told apart from it. */
export interface HeatUncertainty {
  readonly inputs: readonly {
    readonly name: string;
    readonly relative_sd: number;
    readonly elasticity: number;
  }[];
  readonly trials: number;
  readonly mean_kwh: number;
  readonly sd_kwh: number;
  readonly ci95_kwh: readonly [number, number];
  /** Standard error from rays and table alone. */
  readonly ray_std_err_kwh: number;
  readonly formula_span_kwh: Span;
  /** Light caught against slope errors times a factor, traced at some sun positions: value and standard error. */
  readonly slope_response: readonly {
    readonly factor: number;
    readonly caught_ratio: number;
    readonly std_err: number;
  }[];
}

export interface HeatYear {
  readonly mirror_area_m2: number;
  readonly mean_oil_c: number;
  readonly wall_c: number;
  readonly wind_known: boolean;
  readonly step_minutes: number;
  readonly waterfall_kwh: readonly BookLine[];
  readonly delivered_kwh: Span;
  readonly delivered_per_m2_kwh: number;
  readonly caught_kwh: Figure;
  readonly months: readonly HeatMonth[];
  /** Hours in which heat was delivered; with light but standing; times that it came up to temperature. */
  readonly hours: Span;
  readonly idle_hours: number;
  readonly starts: number;
  /** One kWh of sunlight on the mirrors, step by step. */
  readonly follow_one_kwh: readonly BookLine[];
  readonly opening: OpeningStudy | null;
  readonly uncertainty: HeatUncertainty;
  readonly table: TableReport;
}
