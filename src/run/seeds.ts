/**
 * Random numbers from a seed text; the only place that knows the generator. A stream depends on (seed, batch, facet) and on
 * nothing else, so a batch is the same in any thread, in any order, traced once or twice.
 */
import seedrandom from 'seedrandom';
import { DIMENSIONS } from '../kernel/lattice.js';

/**
 * Random shifts of the facets' lattices in one batch.
 * @param seed any text
 * @param batch from 0
 * @param facets facets of the scene, those without light included
 * @returns DIMENSIONS 32-bit integers per facet, over the whole range: a shift of the unit interval in steps of 2^-32
 */
export function latticeShifts(seed: string, batch: number, facets: number): Int32Array {
  const shifts = new Int32Array(facets * DIMENSIONS);
  for (let facet = 0; facet < facets; facet++) {
    const stream = seedrandom.alea(`${seed}/${batch}/${facet}`);
    for (let dimension = 0; dimension < DIMENSIONS; dimension++) {
      shifts[facet * DIMENSIONS + dimension] = stream.int32();
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
