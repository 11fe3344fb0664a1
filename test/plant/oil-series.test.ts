import { describe, expect, it } from 'vitest';
import { areaAbove, filmTemperatures, lightOfMap } from '../../src/plant/flux-map.js';
import { oilNamed } from '../../src/plant/oil.js';
import { type Light, type Loop, loopState } from '../../src/plant/oil-loop.js';
import { heatInOil, oilSeries } from '../../src/plant/oil-series.js';
import { agrees, CELSIUS, near } from './agrees.js';
import { CUP } from './receivers.js';

const WEATHER = { ambient: 295, wind: 2 };
const LOOP: Loop = {
  oil: oilNamed('hydrogenated_terphenyl'),
  channel: { diameter: 0.012, length: 4, parallel: 1, wallThickness: 0.0015, wallConductivity: 40 },
  inlet: 220 + CELSIUS,
  massFlow: 0.06,
};
const LIGHTS: readonly Light[] = Array.from({ length: 8 }, (_, i) => ({
  watts: 700 + 20 * i,
  peakFlux: 50_000 + 1000 * i,
}));

describe('receivers in a string', () => {
  it('the oil takes up what receivers give less what pipes lose, to 1e-9', () => {
    const { cases } = oilSeries(CUP, LIGHTS, WEATHER, LOOP, 0.4);
    for (const state of Object.values(cases)) {
      const inOil = heatInOil(LOOP, LOOP.inlet, state.outlet);
      expect(agrees(inOil, state.delivered, 1e-9 * 6000)).toBe(true);
      expect(agrees(inOil, state.gained, 1e-9 * 6000)).toBe(false);
    }
  });

  it('pipes lose their conductance times the excess over the air, each at the temperature that it is given', () => {
    const { receivers, pipeLoss } = oilSeries(CUP, LIGHTS, WEATHER, LOOP, 0.4).cases.best;
    const byHand = receivers.reduce((sum, state) => sum + 0.4 * (state.outlet - 295), 0);
    expect(near(pipeLoss, byHand, 1e-12)).toBe(true);
    expect(near(pipeLoss * 1.01, byHand, 1e-12)).toBe(false);
  });

  it('the farther along, the hotter and the less is gained from like light', () => {
    const like = LIGHTS.map(() => LIGHTS[0]);
    const { receivers, outlet } = oilSeries(CUP, like, WEATHER, LOOP).cases.best;
    for (let i = 1; i < receivers.length; i++) {
      expect(receivers[i].outlet).toBeGreaterThan(receivers[i - 1].outlet);
      expect(receivers[i].balance.useful).toBeLessThan(receivers[i - 1].balance.useful);
    }
    expect(outlet).toBe(receivers[7].outlet);
    expect(receivers[0]).toEqual(loopState(CUP, LIGHTS[0], WEATHER, LOOP));
  });

  it('bands in order; the hottest film counts the worst pairing', () => {
    const { delivered, outlet, film } = oilSeries(CUP, LIGHTS, WEATHER, LOOP, 0.4);
    for (const band of [delivered, outlet, film]) {
      expect(band.low).toBeLessThanOrEqual(band.best);
      expect(band.best).toBeLessThanOrEqual(band.high);
    }
    expect(film.high).toBeGreaterThan(outlet.high);
    expect(() => oilSeries(CUP, [], WEATHER, LOOP)).toThrow(/at least one/);
    expect(() => oilSeries(CUP, LIGHTS, WEATHER, LOOP, -1)).toThrow(/pipe/);
  });
});

describe('flux map on the wall', () => {
  const map = { flux: [0, 10_000, 40_000, 50_000], cellArea: 0.005 };

  it('watts, peak, film temperatures in proportion to the flux', () => {
    const light = lightOfMap(map);
    expect(light).toEqual({ watts: 500, peakFlux: 50_000 });
    const state = loopState(CUP, light, WEATHER, LOOP);
    const films = filmTemperatures(map, state);
    expect(films[0]).toBe(state.outlet);
    expect(films[3]).toBeCloseTo(state.film, 9);
    expect(near(films[1] - films[0], (state.film - state.outlet) / 5, 1e-9)).toBe(true);
    expect(areaAbove(map, state, state.outlet + 0.5 * (state.film - state.outlet))).toBeCloseTo(0.01, 12);
    expect(areaAbove(map, state, state.film + 1)).toBe(0);
  });

  it('refuses what cannot be', () => {
    expect(() => lightOfMap({ flux: [], cellArea: 1 })).toThrow(/no cells/);
    expect(() => lightOfMap({ flux: [1, Number.NaN], cellArea: 1 })).toThrow(/flux/);
    expect(() => lightOfMap({ flux: [1], cellArea: 0 })).toThrow(/cell area/);
  });
});
