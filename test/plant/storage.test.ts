import { describe, expect, it } from 'vitest';
import {
  deliveredShare,
  diffusionDepth,
  nightPrice,
  pipeSpacing,
  type Store,
  type StoreUse,
  storeConductance,
  storeFigures,
  storeForSupply,
  storeTemperatureAfter,
  supplySeconds,
} from '../../src/plant/storage.js';
import { near } from './agrees.js';

/** Invented: dry sand in a box, figures of the order that handbooks give. */
const SAND = { density: 1550, heatCapacity: 800, conductivity: 0.35 };
const BOX: Store = {
  material: SAND,
  shape: { kind: 'box', length: 2, width: 2, height: 1.5 },
  insulationThickness: 0.3,
  insulationConductivity: 0.05,
};
const USE: StoreUse = { hot: 573, cold: 393, ambient: 293 };

describe('store', () => {
  it('capacity and mass by hand', () => {
    const figures = storeFigures(BOX, USE);
    expect(figures.volume).toBe(6);
    expect(figures.mass).toBe(9300);
    expect(figures.capacity).toBeCloseTo(9300 * 800 * 180, 3);
    expect(figures.loss).toBeCloseTo(figures.lossConductance * 190, 9);
    expect(figures.lossPerDay).toBeCloseTo((figures.loss * 86_400) / figures.capacity, 12);
    expect(storeFigures({ ...BOX, fill: 0.9 }, USE).mass).toBeCloseTo(8370, 9);
  });

  it('box: between the conduction through its inside and its outside faces; a thin layer is A/t', () => {
    const inside = 2 * (4 + 3 + 3);
    const outside = 2 * (2.6 * 2.6 + 2 * 2.6 * 2.1);
    const slab = (area: number) => area / (0.3 / 0.05 + 1 / 10);
    expect(storeConductance(BOX)).toBeGreaterThan(slab(inside));
    expect(storeConductance(BOX)).toBeLessThan(slab(outside));
    // 20 m2 / 0.3 m + 0.54 x 22 m of edges + 0.15 x 8 corners x 0.3 m = 78.907 m; skin 35.36 m2.
    expect(storeConductance(BOX)).toBeCloseTo(1 / (1 / (0.05 * 78.9067) + 1 / (10 * 35.36)), 5);
    const thin = { ...BOX, insulationThickness: 1e-4, outside: 1e9 };
    expect(near(storeConductance(thin), (0.05 * inside) / 1e-4, 1e-3)).toBe(true);
  });

  it('cylinder: closed form of mantle and ends', () => {
    const drum: Store = { ...BOX, shape: { kind: 'cylinder', diameter: 1, height: 2 } };
    const mantle = 1 / (Math.log(1.6) / (2 * Math.PI * 0.05 * 2) + 1 / (10 * Math.PI * 1.6 * 2));
    const ends = (2 * (Math.PI / 4) * 1.3 ** 2) / (6 + 0.1);
    expect(storeConductance(drum)).toBeCloseTo(mantle + ends, 12);
  });

  it('supply: without loss capacity over load; with it, as marched in small steps', () => {
    const figures = storeFigures(BOX, USE);
    const tight = { ...figures, lossConductance: 1e-9, timeConstant: (9300 * 800) / 1e-9 };
    expect(near(supplySeconds(tight, USE, 3000)!, figures.capacity / 3000, 1e-6)).toBe(true);
    let [temperature, seconds] = [USE.hot, 0];
    while (temperature > USE.cold) {
      temperature -= ((3000 + figures.lossConductance * (temperature - USE.ambient)) * 60) / (9300 * 800);
      seconds += 60;
    }
    const supply = supplySeconds(figures, USE, 3000)!;
    expect(near(supply, seconds, 1e-3)).toBe(true);
    expect(near(supply * 1.01, seconds, 1e-3)).toBe(false);
    expect(deliveredShare(figures, USE, 3000)).toBeLessThan(1);
    expect(deliveredShare(figures, USE, 300)).toBeLessThan(deliveredShare(figures, USE, 3000));
    expect(supplySeconds(figures, { ...USE, ambient: USE.cold }, 0)).toBeNull();
  });

  it('size for a supply: serves it, and a hundredth less does not', () => {
    const night = storeForSupply(BOX, USE, 3000, 14 * 3600)!;
    expect(near(supplySeconds(storeFigures(night, USE), USE, 3000)!, 14 * 3600, 1e-9)).toBe(true);
    if (night.shape.kind !== 'box') throw new Error('the kind of shape has changed');
    expect(night.shape.length / night.shape.height).toBeCloseTo(2 / 1.5, 12);
    const less = { ...night, shape: { ...night.shape, length: 0.99 * night.shape.length } };
    expect(supplySeconds(storeFigures(less, USE), USE, 3000)!).toBeLessThan(0.995 * 14 * 3600);
    const drum = storeForSupply(
      { ...BOX, shape: { kind: 'cylinder', diameter: 1, height: 2 } },
      USE,
      3000,
      3600,
    )!;
    expect(near(supplySeconds(storeFigures(drum, USE), USE, 3000)!, 3600, 1e-9)).toBe(true);
    expect(drum.shape).toMatchObject({ height: 2 * (drum.shape as { diameter: number }).diameter });
    expect(storeForSupply(BOX, USE, 1e12, 1e9)).toBeNull();
    expect(() => storeForSupply(BOX, USE, 0, 3600)).toThrow(/load/);
  });

  it('idle: falls to 1/e of its excess in the time constant', () => {
    const { timeConstant } = storeFigures(BOX, USE);
    expect(storeTemperatureAfter(573, 293, timeConstant, timeConstant)).toBeCloseTo(293 + 280 / Math.E, 9);
  });

  it('refuses what cannot be', () => {
    expect(() => storeFigures(BOX, { ...USE, cold: 600 })).toThrow(/hot less cold/);
    expect(() => storeFigures({ ...BOX, fill: 1.2 }, USE)).toThrow(/fill/);
    expect(() => storeFigures({ ...BOX, shape: { kind: 'cylinder', diameter: 0, height: 1 } }, USE)).toThrow(
      /diameter/,
    );
  });
});

