/** The sun over a day: true solar time, noon, rising and setting, all found on the real sun. */
import type { Site } from '../scene/types.js';
import { almanac } from './almanac.js';
import { type CalendarDate, dateText } from './calendar.js';
import type { Clock } from './clock.js';
import { airlessSun, seenSun } from './direction.js';
import { discRadius } from './distance.js';

const DEGREE = Math.PI / 180;
const DAY = 86_400_000;
/** The sun's height is looked at this often, milliseconds. */
const LOOK = 1_800_000;
/** Between two looks the sun's highest or lowest point lies at most this far (radians) beyond the nearer look. */
const TURN = 0.005;
/** Refraction on the horizon as almanacs take it: 0.5667 degrees (Reda & Andreas, Solar Energy 76 (2004) 577). */
const HORIZON_REFRACTION = 0.5667 * DEGREE;

/**
 * Where the horizon is crossed. `centre`: by the sun's centre as seen with the site's air, where beam light begins in this
 * program; `limb`: by the upper rim with the almanacs' refraction, which is what sunrise means in them.
 */
export type HorizonEdge = 'centre' | 'limb';

/** A stretch of time, milliseconds since 1970 UTC. */
export interface Stretch {
  readonly from: number;
  readonly to: number;
}

/** Hour angle of the sun without air, radians, -pi to pi, 0 where it crosses the meridian. @param time milliseconds since 1970 UTC */
export function hourAngle(site: Site, time: number): number {
  const { Body, HourAngle, Observer } = almanac();
  const observer = new Observer(site.latitude / DEGREE, site.longitude / DEGREE, site.height);
  const hours = HourAngle(Body.Sun, new Date(time), observer);
  return ((hours > 12 ? hours - 24 : hours) * Math.PI) / 12;
}

/** True solar time, seconds since its midnight, 0 to 86400; noon is 43200. @param time milliseconds since 1970 UTC */
export function solarTime(site: Site, time: number): number {
  return ((hourAngle(site, time) / (2 * Math.PI) + 0.5) * 86_400) % 86_400;
}

/** True solar time less mean solar time of the longitude, seconds. @param time milliseconds since 1970 UTC */
export function equationOfTime(site: Site, time: number): number {
  const mean = time / 1000 + (site.longitude / (2 * Math.PI)) * 86_400;
  const difference = (((solarTime(site, time) - mean) % 86_400) + 86_400) % 86_400;
  return difference > 43_200 ? difference - 86_400 : difference;
}

/** The instant nearest to another at which the sun crosses the meridian, milliseconds since 1970 UTC. */
export function solarNoon(site: Site, near: number): number {
  let time = near;
  // The sun's hour angle runs so evenly that two steps reach a millisecond.
  for (let step = 0; step < 6; step++) {
    const correction = (hourAngle(site, time) / (2 * Math.PI)) * DAY;
    time -= correction;
    if (Math.abs(correction) < 0.5) break;
  }
  return time;
}

/** Height of the sun over the edge that counts as the horizon, radians. */
function heightOver(site: Site, edge: HorizonEdge): (time: number) => number {
  return edge === 'centre'
    ? (time) => seenSun(site, time).elevation
    : (time) => airlessSun(site, time).elevation + HORIZON_REFRACTION + discRadius(time);
}

/**
 * The stretches between two instants in which the sun is above the horizon, to a millisecond; none in polar night.
 *
 * @param from milliseconds since 1970 UTC
 */
export function sunUpBetween(
  site: Site,
  from: number,
  to: number,
  edge: HorizonEdge = 'centre',
): readonly Stretch[] {
  const height = heightOver(site, edge);
  const looks = looksBetween(height, from, to);
  const up: Stretch[] = [];
  let since = looks[0].height >= 0 ? from : null;
  for (let index = 1; index < looks.length; index++) {
    const [last, next] = [looks[index - 1], looks[index]];
    if (last.height >= 0 === next.height >= 0) continue;
    const crossing = crossingBetween(height, last.time, next.time);
    if (since === null) since = crossing;
    else {
      up.push({ from: since, to: crossing });
      since = null;
    }
  }
  if (since !== null) up.push({ from: since, to });
  return up.filter((stretch) => stretch.to > stretch.from);
}

interface Look {
  readonly time: number;
  readonly height: number;
}

/** Heights at even times, and at the turning point of a day or night so short that the even times miss it. */
function looksBetween(height: (time: number) => number, from: number, to: number): readonly Look[] {
  const count = Math.max(2, Math.ceil((to - from) / LOOK));
  const even = Array.from({ length: count + 1 }, (_, index) => {
    const time = from + ((to - from) * index) / count;
    return { time, height: height(time) };
  });
  return even.flatMap((look, index) => {
    const last = even[index - 1];
    if (last === undefined) return [look];
    const sameSide = last.height >= 0 === look.height >= 0;
    if (!sameSide || Math.min(Math.abs(last.height), Math.abs(look.height)) > TURN) return [look];
    const sign = look.height >= 0 ? -1 : 1;
    const time = turningPoint((at) => sign * height(at), last.time, look.time);
    return [{ time, height: height(time) }, look];
  });
}

