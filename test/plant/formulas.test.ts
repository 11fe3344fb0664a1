/**
 * Every bare formula against a number from elsewhere: printed by the tests and pages of the public library ht (C. Bell; read), or worked
 * out by hand with logarithms from the formula in its published form (four or five digits).
 */
import { describe, expect, it } from 'vitest';
import { maHeadWind, maSideWind } from '../../src/plant/cavity.js';
import { plateNatural, plateWind, tubeNatural, tubeWind } from '../../src/plant/convection.js';
import {
  annulusConductance,
  cattonLayer,
  layerCoefficient,
  leaningLayer,
  uprightLayer,
} from '../../src/plant/cover.js';
import { dittusBoelter, gnielinski, hausen } from '../../src/plant/film-coefficient.js';
import {
  churchillChuCylinder,
  churchillChuCylinderLaminar,
  churchillChuPlate,
  churchillChuPlateLaminar,
  fujiiImuraFacingDown,
  fujiiImuraInclined,
  mcAdamsFacingDown,
  mcAdamsFacingUp,
  mcAdamsPlate,
  morganCylinder,
  plateForced,
  zukauskasCylinder,
} from '../../src/plant/nusselt.js';
import { DEGREE, near } from './agrees.js';

describe('printed by the library ht', () => {
  it.each([
    ['McAdams facing up, turbulent', mcAdamsFacingUp(5.54 * 3.21e8), 181.73121274384457],
    ['McAdams facing up, laminar', mcAdamsFacingUp(0.01 * 3.21e8), 22.857041558492334],
    ['McAdams facing down', mcAdamsFacingDown(5.54 * 3.21e8), 55.44564799362829],
    ['Churchill & Chu plate', churchillChuPlate(0.69 * 2.63e9, 0.69), 147.16185223770603],
    ['Churchill & Chu cylinder', churchillChuCylinder(0.69 * 2.63e9, 0.69), 139.13493970073597],
    ['Morgan, Ra 0.009', morganCylinder(0.9e-2), 0.5136293570857408],
    ['Morgan, Ra 90', morganCylinder(0.9e2), 1.9853087795801612],
    ['Morgan, Ra 9e3', morganCylinder(0.9e4), 4.707783879945983],
    ['Morgan, Ra 9e6', morganCylinder(0.9e7), 26.290682760247975],
    ['Morgan, Ra 9e9', morganCylinder(0.9e10), 258.0315247153301],
    ['Hausen', hausen(1e5, 1.1, 0.1), 39.01352358988535],
    ['Gnielinski', gnielinski(1e5, 1.2, 0.0185), 254.62682749359632],
  ])('%s', (_, got, expected) => {
    expect(near(got, expected, 1e-12)).toBe(true);
    expect(near(got * 1.001, expected, 1e-12)).toBe(false);
  });
});

