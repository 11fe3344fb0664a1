import { beforeAll, describe, expect, it } from 'vitest';
import { pointToParent } from '../../src/field/frame.js';
import { layOut } from '../../src/field/layout.js';
import { type FluxCells, lightThrough, type Opening, openingFigures } from '../../src/page/opening.js';
import { packLevels } from '../../src/page/pack.js';
import { unpackLevels } from '../../src/page/unpack.js';
import { prepareScene } from '../../src/prepare.js';
import { summarize } from '../../src/result/summarize.js';
import type { Summary } from '../../src/result/types.js';
import { runScene } from '../../src/run/run.js';
import type { ReceiverDesign, Scene } from '../../src/scene/types.js';
import { momentOf } from '../../src/sun/direction.js';
import { demoText, sceneOf } from '../support/pages.js';

/** A Gaussian spot of 1 W and rms width `sigma` mm per axis, exact per cell by a fine midpoint rule. */
function gaussianCells(n: number, sigma: number, middle: readonly [number, number] = [0, 0]): FluxCells {
  const side = 400;
  const cell = side / n;
  const parts = 8;
  const flux = new Float64Array(n * n);
  for (let iv = 0; iv < n; iv++) {
    for (let iu = 0; iu < n; iu++) {
      let sum = 0;
      for (let i = 0; i < parts; i++) {
        for (let j = 0; j < parts; j++) {
          const u = (iu + (i + 0.5) / parts) * cell - side / 2 - middle[0];
          const v = (iv + (j + 0.5) / parts) * cell - side / 2 - middle[1];
          sum += Math.exp(-(u * u + v * v) / (2 * sigma ** 2));
        }
      }
      // W/mm2 is 1000 kW/m2.
      flux[iv * n + iu] = (1000 * sum) / parts ** 2 / (2 * Math.PI * sigma ** 2);
    }
  }
  return { nu: n, nv: n, width_mm: side, height_mm: side, flux, std_err: new Float64Array(n * n) };
}

const round = (size_mm: number, u_mm = 0, v_mm = 0): Opening => ({ shape: 'round', size_mm, u_mm, v_mm });

describe('light through an opening, from the cells of a map', () => {
  // Closed form: 1 - exp(-r^2 / 2 sigma^2) of a round Gaussian lies within r of its middle.
  it.each([60, 90.5, 120, 181, 240])('a Gaussian spot through a circle of %d mm', (size) => {
    const held = lightThrough(gaussianCells(64, 45), round(size)).power_w;
    const truth = 1 - Math.exp(-((size / 2) ** 2) / (2 * 45 ** 2));
    expect(Math.abs(held / truth - 1)).toBeLessThan(1e-3);
  });

  it('a circle beside the middle, as one whose spot is moved the other way', () => {
    const moved = lightThrough(gaussianCells(64, 45, [-31.7, 12.3]), round(150, -31.7, 12.3)).power_w;
    const truth = 1 - Math.exp(-(75 ** 2) / (2 * 45 ** 2));
    expect(Math.abs(moved / truth - 1)).toBeLessThan(1e-3);
  });

  it('counting cells by their middles alone is seen to fail', () => {
    const cells = gaussianCells(64, 45);
    let power = 0;
    for (let at = 0; at < cells.flux.length; at++) {
      const u = ((at % 64) - 31.5) * 6.25;
      const v = (Math.floor(at / 64) - 31.5) * 6.25;
      if (Math.hypot(u, v) <= 30) power += cells.flux[at] * 6.25 ** 2 * 1e-3;
    }
    const truth = 1 - Math.exp(-(30 ** 2) / (2 * 45 ** 2));
    expect(Math.abs(power / truth - 1)).toBeGreaterThan(1e-3);
  });

  it('rectangles that cut cells: the parts of a map sum to the whole', () => {
    const cells = gaussianCells(40, 60, [20, -10]);
    const part = (u: number, width: number): number =>
      lightThrough(cells, { shape: 'rectangle', width_mm: width, height_mm: 400, u_mm: u, v_mm: 0 }).power_w;
    const whole = part(0, 400);
    // Cut at u = 33.3 mm, inside a cell.
    expect(part((-200 + 33.3) / 2, 233.3) + part((33.3 + 200) / 2, 166.7)).toBeCloseTo(whole, 9);
  });

  it('says when it reaches beyond the map, and counts nothing there', () => {
    const cells = gaussianCells(40, 60);
    expect(lightThrough(cells, round(400)).beyond).toBe(false);
    const beyond = lightThrough(cells, round(1000));
    expect(beyond.beyond).toBe(true);
    const all = cells.flux as Float64Array;
    expect(beyond.power_w).toBeCloseTo(all.reduce((sum, flux) => sum + flux, 0) * 100 * 1e-3, 9);
  });
});

