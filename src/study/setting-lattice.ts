/**
 * The energy of each day at each setting on one even lattice of sun angles that all settings share. Receivers that cannot follow a
 * beam across the row see it for some degrees of the profile angle, other degrees at each setting: tables that refine themselves
 * setting by setting would all refine everywhere, and share nothing.
 */
import { leastWidth } from '../field/receiver.js';
import type { TaskPool } from '../run/pool.js';
import type { Scene } from '../scene/types.js';
import { receiverFromDish } from './moving.js';
import { type RowAngles, rowAngles, sunAtAngles, tableHeading } from './optics-table-angles.js';
import { isMirrored } from './optics-table-mirror.js';
import { PARTS, type ReceiverMode, withoutMaps } from './optics-table-node.js';
import { doAll } from './pooled.js';
import type { SunPoint } from './season-sun.js';
import type { ResetKind, SettingNodeReply, SettingNodeTask } from './setting-node.js';

const DEGREE = Math.PI / 180;

export interface LatticeOptions {
  readonly scene: Scene;
  readonly mode: ReceiverMode;
  readonly kind: ResetKind;
  /** Rising; degrees or mm. */
  readonly values: readonly number[];
  /** With energy above 0. */
  readonly points: readonly SunPoint[];
  readonly days: number;
  readonly seed: string;
  readonly pool: TaskPool<SettingNodeTask, SettingNodeReply>;
  readonly stop?: { readonly requested: boolean };
  readonly onNodes?: (recorded: number) => void;
}

export interface SettingLattice {
  /** Of each part, entry [day * values + value]: beam energy x share caught, J per m2 of mirror. */
  readonly parts: readonly Float64Array[];
  /** Mean share caught at a sun position of the points, by value: what a trace of that moment is held against. */
  readonly shareAt: (point: number, value: number) => number;
  readonly nodes: number;
}

/** Steps of the lattice, radians. */
interface Steps {
  readonly longitudinal: number;
  readonly profile: number;
}

/** Where receivers go with the beam, what they catch changes slowly. */
const SLOWLY = 5 * DEGREE;
/** Along the row, where receivers go with the beam that way. */
const ALONG = 7.5 * DEGREE;
/** Steps in the angle that an opening takes up, as seen from the mirrors, where the beam passes over it. */
const STEPS_IN_OPENING = 3;
const FINEST = 0.5 * DEGREE;
const COARSEST = 1.5 * DEGREE;
/** So much coarser where receivers stand: there are as many steps along the row then, too. */
const STANDING = 4 / 3;

function stepsOf(scene: Scene, mode: ReceiverMode): Steps {
  const [along, across, up] =
    mode.kind === 'following' ? (mode.free ?? [true, true, true]) : [true, false, false];
  const passing = Math.min(COARSEST, Math.max(FINEST, openingAngle(scene) / STEPS_IN_OPENING));
  if (mode.kind === 'held') return { longitudinal: STANDING * passing, profile: STANDING * passing };
  return {
    longitudinal: !along ? passing : mode.kind === 'on_track' ? ALONG / 2 : ALONG,
    profile: along && across && up ? SLOWLY : passing,
  };
}

/** Least angle of an opening as seen from its mirrors; the coarsest step's where receivers stand by themselves. */
function openingAngle(scene: Scene): number {
  const place = receiverFromDish(scene);
  const angles = scene.dishes.flatMap(({ receiver }) => {
    if (receiver === null || place === null) return [];
    return [leastWidth(receiver.design.aperture) / Math.hypot(...place)];
  });
  return Math.min(STEPS_IN_OPENING * COARSEST, ...angles);
}

/** A place in the lattice: four nodes each way and their weights. */
interface Stencil {
  readonly first: number;
  readonly weights: readonly [number, number, number, number];
}

/**
 * Lagrange's cubic through four even nodes, the place between the inner two where there is room on both sides.
 * @param at in steps
 * @param least first node that may be used
 * @param most last node that may be used
 */
export function cubicAt(at: number, least: number, most: number): Stencil {
  const first = Math.max(least, Math.min(most - 3, Math.floor(at) - 1));
  const t = at - first;
  return {
    first,
    weights: [
      (-(t - 1) * (t - 2) * (t - 3)) / 6,
      (t * (t - 2) * (t - 3)) / 2,
      (-t * (t - 1) * (t - 3)) / 2,
      (t * (t - 1) * (t - 2)) / 6,
    ],
  };
}

/** Even nodes of both angles; mornings stand for afternoons where the scene is mirrored. */
class Lattice {
  readonly keys: string[] = [];
  readonly places: RowAngles[] = [];
  #index = new Map<string, number>();
  readonly #most: { readonly longitudinal: number; readonly profile: number };

