/**
 * Speed: `npm run bench` prints a table. Every case is seeded, warmed up and repeated; median, lowest and highest are shown.
 * What one core does is told in processor time, pools and processes in wall-clock time: run it on an idle machine.
 *
 *     npm run bench -- --json             one JSON document
 *     npm run bench -- --only pool,sweep  these parts: kernel, facets, prepare, pool, precision, process, sweep
 *     npm run bench -- --long             with the memory run over 1e9 rays (--long-rays 1e8: over so many)
 *     npm run bench -- --against <rev>    this commit beside another one, on a tree without changes
 */
import { compareWith } from './against.js';
import { machine, machineLine } from './clock.js';
import { costByFacets, kernelRates, prepareTimes } from './kernel.js';
import { type BenchOptions, type Part, parseOptions } from './options.js';
import { memory, poolScaling } from './pool.js';
import { raysToError } from './precision.js';
import { processTimes, sweepTime } from './process.js';
import { headLine, lineOf, type Recorder, type Row, rowOf } from './table.js';

const WORK: Record<Part, (record: Recorder) => void | Promise<void>> = {
  kernel: kernelRates,
  facets: costByFacets,
  prepare: prepareTimes,
  pool: poolScaling,
  precision: raysToError,
  process: processTimes,
  sweep: sweepTime,
};

async function bench({ json, parts, longRays, against }: BenchOptions): Promise<void> {
  const rows: Row[] = [];
  const atStart = machine();
  const record: Recorder = (name, unit, values, note) => {
    const row = rowOf(name, unit, values, note);
    rows.push(row);
    if (!json) console.log(lineOf(row));
    return row.median;
  };
  if (!json) console.log(`${machineLine()}\n${headLine()}`);
  const compared = against === null ? null : await compareWith(against, record);
  if (compared === null) {
    for (const part of parts) await WORK[part](record);
    if (longRays !== null) await memory(record, longRays);
  }
  if (json) {
    const kind = compared === null ? 'bench' : 'bench_against';
    const document = { schema_version: 1, kind, machine: atStart, ...compared, rows };
    console.log(JSON.stringify(document, null, 2));
  } else {
    console.log(`load at the end ${machine().load}`);
  }
}

try {
  await bench(parseOptions(process.argv.slice(2)));
} catch (error) {
  console.error(error instanceof Error ? error.message : error);
  process.exitCode = 1;
}
