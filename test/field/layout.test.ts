import { describe, expect, it } from 'vitest';
import { pointToLocal } from '../../src/field/frame.js';
import { GeometryError } from '../../src/field/geometry-error.js';
import { layOut } from '../../src/field/layout.js';
import { BODY_GAP } from '../../src/field/receiver.js';
import { surfaceGradient, surfaceHeight } from '../../src/field/surface.js';
import type { PlacedFacet } from '../../src/field/types.js';
import {
  add,
  addScaled,
  angleBetween,
  cross,
  directionOf,
  dot,
  norm,
  normalise,
  reflect,
  scale,
  subtract,
} from '../../src/field/vector.js';
import type { Scene, Vec3 } from '../../src/scene/types.js';
import { expectRightHanded, expectVector } from '../support/geometry.js';
import { DEMO_TILT, lineRow, sevenStripDish, textbookParaboloid, textbookTrough } from '../support/scenes.js';

/** Distance at which the reflected ray of a facet's centre passes a point. */
function missDistance(facet: PlacedFacet, sun: Vec3, point: Vec3): number {
  const way = subtract(point, facet.frame.origin);
  return norm(cross(way, reflect(sun, facet.frame.z)));
}

const DEMO_SUN = directionOf({ azimuth: Math.PI, elevation: Math.PI / 2 - DEMO_TILT });

describe('rows', () => {
  it('a row that runs east stands along x, its dishes about the middle', () => {
    const field = layOut(
      sevenStripDish({ row: { dishes: 4, pitch: 1.35, centre: [2, 3, 1] }, strips: { count: 1 } }),
    );
    expect(field.facets.map(({ dish }) => dish)).toEqual(['A-1', 'A-2', 'A-3', 'A-4']);
    expect(field.receivers.map(({ name }) => name)).toEqual(['A-1', 'A-2', 'A-3', 'A-4']);
    expect(field.facets.map(({ receiver }) => receiver)).toEqual([0, 1, 2, 3]);
    for (const [index, facet] of field.facets.entries()) {
      expectVector(facet.frame.origin, [2 + (index - 1.5) * 1.35, 3, 1], 1e-14);
    }
  });

  it('three rows at heading 60 degrees lie to the left of the heading, the first at the centre', () => {
    const heading = Math.PI / 3;
    const field = layOut(
      sevenStripDish({
        row: { dishes: 10, rows: 3, rowSpacing: 3.2, heading, centre: [1, 1, 1] },
        strips: { count: 1 },
      }),
    );
    const along: Vec3 = [Math.sin(heading), Math.cos(heading), 0];
    const left: Vec3 = [-Math.cos(heading), Math.sin(heading), 0];
    expect(field.facets).toHaveLength(30);
    expect(field.facets[0].name).toBe('A1-01/s1');
    expect(field.facets[29].dish).toBe('A3-10');
    for (const [index, facet] of field.facets.entries()) {
      const [row, dish] = [Math.floor(index / 10), index % 10];
      const place = add(addScaled([1, 1, 1], along, (dish - 4.5) * 1.35), scale(left, row * 3.2));
      expectVector(facet.frame.origin, place, 1e-13);
      // The axis leans to the right of the heading.
      expectVector(facet.frame.z, addScaled([0, 0, Math.cos(DEMO_TILT)], left, -Math.sin(DEMO_TILT)), 1e-14);
    }
  });

  it('every frame is right-handed and orthonormal', () => {
    for (const scene of [
      sevenStripDish({
        row: { dishes: 2, rows: 2, heading: 1.1 },
        dish: { tiltSetting: -0.2, focus: [0.1, -0.2, 1.9] },
      }),
      sevenStripDish({ strips: { direction: 'across_row' }, row: { heading: 4 } }),
      lineRow(),
      textbookParaboloid(),
      textbookTrough(),
    ]) {
      const field = layOut(scene);
      for (const { frame } of [...field.facets, ...field.receivers, ...field.blockers]) {
        expectRightHanded(frame);
      }
    }
  });
});

