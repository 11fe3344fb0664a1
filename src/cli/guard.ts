/** Refuses runs whose tallies would not fit into memory, before anything is allocated. */
import type { PreparedScene } from '../prepare.js';
import { tallyBytes } from '../run/plan.js';
import type { Run } from '../run/types.js';
import { CommandFailure } from './failure.js';

/** Most bytes of tallies: beyond this an ordinary machine starts to swap. */
export const MOST_TALLY_BYTES = 4 * 2 ** 30;

function gigabytes(bytes: number): string {
  return `${(bytes / 2 ** 30).toFixed(1)} GB`;
}

/** @throws CommandFailure where the tallies of a run with so many workers would be too large */
export function refuseHugeTallies(prepared: PreparedScene, workers: number): void {
  const bytes = tallyBytes(prepared.layout, workers);
  if (bytes <= MOST_TALLY_BYTES) return;
  const { receivers } = prepared.layout;
  const cells = receivers.reduce((sum, { nu, nv }) => sum + nu * nv, 0);
  const largest = receivers.reduce((a, b) => (b.nu * b.nv > a.nu * a.nv ? b : a));
  throw new CommandFailure(
    `the flux maps have ${cells} cells at ${receivers.length} receivers (up to ${largest.nu} by ${largest.nv}), which would ` +
      `take ${gigabytes(bytes)} of memory, more than the ${gigabytes(MOST_TALLY_BYTES)} allowed; give the receivers a smaller ` +
      'number of "cells", or use fewer workers',
  );
}

/** @returns the run, preceded by the check */
export function guarded(run: Run, workers: number): Run {
  return (prepared, options) => {
    refuseHugeTallies(prepared, workers);
    return run(prepared, options);
  };
}
