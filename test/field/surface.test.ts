import { describe, expect, it } from 'vitest';
import {
  outlineArea,
  reachesAll,
  surfaceArea,
  surfaceBounds,
  surfaceElement,
  surfaceGradient,
  surfaceHeight,
  surfaceNormal,
} from '../../src/field/surface.js';
import type { FacetShape, Outline } from '../../src/scene/types.js';

const SHAPES: readonly FacetShape[] = [
  { kind: 'flat' },
  { kind: 'bent', curve: 'parabola', focalLength: 0.9 },
  { kind: 'bent', curve: 'circle', focalLength: 0.9 },
  { kind: 'paraboloid', focalLength: 0.9 },
  { kind: 'toroid', radiusAlong: 2.1, radiusAcross: 1.4 },
  { kind: 'toroid', radiusAlong: 1.2, radiusAcross: 3 },
];

const OUTLINES: readonly Outline[] = [
  { kind: 'rectangle', length: 1.2, width: 0.8, centre: [0, 0] },
  { kind: 'rectangle', length: 0.5, width: 0.3, centre: [0.3, -0.4] },
  { kind: 'round', diameter: 1.4, holeDiameter: 0 },
  { kind: 'round', diameter: 1.4, holeDiameter: 0.5 },
];

function round(diameter: number, holeDiameter = 0): Outline {
  return { kind: 'round', diameter, holeDiameter };
}

function nameOf(thing: FacetShape | Outline): string {
  return JSON.stringify(thing);
}

function expectRelative(value: number, expected: number, tolerance: number): void {
  expect(Math.abs(value / expected - 1), `${value} against ${expected}`).toBeLessThan(tolerance);
}

/** Independent of the code under test: the element on a fine midpoint grid, in polar steps for a disc. */
function areaOnGrid(shape: FacetShape, outline: Outline, steps: number): number {
  let sum = 0;
  for (let i = 0; i < steps; i++) {
    for (let j = 0; j < steps; j++) {
      const [a, b] = [(i + 0.5) / steps, (j + 0.5) / steps];
      if (outline.kind === 'rectangle') {
        const x = outline.centre[0] + (a - 0.5) * outline.length;
        const y = outline.centre[1] + (b - 0.5) * outline.width;
        sum += (surfaceElement(shape, x, y) * outlineArea(outline)) / steps ** 2;
      } else {
        const inner = (outline.holeDiameter / 2) ** 2;
        const radius = Math.sqrt(inner + a * ((outline.diameter / 2) ** 2 - inner));
        const turn = 2 * Math.PI * b;
        const element = surfaceElement(shape, radius * Math.cos(turn), radius * Math.sin(turn));
        sum += (element * outlineArea(outline)) / steps ** 2;
      }
    }
  }
  return sum;
}

