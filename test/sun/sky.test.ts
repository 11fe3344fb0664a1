import { describe, expect, it } from 'vitest';
import type { ClearSkySpec, Scene, SkySpec } from '../../src/scene/types.js';
import { calendarDate } from '../../src/sun/calendar.js';
import { clearSkyBeam, extraterrestrialBeam } from '../../src/sun/clear-sky.js';
import { clockOf } from '../../src/sun/clock.js';
import { seenSun } from '../../src/sun/direction.js';
import {
  momentAt,
  NoSiteError,
  type Sky,
  type SkyStep,
  skyOf,
  WeatherMissingError,
} from '../../src/sun/sky.js';
import { hourAngle, solarNoon, sunDay } from '../../src/sun/solar-time.js';
import { parseWeather } from '../../src/sun/weather.js';
import type { Weather } from '../../src/sun/weather-types.js';
import { DEGREE, siteAt, under } from './sites.js';
import { type EpwChoices, epwText } from './weather-files.js';

const HOUR = 3_600_000;
const SITE = siteAt(34.5, -5.2, { height: 450 });
const MEINEL: ClearSkySpec = { kind: 'meinel', clearness: 1 };
const HOTTEL: ClearSkySpec = { kind: 'hottel', climate: 'tropical', visibility: 23_000, clearness: 0.9 };
const FILE: SkySpec = { kind: 'weather', file: 'tarn.epw', layout: { kind: 'epw' } };
const NOON = solarNoon(SITE, Date.UTC(2026, 2, 20, 12));

function weatherOf(choices: EpwChoices): Weather {
  const outcome = parseWeather(epwText(choices), { kind: 'epw' }, 'tarn.epw');
  if (!outcome.ok) throw new Error('the invented file does not load');
  return outcome.weather;
}

/** Beam energy of steps, kWh/m2. */
function energy(steps: readonly SkyStep[]): number {
  return steps.reduce((sum, { dni, start, end }) => sum + (dni * (end - start)) / 3.6e9, 0);
}

/** Mean of Meinel's beam over a stretch, by the middles of minutes. */
function meanBeam(start: number, end: number): number {
  let sum = 0;
  for (let minute = 0; minute < 60; minute++) {
    const time = start + ((minute + 0.5) * (end - start)) / 60;
    const { elevation } = seenSun(SITE, time);
    sum += clearSkyBeam({ kind: 'meinel', clearness: 1 }, SITE, Math.PI / 2 - elevation, time);
  }
  return sum / 60;
}

