import { describe, expect, it } from 'vitest';
import { Fate } from '../../src/kernel/tally.js';
import type { PreparedScene } from '../../src/prepare.js';
import { createExecutor, type Executor } from '../../src/run/pool.js';
import { createRun, WorkerFailure } from '../../src/run/run.js';
import { interval95 } from '../../src/run/statistics.js';
import { reachesTarget, summedIntercept, summedSpill } from '../../src/run/stopping.js';
import type { RunOptions, RunOutcome } from '../../src/run/types.js';
import { CHEAP_SPILL, cheapScene, cheapTask } from '../support/cheap-kernel.js';
import { shufflingExecutor } from '../support/shuffling-executor.js';

const CHEAP_WORKER = new URL('../support/cheap-worker.ts', import.meta.url);
const DYING_WORKER = new URL('../support/dying-worker.ts', import.meta.url);
const STRIPS = [5, 7, 0, 9, 4.5, 3];

const wish = (changes: Partial<RunOptions> = {}): RunOptions => ({
  seed: 'rows',
  rays: 2e5,
  target: null,
  maxRays: 1e8,
  workers: 0,
  ...changes,
});

/** The part of an outcome that the number of workers must not touch. */
const fixedPart = ({ seconds, workers, slots, ...rest }: RunOutcome) => ({
  ...rest,
  slots: slots.map((slot) => Buffer.from(slot.buffer, slot.byteOffset, slot.byteLength).toString('hex')),
});

async function runOn(executor: Executor, scene: PreparedScene, options: RunOptions): Promise<RunOutcome> {
  try {
    return await createRun(executor)(scene, options);
  } finally {
    await executor.close();
  }
}

const here = () => createExecutor(0, { runTask: cheapTask });
const threads = (workers: number) => createExecutor(workers, { workerFile: CHEAP_WORKER });

describe('a run', () => {
  it('leaves the same bytes on 0, 1 and 3 workers', async () => {
    const scene = cheapScene(STRIPS);
    const reference = await runOn(here(), scene, wish());
    expect(reference).toMatchObject({
      batches: 32,
      batchesPerSlot: 1,
      interrupted: false,
      targetReached: true,
    });
    expect(reference.slots).toHaveLength(32);
    for (const workers of [1, 3]) {
      const outcome = await runOn(threads(workers), scene, wish());
      expect(outcome.workers).toBe(workers);
      expect(fixedPart(outcome)).toEqual(fixedPart(reference));
    }
    // Sabotage: another seed does not.
    expect(fixedPart(await runOn(here(), scene, wish({ seed: 'row' }))).slots).not.toEqual(
      fixedPart(reference).slots,
    );
  });

  it.each([1, 2, 3])('leaves the same bytes when batches come back shuffled (order %d)', async (order) => {
    const scene = cheapScene(STRIPS);
    const reference = await runOn(here(), scene, wish());
    const arrivals: number[] = [];
    const outcome = await runOn(shufflingExecutor(6, order, cheapTask, arrivals), scene, wish());
    expect(arrivals).not.toEqual([...arrivals].sort((a, b) => a - b));
    expect(fixedPart(outcome)).toEqual(fixedPart(reference));
  });

  it('counts every ray once', async () => {
    const scene = cheapScene(STRIPS);
    const outcome = await runOn(here(), scene, wish());
    const counted = outcome.slots.reduce(
      (sum, slot) => sum + slot[scene.layout.counts + Fate.Intercepted],
      0,
    );
    expect(counted).toBe(outcome.rays);
  });

  it('tells its progress at batch ends', async () => {
    const seen: { rays: number; wanted: number | null; spillError: number | null }[] = [];
    const outcome = await runOn(here(), cheapScene(STRIPS), wish({ onProgress: (now) => seen.push(now) }));
    expect(seen).toHaveLength(32);
    expect(seen[0]).toMatchObject({ rays: outcome.rays / 32, wanted: outcome.rays, spillError: null });
    expect(seen[31].rays).toBe(outcome.rays);
    expect(seen[31].spillError).toBeGreaterThan(0);
  });

  it('says so where the smallest run is more than wanted', async () => {
    const notices: string[] = [];
    await runOn(here(), cheapScene([1, 1]), wish({ rays: 10, onNotice: (text) => notices.push(text) }));
    expect(notices).toEqual([
      'the smallest run of this scene takes 512 rays, more than the 10 asked for; it takes those',
    ]);
  });

  it('passes on what is wrong with the wish', async () => {
    await expect(runOn(here(), cheapScene([0]), wish())).rejects.toThrow('No facet faces the sun');
    await expect(runOn(here(), cheapScene([1]), wish({ target: 0 }))).rejects.toThrow(RangeError);
  });
});

