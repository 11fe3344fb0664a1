/**
 * Relations whose two sides cannot share their rays: figures must agree within the errors they state. Each has a twin with a
 * small known fault that the same check must find.
 */
import { describe, expect, it } from 'vitest';
import type { Figure, TraceResult } from '../../src/result/types.js';
import {
  type BlockerDraft,
  changed,
  draftText,
  type Point,
  randomDraft,
  type SceneDraft,
} from '../support/scene-drafts.js';
import { traceText } from '../support/trace-text.js';

const SEEDS = Array.from({ length: 3 }, (_, i) => `statistical-${i}`);
const RAYS = 2 ** 16;
/** Some 150 comparisons: with other seeds one run in a hundred would have one beyond 4 by chance. */
const MOST_SIGMAS = 4;

function sigmas(one: Figure, two: Figure, sign = 1): number {
  const gap = Math.abs(sign * one.value - two.value);
  return gap === 0 ? 0 : gap / Math.hypot(one.std_err, two.std_err);
}

async function traced(draft: SceneDraft, seed: string): Promise<TraceResult> {
  const { result } = await traceText(draftText(draft), { rays: RAYS, seed });
  return result;
}

function worstOfTotals(one: TraceResult, two: TraceResult): number {
  const keys = [
    'reflected_power',
    'intercepted_power',
    'spill_fraction',
    'blocked_fraction',
    'mean_flux',
  ] as const;
  return Math.max(...keys.map((key) => sigmas(one.total[key], two.total[key])));
}

/** Mirrored east-west, x to -x. A row then runs the other way, so that its right stays its right. */
function mirrored(draft: SceneDraft, sun = true): SceneDraft {
  const flip = ([x, y, z]: Point): Point => [-x, y, z];
  const azimuth = (degrees: number) => (720 - degrees) % 360;
  const flipBlocker = (blocker: BlockerDraft): BlockerDraft =>
    blocker.kind === 'box'
      ? { ...blocker, centre_m: flip(blocker.centre_m), heading_deg: azimuth(blocker.heading_deg) }
      : { ...blocker, from_m: flip(blocker.from_m), to_m: flip(blocker.to_m) };
  return changed(draft, (copy) => {
    if (sun) copy.sun.azimuth_deg = azimuth(copy.sun.azimuth_deg!);
    for (const dish of Object.values(copy.dishes)) {
      if (dish.design_sun) dish.design_sun.azimuth_deg = azimuth(dish.design_sun.azimuth_deg);
      if (dish.receiver) dish.receiver.offset_m = flip(dish.receiver.offset_m);
      dish.blockers = dish.blockers.map(flipBlocker);
    }
    for (const row of copy.rows) {
      row.heading_deg = (540 - row.heading_deg) % 360;
      row.centre_m = flip(row.centre_m);
    }
    for (const thing of [...copy.facets, ...copy.receivers]) {
      thing.position_m = flip(thing.position_m);
      thing.facing!.azimuth_deg = azimuth(thing.facing!.azimuth_deg);
      thing.along_azimuth_deg = azimuth(thing.along_azimuth_deg!);
    }
    copy.blockers = copy.blockers.map(flipBlocker);
  });
}

/** Whether u and v keep their sense: of dishes' receivers, and of standing ones. */
interface ImageSigns {
  readonly dish: readonly [number, number];
  readonly standing: readonly [number, number];
}

/** u of a dish's receiver turns round with its row; of a standing one, v does. */
const MIRRORED: ImageSigns = { dish: [-1, 1], standing: [1, -1] };
const REVERSED: ImageSigns = { dish: [-1, -1], standing: [1, 1] };

/** Receivers of the first scene beside their images in the second: dishes of a row come in the opposite order. */
function worstOfImages(draft: SceneDraft, one: TraceResult, two: TraceResult, signs: ImageSigns): number {
  const dishes = new Map(draft.rows.map((row) => [row.name, row.dishes]));
  let worst = worstOfTotals(one, two);
  for (const receiver of one.receivers) {
    const place = /^([AB])-(\d)$/.exec(receiver.name);
    const name =
      place === null ? receiver.name : `${place[1]}-${dishes.get(place[1])! + 1 - Number(place[2])}`;
    const image = two.receivers.find((other) => other.name === name)!;
    const [u, v] = place === null ? signs.standing : signs.dish;
    worst = Math.max(
      worst,
      sigmas(receiver.intercepted_power, image.intercepted_power),
      sigmas(receiver.spot.centroid_u, image.spot.centroid_u, u),
      sigmas(receiver.spot.centroid_v, image.spot.centroid_v, v),
    );
  }
  return worst;
}