describe('clear sky of a scene', () => {
  it('follows the formula at the height of the sun as seen', () => {
    for (const hours of [-5, -2, 0, 3]) {
      const time = NOON + hours * HOUR;
      const zenith = Math.PI / 2 - seenSun(SITE, time).elevation;
      for (const spec of [MEINEL, HOTTEL]) {
        const sky = skyOf(under(spec, SITE), null);
        expect(sky.beamAt(time).dni).toBe(clearSkyBeam(spec, SITE, zenith, time));
        expect(sky.assumed).toBe(false);
      }
    }
  });

  it('gives 0 by night, with the air of the site and no wind known', () => {
    const beam = skyOf(under(HOTTEL, SITE), null).beamAt(NOON + 12 * HOUR);
    expect(beam).toEqual({
      dni: 0,
      known: true,
      ambient: SITE.temperature,
      wind: null,
      pressure: SITE.pressure,
    });
  });

  it('is assumed where the scene says nothing, and says so', () => {
    const sky = skyOf(under(null, SITE), null);
    const stated: SkySpec = {
      kind: 'hottel',
      climate: 'midlatitude_summer',
      visibility: 23_000,
      clearness: 1,
    };
    const same = skyOf(under(stated, SITE), null);
    expect(sky.assumed).toBe(true);
    expect(sky.beamAt(NOON)).toEqual(same.beamAt(NOON));
    expect(sky.describe()).toBe(
      'clear sky by Hottel (1976), midlatitude summer, visibility 23 km, at 450 m; assumed, as the scene does not describe its sky',
    );
    expect(same.describe()).not.toMatch(/assumed/);
    expect(skyOf(under(HOTTEL, SITE), null).describe()).toMatch(/tropical.*450 m, times 0.9$/);
    expect(skyOf(under(MEINEL, SITE), null).describe()).toBe('clear sky by Meinel (1976) at 450 m');
  });

  it('ends where the assumed formula does, and says so', () => {
    const high = siteAt(34.5, -5.2, { height: 3800 });
    const sky = skyOf(under(null, high), null);
    expect(sky.notices).toEqual([expect.stringMatching(/3800 m high.*2500 m/)]);
    expect(sky.describe()).toMatch(/at 2500 m/);
    expect(skyOf(under(null, SITE), null).notices).toEqual([]);
  });

  it('steps hold the energy of the day, whatever their width', () => {
    const sky = skyOf(under(MEINEL, SITE), null);
    const day = sunDay(SITE, clockOf(SITE), calendarDate('2026-03-20'));
    let truth = 0;
    for (let start = day.start; start < day.end; start += HOUR)
      truth +=
        (meanBeam(start, Math.min(day.end, start + HOUR)) * Math.min(1, (day.end - start) / HOUR)) / 1000;
    const miss = (width: number) => Math.abs(energy(sky.steps(day.start, day.end, width)) / truth - 1);
    expect(miss(600_000)).toBeLessThan(2e-3);
    expect(miss(HOUR)).toBeLessThan(0.015);
    // Sabotage: the middle of the hour in place of the middle of its sunlit part loses the first and last light.
    const blunt = sky.steps(day.start, day.end, 4 * HOUR);
    const middles = blunt.reduce(
      (sum, { start, end }) => sum + (sky.beamAt((start + end) / 2).dni * (end - start)) / 3.6e9,
      0,
    );
    expect(Math.abs(middles / truth - 1)).toBeGreaterThan(2 * miss(4 * HOUR));
  });

  it('steps are the sunlit ones; the last ends where asked', () => {
    const sky = skyOf(under(MEINEL, SITE), null);
    const steps = sky.steps(NOON - 12 * HOUR, NOON + 11.5 * HOUR);
    const { up } = sunDay(SITE, clockOf(SITE), calendarDate('2026-03-20'));
    const lit = steps.reduce((sum, { sunlit }) => sum + sunlit, 0);
    expect(Math.abs(lit - (up[0].to - up[0].from) / 1000)).toBeLessThan(1);
    for (const { start, end, time, sunlit } of steps) {
      expect(time).toBeGreaterThan(start);
      expect(time).toBeLessThan(end);
      expect(sunlit).toBeGreaterThan(0);
      expect(sunlit).toBeLessThanOrEqual((end - start) / 1000);
      expect(seenSun(SITE, time).elevation).toBeGreaterThan(0);
    }
    expect(sky.steps(NOON, NOON + 1.5 * HOUR).map(({ end }) => (end - NOON) / HOUR)).toEqual([1, 1.5]);
    expect(() => sky.steps(NOON, NOON)).toThrow(RangeError);
    expect(() => sky.steps(NOON, NOON + HOUR, 0)).toThrow(RangeError);
  });

  it('is the same in the morning and the afternoon of a solstice', () => {
    const sky = skyOf(under(MEINEL, SITE), null);
    const noon = solarNoon(SITE, Date.UTC(2026, 5, 21, 12));
    for (const hours of [1, 3, 5, 6]) {
      const [early, late] = [-1, 1].map((sign) => sky.beamAt(noon + sign * hours * HOUR).dni);
      expect(Math.abs(early / late - 1)).toBeLessThan(2e-3);
    }
    // Sabotage: about noon of the clock.
    const [early, late] = [-1, 1].map((sign) => sky.beamAt(Date.UTC(2026, 5, 21, 12 + sign * 6)).dni);
    expect(Math.abs(early / late - 1)).toBeGreaterThan(0.05);
  });

  it('never passes the irradiance outside the air', () => {
    const high = siteAt(20, 10, { height: 2500 });
    for (const spec of [MEINEL, { ...HOTTEL, clearness: 1 }]) {
      const sky = skyOf(under(spec, high), null);
      for (let day = 0; day < 365; day += 7) {
        const time = solarNoon(high, Date.UTC(2026, 0, 1 + day, 12));
        expect(sky.beamAt(time).dni).toBeLessThan(extraterrestrialBeam(time));
      }
    }
  });
});