describe('an interrupted run', () => {
  const stopAfter = (batches: number, rays = 2e5) => {
    const stop = { requested: false };
    const notices: string[] = [];
    let ends = 0;
    const onProgress = () => {
      if (++ends === batches) stop.requested = true;
    };
    return { notices, options: wish({ rays, stop, onProgress, onNotice: (text) => notices.push(text) }) };
  };

  it.each([0, 2])('keeps what is traced, the same batches as a full run (%d workers)', async (workers) => {
    const scene = cheapScene(STRIPS);
    const full = await runOn(here(), scene, wish());
    const { options } = stopAfter(10);
    const part = await runOn(workers === 0 ? here() : threads(workers), scene, options);
    expect(part.interrupted).toBe(true);
    expect(part.batches).toBeGreaterThanOrEqual(10);
    // As many messages are in flight as there are workers and two more; to workers, batches this small go two a message.
    expect(part.batches).toBeLessThanOrEqual((workers === 0 ? 1 : 2) * (10 + workers + 2));
    expect(part.rays).toBe((full.rays / 32) * part.batches);
    expect(fixedPart(part).slots).toEqual(fixedPart(full).slots.slice(0, part.batches));
  });

  it('drops the batches of an unfinished slot', async () => {
    const { options } = stopAfter(98, 1.4e8);
    // One ray a batch stands for many: the plan is long, the work small.
    const tiny = (task: Parameters<typeof cheapTask>[0]) =>
      cheapTask({ ...task, log2Rays: Int32Array.of(0) });
    const part = await runOn(createExecutor(0, { runTask: tiny }), cheapScene([1]), options);
    expect(part.batchesPerSlot).toBe(2);
    expect(part.batches % 2).toBe(0);
    expect(part.slots).toHaveLength(part.batches / 2);
    expect(part.batches).toBeGreaterThanOrEqual(98);
  });

  it('says so where too little is left for an error', async () => {
    const stop = { requested: true };
    const notices: string[] = [];
    const none = await runOn(
      here(),
      cheapScene(STRIPS),
      wish({ stop, onNotice: (text) => notices.push(text) }),
    );
    expect(none).toMatchObject({ interrupted: true, batches: 0, rays: 0, slots: [] });
    expect(notices).toEqual([
      'the run was stopped before there were two groups of batches to compare; no error can be stated',
    ]);
  });

  it('is whole where the wish comes too late', async () => {
    const { options } = stopAfter(32);
    expect(await runOn(here(), cheapScene(STRIPS), options)).toMatchObject({
      interrupted: false,
      batches: 32,
    });
  });
});

