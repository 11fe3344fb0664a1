/**
 * Where a function crosses zero between two places of unlike sign: inverse quadratic steps where they can be trusted, halving
 * else (Chandrupatla, Adv. Eng. Software 28 (1997) 145), so that a kink, as from laminar to turbulent flow, does no harm.
 * @param f continuous on the bracket
 * @param from one end; f must have the other sign, or be 0, at `to`
 * @param tolerance half width at which the search ends; the default asks for all digits there are
 * @throws RangeError where both ends have the same sign or f is not a number
 */
export function rootOf(f: (x: number) => number, from: number, to: number, tolerance = 0): number {
  let [a, b, c] = [to, from, from];
  let [atA, atB] = [f(a), f(b)];
  let atC = atB;
  if (atA === 0) return a;
  if (atB === 0) return b;
  if (!(atA * atB < 0)) throw new RangeError(`no change of sign between ${from} (${atB}) and ${to} (${atA})`);
  let share = 0.5;
  for (let step = 0; step < 200; step++) {
    const x = a + share * (b - a);
    const atX = f(x);
    if (!Number.isFinite(atX)) throw new RangeError(`no value at ${x}`);
    if (Math.sign(atX) === Math.sign(atA)) {
      [c, atC] = [a, atA];
    } else {
      [c, b, atC, atB] = [b, a, atB, atA];
    }
    [a, atA] = [x, atX];
    const best = Math.abs(atA) < Math.abs(atB) ? a : b;
    const least = (tolerance + 2 * Number.EPSILON * Math.abs(best)) / Math.abs(b - a);
    if (least > 0.5 || atX === 0) return atX === 0 ? x : best;
    const xi = (a - b) / (c - b);
    const phi = (atA - atB) / (atC - atB);
    const bends = phi * phi < xi && (1 - phi) ** 2 < 1 - xi;
    const inverse = bends
      ? (atA / (atB - atA)) * (atC / (atB - atC)) +
        ((c - a) / (b - a)) * (atA / (atC - atA)) * (atB / (atC - atB))
      : 0.5;
    share = Math.min(1 - least, Math.max(least, inverse));
  }
  return Math.abs(atA) < Math.abs(atB) ? a : b;
}
