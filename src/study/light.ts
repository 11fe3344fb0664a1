/** Light as it leaves the mirrors, recorded once, with how the receivers that wait for it can be moved. */
import { directionToLocal, levelFrame } from '../field/frame.js';
import { dishOfRow } from '../field/layout.js';
import { dishReceiverFrame, leastWidth, placeDishReceiver } from '../field/receiver.js';
import type { Frame, PlacedReceiver } from '../field/types.js';
import { add, addScaled, norm, normalise, scale, subtract } from '../field/vector.js';
import type { SharedTables } from '../prepare.js';
import { LEAVING_REALS, recordLight } from '../run/light.js';
import type { DishDesign, DishReceiver, ReceiverDesign, RowSpec, Scene, Vec3 } from '../scene/types.js';
import { forSearch, movingHeading, NO_OFFSET, type Offset, withReceiversAt } from './moving.js';
import { prepareAtMoment } from './trace.js';

/** Light of all receivers that move alike: one dish design, or one receiver that stands by itself. */
export interface LightGroup {
  readonly design: ReceiverDesign;
  /** LEAVING_REALS of each ray, in the row's frame about the dish's centre (a standing receiver: about where it stands). */
  readonly rays: Float64Array;
  /** Where the receiver is in that frame when moved. */
  readonly frameAt: (offset: Offset) => Frame;
  /** Towards the sun's centre, in the same frame. */
  readonly sun: Vec3;
  /** A sphere round the mirror points that the rays leave. */
  readonly mirrors: { readonly centre: Vec3; readonly radius: number };
  /** Receivers of the dishes to either side. */
  readonly others: readonly Other[];
}

/** Receivers of other dishes: how far along the row from the own one, m, and what part of the dishes have one there. */
interface Other {
  readonly along: number;
  readonly share: number;
}

export interface Light {
  readonly groups: readonly LightGroup[];
  /** Watts of all rays. */
  readonly power: number;
  readonly beam: Beam;
}

/** Where light comes from and goes to, relative to the place of its receiver at offset 0. */
export interface Beam {
  /** Mean point of the mirrors that it leaves. */
  readonly from: Vec3;
  readonly along: Vec3;
  /** From there to the place of the receiver at offset 0, metres. */
  readonly distance: number;
}

/** What moves alike, and where its receiver is in the moving frame. */
interface Mover {
  readonly key: string;
  readonly heading: number;
  readonly frameAt: (offset: Offset) => Frame;
  readonly others: readonly Other[];
}

/** The placed receiver's frame in the axes of its row, with its own place as origin; moved by an offset. */
function standingMover(scene: Scene, name: string, frame: Frame): Mover {
  const heading = movingHeading(scene, name);
  const row = levelFrame([0, 0, 0], heading);
  const turned = {
    x: directionToLocal(row, frame.x),
    y: directionToLocal(row, frame.y),
    z: directionToLocal(row, frame.z),
  };
  return {
    key: `receiver ${name}`,
    heading,
    frameAt: (offset) => ({ origin: offset, ...turned }),
    others: [],
  };
}

const OWN_FRAME: Frame = { origin: [0, 0, 0], x: [1, 0, 0], y: [0, 1, 0], z: [0, 0, 1] };

/**
 * Dishes to either side whose receivers are looked at. With the sun 50 degrees off along the row, receivers gone to meet the light throw
 * their shadow three dishes on: with two looked at, 12 % more was caught than there is.
 */
const NEIGHBOURS = 6;

/** The nearest first. */
function othersInRow({ dishes, pitch }: RowSpec): readonly Other[] {
  return Array.from({ length: Math.min(NEIGHBOURS, dishes - 1) }, (_, i) => {
    const share = (dishes - i - 1) / dishes;
    return [
      { along: (i + 1) * pitch, share },
      { along: -(i + 1) * pitch, share },
    ];
  }).flat();
}

/** @param row as it is built, however few of its dishes are looked at */
function dishMover(row: RowSpec, dish: DishDesign, receiver: DishReceiver): Mover {
  const { origin } = placeDishReceiver(dish.name, dish, receiver, OWN_FRAME).frame;
  const others = othersInRow(row);
  return {
    key: `row ${row.name}`,
    heading: row.heading,
    frameAt: (offset) => dishReceiverFrame(dish.name, receiver, add(origin, offset), OWN_FRAME),
    others,
  };
}

/** One per receiver, in the order of the laid-out scene. @param whole the scene that it was cut from */
function moversOf(scene: Scene, whole: Scene, receivers: readonly PlacedReceiver[]): Mover[] {
  const movers = scene.receivers.map(({ name }, index) => standingMover(scene, name, receivers[index].frame));
  for (const [index, row] of scene.rows.entries()) {
    const dish = dishOfRow(scene, row);
    if (row.receiver !== null || dish.receiver === null) continue;
    const mover = dishMover(whole.rows[index], dish, dish.receiver);
    for (let dishes = row.dishes * row.rows; dishes > 0; dishes--) movers.push(mover);
  }
  return movers;
}