describe('heat into the solid', () => {
  it('sqrt(alpha t): at that depth a step at the face has arrived with erfc(1/2) = 48 %, by marching the heat equation', () => {
    const seconds = 6 * 3600;
    const depth = diffusionDepth(SAND, seconds);
    expect(near(depth, Math.sqrt((0.35 / (1550 * 800)) * seconds), 1e-12)).toBe(true);
    // Explicit steps over ten depths.
    const cells = 400;
    const dx = (10 * depth) / cells;
    const alpha = 0.35 / (1550 * 800);
    const steps = Math.ceil(seconds / ((0.4 * dx * dx) / alpha));
    const number = (alpha * (seconds / steps)) / (dx * dx);
    let field = new Float64Array(cells + 1);
    field[0] = 1;
    for (let step = 0; step < steps; step++) {
      const next = Float64Array.from(field);
      for (let i = 1; i < cells; i++) next[i] += number * (field[i - 1] - 2 * field[i] + field[i + 1]);
      field = next;
    }
    expect(near(field[Math.round(depth / dx)], 0.4795, 0.005)).toBe(true);
    expect(near(field[Math.round((1.1 * depth) / dx)], 0.4795, 0.005)).toBe(false);
    expect(pipeSpacing(SAND, seconds)).toBeCloseTo(2 * depth, 12);
  });
});

describe('price at night', () => {
  it('adds up: day, losses, store', () => {
    const price = nightPrice(0.03, 0.8, 120, 10_000);
    expect(price.losses).toBeCloseTo(0.0075, 12);
    expect(price.store).toBeCloseTo(0.012, 12);
    expect(price.night).toBeCloseTo(0.03 / 0.8 + 0.012, 12);
    expect(() => nightPrice(0.03, 0, 120, 1)).toThrow(/comes out/);
  });
});
