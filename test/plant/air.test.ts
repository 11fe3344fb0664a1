import { describe, expect, it } from 'vitest';
import { airAt } from '../../src/plant/air.js';
import { near } from './agrees.js';

/**
 * T K, density kg/m3, cp J/kg K, k W/m K, mu 1e-7 Pa s. Table of a public engineering page for 1 atm (neutrium.net, read), its rows from
 * 200 to 700 K; the rows of 800 and 1000 K from memory (Incropera & DeWitt, appendix of air).
 */
const PAGE = [
  [250, 1.413, 1005, 0.0223, 161],
  [300, 1.177, 1005, 0.0261, 185],
  [350, 1.009, 1008, 0.0297, 208],
  [400, 0.883, 1013, 0.0331, 229],
  [500, 0.706, 1029, 0.0395, 268],
  [600, 0.589, 1051, 0.0456, 303],
  [700, 0.504, 1075, 0.0513, 335],
  [800, 0.4354, 1099, 0.0573, 369.8],
  [1000, 0.3482, 1141, 0.0667, 424.4],
] as const;

describe('air', () => {
  it.each(PAGE)('%i K: printed tables', (temperature, density, heatCapacity, conductivity, viscosity) => {
    const air = airAt(temperature);
    // 1.5 %: the rows of 800 and 1000 K are for a slightly lower pressure than 1 atm.
    expect(near(air.density, density, 0.015)).toBe(true);
    expect(near(air.heatCapacity, heatCapacity, 0.006)).toBe(true);
    expect(near(air.viscosity, viscosity * 1e-7, 0.025)).toBe(true);
    expect(near(air.conductivity, conductivity, 0.03)).toBe(true);
  });

  it('100 C: a second table (Cengel, table A-15, read): k 0.03095, mu 2.181e-5, Pr 0.7111, nu 2.306e-5, density 0.9458', () => {
    const air = airAt(373.15);
    expect(near(air.conductivity, 0.03095, 0.03)).toBe(true);
    expect(near(air.viscosity, 2.181e-5, 0.01)).toBe(true);
    expect(near(air.prandtl, 0.7111, 0.03)).toBe(true);
    expect(near(air.kinematicViscosity, 2.306e-5, 0.01)).toBe(true);
    expect(near(air.density, 0.9458, 0.001)).toBe(true);
  });

  it('sabotage: air of 30 K more is seen', () => {
    const air = airAt(330);
    expect(near(air.density, 1.177, 0.015)).toBe(false);
    expect(near(air.viscosity, 185e-7, 0.025)).toBe(false);
    expect(near(air.conductivity, 0.0261, 0.03)).toBe(false);
  });

  it('derived figures hang together, density goes with pressure', () => {
    const air = airAt(450, 90_000);
    expect(air.prandtl).toBeCloseTo(air.kinematicViscosity / air.diffusivity, 14);
    expect(airAt(450, 45_000).density).toBeCloseTo(air.density / 2, 14);
    expect(() => airAt(-1)).toThrow(RangeError);
    expect(() => airAt(300, Number.NaN)).toThrow(/pressure/);
  });
});
