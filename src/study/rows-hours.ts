/** What rows and dishes take from one another, by hour and month, read from an optics table. */
import { SHARES, type ShareName } from '../result/shares.js';
import type { Scene } from '../scene/types.js';
import { dishEnds, receiverFromDish } from './moving.js';
import { type OpticsTable, sumByBucket } from './optics-table.js';
import { nodeKey, nodesOf, weightsAt } from './optics-table-cells.js';
import { PARTS } from './optics-table-node.js';
import { meanOfParts, type SeasonOptions, studySeason } from './season.js';
import type { SeasonSums } from './season-types.js';

export interface HourTable {
  /** Hours of the day with light in them. */
  readonly hours: readonly number[];
  /** Entry [month][hour], shares of DNI x mirror area; null where the sun is not up. */
  readonly shading: readonly (readonly (number | null)[])[];
  readonly blocking: readonly (readonly (number | null)[])[];
  readonly caught: readonly (readonly (number | null)[])[];
  readonly total: SeasonSums;
  /** Null where no dish has a receiver of its own. */
  readonly reach: Reach | null;
}

/** How far receivers must go along the row, either way, for nearly all that they can catch. */
export interface Reach {
  /** Share of the year's energy that is caught with the receivers no farther than this from where the scene has them. */
  readonly share: number;
  readonly along_m: number;
  /** How far the receiver of the last dish then stands beyond the end of the row's mirrors; 0: never. */
  readonly overhang_m: number;
}

/** The last hundredth is caught with the sun so low that receivers would go metres for it. */
const REACH_SHARE = 0.99;

/**
 * @param share of the energy caught
 * @returns metres from where the scene has the receivers, either way
 */
export function reachAlong({ cloud, leaves, nodes }: OpticsTable, share: number): number {
  const caught: { along: number; energy: number }[] = [];
  for (const leaf of leaves) {
    const own = nodesOf(leaf).map(([x, y]) => nodes.get(nodeKey(x, y))!);
    const shares = own.map(({ shares: parts }) => meanOfParts(parts, 'caught').value);
    for (const member of leaf.members) {
      const weights = weightsAt(leaf, cloud.longitudinal[member], cloud.profile[member], false);
      // Receivers of nodes that catch nothing stand anywhere.
      let energy = 0;
      let along = 0;
      own.forEach(({ offset }, i) => {
        energy += weights[i] * shares[i];
        along += weights[i] * shares[i] * Math.abs(offset[0]);
      });
      if (energy > 0) caught.push({ along: along / energy, energy: energy * cloud.energy[member] });
    }
  }
  caught.sort((a, b) => a.along - b.along);
  const wanted = share * caught.reduce((sum, { energy }) => sum + energy, 0);
  let passed = 0;
  for (const { along, energy } of caught) {
    passed += energy;
    if (passed >= wanted) return along;
  }
  return 0;
}

function reachOf(scene: Scene, table: OpticsTable): Reach | null {
  const place = receiverFromDish(scene);
  const ends = dishEnds(scene);
  if (place === null || ends === null) return null;
  const along_m = reachAlong(table, REACH_SHARE);
  return {
    share: REACH_SHARE,
    along_m,
    overhang_m: Math.max(0, Math.abs(place[0]) + along_m - ends[1]),
  };
}

/**
 * @param options `hourOf`: hour of the day of an instant, 0 to 23
 * @throws what `studySeason` throws
 */
export async function studyHours(
  options: SeasonOptions & { readonly hourOf: (time: number) => number },
): Promise<HourTable> {
  const { table, total } = await studySeason(options);
  const points = options.season.points.filter(({ energy }) => energy > 0);
  const bucketOf = Int32Array.from(points, ({ month, time }) => 24 * month + options.hourOf(time));
  const sums = sumByBucket(table, bucketOf, 12 * 24);
  const energy = new Float64Array(12 * 24);
  points.forEach((point, i) => {
    energy[bucketOf[i]] += point.energy;
  });
  const hours = Array.from({ length: 24 }, (_, hour) => hour).filter((hour) =>
    Array.from({ length: 12 }, (_, month) => energy[24 * month + hour]).some((value) => value > 0),
  );
  const length = table.groups * PARTS * SHARES.length;
  const of = (share: ShareName) =>
    Array.from({ length: 12 }, (_, month) =>
      hours.map((hour) => {
        const bucket = 24 * month + hour;
        if (!(energy[bucket] > 0)) return null;
        const parts = sums.subarray(bucket * length, (bucket + 1) * length);
        return meanOfParts(parts, share).value / energy[bucket];
      }),
    );
  return {
    hours,
    shading: of('shading'),
    blocking: of('blocking'),
    caught: of('caught'),
    total,
    reach: reachOf(options.scene, table),
  };
}
