const DEGREE = Math.PI / 180;

/**
 * Relative optical air mass: Kasten & Young, Applied Optics 28 (1989) 4735 (coefficients from memory).
 *
 * @param zenith of the sun as seen, refraction included, radians, 0 to pi/2
 * @throws RangeError for a sun below the horizon
 */
export function airMass(zenith: number): number {
  const degrees = zenith / DEGREE;
  // A hair more than a right angle is rounding.
  if (!(degrees >= 0 && degrees <= 90 + 1e-9)) {
    throw new RangeError(`there is no air mass for a zenith angle of ${degrees} degrees`);
  }
  return 1 / (Math.cos(zenith) + 0.50572 * (96.07995 - degrees) ** -1.6364);
}
