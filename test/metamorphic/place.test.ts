/**
 * Scenes that differ in where they stand and how large they are. Rounding moves no ray across an edge at these seeds, so
 * counts of rays are equal to the ray; watts to the tolerance named, a share of the sunlight on the mirrors.
 */
import { describe, expect, it } from 'vitest';
import { Fate } from '../../src/kernel/tally.js';
import { expectAlike, totalOf, unlikeness } from '../support/same-reading.js';
import {
  type BlockerDraft,
  changed,
  type Point,
  randomDraft,
  readDraft,
  type SceneDraft,
} from '../support/scene-drafts.js';

const SEEDS = Array.from({ length: 4 }, (_, i) => `place-${i}`);
/** Coordinates of some metres turned or shifted: 1e-16 of them, a few operations, and the steepest edge of a sunshape. */
const ROUNDING = 1e-11;

function wrapped(degrees: number): number {
  return ((degrees % 360) + 360) % 360;
}

/** Everything turned clockwise about the vertical through the origin. */
function turned(draft: SceneDraft, degrees: number): SceneDraft {
  const cos = Math.cos((degrees * Math.PI) / 180);
  const sin = Math.sin((degrees * Math.PI) / 180);
  const move = ([x, y, z]: Point): Point => [x * cos + y * sin, y * cos - x * sin, z];
  return changed(draft, (copy) => {
    copy.sun.azimuth_deg = wrapped(copy.sun.azimuth_deg! + degrees);
    for (const dish of Object.values(copy.dishes)) {
      if (dish.design_sun) dish.design_sun.azimuth_deg = wrapped(dish.design_sun.azimuth_deg + degrees);
    }
    for (const row of copy.rows) {
      row.heading_deg = wrapped(row.heading_deg + degrees);
      row.centre_m = move(row.centre_m);
    }
    for (const thing of [...copy.facets, ...copy.receivers]) {
      thing.position_m = move(thing.position_m);
      thing.facing!.azimuth_deg = wrapped(thing.facing!.azimuth_deg + degrees);
      thing.along_azimuth_deg = wrapped(thing.along_azimuth_deg! + degrees);
    }
    for (const blocker of copy.blockers) {
      if (blocker.kind === 'box') {
        blocker.centre_m = move(blocker.centre_m);
        blocker.heading_deg = wrapped(blocker.heading_deg + degrees);
      } else {
        blocker.from_m = move(blocker.from_m);
        blocker.to_m = move(blocker.to_m);
      }
    }
  });
}

function shifted(draft: SceneDraft, by: Point): SceneDraft {
  const move = ([x, y, z]: Point): Point => [x + by[0], y + by[1], z + by[2]];
  return changed(draft, (copy) => {
    for (const row of copy.rows) row.centre_m = move(row.centre_m);
    for (const thing of [...copy.facets, ...copy.receivers]) thing.position_m = move(thing.position_m);
    copy.blockers = copy.blockers.map(
      (blocker): BlockerDraft =>
        blocker.kind === 'box'
          ? { ...blocker, centre_m: move(blocker.centre_m) }
          : { ...blocker, from_m: move(blocker.from_m), to_m: move(blocker.to_m) },
    );
    if (copy.ground) copy.ground.height_m += by[2];
  });
}

/** Every value whose key is in metres, times k. */
function scaled(draft: SceneDraft, k: number): SceneDraft {
  const times = (value: unknown): unknown =>
    Array.isArray(value) ? value.map(times) : typeof value === 'number' ? value * k : value;
  const walk = (node: unknown): void => {
    if (node === null || typeof node !== 'object') return;
    for (const [key, value] of Object.entries(node)) {
      if (key.endsWith('_m') && typeof value !== 'object') Object.assign(node, { [key]: times(value) });
      else if (key.endsWith('_m') && Array.isArray(value)) Object.assign(node, { [key]: times(value) });
      else walk(value);
    }
  };
  return changed(draft, walk);
}

describe('turning the world and the sun together about the vertical', () => {
  it.each(SEEDS)('%s: counts equal, watts to rounding', (seed) => {
    const draft = randomDraft(seed);
    const before = readDraft(draft);
    for (const degrees of [17.3, 90, 211]) {
      expectAlike(before, readDraft(turned(draft, degrees)), { within: ROUNDING });
    }
    // The world without the sun: the check would see a tenth of a degree.
    const off = changed(turned(draft, 17.3), (copy) => {
      copy.sun.azimuth_deg! -= 0.1;
    });
    expect(unlikeness(before, readDraft(off))).toBeGreaterThan(1e-6);
  });
});

describe('moving the origin', () => {
  it.each(SEEDS)('%s: by 1 km, counts equal, watts to the rounding of 1 km', (seed) => {
    const draft = randomDraft(seed);
    const before = readDraft(draft);
    // 1 km is known to 1e-13 m, directions over a metre so to 1e-13.
    expectAlike(before, readDraft(shifted(draft, [1000, -700, 50])), { within: 1e-9 });
    expectAlike(before, readDraft(shifted(draft, [-12_000, 15_000, -200])), { within: 1e-8 });
  });
});

