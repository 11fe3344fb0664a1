import { describe, expect, it } from 'vitest';
import { layOut } from '../../src/field/layout.js';
import {
  BLOCKER_INTS,
  BLOCKER_REALS,
  F_CENTRE_X,
  F_CENTRE_Y,
  F_CURVE_A,
  F_CURVE_B,
  F_HALF_X,
  F_HALF_Y,
  F_OUTLINE_AREA,
  F_Z_HIGH,
  F_Z_LOW,
  FACET_INTS,
  FACET_REALS,
  FacetKind,
  FI_BLOCK_COUNT,
  FI_BLOCK_START,
  FI_HOME,
  FI_KIND,
  FI_OUTLINE,
  FI_SHADE_COUNT,
  FI_SHADE_START,
  FILM_REALS,
  FRAME_X,
  FRAME_Z,
  G_BEAM,
  G_GROUND,
  GLOBAL_REALS,
  NODE_INTS,
  NODE_REALS,
  OutlineKind,
  type PackInput,
  packScene,
  RECEIVER_INTS,
  RECEIVER_REALS,
  viewPrepared,
} from '../../src/kernel/layout.js';
import { prepareScene } from '../../src/prepare.js';
import { momentOf } from '../../src/sun/direction.js';
import { levelAt, placedFacet, prepareField } from '../support/placed.js';
import { sevenStripDish } from '../support/scenes.js';

/** Arrays of lengths that no two share, filled with numbers that no two share. */
function distinctInput(): PackInput {
  let next = 0.25;
  const fill = (length: number, whole = false) =>
    Array.from({ length }, () => {
      next += 1;
      return whole ? Math.floor(next) : next;
    });
  return {
    bounceLimit: 7,
    pointSun: true,
    globals: fill(GLOBAL_REALS),
    facetReals: fill(3 * FACET_REALS),
    filmReals: fill(FILM_REALS),
    receiverReals: fill(2 * RECEIVER_REALS),
    blockerReals: fill(4 * BLOCKER_REALS),
    sunTable: fill(10),
    normalTable: fill(12),
    turnTable: fill(14),
    nodeBounds: fill(5 * NODE_REALS),
    shaderZones: fill(8),
    facetInts: fill(3 * FACET_INTS, true),
    receiverInts: fill(2 * RECEIVER_INTS, true),
    blockerInts: fill(4 * BLOCKER_INTS, true),
    nodeInts: fill(5 * NODE_INTS, true),
    primitives: fill(9, true),
    shaders: fill(1, true),
    obstacles: fill(0, true),
    cells: fill(4, true),
  };
}

describe('packed scene', () => {
  it('gives back every array', () => {
    const input = distinctInput();
    const view = viewPrepared(packScene(input));
    expect([view.facets, view.receivers, view.blockers, view.nodes]).toEqual([3, 2, 4, 5]);
    expect([view.bounceLimit, view.pointSun]).toEqual([7, true]);
    for (const [name, values] of Object.entries(input)) {
      if (typeof values !== 'object') continue;
      expect(Array.from(view[name as keyof typeof view] as ArrayLike<number>), name).toEqual(values);
    }
  });

  it('is one block that views share, without a gap or an overlap', () => {
    const buffer = packScene(distinctInput());
    const [one, two] = [viewPrepared(buffer), viewPrepared(buffer)];
    one.globals[0] = -5;
    expect(two.globals[0]).toBe(-5);
    const arrays = Object.values(one).filter((value) => ArrayBuffer.isView(value));
    const spans = arrays.map((array) => [array.byteOffset, array.byteOffset + array.byteLength]);
    spans.sort((a, b) => a[0] - b[0] || a[1] - b[1]);
    for (let k = 1; k < spans.length; k++) expect(spans[k][0]).toBe(spans[k - 1][1]);
    expect(spans.at(-1)![1]).toBe(buffer.byteLength);
  });

  it('refuses a buffer of another version, or one that holds something else', () => {
    const version = packScene(distinctInput());
    new Int32Array(version)[1] += 1;
    expect(() => viewPrepared(version)).toThrow(RangeError);
    const magic = packScene(distinctInput());
    new Int32Array(magic)[0] = 0;
    expect(() => viewPrepared(magic)).toThrow(/does not hold a prepared scene/);
    expect(() => viewPrepared(new SharedArrayBuffer(256))).toThrow(RangeError);
  });

  it('the same scene gives the same bytes', () => {
    const bytes = () => {
      const scene = sevenStripDish({ row: { dishes: 2 } });
      return Buffer.from(new Uint8Array(prepareScene(scene, layOut(scene), momentOf(scene)).buffer));
    };
    expect(bytes().equals(bytes())).toBe(true);
  });
});