describe('sky of a weather file', () => {
  const modelled = weatherOf({ dni: (start, end) => meanBeam(start, end), zone: 1 });
  const sky = skyOf(under(FILE, SITE), modelled);

  it('gives the mean of the hour while the sun is up, and its air', () => {
    const beam = sky.beamAt(NOON);
    expect(beam).toMatchObject({ known: true, wind: 2.5, pressure: 96_000 });
    expect(beam.ambient).toBeCloseTo(288.65, 10);
    const hour = Math.floor(NOON / HOUR) * HOUR;
    // The file is of 2025, the instant of 2026: a quarter of a day's declination apart.
    expect(Math.abs(beam.dni / meanBeam(hour, hour + HOUR) - 1)).toBeLessThan(0.002);
    expect(sky.beamAt(NOON + 12 * HOUR).dni).toBe(0);
    expect(sky.describe()).toBe(
      'weather of tarn.epw (Tarn Hollow (invented)), 8760 hours, taken for any year',
    );
    expect(sky.notices).toEqual([]);
  });

  it('loses no energy of the file over a year', () => {
    const all = modelled.dni.reduce((sum, dni) => sum + dni, 0) / 1000;
    const found = energy(sky.steps(Date.UTC(2026, 0, 1) - HOUR, Date.UTC(2027, 0, 1) - HOUR));
    // Only minutes about sunrise and sunset move over the edge of an hour from one year to another.
    expect(Math.abs(found / all - 1)).toBeLessThan(5e-4);
  });

  it('has its energy about solar noon', () => {
    const centre = (given: Sky) => {
      const steps = given.steps(Date.UTC(2026, 2, 1), Date.UTC(2026, 3, 1));
      const sum = steps.reduce((total, { dni, time }) => total + dni * hourAngle(SITE, time), 0);
      return sum / steps.reduce((total, { dni }) => total + dni, 0) / DEGREE;
    };
    expect(Math.abs(centre(sky))).toBeLessThan(0.6);
    // Sabotage: hours taken to begin where they end.
    const late: Weather = { ...modelled, start: modelled.end, end: modelled.end.map((end) => end + HOUR) };
    expect(centre(skyOf(under(FILE, SITE), late))).toBeGreaterThan(10);
  });

  it('serves leap years: 29 February takes the 28th', () => {
    const day = (text: string) => clockOf(SITE, { kind: 'offset', seconds: 3600 }).day(calendarDate(text));
    const of = (text: string) => {
      const { start, end } = day(text);
      return sky.steps(start, end).map(({ dni }) => dni);
    };
    expect(of('2028-02-29').length).toBeGreaterThan(9);
    expect(of('2028-02-29')).toEqual(of('2028-02-28'));
    expect(of('2028-03-01')).toEqual(of('2027-03-01'));
    expect(sky.beamAt(day('2028-02-29').start + 12 * HOUR).known).toBe(true);
  });

  it('leaves out a 29 February of its own in other years', () => {
    const leap = weatherOf({ leapDay: true, years: [2003, 2024], dni: () => 100, solarYear: 2024 });
    const given = skyOf(under(FILE, SITE), leap);
    const hours = (year: number) => given.steps(Date.UTC(year, 1, 27), Date.UTC(year, 2, 3)).length;
    expect(hours(2028) - hours(2027)).toBeGreaterThan(9);
    expect(hours(2028) - hours(2027)).toBeLessThan(14);
  });

  it('is not known in its gaps, nor outside a file that does not stand for any year', () => {
    const table = 'time,dni\n2026-03-20T10:00Z,600\n2026-03-20T11:00Z,610\n2026-03-20T18:00Z,1\n';
    const outcome = parseWeather(
      table,
      {
        kind: 'columns',
        columns: { time: 'time', dni: 'dni', temperature: null, wind: null, pressure: null },
        timeMarks: 'start',
        utcOffset: null,
        interval: 3600,
        headingLine: 1,
        delimiter: ',',
        missing: [],
      },
      'few.csv',
    );
    if (!outcome.ok) throw new Error('the invented table does not load');
    const few = skyOf(under(FILE, SITE), outcome.weather);
    const at = (text: string) => few.beamAt(Date.parse(text));
    expect(at('2026-03-20T11:59:59Z')).toMatchObject({
      dni: 610,
      known: true,
      wind: null,
      ambient: SITE.temperature,
    });
    expect(at('2026-03-20T10:00:00Z')).toMatchObject({ dni: 600, known: true });
    expect(at('2026-03-20T12:00:00Z')).toMatchObject({ dni: 0, known: false });
    expect(at('2026-03-20T09:59:59Z')).toMatchObject({ dni: 0, known: false });
    expect(at('2027-03-20T11:00:00Z')).toMatchObject({ dni: 0, known: false });
    expect(few.notices[0]).toMatch(/^6 hours of beam irradiance are missing and left out/);
    expect(few.describe()).toBe('weather of few.csv, 3 hours');
    expect(few.steps(Date.UTC(2026, 2, 1), Date.UTC(2026, 3, 1))).toHaveLength(3);
  });

  it('doubts a clock whose sun shines by night, and a station far away', () => {
    const wrong = skyOf(
      under(FILE, SITE),
      weatherOf({ dni: (start, end) => meanBeam(start - 6 * HOUR, end - 6 * HOUR), days: 60 }),
    );
    expect(wrong.notices.join('\n')).toMatch(/^\d+\.\d % of the beam energy .* below the horizon/);
    const far = skyOf(under(FILE, SITE), weatherOf({ days: 2, latitude: 35.5, height: 1200, dni: () => 0 }));
    expect(far.notices).toEqual([
      'The weather station stands 111 km from the site.',
      'The weather station stands 750 m higher than the site.',
    ]);
  });
});

