/**
 * Do the stated 95 % intervals hold the truth in 95 of 100 runs? The real kernel is run over many seeds; the truth is the
 * figure of all seeds' tallies pooled. Its own error is 1/sqrt(seeds) of a single run's, which moves a coverage by less than
 * 0.1 % at 1,000 seeds (and by 0.3 % at 200).
 */
import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import type { PreparedScene } from '../../src/prepare.js';
import { summarize } from '../../src/result/summarize.js';
import type { Figure, FluxGrid, Summary } from '../../src/result/types.js';
import { addInto, SlotFold } from '../../src/run/fold.js';
import { planBatches } from '../../src/run/plan.js';
import { runScene } from '../../src/run/run.js';
import { studentT975 } from '../../src/run/statistics.js';
import { reachesTarget } from '../../src/run/stopping.js';
import { runBatchTask } from '../../src/run/task.js';
import type { RunOptions, RunOutcome } from '../../src/run/types.js';
import { loadScene } from '../../src/scene/load.js';
import { parseOverride } from '../../src/scene/override.js';
import { compare } from '../../src/study/compare.js';
import { parseRequirement } from '../../src/study/requirement.js';
import { sweep } from '../../src/study/sweep.js';
import { prepareAtMoment } from '../../src/study/trace.js';

const DEMO = fileURLToPath(new URL('../../scenes-demo/', import.meta.url));

/** What a run states of one figure. */
export type Stated = Pick<Figure, 'value' | 'ci95'>;

/** Figures of one seed, by name. */
export type StatedFigures = Readonly<Record<string, Stated>>;

/** One row of the campaign's table: one way of running one scene. */
export interface Case {
  readonly scene: string;
  /** About this many rays a run. */
  readonly rays: number;
  /**
   * Figures of one seed; `pool` takes the runs that were made, in the same order for every seed.
   */
  readonly figures: (
    seed: string,
    pool: (run: number, outcome: RunOutcome) => void,
  ) => Promise<StatedFigures>;
  /** True values from the pooled runs. */
  readonly truth: (pooled: readonly RunOutcome[]) => Promise<Readonly<Record<string, number>>>;
}

export interface Held {
  readonly scene: string;
  readonly figure: string;
  readonly seeds: number;
  readonly held: number;
  /** Truth above the interval, and below it. */
  readonly above: number;
  readonly below: number;
  /** Intervals that hold it after every half width was cut to `SABOTAGE` of itself, by factor. */
  readonly sabotaged: Readonly<Record<string, number>>;
  /** Mean error over the root mean square error: a bias in standard deviations. */
  readonly bias: number;
  /** Mean half width over 1.96 root mean square errors: 1 where intervals are as wide as they should be on average. */
  readonly width: number;
}

export const FACTORS = [0.8, 0.6] as const;

/** Slots of a pooled run: the seeds' runs are summed into so many. */
const POOLED_SLOTS = 40;

class Pool {
  readonly #slots: Float64Array[] = [];
  #batches = 0;
  #taken = 0;

  constructor(private readonly slots: number) {}

