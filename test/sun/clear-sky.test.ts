import { describe, expect, it } from 'vitest';
import { airMass } from '../../src/sun/air-mass.js';
import {
  clearSkyBeam,
  extraterrestrialBeam,
  hottelTerms,
  hottelTransmittance,
  MEINEL_CONSTANT,
  meinelBeam,
  SOLAR_CONSTANT,
} from '../../src/sun/clear-sky.js';
import { distanceFactor } from '../../src/sun/distance.js';
import { spencerDistanceFactor } from '../../src/sun/handbook.js';
import { tableRows } from '../reference/tables.js';
import { DEGREE } from './sites.js';

const ROWS = tableRows('clear-sky.csv').map((row) => ({
  zenith: Number(row.zenith_deg) * DEGREE,
  mass: Number(row.air_mass_kasten_young_1989),
  meinel: Number(row.meinel_dni_W_m2_sea_level),
  tau0: Number(row.hottel_tau_A0_23km),
  tau1: Number(row.hottel_tau_A1km_23km),
}));
const MARCH = Date.UTC(2026, 2, 20, 12);
const HOTTEL = { kind: 'hottel', climate: 'midlatitude_summer', visibility: 23_000, clearness: 1 } as const;

describe('air mass', () => {
  // Kasten & Young, Appl. Opt. 28 (1989) 4735, coefficients from memory; run.
  it.each([
    [0, 0.999712],
    [30, 1.153992],
    [60, 1.994293],
    [70, 2.903147],
    [75, 3.812912],
    [80, 5.586036],
    [85, 10.305791],
    [88, 19.433245],
    [90, 37.919608],
  ])('at %d degrees from the zenith is %d', (zenith, mass) => {
    expect(Math.abs(airMass(zenith * DEGREE) - mass)).toBeLessThan(1e-6);
  });

  it("is within half a percent of the paper's table on the horizon, 38.0868 (from memory)", () => {
    expect(Math.abs(airMass(Math.PI / 2) / 38.0868 - 1)).toBeLessThan(0.005);
    // Sabotage: a plane atmosphere is far off long before.
    expect(1 / Math.cos(85 * DEGREE) / airMass(85 * DEGREE) - 1).toBeGreaterThan(0.1);
  });

  it('is refused for a sun below the horizon', () => {
    expect(() => airMass(91 * DEGREE)).toThrow(RangeError);
    expect(() => airMass(Number.NaN)).toThrow(RangeError);
  });
});

describe('clear-sky table', () => {
  it('meets every row', () => {
    expect(ROWS).toHaveLength(10);
    for (const { zenith, mass, meinel, tau0, tau1 } of ROWS) {
      expect(Math.abs(airMass(zenith) - mass)).toBeLessThan(1e-6);
      expect(Math.abs(meinelBeam(mass, 0) - meinel)).toBeLessThan(1e-3);
      expect(Math.abs(hottelTransmittance(hottelTerms(23_000, 0, null), zenith) - tau0)).toBeLessThan(1e-6);
      expect(Math.abs(hottelTransmittance(hottelTerms(23_000, 1000, null), zenith) - tau1)).toBeLessThan(
        1e-6,
      );
    }
  });

  it('sabotage: the newer solar constant in Meinel, or the height in metres, misses it', () => {
    for (const { mass, meinel } of ROWS) {
      expect(Math.abs((meinelBeam(mass, 0) * SOLAR_CONSTANT) / MEINEL_CONSTANT - meinel)).toBeGreaterThan(1);
    }
    expect(() => hottelTerms(23_000, 1_000_000, null)).toThrow(RangeError);
  });
});

describe('Meinel', () => {
  // Meinel & Meinel 1976, coefficients as a public course page has them; run.
  it.each([
    [1, 0, 947.1],
    [1.5, 0, 846.03],
    [2, 0, 764.66],
    [3, 0, 638.34],
    [5, 0, 467.76],
    [1, 1000, 1003.93],
    [1.5, 1000, 917.0],
    [2, 1000, 847.03],
  ])('through air mass %d at %d m: %d W/m2', (mass, height, dni) => {
    expect(Math.abs(meinelBeam(mass, height) - dni)).toBeLessThan(0.01);
  });

  it('is refused where its straight line in the height has gone too far', () => {
    expect(() => meinelBeam(1, 5001)).toThrow(/up to 5000 m/);
  });
});

