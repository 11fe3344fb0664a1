import { describe, expect, it } from 'vitest';
import type { TimeZoneSpec } from '../../src/scene/types.js';
import {
  addDays,
  calendarDate,
  dateOfDay,
  datesOfYear,
  dateText,
  dayOfYear,
  daysInYear,
} from '../../src/sun/calendar.js';
import { clockOf, UnknownTimeZoneError } from '../../src/sun/clock.js';
import { equationOfTime, solarNoon } from '../../src/sun/solar-time.js';
import { siteAt } from './sites.js';

const SITE = siteAt(34.5, -5.2);
const iana = (name: string) => clockOf(SITE, { kind: 'iana', name });
const HOUR = 3_600_000;

describe('calendar', () => {
  it('counts leap days: 2024 and 2000 have one, 2023 and 2100 none', () => {
    expect([2023, 2024, 2000, 2100].map(daysInYear)).toEqual([365, 366, 366, 365]);
    expect(datesOfYear(2024)).toHaveLength(366);
    expect(datesOfYear(2023)).toHaveLength(365);
    expect(dateText(addDays(calendarDate('2024-02-28'), 1))).toBe('2024-02-29');
    expect(dateText(addDays(calendarDate('2023-02-28'), 1))).toBe('2023-03-01');
    expect(dayOfYear(calendarDate('2024-03-01'))).toBe(61);
    expect(dayOfYear(calendarDate('2023-03-01'))).toBe(60);
    expect(dateText(dateOfDay(2024, 366))).toBe('2024-12-31');
    for (const date of datesOfYear(2024)) {
      expect(dateOfDay(2024, dayOfYear(date))).toEqual(date);
      expect(calendarDate(dateText(date))).toEqual(date);
    }
  });

  it.each(['2023-02-29', '2024-13-01', '2024-00-10', '2024-1-1', '1949-12-31', '2101-01-01', 'today', ''])(
    'refuses %s',
    (text) => {
      expect(() => calendarDate(text)).toThrow(/there is no day .*YYYY-MM-DD/);
    },
  );
});

describe('clocks of the time zone list', () => {
  it('turn clock times into instants, summer time included', () => {
    const clock = iana('Europe/Paris');
    expect(clock.instantOf(calendarDate('2026-01-15'), 43_200)).toEqual({
      time: Date.parse('2026-01-15T12:00:00+01:00'),
      fit: 'once',
    });
    expect(clock.instantOf(calendarDate('2026-07-15'), 43_200).time).toBe(
      Date.parse('2026-07-15T12:00:00+02:00'),
    );
    expect(clock.text(Date.parse('2026-07-15T22:59:40Z'))).toBe('2026-07-16 01:00');
  });

  it('say when a clock time is skipped, and take it as long after the jump', () => {
    const found = iana('Europe/Paris').instantOf(calendarDate('2026-03-29'), 2.5 * 3600);
    expect(found).toEqual({ time: Date.parse('2026-03-29T03:30:00+02:00'), fit: 'skipped' });
  });

  it('say when a clock time comes twice, and take the first', () => {
    const clock = iana('Europe/Paris');
    const found = clock.instantOf(calendarDate('2026-10-25'), 2.5 * 3600);
    expect(found).toEqual({ time: Date.parse('2026-10-25T02:30:00+02:00'), fit: 'twice' });
    expect(clock.read(found.time)).toEqual(clock.read(found.time + HOUR));
  });

  it('make days of 23 and 25 hours where clocks are changed, of half an hour on Lord Howe', () => {
    const hours = (zone: string, text: string) => {
      const { start, end } = iana(zone).day(calendarDate(text));
      return (end - start) / HOUR;
    };
    expect(hours('Europe/Paris', '2026-03-29')).toBe(23);
    expect(hours('Europe/Paris', '2026-10-25')).toBe(25);
    expect(hours('Europe/Paris', '2026-06-01')).toBe(24);
    expect(hours('Australia/Lord_Howe', '2026-04-05')).toBe(24.5);
    // Clocks were put forward at midnight: the day begins at 1:00.
    expect(hours('America/Santiago', '2019-09-08')).toBe(23);
    expect(() => iana('Pacific/Apia').day(calendarDate('2011-12-30'))).toThrow(/leaves out 2011-12-30/);
  });

  it('the days of a year fill it without gap or overlap', () => {
    for (const zone of ['Europe/Paris', 'Australia/Sydney', 'Africa/Casablanca', 'Asia/Kathmandu']) {
      const clock = iana(zone);
      const days = datesOfYear(2026).map(clock.day);
      days.slice(1).forEach((day, index) => {
        expect(day.start).toBe(days[index].end);
      });
    }
  });

  it('refuse a name that is not there', () => {
    expect(() => iana('Europe/Nowhere')).toThrow(UnknownTimeZoneError);
    expect(() => iana('Europe/Nowhere')).toThrow(/no time zone "Europe\/Nowhere"/);
  });

  it('agree with what they show, at odd instants of every kind of clock', () => {
    const zones: readonly (TimeZoneSpec | null)[] = [
      null,
      { kind: 'solar' },
      { kind: 'mean_solar' },
      { kind: 'offset', seconds: -12_600 },
      { kind: 'iana', name: 'America/St_Johns' },
    ];
    for (const zone of zones) {
      const clock = clockOf(SITE, zone);
      for (let index = 0; index < 60; index++) {
        const time = Date.UTC(2026, 0, 1) + index * 6.13 * 86_400_000;
        const { date, seconds } = clock.read(time);
        const found = clock.instantOf(date, seconds);
        const repeated = found.fit === 'twice' ? HOUR : 0;
        expect(Math.abs(found.time - time) % (repeated || Number.POSITIVE_INFINITY)).toBeLessThan(2);
      }
    }
  });
});

describe('other clocks', () => {
  it('a fixed offset knows no summer time', () => {
    const clock = clockOf(SITE, { kind: 'offset', seconds: -12_600 });
    expect(clock.name).toBe('UTC-03:30');
    expect(clock.instantOf(calendarDate('2026-07-15'), 0).time).toBe(Date.parse('2026-07-15T00:00:00-03:30'));
  });

  it('true solar time has noon where the sun crosses the meridian, on every day', () => {
    const clock = clockOf(SITE);
    expect(clock.name).toBe('true solar time');
    for (const date of datesOfYear(2026).filter(({ day }) => day % 9 === 1)) {
      const { time } = clock.instantOf(date, 43_200);
      expect(Math.abs(time - solarNoon(SITE, time))).toBeLessThan(50);
      expect(clock.text(time)).toBe(`${dateText(date)} 12:00`);
    }
  });

  it('mean solar time differs from it by the equation of time', () => {
    const date = calendarDate('2026-11-03');
    const mean = clockOf(SITE, { kind: 'mean_solar' }).instantOf(date, 43_200).time;
    const apparent = clockOf(SITE, { kind: 'solar' }).instantOf(date, 43_200).time;
    // Some 16 minutes in early November: the true sun is ahead.
    const ahead = (mean - apparent) / 1000;
    expect(ahead).toBeGreaterThan(16 * 60);
    expect(Math.abs(ahead - equationOfTime(SITE, apparent))).toBeLessThan(0.1);
    // 5.2 degrees west: 20.8 minutes after noon UTC.
    expect(mean).toBeCloseTo(Date.UTC(2026, 10, 3, 12) + 20.8 * 60_000, 3);
  });

  it('the site gives its clock where none is asked for', () => {
    const site = siteAt(34.5, -5.2, { timeZone: { kind: 'offset', seconds: 3600 } });
    expect(clockOf(site).name).toBe('UTC+01:00');
  });
});
