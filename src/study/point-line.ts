/** The points of a sweep, traced one close behind the other, so that no thread waits between two of them. */
import type { PreparedScene } from '../prepare.js';
import type { RunOutcome } from '../run/types.js';
import type { SweepOptions } from './sweep.js';

/** A point with all its batches traced. */
export interface TracedPoint {
  readonly prepared: PreparedScene;
  readonly outcome: RunOutcome;
}

export interface PointLine {
  /**
   * The next point in sweep order; null where the sweep is to stop: there is none, or it was cut short. Throws what `prepare` and
   * `run` throw for it.
   */
  readonly next: () => Promise<TracedPoint | null>;
  /** Ends what is under way and waits for it. */
  readonly close: () => Promise<void>;
}

interface Started {
  /** Its last batch is in the hands of a thread: the next point may begin. */
  readonly handedOut: Promise<void>;
  readonly traced: Promise<TracedPoint | null>;
}

/**
 * A point is begun once the last batch of the point before is handed out, and while that is being waited for and summed up.
 * So threads always have work, never more than two points are in memory, and the earlier point is never held up by the later.
 *
 * @param combinations values of all points in sweep order
 * @param first the first point to trace
 */
export function startLine(
  combinations: readonly (readonly number[])[],
  first: number,
  { vary, prepare, run, runOptions }: Pick<SweepOptions, 'vary' | 'prepare' | 'run' | 'runOptions'>,
): PointLine {
  let index = first;
  let closed = false;
  let ahead: Started | null = null;
  /** Which point the progress is told of: the earliest of those under way. */
  let front = first;
  const stop = {
    get requested(): boolean {
      return closed || runOptions.stop?.requested === true;
    },
  };

  async function trace(own: number, onHandedOut: () => void): Promise<TracedPoint | null> {
    const values = combinations[own];
    const prepared = await prepare(vary.map(({ path }, i) => ({ path, value: values[i] })));
    const { onProgress } = runOptions;
    const outcome = await run(prepared, {
      ...runOptions,
      stop,
      onHandedOut,
      ...(onProgress && {
        onProgress: (progress) => {
          if (own === front) onProgress(progress);
        },
      }),
    });
    return outcome.interrupted || outcome.slots.length === 0 ? null : { prepared, outcome };
  }

  function start(): Started | null {
    if (index >= combinations.length || stop.requested) return null;
    let onHandedOut = (): void => {};
    const handedOut = new Promise<void>((resolve) => {
      onHandedOut = resolve;
    });
    const traced = trace(index, onHandedOut);
    index++;
    // It is told when its turn comes; until then it must not end the process.
    traced.catch(() => {});
    return { handedOut, traced };
  }

  return {
    async next() {
      if (stop.requested) return null;
      const current = ahead ?? start();
      ahead = null;
      if (current === null) return null;
      await Promise.race([current.handedOut, current.traced]);
      ahead = start();
      const traced = await current.traced;
      front++;
      return traced;
    },
    async close() {
      closed = true;
      await ahead?.traced.catch(() => {});
    },
  };
}