describe('scaling all lengths', () => {
  // Without bodies: these stand a fixed tenth of a millimetre behind their apertures, whatever the scale.
  it.each(SEEDS)('%s: by 2 and 1/2, powers times 4 and 1/4 bit for bit', (seed) => {
    const draft = randomDraft(seed, { bodies: false });
    const before = readDraft(draft);
    expectAlike(before, readDraft(scaled(draft, 2)), { factor: 4, within: 0 });
    expectAlike(before, readDraft(scaled(draft, 0.5)), { factor: 0.25, within: 0 });
  });

  it.each(SEEDS)('%s: by 3 and 0.7, counts equal, powers times the square to rounding', (seed) => {
    const draft = randomDraft(seed, { bodies: false });
    const before = readDraft(draft);
    for (const k of [3, 0.7]) {
      expectAlike(before, readDraft(scaled(draft, k)), { factor: k * k, within: ROUNDING });
    }
  });
});

describe('dishes far apart', () => {
  it.each(SEEDS)('%s: each of three dishes 200 m apart is the single dish', (seed) => {
    const single = changed(randomDraft(seed, { strays: false }), (copy) => {
      Object.assign(copy, { rows: [copy.rows[0]], receivers: [], blockers: [], bounce_limit: 1 });
      copy.rows[0].dishes = 1;
    });
    const three = changed(single, (copy) => {
      copy.rows[0].dishes = 3;
      copy.rows[0].pitch_m = 200;
    });
    const key = (facet: string) => facet.replace(/^.*\//, '');
    const alone = readDraft(single, { key });
    for (const place of ['A-1', 'A-2', 'A-3']) {
      expectAlike(alone, readDraft(three, { key }), { within: 1e-10, named: () => place });
    }
  });
});

describe('tilt', () => {
  it.each(SEEDS)(
    '%s: design tilt a and setting s, or a - 10 and s + 10, are one where the receiver stands',
    (seed) => {
      const draft = changed(randomDraft(seed, { strays: false }), (copy) => {
        for (const row of copy.rows) row.receiver = 'line';
        for (const dish of Object.values(copy.dishes)) {
          dish.receiver = null;
          delete dish.design_sun;
        }
      });
      const other = changed(draft, (copy) => {
        for (const dish of Object.values(copy.dishes)) {
          dish.design_tilt_deg -= 10;
          dish.tilt_setting_deg += 10;
        }
      });
      const before = readDraft(draft);
      expect(totalOf(before, (group) => group.incident)).toBeGreaterThan(0);
      expectAlike(before, readDraft(other), { within: ROUNDING });
    },
  );
});

describe('one row cut into single dishes', () => {
  it.each(SEEDS)('%s: counts equal, watts to rounding', (seed) => {
    const draft = changed(randomDraft(seed), (copy) => {
      copy.rows[0].dishes = 3;
    });
    const cut = changed(draft, (copy) => {
      const [row, ...others] = copy.rows;
      const heading = (row.heading_deg * Math.PI) / 180;
      const parts = [-1, 0, 1].map((step, i) => ({
        ...row,
        name: `part ${i + 1}`,
        dishes: 1,
        centre_m: [
          row.centre_m[0] + step * row.pitch_m * Math.sin(heading),
          row.centre_m[1] + step * row.pitch_m * Math.cos(heading),
          row.centre_m[2],
        ] as Point,
      }));
      copy.rows = [...parts, ...others];
    });
    const renamed = (name: string) => name.replace(/^part (\d)-1/, 'A-$1');
    expectAlike(readDraft(draft), readDraft(cut, { key: renamed }), {
      within: ROUNDING,
      named: (name) => name.replace(/^A-(\d)$/, 'part $1-1'),
    });
  });
});

describe('the ground', () => {
  it.each(SEEDS)('%s: raised to just under the mirrors it takes nothing from the receivers', (seed) => {
    const draft = randomDraft(seed);
    const lowest = 0.05;
    const [none, low, high] = [undefined, -30, lowest].map((height) =>
      readDraft(
        changed(draft, (copy) => {
          if (height === undefined) delete copy.ground;
          else copy.ground = { height_m: height };
        }),
      ),
    );
    for (const reading of [low, high]) {
      for (const [name, group] of none.groups) {
        const other = reading.groups.get(name)!;
        for (const fate of [Fate.Intercepted, Fate.Shaded, Fate.BlockedByFacet, Fate.BlockedByReceiver]) {
          expect(other.counts[fate]).toBe(group.counts[fate]);
          expect(other.watts[fate]).toBe(group.watts[fate]);
        }
        expect(other.map).toEqual(group.map);
        const open = (of: typeof group) => of.counts[Fate.SpilledOnGround] + of.counts[Fate.SpilledToSky];
        expect(open(other)).toBe(open(group));
      }
    }
  });
});
