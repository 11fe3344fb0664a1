/** Steps of a day, and what a day cannot be done for. */
import { describe, expect, it } from 'vitest';
import { DayError, daySteps, hourText, type StepWish } from '../../src/study/day-steps.js';
import { calendarDate } from '../../src/sun/calendar.js';
import { clockOf } from '../../src/sun/clock.js';
import { NoSiteError, skyOf } from '../../src/sun/sky.js';
import { siteAt, under } from '../sun/sites.js';
import { RADIANS } from './days.js';

const EVERY_HALF_HOUR: StepWish = { every: 1800, at: null, above: 5 * RADIANS };

function stepsOn(date: string, wish: Partial<StepWish> = {}, latitude = 35, zone: string | null = null) {
  const site = siteAt(latitude, 12, { timeZone: zone === null ? null : { kind: 'iana', name: zone } });
  const scene = under(null, site);
  return daySteps(scene, skyOf(scene, null), clockOf(site), calendarDate(date), {
    ...EVERY_HALF_HOUR,
    ...wish,
  });
}

describe('steps of a day', () => {
  it('stand on the clock from the first to the last with the sun high enough', () => {
    const { steps } = stepsOn('2026-03-20');
    expect(steps.map(({ clock }) => clock).slice(0, 2)).toEqual(['06:30', '07:00']);
    expect(steps.at(-1)?.clock).toBe('17:30');
    expect(steps).toHaveLength(23);
    for (const { moment } of steps) expect(moment.elevation).toBeGreaterThanOrEqual(5 * RADIANS);
    // True solar time is the clock here.
    for (const { clock, solar } of steps) expect(hourText(solar)).toBe(clock);
  });

  it('come at the times asked for, in order', () => {
    const { steps } = stepsOn('2026-03-20', { at: [12 * 3600, 9 * 3600 + 1800] });
    expect(steps.map(({ clock }) => clock)).toEqual(['09:30', '12:00']);
  });

  it('are none twice and none left out where the clock is changed', () => {
    // Europe/Rome: forward on 29 March 2026 at 2:00, back on 25 October at 3:00.
    for (const date of ['2026-03-29', '2026-10-25']) {
      const { steps } = stepsOn(date, { above: 0 }, 42, 'Europe/Rome');
      const gaps = new Set(steps.slice(1).map(({ moment }, i) => moment.time - steps[i].moment.time));
      expect([...gaps]).toEqual([1_800_000]);
    }
    expect(() => stepsOn('2026-03-29', { at: [9000], above: 0 }, 42, 'Europe/Rome')).toThrow(
      /leaves out 02:30/,
    );
  });

  it.each<readonly [string, Partial<StepWish>, number, RegExp]>([
    ['2026-12-21', {}, 75, /polar night/],
    ['2026-12-21', { above: 40 * RADIANS }, 35, /does not stand above 40 degrees/],
    ['2026-03-20', { at: [43_200, 6 * 3600] }, 35, /below 5 degrees at 06:00/],
  ])('%s: says why there is nothing to trace', (date, wish, latitude, message) => {
    const wrong = () => stepsOn(date, wish, latitude);
    expect(wrong).toThrow(DayError);
    expect(wrong).toThrow(message);
  });

  it('has a polar day from midnight to midnight', () => {
    const { steps } = stepsOn('2026-06-21', { above: 0 }, 75);
    expect(steps).toHaveLength(48);
  });

  it('needs a site', () => {
    const site = siteAt(35, 12);
    const sky = skyOf(under(null, site), null);
    expect(() =>
      daySteps(under(null, null), sky, clockOf(site), calendarDate('2026-03-20'), EVERY_HALF_HOUR),
    ).toThrow(NoSiteError);
  });
});