describe('strips', () => {
  const designs: readonly (readonly [string, Scene, Vec3])[] = [
    ['along the row, flat bed', sevenStripDish(), DEMO_SUN],
    ['along the row, parabolic ribs', sevenStripDish({ dish: { rib: 'parabola' } }), DEMO_SUN],
    ['across the row', sevenStripDish({ strips: { direction: 'across_row' } }), DEMO_SUN],
    [
      'even count, heading 60 degrees',
      sevenStripDish({ strips: { count: 6 }, row: { heading: 1.05 } }),
      DEMO_SUN,
    ],
    [
      'focus off the axis and a stated design sun',
      sevenStripDish({
        dish: { focus: [0.3, -0.4, 1.8], designSun: { azimuth: 2.5, elevation: 0.8 } },
        row: { heading: 1.2 },
      }),
      directionOf({ azimuth: 2.5, elevation: 0.8 }),
    ],
    [
      'across the row, focus off the axis and a stated design sun',
      sevenStripDish({
        strips: { direction: 'across_row' },
        dish: { focus: [0.3, -0.4, 1.8], designSun: { azimuth: 2.5, elevation: 0.8 } },
      }),
      directionOf({ azimuth: 2.5, elevation: 0.8 }),
    ],
  ];
  it.each(designs)('%s: every centre throws the design sun to the focus', (name, scene, sun) => {
    const field = layOut(scene);
    // Without a design sun the strips are aimed for light along the dish's axis, which turns with the heading.
    const heading = scene.rows[0].heading;
    const axis: Vec3 = [
      Math.cos(heading) * Math.sin(DEMO_TILT),
      -Math.sin(heading) * Math.sin(DEMO_TILT),
      Math.cos(DEMO_TILT),
    ];
    const towards = scene.dishes[0].designSun === null ? axis : sun;
    expect(field.facets.length, name).toBe(scene.dishes[0].strips.count);
    for (const facet of field.facets) {
      expect(missDistance(facet, towards, field.receivers[0].frame.origin)).toBeLessThan(1e-12);
      expect(dot(facet.frame.z, towards)).toBeGreaterThan(0.5);
    }
  });

  it('a strip with a wrong cant by 1 microradian does not pass the check above (sabotage)', () => {
    const field = layOut(sevenStripDish());
    const { frame } = field.facets[0];
    const canted = {
      ...field.facets[0],
      frame: { ...frame, z: normalise(addScaled(frame.z, frame.y, 1e-6)) },
    };
    expect(missDistance(canted, DEMO_SUN, field.receivers[0].frame.origin)).toBeGreaterThan(1e-6);
  });

  it('a flat bed holds the centres in one plane, each strip canted about its own centre', () => {
    const scene = sevenStripDish({ dish: { designTilt: 0 } });
    const { facets } = layOut(scene);
    for (const [index, facet] of facets.entries()) {
      const offset = (index - 3) * 0.16;
      expectVector(facet.frame.origin, [0, offset, 1], 1e-15);
      // Half the angle at which the strip sees the focus off the axis.
      const cant = Math.atan2(offset, 2) / 2;
      expectVector(facet.frame.z, [0, -Math.sin(cant), Math.cos(cant)], 1e-15);
      expectVector(facet.frame.x, [1, 0, 0], 1e-15);
      expect(facet.outline).toEqual({ kind: 'rectangle', length: 1.2, width: 0.14, centre: [0, 0] });
    }
  });

  it('parabolic ribs hold the centres on the published profile of a low-tech dish', () => {
    // Thermal Science 20 (2016) S1237; J. Sol. Energy 2015, 326536: D 3.8 m, f 2.26 m, six profile points.
    const published = [0.0112, 0.0443, 0.0997, 0.1778, 0.277, 0.399];
    const focalLength = 1.9 ** 2 / (4 * 0.399);
    const scene = sevenStripDish({
      dish: { designTilt: 0, rib: 'parabola', focalLengthAcrossRow: focalLength },
      strips: { count: 13, width: 1.9 / 6 - 0.02, gap: 0.02 },
      row: { centre: [0, 0, 0] },
    });
    const { facets } = layOut(scene);
    for (const [index, height] of published.entries()) {
      const [, y, z] = facets[7 + index].frame.origin;
      expect(y).toBeCloseTo(((index + 1) * 1.9) / 6, 12);
      // Published to 0.1 mm; the fourth point lies 0.65 mm off the parabola through the last.
      expect(Math.abs(z - height)).toBeLessThan(7e-4);
    }
  });

  it('each_strip gives the curvature of the paraboloid where both focal lengths are equal', () => {
    const f = 2;
    const { facets } = layOut(sevenStripDish({ dish: { rib: 'parabola' } }));
    for (const [index, facet] of facets.entries()) {
      const y = (index - 3) * 0.16;
      // Normal curvature of z = (x^2 + y^2) / 4f along x at (0, y): (1 / 2f) / sqrt(1 + (y / 2f)^2).
      const curvature = 1 / (2 * f) / Math.sqrt(1 + (y / (2 * f)) ** 2);
      expect(facet.shape.kind).toBe('bent');
      if (facet.shape.kind === 'bent') {
        expect(1 / (2 * facet.shape.focalLength)).toBeCloseTo(curvature, 14);
      }
    }
  });

  it('common bends all strips to the focal length itself; straight ones are flat', () => {
    for (const { shape } of layOut(sevenStripDish({ strips: { bendFit: 'common', bend: 'circle' } }))
      .facets) {
      expect(shape).toEqual({ kind: 'bent', curve: 'circle', focalLength: 2 });
    }
    for (const { shape } of layOut(sevenStripDish({ strips: { bend: 'straight' } })).facets) {
      expect(shape).toEqual({ kind: 'flat' });
    }
  });

  /** Where two rays, a hair either side of a strip's centre along its length, come nearest to one another. */
  function lengthwiseFocus(facet: PlacedFacet, sun: Vec3): number {
    const { frame, shape } = facet;
    const step = 1e-4;
    const height = surfaceHeight(shape, step, 0);
    const [slope] = surfaceGradient(shape, step, 0);
    const point = addScaled(addScaled([0, 0, 0], frame.x, step), frame.z, height);
    const ray = reflect(sun, normalise(addScaled(frame.z, frame.x, -slope)));
    // By symmetry the two meet where the sideways part along the strip is used up.
    return -dot(point, frame.x) / dot(ray, frame.x);
  }

  it('each strip of equal focal lengths focuses its length at the focus: parabola and circle, either direction', () => {
    for (const bend of ['parabola', 'circle'] as const) {
      for (const direction of ['along_row', 'across_row'] as const) {
        const field = layOut(sevenStripDish({ strips: { bend, direction } }));
        for (const facet of field.facets) {
          const distance = norm(subtract(field.receivers[0].frame.origin, facet.frame.origin));
          // Rays 0.1 mm off the centre: the spherical error is of the order (1e-4 / 4)^2.
          expect(lengthwiseFocus(facet, DEMO_SUN)).toBeCloseTo(distance, 5);
        }
      }
    }
  });

  it('with a common bend the outer strips do not (sabotage of the check above)', () => {
    const field = layOut(sevenStripDish({ strips: { bendFit: 'common' } }));
    const distance = norm(subtract(field.receivers[0].frame.origin, field.facets[0].frame.origin));
    // Sagittal focus at f / cos(incidence), short of the strip's own distance.
    const incidence = Math.atan(0.48 / 2) / 2;
    expect(lengthwiseFocus(field.facets[0], DEMO_SUN)).toBeCloseTo(2 / Math.cos(incidence), 5);
    expect(distance - 2 / Math.cos(incidence)).toBeGreaterThan(0.04);
  });

  it('strips along the row with two focal lengths keep their ratio', () => {
    const field = layOut(sevenStripDish({ dish: { focalLengthAlongRow: 2.66 } }));
    for (const facet of field.facets) {
      const distance = norm(subtract(field.receivers[0].frame.origin, facet.frame.origin));
      expect(lengthwiseFocus(facet, DEMO_SUN)).toBeCloseTo(distance * 1.33, 4);
    }
  });

  it('strips across the row meet on the axis at the focal length along the row', () => {
    const scene = sevenStripDish({
      dish: { designTilt: 0, focalLengthAlongRow: 2.66 },
      strips: { direction: 'across_row' },
      row: { centre: [0, 0, 0] },
    });
    const { facets } = layOut(scene);
    for (const [index, facet] of facets.entries()) {
      expectVector(facet.frame.origin, [(index - 3) * 0.16, 0, 0], 1e-15);
      expectVector(facet.frame.x, [0, 1, 0], 1e-15);
      expect(missDistance(facet, [0, 0, 1], [0, 0, 2.66])).toBeLessThan(1e-12);
    }
    // The middle strip is bent to the focal length across the row.
    expect(facets[3].shape).toEqual({ kind: 'bent', curve: 'parabola', focalLength: 2 });
  });

  it('strips across the row: the middle one hits a focus off the axis whatever the two focal lengths', () => {
    const field = layOut(
      sevenStripDish({
        dish: { focalLengthAlongRow: 2.66, focus: [0.2, -0.3, 2] },
        strips: { direction: 'across_row' },
      }),
    );
    expect(missDistance(field.facets[3], DEMO_SUN, field.receivers[0].frame.origin)).toBeLessThan(1e-12);
  });

  it('strips across the row on parabolic ribs follow the focal length along the row', () => {
    const { facets } = layOut(
      sevenStripDish({
        dish: { designTilt: 0, focalLengthAlongRow: 2.5, rib: 'parabola' },
        strips: { direction: 'across_row' },
        row: { centre: [0, 0, 0] },
      }),
    );
    expectVector(facets[0].frame.origin, [-0.48, 0, 0.48 ** 2 / 10], 1e-15);
  });

  it('a setting turns the reflected ray by twice the setting and leaves the receiver where it is', () => {
    const setting = 0.1;
    const before = layOut(sevenStripDish());
    const after = layOut(sevenStripDish({ dish: { tiltSetting: setting } }));
    expect(after.receivers).toEqual(before.receivers);
    for (const [index, facet] of after.facets.entries()) {
      const first = reflect(DEMO_SUN, before.facets[index].frame.z);
      const second = reflect(DEMO_SUN, facet.frame.z);
      expect(angleBetween(first, second)).toBeCloseTo(2 * setting, 13);
      // Towards the right of the heading, which is south here.
      expect(second[1]).toBeLessThan(first[1]);
      // Rigid, about the line along the row through the dish's centre.
      const centre: Vec3 = [0, 0, 1];
      expect(norm(subtract(facet.frame.origin, centre))).toBeCloseTo(
        norm(subtract(before.facets[index].frame.origin, centre)),
        14,
      );
    }
  });

  it('a setting equals a design tilt for everything but the receiver', () => {
    const set = layOut(sevenStripDish({ dish: { tiltSetting: 0.25 } }));
    const built = layOut(sevenStripDish({ dish: { designTilt: DEMO_TILT + 0.25 } }));
    for (const [index, facet] of set.facets.entries()) {
      expectVector(facet.frame.origin, built.facets[index].frame.origin, 1e-14);
      expectVector(facet.frame.z, built.facets[index].frame.z, 1e-14);
    }
  });

  it('refuses what cannot be built', () => {
    expect(() => layOut(sevenStripDish({ dish: { focus: [0, 0, 0] } }))).toThrow(GeometryError);
    expect(() => layOut(sevenStripDish({ dish: { focus: [0, 0, -2] } }))).toThrow(/opposite sides/);
    expect(() => layOut(sevenStripDish({ strips: { bend: 'circle', length: 9 } }))).toThrow(
      /wider than the circle/,
    );
  });
});

