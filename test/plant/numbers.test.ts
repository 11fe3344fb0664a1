import { describe, expect, it } from 'vitest';
import { bandOfCases, bandOfFormulas } from '../../src/plant/band.js';
import { aboveZero, risingTable, wholeFrom, within } from '../../src/plant/inputs.js';
import { rootOf } from '../../src/plant/root.js';
import { linearBetween, rowBelow } from '../../src/plant/table.js';

describe('roots', () => {
  it('to the last digits, from either side, over kinks and jumps', () => {
    expect(rootOf((x) => x ** 3 - 2, 0, 5)).toBeCloseTo(Math.cbrt(2), 14);
    expect(rootOf((x) => 2 - x ** 3, 5, 0)).toBeCloseTo(Math.cbrt(2), 14);
    expect(rootOf((x) => Math.exp(x) - 1e5, 0, 50)).toBeCloseTo(Math.log(1e5), 13);
    expect(rootOf((x) => (x < 1 ? x - 2 : 3 * (x - 1.5)), -3, 50)).toBeCloseTo(1.5, 13);
    expect(rootOf((x) => Math.sign(x - 1.3), -3, 50)).toBeCloseTo(1.3, 13);
    expect(rootOf((x) => x - 1, 1, 4)).toBe(1);
    expect(rootOf((x) => x - 4, 1, 4)).toBe(4);
  });

  it('few steps for a smooth function; a tolerance ends earlier', () => {
    const count = (tolerance: number) => {
      let calls = 0;
      const cubic = (x: number) => {
        calls++;
        return x ** 3 - 2;
      };
      rootOf(cubic, 0, 5, tolerance);
      return calls;
    };
    expect(count(0)).toBeLessThan(20);
    expect(count(1e-3)).toBeLessThan(count(0));
  });

  it('no change of sign, or no number, is an error', () => {
    expect(() => rootOf((x) => x * x + 1, -1, 1)).toThrow(/no change of sign/);
    expect(() => rootOf((x) => (x > 0.4 && x < 0.6 ? Number.NaN : x - 0.5), 0, 1)).toThrow(/no value/);
  });
});

describe('bands', () => {
  it('of formulas: those in range, the first is best; all where none is', () => {
    const entry = (value: number, inRange = true) => ({ name: `${value}`, value, inRange });
    expect(bandOfFormulas([entry(3), entry(2), entry(9, false)])).toEqual({ low: 2, best: 3, high: 3 });
    expect(bandOfFormulas([entry(3, false), entry(9, false)])).toEqual({ low: 3, best: 3, high: 9 });
    expect(bandOfFormulas([entry(9, false), entry(2), entry(4)])).toEqual({ low: 2, best: 2, high: 4 });
    expect(() => bandOfFormulas([])).toThrow(RangeError);
  });

  it('of cases: in order, whichever way they run', () => {
    expect(bandOfCases((end) => ({ low: 5, best: 4, high: 1 })[end])).toEqual({ low: 1, best: 4, high: 5 });
  });
});

describe('tables', () => {
  it('linear inside, end values beyond', () => {
    const [x, y] = [
      [1, 2, 4],
      [10, 20, 0],
    ];
    expect([0, 1, 1.5, 2, 3, 4, 9].map((at) => linearBetween(x, y, at))).toEqual([10, 10, 15, 20, 10, 0, 0]);
    expect([1, 1.9, 2, 3.9].map((at) => rowBelow(x, at))).toEqual([0, 0, 1, 1]);
  });
});

describe('refusals', () => {
  it('name the figure and what was given', () => {
    expect(() => aboveZero('length', 0)).toThrow('length must be a number above 0, got 0');
    expect(() => aboveZero('length', Number.POSITIVE_INFINITY)).toThrow(/above 0/);
    expect(() => within('share', 1.5, 0, 1)).toThrow('share must be from 0 to 1, got 1.5');
    expect(() => within('mass', -1, 0)).toThrow('mass must be 0 or more, got -1');
    expect(() => within('mass', Number.NaN, 0)).toThrow(RangeError);
    expect(() => wholeFrom('count', 1.5, 1)).toThrow('count must be a whole number of 1 or more, got 1.5');
    expect(() => risingTable('curve', [1, 1], [[2, 3]])).toThrow('curve, row 2');
    expect(() => risingTable('curve', [1, 2], [[2]])).toThrow(/columns/);
    expect(() => risingTable('curve', [1, 2], [[2, Number.NaN]])).toThrow('curve, row 2: NaN');
    expect(() => risingTable('curve', [], [])).toThrow(/1 rows or more/);
    expect(() => risingTable('curve', [1, 2], [[2, 3]])).not.toThrow();
  });
});