describe('what is packed', () => {
  const facets = [
    placedFacet(),
    placedFacet({ shape: { kind: 'bent', curve: 'parabola', focalLength: 2 } }),
    placedFacet({ shape: { kind: 'bent', curve: 'circle', focalLength: 2 } }),
    placedFacet({
      shape: { kind: 'paraboloid', focalLength: 0.5 },
      outline: { kind: 'round', diameter: 1.2, holeDiameter: 0.4 },
    }),
    placedFacet({
      shape: { kind: 'toroid', radiusAlong: 3, radiusAcross: 4 },
      outline: { kind: 'rectangle', length: 0.6, width: 0.2, centre: [0.5, -0.3] },
    }),
  ].map((facet, i) => ({ ...facet, frame: levelAt([2 * i, 0, 0]) }));
  const scene = prepareField({ facets, dni: 900, ground: -1 });
  const view = viewPrepared(scene.buffer);
  const real = (facet: number, offset: number) => view.facetReals[facet * FACET_REALS + offset];
  const whole = (facet: number, offset: number) => view.facetInts[facet * FACET_INTS + offset];

  it('shapes and outlines', () => {
    expect(facets.map((_, i) => whole(i, FI_KIND))).toEqual([
      FacetKind.Flat,
      FacetKind.BentParabola,
      FacetKind.BentCircle,
      FacetKind.Paraboloid,
      FacetKind.Toroid,
    ]);
    expect(facets.map((_, i) => real(i, F_CURVE_A))).toEqual([0, 1 / 8, 4, 1 / 2, 3]);
    expect(real(4, F_CURVE_B)).toBe(4);
    expect([real(3, F_HALF_X), real(3, F_HALF_Y)]).toEqual([0.6, 0.2]);
    expect(whole(3, FI_OUTLINE)).toBe(OutlineKind.Round);
    expect(real(3, F_OUTLINE_AREA)).toBeCloseTo(Math.PI * (0.36 - 0.04), 14);
    expect([F_HALF_X, F_HALF_Y, F_CENTRE_X, F_CENTRE_Y].map((at) => real(4, at))).toEqual([
      0.3, 0.1, 0.5, -0.3,
    ]);
    expect(real(3, F_Z_LOW)).toBeCloseTo(0.04 / 2, 14);
    expect(real(3, F_Z_HIGH)).toBeCloseTo(0.36 / 2, 14);
    expect([0, 1, 2].map((axis) => real(4, FRAME_X + axis))).toEqual([1, 0, 0]);
    expect([0, 1, 2].map((axis) => real(4, FRAME_Z + axis))).toEqual([0, 0, 1]);
    expect(whole(4, FI_HOME)).toBe(0);
  });

  it('globals', () => {
    // A point sun: the mean cosine of its light is 1.
    expect(view.globals[G_BEAM]).toBe(900);
    expect(view.globals[G_GROUND]).toBe(-1);
    const none = viewPrepared(prepareField({ facets }).buffer);
    expect(none.globals[G_GROUND]).toBe(Number.NEGATIVE_INFINITY);
  });

  it('lists lie inside their arrays; a lonely flat mirror below an empty sky has none', () => {
    facets.forEach((_, i) => {
      expect(whole(i, FI_SHADE_START) + whole(i, FI_SHADE_COUNT)).toBeLessThanOrEqual(view.shaders.length);
      expect(whole(i, FI_BLOCK_START) + whole(i, FI_BLOCK_COUNT)).toBeLessThanOrEqual(view.obstacles.length);
    });
    const alone = viewPrepared(prepareField({ facets: [placedFacet({ frame: levelAt([5, 5, 0]) })] }).buffer);
    expect(alone.shaders.length).toBe(0);
    expect(alone.obstacles.length).toBe(0);
  });
});
