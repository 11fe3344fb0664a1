/** Places of facets and receivers between the world, the sun and each other: worked out once, before any rays. */
import {
  FACET_INTS,
  FACET_REALS,
  FI_HOME,
  FRAME_ORIGIN,
  FRAME_X,
  FRAME_Y,
  FRAME_Z,
  G_SUN,
  G_SUN_A,
  G_SUN_B,
  type PreparedView,
  R_HALF_U,
  R_HALF_V,
  RECEIVER_INTS,
  RECEIVER_REALS,
  ReceiverKind,
  RI_KIND,
} from './layout.js';

/** Where the facet's origin in the receiver's frame follows the nine numbers of the turn. */
export const TURN = 9;
export const TO_RECEIVER_REALS = TURN + 3;
export const SUN_REALS = 9;

const AXES = [FRAME_X, FRAME_Y, FRAME_Z] as const;

/** @param out receives the way from the facet's frame to its home receiver's: rows u, v, w, then the facet's origin */
export function facetToReceiver(view: PreparedView, facet: number, out: Float64Array): void {
  const { facetReals, receiverReals } = view;
  const base = facet * FACET_REALS;
  const home = view.facetInts[facet * FACET_INTS + FI_HOME] * RECEIVER_REALS;
  for (let row = 0; row < 3; row++) {
    let off = 0;
    for (let c = 0; c < 3; c++) {
      const component = receiverReals[home + AXES[row] + c];
      off += component * (facetReals[base + FRAME_ORIGIN + c] - receiverReals[home + FRAME_ORIGIN + c]);
    }
    out[TURN + row] = off;
    for (let column = 0; column < 3; column++) {
      let sum = 0;
      for (let c = 0; c < 3; c++) {
        sum += receiverReals[home + AXES[row] + c] * facetReals[base + AXES[column] + c];
      }
      out[3 * row + column] = sum;
    }
  }
}

/** @param out receives the direction to the sun's centre and the two axes across it, in the facet's frame: three times x, y, z */
export function sunInFacet(view: PreparedView, facet: number, out: Float64Array): void {
  const { facetReals, globals } = view;
  const base = facet * FACET_REALS;
  [G_SUN, G_SUN_A, G_SUN_B].forEach((vector, row) => {
    AXES.forEach((axis, column) => {
      out[3 * row + column] =
        globals[vector] * facetReals[base + axis] +
        globals[vector + 1] * facetReals[base + axis + 1] +
        globals[vector + 2] * facetReals[base + axis + 2];
    });
  });
}

/**
 * A height no part of a receiver's aperture is below, world: of the box round a flat one, of a tube with all its girth.
 * @param half half sizes along u and v, where they are not the aperture's
 */
export function lowestOfAperture(
  view: PreparedView,
  receiver: number,
  half: readonly [number, number] | null = null,
): number {
  const reals = view.receiverReals;
  const base = receiver * RECEIVER_REALS;
  const tube = view.receiverInts[receiver * RECEIVER_INTS + RI_KIND] === ReceiverKind.Tube;
  const halfU = half === null ? reals[base + R_HALF_U] : half[0];
  const halfV = half === null ? reals[base + R_HALF_V] : half[1];
  return (
    reals[base + FRAME_ORIGIN + 2] -
    Math.abs(reals[base + FRAME_X + 2]) * halfU -
    (tube ? 1 : Math.abs(reals[base + FRAME_Y + 2])) * halfV
  );
}
