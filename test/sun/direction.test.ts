import { describe, expect, it } from 'vitest';
import { directionOf } from '../../src/field/vector.js';
import type { Scene, Site } from '../../src/scene/types.js';
import { airlessSun, momentOf, refraction, SunBelowHorizonError, seenSun } from '../../src/sun/direction.js';

const DEGREE = Math.PI / 180;

/** Worked example of Reda & Andreas, Solar Energy 76 (2004) 577-589, report revised 2008, appendix A.5. */
const SITE: Site = {
  name: 'worked example',
  latitude: 39.742476 * DEGREE,
  longitude: -105.1786 * DEGREE,
  height: 1830.14,
  pressure: 82_000,
  temperature: 284.15,
  timeZone: null,
};
const NOON = Date.parse('2003-10-17T19:30:30Z');
const EXAMPLE = { airless: 39.872046, refraction: 0.016332, zenith: 50.111622, azimuth: 194.340241 };

function sceneAt(direction: Scene['sun']['direction'], site: Site | null): Scene {
  return {
    title: 'sun only',
    site,
    sun: { direction, dni: 850, sunshape: { kind: 'point' } },
    sky: null,
    plant: null,
    films: [],
    dishes: [],
    rows: [],
    facets: [],
    receivers: [],
    blockers: [],
    ground: null,
    bounceLimit: 1,
    hash: '',
  };
}

describe('sun position', () => {
  // 0.01 degree is ample for this tool; the library was found within 0.0002 of the example.
  const ample = 0.01;

  it('meets the worked example without air', () => {
    const { azimuth, elevation } = airlessSun(SITE, NOON);
    expect(Math.abs(elevation / DEGREE - EXAMPLE.airless)).toBeLessThan(ample);
    expect(Math.abs(azimuth / DEGREE - EXAMPLE.azimuth)).toBeLessThan(ample);
    expect(Math.abs(elevation / DEGREE - EXAMPLE.airless)).toBeLessThan(0.0002);
    expect(Math.abs(azimuth / DEGREE - EXAMPLE.azimuth)).toBeLessThan(0.0002);
  });

  it('meets the zenith angle with the refraction of the same paper', () => {
    const { elevation } = seenSun(SITE, NOON);
    expect(Math.abs(90 - elevation / DEGREE - EXAMPLE.zenith)).toBeLessThan(0.0002);
    const bent = refraction(EXAMPLE.airless * DEGREE, SITE.pressure, SITE.temperature) / DEGREE;
    expect(Math.abs(bent - EXAMPLE.refraction)).toBeLessThan(1e-6);
  });

  it('sabotage: the time zone left out, or standard air, misses the example', () => {
    const { elevation } = airlessSun(SITE, NOON - 7 * 3_600_000);
    expect(Math.abs(elevation / DEGREE - EXAMPLE.airless)).toBeGreaterThan(ample);
    const bent = refraction(EXAMPLE.airless * DEGREE, 101_000, 283.15) / DEGREE;
    expect(Math.abs(bent - EXAMPLE.refraction)).toBeGreaterThan(0.003);
  });
});

describe('refraction', () => {
  // Formula of Reda & Andreas (2004) evaluated at 1010 mbar and 10 degrees C, arc minutes; tolerance 0.01'.
  it.each([
    [0, 28.982],
    [1, 21.744],
    [2, 16.926],
    [5, 9.674],
    [10, 5.408],
    [20, 2.741],
    [30, 1.746],
    [45, 1.013],
    [60, 0.585],
  ])('at %d degrees is %d minutes of arc', (degrees, minutes) => {
    expect(Math.abs((refraction(degrees * DEGREE, 101_000, 283.15) / DEGREE) * 60 - minutes)).toBeLessThan(
      0.01,
    );
  });

  it('is left out below -1 degree', () => {
    expect(refraction(-1.01 * DEGREE, 101_000, 283.15)).toBe(0);
    expect(refraction(-0.99 * DEGREE, 101_000, 283.15)).toBeGreaterThan(0);
  });
});

describe('moment of a scene', () => {
  it('turns angles into a unit vector: x east, y north, z up', () => {
    const south = momentOf(sceneAt({ kind: 'angles', azimuth: Math.PI, elevation: 0.5 }, null));
    expect(south.sunDirection[0]).toBeCloseTo(0, 15);
    expect(south.sunDirection[1]).toBeCloseTo(-Math.cos(0.5), 15);
    expect(south.sunDirection[2]).toBeCloseTo(Math.sin(0.5), 15);
    expect(south.dni).toBe(850);
    const east = directionOf({ azimuth: Math.PI / 2, elevation: 0 });
    expect(east[0]).toBeCloseTo(1, 15);
    expect(Math.hypot(...directionOf({ azimuth: 1.2, elevation: 0.7 }))).toBeCloseTo(1, 15);
  });

  it('takes an instant at the site, refraction included', () => {
    const { sunDirection } = momentOf(sceneAt({ kind: 'moment', time: NOON }, SITE));
    const elevation = 90 - EXAMPLE.zenith;
    expect(Math.abs(Math.asin(sunDirection[2]) / DEGREE - elevation)).toBeLessThan(0.0002);
    const azimuth = Math.atan2(sunDirection[0], sunDirection[1]) / DEGREE + 360;
    expect(Math.abs(azimuth - EXAMPLE.azimuth)).toBeLessThan(0.0002);
  });

  it('says plainly that the sun is down', () => {
    const midnight = sceneAt({ kind: 'moment', time: Date.parse('2003-10-17T07:00:00Z') }, SITE);
    expect(() => momentOf(midnight)).toThrow(SunBelowHorizonError);
    expect(() => momentOf(midnight)).toThrow(/below the horizon/);
    expect(() => momentOf(sceneAt({ kind: 'angles', azimuth: 0, elevation: -0.01 }, null))).toThrow(
      SunBelowHorizonError,
    );
  });

  it('asks for a site where an instant is given', () => {
    expect(() => momentOf(sceneAt({ kind: 'moment', time: NOON }, null))).toThrow(/no site/);
  });

  it('lets the sun rise when the example says so', () => {
    // Sunrise 13:12:43 UTC (same example): the disc's centre stands at -0.833 degrees there, so it is above the
    // horizon, refraction included, some minutes later.
    const rise = Date.parse('2003-10-17T13:12:43Z');
    expect(() => momentOf(sceneAt({ kind: 'moment', time: rise }, SITE))).toThrow(SunBelowHorizonError);
    expect(() => momentOf(sceneAt({ kind: 'moment', time: rise + 300_000 }, SITE))).not.toThrow();
  });
});