describe('receivers', () => {
  it('a dish receiver that faces the dish: w to the centre, u along the row, v = w x u', () => {
    const { receivers } = layOut(sevenStripDish({ row: { heading: 1.2, centre: [5, 6, 7] } }));
    const { frame } = receivers[0];
    const row: Vec3 = [Math.sin(1.2), Math.cos(1.2), 0];
    expectVector(frame.z, scale(subtract([5, 6, 7], frame.origin), 0.5), 1e-14);
    expectVector(frame.x, row, 1e-14);
    expectVector(frame.y, cross(frame.z, frame.x), 1e-15);
  });

  it("a dish's own tube lies level along the row with w up, like a standing one, whatever it faces", () => {
    const design = { ...textbookTrough().receivers[0].design };
    for (const faces of ['dish', 'down'] as const) {
      const { receivers } = layOut(
        sevenStripDish({ dish: { receiver: { design, offset: [0, 0, 0], faces } }, row: { heading: 1.2 } }),
      );
      expectVector(receivers[0].frame.x, [Math.sin(1.2), Math.cos(1.2), 0], 1e-14);
      expectVector(receivers[0].frame.z, [0, 0, 1], 1e-14);
    }
    expectVector(layOut(textbookTrough()).receivers[0].frame.z, [0, 0, 1], 1e-14);
  });

  it('a dish receiver that faces down, moved by an offset in the row frame', () => {
    const scene = sevenStripDish();
    const design = scene.dishes[0].receiver!.design;
    const { receivers } = layOut(
      sevenStripDish({ dish: { receiver: { design, offset: [0.1, 0.2, -0.3], faces: 'down' } } }),
    );
    const { frame } = receivers[0];
    expectVector(
      frame.origin,
      [0.1, 0.2 - 2 * Math.sin(DEMO_TILT), 1 - 0.3 + 2 * Math.cos(DEMO_TILT)],
      1e-14,
    );
    expectVector(frame.x, [1, 0, 0], 1e-15);
    expectVector(frame.y, [0, -1, 0], 1e-15);
    expectVector(frame.z, [0, 0, -1], 1e-15);
  });

  it('an offset along the row leaves u perpendicular to w, as near to the row as it can be', () => {
    const design = sevenStripDish().dishes[0].receiver!.design;
    const { receivers } = layOut(
      sevenStripDish({ dish: { receiver: { design, offset: [0.5, 0, 0], faces: 'dish' } } }),
    );
    const { frame } = receivers[0];
    expectVector(frame.z, normalise(subtract([0, 0, 1], frame.origin)), 1e-14);
    expect(dot(frame.y, [1, 0, 0])).toBeCloseTo(0, 14);
    expect(frame.x[0]).toBeGreaterThan(0.9);
  });

  it('a standing line plate has its axis level at its azimuth and faces where it is told', () => {
    const { receivers, facets } = layOut(lineRow());
    const { frame } = receivers[0];
    expectVector(frame.x, [1, 0, 0], 1e-15);
    expectVector(frame.z, [0, Math.sin(DEMO_TILT), -Math.cos(DEMO_TILT)], 1e-15);
    expect(facets.every(({ receiver }) => receiver === 0)).toBe(true);
    expect(receivers).toHaveLength(1);
    for (const facet of facets) {
      // Each dish throws to its own place on the line.
      const target: Vec3 = [facet.frame.origin[0], frame.origin[1], frame.origin[2]];
      expect(missDistance(facet, DEMO_SUN, target)).toBeLessThan(1e-12);
    }
  });

  it('a standing plate keeps w and projects its azimuth', () => {
    const facing = { azimuth: 0.3, elevation: -0.8 };
    const { receivers } = layOut(textbookParaboloid({}, { standing: { facing, alongAzimuth: 1 } }));
    const { frame } = receivers[0];
    expectVector(frame.z, directionOf(facing), 1e-15);
    expect(dot(frame.x, [Math.sin(1), Math.cos(1), 0])).toBeGreaterThan(0.7);
    expect(Math.abs(dot(frame.x, frame.z))).toBeLessThan(1e-15);
    expect(dot(frame.y, [Math.sin(1), Math.cos(1), 0])).toBeCloseTo(0, 14);
  });

  it('a plate that faces along its own azimuth is refused', () => {
    const standing = { facing: { azimuth: 1, elevation: 0 }, alongAzimuth: 1 };
    expect(() => layOut(textbookParaboloid({}, { standing }))).toThrow(GeometryError);
  });

  it('a tube lies level at its azimuth, whatever it faces', () => {
    const standing = { facing: { azimuth: 1, elevation: 0 }, alongAzimuth: 1 };
    const { frame } = layOut(textbookTrough({}, { standing })).receivers[0];
    expectVector(frame.x, [Math.sin(1), Math.cos(1), 0], 1e-15);
    expectVector(frame.z, [0, 0, 1], 1e-15);
  });

  it('a body stands behind the aperture plane, its front a hair from it', () => {
    for (const body of [
      { shape: 'round', diameter: 0.3, depth: 0.25 },
      { shape: 'rectangle', width: 0.4, height: 0.3, depth: 0.25 },
    ] as const) {
      const field = layOut(sevenStripDish({ row: { dishes: 2 }, receiver: { body } }));
      expect(field.blockers.map(({ bodyOf }) => bodyOf)).toEqual([0, 1]);
      for (const [index, blocker] of field.blockers.entries()) {
        const { frame } = field.receivers[index];
        expectVector(pointToLocal(frame, blocker.frame.origin), [0, 0, -(BODY_GAP + 0.125)], 1e-14);
        expectVector(blocker.frame.z, frame.z, 0);
        if (blocker.kind === 'cylinder') {
          expect([blocker.radius, blocker.length]).toEqual([0.15, 0.25]);
        } else {
          expect(blocker.size).toEqual([0.4, 0.3, 0.25]);
        }
      }
    }
    expect(() =>
      layOut(textbookTrough({}, { receiver: { body: { shape: 'round', diameter: 1, depth: 1 } } })),
    ).toThrow(/tube/);
  });

  it('a row that names a receiver does not build its dishes own ones', () => {
    const own = sevenStripDish().dishes[0].receiver;
    const field = layOut(lineRow({ dish: { receiver: own } }));
    expect(field.receivers.map(({ name }) => name)).toEqual(['line']);
  });

  it('two receivers of one name are refused', () => {
    const standing = lineRow().receivers[0];
    expect(() => layOut(sevenStripDish({ scene: { receivers: [{ ...standing, name: 'A-1' }] } }))).toThrow(
      /same name/,
    );
  });

  it('a facet without a named receiver serves the nearest one in front of it', () => {
    const first = textbookParaboloid().receivers[0];
    const receivers = [
      { ...first, name: 'far', position: [0, 0, 9] as const },
      { ...first, name: 'near', position: [0, 0, 3] as const },
      { ...first, name: 'behind', position: [0, 0, -1] as const },
    ];
    const serve = (scene: Partial<Scene>) =>
      layOut(textbookParaboloid({}, { facet: { receiver: null }, scene })).facets[0].receiver;
    expect(serve({ receivers })).toBe(1);
    expect(serve({ receivers: [receivers[2]] })).toBe(0);
    expect(() => serve({ receivers: [] })).toThrow(/no receiver/);
  });

  it('names that do not exist are refused with the place', () => {
    expect(() => layOut(lineRow({ row: { receiver: 'none' } }))).toThrow(
      'row A: there is no receiver named none',
    );
    expect(() => layOut(sevenStripDish({ dish: { film: 'none' } }))).toThrow(
      'dish seven: there is no film named none',
    );
    expect(() => layOut(sevenStripDish({ dish: { receiver: null } }))).toThrow(
      /neither the row nor its dish/,
    );
  });
});

