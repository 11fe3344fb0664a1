import { describe, expect, it } from 'vitest';
import {
  directionToLocal,
  directionToParent,
  frameFromX,
  frameFromZ,
  frameToParent,
  levelFrame,
  pointToLocal,
  pointToParent,
  turnAboutX,
} from '../../src/field/frame.js';
import { angleBetween, anglesOf, directionOf, dot, reflect } from '../../src/field/vector.js';
import type { Vec3 } from '../../src/scene/types.js';
import { expectRightHanded, expectVector } from '../support/geometry.js';

const HEADING_EAST = Math.PI / 2;

describe('directions', () => {
  it('azimuth counts from north, clockwise', () => {
    expectVector(directionOf({ azimuth: 0, elevation: 0 }), [0, 1, 0], 1e-15);
    expectVector(directionOf({ azimuth: Math.PI / 2, elevation: 0 }), [1, 0, 0], 1e-15);
    expectVector(directionOf({ azimuth: 1, elevation: Math.PI / 2 }), [0, 0, 1], 1e-15);
  });

  it('angles and directions go round', () => {
    for (const azimuth of [0, 0.3, 2, 3.5, 5.9]) {
      for (const elevation of [-1.2, 0, 0.4, 1.5]) {
        const angles = anglesOf(directionOf({ azimuth, elevation }));
        expect(angles.azimuth).toBeCloseTo(azimuth, 12);
        expect(angles.elevation).toBeCloseTo(elevation, 12);
      }
    }
    expect(anglesOf([-1e-17, 3, 0]).azimuth).toBe(0);
    expect(anglesOf([1e-17, -1e-17, -2])).toEqual({ azimuth: 0, elevation: -Math.PI / 2 });
  });

  it('reflects by the law of the mirror', () => {
    const sun = directionOf({ azimuth: 2.2, elevation: 0.7 });
    const normal = directionOf({ azimuth: 1.4, elevation: 1.1 });
    const away = reflect(sun, normal);
    expect(dot(away, normal)).toBeCloseTo(dot(sun, normal), 14);
    expect(angleBetween(sun, away)).toBeCloseTo(2 * angleBetween(sun, normal), 13);
  });
});

describe('frames', () => {
  it('a row that runs east has y north and z up', () => {
    const frame = levelFrame([1, 2, 3], HEADING_EAST);
    expectVector(frame.x, [1, 0, 0], 1e-15);
    expectVector(frame.y, [0, 1, 0], 1e-15);
    expectVector(frame.z, [0, 0, 1], 1e-15);
  });

  it('are right-handed for any heading, turn and axis', () => {
    for (const heading of [0, 0.5, HEADING_EAST, 3, 5.5]) {
      const level = levelFrame([0, 0, 0], heading);
      expectRightHanded(level);
      expectRightHanded(turnAboutX(level, 0.7));
      expectRightHanded(frameFromZ([0, 0, 0], [0.3, -2, 0.4], level.x)!);
      expectRightHanded(frameFromX([0, 0, 0], level.x, [0.3, 0.1, 1])!);
    }
  });

  it('keep their digits where the two directions are almost parallel', () => {
    expectRightHanded(frameFromZ([0, 0, 0], [0, 1e-6, 1], [0, 0, 1])!);
    expectRightHanded(frameFromX([0, 0, 0], [1, 1e-6, 0], [1, 0, 0])!);
  });

  it('say so where the directions are parallel', () => {
    expect(frameFromZ([0, 0, 0], [0, 0, 2], [0, 0, -1])).toBeNull();
    expect(frameFromX([0, 0, 0], [0, 3, 0], [0, 1, 0])).toBeNull();
  });

  it('a turn leans z towards -y', () => {
    const turned = turnAboutX(levelFrame([0, 0, 0], HEADING_EAST), 0.6);
    expectVector(turned.z, [0, -Math.sin(0.6), Math.cos(0.6)], 1e-15);
    expectVector(turned.y, [0, Math.cos(0.6), Math.sin(0.6)], 1e-15);
  });

  it('points and directions go there and back', () => {
    const frame = frameFromZ([0.4, -3, 2], [0.3, -2, 0.4], [1, 1, 0])!;
    const point: Vec3 = [0.7, -0.1, 5];
    expectVector(pointToLocal(frame, pointToParent(frame, point)), point, 1e-14);
    expectVector(directionToParent(frame, directionToLocal(frame, point)), point, 1e-14);
    const outer = turnAboutX(levelFrame([1, 1, 1], 0.3), 0.2);
    expectVector(
      pointToParent(frameToParent(outer, frame), point),
      pointToParent(outer, pointToParent(frame, point)),
      1e-14,
    );
  });
});
