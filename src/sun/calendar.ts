/** Days of the calendar, without clock or place. Gregorian, years 1950 to 2100 as in scene files. */

export interface CalendarDate {
  readonly year: number;
  /** 1 to 12. */
  readonly month: number;
  readonly day: number;
}

const FIRST_YEAR = 1950;
const LAST_YEAR = 2100;
const DAY = 86_400_000;

function midnight({ year, month, day }: CalendarDate): number {
  return Date.UTC(year, month - 1, day);
}

function dateAt(utc: number): CalendarDate {
  const date = new Date(utc);
  return { year: date.getUTCFullYear(), month: date.getUTCMonth() + 1, day: date.getUTCDate() };
}

/** @returns whether there is such a day */
export function isDate(date: CalendarDate): boolean {
  const { year, month, day } = dateAt(midnight(date));
  return year === date.year && month === date.month && day === date.day;
}

/**
 * @param text YYYY-MM-DD
 * @throws RangeError when that is no day of the years 1950 to 2100
 */
export function calendarDate(text: string): CalendarDate {
  const [, year, month, day] = (/^(\d{4})-(\d{2})-(\d{2})$/u.exec(text) ?? []).map(Number);
  const date = { year, month, day };
  if (year === undefined || year < FIRST_YEAR || year > LAST_YEAR || !isDate(date)) {
    throw new RangeError(
      `there is no day ${JSON.stringify(text)}: write YYYY-MM-DD, a day of the years ${FIRST_YEAR} to ${LAST_YEAR}`,
    );
  }
  return date;
}

/** @returns YYYY-MM-DD */
export function dateText({ year, month, day }: CalendarDate): string {
  return `${year}-${String(month).padStart(2, '0')}-${String(day).padStart(2, '0')}`;
}

/** @returns 1 for 1 January to 365 or 366 */
export function dayOfYear(date: CalendarDate): number {
  return Math.round((midnight(date) - Date.UTC(date.year, 0, 1)) / DAY) + 1;
}

export function daysInYear(year: number): 365 | 366 {
  return dayOfYear({ year, month: 12, day: 31 }) === 366 ? 366 : 365;
}

export function addDays(date: CalendarDate, days: number): CalendarDate {
  return dateAt(midnight(date) + days * DAY);
}

/** @param day 1 for 1 January */
export function dateOfDay(year: number, day: number): CalendarDate {
  return addDays({ year, month: 1, day: 1 }, day - 1);
}

/** All days of a year in order. */
export function datesOfYear(year: number): readonly CalendarDate[] {
  return Array.from({ length: daysInYear(year) }, (_, index) => dateOfDay(year, index + 1));
}
