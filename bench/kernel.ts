/** What a ray costs, and what it takes to prepare a scene. Processor time of one core. */
import type { PreparedScene } from '../src/prepare.js';
import { planBatches } from '../src/run/plan.js';
import { tracedBatch } from './batch.js';
import { coreSeconds, repeated } from './clock.js';
import { DEMOS, demo, fieldOf } from './scenes.js';
import type { Recorder } from './table.js';

const WARM_UP = 2;
const REPEATS = 7;

/** Seconds a ray takes, batch by batch. */
function rayCosts(prepared: PreparedScene): readonly number[] {
  const plan = planBatches(prepared, 32 * 2 ** 20);
  return repeated(WARM_UP + REPEATS, (batch) => {
    const time = coreSeconds(() => tracedBatch(prepared, plan.log2Rays, 'bench', batch));
    return time / plan.raysPerBatch;
  }).slice(WARM_UP);
}

export function kernelRates(record: Recorder): void {
  for (const name of DEMOS) {
    const prepared = demo(name);
    const rates = rayCosts(prepared).map((cost) => 1e-6 / cost);
    const note = `${prepared.field.facets.length} facets`;
    record(`a thread's batches: ${name}`, 'Mrays/s per core', rates, note);
  }
}

/** [dishes in a row, rows]. */
const FIELDS = [
  [1, 1],
  [10, 1],
  [20, 3],
  [60, 10],
  [200, 30],
] as const;

/** Cost of a ray in ever larger fields, and what it takes to lay them out. */
export function costByFacets(record: Recorder): void {
  for (const [dishes, rows] of FIELDS) {
    const build = fieldOf(dishes, rows);
    const prepared = build();
    const facets = prepared.field.facets.length;
    const costs = rayCosts(prepared).map((cost) => 1e9 * cost);
    record(`cost of a ray: ${facets} facets`, 'ns', costs, `${dishes * rows} dishes`);
    const times = repeated(facets > 1e4 ? 3 : REPEATS, () => 1000 * coreSeconds(build));
    record(`check and prepare: ${facets} facets`, 'ms', times);
    record(
      'the same, per facet',
      'us',
      times.map((time) => (1000 * time) / facets),
    );
  }
}

export function prepareTimes(record: Recorder): void {
  for (const name of ['one-dish', 'large-field']) {
    demo(name);
    record(
      `load and prepare: ${name}`,
      'ms',
      repeated(REPEATS, () => 1000 * coreSeconds(() => demo(name))),
    );
  }
}