describe('heights', () => {
  it('a paraboloid of f = 1.9^2 / (4 x 0.399) has the profile of a published low-tech dish', () => {
    // Low-tech dish of 11 curved petals, Thermal Science 20 (2016) S1237; J. Sol. Energy 2015, 326536: D 3.8 m, f 2.26 m.
    const x = [0.3167, 0.6333, 0.95, 1.266, 1.583, 1.9];
    const y = [0.0112, 0.0443, 0.0997, 0.1778, 0.277, 0.399];
    const focalLength = 1.9 ** 2 / (4 * 0.399);
    expect(focalLength).toBeCloseTo(2.262, 3);
    for (const [index, at] of x.entries()) {
      const height = surfaceHeight({ kind: 'paraboloid', focalLength }, at, 0);
      // One of the published points (0.1778) lies 0.65 mm off the parabola through the last; the rest within 0.15 mm.
      expect(Math.abs(height - y[index])).toBeLessThan(7e-4);
    }
  });

  it('a toroid of two equal radii is a sphere', () => {
    const shape: FacetShape = { kind: 'toroid', radiusAlong: 1.7, radiusAcross: 1.7 };
    for (const [x, y] of [
      [0.1, 0.2],
      [-0.9, 0.7],
      [0.6, -1.1],
    ]) {
      expect(surfaceHeight(shape, x, y)).toBeCloseTo(1.7 - Math.sqrt(1.7 ** 2 - x ** 2 - y ** 2), 14);
    }
  });

  it('a toroid is the circle of radiusAlong turned about the line at the height radiusAcross', () => {
    const [radiusAlong, radiusAcross, x, turn] = [2.1, 1.4, 0.5, 0.35];
    const sag = radiusAlong - Math.sqrt(radiusAlong ** 2 - x ** 2);
    const y = (radiusAcross - sag) * Math.sin(turn);
    const z = radiusAcross - (radiusAcross - sag) * Math.cos(turn);
    expect(surfaceHeight({ kind: 'toroid', radiusAlong, radiusAcross }, x, y)).toBeCloseTo(z, 14);
  });

  it('keeps all digits where the sag is far smaller than the radius', () => {
    const height = surfaceHeight({ kind: 'bent', curve: 'circle', focalLength: 500 }, 1e-3, 0);
    // R - sqrt(R^2 - x^2) = x^2 / 2R (1 + x^2 / 4R^2 + ...), R = 1000 m.
    expectRelative(height, 1e-6 / 2000, 1e-12);
  });

  it.each(SHAPES.map((shape) => [nameOf(shape), shape] as const))(
    '%s: gradient and normal follow the height',
    (_, shape) => {
      const step = 1e-5;
      for (const [x, y] of [
        [0.31, -0.22],
        [-0.55, 0.4],
      ]) {
        const [slopeX, slopeY] = surfaceGradient(shape, x, y);
        const byX = (surfaceHeight(shape, x + step, y) - surfaceHeight(shape, x - step, y)) / (2 * step);
        const byY = (surfaceHeight(shape, x, y + step) - surfaceHeight(shape, x, y - step)) / (2 * step);
        // Central difference: error step^2 h''' / 6 plus rounding 1e-16 / step.
        expect(slopeX).toBeCloseTo(byX, 9);
        expect(slopeY).toBeCloseTo(byY, 9);
        const normal = surfaceNormal(shape, x, y);
        expect(Math.hypot(...normal)).toBeCloseTo(1, 14);
        expect(normal[0] + slopeX * normal[2]).toBeCloseTo(0, 14);
        expect(normal[1] + slopeY * normal[2]).toBeCloseTo(0, 14);
        expect(1 / normal[2]).toBeCloseTo(surfaceElement(shape, x, y), 13);
      }
    },
  );
});

