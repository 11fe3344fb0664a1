/**
 * The optics of a scene over the sun positions of a year: traced at nodes, interpolated between, refined where the year's light
 * would notice, then put to the test at fresh places. Everything after it (months, days, settings) is a sum, not a trace.
 */
import { SHARES } from '../result/shares.js';
import type { TaskPool } from '../run/pool.js';
import { studentT975 } from '../run/statistics.js';
import type { Scene, Vec3 } from '../scene/types.js';
import type { Offset } from './moving.js';
import { rowAngles, sunAtAngles, tableHeading } from './optics-table-angles.js';
import {
  anglesAt,
  type Cell,
  cloudOf,
  nodeKey,
  nodesOf,
  quartersOf,
  rootCells,
  SMALLEST,
  type SunCloud,
  testPlace,
  weightsAt,
} from './optics-table-cells.js';
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

export interface TableOptions {
  readonly scene: Scene;
  readonly mode: ReceiverMode;
  /** Towards the sun, unit vectors in the world frame, and the beam energy that each stands for, J per m2 square to the sun. */
  readonly suns: readonly Vec3[];
  readonly energy: Float64Array;
  /** Whether mornings stand for afternoons: see `isMirrored`. */
  readonly mirrored: boolean;
  readonly seed: string;
  /** About so many rays for each node; for finding the best place of the receivers. */
  readonly rays: number;
  readonly searchRays: number;
  /** Wanted relative error of the energy caught in all. */
  readonly tolerance: number;
  readonly mostNodes: number;
  /** Also the shares of each receiver by itself; then mornings may not stand for afternoons. */
  readonly perReceiver?: boolean;
  /** Bins of the intercept curve: see `NodeTask`. */
  readonly openings?: readonly number[];
  readonly pool: TaskPool<NodeTask, NodeReply>;
  readonly stop?: { readonly requested: boolean };
  readonly onNodes?: (traced: number) => void;
}

/** A cell as it is used: with parabolas, or with straight lines where those would overshoot. */
export interface Leaf extends Cell {
  readonly smooth: boolean;
}

/** What fresh traces at places drawn in proportion to the year's energy say of the table, relative to the energy caught. */
export interface TableCheck {
  readonly places: number;
  /** Traced minus interpolated, and its standard error (the noise of the fresh traces included). */
  readonly bias: number;
  readonly std_err: number;
  /** 97.5 % sure to be above the error's size: |bias| and Student's t times its error. */
  readonly bound: number;
}

export interface OpticsTable {
  readonly heading: number;
  readonly mirrored: boolean;
  readonly groups: number;
  readonly nodes: ReadonlyMap<string, Node>;
  readonly leaves: readonly Leaf[];
  readonly cloud: SunCloud;
  readonly check: TableCheck;
  /** Nodes traced, those of the check included. */
  readonly traced: number;
  readonly toleranceReached: boolean;
}

/** Places of a check. */
const CHECKED = 64;
/**
 * A check has so many times the rays of a node, and for the search of places: its own noise must not pass for an error of the table,
 * and places that few rays found a little beside the best must not pass unseen.
 */
const CHECK_RAYS = 2;
const CHECK_SEARCH_RAYS = 4;
/** A parabola may dip so far below nothing, as a share of DNI x mirror area, where a loss begins. */
const LARGEST_DIP = 1e-3;
/** So many times the rays, where it is noise that spoils the table. */
const SHARPER = 4;
/** Rounds of refining and checking, each with half the doubt of the one before. */
const MOST_ROUNDS = 5;
const NODES_PER_MESSAGE = 4;

/**
 * @throws StudyStopped, NodeFailure (what a node throws: GeometryError, NoLeavingLightError), RangeError for no sun at all
 */
