/** Fields put together by hand in exact frames, prepared for the kernel without the way through a design. */
import type { Field, Frame, PlacedBlocker, PlacedFacet, PlacedReceiver } from '../../src/field/types.js';
import { cross, normalise } from '../../src/field/vector.js';
import { type PreparedScene, type PrepareOptions, prepareScene } from '../../src/prepare.js';
import type { Film, ReceiverDesign, Scene, SunshapeSpec, Vec3 } from '../../src/scene/types.js';
import { PERFECT_FILM, sevenStripDish } from './scenes.js';

/** A source of uniform numbers in [0, 1). */
export type Random = () => number;

export function levelAt(origin: Vec3): Frame {
  return { origin, x: [1, 0, 0], y: [0, 1, 0], z: [0, 0, 1] };
}

/** z along `z`, x as near to `along` as it can be. */
export function frameAlong(origin: Vec3, z: Vec3, along: Vec3): Frame {
  const unitZ = normalise(z);
  const y = normalise(cross(unitZ, along));
  return { origin, x: cross(y, unitZ), y, z: unitZ };
}

export function randomDirection(random: Random): Vec3 {
  const z = 2 * random() - 1;
  const turn = 2 * Math.PI * random();
  const level = Math.sqrt(1 - z * z);
  return [level * Math.cos(turn), level * Math.sin(turn), z];
}

export function randomFrame(random: Random, origin: Vec3): Frame {
  return frameAlong(origin, randomDirection(random), randomDirection(random));
}

export function placedFacet(changes: Partial<PlacedFacet> = {}): PlacedFacet {
  return {
    name: 'facet',
    dish: null,
    film: 0,
    frame: levelAt([0, 0, 0]),
    shape: { kind: 'flat' },
    outline: { kind: 'rectangle', length: 1, width: 1, centre: [0, 0] },
    receiver: 0,
    ...changes,
  };
}

/** A square plate 0.2 m wide in a window of 0.4 m, 2 m up, looking down (u to the east, v to the south). */
export function placedReceiver(design: Partial<ReceiverDesign> = {}, frame?: Frame): PlacedReceiver {
  return {
    name: 'plate',
    design: {
      kind: 'plate',
      aperture: { shape: 'rectangle', width: 0.2, height: 0.2 },
      window: { width: 0.4, height: 0.4 },
      cells: [40, 40],
      peakDisc: 0.02,
      body: null,
      ...design,
    },
    frame: frame ?? { origin: [0, 0, 2], x: [1, 0, 0], y: [0, -1, 0], z: [0, 0, -1] },
  };
}

export function tubeDesign(diameter: number, length: number): Partial<ReceiverDesign> {
  return {
    kind: 'tube',
    aperture: { shape: 'tube', diameter, length },
    window: { width: length, height: Math.PI * diameter },
  };
}

export interface FieldScene {
  readonly facets: readonly PlacedFacet[];
  readonly receivers?: readonly PlacedReceiver[];
  readonly blockers?: readonly PlacedBlocker[];
  readonly ground?: number | null;
  readonly films?: readonly Film[];
  readonly sunshape?: SunshapeSpec;
  readonly sun?: Vec3;
  readonly dni?: number;
  readonly bounceLimit?: number;
}

/** Default: one plate, perfect film, point sun overhead, 1000 W/m2, four bounces, no ground. */
export function prepareField(parts: FieldScene, options: PrepareOptions = {}): PreparedScene {
  const base = sevenStripDish();
  const scene: Scene = {
    ...base,
    dishes: [],
    rows: [],
    films: parts.films ?? [PERFECT_FILM],
    sun: { ...base.sun, sunshape: parts.sunshape ?? { kind: 'point' } },
    bounceLimit: parts.bounceLimit ?? 4,
    ground: parts.ground ?? null,
  };
  const field: Field = {
    facets: parts.facets,
    receivers: parts.receivers ?? [placedReceiver()],
    blockers: parts.blockers ?? [],
    ground: parts.ground ?? null,
  };
  const moment = { sunDirection: normalise(parts.sun ?? [0, 0, 1]), dni: parts.dni ?? 1000 };
  return prepareScene(scene, field, moment, options);
}