describe('moments of a day', () => {
  it('hold sun, irradiance and air, by day and by night', () => {
    const scene = under(MEINEL, SITE);
    const sky = skyOf(scene, null);
    const noon = momentAt(scene, sky, NOON);
    expect(noon.sunDirection[2]).toBeCloseTo(Math.sin(noon.elevation), 12);
    expect(noon.azimuth / DEGREE).toBeCloseTo(180, 3);
    expect(noon.dni).toBe(sky.beamAt(NOON).dni);
    expect(noon).toMatchObject({ time: NOON, known: true, wind: null });
    const night = momentAt(scene, sky, NOON + 12 * HOUR);
    expect(night.dni).toBe(0);
    expect(night.sunDirection[2]).toBeLessThan(0);
  });

  it('need a site, and the weather that the scene names', () => {
    const nowhere: Pick<Scene, 'site' | 'sky'> = under(null, null);
    expect(() => skyOf(nowhere, null)).toThrow(NoSiteError);
    expect(() => momentAt(nowhere, skyOf(under(null, SITE), null), NOON)).toThrow(/no site/);
    expect(() => skyOf(under(FILE, SITE), null)).toThrow(WeatherMissingError);
    expect(() => skyOf(under(FILE, SITE), null)).toThrow(/"tarn.epw", which was not read/);
  });
});
