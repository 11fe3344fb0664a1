/** Vector algebra of the second opinion, written apart from the program's own. */
export type V3 = readonly [number, number, number];

export const dot = (p: V3, q: V3): number => p[0] * q[0] + p[1] * q[1] + p[2] * q[2];
export const plus = (p: V3, q: V3, times = 1): V3 => [
  p[0] + times * q[0],
  p[1] + times * q[1],
  p[2] + times * q[2],
];
export const cross = (p: V3, q: V3): V3 => [
  p[1] * q[2] - p[2] * q[1],
  p[2] * q[0] - p[0] * q[2],
  p[0] * q[1] - p[1] * q[0],
];
export const size = (p: V3): number => Math.sqrt(dot(p, p));
export const unit = (p: V3): V3 => {
  const length = size(p);
  return [p[0] / length, p[1] / length, p[2] / length];
};
/** The part of p square to the unit vector `axis`, made a unit vector. */
export const squareTo = (p: V3, axis: V3): V3 => unit(plus(p, axis, -dot(p, axis)));

/** Azimuth from north, clockwise, and elevation, radians: x east, y north, z up. */
export const bearing = (azimuth: number, elevation: number): V3 => [
  Math.cos(elevation) * Math.sin(azimuth),
  Math.cos(elevation) * Math.cos(azimuth),
  Math.sin(elevation),
];

/** Origin and three axes. */
export interface Axes {
  readonly o: V3;
  readonly x: V3;
  readonly y: V3;
  readonly z: V3;
}

export const outOf = (axes: Axes, p: V3): V3 =>
  plus(plus(plus(axes.o, axes.x, p[0]), axes.y, p[1]), axes.z, p[2]);
export const turned = (axes: Axes, p: V3): V3 => [dot(p, axes.x), dot(p, axes.y), dot(p, axes.z)];
export const into = (axes: Axes, p: V3): V3 => turned(axes, plus(p, axes.o, -1));
