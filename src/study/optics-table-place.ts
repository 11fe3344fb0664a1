/** The best place of the receivers near a good guess: some forty looks at recorded light, where a search from nothing takes hundreds. */
import { addScaled, dot, norm, normalise, subtract } from '../field/vector.js';
import { LEAVING_REALS } from '../run/light.js';
import type { Vec3 } from '../scene/types.js';
import type { Offset } from './moving.js';
import { caughtAt, type Free, type Light } from './placement.js';

/** Tried along the beam from the guess, metres: the catch falls slowly that way, and may have two tops. */
const ALONG_BEAM = [0, -0.06, 0.06, -0.15, 0.15];
/** Steps of the climb, metres. What is left to the true top costs some 1e-4 of the light of an opening of 100 mm. */
const FIRST_STEP = 0.024;
const LAST_STEP = 0.003;
const MOST_ROUNDS = 6;

function meanDirection(light: Light): Vec3 {
  const sum: [number, number, number] = [0, 0, 0];
  for (const { rays } of light.groups) {
    for (let r = 0; r < rays.length; r += LEAVING_REALS) {
      for (let c = 0; c < 3; c++) sum[c] += rays[r + 6] * rays[r + 3 + c];
    }
  }
  return normalise(sum);
}

/** Along the beam and across it, as far as the receivers can go there. */
function directionsOf(beam: Vec3, free: Free): readonly Vec3[] {
  const directions: Vec3[] = [];
  for (const axis of [beam, [1, 0, 0], [0, 1, 0], [0, 0, 1]] as const) {
    let rest: Vec3 = [free[0] ? axis[0] : 0, free[1] ? axis[1] : 0, free[2] ? axis[2] : 0];
    for (const taken of directions) rest = addScaled(rest, taken, -dot(rest, taken));
    if (norm(rest) > 0.2) directions.push(normalise(rest));
  }
  return directions;
}

/** @returns the place that catches most of those reached by climbing from the guess; the guess itself where there is no light */
export function placeNear(light: Light, near: Offset, given: Free | undefined): Offset {
  if (!(light.power > 0)) return near;
  const moves = light.groups.some(({ design }) => design.kind === 'plate' || design.kind === 'cavity');
  const free = given ?? ([moves, true, true] as const);
  const directions = directionsOf(meanDirection(light), free);
  let best = near;
  let most = Number.NEGATIVE_INFINITY;
  const tryAt = (trial: Offset): boolean => {
    const value = caughtAt(light, trial);
    if (!(value > most)) return false;
    most = value;
    best = trial;
    return true;
  };
  for (const far of ALONG_BEAM) tryAt(addScaled(near, directions[0], far));
  for (let size = FIRST_STEP; size >= LAST_STEP; size /= 2) {
    for (let round = 0; round < MOST_ROUNDS; round++) {
      const before = best;
      for (const direction of directions) {
        if (!tryAt(addScaled(best, direction, size))) tryAt(addScaled(best, direction, -size));
      }
      if (best === before) break;
      tryAt(addScaled(best, subtract(best, before), 1));
    }
  }
  return best;
}
