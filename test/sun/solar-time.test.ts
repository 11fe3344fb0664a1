import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { directionOf } from '../../src/field/vector.js';
import { calendarDate, datesOfYear } from '../../src/sun/calendar.js';
import { clockOf } from '../../src/sun/clock.js';
import { airlessSun, seenSun } from '../../src/sun/direction.js';
import { DISC_RADIUS_AT_1_AU, discRadius, sunDistance, sunshapeOfDay } from '../../src/sun/distance.js';
import {
  describeSunDay,
  equationOfTime,
  hourAngle,
  solarNoon,
  solarTime,
  sunDay,
  sunUpBetween,
} from '../../src/sun/solar-time.js';
import { DEGREE, siteAt } from './sites.js';

const SPA = JSON.parse(readFileSync(new URL('../reference/spa-example.json', import.meta.url), 'utf8')) as {
  readonly inputs: Record<string, number | string>;
  readonly outputs: Record<string, number>;
};
const { inputs, outputs } = SPA;
const EXAMPLE = siteAt(Number(inputs.latitude_deg), Number(inputs.longitude_deg), {
  height: Number(inputs.elevation_m),
  pressure: Number(inputs.pressure_mbar) * 100,
  temperature: Number(inputs.temperature_C) + 273.15,
});
const AT = Date.parse(String(inputs.utc));
const MINUS_SEVEN = { kind: 'offset', seconds: -7 * 3600 } as const;

function dot(a: readonly number[], b: readonly number[]): number {
  return a.reduce((sum, value, index) => sum + value * b[index], 0);
}

/** Incidence on a plane, degrees. @param azimuth of the plane's normal, from north */
function incidence(sun: { azimuth: number; elevation: number }, slope: number, azimuth: number): number {
  const normal = directionOf({ azimuth, elevation: Math.PI / 2 - slope });
  return Math.acos(dot(directionOf(sun), normal)) / DEGREE;
}

/** Azimuth and elevation from hour angle and declination, by the textbook triangle. */
function fromTriangle(latitude: number, declination: number, hour: number) {
  const elevation = Math.asin(
    Math.sin(latitude) * Math.sin(declination) + Math.cos(latitude) * Math.cos(declination) * Math.cos(hour),
  );
  const azimuth = Math.atan2(
    -Math.cos(declination) * Math.sin(hour),
    Math.sin(declination) * Math.cos(latitude) - Math.cos(declination) * Math.sin(latitude) * Math.cos(hour),
  );
  return { azimuth, elevation };
}

describe('the worked example of Reda & Andreas (2004), appendix A.5', () => {
  // The paper's own claim for its figures.
  const tolerance = 0.0003;

  it('instant, hour angle, declination and distance', () => {
    expect(AT / 86_400_000 + 2_440_587.5).toBeCloseTo(outputs.julian_day, 6);
    // Seen from the site: parallax moves the right ascension, and the hour angle with it.
    const shift = outputs.alpha_deg - outputs.topocentric_alpha_deg;
    expect(Math.abs(hourAngle(EXAMPLE, AT) / DEGREE - outputs.hour_angle_H_deg - shift)).toBeLessThan(
      tolerance,
    );
    const { azimuth, elevation } = airlessSun(EXAMPLE, AT);
    const sine =
      Math.sin(elevation) * Math.sin(EXAMPLE.latitude) +
      Math.cos(elevation) * Math.cos(EXAMPLE.latitude) * Math.cos(azimuth);
    expect(Math.abs(Math.asin(sine) / DEGREE - outputs.topocentric_delta_deg)).toBeLessThan(tolerance);
    expect(Math.abs(sunDistance(AT) - outputs.R_au)).toBeLessThan(3e-5);
  });

  it('incidence on a plane of slope 30, turned 10 degrees east of south', () => {
    const plane = [30 * DEGREE, (180 - 10) * DEGREE] as const;
    expect(Math.abs(incidence(seenSun(EXAMPLE, AT), ...plane) - outputs.incidence_deg)).toBeLessThan(0.001);
    // Sabotage: turned to the west.
    expect(
      Math.abs(incidence(seenSun(EXAMPLE, AT), plane[0], 190 * DEGREE) - outputs.incidence_deg),
    ).toBeGreaterThan(1);
  });

  it('sunrise and sunset, of the local day and of the UT day', () => {
    const date = calendarDate('2003-10-17');
    const local = sunDay(EXAMPLE, clockOf(EXAMPLE, MINUS_SEVEN), date, 'limb');
    expect(Math.abs(Number(local.rise) - Date.parse('2003-10-17T13:12:43Z'))).toBeLessThan(5000);
    // The printed 17:20:19 belongs to the UT day, the local evening before; of the local day it is 17:18:51.
    expect(Math.abs(Number(local.set) - Date.parse('2003-10-18T00:18:51Z'))).toBeLessThan(5000);
    const universal = sunDay(EXAMPLE, clockOf(EXAMPLE, { kind: 'offset', seconds: 0 }), date, 'limb');
    expect(universal.up).toHaveLength(2);
    expect(Math.abs(universal.up[0].to - Date.parse('2003-10-17T00:20:19Z'))).toBeLessThan(5000);
  });

  it("sabotage: sunrise of the disc's centre misses the printed one", () => {
    const centre = sunDay(EXAMPLE, clockOf(EXAMPLE, MINUS_SEVEN), calendarDate('2003-10-17'), 'centre');
    expect(Math.abs(Number(centre.rise) - Date.parse('2003-10-17T13:12:43Z'))).toBeGreaterThan(60_000);
  });
});

