import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { layOut } from '../../src/field/layout.js';
import { BODY_GAP } from '../../src/field/receiver.js';
import type { Field, PlacedBlocker } from '../../src/field/types.js';
import { addScaled } from '../../src/field/vector.js';
import {
  F_SHADOW_HIGH_X,
  F_SHADOW_LOW_X,
  FACET_INTS,
  FACET_REALS,
  FI_BLOCK_COUNT,
  FI_CLEAR,
  FI_SHADE_COUNT,
  FILM_REALS,
  M_REFLECTANCE,
  viewPrepared,
} from '../../src/kernel/layout.js';
import { FATES, Fate } from '../../src/kernel/tally.js';
import { type PreparedScene, prepareScene } from '../../src/prepare.js';
import type { ReceiverDesign, Scene } from '../../src/scene/types.js';
import { withReceiversAt } from '../../src/study/moving.js';
import { withoutMaps } from '../../src/study/optics-table-node.js';
import { momentOf } from '../../src/sun/direction.js';
import { evenLog2, tallyOfBatch } from '../support/batch.js';
import { randomRow } from '../support/random-scenes.js';
import { sevenStripDish } from '../support/scenes.js';
import { sceneOf } from '../support/trace-text.js';

const SCENES = 60;
const LOG2_RAYS = 8;

/** The same row with a wide tube along it in place of each cavity, and the sun where some of its light gets there. */
function withTubes(scene: Scene): Scene {
  return {
    ...scene,
    sun: { ...scene.sun, direction: { kind: 'angles', azimuth: Math.PI, elevation: 1 } },
    dishes: scene.dishes.map((dish) => ({
      ...dish,
      receiver: dish.receiver && {
        ...dish.receiver,
        design: {
          ...dish.receiver.design,
          kind: 'tube',
          aperture: { shape: 'tube', diameter: 0.4, length: 0.9 },
          window: { width: 0.9, height: 0.4 * Math.PI },
          body: null,
        },
      },
    })),
  };
}

/** Within the window of 0.5 m, about as large, and larger. */
const BODIES = [
  { shape: 'round', diameter: 0.26, depth: 0.2 },
  { shape: 'rectangle', width: 0.3, height: 0.24, depth: 0.15 },
  { shape: 'round', diameter: 0.52, depth: 0.2 },
  { shape: 'rectangle', width: 0.8, height: 0.6, depth: 0.1 },
] as const;
const APERTURES = [
  { shape: 'round', diameter: 0.18 },
  { shape: 'rectangle', width: 0.2, height: 0.12 },
] as const;

/** Three dishes with such bodies behind apertures of this shape, rough enough to spill on them. */
function spillingRow(body: ReceiverDesign['body'], aperture: ReceiverDesign['aperture']): Scene {
  const row = sevenStripDish({
    film: { slopeErrorAlong: 0.02, slopeErrorAcross: 0.03 },
    row: { dishes: 3 },
  });
  return {
    ...row,
    dishes: row.dishes.map((dish) => ({
      ...dish,
      receiver: dish.receiver && {
        ...dish.receiver,
        design: { ...dish.receiver.design, body, aperture, window: { width: 0.5, height: 0.5 } },
      },
    })),
  };
}

function preparedBothWays(
  seed: string,
  change: (scene: Scene) => Scene = (scene) => scene,
): { fast: PreparedScene; slow: PreparedScene } {
  const scene = change(randomRow(seed));
  const field = layOut(scene);
  const moment = momentOf(scene);
  return {
    fast: prepareScene(scene, field, moment),
    slow: prepareScene(scene, field, moment, { acceleration: 'none' }),
  };
}

/** Dishes that spill on their receivers' bodies, where a thin plate lies over part of the first, in the gap behind the window. */
function plateInGap(): { scene: Scene; field: Field } {
  const scene = spillingRow(BODIES[0], APERTURES[0]);
  const field = layOut(scene);
  const { frame } = field.receivers[0];
  const plate: PlacedBlocker = {
    kind: 'box',
    name: 'plate',
    frame: { ...frame, origin: addScaled(addScaled(frame.origin, frame.x, 0.1), frame.z, -BODY_GAP / 2) },
    size: [0.1, 0.3, BODY_GAP / 4],
    bodyOf: -1,
  };
  return { scene, field: { ...field, blockers: [...field.blockers, plate] } };
}

function facetsCalledClear({ buffer }: PreparedScene): number {
  return viewPrepared(buffer).facetInts.filter((value, i) => i % FACET_INTS === FI_CLEAR && value === 1)
    .length;
}

function callClear({ buffer }: PreparedScene): void {
  const { facetInts } = viewPrepared(buffer);
  for (let facet = 0; facet < facetInts.length; facet += FACET_INTS) facetInts[facet + FI_CLEAR] = 1;
}