/** Highest point of a single hump, by golden section to a tenth of a second (the hump is flat to 1e-11 rad there). */
function turningPoint(height: (time: number) => number, from: number, to: number): number {
  const golden = (Math.sqrt(5) - 1) / 2;
  let [low, high] = [from, to];
  let [left, right] = [high - golden * (high - low), low + golden * (high - low)];
  let [atLeft, atRight] = [height(left), height(right)];
  while (high - low > 100) {
    if (atLeft >= atRight) {
      [high, right, atRight] = [right, left, atLeft];
      left = high - golden * (high - low);
      atLeft = height(left);
    } else {
      [low, left, atLeft] = [left, right, atRight];
      right = low + golden * (high - low);
      atRight = height(right);
    }
  }
  return (low + high) / 2;
}

/**
 * Where the height passes 0 between two times on either side, to a millisecond: by the chord, an end that stays twice counting half
 * (Illinois rule: Dowell & Jarratt, BIT 11 (1971) 168, from memory).
 */
function crossingBetween(height: (time: number) => number, from: number, to: number): number {
  let [low, high] = [from, to];
  let [atLow, atHigh] = [height(low), height(high)];
  const upBefore = atLow >= 0;
  let stayed: 'low' | 'high' | null = null;
  while (high - low > 1) {
    const chord = low - (atLow * (high - low)) / (atHigh - atLow);
    // Never at an end, or the stretch between would stay as long as it is.
    const middle = Math.min(
      high - 0.4,
      Math.max(low + 0.4, Number.isFinite(chord) ? chord : (low + high) / 2),
    );
    const there = height(middle);
    if (there >= 0 === upBefore) {
      low = middle;
      atLow = there;
      if (stayed === 'high') atHigh /= 2;
      stayed = 'high';
    } else {
      high = middle;
      atHigh = there;
      if (stayed === 'low') atLow /= 2;
      stayed = 'low';
    }
  }
  // On the side where the sun is up, so that a stretch holds no instant without it.
  return upBefore ? low : high;
}

/** The sun over one day of a clock. Instants in milliseconds since 1970 UTC. */
export interface SunDay {
  readonly date: CalendarDate;
  /** The clock's midnights. */
  readonly start: number;
  readonly end: number;
  /** Where the sun crosses the meridian nearest to the clock's noon. */
  readonly noon: number;
  /** Elevation of the sun's centre then, as seen, radians; below 0 in polar night. */
  readonly noonElevation: number;
  /** `polar_day`: up from midnight to midnight; `polar_night`: never up. */
  readonly kind: 'ordinary' | 'polar_day' | 'polar_night';
  /** First rising of the day and last setting; null where the sun does not rise, or not set, within the day. */
  readonly rise: number | null;
  readonly set: number | null;
  /** When the sun is up within the day. */
  readonly up: readonly Stretch[];
}

/**
 * @throws RangeError for a day that the clock leaves out
 */
export function sunDay(site: Site, clock: Clock, date: CalendarDate, edge: HorizonEdge = 'centre'): SunDay {
  const { start, end } = clock.day(date);
  const noon = solarNoon(site, clock.instantOf(date, 43_200).time);
  const up = sunUpBetween(site, start, end, edge);
  const rises = up.filter(({ from }) => from > start);
  const sets = up.filter(({ to }) => to < end);
  const allDay = up.length === 1 && rises.length === 0 && sets.length === 0;
  return {
    date,
    start,
    end,
    noon,
    noonElevation: seenSun(site, noon).elevation,
    kind: up.length === 0 ? 'polar_night' : allDay ? 'polar_day' : 'ordinary',
    rise: rises.at(0)?.from ?? null,
    set: sets.at(-1)?.to ?? null,
    up,
  };
}

function degreesText(angle: number): string {
  const text = (angle / DEGREE).toFixed(1);
  return text === '-0.0' ? '0.0' : text;
}

/** One line on a day for people, without a full stop. */
export function describeSunDay(day: SunDay, clock: Clock): string {
  const date = dateText(day.date);
  if (day.kind === 'polar_night') return `${date}: polar night, the sun does not rise`;
  const clockTime = (time: number) => clock.text(time).slice(11);
  const noon = `highest at ${clockTime(day.noon)}, ${degreesText(day.noonElevation)} degrees`;
  if (day.kind === 'polar_day') return `${date}: polar day, the sun does not set; ${noon}`;
  const minutes = Math.round(day.up.reduce((sum, { from, to }) => sum + to - from, 0) / 60_000);
  const stretches = day.up.map(({ from, to }) => `${clockTime(from)} to ${clockTime(to)}`).join(' and ');
  return `${date}: sun up from ${stretches} (${Math.floor(minutes / 60)} h ${minutes % 60} min), ${noon}`;
}
