/**
 * A stand-in for the kernel: one watt per facet, and one coordinate x of each facet's lattice decides how much of it spills
 * (x^2, so a third in the mean) and how much is intercepted (the rest). No geometry, but real shifts and real tallies.
 */

import { DIMENSIONS } from '../../src/kernel/lattice.js';
import { Fate, tallyLayout } from '../../src/kernel/tally.js';
import type { PreparedScene } from '../../src/prepare.js';
import { type BatchKernel, type BatchReply, type BatchTask, runBatchTask } from '../../src/run/task.js';

export const CHEAP_SPILL = 1 / 3;

export const cheapKernel: BatchKernel = {
  view: (() => null) as unknown as BatchKernel['view'],
  trace(_view, log2Rays, shifts, batchKey, tally) {
    const layout = tallyLayout([2, 2]);
    for (let facet = 0; facet < log2Rays.length; facet++) {
      if (log2Rays[facet] < 0) continue;
      const rays = 2 ** log2Rays[facet];
      const shift = (shifts[facet * DIMENSIONS] >>> 0) / 2 ** 32;
      for (let ray = 0; ray < rays; ray++) {
        const x = (ray / rays + shift) % 1;
        tally[layout.counts + Fate.Intercepted] += 1;
        tally[layout.watts + Fate.SpilledOnGround] += (x * x) / rays;
        tally[layout.watts + Fate.Intercepted] += (1 - x * x) / rays;
      }
      tally[layout.incident] += 1;
      tally[layout.receivers[0].map] += (batchKey / 2 ** 32) * shift;
    }
  },
};

export function cheapTask(task: BatchTask): BatchReply {
  return runBatchTask(task, cheapKernel);
}

/**
 * @param facetPower as in a prepared scene
 * @param fault read by the dying worker: 0 none, 1 the first batch kills its thread, 2 batch 5 does so each time
 */
export function cheapScene(facetPower: readonly number[], fault = 0): PreparedScene {
  const buffer = new SharedArrayBuffer(8);
  new Int32Array(buffer)[0] = fault;
  const scene: Pick<PreparedScene, 'buffer' | 'layout' | 'facetPower'> = {
    buffer,
    layout: tallyLayout([2, 2]),
    facetPower: Float64Array.from(facetPower),
  };
  return scene as PreparedScene;
}
