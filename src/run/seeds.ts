/**
 * Random numbers from a seed text; the only place that knows the generator. A stream depends on (seed, batch) and on nothing
 * else, so a batch is the same in any thread, in any order, traced once or twice.
 */
import seedrandom from 'seedrandom';
import { DIMENSIONS, latticeOffset } from '../kernel/lattice.js';

/**
 * Shifts of the facets' lattices in one batch: a random one that all share, and each facet's own place between the others'
 * points (see `latticeOffset`). So the facets' rays together are as even as one large lattice, and each facet's shift by itself is
 * uniform.
 * @param seed any text
 * @param batch from 0
 * @param log2Rays per facet: its lattice has 2^k points; -1 for a facet that is not traced
 * @returns DIMENSIONS 32-bit integers per facet, over the whole range: a shift of the unit interval in steps of 2^-32
 */
export function latticeShifts(seed: string, batch: number, log2Rays: ArrayLike<number>): Int32Array {
  const stream = seedrandom.alea(`${seed}/${batch}`);
  const shared = Array.from({ length: DIMENSIONS }, () => stream.int32());
  const shifts = new Int32Array(log2Rays.length * DIMENSIONS);
  for (let facet = 0; facet < log2Rays.length; facet++) {
    if (log2Rays[facet] < 0) continue;
    for (let dimension = 0; dimension < DIMENSIONS; dimension++) {
      shifts[facet * DIMENSIONS + dimension] =
        shared[dimension] + latticeOffset(dimension, facet, log2Rays[facet]);
    }
  }
  return shifts;
}

/**
 * A 32-bit integer that tells a batch from every other batch of its seed: an odd step and the finaliser of MurmurHash3
 * (Appleby, public domain) are one-to-one, so two batches of a seed never share a key.
 * @param seed any text
 * @param batch from 0, below 2^32
 */
export function batchKey(seed: string, batch: number): number {
  let key = (seedrandom.alea(`${seed}/key`).int32() + Math.imul(batch, 0x9e3779b1)) | 0;
  key = Math.imul(key ^ (key >>> 16), 0x85ebca6b);
  key = Math.imul(key ^ (key >>> 13), 0xc2b2ae35);
  return key ^ (key >>> 16);
}

/** @returns numbers uniform on [0, 1), the same for the same text; for chance outside of rays (uncertain prices, rain) */
export function uniformStream(seed: string): () => number {
  const stream = seedrandom.alea(seed);
  return () => stream.double();
}
