import seedrandom from 'seedrandom';
import { describe, expect, it } from 'vitest';
import { layOut } from '../../src/field/layout.js';
import type { PlacedFacet } from '../../src/field/types.js';
import { FACET_INTS, FI_SHADE_COUNT, viewPrepared } from '../../src/kernel/layout.js';
import { CURVE_BINS, FATES, Fate, SPOT_BINS } from '../../src/kernel/tally.js';
import { type PreparedScene, prepareScene } from '../../src/prepare.js';
import type { ReceiverDesign, Scene, Vec3 } from '../../src/scene/types.js';
import { momentOf } from '../../src/sun/direction.js';
import { evenLog2, tallyOfBatch } from '../support/batch.js';
import { raysInBatch } from '../support/paths.js';
import {
  frameAlong,
  levelAt,
  placedFacet,
  placedReceiver,
  prepareField,
  randomDirection,
  randomFrame,
  tubeDesign,
} from '../support/placed.js';
import { randomRow } from '../support/random-scenes.js';
import {
  absorbedOf,
  curveAtAperture,
  incidentOf,
  momentsOfMap,
  sumOf,
  wattsOf,
} from '../support/readings.js';
import { PERFECT_FILM, sevenStripDish, textbookTrough } from '../support/scenes.js';
import { heightByDefinition, insideByDefinition } from '../support/slow-hits.js';

const SCENES = Array.from({ length: 30 }, (_, i) => `ledger-${i}`);

function prepared(scene: Scene): PreparedScene {
  return prepareScene(scene, layOut(scene), momentOf(scene));
}

/** Relative gap between the sunlight on the mirrors of a group and everything booked after it. */
function openness(scene: PreparedScene, tally: Float64Array, group: number): number {
  let booked = absorbedOf(scene, tally, group);
  for (let fate = 0; fate < FATES; fate++) booked += wattsOf(scene, tally, fate, group);
  const incident = incidentOf(scene, tally, group);
  return incident > 0 ? Math.abs(booked / incident - 1) : booked;
}

describe('ledger of random scenes', () => {
  it.each(SCENES)('%s: rays add up exactly, watts to 1e-12', (seed) => {
    const scene = prepared(randomRow(seed));
    const log2Rays = evenLog2(scene, 6);
    const tally = tallyOfBatch(scene, log2Rays, seed);
    const { layout } = scene;
    expect(sumOf(tally, layout.counts, layout.groups * FATES)).toBe(raysInBatch(log2Rays));
    let strayRays = 0;
    let strayWatts = 0;
    for (let group = 0; group < layout.groups; group++) {
      strayRays += tally[layout.counts + group * FATES + Fate.InterceptedElsewhere];
      strayWatts += wattsOf(scene, tally, Fate.InterceptedElsewhere, group);
    }
    expect(sumOf(tally, layout.strayRays, layout.groups)).toBe(strayRays);
    expect(Math.abs(sumOf(tally, layout.strayWatts, layout.groups) - strayWatts)).toBeLessThanOrEqual(
      1e-12 * strayWatts,
    );
    for (let group = 0; group < layout.groups; group++) {
      expect(openness(scene, tally, group)).toBeLessThan(1e-12);
      const unlit = wattsOf(scene, tally, Fate.Unlit, group);
      expect(unlit).toBe(0);
      // What its own aperture caught is in the curve up to that aperture, and in no other bin.
      const caught = wattsOf(scene, tally, Fate.Intercepted, group);
      const curve = curveAtAperture(scene, tally, group);
      expect(Math.abs(curve - caught)).toBeLessThanOrEqual(1e-12 * caught);
    }
  });

  it('sabotage: a millionth of one ray not booked is seen', () => {
    const scene = prepared(randomRow(SCENES[0]));
    const tally = tallyOfBatch(scene, evenLog2(scene, 6), SCENES[0]);
    const group = 0;
    const ray = incidentOf(scene, tally, group) / 1e3;
    tally[scene.layout.absorbed + group] -= 1e-6 * ray;
    expect(openness(scene, tally, group)).toBeGreaterThan(1e-12);
  });
});

