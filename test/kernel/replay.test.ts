import { describe, expect, it } from 'vitest';
import { layOut } from '../../src/field/layout.js';
import { FATES, Fate } from '../../src/kernel/tally.js';
import { PathEvent } from '../../src/kernel/trace.js';
import { type PreparedScene, prepareScene } from '../../src/prepare.js';
import type { Scene, Vec3 } from '../../src/scene/types.js';
import { momentOf } from '../../src/sun/direction.js';
import { evenLog2, tallyOfBatch } from '../support/batch.js';
import { type Path, pathOf, raysInBatch, type Step } from '../support/paths.js';
import { randomRow } from '../support/random-scenes.js';
import { raysOf, wattsOf } from '../support/readings.js';
import { sevenStripDish } from '../support/scenes.js';
import {
  boxSolid,
  cylinderSolid,
  heightByDefinition,
  insideByDefinition,
  localRay,
} from '../support/slow-hits.js';

const SEEDS = ['replay-0', 'replay-1', 'replay-2', 'replay-3', 'replay-4', 'replay-5'];
const LOG2_RAYS = 4;

/** Crossed by chance with so large a slope error that rays hit everything. */
function wildScene(seed: string): Scene {
  const scene = randomRow(seed);
  return {
    ...scene,
    films: scene.films.map((film) => ({ ...film, slopeErrorAlong: 0.2, slopeErrorAcross: 0.3 })),
  };
}

function prepared(scene: Scene): PreparedScene {
  return prepareScene(scene, layOut(scene), momentOf(scene));
}

/** Distance of a place from the skin of the primitive named; Infinity where it lies outside its outline. */
function offPrimitive(scene: PreparedScene, { event, primitive, place }: Step): number {
  const { facets, receivers, blockers } = scene.field;
  if (primitive < facets.length) {
    const { frame, shape, outline } = facets[primitive];
    const [x, y, z] = localRay(frame, place, [0, 0, 1]).o;
    // The launch's circle is a polygon of 256 sides, up to 5.0e-5 of the radius outside.
    const shrink = event === PathEvent.Launch || event === PathEvent.Reflected ? 1 - 6e-5 : 1 - 1e-12;
    const within =
      outline.kind === 'round'
        ? insideByDefinition(
            { ...outline, holeDiameter: outline.holeDiameter * shrink ** 2 },
            x * shrink,
            y * shrink,
          )
        : insideByDefinition(
            { ...outline, length: outline.length + 1e-12, width: outline.width + 1e-12 },
            x,
            y,
          );
    return within ? Math.abs(z - heightByDefinition(shape, x, y)) : Number.POSITIVE_INFINITY;
  }
  const receiver = receivers[primitive - facets.length];
  if (receiver !== undefined) {
    const [u, v, w] = localRay(receiver.frame, place, [0, 0, 1]).o;
    const { aperture, window } = receiver.design;
    const inside =
      event === PathEvent.Window
        ? Math.abs(u) <= window.width / 2 && Math.abs(v) <= window.height / 2
        : aperture.shape === 'round'
          ? Math.hypot(u, v) <= aperture.diameter / 2 + 1e-12
          : aperture.shape === 'rectangle' &&
            Math.abs(u) <= aperture.width / 2 + 1e-12 &&
            Math.abs(v) <= aperture.height / 2 + 1e-12;
    return inside ? Math.abs(w) : Number.POSITIVE_INFINITY;
  }
  const blocker = blockers[primitive - facets.length - receivers.length];
  const at = localRay(blocker.frame, place, [0, 0, 1]).o;
  const solid =
    blocker.kind === 'box'
      ? boxSolid([blocker.size[0] / 2, blocker.size[1] / 2, blocker.size[2] / 2])
      : cylinderSolid(2, blocker.radius, blocker.length / 2);
  return Math.abs(Math.max(...solid(at)));
}

function along(from: Vec3, to: Vec3): Vec3 {
  const difference: Vec3 = [to[0] - from[0], to[1] - from[1], to[2] - from[2]];
  const length = Math.hypot(...difference);
  return [difference[0] / length, difference[1] / length, difference[2] / length];
}

function allPaths(scene: PreparedScene, log2Rays: Int32Array, seed: string): Path[] {
  return Array.from({ length: raysInBatch(log2Rays) }, (_, ray) => pathOf(scene, log2Rays, seed, ray));
}

