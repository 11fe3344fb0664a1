/** What the gaps of a weather file take from a year. */
import { describe, expect, it } from 'vitest';
import { weatherGaps } from '../../src/study/season-gaps.js';
import { clockOf } from '../../src/sun/clock.js';
import { skyOf } from '../../src/sun/sky.js';
import { sunUpBetween } from '../../src/sun/solar-time.js';
import { parseWeather } from '../../src/sun/weather.js';
import { siteAt, under } from '../sun/sites.js';
import { type EpwChoices, epwText, withCell } from '../sun/weather-files.js';

const HOUR = 3_600_000;
const DAY = 24 * HOUR;
const SITE = siteAt(34.5, -5.2, { height: 450 });
const FILE = { kind: 'weather', file: 'tarn.epw', layout: { kind: 'epw' } } as const;
const CLOCK = clockOf(SITE, { kind: 'offset', seconds: 0 });
/** 31 May to 10 June. */
const FIRST = 150;
const LAST = 160;

function gapsOf(choices: EpwChoices, clock = CLOCK) {
  const outcome = parseWeather(epwText(choices), { kind: 'epw' }, 'tarn.epw');
  if (!outcome.ok) throw new Error('the invented file does not load');
  return weatherGaps(SITE, clock, skyOf(under(FILE, SITE), outcome.weather), 2025);
}

/** Days FIRST to `last` without beam irradiance. */
function without(last: number) {
  return (lines: string[]) => {
    for (let i = 24 * FIRST; i < 24 * last; i++) lines[i] = withCell(lines[i], 15, 9999);
  };
}

function sunlit(from: number, to: number): number {
  const [start, end] = [Date.UTC(2025, 0, 1) + from * DAY, Date.UTC(2025, 0, 1) + to * DAY];
  return sunUpBetween(SITE, start, end).reduce((sum, part) => sum + part.to - part.from, 0) / HOUR;
}

/** 600 W/m2 in every hour that has sun, over all of the hour. */
function steady(start: number, end: number): number {
  return sunUpBetween(SITE, start, end).length > 0 ? 600 : 0;
}

describe('gaps of the weather', () => {
  it('none are told where there are none, nor where short ones are filled', () => {
    expect(gapsOf({ dni: steady })).toBeNull();
    const short = (lines: string[]) => {
      for (let i = 24 * FIRST + 10; i < 24 * FIRST + 13; i++) lines[i] = withCell(lines[i], 15, 9999);
    };
    expect(gapsOf({ dni: steady, edit: short })).toBeNull();
  });

  it('ten days without weather: their hours of sun, and their share of a year of steady beam', () => {
    const gaps = gapsOf({ dni: steady, edit: without(LAST) });
    expect(gaps?.sun_hours).toBeCloseTo(sunlit(FIRST, LAST), 3);
    // Every sunlit hour brings the same, so the share is that of the hours touched by the sun.
    const hours = (from: number, to: number): number => {
      let count = 0;
      for (let at = Date.UTC(2025, 0, 1) + from * DAY; at < Date.UTC(2025, 0, 1) + to * DAY; at += HOUR)
        if (steady(at, at + HOUR) > 0) count++;
      return count;
    };
    const wanted = hours(FIRST, LAST) / hours(0, 365);
    expect(Math.abs((gaps?.beam_fraction ?? 0) / wanted - 1)).toBeLessThan(0.005);
    // Fault: five days of the ten.
    const half = gapsOf({ dni: steady, edit: without((FIRST + LAST) / 2) });
    expect(Math.abs((half?.beam_fraction ?? 0) / wanted - 1)).toBeGreaterThan(0.4);
  });

  it('a clock whose hours are not those of the file finds the same gaps', () => {
    const solar = clockOf(SITE, { kind: 'solar' });
    expect(gapsOf({ dni: steady }, solar)).toBeNull();
    const gaps = gapsOf({ dni: steady, edit: without(LAST) }, solar);
    expect(gaps?.sun_hours).toBeCloseTo(sunlit(FIRST, LAST), 3);
  });

  it('goes by the days about the gap, not by the year', () => {
    const bright = (start: number, end: number): number =>
      steady(start, end) * (Math.abs(start - Date.UTC(2025, 5, 5)) < 30 * DAY ? 1.5 : 1);
    const gaps = gapsOf({ dni: bright, edit: without(LAST) });
    const plain = gapsOf({ dni: steady, edit: without(LAST) });
    const ratio = (gaps?.beam_fraction ?? 0) / (plain?.beam_fraction ?? 1);
    // 1.5 x as much in the gap, and 60 long days of the year likewise.
    expect(ratio).toBeGreaterThan(1.3);
    expect(ratio).toBeLessThan(1.45);
  });
});
