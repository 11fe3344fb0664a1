import { describe, expect, it } from 'vitest';
import { ascend, type Climbed } from '../../src/study/ascent.js';

/** 5 - (x - 1)^2 - 30 (y + 2 - x / 2)^2: one top, on a ridge that slants. */
function ridge([x, y]: readonly number[]): Climbed {
  const beside = y + 2 - x / 2;
  return {
    value: 5 - (x - 1) ** 2 - 30 * beside ** 2,
    slope: [-2 * (x - 1) + 30 * beside, -60 * beside],
  };
}

/** Exp of minus Rosenbrock's valley (Comput. J. 3 (1960) 175) scaled down: its top is 1 at (1, 1). */
function bentRidge([x, y]: readonly number[]): Climbed {
  const beside = y - x * x;
  const value = Math.exp(-0.01 * (100 * beside ** 2 + (1 - x) ** 2));
  return {
    value,
    slope: [-0.01 * value * (-400 * x * beside - 2 * (1 - x)), -0.01 * value * 200 * beside],
  };
}

const OPTIONS = { scales: [1, 1], longest: 2, finest: 1e-4 };

/** The same function seen from another origin. */
function from(lookAt: (place: readonly number[]) => Climbed, x: number, y: number) {
  return ([a, b]: readonly number[]) => lookAt([a + x, b + y]);
}

describe('climbing a smooth function', () => {
  it('ends on the top of a slanting ridge within a few looks', () => {
    const { place, value, looks } = ascend(from(ridge, 0.9, -1.4), OPTIONS);
    expect(value).toBeCloseTo(5, 6);
    expect(place[0] + 0.9).toBeCloseTo(1, 3);
    expect(place[1] - 1.4).toBeCloseTo(-1.5, 3);
    expect(looks).toBeLessThan(25);
  });

  it('ends on the top of a bent ridge', () => {
    const { place, value } = ascend(from(bentRidge, 0.3, 0.2), OPTIONS);
    expect(value).toBeCloseTo(1, 5);
    expect(place[0] + 0.3).toBeCloseTo(1, 1);
  });

  it('does not reach the top with slopes that are a tenth off in one way (fault)', () => {
    const wrong = (at: readonly number[]): Climbed => {
      const { value, slope } = ridge(at);
      return { value, slope: [slope[0] + 0.1 * Math.abs(slope[1]) + 0.1, slope[1]] };
    };
    expect(ascend(from(wrong, 0.9, -1.4), OPTIONS).value).toBeLessThan(5 - 1e-4);
  });

  it('never takes a step longer than it may, and never goes down', () => {
    const seen: number[] = [];
    let highest = Number.NEGATIVE_INFINITY;
    const { value } = ascend(
      (at) => {
        const here = from(bentRidge, 0, 0)(at);
        seen.push(Math.hypot(...at));
        highest = Math.max(highest, here.value);
        return here;
      },
      { ...OPTIONS, longest: 0.05 },
    );
    expect(Math.max(...seen)).toBeLessThan(24 * 0.05 + 1e-9);
    expect(seen[1]).toBeLessThanOrEqual(0.05 + 1e-12);
    expect(value).toBe(highest);
  });

  it('stays where nothing is felt', () => {
    expect(ascend(() => ({ value: 0, slope: [0, 0] }), OPTIONS)).toEqual({
      place: [0, 0],
      value: 0,
      looks: 1,
    });
  });
});
