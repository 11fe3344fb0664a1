/**
 * The plane of the two sun angles in square cells, halved where the optics bend. A cell has 3 x 3 nodes at its corners, the middles
 * of its sides and its middle. Everything is counted in whole units, so that cells of all sizes share their nodes.
 */
import type { RowAngles } from './optics-table-angles.js';

/** Units of 15 degrees / 64. */
const UNIT = Math.PI / 12 / 64;
/** Side of the largest cells, 30 degrees, in units; the smallest that may still be halved. */
export const LARGEST = 128;
export const SMALLEST = 4;

/** Sun positions with what they stand for; angles in units, longitudinal from -384, profile from 0. */
export interface SunCloud {
  readonly longitudinal: Float64Array;
  readonly profile: Float64Array;
  /** Beam energy, J per m2 square to the sun. */
  readonly energy: Float64Array;
}

export interface Cell {
  /** Low corner and side, in units. */
  readonly x: number;
  readonly y: number;
  readonly side: number;
  /** Positions of the cloud that lie in it. */
  readonly members: Int32Array;
  readonly energy: number;
}

export function cloudOf(angles: readonly RowAngles[], energy: Float64Array, mirrored: boolean): SunCloud {
  const longitudinal = Float64Array.from(
    angles,
    (a) => (mirrored ? Math.abs(a.longitudinal) : a.longitudinal) / UNIT,
  );
  return { longitudinal, profile: Float64Array.from(angles, (a) => a.profile / UNIT), energy };
}

/** @returns angles of a node given in units */
export function anglesAt(x: number, y: number): RowAngles {
  return { longitudinal: x * UNIT, profile: y * UNIT };
}

export function nodeKey(x: number, y: number): string {
  return `${x},${y}`;
}

function cellAt(cloud: SunCloud, x: number, y: number, side: number, members: Int32Array): Cell {
  let energy = 0;
  for (const member of members) energy += cloud.energy[member];
  return { x, y, side, members, energy };
}

/** The largest cells that hold sun positions, in a fixed order. */
export function rootCells(cloud: SunCloud): Cell[] {
  const found = new Map<string, { x: number; y: number; members: number[] }>();
  for (let i = 0; i < cloud.energy.length; i++) {
    const x = Math.floor(cloud.longitudinal[i] / LARGEST) * LARGEST;
    const y = Math.floor(cloud.profile[i] / LARGEST) * LARGEST;
    const key = nodeKey(x, y);
    let entry = found.get(key);
    if (entry === undefined) {
      entry = { x, y, members: [] };
      found.set(key, entry);
    }
    entry.members.push(i);
  }
  return [...found.values()]
    .sort((a, b) => a.x - b.x || a.y - b.y)
    .map(({ x, y, members }) => cellAt(cloud, x, y, LARGEST, Int32Array.from(members)));
}

/** The quarters of a cell that hold sun positions. */
export function quartersOf(cloud: SunCloud, cell: Cell): Cell[] {
  const half = cell.side / 2;
  const parts: number[][] = [[], [], [], []];
  for (const member of cell.members) {
    const right = cloud.longitudinal[member] >= cell.x + half ? 1 : 0;
    const upper = cloud.profile[member] >= cell.y + half ? 2 : 0;
    parts[right + upper].push(member);
  }
  return parts.flatMap((members, part) =>
    members.length === 0
      ? []
      : [
          cellAt(
            cloud,
            cell.x + (part & 1) * half,
            cell.y + (part >> 1) * half,
            half,
            Int32Array.from(members),
          ),
        ],
  );
}

/** The 9 nodes of a cell, x fastest. */
export function nodesOf(cell: Cell): readonly (readonly [number, number])[] {
  const half = cell.side / 2;
  return Array.from({ length: 9 }, (_, i) => [cell.x + (i % 3) * half, cell.y + Math.floor(i / 3) * half]);
}

/** Middle of the quarter with most energy: where a cell is put to the test. It would be a node if the cell were halved. */
export function testPlace(cloud: SunCloud, cell: Cell): readonly [number, number] {
  const quarters = quartersOf(cloud, cell);
  const best = quarters.reduce((a, b) => (b.energy > a.energy ? b : a));
  return [best.x + best.side / 2, best.y + best.side / 2];
}

function parabola(t: number): readonly [number, number, number] {
  return [(2 * t - 1) * (t - 1), 4 * t * (1 - t), t * (2 * t - 1)];
}

function broken(t: number): readonly [number, number, number] {
  return t < 0.5 ? [1 - 2 * t, 2 * t, 0] : [0, 2 - 2 * t, 2 * t - 1];
}

/**
 * Weights of a cell's nodes at a place inside it; they sum to 1, so that shares which sum to 1 at the nodes do so everywhere.
 * @param smooth parabolas through the three nodes each way; else straight lines between nodes, which never leave their range
 */
export function weightsAt(cell: Cell, x: number, y: number, smooth: boolean): Float64Array {
  const form = smooth ? parabola : broken;
  const across = form((x - cell.x) / cell.side);
  const up = form((y - cell.y) / cell.side);
  const weights = new Float64Array(9);
  for (let i = 0; i < 9; i++) weights[i] = across[i % 3] * up[Math.floor(i / 3)];
  return weights;
}
