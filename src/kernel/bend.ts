/** How far the landing place of light strays from a linear function of the errors: what decides whether footprints will do. */
import {
  facetToReceiver,
  lowestOfAperture,
  SUN_REALS,
  sunInFacet,
  TO_RECEIVER_REALS,
  TURN,
} from './frames.js';
import { surfaceHeight, surfaceSlope } from './intersect.js';
import {
  F_CENTRE_X,
  F_CENTRE_Y,
  F_HALF_X,
  F_HALF_Y,
  FACET_INTS,
  FACET_REALS,
  FI_FILM,
  FI_HOME,
  FI_OUTLINE,
  FILM_REALS,
  G_GROUND,
  M_SIGMA_1,
  M_SIGMA_2,
  M_SLOPE_ACROSS,
  M_SLOPE_ALONG,
  OutlineKind,
  type PreparedView,
  R_HALF_WINDOW_U,
  R_HALF_WINDOW_V,
  RECEIVER_INTS,
  RECEIVER_REALS,
  ReceiverKind,
  RI_KIND,
} from './layout.js';

/** A facet is left to rays where light leaves it so flat that this many sigmas of the errors would throw it into itself. */
const GRAZING_SIGMAS = 5;

/** Rms slope errors along and across a facet, then its lobes' sigmas. */
export function errorsOf(view: PreparedView, facet: number): readonly number[] {
  const { facetInts, filmReals } = view;
  const film = facetInts[facet * FACET_INTS + FI_FILM] * FILM_REALS;
  return [M_SLOPE_ALONG, M_SLOPE_ACROSS, M_SIGMA_1, M_SIGMA_2].map((at) => filmReals[film + at]);
}

/**
 * Largest `bend` of a facet, found once when a scene is prepared: 0 without errors, Infinity where footprints cannot be laid
 * down (a tube, a window that reaches below the ground, light that does not land).
 */
export function facetBend(view: PreparedView, facet: number): number {
  const { facetInts, receiverReals, receiverInts, globals } = view;
  const sigmas = errorsOf(view, facet);
  if (sigmas.every((sigma) => sigma === 0)) return 0;
  const home = facetInts[facet * FACET_INTS + FI_HOME];
  if (receiverInts[home * RECEIVER_INTS + RI_KIND] === ReceiverKind.Tube) return Number.POSITIVE_INFINITY;
  const window = [
    receiverReals[home * RECEIVER_REALS + R_HALF_WINDOW_U],
    receiverReals[home * RECEIVER_REALS + R_HALF_WINDOW_V],
  ] as const;
  if (lowestOfAperture(view, home, window) < globals[G_GROUND]) {
    return Number.POSITIVE_INFINITY;
  }
  return largestBend(view, facet, sigmas);
}

/** Places of a facet where its bend is taken, in half sizes: middle and corners. */
const PROBES: readonly (readonly [number, number])[] = [
  [0, 0],
  [-1, -1],
  [1, -1],
  [-1, 1],
  [1, 1],
];

/** Largest `bend` over the PROBES of a facet, the light coming from the sun's centre; Infinity where any does not land. */
function largestBend(view: PreparedView, facet: number, sigmas: readonly number[]): number {
  const { facetReals, facetInts, receiverReals } = view;
  const base = facet * FACET_REALS;
  const home = facetInts[facet * FACET_INTS + FI_HOME];
  const frame = new Float64Array(TO_RECEIVER_REALS);
  facetToReceiver(view, facet, frame);
  const sun = new Float64Array(SUN_REALS);
  sunInFacet(view, facet, sun);
  const round = facetInts[facet * FACET_INTS + FI_OUTLINE] === OutlineKind.Round;
  const slope = new Float64Array(2);
  const cell = [
    (2 * receiverReals[home * RECEIVER_REALS + R_HALF_WINDOW_U]) / view.cells[2 * home],
    (2 * receiverReals[home * RECEIVER_REALS + R_HALF_WINDOW_V]) / view.cells[2 * home + 1],
  ];
  const lobes = sigmas[2] === sigmas[3] ? [sigmas[2]] : [sigmas[2], sigmas[3]];
  let most = 0;
  for (const [a, b] of PROBES) {
    const spread = round ? Math.SQRT1_2 : 1;
    const x = facetReals[base + F_CENTRE_X] + a * facetReals[base + F_HALF_X] * spread;
    const y = facetReals[base + F_CENTRE_Y] + b * facetReals[base + (round ? F_HALF_X : F_HALF_Y)] * spread;
    surfaceSlope(view, facet, x, y, slope);
    const place = [x, y, surfaceHeight(view, facet, x, y)];
    const light = sun[2] - slope[0] * sun[0] - slope[1] * sun[1];
    // The edge of a curved facet that turns away from the sun.
    if (!(light > 0)) return Number.POSITIVE_INFINITY;
    for (const lobe of lobes) {
      most = Math.max(most, bend(frame, place, slope, sun, [sigmas[0], sigmas[1], lobe], cell));
    }
  }
  return most;
}

