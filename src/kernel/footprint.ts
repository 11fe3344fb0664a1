/**
 * The second way of running a prepared scene. Each mirror point with its part of the sun (the first four dimensions of a
 * facet's lattice) sends
 *
 * - a fan of NODES rays, drawn and followed exactly as the trace loop does it, for everything that is counted: fates,
 *   watts, intercept curve, spot, moments, maps of other receivers, light after a second mirror;
 * - footprints for the map of the home receiver: slope error and film scatter move the place where the light lands
 *   linearly to first order, so it lands as an elliptical Gaussian, one for each lobe of the film.
 *
 * First order is not enough where the light lands at a slant or the errors are large. So of the variance of the errors only
 * a share `linear` is laid down as a Gaussian, about rays of the fan that are reflected exactly with the rest; the mean
 * is corrected to second order. The share follows from how bent the way from errors to landing places is (`bend`): 1 where
 * it is as good as straight, less where it is not; beyond BEND_LIMIT the facet is left to the fan's own rays.
 */

import { errorsOf } from './bend.js';
import { Books } from './books.js';
import { firstLobeLimit } from './direct.js';
import { lowestOfAperture } from './frames.js';
import { buildNormalCdf, depositNarrow, depositWide, isWide } from './gaussian-deposit.js';
import { isShaded, nearestHit, nearestOfList } from './hierarchy.js';
import { Scratch, surfaceHeight, surfaceSlope } from './intersect.js';
import { DIMENSIONS, LARGEST_LOG2_RAYS, latticeStep } from './lattice.js';
import {
  F_BEND,
  F_CENTRE_X,
  F_CENTRE_Y,
  F_HALF_X,
  F_HALF_Y,
  F_OUTLINE_AREA,
  FACET_INTS,
  FACET_REALS,
  FI_BLOCK_COUNT,
  FI_BLOCK_START,
  FI_CLEAR,
  FI_FILM,
  FI_HOME,
  FI_OUTLINE,
  FI_SHADE_COUNT,
  FI_SHADE_START,
  FILM_CELLS,
  FILM_REALS,
  FRAME_ORIGIN,
  FRAME_X,
  FRAME_Y,
  FRAME_Z,
  G_BEAM,
  G_GROUND,
  M_LOBE_SHARE,
  M_REFLECTANCE,
  M_SIGMA_1,
  M_SIGMA_2,
  M_SLOPE_ACROSS,
  M_SLOPE_ALONG,
  OutlineKind,
  type PreparedView,
  R_HALF_WINDOW_U,
  R_HALF_WINDOW_V,
  R_INVERSE_U,
  R_INVERSE_V,
  R_SPOT_INVERSE,
  R_SPOT_U,
  R_SPOT_V,
  RECEIVER_INTS,
  RECEIVER_REALS,
  ReceiverKind,
  RI_KIND,
} from './layout.js';
import { normalDeviate } from './normal.js';
import { octaveLookup } from './octave.js';
import { RAY_D, RAY_LO, RAY_O, RAY_START, RAY_T, RAY_W } from './ray.js';
import { CURVE_BINS, CURVE_MAX_SCALE, FATES, Fate, FootprintSum, SPOT_BINS, tallyLayout } from './tally.js';
import { depositCrossings, depositHome, fly } from './trace.js';
import { turnLookup } from './turn.js';

/** Rays in a point's fan: a power of two. */
export const NODES = 8;

/**
 * Second-order movement of the landing place at errors of one sigma, relative to the footprint (see `bend`), up to which all of
 * the errors' variance is laid down as a Gaussian. The relative error left in the map is 2.4 x bend x linear^2 rms over
 * a single point's footprint (its missing skewness), much less where many points add up.
 */
export const BEND_STRAIGHT = 0.005;
/** Beyond this the landing place is no mildly bent function of the errors: rays. */
export const BEND_LIMIT = 0.3;

/** A footprint at rest: watts, u, v, variances in squared cells (uu, uv, vv). */
const PRINT = 6;
/** Directions in which a footprint is tried for obstacles, and how far out, in standard deviations. */
const FEELERS = 8;
const FEELER_REACH = 3;
/** What a batch of points carries from facet to facet. */
interface Bench {
  readonly scratch: Scratch;
  readonly books: Books;
  /** From `buildNormalCdf`, once a footprint needs it. */
  cdf: Float64Array | null;
  readonly prints: Float64Array;
  readonly deviates: Float64Array;
  readonly heldCell: Int32Array;
  readonly heldWatts: Float64Array;
  readonly turn: Float64Array;
}

