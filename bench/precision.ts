/**
 * Rays and time to a given standard error, by the lattices of a run and by plain independent random rays through the same
 * kernel: for each such ray a facet drawn by chance and a lattice of one point with a shift of its own.
 *
 * The standard deviation of a figure is taken over runs of different seeds and carried to the error wanted by the square root
 * law, which holds for both: a run is a sum of independent batches, or of independent rays. The peak is read at one and the
 * same place in all runs, so that it is a plain mean.
 */
import seedrandom from 'seedrandom';
import { DIMENSIONS } from '../src/kernel/lattice.js';
import { viewPrepared } from '../src/kernel/layout.js';
import { Fate } from '../src/kernel/tally.js';
import { traceBatch } from '../src/kernel/trace.js';
import type { PreparedScene } from '../src/prepare.js';
import { type BatchPlan, DEFAULT_BATCHES, planBatches, planTargetBatches } from '../src/run/plan.js';
import { mean, standardError } from '../src/run/statistics.js';
import { tracedBatch } from './batch.js';
import { coreSeconds, repeated } from './clock.js';
import { demo } from './scenes.js';
import { median, type Recorder } from './table.js';

/** Equal strips, all square to the sun alike, so that a facet is drawn by its power where each is as likely as another. */
const SCENE = 'one-dish';
const PLAIN_RAYS = 8192;
/** Runs whose standard deviation is taken, and how many such deviations: 64 runs give it to some 9 %. */
const RUNS = 64;
const GROUPS = 5;
const FIGURES = ['spill', 'peak'] as const;
type Figure = (typeof FIGURES)[number];

/** A standard error, relative to the figure, and the lattices of a run that would be made for it. */
interface Case {
  readonly wanted: number;
  readonly plan: Pick<BatchPlan, 'log2Rays' | 'raysPerBatch'>;
  readonly runs: number;
  readonly groups: number;
}

/** Small lattices, as for a run to a target, and the largest, whose evenness shows most. */
function casesOf(prepared: PreparedScene): readonly Case[] {
  return [
    { wanted: 0.002, plan: planTargetBatches(prepared, 1e9), runs: RUNS, groups: GROUPS },
    { wanted: 0.0002, plan: planBatches(prepared, 32 * 2 ** 20), runs: 32, groups: 3 },
  ];
}

/** Relative standard deviation of each figure from run to run, one value per group of runs. */
type Deviations = Record<Figure, number[]>;

function spillOf({ layout }: PreparedScene, tally: Float64Array): number {
  const reflected = tally[layout.incident] - tally[layout.watts + Fate.Shaded] - tally[layout.absorbed];
  return 1 - tally[layout.watts + Fate.Intercepted] / reflected;
}

/** Cells of the peak's disc where a map is brightest, as offsets into a tally. */
function peakCells({ layout, field }: PreparedScene, tally: Float64Array): number[] {
  const { map, nu, nv } = layout.receivers[0];
  const { window, peakDisc } = field.receivers[0].design;
  const cellsAcross = [(peakDisc * nu) / window.width / 2, (peakDisc * nv) / window.height / 2];
  const disc = (middleU: number, middleV: number): number[] => {
    const cells: number[] = [];
    for (let v = 0; v < nv; v++) {
      for (let u = 0; u < nu; u++) {
        const inside = Math.hypot((u - middleU) / cellsAcross[0], (v - middleV) / cellsAcross[1]) <= 1;
        if (inside) cells.push(map + v * nu + u);
      }
    }
    return cells;
  };
  const brightest = tally.subarray(map, map + nu * nv).reduce((best, watts, cell, all) => {
    return watts > all[best] ? cell : best;
  }, 0);
  return disc(brightest % nu, Math.floor(brightest / nu));
}

function deviations(
  prepared: PreparedScene,
  cells: readonly number[],
  { runs, groups }: Pick<Case, 'runs' | 'groups'>,
  traceRun: (run: number) => Float64Array,
): Deviations {
  const found: Deviations = { spill: [], peak: [] };
  for (let group = 0; group < groups; group++) {
    const values: Record<Figure, number[]> = { spill: [], peak: [] };
    for (let run = 0; run < runs; run++) {
      const tally = traceRun(group * runs + run);
      values.spill.push(spillOf(prepared, tally));
      values.peak.push(cells.reduce((sum, cell) => sum + tally[cell], 0));
    }
    for (const figure of FIGURES) {
      const deviation = standardError(values[figure]) * Math.sqrt(runs);
      found[figure].push(deviation / mean(values[figure]));
    }
  }
  return found;
}

