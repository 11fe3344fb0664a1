import { describe, expect, it } from 'vitest';
import { DIMENSIONS, latticePoint } from '../../src/kernel/lattice.js';
import { batchKey, latticeShifts } from '../../src/run/seeds.js';

const FACETS = 420;
const BATCHES = 64;
const EVEN_BATCHES = 26_880;
const LOG2_RAYS = 5;

const even = (facets: number, log2Rays = LOG2_RAYS) => new Int32Array(facets).fill(log2Rays);

/** Number of streams (runs of DIMENSIONS shifts) that another stream has too. */
function duplicates(streams: readonly string[]): number {
  return streams.length - new Set(streams).size;
}

function rowsOf(shifts: Int32Array): Int32Array[] {
  return Array.from({ length: shifts.length / DIMENSIONS }, (_, facet) =>
    shifts.subarray(facet * DIMENSIONS, (facet + 1) * DIMENSIONS),
  );
}

function streamsOf(seed: string, batch: number): string[] {
  return rowsOf(latticeShifts(seed, batch, even(FACETS))).map((row) => row.join(','));
}

/** All points of the facets `from` to `to`, each as text, in rising order. */
function pointsOf(shifts: Int32Array, from: number, to: number, log2Rays: number): string[] {
  const point = new Int32Array(DIMENSIONS);
  return rowsOf(shifts)
    .slice(from, to)
    .flatMap((row) =>
      Array.from({ length: 2 ** log2Rays }, (_, index) =>
        latticePoint(point, index, log2Rays, row).join(','),
      ),
    )
    .sort();
}

/** Largest |z| among the correlations of each dimension between one stream and the next. */
function neighbourCorrelation(rows: readonly Int32Array[]): number {
  const unit = (shift: number) => shift / 2 ** 32;
  return Math.max(
    ...Array.from({ length: DIMENSIONS }, (_, dimension) => {
      let sum = 0;
      for (let i = 0; i + 1 < rows.length; i++)
        sum += unit(rows[i][dimension]) * unit(rows[i + 1][dimension]);
      // Each factor has variance 1/12.
      return Math.abs((12 * sum) / Math.sqrt(rows.length - 1));
    }),
  );
}

describe('latticeShifts', () => {
  it('is a function of seed, batch, facet and its number of rays alone', () => {
    expect(latticeShifts('a', 3, even(7))).toEqual(latticeShifts('a', 3, even(7)));
    // More facets, other facets' rays and facets without light leave a facet's shift as it was.
    const mixed = even(20);
    mixed.set([-1, 3, 9], 4);
    const rows = rowsOf(latticeShifts('a', 3, mixed));
    rowsOf(latticeShifts('a', 3, even(7))).forEach((row, facet) => {
      if (mixed[facet] === LOG2_RAYS) expect(rows[facet]).toEqual(row);
    });
    expect(latticeShifts('b', 3, even(7))).not.toEqual(latticeShifts('a', 3, even(7)));
    expect(latticeShifts('a', 4, even(7))).not.toEqual(latticeShifts('a', 3, even(7)));
  });

  it.each([
    [0, 8],
    [8, 16],
    [24, 28],
    [0, 64],
  ])('facets %d to %d are together one lattice, none of its points twice', (from, to) => {
    const shifts = latticeShifts('one', 2, even(64));
    const points = pointsOf(shifts, from, to, LOG2_RAYS);
    expect(new Set(points).size).toBe(points.length);
    const together = LOG2_RAYS + Math.log2(to - from);
    const start = shifts.slice(from * DIMENSIONS, (from + 1) * DIMENSIONS);
    expect(points).toEqual(pointsOf(start, 0, 1, together));
    // Sabotage: neighbours that are not a whole block are no lattice.
    const crooked = pointsOf(shifts, from + 1, to + 1, LOG2_RAYS);
    const crookedStart = shifts.slice((from + 1) * DIMENSIONS, (from + 2) * DIMENSIONS);
    expect(crooked).not.toEqual(pointsOf(crookedStart, 0, 1, together));
  });

  it('has no stream twice and no empty stream, over facets, batches and like seeds', () => {
    const streams = ['1', '11', '1/1', '', 'row'].flatMap((seed) =>
      Array.from({ length: BATCHES }, (_, batch) => streamsOf(seed, batch)).flat(),
    );
    expect(streams).toHaveLength(5 * BATCHES * FACETS);
    expect(duplicates(streams)).toBe(0);
    expect(streams).not.toContain(Array(DIMENSIONS).fill(0).join(','));
    // Sabotage: a batch taken twice is seen.
    expect(duplicates([...streams, ...streamsOf('row', 5)])).toBe(FACETS);
  });

  it('fills the range evenly: chi-square over 64 cells of every dimension', () => {
    const chiSquare = (bend: (unit: number) => number) => {
      const cells = new Float64Array(64 * DIMENSIONS);
      for (let batch = 0; batch < EVEN_BATCHES; batch++) {
        latticeShifts('even', batch, even(1, 0)).forEach((shift, index) => {
          cells[(index % DIMENSIONS) * 64 + Math.floor(64 * bend((shift >>> 0) / 2 ** 32))]++;
        });
      }
      const expected = EVEN_BATCHES / 64;
      return cells.reduce((sum, count) => sum + (count - expected) ** 2 / expected, 0);
    };
    // 9 x 63 degrees of freedom: mean 567, standard deviation sqrt(2 x 567) = 33.7; 4 of them either way.
    expect(Math.abs(chiSquare((unit) => unit) - 567)).toBeLessThan(4 * 33.7);
    // Sabotage: one part in 50 of the range is moved.
    expect(chiSquare((unit) => (unit > 0.98 ? 0.5 * unit : unit)) - 567).toBeGreaterThan(4 * 33.7);
  });

  it('does not tie neighbouring batches together', () => {
    const byBatch = Array.from({ length: 20000 }, (_, batch) => latticeShifts('ties', batch, [0]));
    // The largest of nine standard normal values; 4 is passed once in 1700 seeds.
    expect(neighbourCorrelation(byBatch)).toBeLessThan(4);
    // Sabotage: a tenth of each batch's shift is carried over to the next.
    const tied = byBatch.map((row, i) =>
      row.map((shift, dimension) => 0.9 * shift + 0.1 * byBatch[Math.max(0, i - 1)][dimension]),
    );
    expect(neighbourCorrelation(tied)).toBeGreaterThan(4);
  });
});

describe('batchKey', () => {
  it('differs for every batch of a seed, and between seeds', () => {
    const keys = new Set<number>();
    for (let batch = 0; batch < 200_000; batch++) keys.add(batchKey('key', batch));
    expect(keys.size).toBe(200_000);
    expect(batchKey('key', 0)).not.toBe(batchKey('other', 0));
    expect(Number.isInteger(batchKey('key', 7)) && batchKey('key', 7) === (batchKey('key', 7) | 0)).toBe(
      true,
    );
  });
});