/** How a facet's points are laid down. */
export interface FootprintPlan {
  /** Rays of a point's fan. */
  readonly nodes: number;
  /** Footprints of a point and lobe; 0: rays make the map. */
  readonly prints: number;
  /** Share of the errors' variance that is laid down as a Gaussian. */
  readonly linear: number;
  /** Largest found on the facet; 0 without errors. */
  readonly bend: number;
}

/**
 * Traces one batch of points and adds it to `tally`.
 *
 * A point counts as one ray in the books, its fan's rays as parts of one: binary fractions, whose sums are exact. So counts
 * say how many independent trials there were, which is what intervals from counts need.
 *
 * @param log2Points per facet: 2^k points, or -1 for a facet that is not traced
 * @param shifts as `traceBatch` has them
 * @param batchKey as `traceBatch` has it
 * @param tally laid out by `tallyLayout(view.cells)`
 * @param planOf how each facet's points are laid down; only tests have their own
 */
export function traceFootprints(
  view: PreparedView,
  log2Points: Int32Array,
  shifts: Int32Array,
  batchKey: number,
  tally: Float64Array,
  planOf: typeof footprintPlan = footprintPlan,
): void {
  const bench: Bench = {
    scratch: new Scratch(view),
    books: new Books(tally, tallyLayout(view.cells)),
    cdf: null,
    prints: new Float64Array(PRINT * 2 * NODES),
    deviates: new Float64Array(4 * NODES),
    heldCell: new Int32Array(NODES),
    heldWatts: new Float64Array(NODES),
    turn: new Float64Array(2),
  };
  let firstRay = 0;
  for (let facet = 0; facet < view.facets; facet++) {
    if (log2Points[facet] < 0) continue;
    const plan = planOf(view, facet);
    tracePoints(view, bench, facet, plan, log2Points[facet], shifts, firstRay, batchKey);
    firstRay += plan.nodes * 2 ** log2Points[facet];
  }
}

/** How the points of a facet are laid down; see `FootprintPlan`. Depends on the prepared scene alone. */
export function footprintPlan(view: PreparedView, facet: number): FootprintPlan {
  const bend = view.facetReals[facet * FACET_REALS + F_BEND];
  // Without errors all rays of a fan would be the same one.
  if (errorsOf(view, facet).every((sigma) => sigma === 0)) return { nodes: 1, prints: 0, linear: 0, bend };
  if (!(bend <= BEND_LIMIT)) return { nodes: NODES, prints: 0, linear: 0, bend };
  const linear = bend <= BEND_STRAIGHT ? 1 : Math.sqrt(BEND_STRAIGHT / bend);
  // The smaller a footprint, the more of them for the same work.
  const prints = Math.min(NODES, 2 ** Math.ceil(Math.log2(1 / linear)));
  return { nodes: NODES, prints, linear, bend };
}

