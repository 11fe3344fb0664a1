/** How facets are laid down where receivers are unlike. */
import { describe, expect, it } from 'vitest';
import { layOut } from '../../src/field/layout.js';
import { footprintPlan } from '../../src/kernel/footprint.js';
import { depositWide } from '../../src/kernel/gaussian-deposit.js';
import { viewPrepared } from '../../src/kernel/layout.js';
import { prepareScene } from '../../src/prepare.js';
import { momentOf } from '../../src/sun/direction.js';
import { sevenStripDish, textbookTrough } from '../support/scenes.js';

describe('a tube and a plate in one field', () => {
  it.each([0, 1])("each facet goes by its own receiver: the tube's (receiver %d) by rays", (tubeAt) => {
    const scene = sevenStripDish({ row: { dishes: 2 } });
    const field = layOut(scene);
    const tube = layOut(textbookTrough()).receivers[0].design;
    const receivers = field.receivers.map((receiver, index) =>
      index === tubeAt ? { ...receiver, design: tube } : receiver,
    );
    const { buffer } = prepareScene(scene, { ...field, receivers }, momentOf(scene));
    const view = viewPrepared(buffer);
    field.facets.forEach(({ receiver }, facet) => {
      expect(footprintPlan(view, facet).prints > 0).toBe(receiver !== tubeAt);
    });
  });
});

describe('a wide footprint near the edge of the map', () => {
  const N = 40;
  const sum = (u: number, v: number, lean: number) => {
    const map = new Float64Array(N * N);
    depositWide(map, 0, N, N, 7, u, v, 4, lean, 4);
    return map.reduce((total, watts) => total + watts, 0);
  };
  /** Standard deviations to which cells are filled. */
  const REACH = 4.75;

  it.each([0, 1.5])('holds each watt where it ends a cell and a half from the edge (covariance %f)', (uv) => {
    const vv = 4 + 1 / 12;
    const alongV = REACH * Math.sqrt(vv);
    const alongU = REACH * Math.sqrt(vv - (uv * uv) / vv) + (uv / vv) * alongV;
    for (const [u, v] of [
      [alongU + 1.5, 20],
      [N - alongU - 1.5, 20],
      [20, alongV + 0.5],
      [20, N - alongV - 0.5],
    ]) {
      expect(Math.abs(sum(u, v, uv) / 7 - 1)).toBeLessThan(1e-13);
      // Sabotage: cut by the edge it does not.
      expect(
        Math.abs(sum(u < 20 ? u - 6 : u > 20 ? u + 6 : u, v < 20 ? v - 6 : v > 20 ? v + 6 : v, uv) / 7 - 1),
      ).toBeGreaterThan(1e-7);
    }
  });
});
