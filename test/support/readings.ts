/** Named sums out of a tally. */
import { CURVE_BINS, CURVE_MAX_SCALE, FATES } from '../../src/kernel/tally.js';
import type { PreparedScene } from '../../src/prepare.js';

/** Of one group, or of all where none is named. */
function overGroups(
  prepared: PreparedScene,
  group: number | undefined,
  read: (group: number) => number,
): number {
  let sum = 0;
  for (let g = 0; g < prepared.layout.groups; g++) if (group === undefined || g === group) sum += read(g);
  return sum;
}

export function raysOf(prepared: PreparedScene, tally: Float64Array, fate: number, group?: number): number {
  return overGroups(prepared, group, (g) => tally[prepared.layout.counts + g * FATES + fate]);
}

export function wattsOf(prepared: PreparedScene, tally: Float64Array, fate: number, group?: number): number {
  return overGroups(prepared, group, (g) => tally[prepared.layout.watts + g * FATES + fate]);
}

export function incidentOf(prepared: PreparedScene, tally: Float64Array, group?: number): number {
  return overGroups(prepared, group, (g) => tally[prepared.layout.incident + g]);
}

export function absorbedOf(prepared: PreparedScene, tally: Float64Array, group?: number): number {
  return overGroups(prepared, group, (g) => tally[prepared.layout.absorbed + g]);
}

/** Watts in the bins of the intercept curve up to the aperture's own size. */
export function curveAtAperture(prepared: PreparedScene, tally: Float64Array, receiver: number): number {
  const { curve } = prepared.layout.receivers[receiver];
  return sumOf(tally, curve, CURVE_BINS / CURVE_MAX_SCALE ** 2);
}

export function sumOf(tally: Float64Array, offset: number, length: number): number {
  let sum = 0;
  for (let k = offset; k < offset + length; k++) sum += tally[k];
  return sum;
}

export interface MapMoments {
  readonly watts: number;
  /** Centred moments of (u, v), by cell centres: mean u, mean v, then E[u^i v^j]. */
  readonly meanU: number;
  readonly meanV: number;
  readonly centred: (i: number, j: number) => number;
}

/** Moments of a flux map, cells taken as points. */
export function momentsOfMap(prepared: PreparedScene, tally: Float64Array, receiver: number): MapMoments {
  const { map, nu, nv } = prepared.layout.receivers[receiver];
  const { width, height } = prepared.field.receivers[receiver].design.window;
  const over = (value: (u: number, v: number) => number) => {
    let sum = 0;
    for (let iv = 0; iv < nv; iv++) {
      for (let iu = 0; iu < nu; iu++) {
        const power = tally[map + iv * nu + iu];
        if (power > 0)
          sum += power * value(((iu + 0.5) / nu - 0.5) * width, ((iv + 0.5) / nv - 0.5) * height);
      }
    }
    return sum;
  };
  const watts = over(() => 1);
  const meanU = over((u) => u) / watts;
  const meanV = over((_u, v) => v) / watts;
  return {
    watts,
    meanU,
    meanV,
    centred: (i, j) => over((u, v) => (u - meanU) ** i * (v - meanV) ** j) / watts,
  };
}
