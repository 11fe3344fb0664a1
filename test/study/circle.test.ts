/** The circle through three places. */
import { expect, it } from 'vitest';
import { norm, subtract } from '../../src/field/vector.js';
import { circleThrough } from '../../src/study/circle.js';

it('passes through its places, with the centre in their plane; none in line', () => {
  // Upright circle of radius 5 about (1, 2, -3), by Pythagoras.
  const circle = circleThrough([-3, 2, 0], [1, 2, 2], [5, 2, 0]);
  expect(circle?.centre.map((one) => Math.round(1e9 * one) / 1e9)).toEqual([1, 2, -3]);
  expect(circle?.radius).toBeCloseTo(5, 9);
  expect(Math.abs(circle?.normal[1] ?? 0)).toBeCloseTo(1, 9);
  // Fault: a place moved off it.
  expect(norm(subtract([1, 2, 2.1], circle?.centre ?? [0, 0, 0]))).not.toBeCloseTo(5, 2);
  expect(circleThrough([0, 0, 0], [1, 1, 1], [2, 2, 2])).toBeNull();
});