function raysByFate(prepared: PreparedScene, tally: Float64Array): number[] {
  const { groups, counts } = prepared.layout;
  return Array.from({ length: FATES }, (_, fate) => {
    let rays = 0;
    for (let group = 0; group < groups; group++) rays += tally[counts + group * FATES + fate];
    return rays;
  });
}

/**
 * What differs between two tallies of the same batch; null where nothing does. Ray counts must be equal. Watts are added in another
 * order by the direct way, and may differ by the rounding of sums of some thousand terms.
 */
function differenceOf(prepared: PreparedScene, a: Float64Array, b: Float64Array): string | null {
  const { groups, counts, watts, incident, strayRays, strayWatts } = prepared.layout;
  let light = 0;
  for (let group = 0; group < groups; group++) light += b[incident + group];
  for (let i = 0; i < a.length; i++) {
    const isCount = (i >= counts && i < watts) || (i >= strayRays && i < strayWatts);
    if (Math.abs(a[i] - b[i]) > (isCount ? 0 : 1e-12 * light)) return `entry ${i}: ${a[i]}, not ${b[i]}`;
  }
  return null;
}

describe('lists, hierarchy, shadow zones and the direct way change no answer', () => {
  const seen = new Array<number>(FATES).fill(0);
  let caughtByTubes = 0;
  for (let i = 0; i < SCENES; i++) {
    const seed = `row-${i}`;
    it(`seed ${seed}: the same rays to the same places as trying everything, watts to rounding`, () => {
      const { fast, slow } = preparedBothWays(seed);
      const log2Rays = evenLog2(fast, LOG2_RAYS);
      const quick = tallyOfBatch(fast, log2Rays, seed);
      const thorough = tallyOfBatch(slow, log2Rays, seed);
      raysByFate(fast, thorough).forEach((rays, fate) => {
        seen[fate] += rays;
      });
      expect(differenceOf(fast, quick, thorough)).toBeNull();
    });
  }

  for (let i = 0; i < 12; i++) {
    const seed = `tubes-${i}`;
    it(`seed ${seed}: the same for tubes`, () => {
      const { fast, slow } = preparedBothWays(seed, withTubes);
      const log2Rays = evenLog2(fast, LOG2_RAYS);
      const thorough = tallyOfBatch(slow, log2Rays, seed);
      caughtByTubes += raysByFate(slow, thorough)[Fate.Intercepted];
      expect(differenceOf(fast, tallyOfBatch(fast, log2Rays, seed), thorough)).toBeNull();
    });
  }

  for (const body of BODIES) {
    for (const aperture of APERTURES) {
      it(`the same for a ${body.shape} body of ${Object.values(body)[1]} m and a ${aperture.shape} aperture`, () => {
        const { fast, slow } = preparedBothWays('', () => spillingRow(body, aperture));
        const log2Rays = evenLog2(fast, 10);
        const thorough = tallyOfBatch(slow, log2Rays, 'bodies');
        expect(facetsCalledClear(fast)).toBe(fast.field.facets.length);
        expect(raysByFate(slow, thorough)[Fate.SpilledOnReceiver]).toBeGreaterThan(100);
        expect(differenceOf(fast, tallyOfBatch(fast, log2Rays, 'bodies'), thorough)).toBeNull();
      });
    }
  }

  it('the tubes have caught light', () => {
    expect(caughtByTubes).toBeGreaterThan(1000);
  });

  it('the scenes together have met every fate', () => {
    for (let fate = 0; fate < FATES; fate++) expect(seen[fate], `fate ${fate}`).toBeGreaterThan(0);
  });

  it('sabotage: with the lists emptied the tallies differ', () => {
    const tried = 8;
    let differing = 0;
    for (let i = 0; i < tried; i++) {
      const { fast, slow } = preparedBothWays(`row-${i}`);
      const { facetInts } = viewPrepared(fast.buffer);
      for (let facet = 0; facet < facetInts.length; facet += FACET_INTS) {
        facetInts[facet + FI_SHADE_COUNT] = 0;
        facetInts[facet + FI_BLOCK_COUNT] = 0;
      }
      const log2Rays = evenLog2(fast, LOG2_RAYS);
      const quick = tallyOfBatch(fast, log2Rays, `row-${i}`);
      const thorough = tallyOfBatch(slow, log2Rays, `row-${i}`);
      if (raysByFate(fast, quick)[Fate.Shaded] !== raysByFate(slow, thorough)[Fate.Shaded]) differing++;
    }
    expect(differing).toBeGreaterThan(tried / 2);
  });

  describe('scenes prepared for shares only', () => {
    const preparedForShares = (scene: Scene) =>
      prepareScene(scene, layOut(scene), momentOf(scene), { purpose: 'shares' });
    const fatesOf = (prepared: PreparedScene, seed: string) =>
      raysByFate(prepared, tallyOfBatch(prepared, evenLog2(prepared, LOG2_RAYS), seed));

    /** Receivers that have gone to meet the light of a low sun, with a beam 60 mm thick in the light of all dishes. */
    function beforeABeam(degrees: number): Scene {
      const row = sceneOf(readFileSync(new URL('../../scenes-demo/day-row.yaml', import.meta.url), 'utf8'));
      const following = withReceiversAt(row, [degrees < 180 ? -1.3 : 1.3, 0.12, -0.45]);
      const azimuth = (degrees * Math.PI) / 180;
      return {
        ...following,
        blockers: [
          {
            kind: 'box',
            name: 'beam',
            centre: [0, -0.51, 1.6],
            heading: Math.PI / 2,
            size: [14, 0.06, 0.06],
          },
        ],
        sun: { ...row.sun, direction: { kind: 'angles', azimuth, elevation: 0.73 } },
      };
    }
    const aimed = [115, 120, 125, 235, 240, 245].map(beforeABeam);
    const scenes = [...aimed, ...Array.from({ length: SCENES }, (_, i) => randomRow(`row-${i}`))];

    it('send every ray to the same place, with windows cut down as well', () => {
      for (const [i, scene] of scenes.entries()) {
        const fates = fatesOf(prepareScene(scene, layOut(scene), momentOf(scene)), `shares ${i}`);
        if (i < aimed.length) expect(fates[Fate.BlockedByBlocker]).toBeGreaterThan(50);
        for (const plain of [scene, withoutMaps(scene)]) {
          expect(fatesOf(preparedForShares(plain), `shares ${i}`)).toEqual(fates);
        }
      }
    });

    it('sabotage: with nothing called in the way of any mirror they do not', () => {
      for (const [i, scene] of aimed.entries()) {
        const spare = preparedForShares(withoutMaps(scene));
        const fates = fatesOf(spare, `shares ${i}`);
        const { facetInts } = viewPrepared(spare.buffer);
        for (let facet = 0; facet < facetInts.length; facet += FACET_INTS)
          facetInts[facet + FI_BLOCK_COUNT] = 0;
        callClear(spare);
        expect(fatesOf(spare, `shares ${i}`)).not.toEqual(fates);
      }
    });
  });

  it('a plate in the gap between window and body stops what would end on the body', () => {
    const { scene, field } = plateInGap();
    const fast = prepareScene(scene, field, momentOf(scene));
    const slow = prepareScene(scene, field, momentOf(scene), { acceleration: 'none' });
    const log2Rays = evenLog2(fast, 11);
    const thorough = tallyOfBatch(slow, log2Rays, 'plate');
    expect(raysByFate(slow, thorough)[Fate.BlockedByBlocker]).toBeGreaterThan(100);
    expect(raysByFate(slow, thorough)[Fate.SpilledOnReceiver]).toBeGreaterThan(100);
    expect(differenceOf(fast, tallyOfBatch(fast, log2Rays, 'plate'), thorough)).toBeNull();

    // Sabotage: the plate overlooked.
    callClear(fast);
    expect(differenceOf(fast, tallyOfBatch(fast, log2Rays, 'plate'), thorough)).not.toBeNull();
  });

  it('sabotage: with the shadow zones a tenth too narrow the tallies differ', () => {
    let differing = 0;
    for (let i = 0; i < SCENES; i++) {
      const { fast, slow } = preparedBothWays(`row-${i}`);
      const { facetReals } = viewPrepared(fast.buffer);
      for (let facet = 0; facet < facetReals.length; facet += FACET_REALS) {
        const width = facetReals[facet + F_SHADOW_HIGH_X] - facetReals[facet + F_SHADOW_LOW_X];
        if (width > 0 && width < 1e9) facetReals[facet + F_SHADOW_HIGH_X] -= 0.1 * width;
      }
      const log2Rays = evenLog2(fast, LOG2_RAYS);
      const quick = tallyOfBatch(fast, log2Rays, `row-${i}`);
      if (differenceOf(fast, quick, tallyOfBatch(slow, log2Rays, `row-${i}`)) !== null) differing++;
    }
    expect(differing).toBeGreaterThan(SCENES / 10);
  });

  it('sabotage: a reflectance a billionth lower is seen', () => {
    const { fast, slow } = preparedBothWays('row-16');
    const { filmReals } = viewPrepared(fast.buffer);
    for (let film = 0; film < filmReals.length; film += FILM_REALS) {
      for (let cell = film + M_REFLECTANCE; cell < film + FILM_REALS; cell++) filmReals[cell] *= 1 - 1e-9;
    }
    const log2Rays = evenLog2(fast, LOG2_RAYS);
    const quick = tallyOfBatch(fast, log2Rays, 'row-16');
    expect(differenceOf(fast, quick, tallyOfBatch(slow, log2Rays, 'row-16'))).not.toBeNull();
  });
});
