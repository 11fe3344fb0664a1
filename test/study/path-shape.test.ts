/** What a path is, told from its places. */
import { describe, expect, test } from 'vitest';
import type { Vec3 } from '../../src/scene/types.js';
import { pathShape } from '../../src/study/path-shape.js';

/** Half a circle of radius 1000 about (10, 20, 30), its plane leaned by 30 degrees about the row. */
const ARC = Array.from({ length: 181 }, (_, i): Vec3 => {
  const angle = (i * Math.PI) / 180;
  const out = 1000 * Math.sin(angle);
  return [10 - 1000 * Math.cos(angle), 20 - out * Math.sin(Math.PI / 6), 30 + out * Math.cos(Math.PI / 6)];
});

describe('the shape of a path (closed forms)', () => {
  test('an arc: radius, centre, plane, length', () => {
    const { arc, kind, length_mm, ends_mm, knee_mm } = pathShape(ARC, 'arc');
    expect(kind).toBe('arc');
    expect(arc?.radius_mm).toBeCloseTo(1000, 6);
    [10, 20, 30].forEach((value, axis) => {
      expect(arc?.centre_mm[axis]).toBeCloseTo(value, 6);
    });
    [0, Math.cos(Math.PI / 6), 0.5].forEach((value, axis) => {
      expect(arc?.plane_normal[axis]).toBeCloseTo(value, 9);
    });
    // 180 chords of a degree.
    expect(length_mm).toBeCloseTo(180 * 2000 * Math.sin(Math.PI / 360), 6);
    expect(ends_mm).toEqual([ARC[0], ARC[180]]);
    expect(knee_mm).toBeNull();
    // Sabotage: an end 5 mm off is another circle.
    const bent = [...ARC.slice(0, -1), [ARC[180][0] + 5, ARC[180][1], ARC[180][2]] as const];
    expect(Math.abs((pathShape(bent, 'arc').arc?.radius_mm ?? 0) - 1000)).toBeGreaterThan(1);
  });

  test('a knee: where it bends, wherever along it that is', () => {
    const path: Vec3[] = [
      [-900, 0, -50],
      [300, 40, 80],
      [900, 0, -400],
    ];
    expect(pathShape(path, 'knee')).toMatchObject({ kind: 'knee', knee_mm: [300, 40, 80], arc: null });
  });

  test('straight arcs and paths that were given have no circle', () => {
    const line: Vec3[] = [-1, 0, 1].map((along) => [100 * along, 0, 10 * along]);
    expect(pathShape(line, 'arc').arc).toBeNull();
    expect(pathShape(ARC, null)).toMatchObject({ kind: 'given', arc: null, knee_mm: null });
    expect(pathShape(line, 'tilted').length_mm).toBeCloseTo(2 * Math.hypot(100, 10), 9);
  });
});