describe('the world in an east-west mirror', () => {
  it.each(SEEDS)('%s: every receiver gets the light of its image', async (seed) => {
    const draft = randomDraft(seed);
    const before = await traced(draft, 'here');
    expect(worstOfImages(draft, before, await traced(mirrored(draft), 'there'), MIRRORED)).toBeLessThan(
      MOST_SIGMAS,
    );
  });

  it('sabotage: the sun 0.4 degrees off its image is seen', async () => {
    const draft = randomDraft(SEEDS[0]);
    const off = changed(mirrored(draft), (copy) => {
      copy.sun.azimuth_deg! += 0.4;
    });
    expect(
      worstOfImages(draft, await traced(draft, 'here'), await traced(off, 'there'), MIRRORED),
    ).toBeGreaterThan(MOST_SIGMAS);
  });
});

/** Each rectangular facet in two parts of the same surface, cut at a share of its width. */
function split(draft: SceneDraft, overlap = 0): SceneDraft {
  return changed(draft, (copy) => {
    copy.facets = copy.facets.flatMap((facet) => {
      if (facet.outline.kind !== 'rectangle') return [facet];
      const { length_m, width_m, centre_m } = facet.outline;
      const part = 0.3;
      const [x, y] = centre_m;
      const first = { ...facet.outline, length_m, width_m: part * width_m + overlap };
      const second = { ...facet.outline, length_m, width_m: (1 - part) * width_m };
      return [
        {
          ...facet,
          name: `${facet.name}, a`,
          outline: { ...first, centre_m: [x, y - (width_m * (1 - part)) / 2] },
        },
        {
          ...facet,
          name: `${facet.name}, b`,
          outline: { ...second, centre_m: [x, y + (width_m * part) / 2] },
        },
      ] as typeof copy.facets;
    });
  });
}

describe('facets cut in two', () => {
  const facetsOnly = (seed: string) =>
    changed(randomDraft(seed), (copy) => {
      copy.rows = [];
      for (const facet of copy.facets) facet.receiver = 'line';
    });

  it.each(SEEDS)('%s: area to rounding, light within its errors', async (seed) => {
    const draft = facetsOnly(seed);
    const [whole, parts] = [await traced(draft, 'whole'), await traced(split(draft), 'parts')];
    const area = whole.total.mirror_area_m2;
    expect(Math.abs(parts.total.mirror_area_m2 - area)).toBeLessThan(1e-12 * area);
    expect(worstOfTotals(whole, parts)).toBeLessThan(MOST_SIGMAS);
  });

  it('sabotage: parts 2 mm too wide are seen', async () => {
    const draft = facetsOnly(SEEDS[0]);
    const [whole, parts] = [await traced(draft, 'whole'), await traced(split(draft, 2e-3), 'parts')];
    expect(worstOfTotals(whole, parts)).toBeGreaterThan(MOST_SIGMAS);
  });
});

describe('a row run the other way', () => {
  const reversed = (draft: SceneDraft, tilt = 0) =>
    changed(draft, (copy) => {
      for (const row of copy.rows) row.heading_deg = (row.heading_deg + 180) % 360;
      for (const dish of Object.values(copy.dishes)) {
        dish.design_tilt_deg *= -1;
        dish.tilt_setting_deg = tilt - dish.tilt_setting_deg;
        const turn = ([x, y, z]: Point): Point => [-x, -y, z];
        if (dish.receiver) dish.receiver.offset_m = turn(dish.receiver.offset_m);
        dish.blockers = dish.blockers.map((blocker) =>
          blocker.kind === 'box'
            ? { ...blocker, centre_m: turn(blocker.centre_m) }
            : { ...blocker, from_m: turn(blocker.from_m), to_m: turn(blocker.to_m) },
        );
      }
    });

  it.each(SEEDS)('%s: with its tilts turned round is the same row', async (seed) => {
    const draft = randomDraft(seed);
    const [to, fro] = [await traced(draft, 'to'), await traced(reversed(draft), 'fro')];
    expect(worstOfImages(draft, to, fro, REVERSED)).toBeLessThan(MOST_SIGMAS);
  });

  it('sabotage: half a degree of tilt is seen', async () => {
    const draft = randomDraft(SEEDS[0]);
    const [to, off] = [await traced(draft, 'to'), await traced(reversed(draft, 0.5), 'fro')];
    expect(worstOfImages(draft, to, off, REVERSED)).toBeGreaterThan(MOST_SIGMAS);
  });
});