  constructor(
    readonly steps: Steps,
    readonly mirrored: boolean,
  ) {
    this.#most = {
      longitudinal: Math.floor(Math.PI / 2 / steps.longitudinal),
      profile: Math.floor(Math.PI / steps.profile),
    };
  }

  /** Nodes and weights of a place; nodes that are new are taken up. */
  stencilAt({ longitudinal, profile }: RowAngles): readonly (readonly [number, number])[] {
    const x = (this.mirrored ? Math.abs(longitudinal) : longitudinal) / this.steps.longitudinal;
    const across = cubicAt(x, -this.#most.longitudinal, this.#most.longitudinal);
    const up = cubicAt(profile / this.steps.profile, 0, this.#most.profile);
    return across.weights.flatMap((a, i) =>
      up.weights.map((b, j): readonly [number, number] => [
        this.#node(across.first + i, up.first + j),
        a * b,
      ]),
    );
  }

  #node(x: number, y: number): number {
    const column = this.mirrored ? Math.abs(x) : x;
    const key = `${column},${y}`;
    let node = this.#index.get(key);
    if (node === undefined) {
      node = this.keys.length;
      this.#index.set(key, node);
      this.keys.push(key);
      this.places.push({
        longitudinal: column * this.steps.longitudinal,
        profile: y * this.steps.profile,
      });
    }
    return node;
  }
}

/** Recorded rays of a node. */
const NODE_RAYS = 2 ** 11;
const NODES_PER_MESSAGE = 4;

/**
 * @throws StudyStopped, NodeFailure (what a node throws: GeometryError, NoLeavingLightError)
 */
export async function settingLattice(options: LatticeOptions): Promise<SettingLattice> {
  const { scene, mode, values, points, days } = options;
  const heading = tableHeading(scene);
  const lattice = new Lattice(stepsOf(scene, mode), isMirrored(scene, mode));
  const stencils = points.map(({ sun }) => lattice.stencilAt(rowAngles(heading, sun)));
  const caught = await recordedAt(options, lattice, heading);
  const parts = Array.from({ length: PARTS }, () => new Float64Array(days * values.length));
  for (const [day, weights] of weightsByDay(points, stencils)) {
    for (const [node, weight] of weights) {
      const own = caught[node];
      for (let part = 0; part < PARTS; part++) {
        for (let k = 0; k < values.length; k++) {
          parts[part][day * values.length + k] += weight * own[part * values.length + k];
        }
      }
    }
  }
  const shareAt = (point: number, value: number): number => {
    let share = 0;
    for (const [node, weight] of stencils[point]) {
      for (let part = 0; part < PARTS; part++) {
        share += (weight * caught[node][part * values.length + value]) / PARTS;
      }
    }
    return share;
  };
  return { parts, shareAt, nodes: lattice.keys.length };
}

/** Energy-weighted weights of the nodes, day by day. */
function weightsByDay(
  points: readonly SunPoint[],
  stencils: readonly (readonly (readonly [number, number])[])[],
): ReadonlyMap<number, ReadonlyMap<number, number>> {
  const byDay = new Map<number, Map<number, number>>();
  points.forEach(({ day, energy }, i) => {
    let own = byDay.get(day);
    if (own === undefined) {
      own = new Map();
      byDay.set(day, own);
    }
    for (const [node, weight] of stencils[i]) own.set(node, (own.get(node) ?? 0) + energy * weight);
  });
  return byDay;
}

/** What the nodes say, in their order. */
async function recordedAt(
  { scene, mode, kind, values, seed, pool, stop, onNodes }: LatticeOptions,
  { keys, places }: Lattice,
  heading: number,
): Promise<readonly Float64Array[]> {
  const task = { scene: withoutMaps(scene), mode, kind, values, seed, rays: NODE_RAYS };
  const caught: Float64Array[] = new Array(keys.length);
  const tasks: SettingNodeTask[] = [];
  for (let first = 0; first < keys.length; first += NODES_PER_MESSAGE) {
    const suns = keys
      .slice(first, first + NODES_PER_MESSAGE)
      .map((key, i) => ({ key, sun: sunAtAngles(heading, places[first + i]) }));
    tasks.push({ ...task, suns });
  }
  let recorded = 0;
  await doAll(tasks, {
    pool,
    stop,
    onReply: (reply, index) => {
      reply.caught.forEach((own, i) => {
        caught[index * NODES_PER_MESSAGE + i] = own;
      });
      recorded += reply.caught.length;
      onNodes?.(recorded);
    },
  });
  return caught;
}