export async function buildOpticsTable(options: TableOptions): Promise<OpticsTable> {
  const { suns, energy, perReceiver = false } = options;
  if (suns.length === 0) throw new RangeError('the sun is never up: there is nothing to make a table of');
  const heading = tableHeading(options.scene);
  const mirrored = options.mirrored && !perReceiver;
  const cloud = cloudOf(
    suns.map((sun) => rowAngles(heading, sun)),
    energy,
    mirrored,
  );
  const grower = new Grower(options, heading, cloud);
  await grower.begin();
  let target = options.tolerance;
  let check: TableCheck;
  for (let round = 0; ; round++) {
    await grower.refine(target);
    check = await grower.check();
    // Often it is the check itself that is not yet sure enough: more places cost less than more cells.
    if (check.bound > options.tolerance && Math.abs(check.bias) < options.tolerance / 2)
      check = await grower.check();
    if (check.bound <= options.tolerance || round === MOST_ROUNDS || grower.full) break;
    target /= 2;
    if (grower.certain(target)) await grower.sharpen();
  }
  const { leaves, nodes, traced } = grower;
  return {
    heading,
    mirrored,
    groups: grower.groups,
    nodes,
    leaves,
    cloud,
    check,
    traced,
    toleranceReached: check.bound <= options.tolerance,
  };
}

interface Judged extends Leaf {
  /** Energy that the cell may have wrong, by its test place, noise taken off; J per m2 of mirror. */
  readonly doubt: number;
}

/** A table in the making. Each wave of nodes hangs on the waves before it alone, so threads cannot change it. */
class Grower {
  readonly nodes = new Map<string, Node>();
  leaves: readonly Judged[] = [];
  traced = 0;
  groups = 1;
  #task: Omit<NodeTask, 'nodes'>;
  #draws = 0;
  /** Of all checks since the table was last changed. */
  #differences: number[] = [];

  constructor(
    readonly options: TableOptions,
    readonly heading: number,
    readonly cloud: SunCloud,
  ) {
    const { mode, seed, rays, searchRays, perReceiver = false, openings = [] } = options;
    const scene = withoutMaps(options.scene, openings.length > 0);
    this.#task = { scene, mode, seed, rays, searchRays, perReceiver, openings };
  }

  get full(): boolean {
    return this.traced >= this.options.mostNodes;
  }

  /** The largest cells, their receivers looked for everywhere; then all of them halved, twice where receivers stand. */
  async begin(): Promise<void> {
    const roots = rootCells(this.cloud);
    await this.#traceAt(roots.flatMap(nodesOf), () => null);
    this.groups = [...this.nodes.values()][0].shares.length / (PARTS * SHARES.length);
    this.leaves = await this.#halve(roots);
    // A receiver that stands sees its own mirrors' light for an hour or less: coarse cells could miss it altogether.
    if (this.options.mode.kind === 'held') this.leaves = await this.#halve(this.leaves);
  }

  /** Halves the cells most in doubt until what is left of doubt is below a part of the energy caught. */
  async refine(target: number): Promise<void> {
    while (!this.full) {
      const limit = target * this.#caught();
      let doubt = this.leaves.reduce((sum, leaf) => sum + leaf.doubt, 0);
      if (doubt <= limit) return;
      const worst = new Set<Judged>();
      for (const leaf of [...this.leaves].sort((a, b) => b.doubt - a.doubt)) {
        if (doubt <= 0.7 * limit || this.traced + 12 * worst.size > this.options.mostNodes) break;
        if (leaf.side <= SMALLEST || leaf.doubt === 0) continue;
        worst.add(leaf);
        doubt -= leaf.doubt;
      }
      if (worst.size === 0) return;
      this.#differences = [];
      const made = await this.#halve([...worst]);
      this.leaves = [...this.leaves.filter((leaf) => !worst.has(leaf)), ...made].sort(
        (a, b) => a.x - b.x || a.y - b.y,
      );
    }
  }

  /** Whether more cells would not help: what is still wrong is the noise of the rays. */
  certain(target: number): boolean {
    const open = this.leaves.filter(({ side }) => side > SMALLEST);
    return open.reduce((sum, leaf) => sum + leaf.doubt, 0) <= target * this.#caught();
  }

