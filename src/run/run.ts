/** A run: plan, hand out batches, fold them in order, stop where asked. */
import type { PreparedScene } from '../prepare.js';
import { SlotFold } from './fold.js';
import { type BatchPlan, batchesPerTask, planBatches, planTargetBatches, tasksInFlight } from './plan.js';
import { createExecutor, type Executor } from './pool.js';
import { reachesTarget, summedSpill } from './stopping.js';
import type { BatchReply, BatchTask } from './task.js';
import type { Run, RunOptions, RunOutcome, RunProgress } from './types.js';

/** A batch failed twice: the fault is not a thread's bad luck. */
export class WorkerFailure extends Error {
  override readonly name = 'WorkerFailure';
  /**
   * @param batch batch that failed
   * @param reason messages of both failures
   */
  constructor(
    readonly batch: number,
    readonly reason: string,
  ) {
    super(`batch ${batch} could not be traced, twice in a row: ${reason}`);
  }
}

/**
 * A `Run` on threads that are kept from run to run, as studies want it. `RunOptions.workers` is not read: the executor's
 * count holds.
 *
 * The run throws NothingLitError where no facet has light, WorkerFailure where a batch fails twice, and RangeError for a
 * count of rays or a target that is no number above 0. The outcome of an interrupted run holds the full slots only,
 * which may be one or none.
 */
export function createRun(executor: Executor): Run {
  return (prepared, options) => runBatches(executor, prepared, options);
}

/** A run on threads of its own (`options.workers` of them). Throws as `createRun` says. */
export async function runScene(prepared: PreparedScene, options: RunOptions): Promise<RunOutcome> {
  const { onNotice } = options;
  const executor = createExecutor(options.workers, onNotice ? { onNotice } : {});
  try {
    return await runBatches(executor, prepared, options);
  } finally {
    await executor.close();
  }
}

async function runBatches(
  executor: Executor,
  prepared: PreparedScene,
  options: RunOptions,
): Promise<RunOutcome> {
  const started = performance.now();
  const plan = planFor(prepared, options);
  const { target } = options;
  let targetReached = target === null;
  const fold = new SlotFold((full) => {
    if (target === null || !reachesTarget(full.slots(), prepared.layout, target)) return false;
    targetReached = true;
    return true;
  });

  const interrupted = await traceInOrder(executor, prepared, options, plan, fold, started);

  const slots = fold.slots();
  const batches = slots.length * fold.batchesPerSlot;
  if (interrupted && slots.length < 2) {
    options.onNotice?.(
      'the run was stopped before there were two groups of batches to compare; no error can be stated',
    );
  }
  return {
    seed: options.seed,
    slots,
    batchesPerSlot: fold.batchesPerSlot,
    batches,
    rays: batches * plan.raysPerBatch,
    interrupted,
    targetReached,
    seconds: (performance.now() - started) / 1000,
    workers: executor.workers,
    ...(options.deposit === undefined ? {} : { deposit: options.deposit }),
  };
}

function planFor(prepared: PreparedScene, options: RunOptions): BatchPlan {
  const { target, deposit } = options;
  if (target !== null && !(target > 0)) {
    throw new RangeError(`the target error must be a number above 0, got ${target}`);
  }
  const wanted = target === null ? options.rays : options.maxRays;
  const plan =
    target === null ? planBatches(prepared, wanted, deposit) : planTargetBatches(prepared, wanted, deposit);
  if (plan.floorReached) {
    const least = plan.raysPerBatch * plan.batches;
    options.onNotice?.(
      `the smallest run of this scene takes ${least} ${deposit === 'footprints' ? 'points' : 'rays'}, more than the ${wanted} asked for; it takes those`,
    );
  }
  return plan;
}

/**
 * Hands out batches in order and folds them as they come back.
 * @returns true where `options.stop` ended the run early
 */
