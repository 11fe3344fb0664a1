/** Result of a receiver's track over the seasons, written as it appears in the JSON document. */
import type { Figure } from '../result/types.js';
import type { Vec3 } from '../scene/types.js';
import type { TrackSummaryRow, TrackTermRow } from './track-rows.js';

export interface SeasonNote {
  /** e.g. "21 Apr and 22 Aug". */
  readonly name: string;
  readonly dates: readonly string[];
  readonly declination_deg: number;
  readonly days: number;
  /** Of the first row's dishes in this season. */
  readonly tilt_setting_deg: number;
  /** What the site's clock shows when it is noon by the sun, one for each date. */
  readonly clock_at_solar_noon: readonly string[];
}

/** A place of the table; rounded to whole millimetres, as it is printed and traced again. */
export interface TrackTableRow {
  readonly season: number;
  /** True solar time, HH:MM. */
  readonly solar_time: string;
  /** What the site's clock shows on the first date. */
  readonly clock: string;
  /** What it shows at that solar time on each of the season's dates: the sun is early on one and late on another. */
  readonly clock_on_dates: readonly string[];
  readonly sun: { readonly azimuth_deg: number; readonly elevation_deg: number };
  readonly dni_w_m2: number;
  /** Along the row, across it to the left of its heading, up: from where the scene has the receivers. */
  readonly offset_mm: Vec3;
  /** From the dish's centre, same axes; null where receivers stand by themselves. */
  readonly from_dish_mm: Vec3 | null;
  /** Way from the first place of the day. */
  readonly along_path_mm: number;
  /** Length of way per minute about this time; null where the day has one place. */
  readonly speed_mm_per_min: number | null;
  /** How far the middle of the last dish's receiver stands beyond the row's end; 0 inside; null where that is not known. */
  readonly overhang_mm: number | null;
  /** Share of the power lost 10 mm beside the place: along, across, up; per cent. */
  readonly loss_at_10_mm_pct: Vec3;
  /** Share lost with the clock 5 minutes late or early, whichever costs more; null where nothing moves; per cent. */
  readonly loss_at_5_min_pct: number | null;
  /** Traced at the place, all receivers. */
  readonly intercepted_power: Figure;
  /** Traced: power here over that at the best place found. */
  readonly of_best: Figure;
}

export interface BuildableTrack {
  /** The season it is for; null: one track for all. */
  readonly season: number | null;
  readonly summary: TrackSummaryRow;
  readonly terms: readonly TrackTermRow[];
  /** Mean extra loss over the year with the clock 5 minutes late or early, whichever costs more, per cent; null where nothing moves. */
  readonly loss_at_5_min_pct: number | null;
  /** Offsets in order, as `rowfocus day --path` takes them. */
  readonly path_mm: readonly Vec3[];
}

export interface TrackResult {
  readonly schema_version: 1;
  readonly program: { readonly name: 'rowfocus'; readonly version: string };
  readonly kind: 'track';
  readonly title: string;
  readonly scene_hash: string;
  readonly seed: string;
  readonly year: number;
  readonly clock: string;
  readonly sky: string;
  readonly seasons: readonly SeasonNote[];
  readonly rows: readonly TrackTableRow[];
  readonly tracks: readonly BuildableTrack[];
  /** Lowest of the rows' `of_best`, with the row it belongs to. */
  readonly worst: { readonly row: number; readonly of_best: Figure } | null;
  readonly dish_ends_mm: readonly [number, number] | null;
  readonly interrupted: boolean;
  readonly warnings: readonly { readonly code: string; readonly message: string }[];
}
