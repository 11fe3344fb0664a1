/** Scene files drawn by chance, as plain data that tests change before it becomes text; read through the public path. */
import seedrandom from 'seedrandom';
import { layOut } from '../../src/field/layout.js';
import { DIMENSIONS } from '../../src/kernel/lattice.js';
import { viewPrepared } from '../../src/kernel/layout.js';
import { FATES } from '../../src/kernel/tally.js';
import { replayRay, traceBatch } from '../../src/kernel/trace.js';
import { type PreparedScene, prepareScene } from '../../src/prepare.js';
import { batchKey, latticeShifts } from '../../src/run/seeds.js';
import { momentOf } from '../../src/sun/direction.js';
import { evenLog2 } from './batch.js';
import { raysInBatch } from './paths.js';
import { sceneOf } from './trace-text.js';

export type Point = [number, number, number];

export interface FilmDraft {
  reflectance: number;
  soiling_factor?: number;
  ageing_factor?: number;
  slope_error_along_mrad: number;
  slope_error_across_mrad: number;
  specularity_mrad: number;
}

export interface ReceiverDraft {
  kind: string;
  aperture: { shape?: string; diameter_m?: number; width_m?: number; height_m?: number; length_m?: number };
  window?: { width_m?: number; height_m?: number; length_m?: number };
  cells?: number | [number, number];
  body?: { shape: string; diameter_m?: number; width_m?: number; height_m?: number; depth_m: number } | null;
}

export interface StandingReceiverDraft extends ReceiverDraft {
  name: string;
  position_m: Point;
  facing?: { azimuth_deg: number; elevation_deg: number };
  along_azimuth_deg?: number;
}

export interface DishDraft {
  film: string;
  focal_length_along_row_m: number;
  focal_length_across_row_m: number;
  strips: {
    count: number;
    width_m: number;
    length_m: number;
    gap_m: number;
    direction: string;
    bend: string;
  };
  rib: string;
  design_tilt_deg: number;
  design_sun?: { azimuth_deg: number; elevation_deg: number };
  tilt_setting_deg: number;
  receiver: (ReceiverDraft & { offset_m: Point; faces: string }) | null;
  blockers: BlockerDraft[];
}

export interface RowDraft {
  name: string;
  dish: string;
  dishes: number;
  pitch_m: number;
  heading_deg: number;
  centre_m: Point;
  rows: number;
  row_spacing_m: number;
  receiver?: string;
}

export interface FacetDraft {
  name: string;
  film: string;
  shape: Record<string, string | number>;
  outline:
    | { kind: 'rectangle'; length_m: number; width_m: number; centre_m: [number, number] }
    | { kind: 'round'; diameter_m: number; hole_diameter_m?: number };
  position_m: Point;
  facing: { azimuth_deg: number; elevation_deg: number };
  along_azimuth_deg: number;
  receiver?: string;
}

export type BlockerDraft =
  | { kind: 'box'; name: string; centre_m: Point; size_m: Point; heading_deg: number }
  | { kind: 'cylinder'; name: string; from_m: Point; to_m: Point; diameter_m: number };

export interface SceneDraft {
  title: string;
  site?: { name: string; latitude_deg: number; longitude_deg: number; height_m: number };
  sun: {
    azimuth_deg?: number;
    elevation_deg?: number;
    date_time?: string;
    dni_w_m2: number;
    sunshape: Record<string, unknown>;
  };
  films: Record<string, FilmDraft>;
  dishes: Record<string, DishDraft>;
  rows: RowDraft[];
  facets: FacetDraft[];
  receivers: StandingReceiverDraft[];
  blockers: BlockerDraft[];
  ground?: { height_m: number };
  bounce_limit: number;
}

export interface DraftOptions {
  /** Receivers have bodies (by chance). Default true. */
  readonly bodies?: boolean;
  /** Single facets besides the rows, some of them sending light on to others. Default true. */
  readonly strays?: boolean;
}

const DEGREE = Math.PI / 180;

function direction(azimuth: number, elevation: number): Point {
  const level = Math.cos(elevation * DEGREE);
  return [
    level * Math.sin(azimuth * DEGREE),
    level * Math.cos(azimuth * DEGREE),
    Math.sin(elevation * DEGREE),
  ];
}

/** A small mirror in the light that another throws, looking back at it: it makes second and third reflections. */
function facingMirror(mirror: FacetDraft, sunAzimuth: number, sunElevation: number): FacetDraft {
  const sun = direction(sunAzimuth, sunElevation);
  const normal = direction(mirror.facing.azimuth_deg, mirror.facing.elevation_deg);
  const cosine = sun.reduce((sum, value, axis) => sum + value * normal[axis], 0);
  const thrown = sun.map((value, axis) => 2 * cosine * normal[axis] - value) as Point;
  const azimuth = Math.atan2(-thrown[0], -thrown[1]) / DEGREE;
  return {
    ...mirror,
    name: 'facing',
    outline: { kind: 'rectangle', length_m: 0.3, width_m: 0.2, centre_m: [0, 0] },
    position_m: mirror.position_m.map((value, axis) => value + 0.7 * thrown[axis]) as Point,
    facing: { azimuth_deg: azimuth, elevation_deg: Math.asin(-thrown[2]) / DEGREE + 3 },
    along_azimuth_deg: azimuth + 90,
  };
}

