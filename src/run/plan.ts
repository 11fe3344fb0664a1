/**
 * How a run is cut into batches, and each batch into facets' lattices.
 *
 * The number of batches follows from the rays wanted alone, never from the scene: two scenes traced with the same wish
 * have the same slots, so that their differences can be paired slot by slot.
 */
import { LARGEST_LOG2_RAYS } from '../kernel/lattice.js';
import type { TallyLayout } from '../kernel/tally.js';
import type { PreparedScene } from '../prepare.js';
import { MAX_SLOTS } from './fold.js';
import type { Deposit } from './types.js';

/** Batches of an ordinary run, and the fewest of any run to a target: enough for a steady standard error. */
export const DEFAULT_BATCHES = MAX_SLOTS / 2;
/** A batch takes about this many rays at most, so that a run can stop within a fraction of a second. */
export const MOST_RAYS_PER_BATCH = 2 ** 20;
/** Rays per batch of a run to a target: it can stop from about a million rays on. Many facets get up to twice as many. */
export const TARGET_RAYS_PER_BATCH = 2 ** 15;
/** The same for footprints, in points: each sends a fan of rays and fills hundreds of cells, some 1 to 3 microseconds in all. */
export const MOST_POINTS_PER_BATCH = 2 ** 15;
export const TARGET_POINTS_PER_BATCH = 2 ** 10;
/** A lattice this full spends its evenness; below, a run to a target would do little better than independent rays. */
const FULL_LATTICE = 128;
/** Fewest and most rays of a facet's lattice, as powers of two. */
export const LEAST_LOG2_RAYS = 3;
export const MOST_LOG2_RAYS = LARGEST_LOG2_RAYS;

/** The sun reaches no facet: there is nothing to trace. */
export class NothingLitError extends Error {
  override readonly name = 'NothingLitError';
  constructor() {
    super(
      'No facet faces the sun: there is no light to trace. Check the sun direction and the tilt of the mirrors.',
    );
  }
}

export interface BatchPlan {
  /** Per facet: its lattice has 2^k rays; -1 for a facet without light. */
  readonly log2Rays: Int32Array;
  readonly raysPerBatch: number;
  /** Batches of the whole run (most batches, for a run to a target). */
  readonly batches: number;
  /** Batches summed into one slot at the end of the run. */
  readonly batchesPerSlot: number;
  /** Even the smallest lattice on every lit facet makes more rays than wanted. */
  readonly floorReached: boolean;
}

type Lit = Pick<PreparedScene, 'facetPower'>;

/**
 * Plan for about `rays` rays in all (points, where footprints are laid down).
 * @param rays more than 0
 * @throws NothingLitError where no facet has light; RangeError for a count that is not a number above 0
 */
export function planBatches(prepared: Lit, rays: number, deposit: Deposit = 'rays'): BatchPlan {
  requireRays(rays);
  const most = deposit === 'footprints' ? MOST_POINTS_PER_BATCH : MOST_RAYS_PER_BATCH;
  const { batches, batchesPerSlot } = slotSplit(rays / most);
  return { ...shareOut(prepared.facetPower, rays / batches), batches, batchesPerSlot };
}

/**
 * Plan for a run that stops at a target error, after at most about `maxRays` rays.
 * @param maxRays more than 0
 * @throws as `planBatches`
 */
export function planTargetBatches(prepared: Lit, maxRays: number, deposit: Deposit = 'rays'): BatchPlan {
  requireRays(maxRays);
  const least = deposit === 'footprints' ? TARGET_POINTS_PER_BATCH : TARGET_RAYS_PER_BATCH;
  const lit = prepared.facetPower.reduce((count, watts) => (watts > 0 ? count + 1 : count), 0);
  const even = Math.min(2 * least, Math.max(least, lit * FULL_LATTICE));
  const wanted = Math.min(even, maxRays / DEFAULT_BATCHES);
  const shared = shareOut(prepared.facetPower, wanted);
  return { ...shared, ...slotSplit(maxRays / shared.raysPerBatch, 'down') };
}

/**
 * Bytes that the tallies of a run take: the slots, those in flight and those that wait for their turn.
 * @param workers worker threads; 0 for none
 */
