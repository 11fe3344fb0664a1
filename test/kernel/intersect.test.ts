import seedrandom from 'seedrandom';
import { describe, expect, it } from 'vitest';
import type { PlacedBlocker, PlacedFacet } from '../../src/field/types.js';
import { nearestHit } from '../../src/kernel/hierarchy.js';
import { hitBlocker, hitFacet, hitReceiver } from '../../src/kernel/intersect.js';
import { RAY_START, RAY_T, RAY_U, RAY_V } from '../../src/kernel/ray.js';
import type { FacetShape, Outline, Vec3 } from '../../src/scene/types.js';
import {
  levelAt,
  placedFacet,
  placedReceiver,
  prepareField,
  type Random,
  randomDirection,
  randomFrame,
  tubeDesign,
} from '../support/placed.js';
import { queryOf } from '../support/query.js';
import {
  boxSolid,
  cylinderSolid,
  heightByDefinition,
  insideByDefinition,
  type Solid,
  slowFacetHit,
  slowSolidHit,
} from '../support/slow-hits.js';

/**
 * Metres, for rays from 1 km away. The quadratics are solved about the ray's origin: squares of 1e3 m carry 1e6 times the
 * rounding of 1e-16, and grazing multiplies it.
 */
const FAR = 1e-7;

const SHAPES: Record<string, FacetShape> = {
  flat: { kind: 'flat' },
  'bent parabola': { kind: 'bent', curve: 'parabola', focalLength: 0.4 },
  'bent circle': { kind: 'bent', curve: 'circle', focalLength: 0.42 },
  // Rim angle of the round outlines about 106 degrees.
  'deep paraboloid': { kind: 'paraboloid', focalLength: 0.15 },
  toroid: { kind: 'toroid', radiusAlong: 0.95, radiusAcross: 1.3 },
  'toroid, steeper across': { kind: 'toroid', radiusAlong: 2, radiusAcross: 1.1 },
  // At the rim of the round outlines it slopes as steeply as the sphere at 63 degrees from its vertex; the square round the
  // outline reaches beyond the sphere.
  'deep sphere': { kind: 'toroid', radiusAlong: 0.45, radiusAcross: 0.45 },
};
const OUTLINES: Record<string, Outline> = {
  rectangle: { kind: 'rectangle', length: 1.1, width: 0.5, centre: [0, 0] },
  'off-centre rectangle': { kind: 'rectangle', length: 0.5, width: 0.3, centre: [0.35, -0.4] },
  round: { kind: 'round', diameter: 0.8, holeDiameter: 0 },
  'round with a hole': { kind: 'round', diameter: 0.8, holeDiameter: 0.35 },
};
const CASES = Object.keys(SHAPES).flatMap((shape) =>
  Object.keys(OUTLINES)
    .filter((outline) => shape !== 'deep sphere' || outline.startsWith('round'))
    .map((outline) => [shape, outline] as const),
);

function plus(point: Vec3, direction: Vec3, t: number): Vec3 {
  return [point[0] + t * direction[0], point[1] + t * direction[1], point[2] + t * direction[2]];
}

function world(facet: PlacedFacet, x: number, y: number, z: number): Vec3 {
  const { frame } = facet;
  return plus(plus(plus(frame.origin, frame.x, x), frame.y, y), frame.z, z);
}

/** A ray that starts `distance` away and passes close by the patch. */
function rayPast(random: Random, facet: PlacedFacet, distance: number): { origin: Vec3; direction: Vec3 } {
  const [x, y] = facet.outline.kind === 'rectangle' ? facet.outline.centre : [0, 0];
  const target = world(facet, x + 1.1 * (random() - 0.5), y + 0.8 * (random() - 0.5), 0.4 * random());
  const direction = randomDirection(random);
  return { origin: plus(target, direction, -distance), direction };
}

interface Agreement {
  hits: number;
  misses: number;
  worst: number;
  disagreements: number;
}

function compareFacet(
  facet: PlacedFacet,
  rays: number,
  ray: (k: number) => { origin: Vec3; direction: Vec3 },
): Agreement {
  const { ask } = queryOf(prepareField({ facets: [facet] }));
  const found: Agreement = { hits: 0, misses: 0, worst: 0, disagreements: 0 };
  for (let k = 0; k < rays; k++) {
    const { origin, direction } = ray(k);
    const slow = slowFacetHit(facet, origin, direction, RAY_START);
    const fast = ask(origin, direction, (view, scratch) => hitFacet(view, scratch, 0));
    if ((slow === null) !== (fast === null)) found.disagreements++;
    else if (slow === null || fast === null) found.misses++;
    else {
      found.hits++;
      found.worst = Math.max(found.worst, Math.abs(slow - fast));
    }
  }
  return found;
}

