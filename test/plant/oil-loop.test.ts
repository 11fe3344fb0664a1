import { describe, expect, it } from 'vitest';
import type { Channel } from '../../src/plant/film-coefficient.js';
import { enthalpyRise, type Oil, oilAt, oilNamed } from '../../src/plant/oil.js';
import {
  type Light,
  type Loop,
  leastFlow,
  loopResult,
  loopState,
  standstillCautions,
} from '../../src/plant/oil-loop.js';
import { lightShares, type Receiver } from '../../src/plant/receiver.js';
import { stagnation } from '../../src/plant/receiver-balance.js';
import { agrees, CELSIUS, near } from './agrees.js';
import { ALL, CUP, PLATE } from './receivers.js';

const WEATHER = { ambient: 295, wind: 2 };
const CHANNEL: Channel = {
  diameter: 0.012,
  length: 4,
  parallel: 1,
  wallThickness: 0.0015,
  wallConductivity: 40,
};
const LOOP: Loop = {
  oil: oilNamed('biphenyl_diphenyl_oxide'),
  channel: CHANNEL,
  inlet: 280 + CELSIUS,
  massFlow: 0.05,
  pressure: 10e5,
};
const LIGHT: Light = { watts: 800, peakFlux: 60_000 };

describe('receiver with a flow of oil', () => {
  it('the oil takes up what the receiver gives, to 1e-9', () => {
    for (const receiver of ALL) {
      for (const massFlow of [0.002, 0.01, 0.05, 0.3]) {
        const state = loopState(receiver, LIGHT, WEATHER, { ...LOOP, massFlow });
        const intoOil = massFlow * enthalpyRise(LOOP.oil, LOOP.inlet, state.outlet);
        expect(agrees(intoOil, state.balance.useful, 1e-9 * LIGHT.watts)).toBe(true);
        // Film and wall carry the same heat over the logarithmic mean of the differences, heat capacity at the mean of the oil.
        const rise = state.outlet - LOOP.inlet;
        const [first, last] = [state.balance.wall - LOOP.inlet, state.balance.wall - state.outlet];
        const through = (Math.PI * 0.012 * 4) / (1 / state.filmCoefficient + 0.0015 / 40);
        const carried = through * (rise / Math.log(first / last));
        const constant = massFlow * oilAt(LOOP.oil, state.bulk).heatCapacity * rise;
        expect(near(carried, constant, 1e-9)).toBe(true);
        expect(near(carried * 1.001, constant, 1e-9)).toBe(false);
      }
    }
  });

  it('no losses: outlet by hand', () => {
    const perfect: Receiver = {
      ...PLATE,
      absorptance: 1,
      emittance: { kind: 'linear', offset: 0, slope: 0 },
      insulation: [],
      convection: 'none',
    };
    const flat: Oil = {
      name: 'flat',
      table: {
        temperature: [300, 700],
        density: [800, 800],
        heatCapacity: [2000, 2000],
        conductivity: [0.1, 0.1],
        viscosity: [4e-4, 4e-4],
      },
      limits: { film: 650 },
      source: 'made up for this test',
    };
    const state = loopState(perfect, LIGHT, WEATHER, { ...LOOP, oil: flat });
    expect(state.outlet - LOOP.inlet).toBeCloseTo(800 / (0.05 * 2000), 9);
    // Hottest film: the outlet plus 60 kW/m2 over the film coefficient; the wall 2.25 K more.
    expect(state.film - state.outlet).toBeCloseTo(60_000 / state.filmCoefficient, 9);
    expect(state.hottestWall - state.film).toBeCloseTo((60_000 * 0.0015) / 40, 9);
  });

  it('bands in order; more flow: cooler film; more peak: hotter film', () => {
    const result = loopResult(CUP, LIGHT, WEATHER, LOOP);
    for (const band of [result.useful, result.efficiency, result.outlet, result.film, result.hottestWall]) {
      expect(band.low).toBeLessThanOrEqual(band.best);
      expect(band.best).toBeLessThanOrEqual(band.high);
    }
    expect(loopResult(CUP, LIGHT, WEATHER, { ...LOOP, massFlow: 0.1 }).film.high).toBeLessThan(
      result.film.high,
    );
    expect(loopResult(CUP, { ...LIGHT, peakFlux: 90_000 }, WEATHER, LOOP).film.low).toBeGreaterThan(
      result.film.high,
    );
    expect(result.filmMargin).toBeCloseTo(425 + CELSIUS - result.film.high, 9);
  });

  it('draws of any size end in figures: light from none to far too much, flow from a drop to a flood', () => {
    for (const receiver of ALL) {
      for (const watts of [0, 5, 300, 80_000]) {
        for (const massFlow of [1e-5, 1e-3, 5]) {
          const state = loopState(receiver, { watts, peakFlux: 20 * watts }, WEATHER, { ...LOOP, massFlow });
          for (const value of [state.outlet, state.film, state.hottestWall, state.balance.useful]) {
            expect(Number.isFinite(value)).toBe(true);
          }
          // Never past the wall; a drop of oil ends there but for the rounding of watts over its flow.
          expect((state.balance.wall - state.outlet) * (state.outlet - LOOP.inlet)).toBeGreaterThanOrEqual(
            -1e-4,
          );
        }
      }
    }
  });

  it('at night the oil warms the receiver, down to a trickle that nearly stands', () => {
    for (const massFlow of [0.05, 1e-3, 1e-5]) {
      const { balance, outlet } = loopState(CUP, { watts: 0, peakFlux: 0 }, WEATHER, { ...LOOP, massFlow });
      expect(balance.useful).toBeLessThan(0);
      expect(outlet).toBeLessThan(LOOP.inlet);
      expect(outlet).toBeGreaterThan(0);
    }
  });

  it('a trickle in the light comes near standstill, never above it', () => {
    const still = stagnation(CUP, LIGHT.watts, WEATHER)!;
    const { balance } = loopState(CUP, LIGHT, WEATHER, { ...LOOP, massFlow: 1e-4 });
    expect(balance.wall).toBeLessThan(still.best);
    expect(balance.wall).toBeGreaterThan(still.best - 120);
  });

  it('cautions: film limit, boiling, flash, autoignition, laminar flow; none of them where all is well', () => {
    const of = (loop: Partial<Loop>, light: Light = LIGHT) =>
      loopResult(CUP, light, WEATHER, { ...LOOP, ...loop }).cautions.join('\n');
    expect(of({})).toMatch(/flash point of 110 C/);
    expect(of({})).not.toMatch(/film limit|boils|autoignition|laminar/);
    expect(of({ massFlow: 0.002 })).toMatch(/film limit of 425 C/);
    expect(of({ massFlow: 0.002 })).toMatch(/laminar/);
    expect(of({ pressure: 3e5 })).toMatch(/boils at 31\d C at this pressure/);
    const { pressure: _, ...open } = LOOP;
    expect(loopResult(CUP, LIGHT, WEATHER, open).cautions.join('\n')).toMatch(/could not be ruled out/);
    expect(of({ oil: oilNamed('mineral_oil') })).toMatch(/autoignition point of mineral_oil is not known/);
    const igniting: Oil = { ...LOOP.oil, limits: { ...LOOP.oil.limits, autoignition: 320 + CELSIUS } };
    expect(of({ oil: igniting })).toMatch(/ignites by itself/);
    expect(of({ inlet: 50 + CELSIUS })).toMatch(/outside its table/);
  });

  it('standstill: synthetic hydrocarbon self-ignites at 343 C, below the 366 C of standstill under ten suns (HT-04)', () => {
    const oil = oilNamed('synthetic_hydrocarbon');
    const black: Receiver = {
      ...PLATE,
      absorptance: 1,
      emittance: { kind: 'linear', offset: 1, slope: 0 },
      insulation: [],
      convection: 'none',
      skyShare: 0,
    };
    const tenSuns = stagnation(black, 9000 * 0.18 * 0.18, { ambient: 298.15, wind: 0 })!;
    expect(agrees(tenSuns.best, 365.75 + CELSIUS, 0.01)).toBe(true);
    expect(standstillCautions(oil, tenSuns).join('\n')).toMatch(/film limit of 335 C.*from 343 C/s);
    expect(standstillCautions(oil, { low: 500, best: 520, high: 540 })).toEqual([]);
    expect(standstillCautions(oil, null)[0]).toMatch(/nothing/);
  });

  it('refuses what cannot be', () => {
    expect(() => loopResult(CUP, LIGHT, WEATHER, { ...LOOP, massFlow: 0 })).toThrow(/mass flow/);
    expect(() =>
      loopResult(CUP, LIGHT, WEATHER, { ...LOOP, oil: oilNamed('synthetic_hydrocarbon') }),
    ).toThrow(/limits only/);
    expect(() => loopResult(CUP, { ...LIGHT, peakFlux: -1 }, WEATHER, LOOP)).toThrow(/peak flux/);
  });
});