describe('blockers', () => {
  it('of the scene: a box by its heading, a cylinder by its ends', () => {
    const { blockers } = layOut(
      sevenStripDish({
        scene: {
          blockers: [
            { kind: 'box', name: 'wall', centre: [1, 2, 3], size: [4, 0.2, 2], heading: Math.PI / 3 },
            { kind: 'cylinder', name: 'post', from: [1, 1, 0], to: [1, 1, 3], diameter: 0.1 },
          ],
        },
      }),
    );
    expectVector(blockers[0].frame.x, [Math.sin(Math.PI / 3), Math.cos(Math.PI / 3), 0], 1e-15);
    expectVector(blockers[0].frame.origin, [1, 2, 3], 0);
    expectVector(blockers[1].frame.origin, [1, 1, 1.5], 1e-15);
    expectVector(blockers[1].frame.z, [0, 0, 1], 1e-15);
    expect(blockers[1]).toMatchObject({ kind: 'cylinder', radius: 0.05, length: 3, bodyOf: -1 });
    for (const { frame } of blockers) {
      expectRightHanded(frame);
    }
  });

  it('of a dish: in the row frame at each dish, without the tilt; heading 90 degrees lies along the row', () => {
    const { blockers } = layOut(
      sevenStripDish({
        row: { dishes: 2, heading: 1.2, centre: [0, 0, 1] },
        dish: {
          blockers: [
            { kind: 'box', name: 'beam', centre: [0, 0, -0.5], size: [1, 0.1, 0.1], heading: Math.PI / 2 },
            { kind: 'cylinder', name: 'arm', from: [0, -1, 0], to: [0, -1, 2], diameter: 0.05 },
          ],
        },
      }),
    );
    expect(blockers.map(({ name }) => name)).toEqual(['A-1/beam', 'A-1/arm', 'A-2/beam', 'A-2/arm']);
    const along: Vec3 = [Math.sin(1.2), Math.cos(1.2), 0];
    const left: Vec3 = [-Math.cos(1.2), Math.sin(1.2), 0];
    expectVector(blockers[0].frame.x, along, 1e-15);
    expectVector(blockers[0].frame.origin, add(scale(along, -0.675), [0, 0, 0.5]), 1e-15);
    expectVector(blockers[3].frame.origin, add(add(scale(along, 0.675), scale(left, -1)), [0, 0, 2]), 1e-15);
    expectVector(blockers[3].frame.z, [0, 0, 1], 1e-15);
  });
});
