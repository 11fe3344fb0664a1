/** The tasks of a study through a pool of threads. */
import type { TaskPool } from '../run/pool.js';

/** The study was stopped by the caller before it had anything to report. */
export class StudyStopped extends Error {
  override readonly name = 'StudyStopped';
}

/** A node failed in a way that has nothing to do with threads; `reason` is the name of the error. */
export class NodeFailure extends Error {
  override readonly name = 'NodeFailure';
  constructor(
    readonly reason: string,
    message: string,
  ) {
    super(message);
  }
}

/** What a task gives that never throws. */
type Reply = { readonly ok: true } | { readonly ok: false; readonly name: string; readonly message: string };

export interface Pooled<Task, Given extends Reply> {
  readonly pool: TaskPool<Task, Given>;
  readonly stop?: { readonly requested: boolean } | undefined;
  /** Given the replies as they come, each with the place of its task. */
  readonly onReply: (reply: Extract<Given, { ok: true }>, index: number) => void;
}

/**
 * Does the tasks in order, each thread with its next one waiting. A thread may die under a task: then it is done once more.
 * @returns false where `stop` was requested before the last was taken up; those taken up are done all the same
 * @throws NodeFailure with what a task says went wrong
 */
export async function doUntilStopped<Task, Given extends Reply>(
  tasks: readonly Task[],
  { pool, stop, onReply }: Pooled<Task, Given>,
): Promise<boolean> {
  let next = 0;
  const work = async (): Promise<void> => {
    while (next < tasks.length && !stop?.requested) {
      const index = next++;
      const task = tasks[index];
      const reply: Reply = await pool.submit(task).catch(() => pool.submit(task));
      if (!reply.ok) throw new NodeFailure(reply.name, reply.message);
      onReply(reply as Extract<Given, { ok: true }>, index);
    }
  };
  await Promise.all(Array.from({ length: pool.workers + 2 }, work));
  return next >= tasks.length;
}

/**
 * The same where nothing is of use but all.
 * @throws StudyStopped, NodeFailure
 */
export async function doAll<Task, Given extends Reply>(
  tasks: readonly Task[],
  pooled: Pooled<Task, Given>,
): Promise<void> {
  if (!(await doUntilStopped(tasks, pooled))) throw new StudyStopped('the study was stopped');
}
