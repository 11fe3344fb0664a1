/**
 * 32-bit hash of (key, ray, bounce, dimension), used only for the random numbers of bounces after the first,
 * where a ray's own lattice point is used up. Each word is mixed in by the block step of MurmurHash3 (x86, 32 bits) and the
 * whole is closed by its finaliser (Appleby, public domain), so nearby arguments give unrelated results.
 *
 * @param key 32-bit integer that stands for seed and batch
 * @param ray index of the ray in its batch
 * @param bounce 1 for the second mirror hit, and so on
 * @param dimension as in lattice.ts
 * @returns signed 32-bit integer
 */
export function hash32(key: number, ray: number, bounce: number, dimension: number): number {
  let state = key | 0;
  let word = Math.imul(ray, 0xcc9e2d51);
  state ^= Math.imul((word << 15) | (word >>> 17), 0x1b873593);
  state = (Math.imul((state << 13) | (state >>> 19), 5) + 0xe6546b64) | 0;
  // Bounce and dimension share a word: both stay far below 2^16.
  word = Math.imul((bounce << 16) | dimension, 0xcc9e2d51);
  state ^= Math.imul((word << 15) | (word >>> 17), 0x1b873593);
  state = (Math.imul((state << 13) | (state >>> 19), 5) + 0xe6546b64) | 0;
  state = Math.imul(state ^ (state >>> 16), 0x85ebca6b);
  state = Math.imul(state ^ (state >>> 13), 0xc2b2ae35);
  return state ^ (state >>> 16);
}