/**
 * Two rows of unlike dishes under a sun that nearly suits them, a standing receiver, posts, beams and single facets. The
 * sun stays below 64 degrees, where the sunshape's cross axes turn with the world.
 */
export function randomDraft(seed: string, options: DraftOptions = {}): SceneDraft {
  const { bodies = true, strays = true } = options;
  const random = seedrandom.alea(seed);
  const between = (low: number, high: number) => low + (high - low) * random();
  const pick = <T>(choices: readonly T[]): T => choices[Math.floor(random() * choices.length)];
  const elevation = between(30, 60);
  const azimuth = between(174, 186);

  const film = (): FilmDraft => ({
    reflectance: between(0.6, 0.95),
    soiling_factor: between(0.85, 1),
    ageing_factor: between(0.85, 1),
    slope_error_along_mrad: between(1, 6),
    slope_error_across_mrad: between(1, 6),
    specularity_mrad: between(0.5, 3),
  });
  const dish = (film: string): DishDraft => {
    const along = between(1.6, 2.4);
    return {
      film,
      focal_length_along_row_m: along,
      focal_length_across_row_m: along * between(0.9, 1.2),
      strips: {
        count: 3 + Math.floor(random() * 5),
        width_m: between(0.1, 0.16),
        length_m: between(0.8, 1.2),
        gap_m: between(0.005, 0.03),
        direction: pick(['along_row', 'across_row']),
        bend: pick(['parabola', 'circle', 'straight']),
      },
      rib: pick(['flat', 'parabola']),
      design_tilt_deg: 90 - elevation + between(-1.5, 1.5),
      ...(random() < 0.5 ? { design_sun: { azimuth_deg: azimuth, elevation_deg: elevation } } : {}),
      tilt_setting_deg: between(-1, 1),
      receiver: {
        kind: 'cavity',
        aperture: pick([
          { shape: 'round', diameter_m: 0.2 },
          { shape: 'rectangle', width_m: 0.22, height_m: 0.16 },
        ]),
        window: { width_m: 0.6, height_m: 0.6 },
        cells: 16,
        body: bodies
          ? pick([
              null,
              { shape: 'round', diameter_m: 0.32, depth_m: 0.2 },
              { shape: 'rectangle', width_m: 0.3, height_m: 0.24, depth_m: 0.15 },
            ])
          : null,
        offset_m: [between(-0.04, 0.04), between(-0.04, 0.04), between(-0.05, 0.05)],
        faces: pick(['dish', 'down']),
      },
      blockers:
        random() < 0.5
          ? [
              {
                kind: 'cylinder',
                name: 'arm',
                from_m: [0.3, -0.2, 0.2],
                to_m: [0.05, between(-0.9, -0.2), 1.5],
                diameter_m: 0.04,
              },
            ]
          : [],
    };
  };
  const row = (name: string, design: string, north: number): RowDraft => ({
    name,
    dish: design,
    dishes: 1 + Math.floor(random() * 3),
    pitch_m: between(1.35, 1.6),
    heading_deg: between(86, 94),
    centre_m: [between(-1, 1), north, between(0.9, 1.2)],
    rows: 1,
    row_spacing_m: 3,
  });
  const centre: Point = [between(3, 4), between(-1, 1), 1];
  const facets: FacetDraft[] = [
    { kind: 'flat' },
    { kind: 'bent', curve: 'parabola', focal_length_m: 1.5 },
    { kind: 'bent', curve: 'circle', focal_length_m: 1.5 },
    { kind: 'paraboloid', focal_length_m: 1.2 },
    { kind: 'toroid', radius_along_m: 3, radius_across_m: 2.5 },
  ].map((shape, i) => ({
    name: `stray ${i}`,
    film: pick(['one', 'two']),
    shape,
    outline:
      i % 2 === 0
        ? { kind: 'rectangle', length_m: 0.6, width_m: 0.3, centre_m: [0, 0] }
        : { kind: 'round', diameter_m: 0.5, hole_diameter_m: 0.1 },
    position_m: [centre[0] + between(-0.8, 0.8), centre[1] + between(-1, 1), centre[2] + between(0, 0.8)],
    facing: { azimuth_deg: azimuth + between(-25, 25), elevation_deg: elevation + between(-30, 20) },
    along_azimuth_deg: azimuth + 90 + between(-20, 20),
  }));
  return {
    title: `drawn from ${seed}`,
    sun: {
      azimuth_deg: azimuth,
      elevation_deg: elevation,
      dni_w_m2: between(500, 1000),
      sunshape: pick([
        { kind: 'circumsolar', circumsolar_ratio: 0.1 },
        { kind: 'disc', half_angle_mrad: 4.65 },
        { kind: 'gaussian', sigma_mrad: 2.7 },
      ]),
    },
    films: { one: film(), two: film() },
    dishes: { first: dish('one'), second: dish('two') },
    rows: [row('A', 'first', 0), row('B', 'second', between(2.2, 3.2))],
    facets: strays ? [...facets, facingMirror(facets[0], azimuth, elevation)] : [],
    receivers: [
      {
        name: 'line',
        kind: 'line_plate',
        aperture: { length_m: 2, width_m: 0.2 },
        window: { length_m: 2.4, width_m: 0.6 },
        cells: 16,
        position_m: [centre[0], centre[1] - 1.6, centre[2] + 2],
        facing: { azimuth_deg: 0, elevation_deg: -40 },
        along_azimuth_deg: 85,
      },
    ],
    blockers: [
      {
        kind: 'box',
        name: 'beam',
        centre_m: [between(-1, 1), between(0.5, 1.5), between(1, 2)],
        size_m: [2, 0.08, 0.08],
        heading_deg: between(60, 120),
      },
      {
        kind: 'cylinder',
        name: 'post',
        from_m: [between(-1, 1), between(-1, 1), 0.2],
        to_m: [between(-1, 1), between(-1, 1), between(2, 2.6)],
        diameter_m: 0.07,
      },
    ],
    ground: { height_m: 0 },
    bounce_limit: 4,
  };
}

