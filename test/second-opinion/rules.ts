/** Quadrature rules, from their definitions. */

export interface Rule {
  readonly at: Float64Array;
  readonly weight: Float64Array;
}

/** Gauss-Legendre on [low, high]: roots of the Legendre polynomial by Newton's steps. */
export function legendre(count: number, low = -1, high = 1): Rule {
  const at = new Float64Array(count);
  const weight = new Float64Array(count);
  for (let i = 0; i < count; i++) {
    let x = Math.cos((Math.PI * (i + 0.75)) / (count + 0.5));
    let slope = 1;
    for (let step = 0; step < 50; step++) {
      let before = 1;
      let value = x;
      for (let n = 2; n <= count; n++)
        [before, value] = [value, ((2 * n - 1) * x * value - (n - 1) * before) / n];
      slope = (count * (x * value - before)) / (x * x - 1);
      if (count === 1) slope = 1;
      const move = value / slope;
      x -= move;
      if (Math.abs(move) < 1e-15) break;
    }
    const half = (high - low) / 2;
    at[count - 1 - i] = (low + high) / 2 + half * x;
    weight[count - 1 - i] = (half * 2) / ((1 - x * x) * slope * slope);
  }
  return { at, weight };
}

/** Derivatives at the rule's nodes of the polynomial through values there: row i of count x count numbers. */
export function derivatives(at: Float64Array): Float64Array {
  const count = at.length;
  const scale = at.map((x, i) =>
    at.reduce((product, other, j) => (i === j ? product : product * (x - other)), 1),
  );
  const matrix = new Float64Array(count * count);
  for (let i = 0; i < count; i++) {
    for (let j = 0; j < count; j++) {
      if (i === j) continue;
      const entry = scale[i] / (scale[j] * (at[i] - at[j]));
      matrix[i * count + j] = entry;
      matrix[i * count + i] -= entry;
    }
  }
  return matrix;
}

/** Points in the plane with weights, for averages. */
export interface PlaneRule {
  readonly p: Float64Array;
  readonly q: Float64Array;
  readonly weight: Float64Array;
}

/**
 * Average over a round unit Gaussian in the plane: in radius^2 / 2 the density is exp(-t), so Gauss-Laguerre rings (nodes by Newton's
 * steps) with evenly spaced points, ring after ring turned by half a step. Exact for polynomials to degree 2 rings - 1 in radius^2 and below
 * `turns` in angle. A single ring has the middle with it.
 */
export function roundGaussian(rings: number, turns: number): PlaneRule {
  if (rings === 1) return centredRing(turns);
  const radii: number[] = [];
  const weights: number[] = [];
  for (let i = 0; i < rings; i++) {
    // Roots of L_n are separated by a scan, as n is small here.
    const value = (t: number) => laguerre(rings, t)[0];
    let found = -1;
    let left = 0;
    const step = 0.002;
    for (let t = 0; t < 4 * rings + 10; t += step) {
      if (value(t) * value(t + step) <= 0) {
        found++;
        if (found === i) {
          left = t;
          break;
        }
      }
    }
    let low = left;
    let high = left + step;
    for (let n = 0; n < 60; n++) {
      const middle = (low + high) / 2;
      if (value(low) * value(middle) <= 0) high = middle;
      else low = middle;
    }
    const t = (low + high) / 2;
    radii.push(Math.sqrt(2 * t));
    weights.push(t / ((rings + 1) * laguerre(rings + 1, t)[0]) ** 2);
  }
  const count = rings * turns;
  const rule = { p: new Float64Array(count), q: new Float64Array(count), weight: new Float64Array(count) };
  for (let i = 0; i < rings; i++) {
    for (let k = 0; k < turns; k++) {
      const angle = (2 * Math.PI * (k + (i % 2) / 2)) / turns + 0.3;
      rule.p[i * turns + k] = radii[i] * Math.cos(angle);
      rule.q[i * turns + k] = radii[i] * Math.sin(angle);
      rule.weight[i * turns + k] = weights[i] / turns;
    }
  }
  return rule;
}

/** The middle (half the weight) and one ring at radius 2: exact to degree 5 from six points on. */
function centredRing(turns: number): PlaneRule {
  const angles = Array.from({ length: turns }, (_, k) => (2 * Math.PI * k) / turns + 0.3);
  return {
    p: Float64Array.from([0, ...angles.map((angle) => 2 * Math.cos(angle))]),
    q: Float64Array.from([0, ...angles.map((angle) => 2 * Math.sin(angle))]),
    weight: Float64Array.from([0.5, ...angles.map(() => 0.5 / turns)]),
  };
}

function laguerre(count: number, t: number): [number] {
  let before = 1;
  let value = 1 - t;
  if (count === 0) return [1];
  for (let n = 1; n < count; n++) [before, value] = [value, ((2 * n + 1 - t) * value - n * before) / (n + 1)];
  return [value];
}
