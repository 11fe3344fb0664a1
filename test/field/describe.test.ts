import { describe, expect, it } from 'vitest';
import { facetsByReceiver, idealCrossings, mirrorGrid } from '../../src/field/crossings.js';
import { describeField } from '../../src/field/describe.js';
import { layOut } from '../../src/field/layout.js';
import { apertureArea } from '../../src/field/receiver.js';
import { outlineArea } from '../../src/field/surface.js';
import { directionOf } from '../../src/field/vector.js';
import type { Outline, Scene } from '../../src/scene/types.js';
import type { Moment } from '../../src/sun/moment.js';
import { expectVector } from '../support/geometry.js';
import { DEMO_TILT, lineRow, sevenStripDish, textbookParaboloid, textbookTrough } from '../support/scenes.js';

const DEGREE = Math.PI / 180;

function momentOf(scene: Scene): Moment {
  if (scene.sun.direction.kind !== 'angles') {
    throw new Error('test scenes state the sun by its angles');
  }
  return { sunDirection: directionOf(scene.sun.direction), dni: scene.sun.dni };
}

function described(scene: Scene) {
  return describeField(scene, layOut(scene), momentOf(scene));
}

function crossings(scene: Scene, receiver = 0) {
  const field = layOut(scene);
  const home = facetsByReceiver(field)[receiver];
  return idealCrossings(field.receivers[receiver], home, momentOf(scene).sunDirection);
}

describe('description of a dish', () => {
  // f/D = 1 / (4 tan(rim / 2)) for rim 30, 45, 60, 90 degrees (closed form).
  it.each([
    [30, 0.933013],
    [45, 0.603553],
    [60, 0.433013],
    [90, 0.25],
  ])('rim angle %d degrees at f/D = %d', (rim, focalRatio) => {
    const length = 2 / focalRatio;
    const scene = sevenStripDish({ strips: { count: 1, width: 1e-6, length } });
    const [dish] = described(scene).dishes;
    expect(dish.focalRatioAlongRow).toBeCloseTo(focalRatio, 12);
    // The table has six digits.
    expect(dish.rimAngle / DEGREE).toBeCloseTo(rim, 4);
  });

  it('the published low-tech dish (D 3.8 m, f 2.26 m) has f/D 0.595 and a rim angle of 45.6 degrees', () => {
    // Thermal Science 20 (2016) S1237; rim angle by the closed form 2 atan(D / 4f).
    const scene = sevenStripDish({
      dish: { focalLengthAlongRow: 2.26, focalLengthAcrossRow: 2.26 },
      strips: { count: 1, width: 1e-6, length: 3.8 },
    });
    const [dish] = described(scene).dishes;
    expect(dish.focalRatioAlongRow).toBeCloseTo(0.5947, 4);
    expect(dish.rimAngle).toBeCloseTo(2 * Math.atan(3.8 / (4 * 2.26)), 9);
  });

  it('sizes, f/D in both planes and bends, for either direction of the strips', () => {
    const changes = { dish: { focalLengthAlongRow: 2.66 } };
    const [along] = described(sevenStripDish(changes)).dishes;
    expect(along.size).toEqual({ alongRow: 1.2, acrossRow: 7 * 0.14 + 6 * 0.02 });
    expect(along.focalRatioAlongRow).toBeCloseTo(2.66 / 1.2, 14);
    expect(along.focalRatioAcrossRow).toBeCloseTo(2 / 1.1, 14);
    expect(along.bendFocalLengths![0]).toBeCloseTo(2.66, 14);
    expect(along.bendFocalLengths![1]).toBeGreaterThan(2.66);
    const [across] = described(sevenStripDish({ ...changes, strips: { direction: 'across_row' } })).dishes;
    expect(across.size.alongRow).toBeCloseTo(1.1, 14);
    expect(across.size.acrossRow).toBe(1.2);
    expect(described(lineRow()).dishes[0].bendFocalLengths).toBeNull();
  });
});