function tracePoints(
  view: PreparedView,
  bench: Bench,
  facet: number,
  plan: FootprintPlan,
  log2Points: number,
  shifts: Int32Array,
  firstRay: number,
  batchKey: number,
): void {
  const { facetReals, facetInts, filmReals, receiverReals, globals, sunTable, normalTable, turnTable } = view;
  const { scratch, books, prints, deviates, heldCell, heldWatts, turn } = bench;
  const { tally, layout } = books;
  const { ray, slope, sun, toReceiver } = scratch;
  scratch.startOn(view, facet);
  const { nodes, linear } = plan;
  const layers = plan.prints;
  const stride = layers > 0 ? nodes / layers : 0;
  const points = 2 ** log2Points;

  // The facet's constants.
  const base = facet * FACET_REALS;
  const ints = facet * FACET_INTS;
  const film = facetInts[ints + FI_FILM] * FILM_REALS;
  const home = facetInts[ints + FI_HOME];
  const round = facetInts[ints + FI_OUTLINE] === OutlineKind.Round;
  const halfX = facetReals[base + F_HALF_X];
  const halfY = facetReals[base + F_HALF_Y];
  const centreX = facetReals[base + F_CENTRE_X];
  const centreY = facetReals[base + F_CENTRE_Y];
  const beamPerPoint = (globals[G_BEAM] * facetReals[base + F_OUTLINE_AREA]) / points;
  const slopeAlong = filmReals[film + M_SLOPE_ALONG];
  const slopeAcross = filmReals[film + M_SLOPE_ACROSS];
  const lobeShare = filmReals[film + M_LOBE_SHARE];
  const lobeLimit = firstLobeLimit(lobeShare);
  const sigma1 = filmReals[film + M_SIGMA_1];
  const sigma2 = filmReals[film + M_SIGMA_2];
  const rough = slopeAlong > 0 || slopeAcross > 0;
  const scatters = sigma1 > 0 || sigma2 > 0;
  const lobes = lobeShare < 1 && sigma1 !== sigma2 ? 2 : 1;
  const shadeStart = facetInts[ints + FI_SHADE_START];
  const shadeCount = facetInts[ints + FI_SHADE_COUNT];
  const blockStart = facetInts[ints + FI_BLOCK_START];
  const blockCount = facetInts[ints + FI_BLOCK_COUNT];
  const clear = facetInts[ints + FI_CLEAR] === 1;

  // Facet frame in the world, the sun and its two cross axes in the facet frame.
  const gx = facetReals[base + FRAME_ORIGIN];
  const gy = facetReals[base + FRAME_ORIGIN + 1];
  const gz = facetReals[base + FRAME_ORIGIN + 2];
  const xx = facetReals[base + FRAME_X];
  const xy = facetReals[base + FRAME_X + 1];
  const xz = facetReals[base + FRAME_X + 2];
  const yx = facetReals[base + FRAME_Y];
  const yy = facetReals[base + FRAME_Y + 1];
  const yz = facetReals[base + FRAME_Y + 2];
  const zx = facetReals[base + FRAME_Z];
  const zy = facetReals[base + FRAME_Z + 1];
  const zz = facetReals[base + FRAME_Z + 2];
  const sunX = sun[0];
  const sunY = sun[1];
  const sunZ = sun[2];
  const ax = sun[3];
  const ay = sun[4];
  const az = sun[5];
  const bx = sun[6];
  const by = sun[7];
  const bz = sun[8];

  // From the facet frame into the home receiver's.
  const m00 = toReceiver[0];
  const m01 = toReceiver[1];
  const m02 = toReceiver[2];
  const m10 = toReceiver[3];
  const m11 = toReceiver[4];
  const m12 = toReceiver[5];
  const m20 = toReceiver[6];
  const m21 = toReceiver[7];
  const m22 = toReceiver[8];
  const offU = toReceiver[9];
  const offV = toReceiver[10];
  const offW = toReceiver[11];
  const hb = home * RECEIVER_REALS;
  const homeKind = view.receiverInts[home * RECEIVER_INTS + RI_KIND];
  const flatHome = homeKind !== ReceiverKind.Tube && lowestOfAperture(view, home) >= globals[G_GROUND];

  // Lattice: the point's four dimensions by a rule of `points` points, the fan's five by the rule of points x nodes.
  const shift = facet * DIMENSIONS;
  const nodesLog2 = Math.log2(nodes);
  const fanLog2 = Math.min(LARGEST_LOG2_RAYS, log2Points + nodesLog2);
  const step0 = latticeStep(0, log2Points);
  const step1 = latticeStep(1, log2Points);
  const step2 = latticeStep(2, log2Points);
  const step3 = latticeStep(3, log2Points);
  const step4 = latticeStep(4, fanLog2);
  const step5 = latticeStep(5, fanLog2);
  const step6 = latticeStep(6, fanLog2);
  const step7 = latticeStep(7, fanLog2);
  const step8 = latticeStep(8, fanLog2);
  const fan4 = latticeStep(4, nodesLog2);
  const fan5 = latticeStep(5, nodesLog2);
  const fan6 = latticeStep(6, nodesLog2);
  const fan7 = latticeStep(7, nodesLog2);
  const fan8 = latticeStep(8, nodesLog2);

  // The home receiver's books.
  const place = layout.receivers[home];
  const { map, curve, spot, nu, nv } = place;
  const windowU = receiverReals[hb + R_HALF_WINDOW_U];
  const windowV = receiverReals[hb + R_HALF_WINDOW_V];
  const perCellU = nu / (2 * windowU);
  const perCellV = nv / (2 * windowV);
  const inverseU = receiverReals[hb + R_INVERSE_U];
  const inverseV = receiverReals[hb + R_INVERSE_V];
  const spotU = receiverReals[hb + R_SPOT_U];
  const spotV = receiverReals[hb + R_SPOT_V];
  const spotPerBin = receiverReals[hb + R_SPOT_INVERSE] * SPOT_BINS;
  const counts = layout.counts + home * FATES;
  const watts = layout.watts + home * FATES;
  const part = 1 / nodes;
  const sampled = Math.sqrt(1 - linear);
  const varianceAlong = linear * slopeAlong * slopeAlong;
  const varianceAcross = linear * slopeAcross * slopeAcross;
  let incident = 0;
  let absorbed = 0;
  let caughtRays = 0;
  let caughtWatts = 0;
  let momentU = 0;
  let momentV = 0;
  books.withhold = layers > 0;
  books.rayCount = part;

  for (let i = 0; i < points; i++) {
    const across = (shifts[shift] + Math.imul(i, step0)) | 0;
    const along = (shifts[shift + 1] + Math.imul(i, step1)) | 0;
    // Where on the mirror: uniform over the outline.
    let x: number;
    let y: number;
    if (round) {
      const radius = Math.sqrt(
        halfY * halfY + (halfX * halfX - halfY * halfY) * ((across >>> 0) + 0.5) * 2 ** -32,
      );
      turnLookup(turn, turnTable, along);
      x = radius * turn[0];
      y = radius * turn[1];
    } else {
      x = centreX + halfX * (along + 0.5) * 2 ** -31;
      y = centreY + halfY * (across + 0.5) * 2 ** -31;
    }
    const z = surfaceHeight(view, facet, x, y);
    surfaceSlope(view, facet, x, y, slope);
    const hx = slope[0];
    const hy = slope[1];

    // Where on the sun.
    let sx = sunX;
    let sy = sunY;
    let sz = sunZ;
    let beam = beamPerPoint;
    if (!view.pointSun) {
      const sinSquared = octaveLookup(sunTable, ((shifts[shift + 2] + Math.imul(i, step2)) | 0) >>> 1);
      const sine = Math.sqrt(sinSquared);
      const cosine = Math.sqrt(1 - sinSquared);
      turnLookup(turn, turnTable, (shifts[shift + 3] + Math.imul(i, step3)) | 0);
      const p = sine * turn[0];
      const q = sine * turn[1];
      sx = cosine * sunX + p * ax + q * bx;
      sy = cosine * sunY + p * ay + q * by;
      sz = cosine * sunZ + p * az + q * bz;
      beam = beamPerPoint / cosine;
    }
    const power = beam * (sz - hx * sx - hy * sy);
    if (!(power > 0)) {
      tally[counts + Fate.Unlit] += 1;
      continue;
    }
    incident += power;
    const wx = gx + x * xx + y * yx + z * zx;
    const wy = gy + x * xy + y * yy + z * zy;
    const wz = gz + x * xz + y * yz + z * zz;

    // Shading hangs on the point and its sun direction alone: exact.
    if (shadeCount > 0) {
      ray[RAY_O] = wx;
      ray[RAY_O + 1] = wy;
      ray[RAY_O + 2] = wz;
      ray[RAY_D] = sx * xx + sy * yx + sz * zx;
      ray[RAY_D + 1] = sx * xy + sy * yy + sz * zy;
      ray[RAY_D + 2] = sx * xz + sy * yz + sz * zz;
      ray[RAY_T] = Number.POSITIVE_INFINITY;
      ray[RAY_LO] = x;
      ray[RAY_LO + 1] = y;
      if (isShaded(view, scratch, shadeStart, shadeCount, ray, RAY_LO)) {
        tally[counts + Fate.Shaded] += 1;
        tally[watts + Fate.Shaded] += power;
        continue;
      }
    }

    const perNormal = 1 / Math.sqrt(1 + hx * hx + hy * hy);
    const nx = -hx * perNormal;
    const ny = -hy * perNormal;
    const nz = perNormal;
    const tangent = 1 / Math.sqrt(1 + hx * hx);
    const placeU = offU + x * m00 + y * m01 + z * m02;
    const placeV = offV + x * m10 + y * m11 + z * m12;
    const placeW = offW + x * m20 + y * m21 + z * m22;

    // The fan: each ray as the trace loop has it, with its part of the watts.
    const share = power * part;
    let fanKept = 0;
    // Rays that were stopped, or thrown into the mirror, before they reached the home plane within the window.
    let stopped = 0;
    let e4 = (shifts[shift + 4] + Math.imul(i, step4)) | 0;
    let e5 = (shifts[shift + 5] + Math.imul(i, step5)) | 0;
    let e6 = (shifts[shift + 6] + Math.imul(i, step6)) | 0;
    let e7 = (shifts[shift + 7] + Math.imul(i, step7)) | 0;
    let e8 = (shifts[shift + 8] + Math.imul(i, step8)) | 0;
    for (let k = 0; k < nodes; k++) {
      const z1 = rough || sampled > 0 ? normalDeviate(normalTable, e4) : 0;
      const z2 = rough || sampled > 0 ? normalDeviate(normalTable, e5) : 0;
      const z3 = scatters ? normalDeviate(normalTable, e6) : 0;
      const z4 = scatters ? normalDeviate(normalTable, e7) : 0;
      const sigma = e8 >>> 1 < lobeLimit ? sigma1 : sigma2;
      e4 = (e4 + fan4) | 0;
      e5 = (e5 + fan5) | 0;
      e6 = (e6 + fan6) | 0;
      e7 = (e7 + fan7) | 0;
      e8 = (e8 + fan8) | 0;
      deviates[4 * k] = z1;
      deviates[4 * k + 1] = z2;
      deviates[4 * k + 2] = z3;
      deviates[4 * k + 3] = z4;
      heldCell[k] = -1;

      let mx = nx;
      let my = ny;
      let mz = nz;
      if (rough) {
        const e1 = slopeAlong * z1;
        const e2 = slopeAcross * z2;
        mx += e1 * tangent + e2 * ny * hx * tangent;
        my += e2 * (nz - nx * hx) * tangent;
        mz += e1 * hx * tangent - e2 * ny * tangent;
      }
      const mm = mx * mx + my * my + mz * mz;
      const sm = sx * mx + sy * my + sz * mz;
      const twice = (2 * sm) / mm;
      let rx = twice * mx - sx;
      let ry = twice * my - sy;
      let rz = twice * mz - sz;
      const incidenceCell = (Math.abs(sm) / Math.sqrt(mm)) * FILM_CELLS;
      const lower = incidenceCell < FILM_CELLS ? incidenceCell | 0 : FILM_CELLS - 1;
      const r0 = filmReals[film + M_REFLECTANCE + lower];
      const r1 = filmReals[film + M_REFLECTANCE + lower + 1];
      const kept = share * (r0 + (r1 - r0) * (incidenceCell - lower));
      absorbed += share - kept;
      fanKept += kept;
      if (scatters) {
        // In the home receiver's frame, as `traceFacet` has it.
        const fu = rx * m00 + ry * m01 + rz * m02;
        const fv = rx * m10 + ry * m11 + rz * m12;
        const fw = rx * m20 + ry * m21 + rz * m22;
        const g1 = sigma * z3;
        const g2 = sigma * z4;
        const sign = fw >= 0 ? 1 : -1;
        const a = -1 / (sign + fw);
        const b = fu * fv * a;
        const qu = fu + g1 * (1 + sign * fu * fu * a) + g2 * b;
        const qv = fv + g1 * sign * b + g2 * (sign + fv * fv * a);
        const qw = fw - g1 * sign * fu - g2 * fv;
        rx = qu * m00 + qv * m10 + qw * m20;
        ry = qu * m01 + qv * m11 + qw * m21;
        rz = qu * m02 + qv * m12 + qw * m22;
      }
      if (!(rx * nx + ry * ny + rz * nz > 0)) {
        tally[counts + Fate.Lost] += part;
        tally[watts + Fate.Lost] += kept;
        stopped++;
        continue;
      }

      // Home aperture first: most rays end there.
      let inWindow = false;
      if (flatHome) {
        const dw = rx * m20 + ry * m21 + rz * m22;
        if (dw < 0 && placeW > 0) {
          const t = -placeW / dw;
          const u = placeU + t * (rx * m00 + ry * m01 + rz * m02);
          const v = placeV + t * (rx * m10 + ry * m11 + rz * m12);
          inWindow = u >= -windowU && u <= windowU && v >= -windowV && v <= windowV;
          const su = u * u * inverseU;
          const sv = v * v * inverseV;
          const scale =
            homeKind === ReceiverKind.Round
              ? su + sv
              : homeKind === ReceiverKind.Rectangle
                ? Math.max(su, sv)
                : su <= 1
                  ? sv
                  : Number.POSITIVE_INFINITY;
          if (scale <= 1 && t > RAY_START) {
            let free = true;
            if (blockCount > 0) {
              ray[RAY_O] = wx;
              ray[RAY_O + 1] = wy;
              ray[RAY_O + 2] = wz;
              ray[RAY_D] = rx * xx + ry * yx + rz * zx;
              ray[RAY_D + 1] = rx * xy + ry * yy + rz * zy;
              ray[RAY_D + 2] = rx * xz + ry * yz + rz * zz;
              ray[RAY_T] = t;
              free = nearestOfList(view, scratch, view.obstacles, blockStart, blockCount) < 0;
              if (free && scratch.crossings > 0) {
                ray[RAY_W] = kept;
                depositCrossings(view, scratch, books, t);
              }
            }
            if (free) {
              const iu = ((u + windowU) * perCellU) | 0;
              const iv = ((v + windowV) * perCellV) | 0;
              const cell = map + (iv < nv ? iv : nv - 1) * nu + (iu < nu ? iu : nu - 1);
              if (layers > 0) {
                heldCell[k] = cell;
                heldWatts[k] = kept;
              } else {
                tally[cell] += kept;
              }
              const du = homeKind === ReceiverKind.LineStrip ? 0 : u - spotU;
              const dv = v - spotV;
              const spotBin = (du * du + dv * dv) * spotPerBin;
              tally[curve + ((scale * (CURVE_BINS / CURVE_MAX_SCALE ** 2)) | 0)] += kept;
              tally[spot + (spotBin < SPOT_BINS ? spotBin | 0 : SPOT_BINS)] += kept;
              momentU += kept * u;
              momentV += kept * v;
              caughtRays += part;
              caughtWatts += kept;
              continue;
            }
          }
        }
      }

      ray[RAY_O] = wx;
      ray[RAY_O + 1] = wy;
      ray[RAY_O + 2] = wz;
      ray[RAY_D] = rx * xx + ry * yx + rz * zx;
      ray[RAY_D + 1] = rx * xy + ry * yy + rz * zy;
      ray[RAY_D + 2] = rx * xz + ry * yz + rz * zz;
      ray[RAY_W] = kept;
      const fate = fly(view, scratch, books, home, firstRay + i * nodes + k, batchKey, null);
      if (books.held >= 0) {
        heldCell[k] = books.held;
        heldWatts[k] = kept;
      } else if (inWindow) {
        stopped++;
      }
      tally[counts + fate] += part;
      tally[watts + fate] += ray[RAY_W];
      depositHome(books, home);
    }
    if (layers === 0) {
      tally[place.footprints + FootprintSum.ByRays] += fanKept;
      tally[place.footprints + FootprintSum.RaySquares] += fanKept * fanKept;
      continue;
    }

    // The footprints, in the receiver's frame.
    const t1u = tangent * (m00 + hx * m02);
    const t1v = tangent * (m10 + hx * m12);
    const t1w = tangent * (m20 + hx * m22);
    const cx = ny * hx * tangent;
    const cy = (nz - nx * hx) * tangent;
    const cz = -ny * tangent;
    const t2u = cx * m00 + cy * m01 + cz * m02;
    const t2v = cx * m10 + cy * m11 + cz * m12;
    const t2w = cx * m20 + cy * m21 + cz * m22;
    const nu0 = nx * m00 + ny * m01 + nz * m02;
    const nv0 = nx * m10 + ny * m11 + nz * m12;
    const nw0 = nx * m20 + ny * m21 + nz * m22;
    const su0 = sx * m00 + sy * m01 + sz * m02;
    const sv0 = sx * m10 + sy * m11 + sz * m12;
    const sw0 = sx * m20 + sy * m21 + sz * m22;
    const st1 = (sx + hx * sz) * tangent;
    const st2 = sx * cx + sy * cy + sz * cz;
    const sn = sx * nx + sy * ny + sz * nz;

    let laid = 0;
    let whole = stopped === 0;
    for (let layer = 0; whole && layer < layers; layer++) {
      const from = 4 * layer * stride;
      const e1 = sampled * slopeAlong * deviates[from];
      const e2 = sampled * slopeAcross * deviates[from + 1];
      const mu = nu0 + e1 * t1u + e2 * t2u;
      const mv = nv0 + e1 * t1v + e2 * t2v;
      const mw = nw0 + e1 * t1w + e2 * t2w;
      const mm = 1 + e1 * e1 + e2 * e2;
      const sm = sn + e1 * st1 + e2 * st2;
      const twice = (2 * sm) / mm;
      const ru0 = twice * mu - su0;
      const rv0 = twice * mv - sv0;
      const rw0 = twice * mw - sw0;

      // The film at this incidence, and how it changes with the tilts.
      const cosine = sm / Math.sqrt(mm);
      const incidenceCell = cosine * FILM_CELLS;
      const lower = incidenceCell < FILM_CELLS ? incidenceCell | 0 : FILM_CELLS - 1;
      const r0 = filmReals[film + M_REFLECTANCE + lower];
      const rise = filmReals[film + M_REFLECTANCE + lower + 1] - r0;
      const reflectance = r0 + rise * (incidenceCell - lower);
      const gain = reflectance > 0 ? (rise * FILM_CELLS) / reflectance : 0;

      for (let lobe = 0; lobe < lobes; lobe++) {
        const sigma = lobe === 0 ? sigma1 : sigma2;
        let ru = ru0;
        let rv = rv0;
        let rw = rw0;
        if (sampled > 0 && sigma > 0) {
          const g1 = sampled * sigma * deviates[from + 2];
          const g2 = sampled * sigma * deviates[from + 3];
          const sign = rw >= 0 ? 1 : -1;
          const a = -1 / (sign + rw);
          const b = ru * rv * a;
          const qu = ru + g1 * (1 + sign * ru * ru * a) + g2 * b;
          const qv = rv + g1 * sign * b + g2 * (sign + rv * rv * a);
          rw += -g1 * sign * ru - g2 * rv;
          ru = qu;
          rv = qv;
        }
        const t = -placeW / rw;
        if (!(rw < 0 && t > RAY_START)) {
          whole = false;
          break;
        }
        const a = ru / rw;
        const b = rv / rw;
        // Tilts along and across: change of direction, then of the landing place.
        const alongM = (2 * (st1 - twice * e1)) / mm;
        const d1u = alongM * mu + twice * t1u;
        const d1v = alongM * mv + twice * t1v;
        const d1w = alongM * mw + twice * t1w;
        const acrossM = (2 * (st2 - twice * e2)) / mm;
        const d2u = acrossM * mu + twice * t2u;
        const d2v = acrossM * mv + twice * t2v;
        const d2w = acrossM * mw + twice * t2w;
        const j1u = t * (d1u - a * d1w);
        const j1v = t * (d1v - b * d1w);
        const j2u = t * (d2u - a * d2w);
        const j2v = t * (d2v - b * d2w);
        const scatter = linear * sigma * sigma;
        const round2 = scatter * t * t;
        const uu = varianceAlong * j1u * j1u + varianceAcross * j2u * j2u + round2 * (1 + a * a);
        const uv = varianceAlong * j1u * j1v + varianceAcross * j2u * j2v + round2 * a * b;
        const vv = varianceAlong * j1v * j1v + varianceAcross * j2v * j2v + round2 * (1 + b * b);
        // Second order moves the mean: bending of the reflection, of the projection, and weight by reflectance.
        const c1u = 2 * (st1 * t1u - sm * mu);
        const c1v = 2 * (st1 * t1v - sm * mv);
        const c1w = 2 * (st1 * t1w - sm * mw);
        const c2u = 2 * (st2 * t2u - sm * mu);
        const c2v = 2 * (st2 * t2v - sm * mv);
        const c2w = 2 * (st2 * t2w - sm * mw);
        const k1 = gain * st1 - d1w / rw;
        const k2 = gain * st2 - d2w / rw;
        const outward = (scatter * t) / rw;
        const u =
          placeU +
          t * ru +
          varianceAlong * (t * (c1u - a * c1w) + k1 * j1u) +
          varianceAcross * (t * (c2u - a * c2w) + k2 * j2u) +
          outward * a;
        const v =
          placeV +
          t * rv +
          varianceAlong * (t * (c1v - b * c1w) + k1 * j1v) +
          varianceAcross * (t * (c2v - b * c2w) + k2 * j2v) +
          outward * b;
        const at = PRINT * laid++;
        prints[at] =
          ((power * reflectance) / layers) * (lobes === 1 ? 1 : lobe === 0 ? lobeShare : 1 - lobeShare);
        prints[at + 1] = u;
        prints[at + 2] = v;
        prints[at + 3] = uu;
        prints[at + 4] = uv;
        prints[at + 5] = vv;
        if (!clear && !opens(view, bench, wx, wy, wz, home, prints, at)) {
          whole = false;
          break;
        }
      }
    }
    if (!whole) {
      for (let k = 0; k < nodes; k++) if (heldCell[k] >= 0) tally[heldCell[k]] += heldWatts[k];
      tally[place.footprints + FootprintSum.ByRays] += fanKept;
      tally[place.footprints + FootprintSum.RaySquares] += fanKept * fanKept;
      continue;
    }
    for (let p = 0; p < laid; p++) {
      const at = PRINT * p;
      const w = prints[at];
      const uu = prints[at + 3] * perCellU * perCellU;
      const uv = prints[at + 4] * perCellU * perCellV;
      const vv = prints[at + 5] * perCellV * perCellV;
      const u = (prints[at + 1] + windowU) * perCellU;
      const v = (prints[at + 2] + windowV) * perCellV;
      if (isWide(uu, uv, vv)) depositWide(tally, map, nu, nv, w, u, v, uu, uv, vv);
      else {
        bench.cdf ??= buildNormalCdf();
        depositNarrow(tally, map, nu, nv, w, u, v, uu, uv, vv, bench.cdf);
      }
      tally[place.footprints + FootprintSum.Laid] += w;
      tally[place.footprints + FootprintSum.Squares] += w * w;
      const spread = 4 * Math.PI * Math.sqrt((uu + 1 / 12) * (vv + 1 / 12) - uv * uv);
      tally[place.footprints + FootprintSum.SquaresPerArea] += (w * w * perCellU * perCellV) / spread;
    }
  }
  books.withhold = false;
  tally[layout.incident + home] += incident;
  tally[layout.absorbed + home] += absorbed;
  tally[counts + Fate.Intercepted] += caughtRays;
  tally[watts + Fate.Intercepted] += caughtWatts;
  tally[place.moments] += caughtWatts;
  tally[place.moments + 1] += momentU;
  tally[place.moments + 2] += momentV;
}