/**
 * Integral of max(0, N.s) over a facet's outline by the midpoint rule, N from central differences of the height as
 * defined. `squash` spoils it on purpose: N is made a unit vector.
 */
function litArea(facet: PlacedFacet, sun: Vec3, squash = false): number {
  const { frame, shape, outline } = facet;
  const s = [frame.x, frame.y, frame.z].map((axis) => axis[0] * sun[0] + axis[1] * sun[1] + axis[2] * sun[2]);
  const steps = 240;
  const [cx, cy, lx, ly] =
    outline.kind === 'rectangle'
      ? [outline.centre[0], outline.centre[1], outline.length, outline.width]
      : [0, 0, outline.diameter, outline.diameter];
  const delta = 1e-5;
  let sum = 0;
  for (let i = 0; i < steps; i++) {
    for (let j = 0; j < steps; j++) {
      const x = cx + lx * ((i + 0.5) / steps - 0.5);
      const y = cy + ly * ((j + 0.5) / steps - 0.5);
      if (!insideByDefinition(outline, x, y)) continue;
      const h = (a: number, b: number) => heightByDefinition(shape, a, b);
      const hx = (h(x + delta, y) - h(x - delta, y)) / (2 * delta);
      const hy = (h(x, y + delta) - h(x, y - delta)) / (2 * delta);
      const facing = s[2] - hx * s[0] - hy * s[1];
      sum += Math.max(0, facing) / (squash ? Math.sqrt(1 + hx * hx + hy * hy) : 1);
    }
  }
  return (sum * lx * ly) / steps ** 2;
}

const MIRRORS: [string, Partial<PlacedFacet>, Vec3][] = [
  ['flat, slanting sun', {}, [0.5, 0.3, 0.8]],
  [
    'flat, off-centre',
    { outline: { kind: 'rectangle', length: 0.4, width: 1.3, centre: [2, -1] } },
    [0.5, 0.3, 0.8],
  ],
  ['bent circle', { shape: { kind: 'bent', curve: 'circle', focalLength: 0.4 } }, [0.2, 0.5, 0.8]],
  [
    'off-centre parabola, partly turned away',
    {
      shape: { kind: 'bent', curve: 'parabola', focalLength: 0.2 },
      outline: { kind: 'rectangle', length: 1, width: 0.5, centre: [0.3, 0.2] },
    },
    [0.9, 0.1, 0.6],
  ],
  [
    'deep paraboloid with a hole, rim 118 degrees, low sun',
    {
      shape: { kind: 'paraboloid', focalLength: 0.15 },
      outline: { kind: 'round', diameter: 1, holeDiameter: 0.3 },
    },
    [0.7, -0.4, 0.5],
  ],
  [
    'toroid, partly turned away',
    {
      shape: { kind: 'toroid', radiusAlong: 0.7, radiusAcross: 0.9 },
      outline: { kind: 'rectangle', length: 0.9, width: 0.8, centre: [0, 0.1] },
    },
    [0.2, 0.9, 0.3],
  ],
  [
    'sun behind the vertex, rim still lit',
    {
      shape: { kind: 'paraboloid', focalLength: 0.2 },
      outline: { kind: 'round', diameter: 0.9, holeDiameter: 0 },
    },
    [0.9, 0, -0.2],
  ],
];

// Enough for an error below 1e-3 where the sun grazes a rim, whatever the seed.
const LIT_BATCHES = 12;