describe('textbook triangle', () => {
  // Duffie & Beckman, 4th ed., examples 1.6.1, 1.6.2 (rounded figures as a public test file quotes them; unrounded: run).
  it('incidence 35.18 degrees: latitude 43, declination -14, 10:30, slope 45, azimuth 15 west', () => {
    const sun = fromTriangle(43 * DEGREE, -14 * DEGREE, -22.5 * DEGREE);
    expect(incidence(sun, 45 * DEGREE, 195 * DEGREE)).toBeCloseTo(35.18, 2);
    // A public solved problem: the same at latitude 38.54.
    const other = fromTriangle(38.54 * DEGREE, -14 * DEGREE, -22.5 * DEGREE);
    expect(incidence(other, 45 * DEGREE, 195 * DEGREE)).toBeCloseTo(33.7, 1);
  });

  it.each([
    [-14, -37.5, 66.55, -40.08],
    [23.1, 97.5, 79.64, 112.02],
  ])('declination %d, hour angle %d: zenith %d, azimuth %d from south', (dec, hour, zenith, azimuth) => {
    const sun = fromTriangle(43 * DEGREE, dec * DEGREE, hour * DEGREE);
    expect(90 - sun.elevation / DEGREE).toBeCloseTo(zenith, 2);
    expect(((sun.azimuth / DEGREE + 360) % 360) - 180).toBeCloseTo(azimuth, 2);
  });

  it('the almanac agrees with the triangle at its own hour angle and declination', () => {
    for (const hours of [7, 9, 12, 16]) {
      const time = Date.UTC(2026, 4, 5, hours);
      const site = siteAt(35, 0);
      const declination = Math.PI / 2 - zenithAtPole(time);
      const { azimuth, elevation } = fromTriangle(site.latitude, declination, hourAngle(site, time));
      const seen = airlessSun(site, time);
      // Parallax of up to 0.0024 degrees differs between the pole and the site.
      expect(Math.abs(seen.elevation - elevation) / DEGREE).toBeLessThan(0.005);
      expect(Math.abs(Math.sin(seen.azimuth - azimuth)) / DEGREE).toBeLessThan(0.02);
    }
  });

  function zenithAtPole(time: number): number {
    return Math.PI / 2 - airlessSun(siteAt(90, 0), time).elevation;
  }
});

describe('day length', () => {
  // Closed form (2/15) acos(-tan L tan d), disc's centre, no air: 9.6424, 12, 14.3576 h at latitude 35.
  const airless = siteAt(35, 0, { pressure: 0 });
  const length = (site: typeof airless, text: string) => {
    const { up } = sunDay(site, clockOf(site), calendarDate(text));
    return up.reduce((sum, { from, to }) => sum + to - from, 0) / 3_600_000;
  };
  // The sun's declination at the solstices is 23.436 degrees, not 23.45 (0.0016 h), and a true solar day of December is 30 s longer
  // than 24 h (0.0033 h of these); at the equinox the declination moves by 0.2 degrees within the day.
  it.each([
    ['2026-12-21', 9.6424, 0.0055],
    ['2026-03-20', 12, 0.03],
    ['2026-06-21', 14.3576, 0.004],
  ])('on %s is %d h', (date, hours, tolerance) => {
    expect(Math.abs(length(airless, date) - hours)).toBeLessThan(tolerance);
    // Sabotage: with air the day is some six minutes longer.
    expect(Math.abs(length(siteAt(35, 0), date) - hours)).toBeGreaterThan(tolerance);
  });
});

