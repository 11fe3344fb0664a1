/** How often luck of the draw alone fails a check. */

/**
 * Chance that Student's t lies beyond +-t: the tail itself as a series of positive terms, so that nothing cancels (the one of
 * `studentT975`, integrating cos^(dof - 1) by parts from the far end).
 * @param dof degrees of freedom, whole, 1 or more
 * @throws RangeError for fewer than 1
 */
export function chanceBeyond(t: number, dof: number): number {
  if (!(Number.isInteger(dof) && dof >= 1)) {
    throw new RangeError(`Student's t needs whole degrees of freedom, 1 or more, got ${dof}`);
  }
  if (t === 0) return 1;
  // Integral of cos^(dof - 1) from 0 to pi/2.
  const odd = dof % 2 === 1;
  let norm = odd ? Math.PI / 2 : 1;
  for (let power = odd ? 2 : 3; power < dof; power += 2) norm *= (power - 1) / power;
  const cosSquared = dof / (dof + t * t);
  let term = (Math.sqrt(1 - cosSquared) * cosSquared ** (dof / 2)) / (dof * norm);
  let tails = 0;
  for (let power = dof; term > 1e-15 * tails; power += 2) {
    tails += term;
    term *= (cosSquared * (power + 1)) / (power + 2);
  }
  return tails;
}

/** Chance that at least one of independent events happens. */
export function chanceOfAny(chances: readonly number[]): number {
  return 0 - Math.expm1(chances.reduce((sum, chance) => sum + Math.log1p(-chance), 0));
}
