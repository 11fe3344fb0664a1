/** Closed forms of rows that run east-west: what shades what, and how long the sun stays near its noon height. Angles in radians. */

/**
 * Share of a long row's slant height that the row in front shades, with the sun at a profile angle.
 * Closed form: f = 1 - p sin a / (H sin(b + a)), cut to 0..1.
 * @param slant height of the mirrors, m
 * @param tilt of the mirrors from level
 * @param pitch from row to row, m
 * @param profile angle of the sun above the horizon in the plane across the rows
 */
export function shadedShare(slant: number, tilt: number, pitch: number, profile: number): number {
  const share = 1 - (pitch * Math.sin(profile)) / (slant * Math.sin(tilt + profile));
  return Math.min(1, Math.max(0, share));
}

/** Least pitch without shade, m. Closed form: H (cos b + sin b / tan a). Arguments as for `shadedShare`. */
export function leastPitch(slant: number, tilt: number, profile: number): number {
  return slant * (Math.cos(tilt) + Math.sin(tilt) / Math.tan(profile));
}

/**
 * Angle of the sun's projection on the north-south plane from the equator plane. Closed form: atan(tan d / cos w); it needs no
 * latitude. The profile angle from the southern horizon is 90 degrees - latitude + this.
 * @param declination of the sun
 * @param hourAngle 0 at noon
 */
export function equatorialProfile(declination: number, hourAngle: number): number {
  return Math.atan2(Math.tan(declination), Math.cos(hourAngle));
}

/** Out of the north-south plane towards the east or west. Closed form: asin(cos d sin w). */
export function eastWestAngle(declination: number, hourAngle: number): number {
  return Math.asin(Math.cos(declination) * Math.sin(hourAngle));
}

/**
 * Hours a day that the sun's projection stays within an acceptance of its noon place.
 * Closed form: 2 acos(tan d / tan(d + a)), 15 degrees an hour.
 * @param centred the mirrors are set so that the whole band is used: the projection may go from acceptance below to above
 */
export function alignedHours(declination: number, acceptance: number, centred = false): number {
  const d = Math.abs(declination);
  const reach = centred ? 2 * acceptance : acceptance;
  const cosine = Math.tan(d) / Math.tan(d + reach);
  return (2 * Math.acos(Math.min(1, Math.max(-1, cosine))) * 12) / Math.PI;
}
