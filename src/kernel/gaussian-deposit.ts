/**
 * Adds an elliptical Gaussian to the cells of a map, each cell getting the integral over itself. All lengths are in cells:
 * cell (i, j) covers i .. i + 1 by j .. j + 1. Watts beyond the map are not added.
 *
 * Where the Gaussian is wide against a cell its mean over a cell is the value at the cell's middle of the same Gaussian with
 * the variance of a cell, 1/12, added to both axes: they differ by kappa_4 / 24 times the fourth derivative, kappa_4 = -1/120,
 * at most 1 part in 960 at the centre for a standard deviation of one cell, and 1 in 15,000 for two. Along a row the values
 * are then products: g *= r, r *= q. Where it is narrow the integral is taken from the cumulative distribution.
 */

/**
 * Where a wide footprint ends, in standard deviations along v and, given v, along u: 4e-6 of it lies beyond, and is given to its
 * middle cell. Ending on an ellipse would save a fifth of the cells and lose more than that to rows of unlike length.
 */
const WIDE_REACH = 4.75;
/** Where a narrow one ends: what lies beyond (2e-9) is counted to its end. */
const NARROW_REACH = 6;
/** Least variance, in squared cells, of a wide footprint, across rows and along a row given the other. */
const WIDE_VARIANCE = 1;

const CDF_PER_UNIT = 64;
const CDF_CELLS = 2 * NARROW_REACH * CDF_PER_UNIT;

/** Pairs (Phi, phi / CDF_PER_UNIT) of the standard normal at -NARROW_REACH + k / CDF_PER_UNIT; exactly 0 and 1 at the ends. */
export function buildNormalCdf(): Float64Array {
  const table = new Float64Array(2 * (CDF_CELLS + 1));
  const density = (x: number) => Math.exp(-0.5 * x * x) / Math.sqrt(2 * Math.PI);
  const step = 1 / CDF_PER_UNIT;
  // Gauss's rule of three points over each cell.
  const away = 0.5 * step * Math.sqrt(0.6);
  let sum = 0;
  for (let k = 0; k <= CDF_CELLS; k++) {
    const x = -NARROW_REACH + k * step;
    table[2 * k] = sum;
    table[2 * k + 1] = density(x) * step;
    const middle = x + 0.5 * step;
    sum += (step / 18) * (5 * density(middle - away) + 8 * density(middle) + 5 * density(middle + away));
  }
  for (let k = 0; k <= CDF_CELLS; k++) table[2 * k] /= table[2 * CDF_CELLS];
  return table;
}

/** P(Z <= x), cut off at NARROW_REACH: cubic between the table's points, 2e-10 off at most. */
export function normalCdf(table: Float64Array, x: number): number {
  const at = (x + NARROW_REACH) * CDF_PER_UNIT;
  if (!(at > 0)) return 0;
  if (at >= CDF_CELLS) return 1;
  const k = at | 0;
  const f = at - k;
  const a = table[2 * k];
  const d0 = table[2 * k + 1];
  const rise = table[2 * k + 2] - a;
  const d1 = table[2 * k + 3];
  return a + f * (d0 + f * (3 * rise - 2 * d0 - d1 + f * (d0 + d1 - 2 * rise)));
}

/** Whether a Gaussian with these variances (squared cells) is for `depositWide`; else it is for `depositNarrow`. */
export function isWide(uu: number, uv: number, vv: number): boolean {
  return vv >= WIDE_VARIANCE && uu * vv - uv * uv >= WIDE_VARIANCE * vv;
}

/**
 * Values at the middles of cells, row by row: along v the marginal, along u what is left given v. All come from a column
 * near the middle by products: down that column, and from it outwards to both sides.
 *
 * @param map cell (i, j) at offset + j * nu + i; watts are added
 * @param watts of the whole footprint
 * @param u centre, in cells from the map's low corner
 * @param v centre, in cells from the map's low corner
 * @param varianceU variance along u, squared cells
 * @param uv covariance
 * @param varianceV variance along v
 */