describe('mirrors against halving down the gap between ray and surface', () => {
  it.each(CASES)('%s, %s: random rays from nearby', (shape, outline) => {
    const random = seedrandom.alea(`${shape}/${outline}`);
    const facet = placedFacet({
      shape: SHAPES[shape],
      outline: OUTLINES[outline],
      frame: randomFrame(random, [1.2, -0.7, 0.9]),
    });
    const found = compareFacet(facet, 180, () => rayPast(random, facet, 3 * random()));
    expect(found.disagreements).toBe(0);
    expect(found.hits).toBeGreaterThan(12);
    expect(found.misses).toBeGreaterThan(12);
    expect(found.worst).toBeLessThan(1e-9);
  });

  it.each(CASES)('%s, %s: rays from 1 km away, on a facet 1.4 km from the origin', (shape, outline) => {
    const random = seedrandom.alea(`far ${shape}/${outline}`);
    const facet = placedFacet({
      shape: SHAPES[shape],
      outline: OUTLINES[outline],
      frame: randomFrame(random, [1000, -1000, 50]),
    });
    const found = compareFacet(facet, 70, () => rayPast(random, facet, 1000));
    expect(found.disagreements).toBe(0);
    expect(found.hits).toBeGreaterThan(5);
    expect(found.worst).toBeLessThan(FAR);
  });

  it.each(CASES)('%s, %s: rays that start on the surface do not meet it there', (shape, outline) => {
    const random = seedrandom.alea(`on ${shape}/${outline}`);
    const facet = placedFacet({
      shape: SHAPES[shape],
      outline: OUTLINES[outline],
      frame: randomFrame(random, [3, 2, 1]),
    });
    const found = compareFacet(facet, 110, () => {
      for (;;) {
        const x = 1.2 * (random() - 0.5);
        const y = 1.2 * (random() - 0.5);
        if (!insideByDefinition(facet.outline, x, y)) continue;
        const origin = world(facet, x, y, heightByDefinition(facet.shape, x, y));
        return { origin, direction: randomDirection(random) };
      }
    });
    expect(found.disagreements).toBe(0);
    expect(found.misses).toBeGreaterThan(12);
    expect(found.worst).toBeLessThan(1e-9);
  });

  it.each(Object.keys(SHAPES))('%s: rays exactly along the axes of the frame', (shape) => {
    const facet = placedFacet({ shape: SHAPES[shape], outline: OUTLINES['round with a hole'] });
    const random = seedrandom.alea(`axes ${shape}`);
    const found = compareFacet(facet, 120, (k) => {
      const direction: [number, number, number] = [0, 0, 0];
      const axis = k % 3;
      direction[axis] = k % 2 === 0 ? 1 : -1;
      const through = [1.1 * (random() - 0.5), 1.1 * (random() - 0.5), 0.02 + 0.3 * random()] as const;
      return { origin: plus(through, direction, -2), direction };
    });
    expect(found.disagreements).toBe(0);
    expect(found.hits).toBeGreaterThan(5);
    expect(found.worst).toBeLessThan(1e-9);
  });

  it('a ray in the plane of a flat mirror, and one along the axis of a parabola, give no false hit', () => {
    const flat = queryOf(prepareField({ facets: [placedFacet()] }));
    const facet = (view: typeof flat.view, scratch: typeof flat.scratch) => hitFacet(view, scratch, 0);
    expect(flat.ask([-2, 0, 0], [1, 0, 0], facet)).toBeNull();
    expect(flat.ask([0, 0, 0], [0, 1, 0], facet)).toBeNull();
    const bent = queryOf(prepareField({ facets: [placedFacet({ shape: SHAPES['bent parabola'] })] }));
    expect(bent.ask([0, 0, 0], [0, 1, 0], facet)).toBeNull();
    expect(bent.ask([0, 0, 0], [0, 0, 1], facet)).toBeNull();
    expect(bent.ask([0.2, 0, -1], [0, 0, 1], facet)).toBeCloseTo(1 + 0.04 / 1.6, 14);
  });

  it('a toroid is met at the same place, to the last bit, whatever lies behind it', () => {
    const random = seedrandom.alea('limit');
    const facet = placedFacet({ shape: SHAPES.toroid, frame: randomFrame(random, [1, 1, 1]) });
    const { ask } = queryOf(prepareField({ facets: [facet] }));
    let hits = 0;
    for (let k = 0; k < 400; k++) {
      const { origin, direction } = rayPast(random, facet, 2);
      const meetBefore = (limit: number) =>
        ask(origin, direction, (view, scratch) => {
          scratch.ray[RAY_T] = limit;
          return hitFacet(view, scratch, 0);
        });
      const free = meetBefore(Number.POSITIVE_INFINITY);
      if (free === null) continue;
      hits++;
      for (const behind of [1e-9, 1e-3, 0.1]) expect(meetBefore(free + behind)).toBe(free);
      expect(meetBefore(free)).toBeNull();
    }
    expect(hits).toBeGreaterThan(80);
  });

  it('the same through the hierarchy: nearest of many', () => {
    const random = seedrandom.alea('many');
    const facets = CASES.map(([shape, outline]) =>
      placedFacet({
        shape: SHAPES[shape],
        outline: OUTLINES[outline],
        frame: randomFrame(random, [3 * random(), 3 * random(), 2 * random()]),
      }),
    );
    const { ask } = queryOf(prepareField({ facets, receivers: [placedReceiver({}, levelAt([0, 0, 900]))] }));
    let hits = 0;
    for (let k = 0; k < 120; k++) {
      const { origin, direction } = rayPast(random, facets[k % facets.length], 4 * random());
      let slow = Number.POSITIVE_INFINITY;
      let which = -1;
      facets.forEach((facet, i) => {
        const t = slowFacetHit(facet, origin, direction, RAY_START);
        if (t !== null && t < slow) {
          slow = t;
          which = i;
        }
      });
      let found = -1;
      const fast = ask(origin, direction, (view, scratch) => {
        found = nearestHit(view, scratch);
        return found >= 0;
      });
      expect(found).toBe(which);
      if (which >= 0) {
        hits++;
        expect(Math.abs(fast! - slow)).toBeLessThan(1e-9);
      }
    }
    expect(hits).toBeGreaterThan(60);
  });

  it('sabotage: a curvature 1e-6 off shows', () => {
    const random = seedrandom.alea('sabotage');
    const facet = placedFacet({ shape: SHAPES['deep paraboloid'], outline: OUTLINES.round });
    const other = placedFacet({
      shape: { kind: 'paraboloid', focalLength: 0.15 * (1 + 1e-6) },
      outline: OUTLINES.round,
    });
    const { ask } = queryOf(prepareField({ facets: [other] }));
    let worst = 0;
    for (let k = 0; k < 100; k++) {
      const { origin, direction } = rayPast(random, facet, 2);
      const slow = slowFacetHit(facet, origin, direction, RAY_START);
      const fast = ask(origin, direction, (view, scratch) => hitFacet(view, scratch, 0));
      if (slow !== null && fast !== null) worst = Math.max(worst, Math.abs(slow - fast));
    }
    expect(worst).toBeGreaterThan(1e-8);
  });
});