describe('replay', () => {
  const met = new Set<number>();

  it.each(SEEDS)('%s: fates and watts of all rays are those of the batch', (seed) => {
    const scene = prepared(wildScene(seed));
    const log2Rays = evenLog2(scene, LOG2_RAYS);
    const tally = tallyOfBatch(scene, log2Rays, seed);
    const groups = scene.layout.groups;
    const rays = new Float64Array(groups * FATES);
    const watts = new Float64Array(groups * FATES);
    let launched = 0;
    for (const { steps, fate } of allPaths(scene, log2Rays, seed)) {
      const at = scene.field.facets[steps[0].primitive].receiver * FATES + fate;
      rays[at] += 1;
      // A shaded ray's step says that 0 W arrive; the ledger books the sunlight it would have been.
      watts[at] += fate === Fate.Shaded ? steps[0].watts : steps[steps.length - 1].watts;
      launched += steps[0].watts;
      met.add(fate);
    }
    for (let group = 0; group < groups; group++) {
      for (let fate = 0; fate < FATES; fate++) {
        const at = group * FATES + fate;
        expect(rays[at], `rays, group ${group}, fate ${fate}`).toBe(raysOf(scene, tally, fate, group));
        const difference = Math.abs(watts[at] - wattsOf(scene, tally, fate, group));
        expect(difference / launched, `watts, group ${group}, fate ${fate}`).toBeLessThan(1e-12);
      }
    }
  });

  it('the scenes together have met every fate', () => {
    expect([...met].sort((a, b) => a - b)).toEqual(Array.from({ length: FATES }, (_, fate) => fate));
  });

  it.each(SEEDS)('%s: every step lies on what it names, the sun in line with what shades', (seed) => {
    const scene = prepared(wildScene(seed));
    const log2Rays = evenLog2(scene, LOG2_RAYS);
    const ground = scene.field.ground;
    for (const { steps, fate, sun } of allPaths(scene, log2Rays, seed)) {
      expect(steps[0].event).toBe(PathEvent.Launch);
      expect(Math.abs(Math.hypot(...sun) - 1)).toBeLessThan(1e-6);
      for (const [index, step] of steps.entries()) {
        if (step.primitive >= 0) {
          expect(offPrimitive(scene, step), `event ${step.event}`).toBeLessThan(1e-9);
        } else if (fate === Fate.SpilledOnGround) {
          expect(Math.abs(step.place[2] - ground!)).toBeLessThan(1e-9);
        }
        if (index > 0) expect(step.watts).toBeLessThanOrEqual(steps[index - 1].watts);
        if (step.event === PathEvent.Shaded) {
          const direction = along(steps[0].place, step.place);
          for (let axis = 0; axis < 3; axis++) expect(direction[axis]).toBeCloseTo(sun[axis], 6);
        }
      }
    }
  });

  it('sabotage: the same rays with another seed end otherwise', () => {
    const scene = prepared(wildScene(SEEDS[0]));
    const log2Rays = evenLog2(scene, LOG2_RAYS);
    const fates = (seed: string) => allPaths(scene, log2Rays, seed).map((path) => path.fate);
    expect(fates('one')).not.toEqual(fates('two'));
  });

  it('a ray beyond the batch is refused', () => {
    const scene = prepared(sevenStripDish());
    const log2Rays = evenLog2(scene, 3);
    expect(() => pathOf(scene, log2Rays, 'x', raysInBatch(log2Rays))).toThrow(RangeError);
  });
});

describe('common random numbers', () => {
  const spoilt = (slope: number) =>
    prepared(
      sevenStripDish({
        film: { slopeErrorAlong: slope, slopeErrorAcross: 2 * slope },
        sun: { sunshape: { kind: 'circumsolar', circumsolarRatio: 0.05 } },
      }),
    );

  it('another slope error leaves the mirror points and the parts of the sun as they were', () => {
    const [good, bad] = [spoilt(0), spoilt(0.01)];
    const log2Rays = evenLog2(good, 5);
    let moved = 0;
    for (let ray = 0; ray < raysInBatch(log2Rays); ray++) {
      const a = pathOf(good, log2Rays, 'common', ray);
      const b = pathOf(bad, log2Rays, 'common', ray);
      expect(a.sun).toEqual(b.sun);
      expect(a.steps[0]).toEqual(b.steps[0]);
      if (a.fate !== Fate.Shaded && JSON.stringify(a.steps.at(-1)) !== JSON.stringify(b.steps.at(-1)))
        moved++;
    }
    expect(moved).toBeGreaterThan(raysInBatch(log2Rays) / 2);
  });

  it('tilts twice as large lean the beam twice as far, ray by ray', () => {
    // Where the plane is crossed, against the faultless ray.
    const shift = (slope: number, ray: number): Vec3 => {
      const [scene, perfect] = [spoilt(slope), spoilt(0)];
      const log2Rays = evenLog2(scene, 3);
      const end = (of: PreparedScene) => pathOf(of, log2Rays, 'common', ray).steps.at(-1)!.place;
      const [a, b] = [end(scene), end(perfect)];
      return [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
    };
    for (const ray of [0, 9, 18, 27, 36]) {
      const small = shift(1e-5, ray);
      const large = shift(2e-5, ray);
      for (let axis = 0; axis < 3; axis++) {
        expect(Math.abs(large[axis] - 2 * small[axis])).toBeLessThan(1e-3 * Math.hypot(...large));
      }
    }
  });
});