export function tallyBytes(layout: Pick<TallyLayout, 'length'>, workers: number): number {
  return (MAX_SLOTS + 2 * tasksInFlight(workers)) * layout.length * Float64Array.BYTES_PER_ELEMENT;
}

/** Batches handed out at a time: each worker has its next one waiting. */
export function tasksInFlight(workers: number): number {
  return workers + 2;
}

/** A message to a thread and its answer cost as much as some hundred rays, so that small batches go several at a time: up to these. */
const RAYS_WORTH_A_MESSAGE = 2 ** 14;
const NUMBERS_OF_A_MESSAGE = 2 ** 20;

/**
 * Consecutive batches that are handed out together, so that no thread waits for messages. The result does not depend on it.
 * @param workers worker threads; 0 for none
 * @param length numbers in a tally
 */
export function batchesPerTask(plan: BatchPlan, workers: number, length: number): number {
  if (workers === 0) return 1;
  // Each thread gets two of them at least.
  const shared = Math.ceil(plan.batches / (2 * workers));
  const worth = Math.floor(RAYS_WORTH_A_MESSAGE / plan.raysPerBatch);
  return Math.max(1, Math.min(shared, worth, Math.floor(NUMBERS_OF_A_MESSAGE / length)));
}

function requireRays(rays: number): void {
  if (!(rays > 0 && Number.isFinite(rays))) {
    throw new RangeError(`the number of rays must be a number above 0, got ${rays}`);
  }
}

/** Nearest number of batches, up or down, that fills whole slots of equal size: slots x 2^m with 32 to 63 slots. */
function slotSplit(
  wanted: number,
  direction: 'up' | 'down' = 'up',
): Pick<BatchPlan, 'batches' | 'batchesPerSlot'> {
  const round = direction === 'up' ? Math.ceil : Math.floor;
  let batchesPerSlot = 1;
  while (round(wanted / batchesPerSlot) >= MAX_SLOTS) batchesPerSlot *= 2;
  const slots = Math.max(DEFAULT_BATCHES, round(wanted / batchesPerSlot));
  return { batches: slots * batchesPerSlot, batchesPerSlot };
}

/**
 * Gives each facet the power of two nearest to its share. Rounding alone can miss the wanted sum by a factor of 1.4, so a
 * few scalings are tried and the one is kept whose sum comes closest (the least change among equals).
 */
function shareOut(
  facetPower: Float64Array,
  wanted: number,
): Pick<BatchPlan, 'log2Rays' | 'raysPerBatch' | 'floorReached'> {
  let power = 0;
  let lit = 0;
  for (const watts of facetPower) {
    if (watts > 0) {
      power += watts;
      lit++;
    }
  }
  if (lit === 0) throw new NothingLitError();

  let best = wanted / power;
  let least = distance(raysAt(facetPower, best), wanted);
  for (let step = 1; step <= 16; step++) {
    for (const scale of [2 ** (-step / 8), 2 ** (step / 8)]) {
      const raysPerWatt = (wanted * scale) / power;
      const far = distance(raysAt(facetPower, raysPerWatt), wanted);
      if (far < least) [best, least] = [raysPerWatt, far];
    }
  }
  return {
    log2Rays: Int32Array.from(facetPower, (watts) => (watts > 0 ? powerOfTwo(watts, best) : -1)),
    raysPerBatch: raysAt(facetPower, best),
    floorReached: lit * 2 ** LEAST_LOG2_RAYS > wanted,
  };
}

/** The power of two nearest to the rays of so many watts. */
function powerOfTwo(watts: number, raysPerWatt: number): number {
  const nearest = Math.round(Math.log2(watts * raysPerWatt));
  return Math.min(MOST_LOG2_RAYS, Math.max(LEAST_LOG2_RAYS, nearest));
}

function raysAt(facetPower: Float64Array, raysPerWatt: number): number {
  let rays = 0;
  for (const watts of facetPower) if (watts > 0) rays += 2 ** powerOfTwo(watts, raysPerWatt);
  return rays;
}

function distance(rays: number, wanted: number): number {
  return Math.abs(Math.log(rays / wanted));
}
