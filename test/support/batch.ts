/** One batch traced in this thread, for tests that look at tallies. */
import { viewPrepared } from '../../src/kernel/layout.js';
import { traceBatch } from '../../src/kernel/trace.js';
import type { PreparedScene } from '../../src/prepare.js';
import { batchKey, latticeShifts } from '../../src/run/seeds.js';

/** 2^k rays on each facet that can receive sun. */
export function evenLog2(prepared: PreparedScene, log2Rays: number): Int32Array {
  return Int32Array.from(prepared.facetPower, (power) => (power > 0 ? log2Rays : -1));
}

export function tallyOfBatch(
  prepared: PreparedScene,
  log2Rays: Int32Array,
  seed: string,
  batch = 0,
): Float64Array {
  const tally = new Float64Array(prepared.layout.length);
  const shifts = latticeShifts(seed, batch, log2Rays);
  traceBatch(viewPrepared(prepared.buffer), log2Rays, shifts, batchKey(seed, batch), tally);
  return tally;
}
