/**
 * Results of the studies, written as they appear in the JSON document. A figure's name is the key of the total
 * ("spill_fraction") or, for one receiver, "receivers.<name>.<figure>" ("receivers.R1.spot.holds_90").
 */
import type { Figure } from '../result/types.js';

/** A difference or ratio of the same figure in two traces. */
export interface Comparison {
  readonly difference: Figure;
  /** To the base; null where the base is 0 or either value is only a bound. */
  readonly ratio: Figure | null;
  /**
   * True where the error is that of the paired difference (same random numbers in both, so that most noise cancels); false
   * where the two errors had to be added as if the traces were independent.
   */
  readonly paired: boolean;
}

export interface VariedPath {
  /** Key path in the scene file, e.g. "films.good.slope_error_across_mrad". */
  readonly path: string;
  readonly values: readonly number[];
}

export interface SweepPoint {
  /** One per varied path, in their order. */
  readonly values: readonly number[];
  readonly scene_hash: string;
  readonly rays: number;
  readonly batches: number;
  readonly groups: number;
  readonly figures: Readonly<Record<string, Figure>>;
  /** To the first point. */
  readonly differences: Readonly<Record<string, Comparison>>;
}

export type Relation = '<=' | '<' | '>=' | '>';

export interface Requirement {
  /** As the user wrote it. */
  readonly text: string;
  readonly figure: string;
  readonly relation: Relation;
  readonly bound: number;
}

export interface Tolerance {
  /** The path swept. */
  readonly path: string;
  /** The value of the other path, in a sweep of two; null in a sweep of one. */
  readonly at: { readonly path: string; readonly value: number } | null;
  /**
   * crossing: it holds on one side of `limit`; several_crossings: it holds in places; whole_range: at every value; none: at
   * none.
   */
  readonly outcome: 'crossing' | 'several_crossings' | 'whole_range' | 'none';
  /** In sweep order: whether it holds up to the limit or from it on; null without a crossing. */
  readonly holds: 'up_to_limit' | 'from_limit' | null;
  /** The last value (in sweep order) at which it holds, or the first where it holds only from there on; null without one. */
  readonly limit: Figure | null;
  /** How the limit was found between the points; null without one. */
  readonly interpolation: {
    /** What runs through the points beside the limit: through two, three or four of them. */
    readonly curve: 'straight' | 'parabola' | 'cubic';
    /** Where a straight line between the two points beside it puts the limit. */
    readonly straight: number;
    /** How far the limit may be off for want of points; `limit.ci95` has it in. 0 on a straight line, which cannot tell. */
    readonly error: number;
  } | null;
  /** All crossings in sweep order. */
  readonly crossings: readonly number[];
  /** One plain sentence. */
  readonly message: string;
}

export interface SweepResult {
  readonly schema_version: 1;
  readonly program: { readonly name: 'rowfocus'; readonly version: string };
  readonly kind: 'sweep';
  /** Not there: rays. With footprints `rays` count mirror points. */
  readonly deposit?: 'footprints';
  readonly title: string;
  readonly seed: string;
  readonly vary: readonly VariedPath[];
  /** Names of the figures of each point, in table order. */
  readonly figures: readonly string[];
  /** The first path varies slowest. */
  readonly points: readonly SweepPoint[];
  readonly requirement: Requirement | null;
  /** One in a sweep of one path; one per value of the second path in a sweep of two. Empty without a requirement. */
  readonly tolerances: readonly Tolerance[];
  /** True where the sweep was stopped before all points were traced. */
  readonly interrupted: boolean;
  readonly warnings: readonly { readonly code: string; readonly message: string }[];
}

export interface ComparedScene {
  /** What the user calls it: a file name. */
  readonly name: string;
  readonly title: string;
  readonly scene_hash: string;
  readonly seed: string;
  readonly rays: number;
  readonly batches: number;
  readonly groups: number;
  readonly figures: Readonly<Record<string, Figure>>;
}

export interface CompareResult {
  readonly schema_version: 1;
  readonly program: { readonly name: 'rowfocus'; readonly version: string };
  readonly kind: 'compare';
  /** As in a sweep. */
  readonly deposit?: 'footprints';
  /** The first scene is the base. */
  readonly scenes: readonly ComparedScene[];
  readonly figures: readonly string[];
  /** One per scene after the base. */
  readonly differences: readonly {
    readonly scene: string;
    readonly base: string;
    readonly figures: Readonly<Record<string, Comparison>>;
  }[];
  readonly warnings: readonly { readonly code: string; readonly message: string }[];
}
