/**
 * What a map of the demo dish costs by rays and by footprints: `npm run build && node dist/bench/footprints.js` prints a table,
 * `--json` one JSON document.
 *
 * Error: root mean square of a cell's standard deviation between runs of different seeds, over the flux of the brightest cell; over
 * the cells of at least half that flux, and over all 64 x 64 (most of which are dark). Time: processor time, median over repeats
 * after warming up. The rays' error falls with the root of their number (their cells are too small for the lattice's evenness);
 * that of footprints is measured at each size, beside the rays that it would take and how many times longer these take.
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
/** rms error of bright cells that is wanted. */
const WANTED = 0.005;
const REPEATS = 41;
const WARM_UP_MS = 1500;
const json = process.argv.includes('--json');

interface Measured {
  readonly way: 'rays' | 'footprints';
  /** Batches a run is cut into, and rays or points in all of them. */
  readonly batches: number;
  readonly samples: number;
  readonly bright_error: number;
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
  const shifts = Array.from({ length: batches }, (_, batch) => latticeShifts(seed, batch, plan));
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
  const start = performance.now();
  while (performance.now() - start < WARM_UP_MS) timed(way, log2, batches, 0);
  const maps: Float64Array[] = [];
  const times: number[] = [];
  for (let run = 0; run < runs; run++) {
    const [cells, time] = timed(way, log2, batches, run);
    maps.push(cells);
    times.push(time);
  }
  times.sort((a, b) => a - b);
  const mean = maps[0].map((_, cell) => maps.reduce((sum, cells) => sum + cells[cell], 0) / runs);
  const brightest = mean.reduce((most, flux) => Math.max(most, flux), 0);
  const errorOver = (least: number): number => {
    let squares = 0;
    let count = 0;
    for (let cell = 0; cell < nu * nv; cell++) {
      if (mean[cell] < least * brightest) continue;
      squares += maps.reduce((sum, cells) => sum + (cells[cell] - mean[cell]) ** 2, 0) / (runs - 1);
      count++;
    }
    return Math.sqrt(squares / count) / brightest;
  };
  const measured: Measured = {
    way,
    batches,
    samples: view.facets * 2 ** log2 * batches,
    bright_error: errorOver(0.5),
    rms_error: errorOver(0),
    median_ms: times[runs >> 1],
    lowest_ms: times[0],
    highest_ms: times[runs - 1],
  };
  return measured;
}

/** Rays for the error of bright cells that was measured, and their time, median and lowest. */
function raysFor(error: number, rays: Measured) {
  const needed = rays.samples * (rays.bright_error / error) ** 2;
  return {
    needed,
    median_ms: (rays.median_ms * needed) / rays.samples,
    lowest_ms: (rays.lowest_ms * needed) / rays.samples,
  };
}

function show(measured: Measured, rays: Measured): void {
  const equal = raysFor(measured.bright_error, rays);
  const percent = (share: number) => `${(100 * share).toPrecision(3)} %`.padStart(9);
  console.log(
    [
      measured.way.padEnd(10),
      String(measured.batches).padStart(7),
      String(measured.samples).padStart(8),
      percent(measured.bright_error),
      percent(measured.rms_error),
      ...[measured.median_ms, measured.lowest_ms, measured.highest_ms].map((ms) =>
        ms.toPrecision(3).padStart(9),
      ),
      `${(equal.needed / 1e6).toPrecision(3)} M`.padStart(10),
      `${(equal.median_ms / measured.median_ms).toPrecision(3)} x`.padStart(8),
      `${(equal.lowest_ms / measured.lowest_ms).toPrecision(3)} x`.padStart(8),
    ].join(' '),
  );
}

const rays = measure('rays', 17, 1, 15);
const points = [
  ...[5, 6, 7, 8, 9].map((log2) => measure('footprints', log2, 1, REPEATS)),
  ...[2, 3, 4, 5].map((log2) => measure('footprints', log2, 32, REPEATS)),
];
const wanted = raysFor(WANTED, rays);
const cheapest = points.find(({ bright_error }) => bright_error <= WANTED);
if (json) {
  const machine = { cpu: cpus()[0].model, cores: cpus().length, node: process.version };
  const document = {
    schema_version: 1,
    kind: 'bench_footprints',
    machine,
    wanted_error: WANTED,
    rays_for_it: wanted,
  };
  console.log(JSON.stringify({ ...document, rows: [rays, ...points] }, null, 2));
} else {
  console.log(`${cpus()[0].model}, Node ${process.version}; ${SCENE}, ${CELLS} x ${CELLS} cells`);
  console.log(
    `way        batches  samples    bright       all ${['median', 'lowest', 'highest'].map((word) => `${word}/ms`.padStart(9)).join(' ')} rays alike by median, lowest`,
  );
  for (const row of [rays, ...points]) show(row, rays);
  if (cheapest !== undefined) {
    console.log(
      `bright cells to ${100 * WANTED} %: ${(wanted.needed / 1e6).toPrecision(3)} million rays in ${wanted.median_ms.toPrecision(3)} ms (lowest ` +
        `${wanted.lowest_ms.toPrecision(3)}), ${cheapest.samples} points in ${cheapest.median_ms.toPrecision(3)} ms (lowest ${cheapest.lowest_ms.toPrecision(3)})`,
    );
  }
}
