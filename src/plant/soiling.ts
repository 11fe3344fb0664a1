/** Dirt on the mirrors from day to day: it builds up, rain takes some off, washing most. */

import { aboveZero, wholeFrom, within } from './inputs.js';

export interface Soiling {
  readonly kind: 'linear' | 'exponential';
  /** Share of the clean reflectance lost a day (linear), or of what is left (exponential). */
  readonly perDay: number;
  /** Least factor that dirt comes to; 0 where left out. Long-term losses level off at 25 to 60 % (soiling report of 1990, abstract read). */
  readonly floor?: number;
  /** Days with rain in each month, January first. */
  readonly rainDays: readonly number[];
  /** Share of the loss that a rain takes back, 0 to 1. */
  readonly rainRecovery: number;
}

export interface Washing {
  readonly everyDays: number;
  /** Money for all mirrors, once. */
  readonly cost: number;
  /** Share of the dirt's loss that it takes back, 0 to 1. */
  readonly recovery: number;
  /** Share of the reflectance that one washing rubs off for good. */
  readonly wear: number;
}

/** Days of each month of a common year. */
export const MONTH_DAYS: readonly number[] = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];

/** Mean factor between two washings n days apart, linear: 1 - r n / 2. Closed form; r n up to 1. */
export function meanSoilingLinear(perDay: number, days: number): number {
  within('loss between two washings', perDay * days, 0, 1);
  return 1 - (perDay * days) / 2;
}

/** Mean factor between two washings n days apart, exponential: (1 - exp(-r n)) / (r n). Closed form. */
export function meanSoilingExponential(perDay: number, days: number): number {
  const loss = within('loss between two washings', perDay * days, 0);
  return loss === 0 ? 1 : -Math.expm1(-loss) / loss;
}

/** @throws RangeError for figures that cannot be */
export function checkSoiling(soiling: Soiling): void {
  within('soiling a day', soiling.perDay, 0, 1);
  within('least soiling factor', soiling.floor ?? 0, 0, 1);
  within('recovery by rain', soiling.rainRecovery, 0, 1);
  if (soiling.rainDays.length !== 12) {
    throw new RangeError(`rain days need 12 months, got ${soiling.rainDays.length}`);
  }
  for (const [month, days] of soiling.rainDays.entries()) {
    within(`rain days of month ${month + 1}`, days, 0, MONTH_DAYS[month]);
  }
}

/** @throws RangeError for figures that cannot be */
export function checkWashing(washing: Washing): void {
  wholeFrom('days between washings', washing.everyDays, 1);
  within('cost of a washing', washing.cost, 0);
  within('recovery by washing', washing.recovery, 0, 1);
  within('wear of a washing', washing.wear, 0, 0.5);
}

/**
 * Mean factor of each day, from clean mirrors on 1 January. Washing is done before sunrise, rain falls in the night.
 * @param days how many
 * @param draw uniform on [0, 1): rain by chance with each month's frequency; rain evenly spaced where it is left out
 */
export function soilingByDay(
  soiling: Soiling,
  days: number,
  washing: Washing | null = null,
  draw?: () => number,
): Float64Array {
  checkSoiling(soiling);
  wholeFrom('days', days, 1);
  if (washing) checkWashing(washing);
  const factors = new Float64Array(days);
  const floor = soiling.floor ?? 0;
  let clean = 1;
  let due = 0;
  for (let day = 0; day < days; day++) {
    if (washing && day > 0 && day % washing.everyDays === 0) clean = 1 - (1 - clean) * (1 - washing.recovery);
    const [mean, evening] = dayOfSoiling(soiling, clean, floor);
    factors[day] = mean;
    clean = evening;
    const month = monthOfDay(day);
    const chance = soiling.rainDays[month] / MONTH_DAYS[month];
    due += chance;
    const rain = draw ? draw() < chance : due >= 1 - 1e-9;
    if (rain) {
      clean = 1 - (1 - clean) * (1 - soiling.rainRecovery);
      due -= 1;
    }
  }
  return factors;
}

/** Mean over a day and the factor in the evening, exact for both kinds, on the day that meets the floor too. */
function dayOfSoiling(soiling: Soiling, clean: number, floor: number): readonly [number, number] {
  const { kind, perDay } = soiling;
  if (clean <= floor) return [floor, floor];
  const evening = kind === 'linear' ? clean - perDay : clean * Math.exp(-perDay);
  if (evening < floor) {
    const share = (kind === 'linear' ? clean - floor : Math.log(clean / floor)) / perDay;
    const falling = kind === 'linear' ? (share * (clean + floor)) / 2 : (clean - floor) / perDay;
    return [falling + (1 - share) * floor, floor];
  }
  const mean = kind === 'linear' ? (clean + evening) / 2 : clean * meanSoilingExponential(perDay, 1);
  return [mean, evening];
}

/** Month, 0 to 11, of a day counted from 1 January of a common year, year after year. */
export function monthOfDay(day: number): number {
  let left = day % 365;
  let month = 0;
  while (left >= MONTH_DAYS[month]) {
    left -= MONTH_DAYS[month];
    month++;
  }
  return month;
}

/**
 * Mean factor of each calendar month over some years, the first year left out: it begins clean.
 * @param years 1 or more, counted after the first
 */
export function soilingByMonth(
  soiling: Soiling,
  years: number,
  washing: Washing | null = null,
  draw?: () => number,
): readonly number[] {
  const days = 365 * (wholeFrom('years', aboveZero('years', years), 1) + 1);
  const factors = soilingByDay(soiling, days, washing, draw);
  const sums = new Array<number>(12).fill(0);
  for (let day = 365; day < days; day++) sums[monthOfDay(day)] += factors[day];
  return sums.map((sum, month) => sum / (MONTH_DAYS[month] * years));
}