describe('a worker that dies', () => {
  it('is reported, its batch is traced again, the bytes stay', async () => {
    const reference = await runOn(here(), cheapScene(STRIPS), wish());
    const notices: string[] = [];
    const outcome = await runOn(
      createExecutor(2, { workerFile: DYING_WORKER }),
      cheapScene(STRIPS, 1),
      wish({ onNotice: (text) => notices.push(text) }),
    );
    expect(fixedPart(outcome)).toEqual(fixedPart(reference));
    expect(notices).toHaveLength(1);
    expect(notices[0]).toMatch(
      /^a worker thread stopped unexpectedly \(.+\); its batches \d+ to \d+ are being traced again$/,
    );
  });

  it('ends the run where the batch kills the next one too', async () => {
    const failed = runOn(createExecutor(2, { workerFile: DYING_WORKER }), cheapScene(STRIPS, 2), wish());
    await expect(failed).rejects.toBeInstanceOf(WorkerFailure);
    await expect(failed).rejects.toThrow(/^batch 5 could not be traced, twice in a row: /);
  });

  it('ends the run, instead of letting it wait, where no thread ever starts', async () => {
    const broken = new URL('../support/broken-worker.mjs', import.meta.url);
    for (const workers of [1, 2]) {
      const failed = runOn(createExecutor(workers, { workerFile: broken }), cheapScene(STRIPS), wish());
      await expect(failed).rejects.toThrow(/^batch \d+ could not be traced, twice in a row: /);
    }
  });

  it('is not blamed for a fault in the trace itself', async () => {
    const notices: string[] = [];
    let calls = 0;
    const faulty = (task: Parameters<typeof cheapTask>[0]) => {
      calls++;
      return calls === 4
        ? ({ ok: false, batch: task.batch, message: 'out of memory' } as const)
        : cheapTask(task);
    };
    const outcome = await runOn(
      createExecutor(0, { runTask: faulty }),
      cheapScene(STRIPS),
      wish({ onNotice: (text) => notices.push(text) }),
    );
    expect(outcome.batches).toBe(32);
    expect(notices).toEqual(['batch 3 failed (out of memory); it is being traced again']);
  });
});

describe('an executor', () => {
  it('takes nothing after its end', async () => {
    for (const executor of [here(), threads(1)]) {
      await executor.close();
      await executor.close();
      await expect(createRun(executor)(cheapScene([1]), wish())).rejects.toThrow(/workers were closed/);
    }
  });

  it('serves one run after another', async () => {
    const executor = threads(2);
    const run = createRun(executor);
    const scene = cheapScene(STRIPS);
    const first = await run(scene, wish());
    const second = await run(scene, wish());
    await executor.close();
    expect(fixedPart(second)).toEqual(fixedPart(first));
  });

  it('has a run tell once when its last batch is handed out, before it ends', async () => {
    for (const executor of [here(), threads(2)]) {
      const seen: string[] = [];
      const onHandedOut = () => seen.push('handed out');
      await runOn(executor, cheapScene(STRIPS), wish({ onHandedOut }));
      seen.push('ended');
      expect(seen).toEqual(['handed out', 'ended']);
    }
  });

  it('serves two runs at a time: the bytes of each are as alone', async () => {
    const executor = threads(2);
    const run = createRun(executor);
    const scenes = [cheapScene(STRIPS), cheapScene([...STRIPS, 2])];
    const together = await Promise.all(scenes.map((scene) => run(scene, wish())));
    await executor.close();
    for (const [index, scene] of scenes.entries()) {
      expect(fixedPart(together[index])).toEqual(fixedPart(await runOn(here(), scene, wish())));
    }
  });

  it('refuses a count that is none', () => {
    expect(() => createExecutor(-1)).toThrow(RangeError);
    expect(() => createExecutor(1.5)).toThrow(RangeError);
  });
});

/** One independent point per facet and batch: errors as wide as can be, so that a target takes its time. */
const sparse = (task: Parameters<typeof cheapTask>[0]) => cheapTask({ ...task, log2Rays: Int32Array.of(0) });