/** Independent rays: how many each facet gets is left to chance too. */
function tracePlain({ buffer, layout }: PreparedScene, random: seedrandom.PRNG): Float64Array {
  const view = viewPrepared(buffer);
  const tally = new Float64Array(layout.length);
  const counts = new Int32Array(view.facets);
  for (let ray = 0; ray < PLAIN_RAYS; ray++) counts[Math.floor(random() * view.facets)]++;
  const shifts = new Int32Array(view.facets * DIMENSIONS);
  const most = Math.max(...counts);
  for (let round = 0; round < most; round++) {
    for (let i = 0; i < shifts.length; i++) shifts[i] = random.int32();
    const one = counts.map((count) => (count > round ? 0 : -1));
    traceBatch(view, one, shifts, random.int32(), tally);
  }
  return tally;
}

export function raysToError(record: Recorder): void {
  const prepared = demo(SCENE);
  const cases = casesOf(prepared);
  const cells = peakCells(prepared, tracedBatch(prepared, cases[1].plan.log2Rays, 'place', 0));

  const byChance = deviations(prepared, cells, { runs: RUNS, groups: GROUPS }, (run) =>
    tracePlain(prepared, seedrandom.alea(`plain ${run}`)),
  );
  const drawing = drawingTime();
  for (const one of cases) {
    const { plan } = one;
    const byLattice = deviations(prepared, cells, one, (run) =>
      tracedBatch(prepared, plan.log2Rays, 'lattices', run),
    );
    const rayTime = median(
      repeated(9, (batch) => coreSeconds(() => tracedBatch(prepared, plan.log2Rays, 'time', batch))),
    );
    const latticeRay = rayTime / plan.raysPerBatch;
    for (const figure of FIGURES) {
      const lattice = byLattice[figure].map((sigma) => latticeRays(sigma, one));
      const plain = byChance[figure].map((sigma) => PLAIN_RAYS * (sigma / one.wanted) ** 2);
      recordCase(record, figure, one, { lattice, plain, latticeRay, plainRay: latticeRay + drawing });
    }
  }
}

/** No run has fewer batches than DEFAULT_BATCHES. */
function latticeRays(sigma: number, { wanted, plan }: Case): number {
  return plan.raysPerBatch * Math.max(DEFAULT_BATCHES, (sigma / wanted) ** 2);
}

interface Found {
  /** Rays, one value per group of runs. */
  readonly lattice: readonly number[];
  readonly plain: readonly number[];
  /** Seconds a ray takes. */
  readonly latticeRay: number;
  readonly plainRay: number;
}

function recordCase(record: Recorder, figure: Figure, { wanted, plan }: Case, found: Found): void {
  const name = `${figure} to ${100 * wanted} %`;
  const { lattice, plain, latticeRay, plainRay } = found;
  const time = (rays: readonly number[], each: number) => rays.map((count) => 1000 * count * each);
  const middle = median(lattice);
  const fewer = plain.map((rays) => rays / middle);
  record(`${name}: lattices`, 'rays', lattice, `in batches of ${plan.raysPerBatch}`);
  record(`${name}: independent rays`, 'rays', plain);
  record(`${name}: times fewer rays`, 'x', fewer);
  record(`${name}: lattices`, 'ms', time(lattice, latticeRay), 'one core');
  record(`${name}: independent rays`, 'ms', time(plain, plainRay), 'one core');
  record(
    `${name}: times sooner`,
    'x',
    fewer.map((gain) => (gain * plainRay) / latticeRay),
  );
}

/**
 * Seconds that the random numbers of an independent ray take, from the runtime's own fast generator. Its whole cost is taken to
 * be this and that of a ray of a lattice: traced by lattices of one point it would pay for the start of a batch too.
 */
function drawingTime(): number {
  const point = new Float64Array(DIMENSIONS);
  const rays = 1e6;
  const draw = () => {
    for (let ray = 0; ray < rays; ray++) {
      for (let dimension = 0; dimension < DIMENSIONS; dimension++) point[dimension] = Math.random();
    }
  };
  return median(repeated(7, () => coreSeconds(draw))) / rays;
}
