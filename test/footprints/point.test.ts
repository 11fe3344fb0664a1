/** Points with a fan of rays and footprints, batch by batch. */
import { describe, expect, it } from 'vitest';
import { layOut } from '../../src/field/layout.js';
import { type FootprintPlan, footprintPlan, NODES, traceFootprints } from '../../src/kernel/footprint.js';
import { viewPrepared } from '../../src/kernel/layout.js';
import { FATES, FootprintSum } from '../../src/kernel/tally.js';
import { type PreparedScene, prepareScene } from '../../src/prepare.js';
import { byRaysFraction } from '../../src/result/clump.js';
import { sumSlots } from '../../src/result/resampled.js';
import { planBatches } from '../../src/run/plan.js';
import { runScene } from '../../src/run/run.js';
import { batchKey, latticeShifts } from '../../src/run/seeds.js';
import type { Scene } from '../../src/scene/types.js';
import { momentOf } from '../../src/sun/direction.js';
import { evenLog2, tallyOfBatch } from '../support/batch.js';
import { raysInBatch } from '../support/paths.js';
import { randomRow } from '../support/random-scenes.js';
import { absorbedOf, incidentOf, sumOf, wattsOf } from '../support/readings.js';
import { lineRow, sevenStripDish, textbookParaboloid, textbookTrough } from '../support/scenes.js';

function prepared(scene: Scene): PreparedScene {
  return prepareScene(scene, layOut(scene), momentOf(scene));
}

function footprintsOf(
  scene: PreparedScene,
  log2Points: Int32Array,
  seed: string,
  plan?: FootprintPlan,
): Float64Array {
  const tally = new Float64Array(scene.layout.length);
  const shifts = latticeShifts(seed, 0, log2Points);
  const view = viewPrepared(scene.buffer);
  const planOf = plan === undefined ? footprintPlan : () => plan;
  traceFootprints(view, log2Points, shifts, batchKey(seed, 0), tally, planOf);
  return tally;
}

const SCENES = Array.from({ length: 8 }, (_, i) => `footprints-${i}`);

describe('the fan of a point', () => {
  it.each(SCENES)('%s: one ray a point and no footprint is the trace loop itself', (seed) => {
    const scene = prepared(randomRow(seed));
    const log2 = evenLog2(scene, 7);
    const rays = tallyOfBatch(scene, log2, seed);
    const points = footprintsOf(scene, log2, seed, { nodes: 1, prints: 0, linear: 0, bend: 0 });
    const { layout } = scene;
    for (const place of layout.receivers) points.fill(0, place.footprints, place.footprints + 5);
    // The same sums in another order.
    for (let i = 0; i < layout.length; i++) {
      const scale = i < layout.watts ? 0 : 1e-12;
      expect(Math.abs(points[i] - rays[i])).toBeLessThanOrEqual(scale * Math.max(1, Math.abs(rays[i])));
    }
  });

  it.each(SCENES)('%s: points add up exactly, watts to 1e-12', (seed) => {
    const scene = prepared(randomRow(seed));
    const log2 = evenLog2(scene, 5);
    const tally = footprintsOf(scene, log2, seed);
    const { layout } = scene;
    expect(sumOf(tally, layout.counts, layout.groups * FATES)).toBe(raysInBatch(log2));
    for (let group = 0; group < layout.groups; group++) {
      let booked = absorbedOf(scene, tally, group);
      for (let fate = 0; fate < FATES; fate++) booked += wattsOf(scene, tally, fate, group);
      const incident = incidentOf(scene, tally, group);
      expect(Math.abs(booked - incident)).toBeLessThanOrEqual(1e-12 * incident);
    }
  });

  it('a map that holds all the light holds each watt laid down', () => {
    const scene = prepared(
      sevenStripDish({ receiver: { window: { width: 1.2, height: 1.2 }, cells: [120, 120] } }),
    );
    const tally = footprintsOf(scene, evenLog2(scene, 7), 'whole');
    const place = scene.layout.receivers[0];
    const laid = tally[place.footprints + FootprintSum.Laid];
    expect(tally[place.footprints + FootprintSum.ByRays]).toBe(0);
    expect(Math.abs(sumOf(tally, place.map, 120 * 120) / laid - 1)).toBeLessThan(1e-12);
  });
});

describe('how a facet is laid down', () => {
  const planOf = (scene: Scene): FootprintPlan => {
    const ready = prepared(scene);
    return footprintPlan(viewPrepared(ready.buffer), 0);
  };

  it('the demo dish nearly as one Gaussian a point, larger errors as several', () => {
    expect(planOf(sevenStripDish())).toMatchObject({ nodes: NODES });
    const bends = [0.005, 0.015, 0.05].map((sigma) =>
      planOf(sevenStripDish({ film: { slopeErrorAlong: sigma, slopeErrorAcross: sigma } })),
    );
    expect(bends.map(({ prints }) => prints)).toEqual([2, 2, 4]);
    expect(bends[0].linear).toBeGreaterThan(bends[1].linear);
    expect(bends[1].linear).toBeGreaterThan(bends[2].linear);
  });

  it('a mirror without errors, a tube, and light that lands too flat by rays', () => {
    expect(planOf(textbookParaboloid())).toEqual({ nodes: 1, prints: 0, linear: 0, bend: 0 });
    expect(planOf(textbookTrough({}, { film: { slopeErrorAlong: 0.004 } })).prints).toBe(0);
    const flat = { facing: { azimuth: 0, elevation: -0.01 } };
    const chip = { facet: { shape: { kind: 'flat' as const } } };
    const film = { slopeErrorAlong: 0.005, slopeErrorAcross: 0.005 };
    expect(planOf(textbookParaboloid({ rimAngle: 0.1 }, { ...chip, film, standing: flat })).prints).toBe(0);
  });
});

describe('a run of points', () => {
  const scene = prepared(sevenStripDish({ row: { dishes: 2 } }));
  const options = { seed: 'run', rays: 8192, target: null, maxRays: 1e6, deposit: 'footprints' as const };

  it('is the same to the last bit with no, one and three threads', async () => {
    const [none, one, three] = await Promise.all(
      [0, 1, 3].map((workers) => runScene(scene, { ...options, workers })),
    );
    expect(one.slots).toEqual(none.slots);
    expect(three.slots).toEqual(none.slots);
    expect(none.deposit).toBe('footprints');
  });

  it('takes points as it takes rays, and stops at a target', async () => {
    const plan = planBatches(scene, 8192, 'footprints');
    expect(plan.batches * plan.raysPerBatch).toBeLessThan(2 * 8192);
    const outcome = await runScene(scene, { ...options, workers: 0, target: 0.02 });
    expect(outcome.targetReached).toBe(true);
    expect(outcome.rays).toBeLessThan(2e5);
  });

  it('a line row is laid down too, and says that nothing was left to rays', async () => {
    const line = prepared(lineRow());
    const outcome = await runScene(line, { ...options, workers: 0 });
    const sums = sumSlots(outcome.slots, outcome.batchesPerSlot);
    expect(byRaysFraction(line.layout, sums)).toBe(0);
  });
});