describe('description of a field', () => {
  it('counts, areas and concentrations of three rows of twenty', () => {
    const scene = sevenStripDish({ strips: { bend: 'straight' }, row: { dishes: 20, rows: 3 } });
    const field = described(scene);
    const dishArea = 7 * 0.14 * 1.2;
    expect(field.facets).toBe(420);
    expect(field.mirrorArea).toBeCloseTo(60 * dishArea, 10);
    expect(field.availablePower).toBeCloseTo(850 * 60 * dishArea, 7);
    expect(field.receivers).toHaveLength(60);
    const opening = Math.PI * 0.09 ** 2;
    for (const receiver of field.receivers) {
      expect(receiver.facets).toBe(7);
      expect(receiver.geometricConcentration).toBeCloseTo(dishArea / opening, 10);
    }
    expect(field.geometricConcentration).toBeCloseTo(dishArea / opening, 10);
    expect(field.rows).toEqual([
      expect.objectContaining({ name: 'A', rows: 3, dishes: 20, facets: 420, pitch: 1.35, rowSpacing: 3.2 }),
    ]);
    expect(field.rows[0].length).toBeCloseTo(19 * 1.35 + 1.2, 12);
    expectVector(
      field.receivers[0].position,
      [-9.5 * 1.35, -2 * Math.sin(DEMO_TILT), 1 + 2 * Math.cos(DEMO_TILT)],
      1e-12,
    );
    expect(field.receivers[0].facing).toEqual({
      azimuth: 0,
      elevation: expect.closeTo(DEMO_TILT - Math.PI / 2, 12),
    });
  });

  it('incidence follows the sun and the setting', () => {
    expect(described(sevenStripDish()).rows[0].incidence).toBeCloseTo(0, 12);
    expect(described(sevenStripDish({ dish: { tiltSetting: 0.1 } })).rows[0].incidence).toBeCloseTo(0.1, 12);
    const east = { kind: 'angles', azimuth: Math.PI / 2, elevation: 0 } as const;
    expect(described(sevenStripDish({ sun: { direction: east } })).rows[0].incidence).toBeCloseTo(
      Math.PI / 2,
      12,
    );
  });

  it('apertures: round, rectangle, and a tube with its whole circumference', () => {
    expect(apertureArea(sevenStripDish().dishes[0].receiver!.design)).toBeCloseTo(Math.PI * 0.0081, 14);
    expect(apertureArea(lineRow().receivers[0].design)).toBeCloseTo(6 * 0.18, 14);
    expect(apertureArea(textbookTrough().receivers[0].design)).toBeCloseTo(Math.PI * 0.07 * 6, 14);
    expect(described(textbookParaboloid()).singleFacets).toBe(1);
  });
});

describe('grid over a mirror', () => {
  const outlines: readonly Outline[] = [
    { kind: 'rectangle', length: 1.2, width: 0.3, centre: [0.1, -0.2] },
    { kind: 'round', diameter: 2, holeDiameter: 0 },
    { kind: 'round', diameter: 2, holeDiameter: 0.6 },
  ];
  it.each(outlines.map((outline) => [JSON.stringify(outline), outline] as const))(
    '%s: area and second moment',
    (_, outline) => {
      const grid = mirrorGrid(outline);
      let [area, moment] = [0, 0];
      for (const point of grid) {
        area += point.area;
        moment += point.area * point.x ** 2;
      }
      expect(area).toBeCloseTo(outlineArea(outline), 13);
      const expected =
        outline.kind === 'rectangle'
          ? outlineArea(outline) * (outline.length ** 2 / 12 + outline.centre[0] ** 2)
          : (Math.PI / 64) * (outline.diameter ** 4 - outline.holeDiameter ** 4);
      expect(moment).toBeCloseTo(expected, 13);
    },
  );
});

