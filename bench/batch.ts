import type { PreparedScene } from '../src/prepare.js';
import { runBatchTask } from '../src/run/task.js';

/**
 * One batch as a thread of a run traces it: random shifts, view of the scene and a tally of its own included.
 * @returns its tally
 */
export function tracedBatch(
  { buffer, layout }: PreparedScene,
  log2Rays: Int32Array,
  seed: string,
  batch: number,
): Float64Array {
  const reply = runBatchTask({ buffer, seed, batch, log2Rays, tallyLength: layout.length });
  if (!reply.ok) throw new Error(reply.message);
  return reply.tally;
}
