/** An executor whose batches come back in a seeded random order. */
import type { Executor } from '../../src/run/pool.js';
import type { BatchReply, BatchTask } from '../../src/run/task.js';

/**
 * @param workers as many (plus two) batches are in flight, one of which, picked at random, is answered per turn
 * @param arrivals gets the batches in the order of their answers
 */
export function shufflingExecutor(
  workers: number,
  seed: number,
  runTask: (task: BatchTask) => BatchReply,
  arrivals: number[] = [],
): Executor {
  const waiting: (() => void)[] = [];
  let state = seed >>> 0;
  const answerOne = () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    const [answer] = waiting.splice(Math.floor((state / 2 ** 32) * waiting.length), 1);
    answer();
  };
  return {
    workers,
    submit: (task) =>
      new Promise((resolve) => {
        waiting.push(() => {
          arrivals.push(task.batch);
          resolve(runTask(task));
        });
        setImmediate(answerOne);
      }),
    close: async () => {},
  };
}
