/**
 * What a map of the demo dish costs by rays and by footprints: `npm run build && node dist/bench/footprints.js` prints a table,
 * `--json` one JSON document.
 *
 * Error: root mean square over all 64 x 64 cells of a cell's standard deviation between runs of different seeds, over the flux of
 * the brightest cell. Time: processor time of this process's only busy thread, median over repeats after warming up. The rays'
 * error falls with the root of their number (their cells are too small for the lattice's evenness); that of footprints is measured
 * at each size.
 */
import { readFileSync } from 'node:fs';
import { cpus } from 'node:os';
import { fileURLToPath } from 'node:url';
import { traceFootprints } from '../src/kernel/footprint.js';
import { viewPrepared } from '../src/kernel/layout.js';
import { traceBatch } from '../src/kernel/trace.js';
import type { PreparedScene } from '../src/prepare.js';
import { batchKey, latticeShifts } from '../src/run/seeds.js';
import { loadScene } from '../src/scene/load.js';
import { parseOverride } from '../src/scene/override.js';
import { prepareAtMoment } from '../src/study/trace.js';

// Compiled, this file stands in dist/bench/.
const ROOT = fileURLToPath(new URL('../..', import.meta.url));
const SCENE = 'scenes-demo/one-dish.yaml';
const CELLS = 64;
/** rms cell error wanted, of the brightest cell. */
const WANTED = 0.005;
const REPEATS = 41;
const json = process.argv.includes('--json');

interface Measured {
  readonly way: 'rays' | 'footprints';
  /** Batches a run is cut into, and rays or points in all of them. */
  readonly batches: number;
  readonly samples: number;
  readonly rms_error: number;
  readonly median_ms: number;
  readonly lowest_ms: number;
  readonly highest_ms: number;
}

function demo(): PreparedScene {
  const cells = parseOverride(`dishes.seven.receiver.cells=${CELLS}`);
  if (!cells.ok) throw new Error(cells.error.message);
  const text = readFileSync(ROOT + SCENE, 'utf8');
  const loaded = loadScene(text, { file: SCENE, overrides: [cells.override] });
  if (!loaded.ok) throw new Error(loaded.errors[0].message);
  return prepareAtMoment(loaded.scene);
}

const scene = demo();
const view = viewPrepared(scene.buffer);
const { map, nu, nv } = scene.layout.receivers[0];

/** One run; shifts are drawn before the clock starts, as both ways need the same. */
function timed(way: Measured['way'], log2: number, batches: number, run: number): [Float64Array, number] {
  const plan = Int32Array.from(scene.facetPower, (power) => (power > 0 ? log2 : -1));
  const seed = `bench ${way} ${run}`;
  const shifts = Array.from({ length: batches }, (_, batch) => latticeShifts(seed, batch, view.facets));
  const keys = shifts.map((_, batch) => batchKey(seed, batch));
  const tally = new Float64Array(scene.layout.length);
  const trace = way === 'rays' ? traceBatch : traceFootprints;
  const before = process.cpuUsage();
  shifts.forEach((shift, batch) => {
    trace(view, plan, shift, keys[batch], tally);
  });
  const { user, system } = process.cpuUsage(before);
  return [tally.slice(map, map + nu * nv), (user + system) / 1000];
}

function measure(way: Measured['way'], log2: number, batches: number, runs: number): Measured {
  for (let run = 0; run < 5; run++) timed(way, log2, batches, run);
  const maps: Float64Array[] = [];
  const times: number[] = [];
  for (let run = 0; run < runs; run++) {
    const [cells, time] = timed(way, log2, batches, run);
    maps.push(cells);
    times.push(time);
  }
  times.sort((a, b) => a - b);
  let squares = 0;
  let brightest = 0;
  for (let cell = 0; cell < nu * nv; cell++) {
    const mean = maps.reduce((sum, cells) => sum + cells[cell], 0) / runs;
    squares += maps.reduce((sum, cells) => sum + (cells[cell] - mean) ** 2, 0) / (runs - 1);
    brightest = Math.max(brightest, mean);
  }
  const measured: Measured = {
    way,
    batches,
    samples: view.facets * 2 ** log2 * batches,
    rms_error: Math.sqrt(squares / (nu * nv)) / brightest,
    median_ms: times[runs >> 1],
    lowest_ms: times[0],
    highest_ms: times[runs - 1],
  };
  if (!json) {
    console.log(
      [
        way.padEnd(11),
        String(batches).padStart(7),
        String(measured.samples).padStart(9),
        `${(100 * measured.rms_error).toPrecision(3)} %`.padStart(9),
        ...[measured.median_ms, measured.lowest_ms, measured.highest_ms].map((ms) =>
          ms.toPrecision(3).padStart(9),
        ),
      ].join(' '),
    );
  }
  return measured;
}

if (!json) {
  console.log(`${cpus()[0].model}, Node ${process.version}; ${SCENE}, ${CELLS} x ${CELLS} cells`);
  console.log(
    `${'way'.padEnd(11)} batches   samples rms error ${['median', 'lowest', 'highest'].map((word) => `${word}/ms`.padStart(9)).join(' ')}`,
  );
}
const rays = measure('rays', 17, 1, 15);
const points = [
  ...[5, 6, 7, 8, 9].map((log2) => measure('footprints', log2, 1, REPEATS)),
  ...[2, 3, 4].map((log2) => measure('footprints', log2, 32, REPEATS)),
];
const raysNeeded = rays.samples * (rays.rms_error / WANTED) ** 2;
const raysTime = (scale: 'median_ms' | 'lowest_ms') => (rays[scale] * raysNeeded) / rays.samples;
const enough = points.filter(({ rms_error }) => rms_error <= WANTED);
const outcome = [1, 32].map((batches) => {
  const cheapest = enough.find((entry) => entry.batches === batches);
  return {
    batches,
    rays: Math.round(raysNeeded),
    rays_ms: raysTime('median_ms'),
    points: cheapest?.samples ?? null,
    points_ms: cheapest?.median_ms ?? null,
    times_less: cheapest === undefined ? null : raysTime('median_ms') / cheapest.median_ms,
    times_less_by_lowest: cheapest === undefined ? null : raysTime('lowest_ms') / cheapest.lowest_ms,
  };
});
if (json) {
  const machine = { cpu: cpus()[0].model, cores: cpus().length, node: process.version };
  const rows = [rays, ...points];
  console.log(
    JSON.stringify(
      { schema_version: 1, kind: 'bench_footprints', machine, wanted: WANTED, rows, outcome },
      null,
      2,
    ),
  );
} else {
  for (const { batches, points: needed, points_ms, times_less, times_less_by_lowest } of outcome) {
    if (needed === null || points_ms === null || times_less === null || times_less_by_lowest === null)
      continue;
    console.log(
      `to ${100 * WANTED} % in ${batches} batch${batches > 1 ? 'es' : ''}: ${(raysNeeded / 1e6).toPrecision(3)} million rays in ` +
        `${raysTime('median_ms').toPrecision(3)} ms, ${needed} points in ${points_ms.toPrecision(3)} ms: ` +
        `${times_less.toPrecision(3)} x less by medians, ${times_less_by_lowest.toPrecision(3)} x by the lowest times`,
    );
  }
}
