/** Batches as a message: what a worker is given, and what it gives back. */
import { traceFootprints } from '../kernel/footprint.js';
import { viewPrepared } from '../kernel/layout.js';
import { traceBatch } from '../kernel/trace.js';
import { batchKey, latticeShifts } from './seeds.js';
import type { Deposit } from './types.js';

export interface BatchTask {
  /** The prepared scene, shared, not copied. */
  readonly buffer: SharedArrayBuffer;
  readonly seed: string;
  /** From 0. */
  readonly batch: number;
  /** So many consecutive batches, from `batch` on, go as one message. Default: one. */
  readonly count?: number;
  /** Per facet, see `traceBatch`. */
  readonly log2Rays: Int32Array;
  /** Entries of a tally. */
  readonly tallyLength: number;
  /** Default: rays. */
  readonly deposit?: Deposit;
}

/** Errors lose their class and fields on their way out of a thread, so a failure is a reply, not a throw. */
export type BatchReply =
  /** Tallies of the batches, one after the other. */
  | { readonly ok: true; readonly batch: number; readonly tally: Float64Array }
  | { readonly ok: false; readonly batch: number; readonly message: string };

/** What a batch needs of the kernel; tests put something cheap in its place. */
export interface BatchKernel {
  readonly view: typeof viewPrepared;
  readonly trace: typeof traceBatch;
}

/**
 * Traces the batches of a task. Never throws: whatever goes wrong comes back as a message.
 * @param kernel what traces; the real kernel, by the task's deposit, unless a test says otherwise
 */
export function runBatchTask(
  task: BatchTask,
  kernel: BatchKernel = {
    view: viewPrepared,
    trace: task.deposit === 'footprints' ? traceFootprints : traceBatch,
  },
): BatchReply {
  const { batch, count = 1, seed, log2Rays, tallyLength } = task;
  try {
    const tally = new Float64Array(count * tallyLength);
    const view = kernel.view(task.buffer);
    for (let i = 0; i < count; i++) {
      const shifts = latticeShifts(seed, batch + i, log2Rays);
      const own = tally.subarray(i * tallyLength, (i + 1) * tallyLength);
      kernel.trace(view, log2Rays, shifts, batchKey(seed, batch + i), own);
    }
    return { ok: true, batch, tally };
  } catch (error) {
    return { ok: false, batch, message: error instanceof Error ? error.message : String(error) };
  }
}
