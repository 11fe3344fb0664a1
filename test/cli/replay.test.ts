import { describe, expect, it } from 'vitest';
import { findRay, replay, replayText } from '../../src/cli/replay.js';
import { viewPrepared } from '../../src/kernel/layout.js';
import { FATES, Fate } from '../../src/kernel/tally.js';
import { traceBatch } from '../../src/kernel/trace.js';
import type { PreparedScene } from '../../src/prepare.js';
import { type BatchPlan, planBatches } from '../../src/run/plan.js';
import { batchKey, latticeShifts } from '../../src/run/seeds.js';
import { loadScene } from '../../src/scene/load.js';
import { parseOverride } from '../../src/scene/override.js';
import { sceneTemplate } from '../../src/scene/template.js';
import { prepareAtMoment } from '../../src/study/trace.js';

const SEED = 'replay';
const BATCH = 3;
const NAMES = Object.entries(Fate).map(([name, fate]) => ({
  fate,
  key: name.replace(/(?!^)[A-Z]/g, (letter) => `_${letter}`).toLowerCase(),
}));

function prepared(...sets: string[]): PreparedScene {
  const overrides = sets.map((set) => {
    const outcome = parseOverride(set);
    if (!outcome.ok) throw new Error(outcome.error.message);
    return outcome.override;
  });
  const outcome = loadScene(sceneTemplate(), { file: 'template', overrides });
  if (!outcome.ok) throw new Error(outcome.errors.map(({ message }) => message).join('\n'));
  return prepareAtMoment(outcome.scene);
}

/** Two steep rows close together, badly built, with a beam in the way: nearly every way to end has its chance. */
function crowdedRows(): PreparedScene {
  return prepared(
    'rows.A.dishes=3',
    'rows.A.rows=2',
    'rows.A.pitch_m=1.25',
    'rows.A.row_spacing_m=0.7',
    'sun.elevation_deg=30',
    'dishes.seven_strip.design_tilt_deg=58',
    'dishes.seven_strip.focal_length_along_row_m=1',
    'dishes.seven_strip.focal_length_across_row_m=1',
    'films.roll_a.slope_error_along_mrad=60',
    'films.roll_a.slope_error_across_mrad=60',
    'blockers=[{kind: box, name: beam, centre_m: [0, -0.4, 1.3], size_m: [4, 0.1, 0.1]}]',
  );
}

function countsOf(scene: PreparedScene, plan: BatchPlan, seed: string): { rays: number[]; watts: number[] } {
  const tally = new Float64Array(scene.layout.length);
  const shifts = latticeShifts(seed, BATCH, plan.log2Rays);
  traceBatch(viewPrepared(scene.buffer), plan.log2Rays, shifts, batchKey(seed, BATCH), tally);
  const { counts, watts, groups } = scene.layout;
  const sum = (start: number) =>
    Array.from({ length: FATES }, (_, fate) => {
      let total = 0;
      for (let group = 0; group < groups; group++) total += tally[start + group * FATES + fate];
      return total;
    });
  return { rays: sum(counts), watts: sum(watts) };
}

function replayed(scene: PreparedScene, plan: BatchPlan): { rays: number[]; watts: number[] } {
  const rays = new Array<number>(FATES).fill(0);
  const watts = new Array<number>(FATES).fill(0);
  for (let index = 0; index < plan.raysPerBatch; index++) {
    const { fate, path } = replay(scene, plan, SEED, { batch: BATCH, index });
    const end = NAMES.find(({ key }) => key === fate);
    if (end === undefined) throw new Error(`unknown fate ${fate}`);
    rays[end.fate] += 1;
    // Shaded sunlight is counted whole; what happens on the way takes from the others.
    watts[end.fate] += end.fate === Fate.Shaded ? path[0].power_w : path[path.length - 1].power_w;
  }
  return { rays, watts };
}

describe('replay of every ray of a batch', () => {
  const scene = crowdedRows();
  const plan = planBatches(scene, 32 * 3000);
  const whole = countsOf(scene, plan, SEED);
  const single = replayed(scene, plan);

  it('ends each ray as the batch counted it', () => {
    expect(single.rays).toEqual(whole.rays);
    expect(single.rays.reduce((sum, count) => sum + count, 0)).toBe(plan.raysPerBatch);
    // The scene is meant to show most ways to end.
    expect(single.rays.filter((count) => count > 0).length).toBeGreaterThanOrEqual(9);
  });

  it('carries the same watts to each end', () => {
    for (const fate of [Fate.Shaded, Fate.Intercepted, Fate.SpilledOnGround, Fate.BlockedByFacet]) {
      expect(Math.abs(single.watts[fate] - whole.watts[fate])).toBeLessThanOrEqual(1e-9 * whole.watts[fate]);
    }
  });

  it('differs where the seed is another one (so that the check can fail)', () => {
    expect(countsOf(scene, plan, 'another').rays).not.toEqual(single.rays);
  });
});

describe('one ray', () => {
  const scene = prepared();
  const plan = planBatches(scene, 1e5);

  it('is found by batch and index or by its number over all batches', () => {
    expect(findRay({ batch: 2, index: 5 }, plan)).toEqual({ batch: 2, index: 5 });
    expect(findRay({ overall: 2 * plan.raysPerBatch + 5 }, plan)).toEqual({ batch: 2, index: 5 });
    expect(() => findRay({ batch: 0, index: plan.raysPerBatch }, plan)).toThrow(/there is no ray/);
    expect(() => findRay({ overall: plan.batches * plan.raysPerBatch }, plan)).toThrow(/there is no ray/);
  });

  it('tells its path hit by hit in words', () => {
    const ray = replay(scene, plan, SEED, { batch: 1, index: 7 });
    const text = replayText('a dish', ray);
    expect(ray.path[0].event).toBe('on_mirror');
    expect(text).toMatch(/mirror A-1\/s1 \(east .* north .* up .* m; incidence \d/);
    expect(text).toMatch(/the film keeps/);
    expect(text).toMatch(/Fate: /);
    expect(ray.off_sun_centre_mrad).toBeLessThan(44);
  });

  it('leaves the film its share of the power', () => {
    const ray = replay(scene, plan, SEED, { batch: 1, index: 7 });
    // Reflectance of the template's film.
    expect(ray.path[1].power_w / ray.path[0].power_w).toBeCloseTo(0.84, 12);
  });
});
