/** Rays of a batch followed one by one. */
import { viewPrepared } from '../../src/kernel/layout.js';
import { replayRay } from '../../src/kernel/trace.js';
import type { PreparedScene } from '../../src/prepare.js';
import { batchKey, latticeShifts } from '../../src/run/seeds.js';
import type { Vec3 } from '../../src/scene/types.js';

export interface Step {
  readonly event: number;
  readonly primitive: number;
  readonly place: Vec3;
  readonly watts: number;
}

export interface Path {
  readonly steps: readonly Step[];
  readonly sun: Vec3;
  readonly fate: number;
}

export function pathOf(
  prepared: PreparedScene,
  log2Rays: Int32Array,
  seed: string,
  ray: number,
  batch = 0,
): Path {
  const steps: Step[] = [];
  let towards: Vec3 = [0, 0, 0];
  let fate = -1;
  const shifts = latticeShifts(seed, batch, log2Rays);
  replayRay(viewPrepared(prepared.buffer), log2Rays, shifts, batchKey(seed, batch), ray, {
    step: (event, primitive, x, y, z, watts) => steps.push({ event, primitive, place: [x, y, z], watts }),
    sun: (x, y, z) => {
      towards = [x, y, z];
    },
    end: (end) => {
      fate = end;
    },
  });
  return { steps, sun: towards, fate };
}

export function raysInBatch(log2Rays: Int32Array): number {
  return log2Rays.reduce((sum, k) => sum + (k < 0 ? 0 : 2 ** k), 0);
}
