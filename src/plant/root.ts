/**
 * Where a falling or rising function crosses zero, by bisection with secant steps (Illinois form of regula falsi): the bracket
 * always shrinks and always holds the root, so a kink of the function (laminar to turbulent) does no harm.
 * @param f continuous on the bracket
 * @param from one end; f must have the other sign, or be 0, at `to`
 * @param tolerance width of the bracket at which the search ends; the default asks for all digits there are
 * @throws RangeError where both ends have the same sign or f is not a number
 */
export function rootOf(f: (x: number) => number, from: number, to: number, tolerance = 0): number {
  let a = from;
  let b = to;
  let atA = f(a);
  let atB = f(b);
  if (atA === 0) return a;
  if (atB === 0) return b;
  if (!(atA * atB < 0)) throw new RangeError(`no change of sign between ${from} (${atA}) and ${to} (${atB})`);
  for (let step = 0; step < 200; step++) {
    const width = Math.abs(b - a);
    if (width <= tolerance || width <= 4e-16 * Math.abs(a + b)) break;
    // Every third step halves, so that the bracket shrinks whatever the function's bend.
    const x = step % 3 === 2 ? (a + b) / 2 : b - (atB * (b - a)) / (atB - atA);
    const atX = f(x);
    if (atX === 0) return x;
    if (!Number.isFinite(atX)) throw new RangeError(`no value at ${x}`);
    if (atX * atB < 0) {
      a = b;
      atA = atB;
    } else {
      atA /= 2;
    }
    b = x;
    atB = atX;
  }
  return Math.abs(atA) < Math.abs(atB) ? a : b;
}