/** Mean sunlight over batches, over the closed value, and its standard error. */
function litRatio(
  changes: Partial<PlacedFacet>,
  sun: Vec3,
  squash: boolean,
): { ratio: number; error: number } {
  const scene = prepareField({
    facets: [placedFacet(changes)],
    sun,
    sunshape: { kind: 'disc', halfAngle: 4.65e-3 },
    receivers: [placedReceiver({}, levelAt([0, 0, 90]))],
  });
  const log2Rays = evenLog2(scene, 11);
  const expected = 1000 * litArea(scene.field.facets[0], scene.moment.sunDirection, squash);
  const ratios = Array.from(
    { length: LIT_BATCHES },
    (_, batch) => incidentOf(scene, tallyOfBatch(scene, log2Rays, 'lit', batch)) / expected,
  );
  const ratio = ratios.reduce((sum, value) => sum + value, 0) / LIT_BATCHES;
  const variance = ratios.reduce((sum, value) => sum + (value - ratio) ** 2, 0) / (LIT_BATCHES - 1);
  return { ratio, error: Math.sqrt(variance / LIT_BATCHES) };
}

// The midpoint rule on 240 x 240 squares follows a round edge, or the line where a mirror turns away, to a few 1e-4.
const QUADRATURE = 6e-4;

describe('sunlight on the mirrors', () => {
  it.each(MIRRORS)('%s: as an integral of n.s over the surface', (_name, changes, sun) => {
    const { ratio, error } = litRatio(changes, sun, false);
    expect(Math.abs(ratio - 1)).toBeLessThan(4 * error + QUADRATURE);
    expect(error).toBeLessThan(1e-3);
  });

  it.each(MIRRORS.filter(([name]) => !name.startsWith('flat')))(
    'sabotage: %s without the surface element is seen',
    (_name, changes, sun) => {
      const { ratio, error } = litRatio(changes, sun, true);
      expect(Math.abs(ratio - 1)).toBeGreaterThan(4 * error + QUADRATURE);
    },
  );

  it('a flat mirror that faces a point sun takes and sends exactly beam x area x reflectance', () => {
    const scene = prepareField({
      facets: [placedFacet({ outline: { kind: 'rectangle', length: 0.125, width: 0.5, centre: [0, 0] } })],
      films: [{ ...PERFECT_FILM, reflectance: { incidence: [0], value: [0.75] } }],
      receivers: [
        placedReceiver({
          aperture: { shape: 'rectangle', width: 1, height: 1 },
          window: { width: 1, height: 1 },
          cells: [4, 4],
        }),
      ],
      dni: 800,
    });
    // The plate stands in the sun's way.
    const shaded = tallyOfBatch(scene, evenLog2(scene, 6), 'exact');
    expect(incidentOf(scene, shaded)).toBe(800 * 0.125 * 0.5);
    expect(wattsOf(scene, shaded, Fate.Shaded)).toBe(800 * 0.125 * 0.5);

    const free = prepareField({
      facets: scene.field.facets,
      films: scene.scene.films,
      receivers: [placedReceiver({}, levelAt([0, 0, -2]))],
      dni: 800,
    });
    const tally = tallyOfBatch(free, evenLog2(free, 6), 'exact');
    expect(incidentOf(free, tally)).toBe(800 * 0.125 * 0.5);
    expect(wattsOf(free, tally, Fate.SpilledToSky)).toBe(800 * 0.125 * 0.5 * 0.75);
    expect(absorbedOf(free, tally)).toBe(800 * 0.125 * 0.5 * 0.25);
  });
});

/** One dish, one receiver without a body, nothing else about. */
function lonelyDish(receiver: Partial<ReceiverDesign>): { scene: PreparedScene; tally: Float64Array } {
  const scene = prepared(
    sevenStripDish({ receiver, film: { slopeErrorAlong: 0.012, slopeErrorAcross: 0.012 } }),
  );
  return { scene, tally: tallyOfBatch(scene, evenLog2(scene, 10), 'map') };
}

