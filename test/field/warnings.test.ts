import { describe, expect, it } from 'vitest';
import { facingWarnings } from '../../src/field/facing.js';
import { layOut } from '../../src/field/layout.js';
import { directionOf } from '../../src/field/vector.js';
import { cellNoiseWarning, physicsWarnings } from '../../src/field/warnings.js';
import type { Scene, SunSpec } from '../../src/scene/types.js';
import { lineRow, sevenStripDish, textbookParaboloid, textbookTrough } from '../support/scenes.js';

function warningsOf(scene: Scene) {
  if (scene.sun.direction.kind !== 'angles') {
    throw new Error('test scenes state the sun by its angles');
  }
  return physicsWarnings(scene, layOut(scene), {
    sunDirection: directionOf(scene.sun.direction),
    dni: scene.sun.dni,
  });
}

function codesOf(scene: Scene): string[] {
  return warningsOf(scene).map(({ code }) => code);
}

function sunAt(azimuth: number, elevation: number): { sun: Partial<SunSpec> } {
  return { sun: { direction: { kind: 'angles', azimuth, elevation } } };
}

describe('warnings', () => {
  it('sound scenes have none', () => {
    for (const scene of [
      sevenStripDish({ scene: { ground: 0 } }),
      sevenStripDish({
        row: { dishes: 8, rows: 3 },
        receiver: { body: { shape: 'round', diameter: 0.3, depth: 0.2 } },
      }),
      lineRow(),
      textbookParaboloid(),
      textbookTrough(),
    ]) {
      expect(warningsOf(scene)).toEqual([]);
    }
  });

  const cases: readonly (readonly [string, string[], Scene])[] = [
    [
      'sun below the horizon and behind the mirrors',
      ['sun_below_horizon', 'sun_behind_all_facets'],
      sevenStripDish(sunAt(0, -0.5)),
    ],
    [
      'sun behind some facets',
      ['sun_behind_some_facets', 'spot_beside_aperture', 'spot_wider_than_window'],
      sevenStripDish(sunAt(0, 0.59)),
    ],
    [
      'a tilt that turns the light off the opening',
      ['spot_beside_aperture', 'spot_beside_window'],
      sevenStripDish({ dish: { tiltSetting: 0.06 } }),
    ],
    [
      'an opening beside the spot',
      ['spot_beside_aperture'],
      textbookParaboloid({}, { standing: { position: [0.025, 0, 1] } }),
    ],
    [
      'receiver behind the mirror, its front to the mirror',
      ['receiver_behind_mirror', 'receiver_front_unlit'],
      textbookParaboloid(
        {},
        { standing: { position: [0, 0, -1], facing: { azimuth: 0, elevation: Math.PI / 2 } } },
      ),
    ],
    [
      'a receiver that turns its back',
      ['receiver_front_unlit'],
      textbookParaboloid({}, { standing: { facing: { azimuth: 0, elevation: Math.PI / 2 } } }),
    ],
    [
      'a receiver that nobody serves',
      ['receiver_unserved'],
      sevenStripDish({ scene: { receivers: lineRow().receivers } }),
    ],
    ['dishes overlap', ['dishes_overlap'], sevenStripDish({ row: { dishes: 2, pitch: 1.1 } })],
    ['rows overlap', ['rows_overlap'], sevenStripDish({ row: { rows: 2, rowSpacing: 0.9 } })],
    ['narrow rows that just fit when tilted', [], sevenStripDish({ row: { rows: 2, rowSpacing: 0.92 } })],
    ['mirror below the ground', ['mirror_below_ground'], sevenStripDish({ scene: { ground: 0.71 } })],
    [
      'everything below the ground',
      ['mirror_below_ground', 'receiver_below_ground'],
      sevenStripDish({ scene: { ground: 4 } }),
    ],
    [
      'a window narrower than the spot',
      ['spot_wider_than_window'],
      sevenStripDish({ receiver: { window: { width: 0.2, height: 0.2 } } }),
    ],
    [
      'a spot blurred beyond the window',
      ['spot_wider_than_window'],
      sevenStripDish({ film: { slopeErrorAcross: 0.04 } }),
    ],
    [
      'a line plate: only across the line',
      ['spot_wider_than_window'],
      lineRow({ receiver: { window: { width: 6.4, height: 0.15 } } }),
    ],
    [
      'a line plate shorter than the row: end loss, no warning',
      [],
      lineRow({
        receiver: {
          aperture: { shape: 'rectangle', width: 4, height: 0.18 },
          window: { width: 4.2, height: 0.4 },
        },
      }),
    ],
  ];
  it.each(cases)('%s', (_, codes, scene) => {
    expect(codesOf(scene)).toEqual(codes);
  });

  it('blockers that stick into a mirror, by box and by cylinder; not those beside it', () => {
    const post = (x: number) =>
      ({ kind: 'cylinder', name: `post at ${x}`, from: [x, 0, 0], to: [x, 0, 2], diameter: 0.3 }) as const;
    const box = (z: number) =>
      ({ kind: 'box', name: `box at ${z}`, centre: [0, 0, z], size: [0.4, 0.4, 0.2], heading: 0 }) as const;
    const scene = sevenStripDish({ scene: { blockers: [post(0.3), post(1), box(1), box(0.6)] } });
    const warnings = warningsOf(scene);
    expect(warnings).toEqual([
      {
        code: 'blocker_on_mirror',
        message: 'Blocker post at 0.3 and box at 1: part of a mirror lies inside it.',
      },
    ]);
  });

  it('mirrors in the same place, with what to do; not those that touch or stand 2 mm apart', () => {
    const twice = (move: readonly [number, number, number]) => {
      const scene = sevenStripDish();
      const [row] = scene.rows;
      const centre = row.centre.map((value, i) => value + move[i]) as [number, number, number];
      return { ...scene, rows: [row, { ...row, name: 'B', centre }] };
    };
    const [same] = warningsOf(twice([0, 0, 0]));
    expect(same.code).toBe('facets_coincide');
    expect(same.message).toMatch(
      /^Facets A.*s1 and B.*s1 lie in the same place, .* So do 6 other pairs\. Take one of the two out, or move it/,
    );
    const { length } = sevenStripDish().dishes[0].strips;
    expect(codesOf(twice([1e-5, 0, 0]))).toContain('facets_coincide');
    expect(codesOf(twice([length, 0, 0]))).not.toContain('facets_coincide');
    expect(codesOf(twice([0, 0, 2e-3]))).not.toContain('facets_coincide');
  });

  it('tells a trouble of sixty dishes once', () => {
    const warnings = warningsOf(
      sevenStripDish({ row: { dishes: 20, rows: 3 }, receiver: { window: { width: 0.2, height: 0.2 } } }),
    );
    expect(warnings).toHaveLength(1);
    expect(warnings[0].message).toMatch(
      /^Receiver A\d-\d\d and 59 others: .*window measures 0\.20 m by 0\.20 m\)\.$/,
    );
  });

  it('a round facet counts too', () => {
    expect(codesOf(textbookParaboloid({}, { scene: { ground: 0.05 } }))).toEqual(['mirror_below_ground']);
  });
});

