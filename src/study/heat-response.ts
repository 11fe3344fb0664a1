/**
 * How the light caught in a year answers to the mirrors' slope error and the film's specular spread: traced at a few sun positions
 * drawn in proportion to the light caught, with the same rays for all variants, so that ratios carry little noise.
 */

import { SHARES } from '../result/shares.js';
import type { TaskPool } from '../run/pool.js';
import { meanEstimate } from '../run/statistics.js';
import type { Film, Scene } from '../scene/types.js';
import type { Offset } from './moving.js';
import type { OpticsTable } from './optics-table.js';
import { sunAtAngles } from './optics-table-angles.js';
import { anglesAt, nodeKey, nodesOf, weightsAt } from './optics-table-cells.js';
import {
  type Node,
  type NodePlace,
  type NodeReply,
  type NodeTask,
  PARTS,
  type ReceiverMode,
  withoutMaps,
} from './optics-table-node.js';
import { doAll } from './pooled.js';

/** Sun positions of a response. */
export const RESPONSE_PLACES = 32;
const NODES_PER_MESSAGE = 4;

export interface ResponseOptions {
  readonly table: OpticsTable;
  /** The scene of the table, then its variants. */
  readonly scenes: readonly Scene[];
  readonly mode: ReceiverMode;
  readonly seed: string;
  readonly rays: number;
  readonly searchRays: number;
  readonly pool: TaskPool<NodeTask, NodeReply>;
  readonly stop?: { readonly requested: boolean };
  readonly onNodes?: (traced: number) => void;
}

/** Light caught over that of the first scene, and its standard error over sun positions. */
export interface Ratio {
  readonly value: number;
  readonly std_err: number;
}

/** Slope errors of all films times a factor. */
export function withSlopeErrors(scene: Scene, factor: number): Scene {
  return {
    ...scene,
    films: scene.films.map((film) => ({
      ...film,
      slopeErrorAlong: film.slopeErrorAlong * factor,
      slopeErrorAcross: film.slopeErrorAcross * factor,
    })),
  };
}

/** Rms scatter per axis over a film's lobes. */
export function specularSpread({ lobes }: Film): number {
  return Math.sqrt(lobes.reduce((sum, { weight, sigma }) => sum + weight * sigma * sigma, 0));
}

/** All films with one lobe of a spread, radians. */
export function withSpecularSpread(scene: Scene, sigma: number): Scene {
  return { ...scene, films: scene.films.map((film) => ({ ...film, lobes: [{ weight: 1, sigma }] })) };
}

/** Sun positions in the order of the cells, equally far apart in light caught. */
function placesOf(table: OpticsTable): readonly NodePlace[] {
  const { cloud, nodes, leaves } = table;
  const candidates = leaves.flatMap((leaf) => {
    const own = nodesOf(leaf).map(([x, y]) => nodes.get(nodeKey(x, y))!);
    return Array.from(leaf.members, (member) => {
      const weights = weightsAt(leaf, cloud.longitudinal[member], cloud.profile[member], leaf.smooth);
      const offset: [number, number, number] = [0, 0, 0];
      let caught = 0;
      own.forEach((node, i) => {
        caught += weights[i] * caughtOf(node);
        for (let c = 0; c < 3; c++) offset[c] += weights[i] * node.offset[c];
      });
      return { member, offset: offset as Offset, light: cloud.energy[member] * Math.max(0, caught) };
    });
  });
  const total = candidates.reduce((sum, { light }) => sum + light, 0);
  const places: NodePlace[] = [];
  let next = total / (2 * RESPONSE_PLACES);
  let passed = 0;
  for (const { member, offset, light } of candidates) {
    passed += light;
    while (places.length < RESPONSE_PLACES && next < passed) {
      const angles = anglesAt(cloud.longitudinal[member], cloud.profile[member]);
      places.push({
        key: `response ${places.length}`,
        sun: sunAtAngles(table.heading, angles),
        near: offset,
      });
      next += total / RESPONSE_PLACES;
    }
  }
  return places;
}

function caughtOf({ shares }: Node): number {
  let sum = 0;
  for (let part = 0; part < PARTS; part++) sum += shares[part * SHARES.length];
  return sum / PARTS;
}

/**
 * @returns one ratio for each scene, the first exactly 1
 * @throws StudyStopped, NodeFailure
 */
export async function caughtRatios(options: ResponseOptions): Promise<readonly Ratio[]> {
  const places = placesOf(options.table);
  if (places.length === 0) return options.scenes.map(() => ({ value: 1, std_err: 0 }));
  const caught: number[][] = [];
  for (const scene of options.scenes) caught.push(await traceAll(options, scene, places));
  const [base] = caught;
  return caught.map((own, index) => (index === 0 ? { value: 1, std_err: 0 } : ratioOf(own, base)));
}

/** Places are drawn in proportion to the light caught, so the year's ratio is the mean of the places' ratios. */
function ratioOf(own: readonly number[], base: readonly number[]): Ratio {
  const ratios = own.flatMap((value, i) => (base[i] > 0 ? [value / base[i]] : []));
  const { value, std_err } = meanEstimate(ratios);
  return { value, std_err };
}

async function traceAll(
  options: ResponseOptions,
  scene: Scene,
  places: readonly NodePlace[],
): Promise<number[]> {
  const { pool, stop, mode, seed, rays, searchRays } = options;
  const task = { scene: withoutMaps(scene), mode, seed, rays, searchRays, perReceiver: false };
  const messages: NodePlace[][] = [];
  for (let i = 0; i < places.length; i += NODES_PER_MESSAGE)
    messages.push(places.slice(i, i + NODES_PER_MESSAGE));
  const answers: number[][] = new Array(messages.length);
  const tasks = messages.map((nodes) => ({ ...task, nodes }));
  await doAll(tasks, {
    pool,
    stop,
    onReply: ({ nodes }, index) => {
      answers[index] = nodes.map(caughtOf);
    },
  });
  return answers.flat();
}
