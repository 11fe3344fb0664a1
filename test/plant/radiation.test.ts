import { describe, expect, it } from 'vitest';
import {
  blackEmission,
  cavityAbsorptance,
  checkEmittance,
  collectorEfficiency,
  emittanceAt,
  grey,
  netRadiation,
  planeExchange,
  radiantSurroundings,
  radiativeEfficiency,
  STEFAN_BOLTZMANN,
  skyTemperature,
} from '../../src/plant/radiation.js';
import type { Receiver } from '../../src/plant/receiver.js';
import { stagnationAt } from '../../src/plant/receiver-balance.js';
import { tableRows } from '../reference/tables.js';
import { agrees, CELSIUS } from './agrees.js';

describe('black and grey surfaces', () => {
  it('HT-01 Stefan-Boltzmann constant (CODATA 2018)', () => {
    expect(agrees(STEFAN_BOLTZMANN, 5.670374419e-8, 1e-17)).toBe(true);
    expect(agrees(STEFAN_BOLTZMANN * (1 + 1e-8), 5.670374419e-8, 1e-17)).toBe(false);
  });

  // Closed form.
  it.each([
    [300, 6119.06],
    [350, 8550.32],
    [400, 11642.85],
  ])('HT-02 black emission at %i C', (celsius, expected) => {
    expect(agrees(blackEmission(celsius + CELSIUS), expected, 0.01)).toBe(true);
    expect(agrees(blackEmission(celsius + 273), expected, 0.01)).toBe(false);
  });

  // Closed form.
  it.each([
    [0.1, 89.1, 127.3, 175.9],
    [0.5, 445.4, 636.4, 879.2],
    [0.9, 801.7, 1145.4, 1582.6],
  ])('HT-06 a metre of 50 mm tube, emittance %f', (emittance, ...expected) => {
    const perMetre = (celsius: number) => Math.PI * 0.05 * netRadiation(emittance, celsius + CELSIUS, 298.15);
    for (const [index, celsius] of [300, 350, 400].entries()) {
      expect(agrees(perMetre(celsius), expected[index], 0.1)).toBe(true);
      expect(agrees(perMetre(celsius + 1), expected[index], 0.1)).toBe(false);
    }
  });
});

describe('HT-03 and HT-04: light against radiation alone (closed form)', () => {
  const rows = tableRows('receiver-efficiency.csv');
  /** 1 m2 that loses by radiation only. */
  const bare = (absorptance: number, emittance: number): Receiver => ({
    shape: { kind: 'plate', length: 1, width: 1, facingDown: 0 },
    absorptance,
    emittance: grey(emittance),
    insulation: [],
    convection: 'none',
  });

  it('has its rows', () => expect(rows.length).toBeGreaterThan(70));

  it.each(rows)('C $C, $T_C C, alpha $alpha, eps $eps', (row) => {
    const flux = Number(row.C) * Number(row.G_W_m2);
    const sky = Number(row.T_sky_K);
    const expected = Number(row.eta_radiation_only);
    const of = (celsius: number) =>
      radiativeEfficiency(Number(row.alpha), Number(row.eps), celsius + CELSIUS, sky, flux);
    expect(agrees(of(Number(row.T_C)), expected, 1e-6)).toBe(true);
    expect(agrees(of(Number(row.T_C) + 1), expected, 1e-6)).toBe(false);
    const still = (watts: number) =>
      stagnationAt(bare(Number(row.alpha), Number(row.eps)), watts, { ambient: sky, wind: 0 })! - CELSIUS;
    expect(agrees(still(flux), Number(row.stagnation_C), 0.001)).toBe(true);
    expect(agrees(still(flux * 1.001), Number(row.stagnation_C), 0.001)).toBe(false);
  });
});

describe('HT-13 cavity absorptance (closed form)', () => {
  it.each([
    [1, 0.9],
    [0.5, 0.947368],
    [0.2, 0.978261],
    [0.1, 0.989011],
  ])('opening over wall %f', (ratio, expected) => {
    expect(agrees(cavityAbsorptance(0.9, ratio), expected, 1e-6)).toBe(true);
    expect(agrees(cavityAbsorptance(0.9001, ratio), expected, 1e-6)).toBe(false);
  });

  it('by bouncing light to and fro', () => {
    // Diffuse light inside: each bounce, a share `ratio` of what is reflected leaves by the opening.
    const [a, ratio] = [0.85, 0.15];
    let inside = 1;
    let absorbed = 0;
    for (let bounce = 0; bounce < 400; bounce++) {
      absorbed += a * inside;
      inside *= (1 - a) * (1 - ratio);
    }
    // First light falls on the wall; F from wall to wall is 1 - A_opening/A_wall.
    expect(cavityAbsorptance(a, ratio)).toBeCloseTo(absorbed, 12);
  });
});

it('HT-14 collector form, structure of ISO 9806', () => {
  expect(agrees(collectorEfficiency(0.75, 3.5, 0.015, 50, 1000), 0.5375, 1e-5)).toBe(true);
  expect(agrees(collectorEfficiency(0.689, 0.36, 0.0011, 275, 900), 0.48657, 1e-5)).toBe(true);
  expect(agrees(collectorEfficiency(0.75, 3.5, 0.015, 135.546, 1000), 0, 1e-5)).toBe(true);
  expect(agrees(collectorEfficiency(0.689, 0.36, 0.0011, 276, 900), 0.48657, 1e-5)).toBe(false);
});

describe('emittance', () => {
  it('straight line from 0 C, table, spread, never outside 0..1', () => {
    const selective = { kind: 'linear', offset: 0.06, slope: 2e-4, uncertainty: 0.2 } as const;
    expect(emittanceAt(selective, 350 + CELSIUS)).toBeCloseTo(0.13, 12);
    expect(emittanceAt(selective, 350 + CELSIUS, 'low')).toBeCloseTo(0.104, 12);
    expect(emittanceAt(selective, 350 + CELSIUS, 'high')).toBeCloseTo(0.156, 12);
    expect(emittanceAt({ ...selective, offset: 0.99 }, 900)).toBe(1);
    expect(emittanceAt({ ...selective, offset: -0.2 }, 300)).toBe(0);
    const table = { kind: 'table', temperature: [300, 500], value: [0.1, 0.2] } as const;
    expect(emittanceAt(table, 400)).toBeCloseTo(0.15, 12);
    expect(emittanceAt(table, 900)).toBe(0.2);
    expect(() => checkEmittance({ ...table, temperature: [500, 300] })).toThrow(/row 2.*rise/);
    expect(() => checkEmittance({ ...table, value: [0.1, 1.2] })).toThrow(RangeError);
    expect(() => grey(1.1)).toThrow(/emittance/);
  });

  it('two planes: closed form, and a mirror exchanges nothing', () => {
    expect(planeExchange(1, 1, 500, 300)).toBeCloseTo(netRadiation(1, 500, 300), 9);
    expect(planeExchange(0.5, 0.5, 500, 300)).toBeCloseTo(netRadiation(1 / 3, 500, 300), 9);
    expect(planeExchange(0, 0.5, 500, 300)).toBe(0);
  });

  it('surroundings lie between sky and air', () => {
    expect(skyTemperature(300)).toBeCloseTo(286.83, 2);
    expect(radiantSurroundings(300, 0)).toBeCloseTo(300, 12);
    expect(radiantSurroundings(300, 1)).toBeCloseTo(skyTemperature(300), 10);
    expect(() => radiantSurroundings(300, 1.1)).toThrow(/sky/);
  });
});