describe('by hand', () => {
  it.each([
    ['Churchill & Chu cylinder, laminar, Ra 1e6, Pr 0.7', churchillChuCylinderLaminar(1e6, 0.7), 12.73],
    ['Churchill & Chu cylinder, Ra 1e6, Pr 0.7', churchillChuCylinder(1e6, 0.7), 14.51],
    ['Churchill & Chu plate, laminar, Ra 1e6, Pr 0.7', churchillChuPlateLaminar(1e6, 0.7), 16.916],
    ['Churchill & Chu plate, Ra 1e6, Pr 0.7', churchillChuPlate(1e6, 0.7), 16.53],
    ['McAdams plate, laminar: 0.59 x 100', mcAdamsPlate(1e8), 59],
    ['McAdams plate, turbulent: 0.1 x 1e10^(1/3)', mcAdamsPlate(1e10), 215.44],
    ['Fujii & Imura inclined', fujiiImuraInclined(1e8), 56],
    ['Fujii & Imura facing down', fujiiImuraFacingDown(1e8), 23.09],
    ['flat plate, mixed, Re 1e6, Pr 0.7', plateForced(1e6, 0.7), 1299.5],
    ['Zukauskas, Re 20, Pr 0.7', zukauskasCylinder(20, 0.7, 0.7), 2.1785],
    ['Zukauskas, Re 500', zukauskasCylinder(500, 0.7, 0.7), 9.994],
    ['Zukauskas, Re 4e5', zukauskasCylinder(4e5, 0.7, 0.7), 555.9],
    ['Zukauskas, Pr 20: exponent 0.36', zukauskasCylinder(1e4, 20, 20), 192.0],
    ['Dittus & Boelter', dittusBoelter(1e4, 10), 91.56],
    ['ElSherbiny, Ra 1e5, 10 high', uprightLayer(1e5, 10), 3.0024],
    ['ElSherbiny, Ra 1e7, 5 high: turbulent 0.0605 x 215.44', uprightLayer(1e7, 5), 13.034],
    ['ElSherbiny, Ra 1e4, 5 high: boundary layer', uprightLayer(1e4, 5), 1.913],
    ['Catton, Ra 1e5, 10 high', cattonLayer(1e5, 0.7, 10), 3.7273],
    ['Hollands, Ra 1e4, 45 degrees', leaningLayer(1e4, Math.PI / 4), 1.9],
    ['Ma, across, 5 m/s', maSideWind(5), 3.857],
    ['Ma, into an opening that looks sideways, 5 m/s', maHeadWind(5, 0), 1.5577],
    ['Ma, into an opening that looks down, 5 m/s', maHeadWind(5, 90 * DEGREE), 5.581],
  ])('%s', (_, got, expected) => {
    expect(near(got, expected, 5e-4)).toBe(true);
    expect(near(got * 1.002, expected, 5e-4)).toBe(false);
  });

  it('ring between a tube and its glass: 0.1 m at 120 C in 0.12 m at 35 C, k_eff/k 1.14, 100 W/m (Incropera & DeWitt ch. 9, from memory)', () => {
    const ring = annulusConductance(393, 308, 0.1, 0.12);
    expect(near(ring.best * 85, 100, 0.015)).toBe(true);
    expect(near(ring.low * 85, 100, 0.015)).toBe(false);
    expect(near(ring.best / ring.low, 1.142, 0.01)).toBe(true);
  });
});

describe('ranges', () => {
  const plate = (size: number) => ({ kind: 'plate', length: size, width: size, facingDown: 0.3 }) as const;
  const inRange = (values: readonly { readonly name: string; readonly inRange: boolean }[]) =>
    values.filter((entry) => entry.inRange).map((entry) => entry.name.slice(0, 8));

  it('a speck, a dish and a wall: what each formula was made for', () => {
    const at = (size: number) => inRange(plateNatural(plate(size), 600, { ambient: 295, wind: 0 }));
    expect(at(0.002)).toEqual(['Churchil', 'Churchil']);
    expect(at(0.018)).toEqual(['Churchil', 'Churchil', 'McAdams ']);
    expect(at(0.18)).toEqual(['Churchil', 'Churchil', 'McAdams ', 'Fujii & ']);
    expect(at(1)).toEqual(['Churchil', 'McAdams ', 'Fujii & ']);
    expect(at(40)).toEqual(['Churchil']);
  });

  it('wind: houses have their own formula, a breath reaches no tube range', () => {
    const blown = { ambient: 295, wind: 3 };
    expect(inRange(plateWind(plate(0.18), 600, blown))).not.toContain('Mitchell');
    expect(inRange(plateWind(plate(2), 600, blown))).toContain('Mitchell');
    expect(
      inRange(plateWind(plate(0.18), 600, { ambient: 295, wind: 0 })).every((name) => name === 'flat pla'),
    ).toBe(true);
    const tube = { kind: 'tube', diameter: 0.05, length: 4 } as const;
    expect(inRange(tubeWind(tube, 600, blown))).toHaveLength(2);
    expect(inRange(tubeWind(tube, 600, { ambient: 295, wind: 1e-6 }))).toHaveLength(1);
    expect(inRange(tubeNatural(tube, 600, blown))).toHaveLength(3);
    expect(inRange(tubeNatural({ ...tube, diameter: 1.2 }, 600, blown))).toHaveLength(2);
  });

  it('layers: Catton counts only for tall ones; a cold wall turns the layer over', () => {
    // 10 high and Ra 1e5: both formulas, Catton's the higher.
    const tall = layerCoefficient(400, 300, 0.03, 0.36, 0);
    expect(tall.high).toBeGreaterThan(tall.best * 1.01);
    const short = layerCoefficient(400, 300, 0.03, 0.18, 0);
    expect(short.high).toBe(short.best);
    // Facing up and colder than its cover is the same layer as facing down and hotter.
    const over = layerCoefficient(300, 400, 0.03, 0.18, -Math.PI / 2);
    expect(near(over.best, over.low, 1e-12)).toBe(true);
  });
});
