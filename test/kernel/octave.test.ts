import { describe, expect, it } from 'vitest';
import {
  buildOctaveTable,
  OCTAVE_BITS,
  OCTAVE_TABLE_LENGTH,
  octaveCellEnd,
  octaveLookup,
} from '../../src/kernel/octave.js';
import { testBits } from '../support/chi-square.js';

const tailOf = (v: number): number => (v + 0.5) / 2 ** 31;

describe('octave table', () => {
  it('gives a straight line back exactly, at the ends, at powers of two and between', () => {
    const table = buildOctaveTable((q) => q);
    const next = testBits(1);
    const integers = [0, 1, 2, 3, 4, 5, 127, 128, 129, 255, 256, 257, 2 ** 31 - 1];
    for (let power = 2; power < 31; power++) integers.push(2 ** power - 1, 2 ** power, 2 ** power + 1);
    for (let index = 0; index < 10_000; index++) integers.push((next() >>> 1) >>> (index % 31));
    for (const v of integers) {
      // The last cell ends at q = 1 instead of half a step beyond.
      expect(Math.abs(octaveLookup(table, v) - tailOf(v))).toBeLessThanOrEqual(2 ** -31 / 2 + 1e-16);
      if (v < 2 ** 30) expect(octaveLookup(table, v)).toBeCloseTo(tailOf(v), 15);
    }
    expect(table.length).toBe(OCTAVE_TABLE_LENGTH);
  });

  it('keeps an exponential tail to the same error in every octave', () => {
    // Chord error of -ln q over a cell of relative width h is h^2 / 8 at most.
    const bound = 2 ** (-2 * OCTAVE_BITS) / 8;
    const table = buildOctaveTable((q) => -Math.log(q));
    const next = testBits(2);
    for (let index = 0; index < 20_000; index++) {
      const v = (next() >>> 1) >>> (index % 31);
      const error = octaveLookup(table, v) + Math.log(tailOf(v));
      expect(error).toBeGreaterThan(-1e-9);
      expect(error).toBeLessThan(bound * 1.01);
    }
  });

  it('sabotage: a table whose cells are swapped with their neighbours fails that bound', () => {
    const table = buildOctaveTable((q) => -Math.log(q));
    const shifted = table.map((_value, index) => table[(index + 2) % table.length]);
    expect(Math.abs(octaveLookup(shifted, 123_456_789) + Math.log(tailOf(123_456_789)))).toBeGreaterThan(
      1e-3,
    );
  });

  it('holds the exact value of every single integer in the far tail', () => {
    const table = buildOctaveTable((q) => -Math.log(q));
    for (let v = 0; v < 2 ** OCTAVE_BITS; v++) expect(octaveLookup(table, v)).toBe(-Math.log(tailOf(v)));
  });

  it('refuses an inverse that is infinite in reach', () => {
    expect(() => buildOctaveTable((q) => 1 / (1 - q))).toThrow(RangeError);
  });

  it('finds the edge between cells at or above a tail probability', () => {
    expect(octaveCellEnd(0.5)).toBe(0.5);
    expect(octaveCellEnd(0.5001)).toBe(0.5 + 0.5 / 2 ** OCTAVE_BITS);
    expect(octaveCellEnd(0.99999)).toBe(1);
    const end = octaveCellEnd(0.05);
    expect(end).toBeGreaterThan(0.05);
    expect(end).toBeLessThan(0.05 * (1 + 2 ** -OCTAVE_BITS));
  });
});
