/** Results of a day, written as they appear in the JSON document. */
import type { Figure, FluxGrid, ReceiverResult } from '../result/types.js';
import type { Vec3 } from '../scene/types.js';
import type { Offset } from './moving.js';
import type { PathShape } from './path-shape.js';
import type { Free } from './placement.js';
import type { TrackKind } from './track-shape.js';

/** What the receivers do over the day. */
export type DayMode =
  /** They stay where the scene has them. */
  | { readonly kind: 'held' }
  /** At each step they stand where they catch most. */
  | { readonly kind: 'following'; readonly free?: Free }
  /** At each step they stand at the best place of a path: offsets in order, metres, straight between. */
  | { readonly kind: 'on_track'; readonly path: readonly Offset[] }
  /** The same on a track of that kind, fitted to the day's best places. */
  | { readonly kind: 'fitted'; readonly track: TrackKind };

export interface DayReceiver {
  readonly name: string;
  readonly intercepted_power: Figure;
  readonly peak_flux: Figure;
  readonly spill_fraction: Figure;
  readonly blocked_fraction: Figure;
  readonly spot: {
    readonly holds_50: Figure;
    readonly holds_90: Figure;
    readonly holds_95: Figure;
  };
}

export interface DayStepResult {
  /** What the clock shows, HH:MM. */
  readonly clock: string;
  /** True solar time, hours. */
  readonly solar_time_h: number;
  readonly time_utc: string;
  readonly sun: {
    readonly azimuth_deg: number;
    readonly elevation_deg: number;
    /** Towards the heading of the first row (east without a row), out of the plane across it. */
    readonly longitudinal_deg: number;
    /** In that plane, up from the horizon on the right of the heading; over 90 beyond the zenith. */
    readonly profile_deg: number;
  };
  readonly dni_w_m2: number;
  /** Receivers against where the scene has them: along the row, across it to the left of its heading, up. */
  readonly offset_mm: Vec3;
  /** Receiver from the dish's centre, same axes; null where receivers stand by themselves. */
  readonly from_dish_mm: Vec3 | null;
  /** From the beginning of the path; null without one. */
  readonly along_path_mm: number | null;
  /** Of the power at the best place of all, by recorded light; null where that was not looked for. */
  readonly of_best: Figure | null;
  readonly rays: number;
  readonly batches: number;
  readonly groups: number;
  /** Of all receivers: spill_fraction ... concentration_ratio, shaded_fraction. */
  readonly figures: Readonly<Record<string, Figure>>;
  readonly receivers: readonly DayReceiver[];
}

/** A step without light, or without any on the mirrors: no power. */
export interface DarkStep {
  readonly clock: string;
  readonly time_utc: string;
  readonly reason: string;
}

export interface DayResult {
  readonly schema_version: 1;
  readonly program: { readonly name: 'rowfocus'; readonly version: string };
  readonly kind: 'day';
  /** Not there: rays. With footprints `rays` count mirror points. */
  readonly deposit?: 'footprints';
  readonly title: string;
  readonly scene_hash: string;
  readonly seed: string;
  readonly date: string;
  readonly clock: string;
  readonly sky: string;
  readonly sun_day: string;
  readonly mode: 'held' | 'following' | 'on_track';
  /** The path of a track, offsets in mm; null without one. */
  readonly path_mm: readonly Vec3[] | null;
  /** What that path is, its places counted alike; null without one. */
  readonly path: PathShape | null;
  /** Kind of the track that was fitted; null where none was. */
  readonly fitted_track: TrackKind | null;
  /** Steps at which the best place was looked for everywhere. */
  readonly searched_steps: number;
  readonly steps: readonly DayStepResult[];
  readonly dark_steps: readonly DarkStep[];
  /** Intercepted energy between the first and the last step, by straight lines between steps; null for a single step. */
  readonly energy: Figure | null;
  readonly interrupted: boolean;
  readonly warnings: readonly { readonly code: string; readonly message: string }[];
}

/** What the pictures need beside the result, of one receiver: one entry per step. */
export interface DayView {
  readonly receiver: ReceiverResult;
  readonly grid: FluxGrid;
}

export interface DayStudy {
  readonly result: DayResult;
  readonly views: readonly DayView[];
}
