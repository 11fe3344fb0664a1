/** A worker that ends its own thread in the middle of a batch, as told by the scene's first 32 bits (`cheapScene`). */
import type { BatchReply, BatchTask } from '../../src/run/task.js';
import { cheapTask } from './cheap-kernel.js';

export function trace(task: BatchTask): BatchReply {
  const flags = new Int32Array(task.buffer);
  const [fault] = flags;
  if (fault === 1 && Atomics.exchange(flags, 1, 1) === 0) process.exit(3);
  const { batch, count = 1 } = task;
  if (fault === 2 && batch <= 5 && 5 < batch + count) process.exit(3);
  return cheapTask(task);
}
