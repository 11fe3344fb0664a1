/** The steps of a day at which a scene is traced: clock times with the sun high enough and a beam in the sky. */

import type { Scene } from '../scene/types.js';
import { type CalendarDate, dateText } from '../sun/calendar.js';
import type { Clock } from '../sun/clock.js';
import { seenSun } from '../sun/direction.js';
import { momentAt, NoSiteError, type Sky, type SkyMoment } from '../sun/sky.js';
import { describeSunDay, type SunDay, solarTime, sunDay } from '../sun/solar-time.js';

const DEGREE = Math.PI / 180;

/** A day that cannot be studied as asked; the message is for the user. */
export class DayError extends Error {
  override readonly name = 'DayError';
}

export interface DayStep {
  readonly moment: SkyMoment;
  /** What the clock shows, HH:MM. */
  readonly clock: string;
  /** True solar time, seconds of the day. */
  readonly solar: number;
}

export interface StepWish {
  /** Seconds between steps, from the clock's midnight on. Not read where `at` is given. */
  readonly every: number;
  /** Clock times, seconds of the day. */
  readonly at: readonly number[] | null;
  /** Least elevation of the sun's centre as seen, radians. */
  readonly above: number;
}

export interface DaySteps {
  readonly day: SunDay;
  /** In order of time; one at least. */
  readonly steps: readonly DayStep[];
  /** What the user should know of the choice. */
  readonly notices: readonly string[];
}

/** @returns HH:MM of seconds of a day, to the nearest minute */
export function hourText(seconds: number): string {
  const minutes = Math.round(seconds / 60) % 1440;
  return `${String(Math.floor(minutes / 60)).padStart(2, '0')}:${String(minutes % 60).padStart(2, '0')}`;
}

function degrees(radians: number): string {
  return `${Number((radians / DEGREE).toFixed(1))} degrees`;
}

/**
 * @throws NoSiteError; DayError in polar night, where the sun stays below `above` all day, or at a clock time of `at` that the
 *   clock leaves out or that has the sun too low
 */
export function daySteps(
  scene: Pick<Scene, 'site'>,
  sky: Sky,
  clock: Clock,
  date: CalendarDate,
  wish: StepWish,
): DaySteps {
  const { site } = scene;
  if (site === null) throw new NoSiteError();
  const day = sunDay(site, clock, date);
  if (day.kind === 'polar_night') {
    throw new DayError(`${describeSunDay(day, clock)}: there is no light to trace`);
  }
  const stepAt = (time: number): DayStep => ({
    moment: momentAt(scene, sky, time),
    clock: clock.text(time).slice(11),
    solar: solarTime(site, time),
  });
  const notices: string[] = [];
  const steps: DayStep[] = [];
  const tooLow: string[] = [];
  for (const { seconds, asked } of secondsOf(wish)) {
    const { time, fit } = clock.instantOf(date, seconds);
    if (fit === 'skipped') {
      if (asked)
        throw new DayError(`the clock of ${clock.name} leaves out ${hourText(seconds)} on ${dateText(date)}`);
      continue;
    }
    if (fit === 'twice' && asked) {
      notices.push(`The clock shows ${hourText(seconds)} twice on ${dateText(date)}; the first is taken.`);
    }
    if (time >= day.end) continue;
    if (seenSun(site, time).elevation >= wish.above) steps.push(stepAt(time));
    else if (asked) tooLow.push(hourText(seconds));
  }
  if (tooLow.length > 0) {
    throw new DayError(
      `the sun stands below ${degrees(wish.above)} at ${tooLow.join(', ')} on ${dateText(date)} (${describeSunDay(day, clock)})`,
    );
  }
  if (steps.length === 0) {
    throw new DayError(
      `the sun does not stand above ${degrees(wish.above)} at any step (${describeSunDay(day, clock)}); take shorter steps or a lower limit`,
    );
  }
  return { day, steps, notices };
}

function secondsOf({ every, at }: StepWish): { readonly seconds: number; readonly asked: boolean }[] {
  if (at !== null) return [...at].sort((a, b) => a - b).map((seconds) => ({ seconds, asked: true }));
  return Array.from({ length: Math.ceil(86_400 / every) }, (_, k) => ({ seconds: k * every, asked: false }));
}