describe('a run to a target', () => {
  it('stops at the same batch on any number of workers and in any order', async () => {
    const scene = cheapScene([1]);
    const options = wish({ target: 0.08, maxRays: 1e8 });
    const reference = await runOn(createExecutor(0, { runTask: sparse }), scene, options);
    expect(reference.targetReached).toBe(true);
    expect(reference.batches).toBeGreaterThan(64);
    expect(reference.batches % reference.batchesPerSlot).toBe(0);
    for (const workers of [1, 2, 3, 8]) {
      const outcome = await runOn(shufflingExecutor(workers, workers, sparse), scene, options);
      expect(fixedPart(outcome)).toEqual(fixedPart(reference));
    }
  });

  it('stops no later than it must and no sooner than it may', async () => {
    const scene = cheapScene([1]);
    const { slots } = await runOn(
      createExecutor(0, { runTask: sparse }),
      scene,
      wish({ target: 0.08, maxRays: 1e8 }),
    );
    const spill = summedSpill(slots, scene.layout);
    expect(spill.std_err / spill.value).toBeLessThanOrEqual(0.08);
    expect(reachesTarget(slots, scene.layout, 0.08)).toBe(true);
    expect(reachesTarget(slots, scene.layout, (0.999 * spill.std_err) / spill.value)).toBe(false);
    expect(reachesTarget(slots.slice(0, 31), scene.layout, 10)).toBe(false);
  });

  it('gives up at its cap and says so', async () => {
    const outcome = await runOn(
      createExecutor(0, { runTask: sparse }),
      cheapScene([1]),
      wish({ target: 0.001, maxRays: 2e6 }),
    );
    expect(outcome).toMatchObject({ targetReached: false, interrupted: false });
    expect(outcome.rays).toBeLessThanOrEqual(2e6);
    expect(outcome.rays).toBeGreaterThan(1.9e6);
  });

  it('takes 32 batches at least', async () => {
    const outcome = await runOn(here(), cheapScene([1]), wish({ target: 0.5, maxRays: 1e7 }));
    expect(outcome).toMatchObject({ targetReached: true, interrupted: false, batches: 32 });
  });
});

describe('summed figures', () => {
  it('are ratios over the light that leaves the mirrors', () => {
    const { layout } = cheapScene([1]);
    const slot = new Float64Array(layout.length);
    slot[layout.incident] = 100;
    slot[layout.absorbed] = 12;
    slot[layout.watts + Fate.Shaded] = 8;
    slot[layout.watts + Fate.Intercepted] = 60;
    slot[layout.watts + Fate.InterceptedElsewhere] = 1;
    slot[layout.watts + Fate.SpilledOnGround] = 2;
    slot[layout.watts + Fate.SpilledToSky] = 3;
    slot[layout.watts + Fate.SpilledOnReceiver] = 4;
    slot[layout.watts + Fate.BlockedByFacet] = 10;
    expect(summedSpill([slot, slot], layout)).toEqual({ value: 10 / 80, std_err: 0 });
    expect(summedIntercept([slot, slot], layout)).toEqual({ value: 61, std_err: 0 });
  });
});

describe('the 95 % interval', () => {
  it.each([
    ['of a run of a wanted length', null],
    // Where a run stops depends on its own errors; the interval must bear that.
    ['of a run that stops at a target', 0.13],
  ])('%s holds the true value in 95 of 100 runs', async (_title, target) => {
    const scene = cheapScene([1]);
    const executor = createExecutor(0, { runTask: sparse });
    const run = createRun(executor);
    let covered = 0;
    let coveredByHalf = 0;
    for (let seed = 0; seed < 1000; seed++) {
      const { slots } = await run(scene, wish({ seed: `cover ${seed}`, target }));
      const spill = summedSpill(slots, scene.layout);
      const holds = (std_err: number) => {
        const [low, high] = interval95({ value: spill.value, std_err }, slots.length);
        return low <= CHEAP_SPILL && CHEAP_SPILL <= high;
      };
      if (holds(spill.std_err)) covered++;
      if (holds(spill.std_err / 2)) coveredByHalf++;
    }
    await executor.close();
    // Binomial spread of 1000 runs at 95 %: 6.9; 4 of them either way.
    const plausible = (count: number) => Math.abs(count - 950) <= 4 * Math.sqrt(1000 * 0.95 * 0.05);
    expect(plausible(covered)).toBe(true);
    // Sabotage: half the standard error.
    expect(plausible(coveredByHalf)).toBe(false);
  });
});