describe('ideal crossings', () => {
  it('a paraboloid sends all light to its focus', () => {
    const spot = crossings(textbookParaboloid({ rimAngle: 60 * DEGREE }));
    expect(Math.hypot(...spot.centroid)).toBeLessThan(1e-14);
    expect(spot.max).toBeLessThan(1e-14);
    expect(spot.missed).toBe(0);
    // All the opening's sunlight, whatever the depth of the bowl.
    expect(spot.litArea).toBeCloseTo(Math.PI * (2 * Math.tan(30 * DEGREE)) ** 2, 12);
  });

  it('a trough sends all light to the axis of its tube, over its own length', () => {
    const spot = crossings(textbookTrough());
    expect(spot.reach[0]).toBeCloseTo(2, 14);
    expect(spot.reach[1]).toBeLessThan(1e-14);
    expect(spot.missed).toBe(0);
  });

  it('a tube: v is the distance at which light passes the axis, positive on the +v side', () => {
    // The trough's mirror, the sun 1 degree to the north (+y): near the vertex light passes f sin 1 deg to the south.
    const sun = { kind: 'angles', azimuth: 0, elevation: 89 * DEGREE } as const;
    const changes = {
      sun: { direction: sun },
      facet: { outline: { kind: 'rectangle', length: 1e-4, width: 1, centre: [0, 0] } },
    } as const;
    const field = layOut(textbookTrough({}, changes));
    const spot = crossings(textbookTrough({}, changes));
    // Light goes up and to the south: u x direction = east x up = south, so it is positive along -y of the world.
    expectVector(field.receivers[0].frame.x, [1, 0, 0], 1e-15);
    expect(spot.centroid[1]).toBeCloseTo(1.47 * Math.sin(DEGREE), 7);
  });

  it('a plate moved in its own plane sees the spot move the other way', () => {
    const spot = crossings(textbookParaboloid({}, { standing: { position: [0.02, -0.03, 1] } }));
    // w down, u along azimuth 90 degrees (east), v = w x u = south.
    expectVector([...spot.centroid, 0], [-0.02, -0.03, 0], 1e-14);
  });

  it('out of focus the spot is the cone cut there', () => {
    const spot = crossings(textbookParaboloid({}, { standing: { position: [0, 0, 0.9] } }));
    expect(spot.max).toBeCloseTo(0.1 * Math.tan(45 * DEGREE), 12);
    expect(spot.reach[0]).toBeCloseTo(0.1, 12);
  });

  it('light that meets the plane from behind, or not at all, is missed', () => {
    const up = { azimuth: 0, elevation: Math.PI / 2 };
    expect(crossings(textbookParaboloid({}, { standing: { facing: up } }))).toMatchObject({
      missed: 1,
      max: 0,
    });
    const spot = crossings(textbookParaboloid({}, { standing: { position: [0, 0, -1] } }));
    expect(spot.missed).toBe(1);
    expect(spot.distance).toBe(0);
  });

  it('an unlit mirror gives nothing, and nothing is missed', () => {
    const sun = { kind: 'angles', azimuth: 0, elevation: -0.5 } as const;
    expect(crossings(sevenStripDish({ sun: { direction: sun } }))).toMatchObject({ litArea: 0, missed: 0 });
  });

  it('flat-across strips of a dish: spot as wide as the strips seen from the focus', () => {
    const spot = crossings(sevenStripDish());
    expect(Math.abs(spot.centroid[0])).toBeLessThan(1e-14);
    // The middle strip sends a band of its own width 0.14 m; outer ones lie slanted, some 10 % wider at most.
    expect(spot.reach[1]).toBeGreaterThan(0.07);
    expect(spot.reach[1]).toBeLessThan(0.078);
    expect(spot.reach[0]).toBeLessThan(0.003);
  });

  it('each dish of a row has the same spot', () => {
    const scene = sevenStripDish({ row: { dishes: 5, rows: 2 } });
    const first = crossings(scene, 0);
    const last = crossings(scene, 9);
    expect(last.rms).toBeCloseTo(first.rms, 13);
    expect(last.litArea).toBeCloseTo(first.litArea, 13);
  });
});