  /** Traces the nodes that catch anything once more, with more rays. */
  async sharpen(): Promise<void> {
    this.#differences = [];
    this.#task = { ...this.#task, rays: SHARPER * this.#task.rays };
    const lit = [...this.nodes].filter(([, node]) => meanCaught(node).value > 0);
    const places = lit.map(([key, { offset }]): NodePlace => {
      const [x, y] = key.split(',').map(Number);
      return { key, sun: sunAtAngles(this.heading, anglesAt(x, y)), near: offset };
    });
    const nodes = await this.#trace(places);
    lit.forEach(([key], i) => {
      this.nodes.set(key, nodes[i]);
    });
    this.leaves = this.leaves.map((leaf) => this.#judge(leaf, testPlace(this.cloud, leaf)));
  }

  /**
   * Fresh traces at sun positions drawn through the cells in their order: half of the chance by the beam's energy, half by the energy
   * caught, as foretold. Each place counts by the inverse of its chance. Cells that fail are in doubt from here on.
   */
  async check(): Promise<TableCheck> {
    const { energy, longitudinal, profile } = this.cloud;
    const candidates = this.leaves.flatMap((leaf) =>
      Array.from(leaf.members, (member) => ({
        leaf,
        member,
        foretold: this.#foretold(leaf, longitudinal[member], profile[member], leaf.smooth),
      })),
    );
    const total = candidates.reduce((sum, { member }) => sum + energy[member], 0);
    const caught = candidates.reduce((sum, { member, foretold }) => sum + energy[member] * foretold.value, 0);
    const chances = candidates.map(({ member, foretold }) => {
      const byCaught = caught > 0 ? Math.max(0, foretold.value) / caught : 1 / total;
      return energy[member] * (0.5 / total + 0.5 * byCaught);
    });
    const all = chances.reduce((sum, chance) => sum + chance, 0);
    const places: number[] = [];
    const draw = this.#draws++;
    // Draws of one table fall between each other (golden section).
    let next = (all * ((0.5 + 0.618034 * draw) % 1)) / CHECKED;
    let passed = 0;
    chances.forEach((chance, i) => {
      passed += chance;
      while (places.length < CHECKED && next < passed) {
        places.push(i);
        next += all / CHECKED;
      }
    });
    const nodes = await this.#trace(
      places.map((i, k): NodePlace => {
        const { member } = candidates[i];
        const [x, y] = [longitudinal[member], profile[member]];
        const sun = sunAtAngles(this.heading, anglesAt(x, y));
        // Looked for everywhere, so that a wrong guess that misled the table does not mislead its check.
        return { key: `check ${draw} ${k}`, sun, near: null };
      }),
      CHECK_RAYS,
      CHECK_SEARCH_RAYS,
    );
    const failed = new Map<Leaf, number>();
    const differences = places.map((i, k) => {
      const { leaf, member, foretold } = candidates[i];
      const traced = meanCaught(nodes[k]);
      const difference = traced.value - foretold.value;
      const doubt = doubtOf(leaf, difference, foretold.variance + traced.variance);
      failed.set(leaf, Math.max(doubt, failed.get(leaf) ?? 0));
      return (difference * energy[member] * all) / chances[i];
    });
    this.leaves = this.leaves.map((leaf) => ({
      ...leaf,
      doubt: Math.max(leaf.doubt, failed.get(leaf) ?? 0),
    }));
    this.#differences.push(...differences);
    const seen = this.#differences;
    const count = seen.length;
    const mean = seen.reduce((sum, d) => sum + d, 0) / count;
    const spread = Math.sqrt(seen.reduce((sum, d) => sum + (d - mean) ** 2, 0) / (count * (count - 1)));
    const scale = caught > 0 ? 1 / caught : 0;
    const bias = mean * scale;
    const std_err = spread * scale;
    return { places: count, bias, std_err, bound: Math.abs(bias) + studentT975(count - 1) * std_err };
  }

