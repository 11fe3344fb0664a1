/**
 * Images of flat mirrors and the limits of concentration. Sources: closed form (IMG-01, IMG-02), textbook (IMG-04). IMG-04
 * is also held in every case of this folder that has an even solar disc.
 */
import { describe } from 'vitest';
import type { Summary } from '../../src/result/types.js';
import { interceptFactor, type ReferenceCase, testCases, wholeShare } from './agreement.js';
import { paperScene, roundAperture } from './paper-scene.js';

const HALF_ANGLE = 4.65;
const RAYS = 131_072;
const disc = (halfAngle = HALF_ANGLE) => `{ kind: disc, half_angle_mrad: ${halfAngle} }`;
const WIDER = 'a half angle of 1.02 x';
const POINT_LIMIT = 46_248.45;

describe('IMG-01 image of a point of the mirror: 2 d tan(half angle)', () => {
  const rows = [
    [1, 9.3001],
    [3, 27.9002],
    [5, 46.5003],
    [10, 93.0007],
  ] as const;
  testCases(
    rows.flatMap(([distance, diameter]): ReferenceCase[] => {
      // A point is a chip of 0.1 mm, the smallest there is: it widens the image by its diagonal.
      const chip = [0.0001, 0.0001] as const;
      const whole = (sunshape: string, size: number) =>
        paperScene({ sunshape, distance, chip, aperture: roundAperture(size / 2000) });
      const widened = diameter + Math.SQRT2 * 0.1 + 1e-4;
      // An opening of half the image holds (1/2)^2 of an even image: image diameter = opening / sqrt(share). The chip blurs the
      // rim only, which half the image does not see.
      const fromHalf = (summary: Summary) => {
        const { value, std_err } = interceptFactor(summary);
        const size = diameter / 2 / Math.sqrt(value);
        return { value: size, std_err: (size * std_err) / (2 * value) };
      };
      return [
        {
          id: `IMG-01 ${distance} m: nothing outside`,
          scene: whole(disc(), widened),
          rays: RAYS,
          checks: [{ label: 'inside', expected: 1, tolerance: 0, read: wholeShare }],
          sabotage: [{ fault: WIDER, scene: whole(disc(1.02 * HALF_ANGLE), widened) }],
          limit: POINT_LIMIT,
        },
        {
          id: `IMG-01 ${distance} m: diameter`,
          scene: whole(disc(), diameter / 2),
          rays: RAYS,
          checks: [{ label: 'diameter, mm', expected: diameter, tolerance: 1e-4 * diameter, read: fromHalf }],
          sabotage: [{ fault: WIDER, scene: whole(disc(1.02 * HALF_ANGLE), diameter / 2) }],
          limit: POINT_LIMIT,
        },
      ];
    }),
  );
});

describe('IMG-02 flat mirror of width w: footprint w + 2 d tan, full-brightness core w - 2 d tan', () => {
  const rows = [
    [0.1, 1, 0.1093, 0.0907],
    [0.1, 5, 0.1465, 0.0535],
  ] as const;
  testCases(
    rows.flatMap(([width, distance, footprint, core]): ReferenceCase[] => {
      // Measured across the plane of incidence, where nothing is foreshortened; in that plane the mirror is short, so that
      // all of it is one distance away.
      const band = (sunshape: string, across: number, size: number = width) =>
        paperScene({
          sunshape,
          distance,
          chip: [size, 0.0002],
          incidence: 40,
          aperture: `{ shape: rectangle, width_m: ${across}, height_m: 1 }`,
        });
      return [
        {
          id: `IMG-02 ${width} m at ${distance} m: footprint`,
          // 5e-6: the last digit printed.
          scene: band(disc(), footprint + 5e-6),
          rays: RAYS,
          checks: [{ label: 'inside', expected: 1, tolerance: 0, read: wholeShare }],
          sabotage: [
            { fault: 'a half angle of 1.05 x', scene: band(disc(1.05 * HALF_ANGLE), footprint + 5e-6) },
          ],
        },
        {
          id: `IMG-02 ${width} m at ${distance} m: core`,
          scene: band(disc(), core),
          rays: RAYS,
          // At full brightness the core holds its own width's share of the mirror; beyond it brightness falls at once.
          checks: [{ label: 'in the core', expected: core / width, tolerance: 1e-4, read: interceptFactor }],
          sabotage: [{ fault: 'a mirror 1 % wider', scene: band(disc(), core, 1.01 * width) }],
        },
        {
          id: `IMG-02 ${width} m at ${distance} m: half brightness at the mirror's edge`,
          scene: band(disc(), width),
          rays: RAYS,
          // The disc's marginal beyond its middle, once at each edge: 2 x (2 / (3 pi)) of its radius are lost.
          checks: [
            {
              label: 'within the width',
              expected: 1 - ((footprint - width) * 2) / (3 * Math.PI * width),
              tolerance: 1e-4,
              read: interceptFactor,
            },
          ],
          sabotage: [{ fault: 'a half angle of 1.05 x', scene: band(disc(1.05 * HALF_ANGLE), width) }],
        },
      ];
    }),
  );
});
