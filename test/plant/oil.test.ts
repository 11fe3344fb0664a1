import { describe, expect, it } from 'vitest';
import {
  boilingPoint,
  checkOil,
  enthalpyRise,
  OILS,
  type Oil,
  oilAt,
  oilNamed,
  temperatureAfter,
} from '../../src/plant/oil.js';
import { tableRows } from '../reference/tables.js';
import { agrees, CELSIUS, near } from './agrees.js';

const diphenyl = oilNamed('biphenyl_diphenyl_oxide');

describe('oils', () => {
  const rows = tableRows('oils.csv');

  it.each(rows)('$oil at $celsius C: its table', (row) => {
    const state = oilAt(oilNamed(row.oil), Number(row.celsius) + CELSIUS);
    expect(state.density).toBeCloseTo(Number(row.rho), 9);
    expect(state.heatCapacity).toBeCloseTo(Number(row.cp), 9);
    expect(state.conductivity).toBeCloseTo(Number(row.k), 12);
    expect(state.viscosity).toBeCloseTo(Number(row.mu) * 1e-3, 12);
    expect(state.outsideTable).toBe(false);
    if (row.p === '') expect(state.vapourPressure).toBeUndefined();
    else expect(state.vapourPressure).toBeCloseTo(Number(row.p) * 1e3, 6);
  });

  it('every row of the program is in the printed tables', () => {
    for (const oil of OILS) {
      checkOil(oil);
      expect(oil.table?.temperature.length ?? 0).toBe(rows.filter((row) => row.oil === oil.name).length);
    }
    expect(rows).toHaveLength(17);
  });

  it('biphenyl oil: 0.99 mm2/s at 100 C (bulletin opening, read), boils at 257 C at 101 kPa (row of the source, read)', () => {
    const state = oilAt(diphenyl, 373.15);
    expect(agrees((state.viscosity / state.density) * 1e6, 0.99, 0.005)).toBe(true);
    const boiling = boilingPoint(diphenyl, 101_325)! - CELSIUS;
    expect(agrees(boiling, 257, 0.5)).toBe(true);
    // A straight line of pressure against temperature would be out by more.
    const straight = 250 + (50 * (101.325 - 86.4)) / (239 - 86.4);
    expect(agrees(straight, 257, 0.5)).toBe(false);
  });

  it('a 300 C loop of it needs about 2.4 bar absolute', () => {
    expect(near(oilAt(diphenyl, 573.15).vapourPressure!, 2.4e5, 0.01)).toBe(true);
  });

  it('limits of the classes (source beside each oil)', () => {
    const celsius = (kelvin?: number) => (kelvin === undefined ? null : Math.round(kelvin - CELSIUS));
    expect(OILS.map(({ limits }) => celsius(limits.film))).toEqual([425, 375, 340, 335]);
    expect(OILS.map(({ limits }) => celsius(limits.autoignition))).toEqual([621, null, null, 343]);
    expect(OILS.map(({ limits }) => celsius(limits.flash))).toEqual([110, null, null, 177]);
  });

  it('heat and temperature are inverse to 1e-9 K, across rows and beyond the table, up and down', () => {
    for (const from of [330, 373.15, 401, 500, 640]) {
      for (const to of [300, 373.15, 420.5, 523.15, 600, 700]) {
        const rise = enthalpyRise(diphenyl, from, to);
        expect(agrees(temperatureAfter(diphenyl, from, rise), to, 1e-9)).toBe(true);
        expect(enthalpyRise(diphenyl, to, from)).toBeCloseTo(-rise, 6);
      }
    }
    // Trapezia of a straight heat capacity: 1775 to 1913 J/kg K over 50 K.
    expect(enthalpyRise(diphenyl, 373.15, 423.15)).toBeCloseTo(50 * 1844, 6);
  });

  it('own table, and clear refusals', () => {
    const own: Oil = {
      name: 'my oil',
      table: {
        temperature: [300, 600],
        density: [900, 700],
        heatCapacity: [2000, 2000],
        conductivity: [0.12, 0.1],
        viscosity: [0.01, 0.001],
      },
      limits: { film: 610 },
      source: 'made up for this test',
    };
    checkOil(own);
    expect(oilAt(own, 450).density).toBe(800);
    // ln mu is straight over 1/T: the geometric mean lies where 1/T is in the middle.
    expect(oilAt(own, 400).viscosity).toBeCloseTo(Math.sqrt(1e-5), 12);
    expect(oilAt(own, 650).outsideTable).toBe(true);
    expect(boilingPoint(own, 1e5)).toBeNull();
    expect(() => oilAt(oilNamed('synthetic_hydrocarbon'), 500)).toThrow(/limits only/);
    expect(() => oilNamed('butter')).toThrow(/no oil "butter".*mineral_oil/);
    expect(() => checkOil({ ...own, table: { ...own.table!, temperature: [600, 300] } })).toThrow(/rise/);
    expect(() => checkOil({ ...own, table: { ...own.table!, viscosity: [0.01] } })).toThrow(/columns/);
    expect(() => checkOil({ ...own, table: { ...own.table!, viscosity: [0.01, 0] } })).toThrow(/above 0/);
  });
});
