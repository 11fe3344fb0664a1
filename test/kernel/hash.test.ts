import { describe, expect, it } from 'vitest';
import { hash32 } from '../../src/kernel/hash.js';
import { chiSquare, sidakLevel } from '../support/chi-square.js';

const CELLS = 256;
const DRAWS = 200_000;

/** Smallest p-value over the four bytes of a stream of hashes, and over pairs of neighbours. */
function smallestP(stream: (index: number) => number): { p: number; tests: number } {
  const counts = Array.from({ length: 5 }, () => new Float64Array(CELLS));
  let before = stream(DRAWS);
  for (let index = 0; index < DRAWS; index++) {
    const value = stream(index);
    for (let byte = 0; byte < 4; byte++) counts[byte][(value >>> (8 * byte)) & 255]++;
    counts[4][((before >>> 28) << 4) | (value >>> 28)]++;
    before = value;
  }
  const even = new Float64Array(CELLS).fill(DRAWS / CELLS);
  return { p: Math.min(...counts.map((count) => chiSquare(count, even).pValue)), tests: counts.length };
}

describe('hash for later bounces', () => {
  const streams: [string, (index: number) => number][] = [
    ['rays', (index) => hash32(0, index, 1, 0)],
    ['bounces and dimensions of one ray', (index) => hash32(77, 5, 1 + (index >> 4), index & 15)],
    ['batch keys', (index) => hash32(index, 0, 1, 4)],
    ['rays at one dimension further', (index) => hash32(-123456, index, 2, 5)],
  ];
  const level = sidakLevel(0.01, streams.length * 5);

  it.each(streams)('is uniform over %s', (_name, stream) => {
    expect(smallestP(stream).p).toBeGreaterThan(level);
  });

  it('sabotage: the words added up and left unmixed fail', () => {
    expect(smallestP((index) => Math.imul(index, 0x9e3779b1) ^ (index & 3)).p).toBeLessThan(level);
  });

  it('gives no two equal streams between neighbouring batches, bounces and dimensions', () => {
    const seen = new Set<string>();
    let streamCount = 0;
    for (let key = 0; key < 16; key++) {
      for (let bounce = 1; bounce <= 4; bounce++) {
        for (let dimension = 0; dimension < 9; dimension++) {
          seen.add([0, 1, 2, 3].map((ray) => hash32(key, ray, bounce, dimension)).join());
          streamCount++;
        }
      }
    }
    expect(seen.size).toBe(streamCount);
  });

  it('repeats single values between streams no more often than chance', () => {
    // 2^17 values of 2^32 hold n^2 / 2^33 = 2 equal pairs on average; 12 or more have a chance below 1e-5.
    const count = 2 ** 17;
    const values = new Int32Array(count);
    for (let index = 0; index < count; index++) values[index] = hash32(index >> 15, index & 32767, 1, 6);
    values.sort();
    let equal = 0;
    for (let index = 1; index < count; index++) if (values[index] === values[index - 1]) equal++;
    expect(equal).toBeLessThan(12);
  });

  it('is at home with zeros and gives signed 32-bit integers', () => {
    const value = hash32(0, 0, 0, 0);
    expect(value).toBe(value | 0);
    expect(value).not.toBe(0);
    expect(hash32(0, 0, 0, 0)).toBe(value);
  });
});
