/** Weather looked up by instant; that of one year stands for every year. */
import { daysInYear } from './calendar.js';
import type { Weather } from './weather-types.js';

/** Indices of a weather's intervals, with the instants at which they begin in some year. */
export interface WeatherYear {
  /** Milliseconds since 1970 UTC, rising. */
  readonly start: Float64Array;
  readonly index: Int32Array;
}

/** @returns the intervals as they are dated in the file */
export function asDated(weather: Weather): WeatherYear {
  return { start: weather.start, index: Int32Array.from(weather.start.keys()) };
}

/**
 * The intervals put into a year by month, day and hour of the file's clock. In a leap year 29 February takes the weather of the
 * 28th where the file has none; in another the file's 29 February is left out.
 */
export function inYear(weather: Weather, year: number): WeatherYear {
  const dated: { readonly start: number; readonly index: number }[] = [];
  const put = (index: number, month: number, day: number, clock: number) => {
    dated.push({ start: Date.UTC(year, month, day) + clock - weather.utcOffset, index });
  };
  const leap = daysInYear(year) === 366;
  const local = Array.from(weather.start, (start) => new Date(start + weather.utcOffset));
  const hasLeapDay = local.some((date) => date.getUTCMonth() === 1 && date.getUTCDate() === 29);
  local.forEach((date, index) => {
    const [month, day] = [date.getUTCMonth(), date.getUTCDate()];
    const clock = date.getTime() - Date.UTC(date.getUTCFullYear(), month, day);
    if (month === 1 && day === 29 && !leap) return;
    put(index, month, day, clock);
    if (month === 1 && day === 28 && leap && !hasLeapDay) put(index, month, 29, clock);
  });
  dated.sort((first, second) => first.start - second.start);
  // A file that is a little longer than a year has some hours twice.
  const once = dated.filter(({ start }, place) => place === 0 || start > dated[place - 1].start);
  return {
    start: Float64Array.from(once, ({ start }) => start),
    index: Int32Array.from(once, ({ index }) => index),
  };
}

/** @returns the place of the first interval that begins at an instant or later */
export function firstFrom(start: Float64Array, time: number): number {
  let low = 0;
  let high = start.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (start[middle] < time) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** @returns the place of the last interval that begins at an instant or earlier; -1 where there is none */
export function lastUpTo(start: Float64Array, time: number): number {
  const place = firstFrom(start, time);
  return start[place] === time ? place : place - 1;
}
