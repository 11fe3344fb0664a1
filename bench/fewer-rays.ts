/**
 * How many fewer rays than independent ones the lattices need, by the number of batches a run is cut into: `npm run build && node
 * dist/bench/fewer-rays.js` prints a table.
 *
 * The gain is the ratio of variances at 2.3e5 rays of the demo dish: of a figure by independent rays (a lattice of one point has a
 * random shift of its own) over that figure by lattices, over many runs of different seeds. Ways to shift the facets' lattices: each
 * by its own random numbers, or all together as `latticeShifts` does.
 */
import { viewPrepared } from '../src/kernel/layout.js';
import { Fate } from '../src/kernel/tally.js';
import { traceBatch } from '../src/kernel/trace.js';
import { batchKey, latticeShifts } from '../src/run/seeds.js';
import { standardError } from '../src/run/statistics.js';
import { demo } from './scenes.js';

const RUNS = 200;
/** Log2 of a facet's rays in a run. */
const LOG2_RAYS = 15;
const BATCHES_LOG2 = [0, 3, 4, 5];
/** Passes of one ray a facet that make a run of independent rays; scaled up by the square root of their number. */
const PLAIN_PASSES = 2 ** 8;

const scene = demo('one-dish');
const view = viewPrepared(scene.buffer);
const { layout } = scene;

/** One lattice after the other, each with random numbers of its own. */
function ownShifts(seed: string, batch: number, log2Rays: Int32Array): Int32Array {
  const rows = Array.from(log2Rays, (k, facet) => [...latticeShifts(`${seed}/${facet}`, batch, [k])]);
  return Int32Array.from(rows.flat());
}

/** Spill, light caught, and light on the 4 x 4 cells in the middle of the map, some 20 mm across. */
function figuresOf(tally: Float64Array): number[] {
  const caught = tally[layout.watts + Fate.Intercepted];
  const spilled = [Fate.SpilledOnReceiver, Fate.SpilledOnGround, Fate.SpilledToSky]
    .map((fate) => tally[layout.watts + fate])
    .reduce((sum, watts) => sum + watts, 0);
  const { map, nu, nv } = layout.receivers[0];
  let middle = 0;
  for (let v = nv / 2 - 2; v < nv / 2 + 2; v++) {
    for (let u = nu / 2 - 2; u < nu / 2 + 2; u++) middle += tally[map + v * nu + u];
  }
  return [spilled / (spilled + caught), caught, middle];
}

/** Standard deviation of each figure of one run, the figures of watts per batch. */
function deviations(seed: string, log2Rays: number, batches: number, shiftsOf: typeof ownShifts): number[] {
  const plan = new Int32Array(view.facets).fill(log2Rays);
  const runs = Array.from({ length: RUNS }, (_, run) => {
    const tally = new Float64Array(layout.length);
    for (let part = 0; part < batches; part++) {
      const batch = run * batches + part;
      traceBatch(view, plan, shiftsOf(seed, batch, plan), batchKey(seed, batch), tally);
    }
    return figuresOf(tally.map((sum) => sum / batches));
  });
  return runs[0].map((_, figure) => standardError(runs.map((values) => values[figure])) * Math.sqrt(RUNS));
}

if (layout.groups !== 1) throw new Error('the table is made for one dish');
const plain = deviations('plain', 0, PLAIN_PASSES, ownShifts).map(
  (deviation) => deviation * Math.sqrt(PLAIN_PASSES / 2 ** LOG2_RAYS),
);
console.log('times fewer rays than independent ones     spill   caught   middle of the map');
for (const log2 of BATCHES_LOG2) {
  for (const [name, shiftsOf] of [
    ['each facet by itself', ownShifts],
    ['all facets together', latticeShifts],
  ] as const) {
    const found = deviations('lattices', LOG2_RAYS - log2, 2 ** log2, shiftsOf);
    const gains = plain.map((deviation, figure) => ((deviation / found[figure]) ** 2).toFixed(1).padStart(8));
    console.log(`${String(2 ** log2).padStart(2)} batches, ${name.padEnd(28)} ${gains.join(' ')}`);
  }
}