/**
 * Whether the way to a footprint is free: to its middle and to FEELERS places round it, as far as they lie in the window.
 * Together with the point's fan this finds nearly all edges that cut a footprint; what it misses is a thing that stands
 * between all of these rays.
 */
function opens(
  view: PreparedView,
  bench: Bench,
  wx: number,
  wy: number,
  wz: number,
  home: number,
  prints: Float64Array,
  at: number,
): boolean {
  const { scratch } = bench;
  const { ray } = scratch;
  const reals = view.receiverReals;
  const hb = home * RECEIVER_REALS;
  const alongU = Math.sqrt(prints[at + 3]);
  const lean = alongU > 0 ? prints[at + 4] / alongU : 0;
  const alongV = Math.sqrt(Math.max(0, prints[at + 5] - lean * lean));
  for (let feeler = 0; feeler <= FEELERS; feeler++) {
    const reach = feeler === 0 ? 0 : FEELER_REACH;
    const angle = (2 * Math.PI * feeler) / FEELERS;
    const p = reach * Math.cos(angle);
    const q = reach * Math.sin(angle);
    const u = prints[at + 1] + p * alongU;
    const v = prints[at + 2] + p * lean + q * alongV;
    if (Math.abs(u) > reals[hb + R_HALF_WINDOW_U] || Math.abs(v) > reals[hb + R_HALF_WINDOW_V]) continue;
    ray[RAY_O] = wx;
    ray[RAY_O + 1] = wy;
    ray[RAY_O + 2] = wz;
    for (let c = 0; c < 3; c++) {
      ray[RAY_D + c] =
        reals[hb + FRAME_ORIGIN + c] +
        u * reals[hb + FRAME_X + c] +
        v * reals[hb + FRAME_Y + c] -
        ray[RAY_O + c];
    }
    // The plane itself is at 1.
    ray[RAY_T] = 1 - 1e-9;
    const hit = nearestHit(view, scratch);
    if (hit >= 0) return false;
  }
  return true;
}