/** A deep copy with a change made to it. */
export function changed(draft: SceneDraft, change: (copy: SceneDraft) => void): SceneDraft {
  const copy = structuredClone(draft);
  change(copy);
  return copy;
}

/** The draft as scene text: JSON, which is YAML. */
export function draftText(draft: SceneDraft): string {
  return JSON.stringify(draft, null, 1);
}

/** One group of mirrors after one batch. */
export interface GroupReading {
  readonly counts: readonly number[];
  readonly watts: readonly number[];
  readonly incident: number;
  readonly absorbed: number;
  readonly strayRays: number;
  readonly strayWatts: number;
  readonly map: readonly number[];
}

export interface Reading {
  readonly prepared: PreparedScene;
  /** By the name of the receiver. */
  readonly groups: ReadonlyMap<string, GroupReading>;
  /** Fate of each ray, by facet name: only where asked for. */
  readonly fates: ReadonlyMap<string, readonly number[]>;
}

export interface ReadOptions {
  /** 2^k rays a facet. */
  readonly log2?: number;
  readonly seed?: string;
  /**
   * What a facet's random numbers hang on: default its name. So a facet keeps its rays wherever it stands in the list, and
   * facets of unlike names can be given the same rays. (Later bounces hang on the place in the list as well: tests that
   * move facets about set the bounce limit to 1.)
   */
  readonly key?: (facet: string) => string;
  /** Follow each ray alone for its fate. */
  readonly rayByRay?: boolean;
}

/** Scene text -> checked scene -> prepared scene -> one batch with the same number of rays on each lit facet. */
export function readDraft(draft: SceneDraft, options: ReadOptions = {}): Reading {
  const { log2 = 7, seed = 'metamorphic', key = (facet) => facet, rayByRay = false } = options;
  const scene = sceneOf(draftText(draft));
  const prepared = prepareScene(scene, layOut(scene), momentOf(scene));
  const { facets, receivers } = prepared.field;
  const log2Rays = evenLog2(prepared, log2);
  const shifts = new Int32Array(facets.length * DIMENSIONS);
  facets.forEach((facet, i) => {
    shifts.set(latticeShifts(`${seed}/${key(facet.name)}`, 0, [log2]), i * DIMENSIONS);
  });
  const view = viewPrepared(prepared.buffer);
  const { layout } = prepared;
  const tally = new Float64Array(layout.length);
  traceBatch(view, log2Rays, shifts, batchKey(seed, 0), tally);

  const groups = new Map<string, GroupReading>();
  receivers.forEach((receiver, g) => {
    const { map, nu, nv } = layout.receivers[g];
    const slice = (from: number, length: number) => Array.from(tally.subarray(from, from + length));
    groups.set(receiver.name, {
      counts: slice(layout.counts + g * FATES, FATES),
      watts: slice(layout.watts + g * FATES, FATES),
      incident: tally[layout.incident + g],
      absorbed: tally[layout.absorbed + g],
      strayRays: tally[layout.strayRays + g],
      strayWatts: tally[layout.strayWatts + g],
      map: slice(map, nu * nv),
    });
  });

  const fates = new Map<string, number[]>();
  if (rayByRay) {
    let ray = 0;
    facets.forEach((facet, i) => {
      if (log2Rays[i] < 0) return;
      const ends: number[] = [];
      for (let k = 0; k < 2 ** log2Rays[i]; k++) {
        let fate = -1;
        replayRay(view, log2Rays, shifts, batchKey(seed, 0), ray++, {
          step: () => {},
          sun: () => {},
          end: (end) => {
            fate = end;
          },
        });
        ends.push(fate);
      }
      fates.set(facet.name, ends);
    });
    if (ray !== raysInBatch(log2Rays)) throw new Error('rays were left out');
  }
  return { prepared, groups, fates };
}
