import { describe, expect, it } from 'vitest';
import { dot } from '../../src/field/vector.js';
import type { Vec3 } from '../../src/scene/types.js';
import {
  axesOf,
  type LossForm,
  lossAlong,
  lossFormFrom,
  lossOfOffset,
  rootOf,
  roundedUp,
} from '../../src/study/loss-form.js';

const FORM: LossForm = [
  [5e-5, 1e-5, -2e-5],
  [1e-5, 3e-5, 4e-6],
  [-2e-5, 4e-6, 4e-5],
];

describe('loss forms', () => {
  it('worked by hand', () => {
    // 2 mm along x and 1 mm along y: 4 x 5e-5 + 2 x 2 x 1e-5 + 3e-5.
    expect(lossOfOffset(FORM, [0.002, 0.001, 0])).toBeCloseTo(2.7e-4, 12);
    expect(lossAlong(FORM, [0, 7, 0])).toBeCloseTo(3e-5, 15);
  });

  it('trying places gives the form back, whatever the step, and a constant is not taken for a loss', () => {
    for (const step of [0.1, 5, 40]) {
      const found = lossFormFrom((offset) => lossOfOffset(FORM, offset) + 0.3, step);
      found.flat().forEach((value, i) => {
        expect(value).toBeCloseTo(FORM.flat()[i], 12);
      });
    }
    expect(() => lossFormFrom(() => 0, 0)).toThrow(/step/);
  });

  it('axes put together give the form; roots are roots', () => {
    const axes = axesOf(FORM);
    const root = rootOf(FORM);
    expect(axes[0].value).toBeGreaterThanOrEqual(axes[1].value);
    for (let i = 0; i < 3; i++) {
      for (let j = 0; j < 3; j++) {
        expect(axes.reduce((sum, { value, axis }) => sum + value * axis[i] * axis[j], 0)).toBeCloseTo(
          FORM[i][j],
          15,
        );
        expect(root.reduce((sum, row) => sum + row[i] * row[j], 0)).toBeCloseTo(FORM[i][j], 15);
        expect(dot(axes[i].axis, axes[j].axis)).toBeCloseTo(i === j ? 1 : 0, 12);
      }
    }
  });

  it('what noise leaves below 0 is cut off, the rest stays', () => {
    const tilted: Vec3 = [0.6, 0.8, 0];
    const across: Vec3 = [-0.8, 0.6, 0];
    const entry = (i: number, j: number) => 4 * tilted[i] * tilted[j] - 1 * across[i] * across[j];
    const noisy = [0, 1, 2].map((i) => [entry(i, 0), entry(i, 1), entry(i, 2)]) as unknown as LossForm;
    const cut = roundedUp(noisy, 0.5);
    expect(lossAlong(noisy, across)).toBeCloseTo(-1, 12);
    expect(lossAlong(cut, across)).toBeCloseTo(0.5, 12);
    expect(lossAlong(cut, tilted)).toBeCloseTo(4.5, 12);
  });
});
