import type { Vec3 } from '../scene/types.js';

/** What the sky does at the instant traced. */
export interface Moment {
  /** Unit vector towards the sun's centre. */
  readonly sunDirection: Vec3;
  /** Beam irradiance, W/m2. */
  readonly dni: number;
}
