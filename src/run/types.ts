/** What a run takes and gives; studies receive `run` as an argument of type `Run`. */
import type { PreparedScene } from '../prepare.js';

/**
 * How light gets onto the maps. 'rays': each ray leaves its watts in one cell. 'footprints': each mirror point leaves the whole
 * patch of light that slope error and film make of it (`kernel/footprint.ts`); "rays" then count points.
 */
export type Deposit = 'rays' | 'footprints';

export interface RunProgress {
  readonly rays: number;
  /** Rays wanted in all; null while running to a target error. */
  readonly wanted: number | null;
  readonly seconds: number;
  /** Relative standard error of the summed spill so far; null until there are two groups. */
  readonly spillError: number | null;
}

export interface RunOptions {
  readonly seed: string;
  /** About this many rays in all (rounded to powers of two per facet). Ignored while `target` is set, but for the cap `maxRays`. */
  readonly rays: number;
  /** Relative standard error wanted, e.g. 0.005; null: trace `rays`. See `run/stopping.ts` for what is compared. */
  readonly target: number | null;
  /** Most rays for a run to a target. */
  readonly maxRays: number;
  /** Worker threads; 0 traces in this thread. */
  readonly workers: number;
  /** Default: rays. */
  readonly deposit?: Deposit;
  readonly onProgress?: (progress: RunProgress) => void;
  /** Called once, when the last batch is handed out: from here on another run may start without holding this one up. */
  readonly onHandedOut?: () => void;
  /** Plain messages for the user, e.g. that a worker died and its batch is being redone. */
  readonly onNotice?: (message: string) => void;
  /** Set to true by the caller to stop at the next batch end. */
  readonly stop?: { requested: boolean };
}

export interface RunOutcome {
  readonly seed: string;
  /** Sums over equal runs of consecutive batches: independent of one another, in batch order. */
  readonly slots: readonly Float64Array[];
  readonly batchesPerSlot: number;
  readonly batches: number;
  readonly rays: number;
  readonly interrupted: boolean;
  /** Whether `target` was reached (true where none was set). */
  readonly targetReached: boolean;
  readonly seconds: number;
  readonly workers: number;
  /** Not there: rays. */
  readonly deposit?: Deposit;
}

export type Run = (prepared: PreparedScene, options: RunOptions) => Promise<RunOutcome>;
