/**
 * One node of an optics table: how much of DNI x mirror area is caught with the sun in one direction, and where the rest goes.
 * A node is a task by itself: plain data in, plain data out, the same in any thread.
 */
import { layOut } from '../field/layout.js';
import { type PreparedScene, prepareScene, SharedTables } from '../prepare.js';
import { SHARES, sharesOfTally } from '../result/shares.js';
import { LEAVING_REALS } from '../run/light.js';
import { NothingLitError, planBatches } from '../run/plan.js';
import { runBatchTask } from '../run/task.js';
import type { ReceiverDesign, Scene, Vec3 } from '../scene/types.js';
import { caughtAt } from './catch.js';
import { type Light, lightOf } from './light.js';
import { type Offset, withMoment, withReceiversAt } from './moving.js';
import { bestAlong, bestPlace, climbedFrom, coarseStep, type Free, placeNear } from './placement.js';

/** What the receivers do while the sun moves. */
export type ReceiverMode =
  /** They stay where the scene has them. */
  | { readonly kind: 'held' }
  /** They are always where they catch most; `free`: which ways they can go (along the row, across it, up). */
  | { readonly kind: 'following'; readonly free?: Free }
  /** They are always at the best place of a track: offsets in order, straight between. */
  | { readonly kind: 'on_track'; readonly path: readonly Offset[] };

/** Independent parts that each node is traced in: their spread is the noise of all that is made of the table. */
export const PARTS = 8;

export interface NodePlace {
  readonly key: string;
  /** Towards the sun, world frame. */
  readonly sun: Vec3;
  /** A place of the receivers known to be near the best; null: they are looked for everywhere. */
  readonly near: Offset | null;
}

export interface NodeTask {
  readonly scene: Scene;
  readonly mode: ReceiverMode;
  readonly seed: string;
  /** About so many rays in all for each node, and for looking for the best place. */
  readonly rays: number;
  readonly searchRays: number;
  /** Also for each receiver by itself. */
  readonly perReceiver: boolean;
  /** Also what openings of other sizes would catch: bins of the intercept curve from the middle on, in rising order. */
  readonly openings?: readonly number[];
  readonly nodes: readonly NodePlace[];
}

export interface Node {
  /**
   * Entry [(group * PARTS + part) * SHARES.length + share]. Group 0 is the whole scene; the others, if asked for, are its receivers
   * with the mirrors that serve them, in the order of the laid-out scene.
   */
  readonly shares: Float64Array;
  /**
   * Entry [part * openings + opening]: share of DNI x mirror area that an opening of each size would catch, the receivers standing
   * where they do and their bodies as they are. Empty where none are asked for.
   */
  readonly enclosed: Float64Array;
  /** Where the receivers were. */
  readonly offset: Offset;
}

export type NodeReply =
  | { readonly ok: true; readonly nodes: readonly Node[] }
  | { readonly ok: false; readonly name: string; readonly message: string };

/** Never throws: whatever goes wrong comes back by name and message. */
export function traceNodes(task: NodeTask): NodeReply {
  try {
    const shared = new SharedTables();
    return { ok: true, nodes: task.nodes.map((place) => traceNode(task, place, shared)) };
  } catch (error) {
    return error instanceof Error
      ? { ok: false, name: error.name, message: error.message }
      : { ok: false, name: 'Error', message: String(error) };
  }
}

/**
 * The scene for studies that do not look at maps: one cell each, and windows no larger than what they stand before, as whatever
 * reaches into a window makes its light slower to follow.
 * @param keepWindows where intercept curves are wanted beyond the openings
 */
export function withoutMaps(scene: Scene, keepWindows = false): Scene {
  const plain = (design: ReceiverDesign): ReceiverDesign => ({
    ...design,
    cells: [1, 1],
    window: keepWindows ? design.window : smallestWindow(design),
  });
  return {
    ...scene,
    dishes: scene.dishes.map((dish) =>
      dish.receiver === null
        ? dish
        : { ...dish, receiver: { ...dish.receiver, design: plain(dish.receiver.design) } },
    ),
    receivers: scene.receivers.map((receiver) => ({ ...receiver, design: plain(receiver.design) })),
  };
}

function smallestWindow({ aperture, body, window }: ReceiverDesign): ReceiverDesign['window'] {
  if (aperture.shape === 'tube') return window;
  const sizes = [aperture, ...(body === null ? [] : [body])].map((front) =>
    front.shape === 'round' ? [front.diameter, front.diameter] : [front.width, front.height],
  );
  const [width, height] = [0, 1].map((side) => Math.max(...sizes.map((size) => size[side])));
  return { width: Math.min(window.width, width), height: Math.min(window.height, height) };
}

/** Beam irradiance of every node, W/m2. Shares do not depend on it. */
const DNI = 1000;

