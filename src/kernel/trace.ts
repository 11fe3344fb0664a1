import type { PreparedView } from './layout.js';

/**
 * Traces one batch and adds it to `tally`.
 * @param log2Rays per facet: 2^k rays, or -1 for a facet that is not traced
 * @param shifts random shift of each facet's lattice, DIMENSIONS 32-bit values per facet
 * @param batchKey 32 bits that tell this batch from every other one of this seed (later bounces draw from it)
 */
export function traceBatch(
  _view: PreparedView,
  _log2Rays: Int32Array,
  _shifts: Int32Array,
  _batchKey: number,
  _tally: Float64Array,
): void {
  throw new Error('not yet');
}
