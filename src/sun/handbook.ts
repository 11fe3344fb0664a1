/**
 * Handbook series for the sun over the year. Only to test against: their declination is wrong by up to half a degree (Spencer)
 * and almost a degree (Cooper) near the equinoxes, which would put a receiver beside its spot.
 */

const RADIAN = Math.PI / 180;

/** Day angle, radians, 0 on 1 January. */
function dayAngle(day: number): number {
  return (2 * Math.PI * (day - 1)) / 365;
}

/**
 * Declination, radians: Cooper, Solar Energy 12 (1969) 333 (from memory).
 * @param day of the year, from 1
 */
export function cooperDeclination(day: number): number {
  return 23.45 * RADIAN * Math.sin((2 * Math.PI * (284 + day)) / 365);
}

/**
 * Declination, radians: Spencer, Search 2 (1971) 172 (series from memory).
 * @param day of the year, from 1
 */
export function spencerDeclination(day: number): number {
  const b = dayAngle(day);
  return (
    0.006918 -
    0.399912 * Math.cos(b) +
    0.070257 * Math.sin(b) -
    0.006758 * Math.cos(2 * b) +
    0.000907 * Math.sin(2 * b) -
    0.002697 * Math.cos(3 * b) +
    0.00148 * Math.sin(3 * b)
  );
}

/** (Mean distance / distance)^2 of the sun: Spencer, Search 2 (1971) 172. @param day of the year, from 1 */
export function spencerDistanceFactor(day: number): number {
  const b = dayAngle(day);
  return (
    1.00011 +
    0.034221 * Math.cos(b) +
    0.00128 * Math.sin(b) +
    0.000719 * Math.cos(2 * b) +
    0.000077 * Math.sin(2 * b)
  );
}

/** The short form of the same in textbooks. @param day of the year, from 1 */
export function shortDistanceFactor(day: number): number {
  return 1 + 0.033 * Math.cos((2 * Math.PI * day) / 365);
}

/** Equation of time, seconds, true minus mean: Spencer, Search 2 (1971) 172 (from memory). @param day of the year, from 1 */
export function spencerEquationOfTime(day: number): number {
  const b = dayAngle(day);
  return (
    60 *
    229.18 *
    (0.000075 +
      0.001868 * Math.cos(b) -
      0.032077 * Math.sin(b) -
      0.014615 * Math.cos(2 * b) -
      0.040849 * Math.sin(2 * b))
  );
}