function traceNode(task: NodeTask, place: NodePlace, shared: SharedTables): Node {
  const { mode, seed } = task;
  const moment = { sunDirection: place.sun, dni: DNI };
  const scene = withMoment(task.scene, moment);
  const own = `${seed}/${place.key}`;
  let offset: Offset = [0, 0, 0];
  try {
    if (mode.kind !== 'held')
      offset = placeOf(scene, mode, `${own}/place`, task.searchRays, place.near, shared);
    const moved = withReceiversAt(scene, offset);
    const prepared = prepareScene(moved, layOut(moved), moment, { shared, purpose: 'shares' });
    const { log2Rays } = planBatches(prepared, (task.rays / PARTS) * 32);
    const reply = runBatchTask({
      buffer: prepared.buffer,
      seed: own,
      batch: 0,
      count: PARTS,
      log2Rays,
      tallyLength: prepared.layout.length,
    });
    if (!reply.ok) throw new Error(reply.message);
    const enclosed = enclosedOf(prepared, reply.tally, task.openings ?? []);
    return { shares: sharesOf(prepared, reply.tally, task.perReceiver), enclosed, offset };
  } catch (error) {
    if (!(error instanceof NothingLitError)) throw error;
    const moved = layOut(task.scene);
    return {
      shares: darkShares(task.perReceiver ? 1 + moved.receivers.length : 1),
      enclosed: new Float64Array(PARTS * (task.openings?.length ?? 0)),
      offset: place.near ?? offset,
    };
  }
}

/** A search from nothing looks at about so many rays only; the place it finds is then climbed from with all of them. */
const RAYS_FROM_NOTHING = 700;

/**
 * Share of the light that a place found near a guess must catch, or the receivers are looked for everywhere as well: where much passes
 * by, the best place jumps from one top to another as the sun moves.
 */
const LEAST_OF_GUESS = 0.3;

function thinned(light: Light, step: number): Light {
  const groups = light.groups.map((group) => {
    const rays = group.rays.length / LEAVING_REALS;
    const kept = new Float64Array(Math.ceil(rays / step) * LEAVING_REALS);
    for (let to = 0, from = 0; from < rays; to++, from += step) {
      kept.set(group.rays.subarray(from * LEAVING_REALS, (from + 1) * LEAVING_REALS), to * LEAVING_REALS);
    }
    return { ...group, rays: kept };
  });
  return { ...light, groups, power: light.power / step };
}

function placeOf(
  scene: Scene,
  mode: Exclude<ReceiverMode, { kind: 'held' }>,
  seed: string,
  rays: number,
  near: Offset | null,
  shared: SharedTables,
): Offset {
  const light = lightOf(scene, seed, rays, shared);
  if (mode.kind === 'on_track') return bestAlong(light, mode.path)?.offset ?? mode.path[0];
  const guessed = near === null ? null : placeNear(light, near, mode.free);
  const caught = guessed === null ? 0 : caughtAt(light, guessed);
  if (guessed !== null && caught > LEAST_OF_GUESS * light.power) return guessed;
  const found = bestPlace(thinned(light, coarseStep(light, RAYS_FROM_NOTHING)), {
    ...(mode.free === undefined ? {} : { free: mode.free }),
    neighbours: false,
  });
  const place = climbedFrom(light, found?.offset ?? [0, 0, 0], mode.free);
  return guessed !== null && caught > caughtAt(light, place) ? guessed : place;
}

/** No mirror faces the sun: all is lost to the cosine. */
function darkShares(groups: number): Float64Array {
  const shares = new Float64Array(groups * PARTS * SHARES.length);
  for (let i = SHARES.indexOf('cosine'); i < shares.length; i += SHARES.length) shares[i] = 1;
  return shares;
}

/** Shares of each part of a node, of the whole scene and of each group if asked for. */
function sharesOf(prepared: PreparedScene, tallies: Float64Array, perReceiver: boolean): Float64Array {
  const { layout, mirrorArea } = prepared;
  const all = Array.from(mirrorArea, (_, group) => group);
  const groups = perReceiver ? [all, ...all.map((group) => [group])] : [all];
  const shares = new Float64Array(groups.length * PARTS * SHARES.length);
  groups.forEach((members, g) => {
    const area = members.reduce((sum, member) => sum + mirrorArea[member], 0);
    for (let part = 0; part < PARTS; part++) {
      const tally = tallies.subarray(part * layout.length, (part + 1) * layout.length);
      const out = (g * PARTS + part) * SHARES.length;
      shares.set(area > 0 ? sharesOfTally(layout, tally, members, DNI * area) : [0, 1, 0, 0, 0, 0], out);
    }
  });
  return shares;
}

/** Light of the intercept curves' first bins, of all receivers; light of other receivers' mirrors counts as it does for the opening. */
function enclosedOf(
  { layout, mirrorArea }: PreparedScene,
  tallies: Float64Array,
  openings: readonly number[],
): Float64Array {
  const full = DNI * mirrorArea.reduce((sum, area) => sum + area, 0);
  const enclosed = new Float64Array(PARTS * openings.length);
  if (!(full > 0)) return enclosed;
  for (let part = 0; part < PARTS; part++) {
    const tally = tallies.subarray(part * layout.length, (part + 1) * layout.length);
    layout.receivers.forEach(({ curve }, receiver) => {
      let light = tally[layout.strayWatts + receiver];
      let bin = 0;
      openings.forEach((end, opening) => {
        for (; bin < end; bin++) light += tally[curve + bin];
        enclosed[part * openings.length + opening] += light / full;
      });
    });
  }
  return enclosed;
}
