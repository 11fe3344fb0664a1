/** What the gaps of a weather file take from a year: sun without weather, and the beam it would have brought. */
import type { Site } from '../scene/types.js';
import { addDays, daysInYear } from '../sun/calendar.js';
import type { Clock } from '../sun/clock.js';
import type { Sky } from '../sun/sky.js';
import { sunUpBetween } from '../sun/solar-time.js';

export interface WeatherGaps {
  /** Hours with the sun up and no weather. */
  readonly sun_hours: number;
  /** Beam energy that they would have brought, of that of the whole year with them: an estimate. */
  readonly beam_fraction: number;
}

const HOUR = 3_600_000;
const HOURS = 25;
/** Days to either side whose weather at the same hour stands for a gap. */
const NEAR_DAYS = 15;
/** Of the sunlit time: less is rounding of sunrise and sunset. */
const ROUNDING = 1e-4;

/**
 * Gaps are left out of a year's sums. What they would have brought is told by the mean beam of the same hour of the clock on the 15
 * days before and after, as far as these are known, and of the whole year where none is.
 * @param year by the clock
 * @returns null where there are no gaps
 */
export function weatherGaps(site: Site, clock: Clock, sky: Sky, year: number): WeatherGaps | null {
  const days = daysInYear(year);
  const size = days * HOURS;
  const sunlit = new Float64Array(size);
  const known = new Float64Array(size);
  const energy = new Float64Array(size);
  for (let day = 0; day < days; day++) {
    const { start, end } = clock.day(addDays({ year, month: 1, day: 1 }, day));
    const add = (into: Float64Array, from: number, to: number, amount: number): void => {
      for (let hour = Math.max(0, Math.floor((from - start) / HOUR)); hour < HOURS; hour++) {
        const low = start + hour * HOUR;
        if (low >= to) break;
        const part = Math.min(to, low + HOUR) - Math.max(from, low);
        into[day * HOURS + hour] += (amount * part) / (to - from);
      }
    };
    // A step that began in the day before may reach into this one.
    const steps = sky.steps(start - HOUR, end);
    for (const { from, to } of sunUpBetween(site, start, end)) {
      const [rise, set] = [Math.max(start, from), Math.min(end, to)];
      if (!(set > rise)) continue;
      add(sunlit, rise, set, (set - rise) / 1000);
      for (const step of steps) {
        const [low, high] = [Math.max(rise, step.start), Math.min(set, step.end)];
        if (!(high > low)) continue;
        const seconds = (high - low) / 1000;
        add(known, low, high, seconds);
        add(energy, low, high, (step.dni * (step.end - step.start) * seconds) / (1000 * step.sunlit));
      }
    }
  }
  let dark = 0;
  let lost = 0;
  let caught = 0;
  for (let cell = 0; cell < size; cell++) {
    caught += energy[cell];
    const missing = sunlit[cell] - known[cell];
    if (!(missing > ROUNDING * 3600) || known[cell] > (1 - ROUNDING) * sunlit[cell]) continue;
    dark += missing;
    lost +=
      missing *
      (meanBeam(known, energy, cell, days, NEAR_DAYS) ?? meanBeam(known, energy, cell, days, days) ?? 0);
  }
  if (dark === 0) return null;
  return { sun_hours: dark / 3600, beam_fraction: lost + caught > 0 ? lost / (lost + caught) : 0 };
}

/** Mean beam of an hour's sunlit time over the days about it, W/m2; null where none of it is known. */
function meanBeam(
  known: Float64Array,
  energy: Float64Array,
  cell: number,
  days: number,
  near: number,
): number | null {
  const [day, hour] = [Math.floor(cell / HOURS), cell % HOURS];
  let seconds = 0;
  let sum = 0;
  const reach = Math.min(near, days >> 1);
  for (let apart = -reach; apart <= reach; apart++) {
    const other = ((day + apart + days) % days) * HOURS + hour;
    seconds += known[other];
    sum += energy[other];
  }
  return seconds > 0 ? sum / seconds : null;
}
