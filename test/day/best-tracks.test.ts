/** Fitted tracks against tracks laid by hand: none of its kind may catch more of the same light. */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { caughtAt } from '../../src/study/catch.js';
import { sceneAtStep, searchLight } from '../../src/study/day.js';
import { fittedWhereItPays } from '../../src/study/day-fit.js';
import { daySteps } from '../../src/study/day-steps.js';
import { lossFormFrom } from '../../src/study/loss-form.js';
import type { Offset } from '../../src/study/moving.js';
import { bestAlong, bestPlace } from '../../src/study/placement.js';
import { bestTracks } from '../../src/study/track-best.js';
import type { FittedTrack } from '../../src/study/track-fit.js';
import type { LitPoint } from '../../src/study/track-light.js';
import { type TrackKind, trackPath } from '../../src/study/track-shape.js';
import { calendarDate } from '../../src/sun/calendar.js';
import { clockOf } from '../../src/sun/clock.js';
import { skyOf } from '../../src/sun/sky.js';
import { sceneOf } from '../support/trace-text.js';
import { RADIANS } from './days.js';

const scene = sceneOf(readFileSync('scenes-demo/day-row.yaml', 'utf8'));

/** The lights of a whole day, a step an hour, with their best places. */
function equinox(): readonly LitPoint[] {
  const { site } = scene;
  if (site === null) throw new Error('no site');
  const { steps } = daySteps(
    scene,
    skyOf(scene, null),
    clockOf(site, { kind: 'solar' }),
    calendarDate('2026-03-20'),
    {
      every: 3600,
      at: null,
      above: 5 * RADIANS,
    },
  );
  return steps.map((step): LitPoint => {
    const light = searchLight(sceneAtStep(scene, step), 'tracks', 2 ** 11);
    const best = light === null ? null : bestPlace(light);
    if (light === null || best === null) throw new Error('no light');
    const { offset, caught } = best;
    const lossAt = ([x, y, z]: Offset) =>
      1 - caughtAt(light, [offset[0] + x, offset[1] + y, offset[2] + z]) / caught;
    return {
      day: 0,
      minute: step.solar / 60,
      position: offset,
      power_w: caught,
      hours: 1,
      light,
      lossAt,
      lossPerMm2: lossFormFrom(lossAt, 20),
    };
  });
}

const points = equinox();

/** Watt hours of the day on a path, the receiver where on it it catches most. */
function caughtOn(path: readonly Offset[]): number {
  return points.reduce((sum, { light }) => sum + (bestAlong(light, path)?.caught ?? 0), 0);
}

function caughtBy({ track, from, to }: FittedTrack): number {
  return caughtOn(trackPath(track, from, to, track.kind === 'arc' ? 0.02 : to - from));
}

const BY_HAND: Readonly<Record<'level' | 'tilted' | 'knee', readonly (readonly Offset[])[]>> = {
  level: [-0.05, -0.13, -0.24].flatMap((up) =>
    [0.035, 0.08].map((across): Offset[] => [
      [-2.5, across, up],
      [2.5, across, up],
    ]),
  ),
  tilted: [-0.1, 0.02, 0.1].flatMap((rise) =>
    [0.035, 0.08].map((across): Offset[] => [
      [-2.5, across, -0.06 - rise],
      [2.5, across, -0.06 + rise],
    ]),
  ),
  knee: [0.1, 0.25, 0.5].flatMap((drop) =>
    [0, 0.08].map((across): Offset[] => [
      [-1.5, across, -drop],
      [0, 0, 0],
      [1.5, across, -drop],
    ]),
  ),
};

describe('tracks that catch most', () => {
  const fits = bestTracks(['level', 'tilted', 'arc', 'knee'], points);
  const fitOf = (kind: TrackKind) => fits.find((fit) => fit.kind === kind) as FittedTrack;

  it.each(['level', 'tilted', 'knee'] as const)(
    'no %s track laid by hand catches 0.3 per cent more',
    (kind) => {
      const own = caughtBy(fitOf(kind));
      for (const path of BY_HAND[kind]) expect(caughtOn(path)).toBeLessThan(1.003 * own);
    },
  );

  it('fault: a fit by the form of the losses alone is beaten by hand', () => {
    for (const kind of ['level', 'tilted'] as const) {
      const own = caughtBy(fittedWhereItPays(kind, points) as FittedTrack);
      expect(Math.max(...BY_HAND[kind].map(caughtOn))).toBeGreaterThan(1.01 * own);
    }
  });

  it('a kind that can do more catches no less, and says what it loses', () => {
    const [level, tilted, arc, knee] = (['level', 'tilted', 'arc', 'knee'] as const).map(fitOf);
    expect(caughtBy(tilted)).toBeGreaterThan(0.998 * caughtBy(level));
    expect(caughtBy(arc)).toBeGreaterThan(0.998 * caughtBy(tilted));
    expect(caughtBy(knee)).toBeGreaterThan(0.998 * caughtBy(tilted));
    const most = points.reduce((sum, { power_w }) => sum + power_w, 0);
    for (const fit of fits) expect(1 - fit.meanLoss).toBeCloseTo(caughtBy(fit) / most, 2);
  });
});
