/**
 * A few sun positions that stand for a year: enough to tell designs apart, traced with the same random numbers for all of them. The
 * energy of one design is known less well this way than from an optics table; differences between designs are what they are for.
 */
import { normalise } from '../field/vector.js';
import { SHARES } from '../result/shares.js';
import type { Figure } from '../result/types.js';
import type { TaskPool } from '../run/pool.js';
import { studentT975 } from '../run/statistics.js';
import type { Scene, Vec3 } from '../scene/types.js';
import type { Offset } from './moving.js';
import { rowAngles } from './optics-table-angles.js';
import {
  type Node,
  type NodeReply,
  type NodeTask,
  PARTS,
  type ReceiverMode,
  withoutMaps,
} from './optics-table-node.js';
import { doUntilStopped } from './pooled.js';
import type { SunPoint } from './season-sun.js';

export interface SamplePlace {
  readonly sun: Vec3;
  /** Beam energy that it stands for, J/m2. */
  readonly energy: number;
}

/** Bands of equal energy, by the angle along the row and in each by the profile angle. */
const BANDS_ALONG = 9;
const BANDS_UP = 5;

/**
 * Cuts the year's sun positions into bands of equal energy along the row, each into bands by profile angle, and takes the middle of
 * each by energy. Few positions stand for themselves.
 * @param heading of the rows
 */
export function samplePlaces(points: readonly SunPoint[], heading: number): readonly SamplePlace[] {
  const lit = points.filter(({ energy }) => energy > 0);
  if (lit.length <= BANDS_ALONG * BANDS_UP) return lit.map(({ sun, energy }) => ({ sun, energy }));
  const placed = lit.map((point) => ({ point, ...rowAngles(heading, point.sun) }));
  return bands(placed, BANDS_ALONG, ({ longitudinal }) => longitudinal).flatMap((band) =>
    bands(band, BANDS_UP, ({ profile }) => profile).map((members) => {
      const sum: [number, number, number] = [0, 0, 0];
      let energy = 0;
      for (const { point } of members) {
        energy += point.energy;
        for (let c = 0; c < 3; c++) sum[c] += point.energy * point.sun[c];
      }
      return { sun: normalise(sum), energy };
    }),
  );
}

function bands<T extends { readonly point: SunPoint }>(
  items: readonly T[],
  count: number,
  by: (item: T) => number,
): T[][] {
  const sorted = [...items].sort((a, b) => by(a) - by(b));
  const total = sorted.reduce((sum, { point }) => sum + point.energy, 0);
  const made: T[][] = Array.from({ length: count }, () => []);
  let passed = 0;
  for (const item of sorted) {
    const middle = passed + item.point.energy / 2;
    made[Math.min(count - 1, Math.floor((count * middle) / total))].push(item);
    passed += item.point.energy;
  }
  return made.filter((band) => band.length > 0);
}

export interface SampleOptions {
  readonly mode: ReceiverMode;
  readonly places: readonly SamplePlace[];
  readonly seed: string;
  readonly rays: number;
  readonly perReceiver?: boolean;
  readonly pool: TaskPool<NodeTask, NodeReply>;
  readonly stop?: { readonly requested: boolean };
  readonly onNodes?: (traced: number) => void;
}

/** Rays of recorded light for the best places. */
const SEARCH_RAYS = 2 ** 12;
const PLACES_PER_MESSAGE = 3;

/** What a scene gives at all places. */
export interface Sampled {
  /** Share of DNI x mirror area, entry [(group * PARTS + part) * SHARES.length + share], weighted by energy. */
  readonly shares: Float64Array;
  /** Where the receivers were, by place. */
  readonly offsets: readonly Offset[];
}

/**
 * All scenes at all places, with the same random numbers place by place; ended early when `stop` is requested.
 * @returns one for each scene, in order; null for those that were not finished
 * @throws NodeFailure
 */
export async function sampleFinished(
  scenes: readonly Scene[],
  options: SampleOptions,
): Promise<readonly (Sampled | null)[]> {
  const { mode, places, seed, rays, perReceiver = false, pool, stop, onNodes } = options;
  const tasks: NodeTask[] = [];
  const fills: { scene: number; first: number }[] = [];
  scenes.forEach((scene, index) => {
    const plain = withoutMaps(scene);
    for (let first = 0; first < places.length; first += PLACES_PER_MESSAGE) {
      const nodes = places
        .slice(first, first + PLACES_PER_MESSAGE)
        .map(({ sun }, k) => ({ key: `sample ${first + k}`, sun, near: null }));
      tasks.push({ scene: plain, mode, seed, rays, searchRays: SEARCH_RAYS, perReceiver, nodes });
      fills.push({ scene: index, first });
    }
  });
  const found: Node[][] = scenes.map(() => new Array<Node>(places.length));
  const missing = scenes.map(() => places.length);
  let traced = 0;
  await doUntilStopped(tasks, {
    pool,
    stop,
    onReply: ({ nodes }, task) => {
      const { scene, first } = fills[task];
      nodes.forEach((node, k) => {
        found[scene][first + k] = node;
      });
      missing[scene] -= nodes.length;
      traced += nodes.length;
      onNodes?.(traced);
    },
  });
  const total = places.reduce((sum, { energy }) => sum + energy, 0);
  return found.map((nodes, scene) => {
    if (missing[scene] > 0) return null;
    const shares = new Float64Array(nodes[0].shares.length);
    nodes.forEach((node, k) => {
      for (let i = 0; i < shares.length; i++) shares[i] += (places[k].energy / total) * node.shares[i];
    });
    return { shares, offsets: nodes.map(({ offset }) => offset) };
  });
}

/** One share of one group, by part. */
export function partsOf({ shares }: Sampled, share: (typeof SHARES)[number], group = 0): Float64Array {
  return Float64Array.from(
    { length: PARTS },
    (_, part) => shares[(group * PARTS + part) * SHARES.length + SHARES.indexOf(share)],
  );
}

/**
 * Relative gain, by parts: noise that both have in common cancels.
 * @param parts of one and of what it is held against, same random numbers part by part; 0 where the latter is 0
 */
export function gainOfParts(parts: Float64Array, base: Float64Array): Figure {
  const mean = figureOfParts(base, '1').value;
  return figureOfParts(
    parts.map((value, i) => (mean > 0 ? (value - base[i]) / mean : 0)),
    '1',
  );
}

/** Mean of the parts with the error of their spread. */
export function figureOfParts(parts: Float64Array, unit: string): Figure {
  const value = parts.reduce((sum, part) => sum + part, 0) / parts.length;
  const squares = parts.reduce((sum, part) => sum + (part - value) ** 2, 0);
  const std_err = Math.sqrt(squares / (parts.length * (parts.length - 1)));
  const half = studentT975(parts.length - 1) * std_err;
  return { value, std_err, ci95: [value - half, value + half], unit };
}