/** Watts in map cells wholly inside, and in all cells that reach inside, of an aperture given by its corner test. */
function insideSums(
  { scene, tally }: { scene: PreparedScene; tally: Float64Array },
  inside: (u: number, v: number) => boolean,
): { least: number; most: number } {
  const { map, nu, nv } = scene.layout.receivers[0];
  const { width, height } = scene.field.receivers[0].design.window;
  let least = 0;
  let most = 0;
  for (let iv = 0; iv < nv; iv++) {
    for (let iu = 0; iu < nu; iu++) {
      const us = [iu, iu + 1].map((k) => (k / nu - 0.5) * width);
      const vs = [iv, iv + 1].map((k) => (k / nv - 0.5) * height);
      const corners = us.flatMap((u) => vs.map((v) => inside(u, v)));
      // A cell's point nearest to the centre decides whether any of it can lie inside a convex, centred aperture.
      const nearest = (edges: number[]) => (edges[0] * edges[1] < 0 ? 0 : Math.min(...edges.map(Math.abs)));
      const power = tally[map + iv * nu + iu];
      if (corners.every(Boolean)) least += power;
      if (inside(nearest(us), nearest(vs))) most += power;
    }
  }
  return { least, most };
}

describe('flux map', () => {
  it('a rectangle along cell edges: the map inside it is the light intercepted', () => {
    const traced = lonelyDish({
      aperture: { shape: 'rectangle', width: 0.2, height: 0.1 },
      window: { width: 0.4, height: 0.4 },
      cells: [40, 80],
    });
    // Cell edges are where the aperture ends, but for rounding.
    const { least } = insideSums(traced, (u, v) => Math.abs(u) <= 0.1 + 1e-9 && Math.abs(v) <= 0.05 + 1e-9);
    const caught = wattsOf(traced.scene, traced.tally, Fate.Intercepted);
    expect(least / caught).toBeCloseTo(1, 12);
    expect(caught).toBeGreaterThan(100);
  });

  it('a round opening: the light intercepted lies between the cells inside and the cells that reach in', () => {
    const traced = lonelyDish({});
    const { least, most } = insideSums(traced, (u, v) => Math.hypot(u, v) <= 0.09);
    const caught = wattsOf(traced.scene, traced.tally, Fate.Intercepted);
    expect(least).toBeLessThan(caught);
    expect(most).toBeGreaterThan(caught);
    expect(most - least).toBeLessThan(0.25 * caught);
  });

  it('sabotage: a rectangle one cell wider holds more than the light intercepted', () => {
    const traced = lonelyDish({
      aperture: { shape: 'rectangle', width: 0.2, height: 0.1 },
      window: { width: 0.4, height: 0.4 },
      cells: [40, 80],
    });
    const { least } = insideSums(traced, (u, v) => Math.abs(u) <= 0.11 + 1e-9 && Math.abs(v) <= 0.05 + 1e-9);
    expect(least / wattsOf(traced.scene, traced.tally, Fate.Intercepted)).toBeGreaterThan(1 + 1e-3);
  });

  it('moments are those of the map, to the width of a cell', () => {
    const { scene, tally } = lonelyDish({});
    const { moments, map, nu, nv } = scene.layout.receivers[0];
    const total = sumOf(tally, map, nu * nv);
    expect(tally[moments] / total).toBeCloseTo(1, 12);
    const byCells = momentsOfMap(scene, tally, 0);
    // A ray lies up to half a cell from the middle of its own, evenly to both sides: far less in the mean of 7 x 2^10 rays.
    expect(Math.abs(tally[moments + 1] / total - byCells.meanU)).toBeLessThan(0.01 / 20);
    expect(Math.abs(tally[moments + 2] / total - byCells.meanV)).toBeLessThan(0.01 / 20);
  });

  it('all light that passes the window is in the map once, and all light that passes the plane in the curve', () => {
    const { scene, tally } = lonelyDish({});
    const { curve, spot, map, nu, nv } = scene.layout.receivers[0];
    const caught = wattsOf(scene, tally, Fate.Intercepted);
    const passed = caught + wattsOf(scene, tally, Fate.SpilledToSky);
    expect(sumOf(tally, curve, CURVE_BINS + 1) / passed).toBeCloseTo(1, 12);
    expect(sumOf(tally, spot, SPOT_BINS + 1) / passed).toBeCloseTo(1, 12);
    expect(curveAtAperture(scene, tally, 0) / caught).toBeCloseTo(1, 12);
    const mapped = sumOf(tally, map, nu * nv);
    expect(mapped).toBeGreaterThan(caught);
    expect(mapped).toBeLessThanOrEqual(passed * (1 + 1e-12));
    // The disc through the window's corners holds it, the disc that just fits in is held by it.
    const within = (scale: number) => sumOf(tally, curve, Math.floor(scale ** 2 * (CURVE_BINS / 16)));
    expect(mapped).toBeGreaterThanOrEqual(within(0.2 / 0.09) * (1 - 1e-12));
    expect(mapped).toBeLessThanOrEqual(
      sumOf(tally, curve, Math.ceil(((0.2 * Math.SQRT2) ** 2 / 0.09 ** 2) * 64)) * (1 + 1e-12),
    );
  });

  it('a tube: map, moments and curve at the tube are the light intercepted', () => {
    const scene = prepared(textbookTrough({}, { film: { slopeErrorAlong: 0.006, slopeErrorAcross: 0.006 } }));
    const tally = tallyOfBatch(scene, evenLog2(scene, 11), 'tube');
    const { map, nu, nv, moments } = scene.layout.receivers[0];
    const caught = wattsOf(scene, tally, Fate.Intercepted);
    expect(wattsOf(scene, tally, Fate.SpilledToSky)).toBeGreaterThan(0.01 * caught);
    expect(sumOf(tally, map, nu * nv) / caught).toBeCloseTo(1, 12);
    expect(tally[moments] / caught).toBeCloseTo(1, 12);
    expect(curveAtAperture(scene, tally, 0) / caught).toBeCloseTo(1, 12);
  });
});