describe('areas', () => {
  it('paraboloid cap: (8 pi f^2 / 3)((1 + (r / 2f)^2)^(3/2) - 1) (closed form)', () => {
    const [f, r] = [1.1, 0.9];
    const expected = ((8 * Math.PI * f ** 2) / 3) * ((1 + (r / (2 * f)) ** 2) ** 1.5 - 1);
    expectRelative(surfaceArea({ kind: 'paraboloid', focalLength: f }, round(2 * r)), expected, 1e-14);
  });

  it('spherical cap: 2 pi R h (closed form), and a zone between two heights', () => {
    const radius = 1.7;
    const shape: FacetShape = { kind: 'toroid', radiusAlong: radius, radiusAcross: radius };
    const heightAt = (r: number) => radius - Math.sqrt(radius ** 2 - r ** 2);
    const capArea = (r: number) => 2 * Math.PI * radius * heightAt(r);
    expectRelative(surfaceArea(shape, round(2)), capArea(1), 1e-13);
    expectRelative(surfaceArea(shape, round(3)), capArea(1.5), 1e-13);
    expectRelative(surfaceArea(shape, round(2, 0.8)), capArea(1) - capArea(0.4), 1e-13);
  });

  it('bent strip: width times the arc of the parabola or the circle (closed form)', () => {
    const [f, length, width] = [2, 1.2, 0.14];
    const outline: Outline = { kind: 'rectangle', length, width, centre: [0, 0] };
    const a = length / 2 / (2 * f);
    const parabola = 2 * f * (a * Math.sqrt(1 + a ** 2) + Math.log(a + Math.sqrt(1 + a ** 2)));
    const circle = 2 * (2 * f) * Math.asin(length / 2 / (2 * f));
    expectRelative(
      surfaceArea({ kind: 'bent', curve: 'parabola', focalLength: f }, outline),
      width * parabola,
      1e-14,
    );
    expectRelative(
      surfaceArea({ kind: 'bent', curve: 'circle', focalLength: f }, outline),
      width * circle,
      1e-14,
    );
  });

  it('toroid over a rectangle whose long side is flat in the limit: tends to the bent circle', () => {
    const outline: Outline = { kind: 'rectangle', length: 1.2, width: 0.3, centre: [0.1, 0] };
    const bent = surfaceArea({ kind: 'bent', curve: 'circle', focalLength: 1 }, outline);
    const toroid = surfaceArea({ kind: 'toroid', radiusAlong: 2, radiusAcross: 1e7 }, outline);
    expectRelative(toroid, bent, 1e-9);
  });

  it('flat facets and outlines', () => {
    expect(outlineArea(round(2, 1))).toBeCloseTo(Math.PI * 0.75, 14);
    expect(surfaceArea({ kind: 'flat' }, round(2, 1))).toBe(outlineArea(round(2, 1)));
    expect(outlineArea(OUTLINES[0])).toBeCloseTo(0.96, 15);
  });

  const cases = SHAPES.flatMap((shape) =>
    OUTLINES.map((outline) => [nameOf(shape), nameOf(outline), shape, outline] as const),
  );
  it.each(cases)('%s over %s agrees with a midpoint grid', (_shape, _outline, shape, outline) => {
    // Midpoint error falls with steps^2; two grids give the limit (Richardson) to about 1e-9 here.
    const [coarse, fine] = [areaOnGrid(shape, outline, 100), areaOnGrid(shape, outline, 200)];
    expectRelative(surfaceArea(shape, outline), fine + (fine - coarse) / 3, 1e-8);
  });

  it('a grid with a wrong element does not agree (sabotage of the check above)', () => {
    const shape: FacetShape = { kind: 'paraboloid', focalLength: 0.9 };
    const wrong: FacetShape = { kind: 'paraboloid', focalLength: 0.9 * (1 + 1e-6) };
    expect(Math.abs(surfaceArea(wrong, OUTLINES[2]) / surfaceArea(shape, OUTLINES[2]) - 1)).toBeGreaterThan(
      1e-8,
    );
  });

  it('refuses an outline wider than the circle', () => {
    const shape: FacetShape = { kind: 'bent', curve: 'circle', focalLength: 0.5 };
    expect(reachesAll(shape, { kind: 'rectangle', length: 1.9, width: 1, centre: [0, 0] })).toBe(true);
    expect(reachesAll(shape, { kind: 'rectangle', length: 2.1, width: 1, centre: [0, 0] })).toBe(false);
    expect(reachesAll(shape, { kind: 'rectangle', length: 1.9, width: 1, centre: [0.1, 0] })).toBe(false);
    // Its corners stand on the far branch of the circle across, with no surface between.
    const pinched = { kind: 'toroid', radiusAlong: 1, radiusAcross: 0.5 } as const;
    expect(reachesAll(pinched, { kind: 'rectangle', length: 1.98, width: 0.2, centre: [0, 0] })).toBe(false);
    expect(surfaceArea(shape, { kind: 'rectangle', length: 2.1, width: 1, centre: [0, 0] })).toBeNaN();
  });
});

describe('bounds', () => {
  const cases = SHAPES.flatMap((shape) =>
    OUTLINES.map((outline) => [nameOf(shape), nameOf(outline), shape, outline] as const),
  );
  it.each(cases)('%s over %s: holds every point and touches the ends', (_shape, _outline, shape, outline) => {
    const { low, high } = surfaceBounds(shape, outline);
    let least = Number.POSITIVE_INFINITY;
    let most = Number.NEGATIVE_INFINITY;
    let outside = 0;
    const steps = 60;
    for (let i = 0; i <= steps; i++) {
      for (let j = 0; j <= steps; j++) {
        let x: number;
        let y: number;
        if (outline.kind === 'rectangle') {
          x = outline.centre[0] + (i / steps - 0.5) * outline.length;
          y = outline.centre[1] + (j / steps - 0.5) * outline.width;
        } else {
          const radius = (outline.holeDiameter + (i / steps) * (outline.diameter - outline.holeDiameter)) / 2;
          x = radius * Math.cos((2 * Math.PI * j) / steps);
          y = radius * Math.sin((2 * Math.PI * j) / steps);
        }
        const height = surfaceHeight(shape, x, y);
        least = Math.min(least, height);
        most = Math.max(most, height);
        if (!(x >= low[0] - 1e-15 && x <= high[0] + 1e-15 && y >= low[1] - 1e-15 && y <= high[1] + 1e-15)) {
          outside++;
        }
      }
    }
    expect(outside).toBe(0);
    // The grid contains the corners, the rims on both axes and, but for the last digit, the lowest point.
    expect(low[2]).toBeCloseTo(least, 14);
    expect(high[2]).toBeCloseTo(most, 14);
  });
});