describe('solar time', () => {
  it('noon is where the sun is due south, and its solar time 12', () => {
    const site = siteAt(34.5, -5.2);
    for (const date of datesOfYear(2026).filter(({ day }) => day === 14)) {
      const clock = clockOf(site);
      const { noon } = sunDay(site, clock, date);
      expect(Math.abs(airlessSun(site, noon).azimuth / DEGREE - 180)).toBeLessThan(1e-4);
      expect(Math.abs(solarTime(site, noon) - 43_200)).toBeLessThan(0.01);
    }
  });

  it('the equation of time on 3 February is some -13.5 minutes, so 10:30 central time at 89.4 west is 10:19', () => {
    // Duffie & Beckman, 4th ed., example 1.5.1, with the handbook's series; the true sun is up to 35 s off it.
    const site = siteAt(43, -89.4);
    const time = Date.parse('2025-02-03T10:30:00-06:00');
    expect(Math.abs(equationOfTime(site, time) / 60 + 13.5)).toBeLessThan(0.6);
    expect(Math.abs(solarTime(site, time) / 60 - (10 * 60 + 19))).toBeLessThan(0.7);
  });

  it('east and west of noon the sun stands alike at a solstice, when its declination rests', () => {
    const site = siteAt(34.5, -5.2);
    const noon = solarNoon(site, Date.UTC(2026, 5, 21, 12));
    const apart = (centre: number, hours: number) => {
      const [before, after] = [-1, 1].map((sign) => seenSun(site, centre + sign * hours * 3_600_000));
      return Math.max(
        Math.abs(before.elevation - after.elevation),
        Math.abs(before.azimuth + after.azimuth - 2 * Math.PI),
      );
    };
    for (const hours of [0.5, 2, 4, 6.5]) expect(apart(noon, hours) / DEGREE).toBeLessThan(0.02);
    // Sabotage: about noon of the mean sun.
    const mean = noon + equationOfTime(site, noon) * 1000;
    expect(apart(mean, 4) / DEGREE).toBeGreaterThan(0.1);
  });

  it('the southern hemisphere sees the mirror image half a year on', () => {
    const north = siteAt(34.5, 0);
    const south = siteAt(-34.5, 0);
    const june = solarNoon(north, Date.UTC(2026, 5, 21, 12));
    const december = solarNoon(south, Date.UTC(2026, 11, 21, 12));
    for (const hours of [-5, -2, 0, 3, 6]) {
      const up = airlessSun(north, june + hours * 3_600_000);
      const down = airlessSun(south, december + hours * 3_600_000);
      // Declinations of the two days differ by 0.003 degrees, the length of the true solar day by some 10 s.
      expect(Math.abs(up.elevation - down.elevation) / DEGREE).toBeLessThan(0.03);
      const mirrored = Math.PI - down.azimuth;
      expect(Math.abs(Math.sin((up.azimuth - mirrored) / 2)) / DEGREE).toBeLessThan(0.05);
    }
    // Sabotage: the same day of the year is another season.
    const wrong = airlessSun(south, june);
    expect(Math.abs(airlessSun(north, june).elevation - wrong.elevation) / DEGREE).toBeGreaterThan(40);
  });
});

