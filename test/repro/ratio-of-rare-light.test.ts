/** Two scenes compared where all the blocked rays of a short run sit in one slot: without that slot the base is nothing. */
import { expect, it } from 'vitest';
import type { Figure } from '../../src/result/types.js';
import { compareFigures } from '../../src/study/figures.js';

function withSlots(slots: readonly number[]) {
  const total = slots.reduce((sum, value) => sum + value, 0);
  const value = total / slots.length;
  const replicates = Float64Array.from(slots, (slot) => (total - slot) / (slots.length - 1));
  const figure: Figure = { value, std_err: value, ci95: [0, 3 * value], unit: '1' };
  return { figure, replicates };
}

it('a ratio to light that a single slot holds has a finite error', () => {
  const rare = withSlots([0, 0, 0.01, 0, 0, 0, 0, 0]);
  const { ratio } = compareFigures(rare, rare, true);
  expect(ratio?.value).toBe(1);
  expect(ratio?.std_err).toBe(0);
  const { ratio: doubled } = compareFigures(withSlots([0, 0, 0.02, 0, 0, 0, 0.001, 0]), rare, true);
  expect(doubled?.value).toBeCloseTo(2.1, 12);
  expect(doubled?.std_err).toBeGreaterThan(0);
  expect(doubled?.std_err).toBeLessThan(10);
});
