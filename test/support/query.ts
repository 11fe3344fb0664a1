/** One ray asked of the kernel. */
import { Scratch } from '../../src/kernel/intersect.js';
import { type PreparedView, viewPrepared } from '../../src/kernel/layout.js';
import { RAY_D, RAY_O, RAY_T } from '../../src/kernel/ray.js';
import type { PreparedScene } from '../../src/prepare.js';
import type { Vec3 } from '../../src/scene/types.js';

export interface Query {
  readonly view: PreparedView;
  readonly scratch: Scratch;
  /** Distance at which `hit` found something, or null. */
  readonly ask: (
    origin: Vec3,
    direction: Vec3,
    hit: (view: PreparedView, scratch: Scratch) => boolean,
  ) => number | null;
}

export function queryOf(prepared: PreparedScene): Query {
  const view = viewPrepared(prepared.buffer);
  const scratch = new Scratch(view);
  return {
    view,
    scratch,
    ask: (origin, direction, hit) => {
      scratch.ray.set(origin, RAY_O);
      scratch.ray.set(direction, RAY_D);
      scratch.ray[RAY_T] = Number.POSITIVE_INFINITY;
      scratch.crossings = 0;
      return hit(view, scratch) ? scratch.ray[RAY_T] : null;
    },
  };
}