export function depositWide(
  map: Float64Array,
  offset: number,
  nu: number,
  nv: number,
  watts: number,
  u: number,
  v: number,
  varianceU: number,
  uv: number,
  varianceV: number,
): void {
  const uu = varianceU + 1 / 12;
  const vv = varianceV + 1 / 12;
  const lean = uv / vv;
  const given = uu - uv * lean;
  const reachV = WIDE_REACH * Math.sqrt(vv);
  const reachGiven = WIDE_REACH * Math.sqrt(given);
  const first = Math.max(0, Math.ceil(v - reachV - 0.5));
  const last = Math.min(nv - 1, Math.floor(v + reachV - 0.5));
  if (first > last) return;
  const half = 0.5 / given;
  const halfV = 0.5 / vv;
  const height = watts / (2 * Math.PI * Math.sqrt(vv * given));
  const q = Math.exp(-2 * half);
  // The column: values, and their ratios to the right and to the left, each the one above times a steady factor.
  const column = Math.min(nu - 1, Math.max(0, Math.floor(u)));
  const aside = column + 0.5 - u;
  let d = first + 0.5 - v;
  let x = aside - lean * d;
  let value = height * Math.exp(-(x * x * half + d * d * halfV));
  let right = Math.exp(-(2 * x + 1) * half);
  let left = Math.exp((2 * x - 1) * half);
  const bend = halfV + lean * lean * half;
  let down = Math.exp(2 * lean * aside * half - bend * (2 * d + 1));
  const downStep = Math.exp(-2 * bend);
  const rightStep = Math.exp(2 * lean * half);
  const leftStep = 1 / rightStep;
  // Far from the column's middle its values lose themselves: such rows start afresh.
  const steady = uv * uv < 0.8 * uu * vv;
  let total = 0;
  for (let j = first; j <= last; j++) {
    d = j + 0.5 - v;
    const centre = u + lean * d - 0.5;
    let from = Math.ceil(centre - reachGiven);
    let to = Math.floor(centre + reachGiven);
    if (from < 0) from = 0;
    if (to > nu - 1) to = nu - 1;
    const row = offset + j * nu;
    if (steady && from <= column && to >= column) {
      let g = value * right;
      let r = right * q;
      let h = value * left;
      let l = left * q;
      let sumRight = value;
      let sumLeft = 0;
      map[row + column] += value;
      let rights = to - column;
      let lefts = column - from;
      // One loop for both sides where there is room: a cell more on the nearer side does no harm.
      const most = rights > lefts ? rights : lefts;
      if (column + most < nu && column >= most) {
        rights = most;
        lefts = most;
      }
      const both = rights < lefts ? rights : lefts;
      const middle = row + column;
      for (let k = 1; k <= both; k++) {
        map[middle + k] += g;
        map[middle - k] += h;
        sumRight += g;
        sumLeft += h;
        g *= r;
        h *= l;
        r *= q;
        l *= q;
      }
      for (let k = both + 1; k <= rights; k++) {
        map[middle + k] += g;
        sumRight += g;
        g *= r;
        r *= q;
      }
      for (let k = both + 1; k <= lefts; k++) {
        map[middle - k] += h;
        sumLeft += h;
        h *= l;
        l *= q;
      }
      total += sumRight + sumLeft;
    } else if (from <= to) {
      x = from - centre;
      let g = height * Math.exp(-(x * x * half + d * d * halfV));
      let r = Math.exp(-(2 * x + 1) * half);
      for (let cell = row + from; cell <= row + to; cell++) {
        map[cell] += g;
        total += g;
        g *= r;
        r *= q;
      }
    }
    value *= down;
    down *= downStep;
    right *= rightStep;
    left *= leftStep;
  }
  // Wholly on the map: no watt more or less than there is.
  const reachU = reachGiven + Math.abs(lean) * reachV + 1;
  if (u - reachU >= 0 && u + reachU <= nu && v - reachV >= 0 && v + reachV <= nv) {
    map[offset + (v | 0) * nu + (u | 0)] += watts - total;
  }
}