async function traceInOrder(
  executor: Executor,
  prepared: PreparedScene,
  options: RunOptions,
  plan: BatchPlan,
  fold: SlotFold,
  started: number,
): Promise<boolean> {
  const inFlight = new Map<number, Promise<BatchReply>>();
  const limit = tasksInFlight(executor.workers);
  const { length } = prepared.layout;
  // A run to a target stops at a batch: what is handed out with it would be in vain.
  const together = options.target === null ? batchesPerTask(plan, executor.workers, length) : 1;
  let next = 0;
  let told = false;
  try {
    while (!fold.sealed) {
      const stopped = options.stop?.requested ?? false;
      // A slow batch holds the others up, or those that wait for it would pile up in memory.
      const last = Math.min(plan.batches, fold.folded + 2 * limit * together);
      while (!stopped && next < last && inFlight.size < limit) {
        const count = Math.min(together, plan.batches - next);
        const task = taskOf(prepared, options, plan, next, count);
        inFlight.set(next, traceTwiceAtMost(executor, task, options.onNotice));
        next += count;
      }
      if (next === plan.batches && !told) {
        told = true;
        options.onHandedOut?.();
      }
      if (inFlight.size === 0) return next < plan.batches;
      const reply = await Promise.race(inFlight.values());
      inFlight.delete(reply.batch);
      if (!reply.ok) throw new WorkerFailure(reply.batch, reply.message);
      for (let start = 0; start < reply.tally.length; start += length) {
        const tally = reply.tally.subarray(start, start + length);
        fold.accept(reply.batch + start / length, tally);
      }
      options.onProgress?.(progressOf(prepared, options, plan, fold, started));
    }
    return false;
  } finally {
    await Promise.allSettled(inFlight.values());
  }
}

function taskOf(
  prepared: PreparedScene,
  options: RunOptions,
  plan: BatchPlan,
  batch: number,
  count: number,
): BatchTask {
  return {
    buffer: prepared.buffer,
    seed: options.seed,
    ...(options.deposit === undefined ? {} : { deposit: options.deposit }),
    batch,
    ...(count === 1 ? {} : { count }),
    log2Rays: plan.log2Rays,
    tallyLength: prepared.layout.length,
  };
}

/**
 * A batch is the same when traced again, so one lost to a dead thread changes nothing in the result. Batches that were lost
 * together are traced one by one, so that a failure names its own.
 */
async function traceTwiceAtMost(
  executor: Executor,
  task: BatchTask,
  onNotice: RunOptions['onNotice'],
): Promise<BatchReply> {
  const { batch, count = 1 } = task;
  const [what, its, are] =
    count === 1
      ? [`batch ${batch}`, `batch ${batch} is`, 'it is']
      : [
          `batches ${batch} to ${batch + count - 1}`,
          `batches ${batch} to ${batch + count - 1} are`,
          'they are',
        ];
  let first: string;
  try {
    const reply = await executor.submit(task);
    if (reply.ok) return reply;
    first = reply.message;
    onNotice?.(`${what} failed (${first}); ${are} being traced again`);
  } catch (error) {
    first = messageOf(error);
    onNotice?.(`a worker thread stopped unexpectedly (${first}); its ${its} being traced again`);
  }
  const tally = new Float64Array(count * task.tallyLength);
  for (let i = 0; i < count; i++) {
    const { count: _all, ...single } = { ...task, batch: batch + i };
    let second: string;
    try {
      const reply = await executor.submit(single);
      if (reply.ok) {
        if (count === 1) return reply;
        tally.set(reply.tally, i * task.tallyLength);
        continue;
      }
      second = reply.message;
    } catch (error) {
      second = messageOf(error);
    }
    return {
      ok: false,
      batch: batch + i,
      message: first === second ? first : `${first}; then ${second}`,
    };
  }
  return { ok: true, batch, tally };
}

function messageOf(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}

function progressOf(
  prepared: PreparedScene,
  options: RunOptions,
  plan: BatchPlan,
  fold: SlotFold,
  started: number,
): RunProgress {
  const slots = fold.slots();
  const spill = slots.length < 2 ? null : summedSpill(slots, prepared.layout);
  return {
    rays: fold.folded * plan.raysPerBatch,
    wanted: options.target === null ? plan.batches * plan.raysPerBatch : null,
    seconds: (performance.now() - started) / 1000,
    spillError: spill && spill.value > 0 ? spill.std_err / spill.value : null,
  };
}
