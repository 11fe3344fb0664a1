/** What counts know beyond the spread of their slots. */
import { describe, expect, it } from 'vitest';
import { countedArea } from '../../src/result/peak.js';
import { figureOf, latticeError, resample, shareFigure, sumSlots } from '../../src/result/resampled.js';
import type { Figure } from '../../src/result/types.js';
import { jackknife } from '../../src/run/statistics.js';
import { compareFigures } from '../../src/study/figures.js';

/** Even numbers from 0 to 1 (Park & Miller's minimal standard generator). */
function* evenNumbers(seed: number): Generator<number, never> {
  let state = seed;
  for (;;) {
    state = (state * 48271) % 2147483647;
    yield state / 2147483647;
  }
}

describe('a share that hangs on one dimension of the lattice (seed 7, 1,000 runs of 32 batches)', () => {
  const POINTS = 64;
  const BATCHES = 32;
  /** 12.03 of 64 points: most batches count 12, one in thirty 13. */
  const SHARE = 12.03 / POINTS;
  let held = 0;
  let heldBySpread = 0;
  const numbers = evenNumbers(7);
  for (let run = 0; run < 1000; run++) {
    const slots = Array.from({ length: BATCHES }, () => {
      const shift = numbers.next().value;
      let inside = 0;
      for (let i = 0; i < POINTS; i++) if ((i / POINTS + shift) % 1 < SHARE) inside++;
      return Float64Array.of(inside);
    });
    const sums = sumSlots(slots, 1);
    const share = resample(sums, (read) => read(0) / POINTS);
    const holds = ({ ci95: [low, high] }: Figure) => low <= SHARE && SHARE <= high;
    if (holds(shareFigure(share, sums.sum[0], POINTS * BATCHES, BATCHES))) held++;
    if (holds(figureOf(share, '1', { singleSlotError: 0 }))) heldBySpread++;
  }

  it('is held by its interval', () => {
    expect(held).toBeGreaterThanOrEqual(930);
  });

  it('sabotage: the spread of the batches alone holds it far too seldom', () => {
    expect(heldBySpread).toBeLessThan(700);
  });

  it('the floor counts lattices, or rays on the rarer side where these are fewer', () => {
    expect(latticeError(1e4, 1e4, 300)).toBeCloseTo(5, 12);
    expect(latticeError(12, 1e4, 300)).toBeCloseTo(1, 12);
    expect(latticeError(1e4, 0, 300)).toBe(0);
  });
});

describe('the area whose rays make the noise of a disc mean', () => {
  const window = { width: 0.4, height: 0.4, discDiameter: 0.04, wrapsInV: false };

  it("is the disc's own where cells are fine, a cell's where the disc lies within one", () => {
    const fine = countedArea({ ...window, nu: 400, nv: 400 });
    expect(fine / (Math.PI * 0.02 ** 2)).toBeCloseTo(1, 1);
    expect(countedArea({ ...window, nu: 5, nv: 5 })).toBeCloseTo(0.08 ** 2, 12);
  });
});

describe('an error that can only have made a value too low', () => {
  it('lies in the upper end of the interval: twice its variance there, none below, once in the standard error', () => {
    const replicates = Float64Array.from({ length: 32 }, (_, j) => 50 + 0.01 * (j % 5));
    const seen = jackknife(replicates, 50).std_err;
    const { std_err, ci95 } = figureOf({ value: 50, replicates }, 'kW/m2', {
      singleSlotError: 0,
      errorUpwards: 3 * seen,
    });
    // Student's t, 31 degrees of freedom: 2.040 (any table).
    expect((50 - ci95[0]) / seen).toBeCloseTo(2.0395, 3);
    expect((ci95[1] - 50) / seen).toBeCloseTo(2.0395 * Math.sqrt(1 + 18), 2);
    expect(std_err / seen).toBeCloseTo(Math.sqrt(1 + 9), 10);
    expect(((ci95[1] - 50) ** 2 + (50 - ci95[0]) ** 2) / 2).toBeCloseTo((2.0395 * std_err) ** 2, 4);
  });
});

describe('errors that leave-one-out values do not show', () => {
  const replicates = Float64Array.from({ length: 32 }, (_, j) => 50 + 0.01 * (j % 5));
  const seen = jackknife(replicates, 50).std_err;
  const figure = (value: number, unseen: number): Figure => {
    const std_err = Math.hypot(seen, unseen);
    return { value, std_err, ci95: [value - 2 * std_err, value + 2 * std_err], unit: 'kW/m2' };
  };

  it('stand in paired differences', () => {
    const base = { figure: figure(50, 0.3), replicates };
    const other = { figure: figure(60, 0.4), replicates: replicates.map((entry) => entry + 10) };
    const { difference, paired } = compareFigures(other, base, true);
    expect(paired).toBe(true);
    // The noise is common to both and cancels: what is left is hypot(0.3, 0.4).
    expect(difference.std_err).toBeCloseTo(0.5, 6);
  });

  it('are nothing in a comparison of a trace with itself', () => {
    const base = { figure: figure(50, 0.3), replicates };
    expect(compareFigures(base, base, true).difference.std_err).toBe(0);
  });
});