const SCENE = 'one-dish.yaml';
const RAYS = 4e5;

/**
 * Traces the scene with another opening, moved in its own plane; its body stays where it is. All openings lie on the body's front,
 * whose shade on the mirrors so stays as it was: the shade of the opening's own back is not in a map.
 */
async function traceWith(
  scene: Scene,
  aperture: ReceiverDesign['aperture'],
  move: readonly [number, number] = [0, 0],
): Promise<Summary> {
  const field = layOut(scene);
  const [receiver] = field.receivers;
  const frame = { ...receiver.frame, origin: pointToParent(receiver.frame, [...move, 0]) };
  const design = { ...receiver.design, aperture };
  const changed = { ...field, receivers: [{ ...receiver, frame, design }] };
  const prepared = prepareScene(scene, changed, momentOf(scene));
  const options = { seed: 'opening', rays: RAYS, target: null, maxRays: 1e9, workers: 0 };
  return summarize(prepared, await runScene(prepared, options), '0', []);
}

describe('another opening against the scene traced with that opening', () => {
  let scene: Scene;
  let base: Summary;
  let cells: FluxCells;
  let own: Opening;
  beforeAll(async () => {
    scene = sceneOf(demoText(SCENE));
    const { aperture } = layOut(scene).receivers[0].design;
    base = await traceWith(scene, aperture);
    const [grid] = base.grids;
    cells = {
      nu: grid.nu,
      nv: grid.nv,
      width_mm: 1000 * grid.width,
      height_mm: 1000 * grid.height,
      // As the page holds it.
      flux: unpackLevels(packLevels(grid.flux)),
      std_err: unpackLevels(packLevels(grid.stdErr)),
    };
    if (aperture.shape !== 'round') throw new Error('the demo dish has a round opening');
    own = round(1000 * aperture.diameter);
  });

  const figuresOf = (opening: Opening) => {
    const [receiver] = base.result.receivers;
    const traced = {
      reflected_w: receiver.reflected_power.value,
      intercepted_w: receiver.intercepted_power.value,
      intercept: receiver.intercept_factor.value,
      spill: receiver.spill_fraction.value,
    };
    return openingFigures(cells, own, traced, opening);
  };

  const rectangle = (width_mm: number, height_mm: number, u_mm = 0, v_mm = 0): Opening => ({
    shape: 'rectangle',
    width_mm,
    height_mm,
    u_mm,
    v_mm,
  });

  it.each<[string, Opening]>([
    ['a circle of 120 mm', round(120)],
    ['a circle of 73 mm', round(73)],
    ['a circle of 240 mm', round(240)],
    ['a rectangle', rectangle(100, 170)],
    ['a circle beside the middle', round(140, 30, -25)],
    ['a rectangle beside the middle', rectangle(90, 120, -20, 35)],
  ])('$0: power, intercept and spill within 1 %', async (_, opening) => {
    const aperture =
      opening.shape === 'round'
        ? ({ shape: 'round', diameter: opening.size_mm / 1000 } as const)
        : ({ shape: 'rectangle', width: opening.width_mm / 1000, height: opening.height_mm / 1000 } as const);
    const { result } = await traceWith(scene, aperture, [opening.u_mm / 1000, opening.v_mm / 1000]);
    const [traced] = result.receivers;
    const figures = figuresOf(opening);
    expect(Math.abs(figures.power_w / traced.intercepted_power.value - 1)).toBeLessThan(0.01);
    expect(Math.abs(figures.intercept / traced.intercept_factor.value - 1)).toBeLessThan(0.01);
    expect(Math.abs(figures.spill - traced.spill_fraction.value)).toBeLessThan(0.01);
    expect(figures.mean_kw_m2 / traced.mean_flux.value).toBeCloseTo(1, 1);
    // The fault that it must see: an opening 4 % wider than the one traced.
    const wider =
      opening.shape === 'round'
        ? { ...opening, size_mm: 1.04 * opening.size_mm }
        : { ...opening, width_mm: 1.04 * opening.width_mm, height_mm: 1.04 * opening.height_mm };
    const off = figuresOf(wider).power_w / traced.intercepted_power.value - 1;
    // A circle of 240 mm holds all but the last of the light: there a little more changes little.
    if (opening.shape !== 'round' || opening.size_mm < 200) expect(Math.abs(off)).toBeGreaterThan(0.01);
  });

  it('the opening as built gives what was traced', () => {
    const [receiver] = base.result.receivers;
    const figures = figuresOf(own);
    expect(figures.power_w).toBeCloseTo(receiver.intercepted_power.value, 9);
    expect(figures.intercept).toBeCloseTo(receiver.intercept_factor.value, 12);
    expect(figures.spill).toBeCloseTo(receiver.spill_fraction.value, 12);
  });
});
