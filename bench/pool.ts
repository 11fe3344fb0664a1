/** How the rate grows with the number of threads, and whether memory grows with the number of rays. Wall-clock time. */
import { cpus } from 'node:os';
import { createExecutor } from '../src/run/pool.js';
import { createRun } from '../src/run/run.js';
import { demo } from './scenes.js';
import { median, type Recorder } from './table.js';

const REPEATS = 5;
const SCENE = 'row-of-eight';

/** 1, 2, 3, 4, then doubled, up to the number of cores. */
function threadCounts(cores: number): number[] {
  const counts = [1, 2, 3, 4, 8, 16, 32, 64, 128].filter((count) => count < cores);
  return [...counts, cores];
}

export async function poolScaling(record: Recorder): Promise<void> {
  const prepared = demo(SCENE);
  const options = { seed: 'bench', rays: 1.6e7, target: null, maxRays: 1.6e7, workers: 0 };
  const pools = threadCounts(cpus().length).map((workers) => {
    const executor = createExecutor(workers);
    return { workers, executor, run: createRun(executor), rates: [] as number[] };
  });
  for (const { run } of pools) await run(prepared, { ...options, rays: 4e6 });
  // Taken in turns, so that what else the machine does meets all of them alike.
  for (let repeat = 0; repeat < REPEATS; repeat++) {
    for (const { run, rates } of pools) {
      const outcome = await run(prepared, options);
      rates.push(outcome.rays / outcome.seconds / 1e6);
    }
  }
  const single = pools[0].rates;
  for (const { workers, executor, rates } of pools) {
    await executor.close();
    record(`pool of ${workers}: ${SCENE}`, 'Mrays/s', rates);
    if (workers > 1) {
      const gains = rates.map((rate, repeat) => rate / single[repeat]);
      record(`pool of ${workers} over pool of 1`, 'x', gains, `${(median(gains) / workers).toFixed(2)} each`);
    }
  }
}

/** @param mostRays of the last run; those before it have a tenth and a hundredth of them */
export async function memory(record: Recorder, mostRays: number): Promise<void> {
  const prepared = demo('one-dish');
  const workers = Math.min(2, cpus().length);
  const executor = createExecutor(workers);
  const run = createRun(executor);
  for (const rays of [mostRays / 100, mostRays / 10, mostRays]) {
    const resident: number[] = [];
    const outcome = await run(prepared, {
      seed: 'memory',
      rays,
      target: null,
      maxRays: rays,
      workers,
      onProgress: () => resident.push(process.memoryUsage.rss() / 2 ** 20),
    });
    const note = `${workers} workers, ${outcome.seconds.toFixed(1)} s`;
    record(`resident memory in a run of ${outcome.rays.toExponential(1)} rays`, 'MiB', resident, note);
  }
  await executor.close();
}
