/**
 * Speed on the demo scenes: `npm run bench` prints a table, `npm run bench -- --json` one JSON document, `--long` adds the
 * memory run over 1e9 rays. Every case is seeded, prewarmed and repeated; median, lowest and highest are shown. Rates are
 * wall-clock: run it on an idle machine.
 */
import { spawnSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { cpus } from 'node:os';
import { fileURLToPath } from 'node:url';
import { viewPrepared } from '../src/kernel/layout.js';
import { FATES, Fate } from '../src/kernel/tally.js';
import { traceBatch } from '../src/kernel/trace.js';
import type { PreparedScene } from '../src/prepare.js';
import { planBatches } from '../src/run/plan.js';
import { createExecutor } from '../src/run/pool.js';
import { createRun } from '../src/run/run.js';
import { batchKey, latticeShifts } from '../src/run/seeds.js';
import { standardError } from '../src/run/statistics.js';
import { loadScene, sceneSource } from '../src/scene/load.js';
import { overrideAt } from '../src/scene/override.js';
import { prepareAtMoment } from '../src/study/trace.js';

// Compiled, this file stands in dist/bench/.
const ROOT = fileURLToPath(new URL('../..', import.meta.url));
const DEMOS = [
  'one-dish',
  'row-of-eight',
  'row-mid-morning',
  'line-receiver',
  'flat-strips',
  'badly-built',
  'large-field',
  'paraboloid',
  'trough-tube',
];
const REPEATS = 7;
const json = process.argv.includes('--json');

interface Row {
  readonly name: string;
  readonly unit: string;
  readonly median: number;
  readonly lowest: number;
  readonly highest: number;
  readonly note?: string;
}

const rows: Row[] = [];

function record(name: string, unit: string, values: readonly number[], note?: string): number {
  const sorted = [...values].sort((a, b) => a - b);
  const median = sorted[sorted.length >> 1];
  const row = { name, unit, median, lowest: sorted[0], highest: sorted[sorted.length - 1] };
  rows.push(note === undefined ? row : { ...row, note });
  if (!json) {
    const shown = [median, row.lowest, row.highest]
      .map((value) => value.toPrecision(3).padStart(9))
      .join(' ');
    console.log(`${name.padEnd(52)} ${shown}  ${unit}${note === undefined ? '' : `  (${note})`}`);
  }
  return median;
}

function seconds(work: () => void): number {
  const start = performance.now();
  work();
  return (performance.now() - start) / 1000;
}

function demo(name: string): PreparedScene {
  const file = `${ROOT}scenes-demo/${name}.yaml`;
  const loaded = loadScene(readFileSync(file, 'utf8'), { file });
  if (!loaded.ok) throw new Error(`${name}: ${loaded.errors[0].message}`);
  return prepareAtMoment(loaded.scene);
}

function kernelRates(): void {
  for (const name of DEMOS) {
    const prepared = demo(name);
    const plan = planBatches(prepared, 32 * 2 ** 20);
    const view = viewPrepared(prepared.buffer);
    const tally = new Float64Array(prepared.layout.length);
    const rates: number[] = [];
    for (let batch = 0; batch < REPEATS + 2; batch++) {
      const shifts = latticeShifts('bench', batch, view.facets);
      const time = seconds(() => traceBatch(view, plan.log2Rays, shifts, batchKey('bench', batch), tally));
      if (batch >= 2) rates.push(plan.raysPerBatch / time / 1e6);
    }
    record(`kernel, all queries and tallies: ${name}`, 'Mrays/s per core', rates, `${view.facets} facets`);
  }
}

/** The demo dish in rows, one behind the other: [dishes in a row, rows]. */
const FIELDS: readonly (readonly [number, number])[] = [
  [1, 1],
  [10, 1],
  [20, 3],
  [60, 10],
  [200, 30],
];

/** What a ray costs in ever larger fields, and what it takes to lay them out. Small maps, so that the tallies stay in memory. */
function costByFacets(): void {
  const file = `${ROOT}scenes-demo/one-dish.yaml`;
  const source = sceneSource(readFileSync(file, 'utf8'));
  for (const [dishes, inRows] of FIELDS) {
    const overrides = [
      overrideAt(['rows', 0, 'dishes'], dishes),
      overrideAt(['rows', 0, 'rows'], inRows),
      overrideAt(['rows', 0, 'row_spacing_m'], 3.2),
      overrideAt(['dishes', 'seven', 'receiver', 'cells'], 24),
    ];
    const build = (): PreparedScene => {
      const loaded = source(overrides);
      if (!loaded.ok) throw new Error(`${dishes} x ${inRows} dishes: ${loaded.errors[0].message}`);
      return prepareAtMoment(loaded.scene);
    };
    const prepared = build();
    const plan = planBatches(prepared, 32 * 2 ** 20);
    const view = viewPrepared(prepared.buffer);
    const tally = new Float64Array(prepared.layout.length);
    const costs: number[] = [];
    for (let batch = 0; batch < REPEATS + 2; batch++) {
      const shifts = latticeShifts('bench', batch, view.facets);
      const time = seconds(() => traceBatch(view, plan.log2Rays, shifts, batchKey('bench', batch), tally));
      if (batch >= 2) costs.push((1e9 * time) / plan.raysPerBatch);
    }
    record(`cost of a ray: ${view.facets} facets`, 'ns', costs, `${dishes * inRows} dishes`);
    const times = Array.from({ length: inRows > 5 ? 3 : REPEATS }, () => 1000 * seconds(build));
    record(`check and prepare: ${view.facets} facets`, 'ms', times);
  }
}

function prepareTimes(): void {
  for (const name of ['one-dish', 'large-field']) {
    demo(name);
    record(
      `load and prepare: ${name}`,
      'ms',
      Array.from({ length: REPEATS }, () => 1000 * seconds(() => demo(name))),
    );
  }
}

async function poolScaling(): Promise<void> {
  const prepared = demo('row-of-eight');
  const options = { seed: 'bench', rays: 3.2e7, target: null, maxRays: 3.2e7, workers: 0 };
  let single = 0;
  for (const workers of [1, 2]) {
    const executor = createExecutor(workers);
    const run = createRun(executor);
    await run(prepared, { ...options, rays: 4e6 });
    const rates: number[] = [];
    for (let i = 0; i < 3; i++) {
      const outcome = await run(prepared, options);
      rates.push(outcome.rays / outcome.seconds / 1e6);
    }
    await executor.close();
    const median = record(`pool of ${workers}: row-of-eight`, 'Mrays/s', rates);
    if (workers === 1) single = median;
    else record('two workers over one', 'x', [median / single]);
  }
}

function spillOf(prepared: PreparedScene, tally: Float64Array): number {
  const { layout } = prepared;
  let caught = 0;
  let reflected = 0;
  for (let group = 0; group < layout.groups; group++) {
    const watts = layout.watts + group * FATES;
    caught += tally[watts + Fate.Intercepted];
    reflected += tally[layout.incident + group] - tally[watts + Fate.Shaded] - tally[layout.absorbed + group];
  }
  return 1 - caught / reflected;
}

/** Spread of the spill over many runs of 2^18 rays: one lattice per facet against independent rays of the same kernel. */
function raysForSpill(): void {
  const prepared = demo('one-dish');
  const view = viewPrepared(prepared.buffer);
  const runs = 64;
  const lattice = new Int32Array(view.facets).fill(15);
  const spread = (log2Rays: Int32Array, repeats: number): number => {
    const values = Float64Array.from({ length: runs }, (_, run) => {
      const tally = new Float64Array(prepared.layout.length);
      for (let part = 0; part < repeats; part++) {
        const batch = run * repeats + part;
        traceBatch(
          view,
          log2Rays,
          latticeShifts('spread', batch, view.facets),
          batchKey('spread', batch),
          tally,
        );
      }
      return spillOf(prepared, tally);
    });
    return standardError(values) * Math.sqrt(runs);
  };
  const byLattice = spread(lattice, 1);
  // A lattice of one point with its own shift is one independent ray. Fewer of them, scaled by the square root.
  const few = 2 ** 10;
  const byChance = spread(new Int32Array(view.facets).fill(0), few) * Math.sqrt(few / 2 ** 15);
  const rays = view.facets * 2 ** 15;
  record(
    'spill, standard error at 2.3e5 rays: one lattice per facet',
    '1e-6',
    [byLattice * 1e6],
    `${rays} rays`,
  );
  record('spill, standard error at 2.3e5 rays: independent rays', '1e-6', [byChance * 1e6], `${rays} rays`);
  record('fewer rays than independent for equal error', 'x', [(byChance / byLattice) ** 2]);
}

function processTimes(): void {
  const program = `${ROOT}dist/src/cli/main.js`;
  record(
    'process: the runtime alone',
    's',
    Array.from({ length: 2 * REPEATS + 1 }, () =>
      seconds(() => spawnSync(process.execPath, ['-e', '0'], { stdio: 'pipe' })),
    ),
  );
  const cases: [string, string[]][] = [
    ['process: --version', ['--version']],
    ['process: check one-dish', ['check', 'scenes-demo/one-dish.yaml']],
    ['process: trace one-dish, 1e5 rays', ['trace', 'scenes-demo/one-dish.yaml', '--rays', '1e5']],
    ['process: trace one-dish, default rays', ['trace', 'scenes-demo/one-dish.yaml']],
    ['process: trace one-dish to 0.5 % on spill', ['trace', 'scenes-demo/one-dish.yaml', '--to', '0.5%']],
    ['process: check large-field', ['check', 'scenes-demo/large-field.yaml']],
  ];
  for (const [name, args] of cases) {
    const once = () => {
      const done = spawnSync(process.execPath, [program, ...args], { cwd: ROOT, stdio: 'pipe' });
      if (done.status !== 0) throw new Error(`${name}: ${done.stderr}`);
    };
    once();
    record(
      name,
      's',
      Array.from({ length: 2 * REPEATS + 1 }, () => seconds(once)),
    );
  }
}

/** Twenty slope errors by twenty openings of one dish, 65,536 rays each: the whole process, start and report included. */
function sweepTime(): void {
  const program = `${ROOT}dist/src/cli/main.js`;
  const vary = [
    'films.roll_a.slope_error_across_mrad=2:11.5:0.5',
    'dishes.seven.receiver.aperture.diameter_m=0.05:0.24:0.01',
  ];
  const options = ['--rays', '65536', '--workers', '2', '--quiet', '--json'];
  const args = [
    'sweep',
    'scenes-demo/one-dish.yaml',
    ...vary.flatMap((text) => ['--vary', text]),
    ...options,
  ];
  const once = () => {
    const done = spawnSync(process.execPath, [program, ...args], {
      cwd: ROOT,
      stdio: 'pipe',
      maxBuffer: 2 ** 28,
    });
    if (done.status !== 0) throw new Error(`sweep: ${done.stderr}`);
  };
  once();
  record(
    'process: sweep of 400 points, 65,536 rays each',
    's',
    Array.from({ length: 3 }, () => seconds(once)),
    '2 workers',
  );
}

async function memory(): Promise<void> {
  const prepared = demo('one-dish');
  const executor = createExecutor(2);
  const run = createRun(executor);
  const resident: number[] = [];
  for (const rays of [1e7, 1e8, 1e9]) {
    await run(prepared, { seed: 'memory', rays, target: null, maxRays: rays, workers: 2 });
    resident.push(process.memoryUsage().rss / 2 ** 20);
    record(`resident memory after ${rays.toExponential(0)} rays, 2 workers`, 'MiB', [
      resident[resident.length - 1],
    ]);
  }
  await executor.close();
}

if (!json) {
  console.log(`${cpus()[0].model}, ${cpus().length} cores, Node ${process.version}`);
  console.log(
    `${''.padEnd(52)} ${['median', 'lowest', 'highest'].map((word) => word.padStart(9)).join(' ')}`,
  );
}
kernelRates();
costByFacets();
prepareTimes();
await poolScaling();
raysForSpill();
processTimes();
sweepTime();
if (process.argv.includes('--long')) await memory();
if (json) {
  const machine = { cpu: cpus()[0].model, cores: cpus().length, node: process.version };
  console.log(JSON.stringify({ schema_version: 1, kind: 'bench', machine, rows }, null, 2));
}