/** Rays from outside, from inside, from 1 km off, and exactly along the axes of a level frame. */
function solidRay(random: Random, k: number, centre: Vec3, size: number): { origin: Vec3; direction: Vec3 } {
  const target = plus(centre, randomDirection(random), 0.7 * size * random());
  const direction: Vec3 =
    k % 4 === 3
      ? ([0, 1, 2].map((axis) => (axis === k % 3 ? (k % 8 < 4 ? 1 : -1) : 0)) as unknown as Vec3)
      : randomDirection(random);
  const distance = k % 4 === 0 ? 0.1 * size * random() : k % 4 === 1 ? 1000 : 5 * random();
  return { origin: plus(target, direction, -distance), direction };
}

describe('tubes, posts, boxes and plates', () => {
  it('a tube: place on the skin, side or end, from outside and from inside', () => {
    const random = seedrandom.alea('tube');
    const [radius, half] = [0.2, 0.5];
    const solid = cylinderSolid(0, radius, half);
    for (const level of [true, false]) {
      const centre: Vec3 = [0.4, -0.3, 2];
      const frame = level ? levelAt(centre) : randomFrame(random, centre);
      const receiver = placedReceiver(tubeDesign(2 * radius, 2 * half), frame);
      const { ask, scratch } = queryOf(prepareField({ facets: [placedFacet()], receivers: [receiver] }));
      const seen = { side: 0, end: 0, inside: 0, miss: 0 };
      for (let k = 0; k < 240; k++) {
        const { origin, direction } = solidRay(random, k, centre, 0.6);
        const slow = slowSolidHit(solid, 0.7, frame, origin, direction, RAY_START);
        const fast = ask(origin, direction, (view, s) => hitReceiver(view, s, 0));
        expect(fast === null).toBe(slow === null);
        if (slow === null || fast === null) {
          seen.miss++;
          continue;
        }
        expect(Math.abs(fast - slow.t)).toBeLessThan(slow.t > 100 ? FAR : 1e-9);
        expect(scratch.front).toBe(slow.entering && slow.part === 0 ? 1 : 0);
        seen[!slow.entering ? 'inside' : slow.part === 0 ? 'side' : 'end']++;
        if (slow.part !== 0) continue;
        const there = slow.t > 100 ? FAR : 1e-9;
        expect(Math.abs(scratch.ray[RAY_U] - slow.at[0])).toBeLessThan(there);
        expect(Math.abs(scratch.ray[RAY_V] - radius * Math.atan2(slow.at[2], slow.at[1]))).toBeLessThan(
          there,
        );
      }
      for (const count of Object.values(seen)) expect(count).toBeGreaterThan(5);
    }
  });

  const blockers: [string, Solid, (frame: PlacedBlocker['frame']) => PlacedBlocker, number][] = [
    [
      'cylinder',
      cylinderSolid(2, 0.15, 0.4),
      (frame) => ({ kind: 'cylinder', name: 'post', frame, radius: 0.15, length: 0.8, bodyOf: 0 }),
      2,
    ],
    [
      'box',
      boxSolid([0.3, 0.2, 0.15]),
      (frame) => ({ kind: 'box', name: 'box', frame, size: [0.6, 0.4, 0.3], bodyOf: 0 }),
      5,
    ],
  ];
  it.each(blockers)(
    'a %s: place and front face, from outside and from inside',
    (name, solid, place, frontPart) => {
      const random = seedrandom.alea(name);
      for (const level of [true, false]) {
        const centre: Vec3 = [-0.4, 0.3, 1];
        const frame = level ? levelAt(centre) : randomFrame(random, centre);
        const { ask, scratch } = queryOf(prepareField({ facets: [placedFacet()], blockers: [place(frame)] }));
        const seen = { front: 0, other: 0, inside: 0, miss: 0 };
        for (let k = 0; k < 240; k++) {
          const { origin, direction } = solidRay(random, k, centre, 0.5);
          const slow = slowSolidHit(solid, 0.6, frame, origin, direction, RAY_START);
          const fast = ask(origin, direction, (view, s) => hitBlocker(view, s, 0));
          expect(fast === null).toBe(slow === null);
          if (slow === null || fast === null) {
            seen.miss++;
            continue;
          }
          expect(Math.abs(fast - slow.t)).toBeLessThan(slow.t > 100 ? FAR : 1e-9);
          const front = slow.entering && slow.part === frontPart;
          expect(scratch.front).toBe(front ? 1 : 0);
          seen[!slow.entering ? 'inside' : front ? 'front' : 'other']++;
        }
        for (const count of Object.values(seen)) expect(count).toBeGreaterThan(5);
      }
    },
  );

  it('a plate: stops light from both sides, notes a window crossing from the front only', () => {
    const frame = levelAt([0, 0, 1]);
    const { ask, scratch } = queryOf(
      prepareField({ facets: [placedFacet()], receivers: [placedReceiver({}, frame)] }),
    );
    const plate = (from: Vec3, direction: Vec3) => ask(from, direction, (view, s) => hitReceiver(view, s, 0));
    expect(plate([0.05, -0.03, 3], [0, 0, -1])).toBe(2);
    expect([scratch.front, scratch.ray[RAY_U], scratch.ray[RAY_V]]).toEqual([1, 0.05, -0.03]);
    expect(plate([0.05, 0, -1], [0, 0, 1])).toBe(2);
    expect(scratch.front).toBe(0);
    // Beside the plate, inside the window.
    expect(plate([0.15, 0.1, 3], [0, 0, -1])).toBeNull();
    expect(scratch.crossings).toBe(1);
    expect([scratch.crossingT[0], scratch.crossingU[0], scratch.crossingV[0]]).toEqual([2, 0.15, 0.1]);
    expect(plate([0.15, 0.1, -1], [0, 0, 1])).toBeNull();
    expect(scratch.crossings).toBe(0);
    // In the plane, and pointing away from it.
    expect(plate([-3, 0, 1], [1, 0, 0])).toBeNull();
    expect(plate([0, 0, 3], [0, 0, 1])).toBeNull();
    expect(scratch.crossings).toBe(0);
  });
});