describe('least flow that protects the oil', () => {
  const protection = { filmMargin: 10, greatestFlow: 0.5 };
  const filmAt = (massFlow: number) => loopResult(CUP, LIGHT, WEATHER, { ...LOOP, massFlow }).film.high;

  it('just meets the film limit less the margin; a tenth less flow does not', () => {
    const flow = leastFlow(CUP, LIGHT, WEATHER, LOOP, protection)!;
    expect(near(filmAt(flow), 415 + CELSIUS, 1e-6)).toBe(true);
    expect(filmAt(flow * 0.9)).toBeGreaterThan(415 + CELSIUS + 1);
    expect(filmAt(flow * 1.1)).toBeLessThan(415 + CELSIUS);
  });

  it('more peak flux needs more; a flux that no flow can bear has none', () => {
    const flow = leastFlow(CUP, LIGHT, WEATHER, LOOP, protection)!;
    const more = leastFlow(CUP, { ...LIGHT, peakFlux: 120_000 }, WEATHER, LOOP, protection)!;
    expect(more).toBeGreaterThan(flow);
    expect(leastFlow(CUP, { ...LIGHT, peakFlux: 5e6 }, WEATHER, LOOP, protection)).toBeNull();
    const endless: Oil = { ...LOOP.oil, limits: {} };
    expect(() => leastFlow(CUP, LIGHT, WEATHER, { ...LOOP, oil: endless }, protection)).toThrow(/film limit/);
  });

  it('absorbed peak counts, not the light that is thrown back', () => {
    const dull: Receiver = { ...PLATE, absorptance: 0.5 };
    const share = lightShares(dull, 1).absorbed;
    const state = loopState(dull, LIGHT, WEATHER, LOOP);
    expect(share).toBeCloseTo(0.5, 12);
    expect(state.film - state.outlet).toBeLessThan((0.51 * 60_000) / 1000);
  });
});
