/** The sun over a year as a list of positions, each with the beam energy it stands for. */
import { directionOf } from '../field/vector.js';
import type { Site, Vec3 } from '../scene/types.js';
import { addDays, type CalendarDate, dayOfYear, daysInYear } from '../sun/calendar.js';
import type { Clock } from '../sun/clock.js';
import { seenSun } from '../sun/direction.js';
import type { Sky } from '../sun/sky.js';

export interface SunPoint {
  /** Milliseconds since 1970 UTC. */
  readonly time: number;
  /** Unit vector towards the sun, world frame. */
  readonly sun: Vec3;
  /** Beam energy square to the sun, J/m2. */
  readonly energy: number;
  /** Seconds with the sun up. */
  readonly seconds: number;
  /** Of the year by the site's clock, from 0; month 0 to 11. */
  readonly day: number;
  readonly month: number;
}

export interface SunSeason {
  readonly points: readonly SunPoint[];
  readonly days: number;
}

/** Milliseconds between sun positions where not told otherwise. */
export const POINT_WIDTH = 1_200_000;

/**
 * The steps of a sky from one date to the day before another. A step wider than `width` (weather by the hour) is cut: its
 * energy is spread evenly over its sunlit parts, the sun taken where it stands in each.
 * @param from first day, by the site's clock
 * @param days so many days
 * @param width milliseconds
 */
export function sunSeason(
  site: Site,
  clock: Clock,
  sky: Sky,
  from: CalendarDate,
  days: number,
  width = POINT_WIDTH,
): SunSeason {
  const points: SunPoint[] = [];
  for (let d = 0; d < days; d++) {
    const date = addDays(from, d);
    const { start, end } = clock.day(date);
    const day = dayOfYear(date) - 1;
    for (const step of sky.steps(start, end, width)) {
      const energy = (step.dni * (step.end - step.start)) / 1000;
      const pieces = Math.max(1, Math.ceil((step.end - step.start) / width - 1e-6));
      const lit = pieces === 1 ? [] : litPieces(site, step.start, step.end, pieces);
      if (lit.length === 0) lit.push({ time: step.time, sun: directionOf(step.seen) });
      for (const { time, sun } of lit) {
        points.push({
          time,
          sun,
          energy: energy / lit.length,
          seconds: step.sunlit / lit.length,
          day,
          month: date.month - 1,
        });
      }
    }
  }
  return { points, days };
}

function litPieces(site: Site, start: number, end: number, pieces: number): { time: number; sun: Vec3 }[] {
  return Array.from({ length: pieces }, (_, i) => {
    const time = start + ((i + 0.5) * (end - start)) / pieces;
    return { time, sun: directionOf(seenSun(site, time)) };
  }).filter(({ sun }) => sun[2] > 0);
}

/** @returns all of a year by the site's clock */
export function sunYear(site: Site, clock: Clock, sky: Sky, year: number, width = POINT_WIDTH): SunSeason {
  return sunSeason(site, clock, sky, { year, month: 1, day: 1 }, daysInYear(year), width);
}