  async #halve(cells: readonly Cell[]): Promise<Judged[]> {
    const made = cells.flatMap((parent) =>
      quartersOf(this.cloud, parent).map((cell) => ({ cell, parent, test: testPlace(this.cloud, cell) })),
    );
    const parents = new Map<string, Cell>();
    const wanted: (readonly [number, number])[] = [];
    for (const { cell, parent, test } of made) {
      for (const place of [...nodesOf(cell), test]) {
        const key = nodeKey(...place);
        if (!parents.has(key)) parents.set(key, parent);
        wanted.push(place);
      }
    }
    await this.#traceAt(wanted, (x, y) => this.#placeIn(parents.get(nodeKey(x, y))!, x, y));
    return made.map(({ cell, test }) => this.#judge(cell, test));
  }

  #judge(cell: Cell, [x, y]: readonly [number, number]): Judged {
    const traced = meanCaught(this.nodes.get(nodeKey(x, y))!);
    const curved = this.#foretold(cell, x, y, true);
    const straight = this.#foretold(cell, x, y, false);
    const smooth =
      Math.abs(traced.value - curved.value) <= Math.abs(traced.value - straight.value) &&
      this.#staysInRange(cell);
    const { value, variance } = smooth ? curved : straight;
    return { ...cell, smooth, doubt: doubtOf(cell, traced.value - value, variance + traced.variance) };
  }

  /** Whether parabolas keep what is caught near the range of the nodes, and all else but spill above nothing. */
  #staysInRange(cell: Cell): boolean {
    const nodes = nodesOf(cell).map(([x, y]) => meanShares(this.nodes.get(nodeKey(x, y))!));
    const caught = nodes.map(([share]) => share);
    const low = Math.min(...caught);
    const high = Math.max(...caught);
    const slack = (high - low) / 4;
    for (const member of cell.members) {
      const weights = weightsAt(cell, this.cloud.longitudinal[member], this.cloud.profile[member], true);
      for (let share = 0; share < SHARES.length; share++) {
        let value = 0;
        for (let i = 0; i < 9; i++) value += weights[i] * nodes[i][share];
        // Light of other dishes' mirrors can make spill less than nothing.
        if (SHARES[share] !== 'spill' && value < -LARGEST_DIP) return false;
        if (share === 0 && (value < low - slack || value > high + slack)) return false;
      }
    }
    return true;
  }

  #foretold(cell: Cell, x: number, y: number, smooth: boolean): Estimate {
    const weights = weightsAt(cell, x, y, smooth);
    let value = 0;
    let variance = 0;
    nodesOf(cell).forEach(([nx, ny], i) => {
      const node = meanCaught(this.nodes.get(nodeKey(nx, ny))!);
      value += weights[i] * node.value;
      variance += weights[i] ** 2 * node.variance;
    });
    return { value, variance };
  }

  /** A guess from the nodes about; null where any of them caught nothing, for its receivers stand anywhere. */
  #placeIn(cell: Cell, x: number, y: number): Offset | null {
    const weights = weightsAt(cell, x, y, true);
    const place: [number, number, number] = [0, 0, 0];
    for (const [i, [nx, ny]] of nodesOf(cell).entries()) {
      const node = this.nodes.get(nodeKey(nx, ny))!;
      if (!(meanCaught(node).value > 0)) return null;
      for (let c = 0; c < 3; c++) place[c] += weights[i] * node.offset[c];
    }
    return place;
  }

  /** J per m2 of mirror. */
  #caught(): number {
    let sum = 0;
    for (const leaf of this.leaves) {
      const weights = weightsOfMembers(this.cloud, leaf);
      nodesOf(leaf).forEach(([x, y], i) => {
        sum += weights[i] * meanCaught(this.nodes.get(nodeKey(x, y))!).value;
      });
    }
    return sum;
  }

  async #traceAt(
    places: readonly (readonly [number, number])[],
    nearOf: (x: number, y: number) => Offset | null,
  ): Promise<void> {
    const wanted = new Map<string, NodePlace>();
    for (const [x, y] of places) {
      const key = nodeKey(x, y);
      if (this.nodes.has(key) || wanted.has(key)) continue;
      const sun = sunAtAngles(this.heading, anglesAt(x, y));
      wanted.set(key, { key, sun, near: nearOf(x, y) });
    }
    const asked = [...wanted.values()];
    const nodes = await this.#trace(asked);
    asked.forEach(({ key }, i) => {
      this.nodes.set(key, nodes[i]);
    });
  }

  async #trace(places: readonly NodePlace[], times = 1, searchTimes = 1): Promise<readonly Node[]> {
    const rays = times * this.#task.rays;
    const searchRays = searchTimes * this.#task.searchRays;
    const { pool, stop, onNodes } = this.options;
    const messages: NodePlace[][] = [];
    for (let i = 0; i < places.length; i += NODES_PER_MESSAGE)
      messages.push(places.slice(i, i + NODES_PER_MESSAGE));
    const answers: (readonly Node[])[] = new Array(messages.length);
    const tasks = messages.map((nodes) => ({ ...this.#task, rays, searchRays, nodes }));
    await doAll(tasks, {
      pool,
      stop,
      onReply: ({ nodes }, index) => {
        answers[index] = nodes;
        this.traced += nodes.length;
        onNodes?.(this.traced);
      },
    });
    return answers.flat();
  }
}

/** Energy that a cell may have wrong, by what is wrong at one place, noise taken off. */
function doubtOf({ energy }: Cell, difference: number, variance: number): number {
  return energy * Math.max(0, Math.abs(difference) - Math.sqrt(variance));
}

interface Estimate {
  readonly value: number;
  readonly variance: number;
}

/** Share caught of the whole scene, by the parts of the node. */
function meanCaught({ shares }: Node): Estimate {
  let sum = 0;
  let squares = 0;
  for (let part = 0; part < PARTS; part++) {
    const value = shares[part * SHARES.length];
    sum += value;
    squares += value * value;
  }
  const value = sum / PARTS;
  return { value, variance: Math.max(0, squares / PARTS - value * value) / (PARTS - 1) };
}

function meanShares({ shares }: Node): Float64Array {
  const mean = new Float64Array(SHARES.length);
  for (let i = 0; i < PARTS * SHARES.length; i++) mean[i % SHARES.length] += shares[i] / PARTS;
  return mean;
}

function weightsOfMembers(cloud: SunCloud, leaf: Leaf): Float64Array {
  const sum = new Float64Array(9);
  for (const member of leaf.members) {
    const weights = weightsAt(leaf, cloud.longitudinal[member], cloud.profile[member], leaf.smooth);
    for (let i = 0; i < 9; i++) sum[i] += cloud.energy[member] * weights[i];
  }
  return sum;
}

/**
 * Sums over the sun positions that the table was made of, by buckets (months, days).
 * @param bucketOf of each position; below 0: left out
 * @returns entry [((bucket * groups + group) * PARTS + part) * SHARES.length + share], J per m2 of mirror
 */
export function sumByBucket(table: OpticsTable, bucketOf: Int32Array, buckets: number): Float64Array {
  const { cloud, nodes, leaves, groups } = table;
  const length = groups * PARTS * SHARES.length;
  const sums = new Float64Array(buckets * length);
  for (const leaf of leaves) {
    const byBucket = new Map<number, Float64Array>();
    for (const member of leaf.members) {
      const bucket = bucketOf[member];
      if (bucket < 0) continue;
      let total = byBucket.get(bucket);
      if (total === undefined) {
        total = new Float64Array(9);
        byBucket.set(bucket, total);
      }
      const weights = weightsAt(leaf, cloud.longitudinal[member], cloud.profile[member], leaf.smooth);
      for (let i = 0; i < 9; i++) total[i] += cloud.energy[member] * weights[i];
    }
    const own = nodesOf(leaf).map(([x, y]) => nodes.get(nodeKey(x, y))!.shares);
    for (const [bucket, weights] of byBucket) {
      const base = bucket * length;
      for (let i = 0; i < 9; i++) {
        for (let n = 0; n < length; n++) sums[base + n] += weights[i] * own[i][n];
      }
    }
  }
  return sums;
}
