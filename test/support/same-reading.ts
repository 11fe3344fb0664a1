/** How two readings of related scenes compare. */
import { expect } from 'vitest';
import type { GroupReading, Reading } from './scene-drafts.js';

export interface Likeness {
  /** Watts of the second over watts of the first. */
  readonly factor?: number;
  /** Most that watts may differ, as a share of the group's sunlight; 0: bit for bit. Counts are always equal. */
  readonly within: number;
  /** Name in the second of a receiver of the first; null: not compared. */
  readonly named?: (receiver: string) => string | null;
  /** Whether maps are compared cell by cell. Default true. */
  readonly maps?: boolean;
}

const numbersOf = (group: GroupReading, maps: boolean): number[] => [
  ...group.watts,
  group.incident,
  group.absorbed,
  group.strayWatts,
  ...(maps ? group.map : []),
];

/** Largest difference of watts as a share of the group's sunlight; infinite where a count of rays differs. */
export function unlikeness(first: Reading, second: Reading, like: Omit<Likeness, 'within'> = {}): number {
  const { factor = 1, named = (name) => name, maps = true } = like;
  let worst = 0;
  let compared = 0;
  for (const [name, one] of first.groups) {
    const other = named(name);
    if (other === null) continue;
    const two = second.groups.get(other);
    if (two === undefined) throw new Error(`the second scene has no receiver ${other}`);
    compared++;
    const raysDiffer = one.counts.some((count, fate) => count !== two.counts[fate]);
    if (raysDiffer || one.strayRays !== two.strayRays) return Number.POSITIVE_INFINITY;
    const [a, b] = [numbersOf(one, maps), numbersOf(two, maps)];
    const scale = Math.max(one.incident, Number.MIN_VALUE) * factor;
    a.forEach((value, i) => {
      const gap = Math.abs(value * factor - b[i]);
      worst = Math.max(worst, gap === 0 ? 0 : gap / scale);
    });
  }
  if (compared === 0) throw new Error('no receiver was compared');
  return worst;
}

export function expectAlike(first: Reading, second: Reading, like: Likeness): void {
  expect(unlikeness(first, second, like)).toBeLessThanOrEqual(like.within);
}

/** Sum over all groups. */
export function totalOf(reading: Reading, value: (group: GroupReading) => number): number {
  let sum = 0;
  for (const group of reading.groups.values()) sum += value(group);
  return sum;
}
