/** Comparisons of vectors and frames for tests. */
import { expect } from 'vitest';
import type { Frame } from '../../src/field/types.js';
import { cross, dot } from '../../src/field/vector.js';
import type { Vec3 } from '../../src/scene/types.js';

/** Every part within `tolerance`. */
export function expectVector(actual: Vec3, expected: Vec3, tolerance: number): void {
  for (let axis = 0; axis < 3; axis++) {
    expect(
      Math.abs(actual[axis] - expected[axis]),
      `[${actual.join(', ')}] against [${expected.join(', ')}]`,
    ).toBeLessThanOrEqual(tolerance);
  }
}

/** Orthonormal and right-handed to 1e-14. */
export function expectRightHanded(frame: Frame): void {
  for (const axis of [frame.x, frame.y, frame.z]) {
    expect(Math.abs(dot(axis, axis) - 1)).toBeLessThan(1e-14);
  }
  expectVector(cross(frame.x, frame.y), frame.z, 1e-14);
  expectVector(cross(frame.y, frame.z), frame.x, 1e-14);
}