type Triple = readonly [number, number, number];

/**
 * How bent the way from errors to landing places is. With L = L0 + sum a_i x_i + sum q_ij x_i x_j, x_i being the four
 * standard normal errors: sqrt(sum q_ij^T C^-1 q_ij), C = sum a_i a_i^T + the spread of a cell (finer than that the map does
 * not tell).
 */
function bend(
  frame: Float64Array,
  place: readonly number[],
  slope: Float64Array,
  sun: ArrayLike<number>,
  sigmas: readonly number[],
  cell: readonly number[],
): number {
  const turned = (x: number, y: number, z: number): Triple => [
    frame[0] * x + frame[1] * y + frame[2] * z,
    frame[3] * x + frame[4] * y + frame[5] * z,
    frame[6] * x + frame[7] * y + frame[8] * z,
  ];
  const dot = (p: Triple, q: Triple) => p[0] * q[0] + p[1] * q[1] + p[2] * q[2];
  const mix = (a: number, p: Triple, b: number, q: Triple): Triple => [
    a * p[0] + b * q[0],
    a * p[1] + b * q[1],
    a * p[2] + b * q[2],
  ];
  const [hx, hy] = slope;
  const perNormal = 1 / Math.sqrt(1 + hx * hx + hy * hy);
  const tangent = 1 / Math.sqrt(1 + hx * hx);
  const n = turned(-hx * perNormal, -hy * perNormal, perNormal);
  const t1 = turned(tangent, 0, hx * tangent);
  const t2: Triple = [n[1] * t1[2] - n[2] * t1[1], n[2] * t1[0] - n[0] * t1[2], n[0] * t1[1] - n[1] * t1[0]];
  const s = turned(sun[0], sun[1], sun[2]);
  const height = frame[TURN + 2] + turned(place[0], place[1], place[2])[2];
  const sn = dot(s, n);
  const r = mix(2 * sn, n, -1, s);
  if (!(r[2] < 0 && height > 0)) return Number.POSITIVE_INFINITY;
  if (sn < GRAZING_SIGMAS * (2 * Math.max(sigmas[0], sigmas[1]) + sigmas[2])) return Number.POSITIVE_INFINITY;
  const t = -height / r[2];
  const across1 = Math.abs(r[0]) < 0.9 ? mix(1, [1, 0, 0], -r[0], r) : mix(1, [0, 1, 0], -r[1], r);
  const unit1 = mix(1 / Math.sqrt(dot(across1, across1)), across1, 0, r);
  const unit2: Triple = [
    r[1] * unit1[2] - r[2] * unit1[1],
    r[2] * unit1[0] - r[0] * unit1[2],
    r[0] * unit1[1] - r[1] * unit1[0],
  ];
  const none: Triple = [0, 0, 0];
  const tilts: readonly [Triple, Triple] = [t1, t2];
  const first: Triple[] = [
    ...tilts.map((ti, i) => mix(2 * sigmas[i] * dot(s, ti), n, 2 * sigmas[i] * sn, ti)),
    mix(sigmas[2], unit1, 0, r),
    mix(sigmas[2], unit2, 0, r),
  ];
  const land = (d: Triple): readonly [number, number] => [
    t * (d[0] - (r[0] / r[2]) * d[2]),
    t * (d[1] - (r[1] / r[2]) * d[2]),
  ];
  const landed = first.map(land);
  let uu = cell[0] ** 2 / 12;
  let uv = 0;
  let vv = cell[1] ** 2 / 12;
  for (const [u, v] of landed) {
    uu += u * u;
    uv += u * v;
    vv += v * v;
  }
  const determinant = uu * vv - uv * uv;
  let sum = 0;
  for (let i = 0; i < 4; i++) {
    for (let j = i; j < 4; j++) {
      let curve = none;
      if (j < 2) {
        curve =
          i === j
            ? mix(2 * sigmas[i] ** 2 * dot(s, tilts[i]), tilts[i], -2 * sigmas[i] ** 2 * sn, n)
            : mix(2 * sigmas[0] * sigmas[1] * dot(s, t1), t2, 2 * sigmas[0] * sigmas[1] * dot(s, t2), t1);
      }
      const bent = land(curve);
      const both = i === j ? 0.5 : 1;
      const part = (axis: 0 | 1) =>
        bent[axis] - (both * (landed[i][axis] * first[j][2] + landed[j][axis] * first[i][2])) / r[2];
      const qu = part(0);
      const qv = part(1);
      sum += (vv * qu * qu - 2 * uv * qu * qv + uu * qv * qv) / determinant;
    }
  }
  return Math.sqrt(sum);
}