describe('cells finer than the rays can fill', () => {
  it('says nothing at 100 rays a cell and speaks below', () => {
    expect(cellNoiseWarning(40_000, [40, 40], 400)).toBeNull();
    const warning = cellNoiseWarning(10_000, [40, 40], 400);
    expect(warning?.code).toBe('cells_finer_than_rays');
    expect(warning?.message).toContain('a noise of about 20 %');
    expect(warning?.message).toContain('40000 rays');
  });

  it('never counts more cells than there are, nor fewer than one', () => {
    expect(cellNoiseWarning(1600, [4, 4], 1e9)).toBeNull();
    expect(cellNoiseWarning(100, [4, 4], 0)).toBeNull();
    expect(cellNoiseWarning(0, [4, 4], 16)?.message).toContain('mostly noise');
  });
});

describe('dishes that face away from the noon sun', () => {
  const site = (latitude: number): Scene['site'] => ({
    name: 'invented',
    latitude: (latitude * Math.PI) / 180,
    longitude: 0,
    height: 0,
    pressure: 101_325,
    temperature: 288,
    timeZone: null,
  });
  const messages = (latitude: number, heading: number) =>
    facingWarnings(
      sevenStripDish({ scene: { site: site(latitude) }, row: { heading: (heading * Math.PI) / 180 } }),
    ).map(({ message }) => message);

  it('a southern site with rows that head east, and the north the other way round', () => {
    expect(messages(-35, 90)).toEqual(['Row A: the dishes face away from the sun at noon; heading 270?']);
    expect(messages(35, 270)).toEqual(['Row A: the dishes face away from the sun at noon; heading 90?']);
  });

  it('none where they face it, where rows run north, or near the equator', () => {
    for (const [latitude, heading] of [
      [35, 90],
      [-35, 270],
      [35, 0],
      [-35, 180],
      [0, 90],
      [0, 270],
    ]) {
      expect(messages(latitude, heading)).toEqual([]);
    }
  });

  it('are told by check', () => {
    const scene = sevenStripDish({ scene: { site: site(-35) }, row: { heading: Math.PI / 2 } });
    expect(codesOf(scene)).toContain('dishes_face_away');
  });
});
