/** The year of a scene, written as it appears in the JSON document. */
import type { Figure } from '../result/types.js';
import type { WeatherGaps } from './season-gaps.js';

/** Where DNI x mirror area goes over a month or a year; caught and lost sum to what is available. */
export interface SeasonSums {
  /** With the sun up and beam irradiance above 0. */
  readonly sun_hours: number;
  /** Beam energy square to the sun. */
  readonly dni_kwh_m2: number;
  /** DNI x mirror area. */
  readonly available_kwh: number;
  readonly caught: Figure;
  readonly caught_per_m2: Figure;
  readonly lost_cosine_kwh: number;
  readonly lost_shading_kwh: number;
  readonly lost_film_kwh: number;
  readonly lost_blocking_kwh: number;
  readonly lost_spill_kwh: number;
}

export interface SeasonMonth extends SeasonSums {
  /** 1 to 12. */
  readonly month: number;
}

/** How the table was made that the sums are read from, and how good it is. */
export interface TableReport {
  readonly nodes_traced: number;
  readonly cells: number;
  readonly rays_per_node: number;
  /** Mornings stand for afternoons. */
  readonly mirrored: boolean;
  /** Of the caught energy, from the spread of the rays alone. */
  readonly ray_noise_fraction: number;
  /** Fresh traces against the table, relative to the caught energy. */
  readonly checked_places: number;
  readonly check_bias_fraction: number;
  readonly check_std_err_fraction: number;
  /** 97.5 % sure to be above the size of the table's own error. */
  readonly error_bound_fraction: number;
  readonly wanted_fraction: number;
  readonly reached: boolean;
}

export interface SeasonResult {
  readonly schema_version: 1;
  readonly program: { readonly name: 'rowfocus'; readonly version: string };
  readonly kind: 'season';
  readonly title: string;
  readonly scene_hash: string;
  readonly seed: string;
  readonly year: number;
  readonly clock: string;
  readonly site: { readonly name: string; readonly latitude_deg: number; readonly longitude_deg: number };
  readonly sky: string;
  readonly sky_assumed: boolean;
  /** What is left out because the weather file has nothing for it; null without a weather file or without gaps. */
  readonly weather_gaps: WeatherGaps | null;
  readonly receivers: 'held' | 'following' | 'on_track';
  /** Of each dish design. */
  readonly tilt_settings: readonly { readonly dish: string; readonly tilt_setting_deg: number }[];
  readonly sun_step_minutes: number;
  readonly mirror_area_m2: number;
  readonly total: SeasonSums;
  readonly months: readonly SeasonMonth[];
  readonly table: TableReport;
  readonly warnings: readonly { readonly code: string; readonly message: string }[];
  readonly cautions: readonly string[];
}
