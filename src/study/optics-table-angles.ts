/**
 * The two angles that the optics of a row hang on. Longitudinal: out of the plane across the row, towards the row's heading.
 * Profile: in that plane, up from the horizon on the right of the heading (south for a row that runs east) over the zenith to the
 * other side. With a unit vector s to the sun and the row's level frame x, y, z: sin(longitudinal) = s . x and
 * tan(profile) = s . z / (-s . y). The horizon is profile 0 and 180 degrees, whatever the longitudinal angle.
 */
import { directionToLocal, directionToParent, levelFrame } from '../field/frame.js';
import type { Scene, Vec3 } from '../scene/types.js';

export interface RowAngles {
  /** -pi/2 to pi/2. */
  readonly longitudinal: number;
  /** 0 to pi above the horizon. */
  readonly profile: number;
}

/** Heading that a scene's angles are measured from: that of its first row; due east where it has no rows. */
export function tableHeading(scene: Scene): number {
  return scene.rows.length > 0 ? scene.rows[0].heading : Math.PI / 2;
}

/** @param sun unit vector towards the sun, world frame */
export function rowAngles(heading: number, sun: Vec3): RowAngles {
  const [x, y, z] = directionToLocal(levelFrame([0, 0, 0], heading), sun);
  return { longitudinal: Math.asin(Math.min(1, Math.max(-1, x))), profile: Math.atan2(z, -y) };
}

/** Lowest sun of a table, as a part of the vector: on the horizon itself rounding would put it below. */
const LOWEST = 1e-9;

/** @returns unit vector towards the sun, world frame, never below the horizon */
export function sunAtAngles(heading: number, { longitudinal, profile }: RowAngles): Vec3 {
  const across = Math.cos(longitudinal);
  const local: Vec3 = [
    Math.sin(longitudinal),
    -across * Math.cos(profile),
    Math.max(LOWEST, across * Math.sin(profile)),
  ];
  return directionToParent(levelFrame([0, 0, 0], heading), local);
}
