/** A worker thread: traces the batch it is sent and hands its tally over without copying. Prints nothing, keeps nothing. */
import { move, transferableSymbol, valueSymbol } from 'piscina';
import { type BatchTask, runBatchTask } from '../src/run/task.js';

/** The pool calls this by name; what `move` wraps arrives there as the plain reply. */
export function trace(task: BatchTask): unknown {
  const reply = runBatchTask(task);
  return reply.ok ? move({ [transferableSymbol]: reply.tally.buffer, [valueSymbol]: reply }) : reply;
}