describe('Hottel', () => {
  it('has the constants of the paper at sea level', () => {
    // Hottel, Solar Energy 18 (1976) 129, as the documents of a public library have them; run.
    const { a0, a1, k } = hottelTerms(23_000, 0, null);
    expect(a0).toBeCloseTo(0.12814, 6);
    expect(a1).toBeCloseTo(0.756888, 5);
    expect(k).toBeCloseTo(0.387225, 6);
  });

  it.each([
    ['tropical', 0.95, 0.98, 1.02],
    ['midlatitude_summer', 0.97, 0.99, 1.02],
    ['subarctic_summer', 0.99, 0.99, 1.01],
    ['midlatitude_winter', 1.03, 1.01, 1],
  ] as const)('%s: factors %d, %d, %d', (climate, r0, r1, rk) => {
    const plain = hottelTerms(23_000, 500, null);
    const { a0, a1, k } = hottelTerms(23_000, 500, climate);
    expect([a0 / plain.a0, a1 / plain.a1, k / plain.k].map((ratio) => Number(ratio.toFixed(12)))).toEqual([
      r0,
      r1,
      rk,
    ]);
  });

  it('gives the worked value of Madison: transmittance 0.62, beam 830, on the horizontal 702 W/m2', () => {
    // Duffie & Beckman, example 2.8.1: 43 N, 270 m, 22 August, 11:30; declination 11.4, solar constant 1367.
    const cosine =
      Math.sin(43 * DEGREE) * Math.sin(11.403 * DEGREE) +
      Math.cos(43 * DEGREE) * Math.cos(11.403 * DEGREE) * Math.cos(7.5 * DEGREE);
    expect(cosine).toBeCloseTo(0.84562, 4);
    const tau = hottelTransmittance(hottelTerms(23_000, 270, 'midlatitude_summer'), Math.acos(cosine));
    expect(Math.abs(tau - 0.61979)).toBeLessThan(1e-4);
    expect(Math.abs(tau * 1338.5 - 829.6)).toBeLessThan(0.5);
    expect(Math.abs(tau * 1338.5 * cosine - 701.5)).toBeLessThan(0.5);
    // Sabotage: without the climate's factors.
    const bare = hottelTransmittance(hottelTerms(23_000, 270, null), Math.acos(cosine));
    expect(Math.abs(bare * 1338.5 - 829.6)).toBeGreaterThan(5);
  });

  it('knows no haze above it: overhead at 2500 m both visibilities are alike within 1 %', () => {
    // The constants for 5 km are from memory; this is what the layer of haze must do, and a slip in one of them would undo it.
    const [thick, thin] = ([5000, 23_000] as const).map((visibility) =>
      hottelTransmittance(hottelTerms(visibility, 2500, null), 0),
    );
    expect(Math.abs(thick / thin - 1)).toBeLessThan(0.01);
  });

  it('lets less light through haze of 5 km, and more the higher the site', () => {
    for (const zenith of [0, 30, 60, 75].map((degrees) => degrees * DEGREE)) {
      for (const height of [0, 1000]) {
        const [thick, thin] = ([5000, 23_000] as const).map((visibility) =>
          hottelTransmittance(hottelTerms(visibility, height, null), zenith),
        );
        expect(thick).toBeLessThan(thin);
        expect(thick).toBeGreaterThan(0);
        expect(thin).toBeLessThan(1);
      }
      expect(hottelTransmittance(hottelTerms(5000, 1000, null), zenith)).toBeGreaterThan(
        hottelTransmittance(hottelTerms(5000, 0, null), zenith),
      );
    }
  });
});

describe('beam irradiance under a clear sky', () => {
  it('starts from a solar constant between those measured', () => {
    // 1360.8 +- 0.5 (Kopp & Lean, GRL 38 (2011) L01706) and 1361.1 +- 0.5 (Gueymard 2018).
    expect(SOLAR_CONSTANT).toBeGreaterThan(1360.6);
    expect(SOLAR_CONSTANT).toBeLessThan(1361.3);
    for (const day of [3, 95, 186, 277]) {
      const time = Date.UTC(2026, 0, day, 12);
      const handbook = SOLAR_CONSTANT * spencerDistanceFactor(day);
      expect(Math.abs(extraterrestrialBeam(time) / handbook - 1)).toBeLessThan(1.1e-3);
    }
  });

  it('each formula keeps its own solar constant; clearness multiplies', () => {
    const zenith = 40 * DEGREE;
    const meinel = clearSkyBeam({ kind: 'meinel', clearness: 1 }, { height: 300 }, zenith, MARCH);
    expect(meinel).toBeCloseTo(meinelBeam(airMass(zenith), 300) * distanceFactor(MARCH), 9);
    const hottel = clearSkyBeam(HOTTEL, { height: 300 }, zenith, MARCH);
    const tau = hottelTransmittance(hottelTerms(23_000, 300, 'midlatitude_summer'), zenith);
    expect(hottel).toBeCloseTo(tau * SOLAR_CONSTANT * distanceFactor(MARCH), 9);
    const hazy = clearSkyBeam({ ...HOTTEL, clearness: 0.8 }, { height: 300 }, zenith, MARCH);
    expect(hazy).toBeCloseTo(0.8 * hottel, 9);
  });

  it('falls as the sun sinks, and is 0 below the horizon', () => {
    for (const model of [HOTTEL, { kind: 'meinel', clearness: 1 } as const]) {
      let last = Number.POSITIVE_INFINITY;
      for (let degrees = 0; degrees <= 90; degrees += 2.5) {
        const dni = clearSkyBeam(model, { height: 0 }, degrees * DEGREE, MARCH);
        expect(dni).toBeLessThan(last);
        expect(dni).toBeGreaterThan(0);
        last = dni;
      }
      expect(clearSkyBeam(model, { height: 0 }, 90.1 * DEGREE, MARCH)).toBe(0);
    }
  });
});