  take(outcome: RunOutcome): void {
    const slot = this.#taken++ % this.slots;
    for (const tally of outcome.slots) {
      if (this.#slots[slot] === undefined) this.#slots[slot] = tally.slice();
      else addInto(this.#slots[slot], tally);
    }
    this.#batches += outcome.batches;
  }

  /** All that was taken, as one run. */
  outcome(like: RunOutcome): RunOutcome {
    return {
      ...like,
      slots: this.#slots,
      batchesPerSlot: this.#batches / this.#slots.length,
      batches: this.#batches,
      rays: (like.rays / like.batches) * this.#batches,
    };
  }
}

/** Runs a case over seeds `first` to `first + seeds - 1`. */
export async function coverageOf(one: Case, seeds: number, first = 1): Promise<Held[]> {
  const pools: Pool[] = [];
  const likes: RunOutcome[] = [];
  const stated: StatedFigures[] = [];
  const slots = Math.min(POOLED_SLOTS, seeds);
  for (let seed = first; seed < first + seeds; seed++) {
    stated.push(
      await one.figures(`coverage ${seed}`, (run, outcome) => {
        pools[run] ??= new Pool(slots);
        likes[run] ??= outcome;
        pools[run].take(outcome);
      }),
    );
  }
  const truth = await one.truth(pools.map((pool, run) => pool.outcome(likes[run])));
  return Object.keys(stated[0]).map((figure) =>
    count(
      one.scene,
      figure,
      stated.map((entry) => entry[figure]),
      truth[figure],
    ),
  );
}

function count(scene: string, figure: string, stated: readonly Stated[], truth: number): Held {
  let held = 0;
  let above = 0;
  let below = 0;
  let errors = 0;
  let squares = 0;
  let halves = 0;
  const sabotaged: Record<string, number> = Object.fromEntries(FACTORS.map((factor) => [factor, 0]));
  for (const { value, ci95 } of stated) {
    const [low, high] = ci95;
    // Rounding of the last digits is no miss.
    const slack = 1e-12 * Math.abs(truth);
    if (truth > high + slack) above++;
    else if (truth < low - slack) below++;
    else held++;
    for (const factor of FACTORS) {
      if (truth <= value + factor * (high - value) && truth >= value - factor * (value - low)) {
        sabotaged[factor]++;
      }
    }
    errors += value - truth;
    squares += (value - truth) ** 2;
    halves += (high - low) / 2;
  }
  const rms = Math.sqrt(squares / stated.length);
  return {
    scene,
    figure,
    seeds: stated.length,
    held,
    above,
    below,
    sabotaged,
    bias: rms > 0 ? errors / stated.length / rms : 0,
    width: rms > 0 ? halves / stated.length / (1.96 * rms) : Number.POSITIVE_INFINITY,
  };
}

/** A demo scene with keys set as on the command line, at its own moment. */
export function prepareDemo(file: string, ...set: readonly string[]): PreparedScene {
  const overrides = set.map((text) => {
    const parsed = parseOverride(text);
    if (!parsed.ok) throw new Error(`cannot read ${text}`);
    return parsed.override;
  });
  const loaded = loadScene(readFileSync(`${DEMO}${file}.yaml`, 'utf8'), { file, overrides });
  if (!loaded.ok) throw new Error(JSON.stringify(loaded.errors));
  return prepareAtMoment(loaded.scene);
}

function options(seed: string, rays: number): RunOptions {
  return { seed, rays, target: null, maxRays: rays, workers: 0 };
}

const summaryOf = (prepared: PreparedScene, outcome: RunOutcome): Summary =>
  summarize(prepared, outcome, '0.0.0', []);

/** Cells of the first receiver's map that are followed. */
export interface Cells {
  readonly [name: string]: number;
}

/** Picks cells on a run of its own, so that no noise of the seeds tested chooses them. */
async function chooseCells(prepared: PreparedScene, rays: number): Promise<Cells> {
  const pilot = 3e6;
  const outcome = await runScene(prepared, options('pilot', pilot));
  const { grids, result } = summaryOf(prepared, outcome);
  const { flux } = grids[0];
  const highest = flux.reduce((best, value, cell) => (value > flux[best] ? cell : best), 0);
  const nearest = (wanted: number): number =>
    flux.reduce(
      (best, value, cell) =>
        Math.abs(Math.log(value / wanted)) < Math.abs(Math.log(flux[best] / wanted)) ? cell : best,
      highest,
    );
  const { ledger } = result.receivers[0];
  const caught = ledger.lines.find((line) => line.key === 'intercepted');
  const wattsPerRay = ((caught?.power.value ?? 0) / (caught?.rays ?? 1)) * outcome.batches;
  // Rays a run of `rays` leaves in a cell of unit flux.
  const { nu, nv, width, height } = grids[0];
  const raysPerFlux = ((1e3 * (width / nu) * (height / nv)) / wattsPerRay) * outcome.batches * (rays / pilot);
  return {
    'cell, brightest': highest,
    'cell, half as bright': nearest(0.5 * flux[highest]),
    'cell, 15 rays': nearest(15 / raysPerFlux),
    'cell, 2 rays': nearest(2 / raysPerFlux),
  };
}

function cellStated(grid: FluxGrid, cell: number, groups: number): Stated {
  const value = grid.flux[cell];
  const half = studentT975(groups - 1) * grid.stdErr[cell];
  return { value, ci95: [Math.max(0, value - half), value + half] };
}

/** All followed figures of a trace. */
export function tracedFigures(summary: Summary, cells: Cells): StatedFigures {
  const { total, receivers, groups } = summary.result;
  const [receiver] = receivers;
  const figures: Record<string, Stated> = {
    'spill fraction': total.spill_fraction,
    'blocked fraction': total.blocked_fraction,
    'intercepted power': total.intercepted_power,
    'peak flux': total.peak_flux,
    'spot 50 %': receiver.spot.holds_50,
    'spot 90 %': receiver.spot.holds_90,
    'spot 95 %': receiver.spot.holds_95,
    'opening for 5 % spill': receiver.opening_for_5_percent_spill_mm,
    'centroid u': receiver.spot.centroid_u,
    'centroid v': receiver.spot.centroid_v,
  };
  if (receivers.length > 1) figures['peak flux, first receiver'] = receiver.peak_flux;
  for (const [name, cell] of Object.entries(cells)) {
    figures[name] = cellStated(summary.grids[0], cell, groups);
  }
  return figures;
}

function values(figures: StatedFigures): Record<string, number> {
  return Object.fromEntries(Object.entries(figures).map(([name, { value }]) => [name, value]));
}

/** A plain trace of a scene. */
export async function traceCase(scene: string, prepared: PreparedScene, rays: number): Promise<Case> {
  const cells = await chooseCells(prepared, rays);
  return {
    scene,
    rays,
    figures: async (seed, pool) => {
      const outcome = await runScene(prepared, options(seed, rays));
      pool(0, outcome);
      return tracedFigures(summaryOf(prepared, outcome), cells);
    },
    truth: async ([pooled]) => values(tracedFigures(summaryOf(prepared, pooled), cells)),
  };
}

/** What an interrupt leaves: the first few slots of a run. */
export async function interruptedCase(
  scene: string,
  prepared: PreparedScene,
  rays: number,
  slots: number,
): Promise<Case> {
  const cells = await chooseCells(prepared, (rays * slots) / 32);
  return {
    scene,
    rays,
    figures: async (seed, pool) => {
      const whole = await runScene(prepared, options(seed, rays));
      pool(0, whole);
      const batches = slots * whole.batchesPerSlot;
      const outcome: RunOutcome = {
        ...whole,
        slots: whole.slots.slice(0, slots),
        batches,
        rays: (whole.rays / whole.batches) * batches,
        interrupted: true,
      };
      return tracedFigures(summaryOf(prepared, outcome), cells);
    },
    truth: async ([pooled]) => values(tracedFigures(summaryOf(prepared, pooled), cells)),
  };
}

/**
 * Runs that stop at a target error. The batches are smaller than the program's, so that a thousand such runs can be had; where
 * they stop is decided by the program.
 */
export async function stoppedCase(
  scene: string,
  prepared: PreparedScene,
  raysPerSlots: number,
  target: number,
): Promise<Case> {
  const cells = await chooseCells(prepared, 2 * raysPerSlots);
  const plan = planBatches(prepared, raysPerSlots);
  return {
    scene,
    rays: raysPerSlots,
    figures: async (seed, pool) => {
      const fold = new SlotFold((full) => reachesTarget(full.slots(), prepared.layout, target));
      for (let batch = 0; !fold.sealed && batch < 4096; batch++) {
        const reply = runBatchTask({
          buffer: prepared.buffer,
          seed,
          batch,
          log2Rays: plan.log2Rays,
          tallyLength: prepared.layout.length,
        });
        if (!reply.ok) throw new Error(reply.message);
        fold.accept(batch, reply.tally);
      }
      const batches = fold.slots().length * fold.batchesPerSlot;
      const outcome: RunOutcome = {
        seed,
        slots: fold.slots(),
        batchesPerSlot: fold.batchesPerSlot,
        batches,
        rays: batches * plan.raysPerBatch,
        interrupted: false,
        targetReached: true,
        seconds: 0,
        workers: 0,
      };
      // Pooled runs must not depend on where each stopped: a long run would count for more.
      pool(0, await runScene(prepared, options(`${seed}, not stopped`, raysPerSlots)));
      return {
        ...tracedFigures(summaryOf(prepared, outcome), cells),
      };
    },
    truth: async ([pooled]) => values(tracedFigures(summaryOf(prepared, pooled), cells)),
  };
}

const COMPARED = ['spill_fraction', 'intercepted_power', 'peak_flux'] as const;

/** Paired differences of two scenes. */
export function compareCase(scene: string, a: PreparedScene, b: PreparedScene, rays: number): Case {
  const differences = (outcomes: readonly RunOutcome[]): StatedFigures => {
    const [base, other] = [a, b].map((prepared, i) => ({
      name: String(i),
      summary: summaryOf(prepared, outcomes[i]),
    }));
    const { figures } = compare([base, other], '0.0.0').differences[0];
    const names = Object.keys(figures).filter(
      (name) => COMPARED.some((entry) => entry === name) || name.startsWith('receivers.'),
    );
    return Object.fromEntries(
      names.map((name) => [
        `difference: ${name.replace(/^receivers\.[^.]*\./, '')}`,
        figures[name].difference,
      ]),
    );
  };
  return {
    scene,
    rays,
    figures: async (seed, pool) => {
      const outcomes: RunOutcome[] = [];
      for (const [i, prepared] of [a, b].entries()) {
        const outcome = await runScene(prepared, options(seed, rays));
        pool(i, outcome);
        outcomes.push(outcome);
      }
      return differences(outcomes);
    },
    truth: async (pooled) => values(differences(pooled)),
  };
}

/** A key set to a value. */
interface SweptPoint {
  readonly value: number;
  readonly prepared: PreparedScene;
}

/** Rays at each point that finds the true tolerance: some ten times fewer than all seeds of a case together. */
const RAYS_OF_TRUTH = 3e6;

/**
 * Tolerances of a sweep over one key. The truth is that of steps half as long, from long runs of their own: the pooled runs would
 * be bent between the points as the single ones are.
 * @param fine points for the truth
 */
export function sweepCase(
  scene: string,
  path: string,
  points: readonly SweptPoint[],
  fine: readonly SweptPoint[],
  requirements: readonly string[],
  rays: number,
): Case {
  const stated = async (
    points: readonly SweptPoint[],
    run: (index: number) => Promise<RunOutcome>,
    seed: string,
  ): Promise<StatedFigures> => {
    const figures: Record<string, Stated> = {};
    const outcomes = await Promise.all(points.map((_, index) => run(index)));
    for (const text of requirements) {
      const requirement = parseRequirement(text);
      if (!requirement.ok) throw new Error(requirement.message);
      let at = 0;
      const result = await sweep({
        prepare: ([{ value }]) => {
          at = points.findIndex((point) => point.value === value);
          return points[at].prepared;
        },
        run: async () => outcomes[at],
        runOptions: options(seed, rays),
        vary: [{ path, values: points.map(({ value }) => value) }],
        requirement: requirement.value,
        version: '0.0.0',
      });
      const { limit, message } = result.tolerances[0];
      if (limit === null) throw new Error(message);
      figures[`tolerance: ${text}`] = limit;
    }
    return figures;
  };
  return {
    scene,
    rays,
    figures: (seed) => stated(points, (index) => runScene(points[index].prepared, options(seed, rays)), seed),
    truth: async () =>
      values(
        await stated(
          fine,
          (index) => runScene(fine[index].prepared, options('truth', RAYS_OF_TRUTH)),
          'truth',
        ),
      ),
  };
}

/** The table, for people. */
export function coverageTable(rows: readonly Held[]): string {
  const head = ['scene', 'figure', 'held %', 'above', 'below', 'x 0.8', 'x 0.6', 'bias', 'width'];
  const cells = rows.map((row) => [
    row.scene,
    row.figure,
    ((100 * row.held) / row.seeds).toFixed(1),
    String(row.above),
    String(row.below),
    ...FACTORS.map((factor) => ((100 * row.sabotaged[factor]) / row.seeds).toFixed(1)),
    row.bias.toFixed(2),
    row.width.toFixed(2),
  ]);
  const widths = head.map((text, i) => Math.max(text.length, ...cells.map((line) => line[i].length)));
  return [head, ...cells]
    .map(
      (line) =>
        `| ${line.map((text, i) => (i < 2 ? text.padEnd(widths[i]) : text.padStart(widths[i]))).join(' | ')} |`,
    )
    .join('\n');
}
