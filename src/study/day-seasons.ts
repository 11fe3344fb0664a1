/** The days that a receiver's track is worked out for: seasons by the sun's declination, days alike merged. */
import { directionOf, dot } from '../field/vector.js';
import type { Site } from '../scene/types.js';
import { type CalendarDate, datesOfYear, dateText, dayOfYear } from '../sun/calendar.js';
import { airlessSun } from '../sun/direction.js';
import { DayError } from './day-steps.js';

const DEGREE = Math.PI / 180;
/** Days whose declination differs by less than this count as one season: 0.2 degrees move a spot by 7 mm at 2 m. */
const ALIKE = 0.2 * DEGREE;

export interface Season {
  /** The places are those of the first; the others have the sun on nearly the same way. */
  readonly dates: readonly CalendarDate[];
  /** Of the sun at noon of the first date, radians. */
  readonly declination: number;
  /** Days of the year that are nearest to this season. */
  readonly days: number;
}

/** Declination of the sun at about noon of the site's meridian, radians. */
export function declinationOn(site: Site, { year, month, day }: CalendarDate): number {
  const noon = Date.UTC(year, month - 1, day, 12) - (site.longitude / (2 * Math.PI)) * 86_400_000;
  const pole = [0, Math.cos(site.latitude), Math.sin(site.latitude)] as const;
  return Math.asin(dot(directionOf(airlessSun(site, noon)), pole));
}

interface Dated {
  readonly date: CalendarDate;
  readonly declination: number;
}

function nearestTo(days: readonly Dated[], declination: number): Dated {
  return days.reduce((a, b) =>
    Math.abs(b.declination - declination) < Math.abs(a.declination - declination) ? b : a,
  );
}

/**
 * Both solstices, an equinox and the 21st of the months between, each with the day of the other half of the year that has the sun
 * on the same way.
 */
export function usualSeasons(site: Site, year: number): readonly Season[] {
  const days = datesOfYear(year).map((date) => ({ date, declination: declinationOn(site, date) }));
  const june = days.reduce((a, b) => (b.declination > a.declination ? b : a));
  const december = days.reduce((a, b) => (b.declination < a.declination ? b : a));
  const spring = days.filter(({ date }) => dayOfYear(date) <= dayOfYear(june.date));
  const autumn = days.filter(
    ({ date }) => dayOfYear(date) > dayOfYear(june.date) && dayOfYear(date) < dayOfYear(december.date),
  );
  const equinox = nearestTo(spring, 0);
  const of = (month: number): Dated => {
    const date = { year, month, day: 21 };
    return { date, declination: declinationOn(site, date) };
  };
  const middle = [of(1), of(2), equinox, of(4), of(5)].map((one) => [
    one,
    nearestTo(autumn, one.declination),
  ]);
  return withDays([[december], ...middle, [june]], days);
}

/**
 * Seasons of the days asked for; those alike are merged.
 * @throws DayError for a day that is given twice
 */
export function seasonsOfDates(site: Site, dates: readonly CalendarDate[]): readonly Season[] {
  const texts = dates.map(dateText);
  const twice = texts.find((text, i) => texts.indexOf(text) < i);
  if (twice !== undefined) throw new DayError(`the day ${twice} is given twice`);
  const groups: Dated[][] = [];
  for (const date of dates) {
    const declination = declinationOn(site, date);
    const group = groups.find(([first]) => Math.abs(first.declination - declination) < ALIKE);
    if (group === undefined) groups.push([{ date, declination }]);
    else group.push({ date, declination });
  }
  groups.sort(([a], [b]) => a.declination - b.declination);
  const days = datesOfYear(dates[0].year).map((date) => ({ date, declination: declinationOn(site, date) }));
  return withDays(groups, days);
}

function withDays(groups: readonly (readonly Dated[])[], days: readonly Dated[]): readonly Season[] {
  const counts = groups.map(() => 0);
  const firsts = groups.map(([first]) => first);
  for (const { declination } of days) counts[firsts.indexOf(nearestTo(firsts, declination))]++;
  return groups.map((group, i) => ({
    dates: group.map(({ date }) => date),
    declination: group[0].declination,
    days: counts[i],
  }));
}

const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];

/** @returns e.g. "21 Apr and 22 Aug" */
export function seasonName({ dates }: Pick<Season, 'dates'>): string {
  return dates.map(({ day, month }) => `${day} ${MONTHS[month - 1]}`).join(' and ');
}
