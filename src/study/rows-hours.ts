/** What rows and dishes take from one another, by hour and month, read from an optics table. */
import { SHARES, type ShareName } from '../result/shares.js';
import { sumByBucket } from './optics-table.js';
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
  return { hours, shading: of('shading'), blocking: of('blocking'), caught: of('caught'), total };
}
