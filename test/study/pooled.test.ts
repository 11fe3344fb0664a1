import { describe, expect, it } from 'vitest';
import type { TaskPool } from '../../src/run/pool.js';
import { doAll, doUntilStopped, NodeFailure, StudyStopped } from '../../src/study/pooled.js';

type Reply =
  | { readonly ok: true; readonly square: number }
  | { readonly ok: false; readonly name: string; readonly message: string };

/** Two threads that square; each number of `deadly` takes its thread down, as often as it is listed. */
function squaring(deadly: number[] = []): TaskPool<number, Reply> {
  return {
    workers: 2,
    submit: async (task) => {
      await Promise.resolve();
      if (deadly.includes(task)) {
        deadly.splice(deadly.indexOf(task), 1);
        throw new Error('the thread died');
      }
      return task < 0
        ? { ok: false, name: 'RangeError', message: `${task} is below nothing` }
        : { ok: true, square: task ** 2 };
    },
    close: async () => {},
  };
}

const TASKS = Array.from({ length: 20 }, (_, i) => i);

describe('tasks of a study', () => {
  it('are all done, each reply with the place of its task', async () => {
    const squares: number[] = [];
    await doAll(TASKS, {
      pool: squaring(),
      onReply: ({ square }, index) => {
        squares[index] = square;
      },
    });
    expect(squares).toEqual(TASKS.map((task) => task ** 2));
  });

  it('are done once more where a thread died under them, but not for ever', async () => {
    let done = 0;
    const onReply = () => {
      done++;
    };
    await doAll(TASKS, { pool: squaring([3, 7]), onReply });
    expect(done).toBe(TASKS.length);
    await expect(doAll(TASKS, { pool: squaring([3, 3]), onReply })).rejects.toThrow('the thread died');
  });

  it('tell what went wrong with one of them', async () => {
    const failed = doAll([1, -1], { pool: squaring(), onReply: () => {} });
    await expect(failed).rejects.toThrow(NodeFailure);
    await expect(failed).rejects.toMatchObject({ reason: 'RangeError', message: '-1 is below nothing' });
  });

  it('end with those taken up when a stop is requested', async () => {
    const stop = { requested: false };
    const done: number[] = [];
    const pooled = {
      pool: squaring(),
      stop,
      onReply: (_: unknown, index: number) => {
        done.push(index);
        if (index === 6) stop.requested = true;
      },
    };
    expect(await doUntilStopped(TASKS, pooled)).toBe(false);
    expect(done.length).toBeGreaterThanOrEqual(7);
    expect(done.length).toBeLessThan(TASKS.length);
    expect([...done].sort((a, b) => a - b)).toEqual(TASKS.slice(0, done.length));
    await expect(doAll(TASKS, pooled)).rejects.toThrow(StudyStopped);
    // One that comes after the last was taken up takes nothing away.
    expect(await doUntilStopped([], pooled)).toBe(true);
  });
});