/**
 * Any Gaussian, down to a point; parameters as `depositWide` has them.
 * @param cdf from `buildNormalCdf`
 */
export function depositNarrow(
  map: Float64Array,
  offset: number,
  nu: number,
  nv: number,
  watts: number,
  u: number,
  v: number,
  uu: number,
  uv: number,
  vv: number,
  cdf: Float64Array,
): void {
  if (vv >= uu) depositStrips(map, offset, nv, nu, nu, 1, watts, v, u, vv, uv, uu, cdf);
  else depositStrips(map, offset, nu, nv, 1, nu, watts, u, v, uu, uv, vv, cdf);
}

/**
 * Strips across the longer axis, thin against the footprint where it leans; in each the integrals over cells along the other
 * axis. Lengths in cells as ever; `outer` goes along the longer axis.
 */
function depositStrips(
  map: Float64Array,
  offset: number,
  outers: number,
  inners: number,
  outerStep: number,
  innerStep: number,
  watts: number,
  outer: number,
  inner: number,
  longer: number,
  covariance: number,
  shorter: number,
  cdf: Float64Array,
): void {
  const sigmaOuter = Math.sqrt(longer);
  const begin = outer - NARROW_REACH * sigmaOuter;
  const end = outer + NARROW_REACH * sigmaOuter;
  const lean = longer > 0 ? covariance / longer : 0;
  const given = Math.max(0, shorter - covariance * lean);
  const first = Math.max(0, Math.floor(begin));
  const last = Math.min(outers - 1, Math.floor(end));
  const perSigma = sigmaOuter > 0 ? 1 / sigmaOuter : 0;
  // From strip to strip the middle moves by no more than half the width given the strip, or 1/32 of a cell.
  const steep = Math.abs(lean) * Math.min(32, 2 / Math.sqrt(given));
  for (let j = first; j <= last; j++) {
    const low = j > begin ? j : begin;
    const high = j + 1 < end ? j + 1 : end;
    const span = high - low;
    // A strip must be thin against the footprint only where its middle moves from strip to strip.
    const strips = steep * span < 0.01 ? 1 : Math.ceil(Math.max(2 * span * perSigma, steep * span));
    const width = span / strips;
    // Light within a strip is spread by its lean.
    const sigma = Math.sqrt(given + (lean * width) ** 2 / 12);
    let below = low <= begin ? 0 : normalCdf(cdf, (low - outer) * perSigma);
    for (let k = 0; k < strips; k++) {
      const top = k === strips - 1 ? high : low + (k + 1) * width;
      const above = top >= end ? 1 : normalCdf(cdf, (top - outer) * perSigma);
      const part = watts * (above - below);
      below = above;
      if (!(part > 0)) continue;
      const centre = inner + lean * (top - 0.5 * width - outer);
      depositStrip(map, offset + j * outerStep, inners, innerStep, part, centre, sigma, cdf);
    }
  }
}

function depositStrip(
  map: Float64Array,
  start: number,
  cells: number,
  step: number,
  watts: number,
  centre: number,
  sigma: number,
  cdf: Float64Array,
): void {
  const first = Math.floor(centre - NARROW_REACH * sigma);
  const last = Math.floor(centre + NARROW_REACH * sigma);
  if (last < 0 || first >= cells) return;
  if (first === last) {
    map[start + first * step] += watts;
    return;
  }
  const perSigma = 1 / sigma;
  let below = first < 0 ? normalCdf(cdf, -centre * perSigma) : 0;
  const end = last < cells ? last : cells - 1;
  for (let i = first < 0 ? 0 : first; i <= end; i++) {
    const above = i === last ? 1 : normalCdf(cdf, (i + 1 - centre) * perSigma);
    map[start + i * step] += watts * (above - below);
    below = above;
  }
}
