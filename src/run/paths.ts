/** Real rays of a run, traced again with every place they came through: for pictures. */
import { viewPrepared } from '../kernel/layout.js';
import { Fate } from '../kernel/tally.js';
import { PathEvent, recordRays } from '../kernel/trace.js';
import type { PreparedScene } from '../prepare.js';
import type { BatchPlan } from './plan.js';
import { batchKey, latticeShifts } from './seeds.js';

/** The fates as the kernel numbers them, for those who may not look into the kernel. */
export const RAY_FATE = Fate;

/** One ray of a run from the first mirror on. */
export interface RayPath {
  /** Index in its batch. */
  readonly ray: number;
  /** Facet it starts on. */
  readonly facet: number;
  /** Unit vector towards the part of the sun it came from. */
  readonly sun: readonly [number, number, number];
  /** Of `RAY_FATE`. */
  readonly fate: number;
  /** Where it was shaded, m; null where it was not. */
  readonly shade: readonly [number, number, number] | null;
  /** World coordinates, x y z after one another, m: each mirror met, then the end (for the sky, 1 m along its way). */
  readonly places: readonly number[];
  /** Watts of sunlight it stood for on the first mirror, and at its end (0 where nothing left the mirror). */
  readonly sunlight: number;
  readonly watts: number;
}

/**
 * @param plan of the run
 * @param batch of the run
 * @param wanted about so many rays, picked evenly: of each facet's lattice every 2^m-th point, which is a lattice itself
 * @returns rays in the order of the batch
 */
export function recordPaths(
  prepared: PreparedScene,
  plan: Pick<BatchPlan, 'log2Rays' | 'raysPerBatch'>,
  seed: string,
  batch: number,
  wanted: number,
): RayPath[] {
  const { log2Rays } = plan;
  const coarser = Math.max(0, Math.round(Math.log2(plan.raysPerBatch / Math.max(1, wanted))));
  const chosen: number[] = [];
  let first = 0;
  for (const log2 of log2Rays) {
    if (log2 < 0) continue;
    // Every lit facet shows at least one ray.
    const step = 2 ** Math.min(log2, coarser);
    for (let ray = 0; ray < 2 ** log2; ray += step) chosen.push(first + ray);
    first += 2 ** log2;
  }
  const paths: RayPath[] = [];
  let ray = -1;
  let facet = -1;
  let sun: RayPath['sun'] = [0, 0, 1];
  let shade: RayPath['shade'] = null;
  let places: number[] = [];
  let sunlight = 0;
  let watts = 0;
  recordRays(
    viewPrepared(prepared.buffer),
    log2Rays,
    latticeShifts(seed, batch, log2Rays),
    batchKey(seed, batch),
    chosen,
    {
      begin: (index) => {
        ray = index;
        shade = null;
        places = [];
        watts = 0;
      },
      sun: (x, y, z) => {
        sun = [x, y, z];
      },
      step: (event, primitive, x, y, z, power) => {
        if (event === PathEvent.Launch) {
          facet = primitive;
          sunlight = power;
          places.push(x, y, z);
        } else if (event === PathEvent.Shaded) {
          shade = [x, y, z];
        } else if (event === PathEvent.Reflected) {
          watts = power;
          // The first mirror's place is there already.
          if (places.length > 3 || !isAt(places, x, y, z)) places.push(x, y, z);
        } else if (event === PathEvent.End) {
          watts = power;
          places.push(x, y, z);
        }
      },
      end: (fate) => {
        paths.push({ ray, facet, sun, fate, shade, places, sunlight, watts });
      },
    },
  );
  return paths;
}

function isAt(places: readonly number[], x: number, y: number, z: number): boolean {
  return Math.hypot(places[0] - x, places[1] - y, places[2] - z) < 1e-9;
}