/** Receivers wait here while light is recorded, far below the mirrors, so that they cast no shadow: they will stand elsewhere. */
const OUT_OF_THE_SUN: Offset = [0, 0, -100];

/**
 * Records the light of a scene at its own moment, of a few dishes of each row. Receivers cast no shadow in it: see `Bodies`.
 * @param rays about so many in all
 * @param shared one for all scenes of a study, see `PrepareOptions`
 * @throws GeometryError, SunBelowHorizonError, NothingLitError, NoLeavingLightError (toroid facets)
 */
export function lightOf(whole: Scene, seed: string, rays: number, shared?: SharedTables): Light {
  const scene = forSearch(whole);
  const prepared = prepareAtMoment(withReceiversAt(scene, OUT_OF_THE_SUN), shared, 'leaving');
  const { field } = prepared;
  const light = recordLight(prepared, seed, rays);
  const movers = moversOf(scene, whole, field.receivers);
  const sun = prepared.moment.sunDirection;
  const counts = new Map<string, number>();
  for (const home of light.home) counts.set(movers[home].key, (counts.get(movers[home].key) ?? 0) + 1);
  const made = new Map<
    string,
    { mover: Mover; home: number; rays: Float64Array; filled: number; from: Frame }
  >();
  let power = 0;
  for (const [ray, home] of light.home.entries()) {
    const mover = movers[home];
    let entry = made.get(mover.key);
    if (entry === undefined) {
      const rays = new Float64Array((counts.get(mover.key) ?? 0) * LEAVING_REALS);
      entry = { mover, home, rays, filled: 0, from: mover.frameAt(OUT_OF_THE_SUN) };
      made.set(mover.key, entry);
    }
    const { x, y, z, origin } = entry.from;
    const { rays } = entry;
    const read = ray * LEAVING_REALS;
    const write = entry.filled * LEAVING_REALS;
    for (let c = 0; c < 3; c++) {
      rays[write + c] =
        origin[c] + light.reals[read] * x[c] + light.reals[read + 1] * y[c] + light.reals[read + 2] * z[c];
      rays[write + 3 + c] =
        light.reals[read + 3] * x[c] + light.reals[read + 4] * y[c] + light.reals[read + 5] * z[c];
    }
    rays[write + 6] = light.reals[read + 6];
    power += rays[write + 6];
    entry.filled++;
  }
  const groups = Array.from(
    made.values(),
    ({ mover: { heading, frameAt, others }, home, rays }): LightGroup => ({
      design: field.receivers[home].design,
      rays,
      frameAt,
      sun: directionToLocal(levelFrame([0, 0, 0], heading), sun),
      mirrors: sphereRound(rays),
      others,
    }),
  );
  return { groups, power, beam: beamOf(groups) };
}

/** About the middle of the box round all starting points. */
function sphereRound(rays: Float64Array): LightGroup['mirrors'] {
  const low = [Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY];
  const high = [Number.NEGATIVE_INFINITY, Number.NEGATIVE_INFINITY, Number.NEGATIVE_INFINITY];
  for (let r = 0; r < rays.length; r += LEAVING_REALS) {
    for (let c = 0; c < 3; c++) {
      low[c] = Math.min(low[c], rays[r + c]);
      high[c] = Math.max(high[c], rays[r + c]);
    }
  }
  return {
    centre: [(low[0] + high[0]) / 2, (low[1] + high[1]) / 2, (low[2] + high[2]) / 2],
    radius: Math.hypot(high[0] - low[0], high[1] - low[1], high[2] - low[2]) / 2,
  };
}

function beamOf(groups: readonly LightGroup[]): Beam {
  let watts = 0;
  let point: Vec3 = [0, 0, 0];
  let direction: Vec3 = [0, 0, 0];
  let distance = 0;
  for (const { rays, frameAt } of groups) {
    const { origin } = frameAt(NO_OFFSET);
    let own = 0;
    let px = 0;
    let py = 0;
    let pz = 0;
    let dx = 0;
    let dy = 0;
    let dz = 0;
    for (let r = 0; r < rays.length; r += LEAVING_REALS) {
      const w = rays[r + 6];
      own += w;
      px += w * rays[r];
      py += w * rays[r + 1];
      pz += w * rays[r + 2];
      dx += w * rays[r + 3];
      dy += w * rays[r + 4];
      dz += w * rays[r + 5];
    }
    if (own === 0) continue;
    const middle = subtract([px / own, py / own, pz / own], origin);
    watts += own;
    point = addScaled(point, middle, own);
    direction = add(direction, [dx, dy, dz]);
    distance += own * norm(middle);
  }
  if (watts === 0) return { from: [0, 0, -1], along: [0, 0, 1], distance: 1 };
  return { from: scale(point, 1 / watts), along: normalise(direction), distance: distance / watts };
}

/** Least width of the openings, metres. */
export function smallestOpening(light: Light): number {
  return Math.min(...light.groups.map(({ design }) => leastWidth(design.aperture)));
}