describe('days without rising or setting', () => {
  const far = siteAt(78, 15);
  const kindsOf = (latitude: number) => {
    const site = siteAt(latitude, 15);
    return datesOfYear(2026).map((date) => sunDay(site, clockOf(site), date).kind);
  };

  it('polar day and night are told, and each once a year', () => {
    const kinds = kindsOf(78);
    const changes = kinds.filter((kind, index) => index > 0 && kind !== kinds[index - 1]).length;
    expect(changes).toBe(4);
    // 78 north: the sun's centre stays up from about 20 April to 23 August (common practice: Longyearbyen almanacs).
    expect(Math.abs(kinds.filter((kind) => kind === 'polar_day').length - 125)).toBeLessThan(4);
    expect(new Set(kindsOf(65))).toEqual(new Set(['ordinary']));
  });

  it('a polar day is one stretch from midnight to midnight, a polar night none', () => {
    const clock = clockOf(far);
    const summer = sunDay(far, clock, calendarDate('2026-06-21'));
    expect(summer).toMatchObject({ kind: 'polar_day', rise: null, set: null });
    expect(summer.up).toEqual([{ from: summer.start, to: summer.end }]);
    expect(describeSunDay(summer, clock)).toMatch(
      /polar day, the sun does not set; highest at 12:00, 35\.\d/,
    );
    const winter = sunDay(far, clock, calendarDate('2026-12-21'));
    expect(winter).toMatchObject({ kind: 'polar_night', rise: null, set: null, up: [] });
    expect(winter.noonElevation).toBeLessThan(0);
    expect(describeSunDay(winter, clock)).toBe('2026-12-21: polar night, the sun does not rise');
  });

  it('at the poles themselves the year has one day and one night', () => {
    for (const latitude of [90, -90]) {
      const kinds = kindsOf(latitude);
      const bright = kinds.filter((kind) => kind !== 'polar_night').length;
      expect(bright).toBeGreaterThan(175);
      expect(bright).toBeLessThan(195);
      // Only while the year's one rising and one setting fall within the day.
      expect(kinds.filter((kind) => kind === 'ordinary').length).toBeLessThanOrEqual(2);
    }
  });

  it('finds the few minutes of a day that falls between two looks', () => {
    // The shortest days after the polar night: a sun that shows for less than half an hour.
    let shortest = Number.POSITIVE_INFINITY;
    for (let latitude = 66.8; latitude < 67.6; latitude += 0.02) {
      const site = siteAt(latitude, 0);
      const noon = solarNoon(site, Date.UTC(2026, 11, 21, 12));
      const risen = seenSun(site, noon).elevation;
      for (const shift of [0, 450, 900, 1350]) {
        const from = noon - 43_200_000 + shift * 1000;
        const up = sunUpBetween(site, from, from + 86_400_000);
        expect(up.length, `latitude ${latitude}`).toBe(risen >= 0 ? 1 : 0);
        if (up.length === 1) shortest = Math.min(shortest, up[0].to - up[0].from);
      }
    }
    expect(shortest).toBeLessThan(1_800_000);
  });

  it('finds a day of seconds', () => {
    const noonAt = (latitude: number) => solarNoon(siteAt(latitude, 0), Date.UTC(2026, 11, 21, 12));
    const heightAt = (latitude: number) => seenSun(siteAt(latitude, 0), noonAt(latitude)).elevation;
    // The northernmost latitude that still sees the sun: its centre rises by less than 1e-7 radians there.
    let [sunny, dark] = [66, 68];
    while (heightAt(sunny) > 1e-7) {
      const middle = (sunny + dark) / 2;
      if (heightAt(middle) > 0) sunny = middle;
      else dark = middle;
    }
    for (const shift of [0, 300, 700, 1100, 1500]) {
      const from = noonAt(sunny) - 43_200_000 + shift * 1000;
      const up = sunUpBetween(siteAt(sunny, 0), from, from + 86_400_000);
      expect(up).toHaveLength(1);
      // Closed form: height - c t^2 / 2 with c = cos(latitude) cos(declination) (2 pi / day)^2: at most 20 s.
      expect(up[0].to - up[0].from).toBeLessThan(25_000);
    }
  });
});

describe('disc of the day', () => {
  it('is 4.6524 mrad at 1 au (959.63 seconds of arc, from memory), wider in January than in July', () => {
    expect(Math.abs(DISC_RADIUS_AT_1_AU * 1000 - 4.6524)).toBeLessThan(5e-5);
    const january = discRadius(Date.UTC(2026, 0, 3));
    const july = discRadius(Date.UTC(2026, 6, 6));
    // Distances 0.9833 and 1.0167 au (from memory).
    expect(january * 1000).toBeCloseTo(4.6524 / 0.9833, 3);
    expect(july * 1000).toBeCloseTo(4.6524 / 1.0167, 3);
  });

  it('scales discs and leaves measured shapes', () => {
    const time = Date.UTC(2026, 0, 3);
    const factor = 1 / sunDistance(time);
    const disc = sunshapeOfDay({ kind: 'disc', halfAngle: 4.65e-3 }, time);
    expect(disc.kind === 'disc' && disc.halfAngle / 4.65e-3).toBeCloseTo(factor, 6);
    const limb = sunshapeOfDay({ kind: 'limb_darkened', halfAngle: 4.65e-3, darkening: 0.5 }, time);
    expect(limb.kind === 'limb_darkened' && limb.halfAngle / 4.65e-3).toBeCloseTo(factor, 6);
    for (const spec of [
      { kind: 'point' },
      { kind: 'gaussian', sigma: 2e-3 },
      { kind: 'circumsolar', circumsolarRatio: 0.05 },
    ] as const) {
      expect(sunshapeOfDay(spec, time)).toBe(spec);
    }
  });
});