function shadeCount(scene: PreparedScene, facet: number): number {
  return viewPrepared(scene.buffer).facetInts[facet * FACET_INTS + FI_SHADE_COUNT];
}

describe('what the short ways must heed', () => {
  it('an aperture below the ground gets no light through it', () => {
    // A mirror turned over would face away from the sun: tilt it so that the light goes down to the east.
    const normal: Vec3 = [Math.sin(1.2), 0, Math.cos(1.2)];
    const facet = placedFacet({
      outline: { kind: 'rectangle', length: 0.1, width: 0.1, centre: [0, 0] },
      frame: { origin: [0, 0, 3], x: [0, 1, 0], y: [-normal[2], 0, normal[0]], z: normal },
    });
    const reflected: Vec3 = [Math.sin(2.4), 0, Math.cos(2.4)];
    const landing: Vec3 = [(-3 / reflected[2]) * reflected[0], 0, 0];
    const plate = (height: number) =>
      placedReceiver(
        { aperture: { shape: 'rectangle', width: 1, height: 1 }, window: { width: 1, height: 1 } },
        levelAt([landing[0], 0, height]),
      );
    const fateOf = (height: number) => {
      const scene = prepareField({ facets: [facet], receivers: [plate(height)], ground: 0 });
      const tally = tallyOfBatch(scene, evenLog2(scene, 4), 'ground');
      return [Fate.Intercepted, Fate.SpilledOnGround].map((fate) => tally[scene.layout.counts + fate]);
    };
    expect(fateOf(0.05)).toEqual([16, 0]);
    expect(fateOf(-0.05)).toEqual([0, 16]);
  });

  it('the list of shaders reaches to the corners of the polygon that the turn of sunlight is drawn on', () => {
    const halfAngle = 4.65e-3;
    const height = 100;
    const shadersWithEdgeAt = (share: number) => {
      // A flat mirror overhead that begins at about the outermost sunlight of a mirror 1 m wide, seen to the east.
      const edge = 0.5 + Math.tan(halfAngle) * (1 + share) * height;
      const scene = prepareField({
        facets: [placedFacet(), placedFacet({ frame: levelAt([edge + 0.5, 0, height]) })],
        receivers: [placedReceiver({}, levelAt([50, 50, 0]))],
        sunshape: { kind: 'disc', halfAngle },
      });
      return shadeCount(scene, 0);
    };
    expect(shadersWithEdgeAt(-1e-5)).toBe(1);
    expect(shadersWithEdgeAt(4e-5)).toBe(1);
    expect(shadersWithEdgeAt(1e-3)).toBe(0);
  });

  const shapes: PlacedFacet['shape'][] = [
    { kind: 'flat' },
    { kind: 'bent', curve: 'parabola', focalLength: 0.2 },
    { kind: 'bent', curve: 'circle', focalLength: 0.3 },
    { kind: 'paraboloid', focalLength: 0.12 },
    { kind: 'toroid', radiusAlong: 0.55, radiusAcross: 0.7 },
    { kind: 'toroid', radiusAlong: 0.5, radiusAcross: 0.5 },
  ];
  const outlines: PlacedFacet['outline'][] = [
    { kind: 'rectangle', length: 0.7, width: 0.4, centre: [0, 0] },
    { kind: 'rectangle', length: 0.3, width: 0.3, centre: [0.2, -0.2] },
    { kind: 'round', diameter: 0.9, holeDiameter: 0.2 },
  ];

  /** Deep mirrors, tubes, plates and line plates at random, so close that most things stand in each other's way. */
  function crowd(seed: string, acceleration: 'lists' | 'none'): PreparedScene {
    const random = seedrandom.alea(seed);
    const somewhere = (height: number): Vec3 => [3 * random() - 1.5, 3 * random() - 1.5, height * random()];
    const receivers = [
      placedReceiver(tubeDesign(0.3, 2), randomFrame(random, somewhere(2))),
      placedReceiver({}, randomFrame(random, somewhere(2))),
      placedReceiver(
        {
          kind: 'line_plate',
          aperture: { shape: 'rectangle', width: 2, height: 0.3 },
          window: { width: 2.4, height: 0.9 },
        },
        randomFrame(random, somewhere(2)),
      ),
    ];
    const facets = Array.from({ length: 10 }, (_, i) => {
      const sphere = i % shapes.length === 5;
      // Mostly turned upwards, so that many are lit.
      const [x, y, z] = randomDirection(random);
      return placedFacet({
        shape: shapes[i % shapes.length],
        outline: outlines[sphere ? 2 : i % outlines.length],
        frame: frameAlong(somewhere(1.5), [x, y, Math.abs(z) - 0.2], randomDirection(random)),
        receiver: i % receivers.length,
      });
    });
    const [x, y, z] = randomDirection(random);
    return prepareField(
      {
        facets,
        receivers,
        ground: 0.3,
        sun: [x, y, Math.abs(z)],
        sunshape: { kind: 'table', angle: [0, 0.05, 0.1], radiance: [1, 1, 0.5] },
        films: [{ ...PERFECT_FILM, slopeErrorAlong: 0.1, slopeErrorAcross: 0.1 }],
      },
      { acceleration },
    );
  }

  it.each(Array.from({ length: 24 }, (_, i) => `crowd-${i}`))(
    '%s: lists give the same tally, bit for bit, as trying everything',
    (seed) => {
      const [fast, slow] = [crowd(seed, 'lists'), crowd(seed, 'none')];
      const log2Rays = evenLog2(fast, 7);
      const quick = tallyOfBatch(fast, log2Rays, seed);
      expect(quick).toEqual(tallyOfBatch(slow, log2Rays, seed));
      for (let group = 0; group < 3; group++) {
        expect(openness(fast, quick, group)).toBeLessThan(1e-12);
        const caught = wattsOf(fast, quick, Fate.Intercepted, group);
        expect(Math.abs(curveAtAperture(fast, quick, group) - caught)).toBeLessThanOrEqual(1e-12 * caught);
      }
    },
  );
});
