/** Clocks: from a day and a clock time at a site to instants, and back. */
import type { Site, TimeZoneSpec } from '../scene/types.js';
import { addDays, type CalendarDate, dateText } from './calendar.js';
import { equationOfTime } from './solar-time.js';

const DAY = 86_400_000;

/** Thrown where a time zone is not in the list that Node carries. */
export class UnknownTimeZoneError extends Error {
  override readonly name = 'UnknownTimeZoneError';

  constructor(zone: string) {
    super(
      `there is no time zone ${JSON.stringify(zone)}; a name of the time zone list looks like Africa/Casablanca`,
    );
  }
}

/** An instant found from a clock time. */
export interface ClockInstant {
  /** Milliseconds since 1970 UTC. */
  readonly time: number;
  /**
   * How often the clock shows that time on that day. `skipped`: it is put forward over it, and `time` is as long after the jump
   * as was asked; `twice`: it is put back, and `time` is the first of both.
   */
  readonly fit: 'once' | 'skipped' | 'twice';
}

export interface Clock {
  /** For people: a name of the time zone list, UTC+02:00, true solar time, mean solar time. */
  readonly name: string;
  /** @param seconds since midnight as the clock shows them, 0 to 86400 */
  readonly instantOf: (date: CalendarDate, seconds: number) => ClockInstant;
  /** What the clock shows. @param time milliseconds since 1970 UTC */
  readonly read: (time: number) => { readonly date: CalendarDate; readonly seconds: number };
  /**
   * Instants of the midnights about a day, milliseconds since 1970 UTC; 23 to 25 hours apart where clocks are changed.
   * @throws RangeError for a day that the clock leaves out
   */
  readonly day: (date: CalendarDate) => { readonly start: number; readonly end: number };
  /** What the clock shows, to the minute: 2026-03-20 12:00. @param time milliseconds since 1970 UTC */
  readonly text: (time: number) => string;
}

/**
 * @param zone null: true solar time
 * @throws UnknownTimeZoneError
 */
export function clockOf(site: Site, zone: TimeZoneSpec | null = site.timeZone): Clock {
  switch (zone?.kind) {
    case 'iana':
      return clockWith(zone.name, ianaOffset(zone.name));
    case 'offset':
      return clockWith(offsetName(zone.seconds), () => zone.seconds * 1000);
    case 'mean_solar':
      return clockWith('mean solar time', () => meanSolarOffset(site));
    default:
      return clockWith(
        'true solar time',
        (time) => meanSolarOffset(site) + 1000 * equationOfTime(site, time),
      );
  }
}

function offsetName(seconds: number): string {
  const minutes = Math.abs(seconds) / 60;
  const part = (value: number) => String(Math.floor(value)).padStart(2, '0');
  return `UTC${seconds < 0 ? '-' : '+'}${part(minutes / 60)}:${part(minutes % 60)}`;
}

function meanSolarOffset(site: Site): number {
  return (site.longitude / (2 * Math.PI)) * DAY;
}

/** Milliseconds that the clock is ahead of UTC at an instant, for a name of the time zone list. */
function ianaOffset(name: string): (time: number) => number {
  let format: Intl.DateTimeFormat;
  try {
    format = new Intl.DateTimeFormat('en-US', {
      timeZone: name,
      calendar: 'gregory',
      numberingSystem: 'latn',
      hourCycle: 'h23',
      year: 'numeric',
      month: 'numeric',
      day: 'numeric',
      hour: 'numeric',
      minute: 'numeric',
      second: 'numeric',
    });
  } catch {
    throw new UnknownTimeZoneError(name);
  }
  return (time) => {
    const whole = Math.floor(time / 1000) * 1000;
    const shown: Record<string, number> = {};
    for (const { type, value } of format.formatToParts(whole)) shown[type] = Number(value);
    const { year, month, day, hour, minute, second } = shown;
    return Date.UTC(year, month - 1, day, hour, minute, second) - whole;
  };
}

/** @param offset milliseconds that the clock is ahead of UTC at an instant */
function clockWith(name: string, offset: (time: number) => number): Clock {
  const instantOf = (date: CalendarDate, seconds: number): ClockInstant => {
    const shown = Date.UTC(date.year, date.month - 1, date.day) + seconds * 1000;
    // A day away on both sides no change of this night has yet been, or is still to come.
    const before = settled(shown, offset(shown - DAY), offset);
    const after = settled(shown, offset(shown + DAY), offset);
    if (before.holds && after.holds) {
      return { time: before.time, fit: after.time - before.time > 1000 ? 'twice' : 'once' };
    }
    if (before.holds || after.holds) return { time: before.holds ? before.time : after.time, fit: 'once' };
    return { time: shown - offset(shown - DAY), fit: 'skipped' };
  };
  const read = (time: number) => {
    const shown = new Date(time + offset(time));
    const date = {
      year: shown.getUTCFullYear(),
      month: shown.getUTCMonth() + 1,
      day: shown.getUTCDate(),
    };
    const midnight = Date.UTC(date.year, date.month - 1, date.day);
    return { date, seconds: (time + offset(time) - midnight) / 1000 };
  };
  return {
    name,
    instantOf,
    read,
    day: (date) => {
      const start = instantOf(date, 0).time;
      const end = instantOf(addDays(date, 1), 0).time;
      if (end <= start) throw new RangeError(`the clock of ${name} leaves out ${dateText(date)}`);
      return { start, end };
    },
    text: (time) => {
      const { date, seconds } = read(time + 30_000);
      const minutes = Math.floor(seconds / 60);
      const part = (value: number) => String(value).padStart(2, '0');
      return `${dateText(date)} ${part(Math.floor(minutes / 60))}:${part(minutes % 60)}`;
    },
  };
}

/**
 * The instant at which the clock shows a time, if the offset near it is as guessed. True solar time drifts by up to half a
 * minute a day, so the guess is bettered while it changes by less than a change of clocks does.
 */
function settled(
  shown: number,
  guess: number,
  offset: (time: number) => number,
): { readonly time: number; readonly holds: boolean } {
  let time = shown - guess;
  for (let step = 0; step < 4; step++) {
    const found = shown - offset(time);
    if (Math.abs(found - time) > 120_000) return { time, holds: false };
    if (Math.abs(found - time) < 0.5) return { time: found, holds: true };
    time = found;
  }
  return { time, holds: true };
}
