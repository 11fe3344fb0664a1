/**
 * What a receiver loses by standing beside its best place: share of the caught power = o' F o for an offset o in mm, a symmetric
 * form per place and hour. Good while the share lost is small; far out the true loss levels off at 1 and the form does not.
 */
import { dot, normalise } from '../field/vector.js';
import type { Vec3 } from '../scene/types.js';

/** Rows of a symmetric 3 x 3 form, share lost per mm2. */
export type LossForm = readonly [Vec3, Vec3, Vec3];

export const MM = 1000;

/** F o. */
export function timesForm(form: LossForm, o: Vec3): Vec3 {
  return [dot(form[0], o), dot(form[1], o), dot(form[2], o)];
}

/**
 * Share of the caught power that is lost at an offset.
 * @param offset metres
 */
export function lossOfOffset(form: LossForm, offset: Vec3): number {
  const mm: Vec3 = [offset[0] * MM, offset[1] * MM, offset[2] * MM];
  return dot(mm, timesForm(form, mm));
}

/**
 * Share lost per mm2 of offset along one direction.
 * @param direction of any length but 0
 */
export function lossAlong(form: LossForm, direction: Vec3): number {
  const unit = normalise(direction);
  return dot(unit, timesForm(form, unit));
}

/**
 * The form of a loss that is known by trying places, from differences over a finite step: sampled losses are too rough for a
 * small one, and a builder's offsets are not small.
 * @param lossAt share lost at an offset in metres
 * @param step_mm of the size of the offsets that matter
 * @throws RangeError for a step not above 0 or a loss that is not finite
 */
export function lossFormFrom(lossAt: (offset: Vec3) => number, step_mm: number): LossForm {
  if (!(step_mm > 0)) throw new RangeError(`the step of a loss form must be above 0, got ${step_mm}`);
  const step = step_mm / MM;
  const at = (x: number, y: number, z: number): number => {
    const loss = lossAt([x * step, y * step, z * step]);
    if (!Number.isFinite(loss)) throw new RangeError(`a loss near the best place is ${loss}`);
    return loss;
  };
  const here = at(0, 0, 0);
  const entry = (i: number, j: number): number => {
    const pick = (a: number, b: number) =>
      [0, 1, 2].map((k) => (k === i ? a : 0) + (k === j ? b : 0)) as [number, number, number];
    if (i === j) return (at(...pick(1, 0)) + at(...pick(-1, 0)) - 2 * here) / (2 * step_mm ** 2);
    const mixed = at(...pick(1, 1)) + at(...pick(-1, -1)) - at(...pick(1, -1)) - at(...pick(-1, 1));
    return mixed / (8 * step_mm ** 2);
  };
  const [xy, xz, yz] = [entry(0, 1), entry(0, 2), entry(1, 2)];
  return [
    [entry(0, 0), xy, xz],
    [xy, entry(1, 1), yz],
    [xz, yz, entry(2, 2)],
  ];
}

/** Sweeps of rotations that bring a 3 x 3 matrix to its axes; six do for the last digit. */
const SWEEPS = 12;

/**
 * Axes of a symmetric form by Jacobi's rotations (Golub & Van Loan, Matrix Computations, section 8.5, from memory).
 * @returns the greatest value first, each with its unit axis
 */
export function axesOf(form: LossForm): readonly { readonly value: number; readonly axis: Vec3 }[] {
  const a = form.map((row) => [...row]);
  const axes = [
    [1, 0, 0],
    [0, 1, 0],
    [0, 0, 1],
  ];
  for (let sweep = 0; sweep < SWEEPS; sweep++) {
    for (const [p, q] of [
      [0, 1],
      [0, 2],
      [1, 2],
    ]) {
      if (Math.abs(a[p][q]) <= 1e-17 * (Math.abs(a[0][0]) + Math.abs(a[1][1]) + Math.abs(a[2][2]))) continue;
      const theta = 0.5 * Math.atan2(2 * a[p][q], a[q][q] - a[p][p]);
      const [c, s] = [Math.cos(theta), Math.sin(theta)];
      for (let k = 0; k < 3; k++) [a[k][p], a[k][q]] = [c * a[k][p] - s * a[k][q], s * a[k][p] + c * a[k][q]];
      for (let k = 0; k < 3; k++) [a[p][k], a[q][k]] = [c * a[p][k] - s * a[q][k], s * a[p][k] + c * a[q][k]];
      for (const axis of axes) [axis[p], axis[q]] = [c * axis[p] - s * axis[q], s * axis[p] + c * axis[q]];
    }
  }
  return [0, 1, 2]
    .map((k) => ({ value: a[k][k], axis: [axes[0][k], axes[1][k], axes[2][k]] as Vec3 }))
    .sort((one, other) => other.value - one.value);
}

/** A form without the values below 0 that noise leaves in it, and with `least` added on every axis. */
export function roundedUp(form: LossForm, least: number): LossForm {
  const axes = axesOf(form);
  const entry = (i: number, j: number) =>
    axes.reduce((sum, { value, axis }) => sum + (Math.max(0, value) + least) * axis[i] * axis[j], 0);
  return [0, 1, 2].map((i) => [entry(i, 0), entry(i, 1), entry(i, 2)]) as unknown as LossForm;
}

/** Rows r with sum of (r . o)^2 = o' F o, for a form without values below 0. */
export function rootOf(form: LossForm): readonly Vec3[] {
  return axesOf(form).map(({ value, axis }) => {
    const root = Math.sqrt(Math.max(0, value));
    return [root * axis[0], root * axis[1], root * axis[2]];
  });
}
