/**
 * The trace loop's query-free twin: the same draws and the same formulas, for the rays that go straight from a mirror into
 * its own receiver's aperture with nothing in the way, which are most of them, or beside it onto the front of that receiver's body,
 * which are most of the others. Its loops ask nothing of the rest of the scene, so
 * that the compiler can keep their numbers at hand; only where a shadow can fall does `shade` look back at the sun.
 * Every ray that is not that simple (it misses the receiver, is thrown into its own mirror) is left, unbooked, to
 * `traceFacet`, which can do them all. A test holds the two equal: the same rays to the same fates, watts to rounding.
 */
import type { Books } from './books.js';
import { lowestOfAperture } from './frames.js';
import { isShaded } from './hierarchy.js';
import type { Scratch } from './intersect.js';
import * as lattice from './lattice.js';
import { latticeStep } from './lattice.js';
import type { PreparedView } from './layout.js';
import * as layout from './layout.js';
import * as octave from './octave.js';
import * as rayLayout from './ray.js';
import * as tally from './tally.js';
import * as turn from './turn.js';

// Imported bindings are read anew at every use; constants of the module itself are compiled into the loop.
const { DIMENSIONS } = lattice;
const {
  B_HALF_X,
  B_HALF_Y,
  B_HALF_Z,
  BI_KIND,
  BLOCKER_INTS,
  BLOCKER_REALS,
  BlockerKind,
  F_CENTRE_X,
  F_CENTRE_Y,
  F_CURVE_A,
  F_HALF_X,
  F_HALF_Y,
  F_OUTLINE_AREA,
  F_SHADOW_HIGH_X,
  F_SHADOW_HIGH_Y,
  F_SHADOW_LOW_X,
  F_SHADOW_LOW_Y,
  FACET_INTS,
  FACET_REALS,
  FacetKind,
  FI_BLOCK_COUNT,
  FI_CLEAR,
  FI_FILM,
  FI_HOME,
  FI_KIND,
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
  M_UNIFORM,
  OutlineKind,
  R_HALF_U,
  R_HALF_V,
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
  RI_BODY,
  RI_KIND,
  ZONE_REALS,
} = layout;
const { OCTAVE_BITS } = octave;
const { CURVE_BINS, CURVE_MAX_SCALE, FATES, Fate, SPOT_BINS } = tally;
const { TURN_BITS } = turn;
const { RAY_D, RAY_O, RAY_START, RAY_T } = rayLayout;

/** Whether `traceDirect` can take rays of this facet at all. */
export function goesDirect(view: PreparedView, facet: number): boolean {
  const { facetInts, facetReals, shaderZones } = view;
  const ints = facet * FACET_INTS;
  const base = facet * FACET_REALS;
  const home = facetInts[ints + FI_HOME];
  // Its surface would need calls.
  const kind = facetInts[ints + FI_KIND];
  if (kind === FacetKind.Toroid) return false;
  // It knows no ground and no obstacles.
  if (facetInts[ints + FI_BLOCK_COUNT] > 0) return false;
  if (lowestOfAperture(view, home) < view.globals[G_GROUND]) return false;
  const halfX = facetReals[base + F_HALF_X];
  const halfY = facetInts[ints + FI_OUTLINE] === OutlineKind.Round ? halfX : facetReals[base + F_HALF_Y];
  const first = facetInts[ints + FI_SHADE_START] * ZONE_REALS;
  const last = first + facetInts[ints + FI_SHADE_COUNT] * ZONE_REALS;
  for (let zone = first; zone < last; zone += ZONE_REALS) {
    const covered =
      shaderZones[zone] <= facetReals[base + F_CENTRE_X] - halfX &&
      shaderZones[zone + 1] >= facetReals[base + F_CENTRE_X] + halfX &&
      shaderZones[zone + 2] <= facetReals[base + F_CENTRE_Y] - halfY &&
      shaderZones[zone + 3] >= facetReals[base + F_CENTRE_Y] + halfY;
    if (covered) return false;
  }
  return true;
}

export const FLIGHT_REALS = 8;
const WATCH_REALS = 8;

/** Rays that have left the mirror, one row of FLIGHT_REALS each, and what they are called. */
export class Flights {
  /** In the home receiver's frame: starting point u, v, w; direction u, v, w; watts before and after the film. */
  declare readonly reals: Float64Array;
  /** Index of each in its facet's lattice. */
  declare readonly index: Int32Array;
  /**
   * Of those that start where something may stand before the sun, how many there are; of each, the mirror point and the
   * direction to its part of the sun in the facet's frame (WATCH_REALS, two unused), and its row above, rising.
   */
  watched = 0;
  declare readonly watch: Float64Array;
  declare readonly watchedRow: Int32Array;

  /** Rows of those that miss the aperture. */
  declare readonly missed: Int32Array;

  /** @param rays most that are in flight at once */
  constructor(rays: number) {
    this.reals = new Float64Array(rays * FLIGHT_REALS);
    this.index = new Int32Array(rays);
    this.watch = new Float64Array(rays * WATCH_REALS);
    this.watchedRow = new Int32Array(rays);
    this.missed = new Int32Array(rays);
  }
}

/**
 * Traces the rays `from` to `to` of one facet's lattice as far as they go straight to the home receiver, and books those.
 * In steps, each with few enough numbers that most stay in registers.
 * @param shifts random shift of each facet's lattice
 * @param scratch on this facet: see `Scratch.startOn`
 * @param flights room for `to - from` rays
 * @param left receives the indices of the rays left to `traceFacet`; holds at least `to - from`
 * @returns how many are left
 */
export function traceDirect(
  view: PreparedView,
  scratch: Scratch,
  books: Books,
  facet: number,
  log2Rays: number,
  shifts: Int32Array,
  from: number,
  to: number,
  flights: Flights,
  left: Int32Array,
): number {
  const launched = launch(view, scratch, facet, log2Rays, shifts, from, to, flights, left);
  const flying = launched - shade(view, scratch, books, facet, launched, flights);
  scatter(view, facet, log2Rays, shifts, flying, flights);
  const home = view.facetInts[facet * FACET_INTS + FI_HOME];
  const tube = view.receiverInts[home * RECEIVER_INTS + RI_KIND] === ReceiverKind.Tube;
  const landing = tube ? landOnTube : landOnFlat;
  const missed = landing(view, books, facet, flying, flights);
  const leftBefore = to - from - launched;
  if (hasFace(view, facet)) return landOnFace(view, books, facet, missed, flights, left, leftBefore);
  for (let k = 0; k < missed; k++) left[leftBefore + k] = flights.index[flights.missed[k]];
  return leftBefore + missed;
}

/**
 * Draws mirror points, sun and slope, and reflects. Rays that another part of the scene may touch are left.
 * @returns how many rays are in flight; the others are the first of `left`
 */
export function launch(
  view: PreparedView,
  scratch: Scratch,
  facet: number,
  log2Rays: number,
  shifts: Int32Array,
  from: number,
  to: number,
  flights: Flights,
  left: Int32Array,
): number {
  const { facetReals, facetInts, filmReals, globals, sunTable, normalTable, turnTable, shaderZones } = view;
  const { sun, toReceiver } = scratch;
  const { reals: flight, index: order, watch, watchedRow } = flights;
  const spreadSun = !view.pointSun;

  const base = facet * FACET_REALS;
  const ints = facet * FACET_INTS;
  const film = facetInts[ints + FI_FILM] * FILM_REALS;
  const kind = facetInts[ints + FI_KIND];
  const bowl = kind === FacetKind.Paraboloid;
  const arc = kind === FacetKind.BentCircle;
  const bend = facetReals[base + F_CURVE_A];
  const round = facetInts[ints + FI_OUTLINE] === OutlineKind.Round;
  const halfX = facetReals[base + F_HALF_X];
  const halfY = facetReals[base + F_HALF_Y];
  const centreX = facetReals[base + F_CENTRE_X];
  const centreY = facetReals[base + F_CENTRE_Y];
  const shadowLowX = facetReals[base + F_SHADOW_LOW_X];
  const shadowHighX = facetReals[base + F_SHADOW_HIGH_X];
  const shadowLowY = facetReals[base + F_SHADOW_LOW_Y];
  const shadowHighY = facetReals[base + F_SHADOW_HIGH_Y];
  const shadowed = shadowLowX <= shadowHighX;
  const firstZone = facetInts[ints + FI_SHADE_START] * ZONE_REALS;
  const lastZone = firstZone + facetInts[ints + FI_SHADE_COUNT] * ZONE_REALS;
  const beamPerRay = (globals[G_BEAM] * facetReals[base + F_OUTLINE_AREA]) / 2 ** log2Rays;
  const slopeAlong = filmReals[film + M_SLOPE_ALONG];
  const slopeAcross = filmReals[film + M_SLOPE_ACROSS];
  // No scatter of the film turns a ray that leaves steeper than this into its own mirror (deviates end below 6.4).
  const grazing = 10 * Math.max(filmReals[film + M_SIGMA_1], filmReals[film + M_SIGMA_2]);
  const rough = slopeAlong > 0 || slopeAcross > 0;
  const reflectance = film + M_REFLECTANCE;
  const plainReflectance = filmReals[film + M_UNIFORM] === 1 ? filmReals[reflectance] : -1;

  const sunX = sun[0];
  const sunY = sun[1];
  const sunZ = sun[2];
  const ax = sun[3];
  const ay = sun[4];
  const az = sun[5];
  const bx = sun[6];
  const by = sun[7];
  const bz = sun[8];

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

  const shift = facet * DIMENSIONS;
  const step0 = latticeStep(0, log2Rays);
  const step1 = latticeStep(1, log2Rays);
  const step2 = latticeStep(2, log2Rays);
  const step3 = latticeStep(3, log2Rays);
  const step4 = latticeStep(4, log2Rays);
  const step5 = latticeStep(5, log2Rays);
  const shift0 = shifts[shift + 0];
  const shift1 = shifts[shift + 1];
  const shift2 = shifts[shift + 2];
  const shift3 = shifts[shift + 3];
  const shift4 = shifts[shift + 4];
  const shift5 = shifts[shift + 5];

  const last = to | 0;
  let leftCount = 0;
  let flying = 0;
  let watched = 0;
  for (let i = from | 0; i < last; i++) {
    const drawnAcross = (shift0 + Math.imul(i, step0)) | 0;
    const drawnAlong = (shift1 + Math.imul(i, step1)) | 0;
    let x: number;
    let y: number;
    if (round) {
      const radius = Math.sqrt(
        halfY * halfY + (halfX * halfX - halfY * halfY) * ((drawnAcross >>> 0) + 0.5) * 2 ** -32,
      );
      const cell = (drawnAlong >>> (32 - TURN_BITS)) << 2;
      const part = ((drawnAlong << TURN_BITS) >>> 0) * 2 ** -32;
      x = radius * (turnTable[cell] + turnTable[cell | 1] * part);
      y = radius * (turnTable[cell | 2] + turnTable[cell | 3] * part);
    } else {
      x = centreX + halfX * (drawnAlong + 0.5) * 2 ** -31;
      y = centreY + halfY * (drawnAcross + 0.5) * 2 ** -31;
    }
    let inZone = false;
    if (shadowed && x >= shadowLowX && x <= shadowHighX && y >= shadowLowY && y <= shadowHighY) {
      for (let zone = firstZone; zone < lastZone; zone += ZONE_REALS) {
        if (
          x >= shaderZones[zone] &&
          x <= shaderZones[zone + 1] &&
          y >= shaderZones[zone + 2] &&
          y <= shaderZones[zone + 3]
        ) {
          inZone = true;
          break;
        }
      }
    }
    let hx = 2 * bend * x;
    const hy = bowl ? 2 * bend * y : 0;
    let z = 0.5 * (hx * x + hy * y);
    if (arc) {
      // A circle of radius `bend`, as `surfaceHeight` and `surfaceSlope` have it.
      const below = Math.sqrt(bend * bend - x * x);
      hx = x / below;
      z = (x * x) / (bend + below);
    }

    let sx = sunX;
    let sy = sunY;
    let sz = sunZ;
    let beam = beamPerRay;
    if (spreadSun) {
      const drawnRadius = (shift2 + Math.imul(i, step2)) | 0;
      const drawnTurn = (shift3 + Math.imul(i, step3)) | 0;
      const v = drawnRadius >>> 1;
      const zeros = Math.clz32(v);
      const mantissa = (v << zeros) << 1;
      const at = ((zeros << OCTAVE_BITS) | (mantissa >>> (32 - OCTAVE_BITS))) << 1;
      const sinSquared = sunTable[at] + sunTable[at | 1] * (((mantissa << OCTAVE_BITS) >>> 0) * 2 ** -32);
      const sine = Math.sqrt(sinSquared);
      const cosine = Math.sqrt(1 - sinSquared);
      const cell = (drawnTurn >>> (32 - TURN_BITS)) << 2;
      const part = ((drawnTurn << TURN_BITS) >>> 0) * 2 ** -32;
      const p = sine * (turnTable[cell] + turnTable[cell | 1] * part);
      const q = sine * (turnTable[cell | 2] + turnTable[cell | 3] * part);
      sx = cosine * sunX + p * ax + q * bx;
      sy = cosine * sunY + p * ay + q * by;
      sz = cosine * sunZ + p * az + q * bz;
      beam = beamPerRay / cosine;
    }
    const power = beam * (sz - hx * sx - hy * sy);
    if (!(power > 0)) {
      left[leftCount++] = i;
      continue;
    }

    let mx = -hx;
    let my = -hy;
    let mz = 1;
    if (rough) {
      const drawnTiltAlong = (shift4 + Math.imul(i, step4)) | 0;
      const drawnTiltAcross = (shift5 + Math.imul(i, step5)) | 0;
      let v = drawnTiltAlong & 0x7fffffff;
      let zeros = Math.clz32(v);
      let mantissa = (v << zeros) << 1;
      let at = ((zeros << OCTAVE_BITS) | (mantissa >>> (32 - OCTAVE_BITS))) << 1;
      let size = normalTable[at] + normalTable[at | 1] * (((mantissa << OCTAVE_BITS) >>> 0) * 2 ** -32);
      const e1 = slopeAlong * size * (1 | (drawnTiltAlong >> 31));
      v = drawnTiltAcross & 0x7fffffff;
      zeros = Math.clz32(v);
      mantissa = (v << zeros) << 1;
      at = ((zeros << OCTAVE_BITS) | (mantissa >>> (32 - OCTAVE_BITS))) << 1;
      size = normalTable[at] + normalTable[at | 1] * (((mantissa << OCTAVE_BITS) >>> 0) * 2 ** -32);
      const e2 = slopeAcross * size * (1 | (drawnTiltAcross >> 31));
      const root = Math.sqrt(1 + hx * hx);
      let lean = e1;
      if (bowl) {
        lean = (e1 * Math.sqrt(1 + hx * hx + hy * hy)) / root;
        const twist = e2 / root;
        mx -= twist * hx * hy;
        mz += twist * hy;
      }
      mx += lean;
      my += e2 * root;
      mz += lean * hx;
    }
    const mm = mx * mx + my * my + mz * mz;
    const sm = sx * mx + sy * my + sz * mz;
    const twice = (2 * sm) / mm;
    const rx = twice * mx - sx;
    const ry = twice * my - sy;
    const rz = twice * mz - sz;

    if (!(rz - hx * rx - hy * ry > grazing * Math.sqrt(1 + hx * hx + hy * hy))) {
      left[leftCount++] = i;
      continue;
    }
    let kept = power * plainReflectance;
    if (plainReflectance < 0) {
      const incidenceCell = (Math.abs(sm) / Math.sqrt(mm)) * FILM_CELLS;
      const lower = incidenceCell < FILM_CELLS ? incidenceCell | 0 : FILM_CELLS - 1;
      const r0 = filmReals[reflectance + lower];
      kept = power * (r0 + (filmReals[reflectance + lower + 1] - r0) * (incidenceCell - lower));
    }
    const row = flying * FLIGHT_REALS;
    flight[row] = offU + x * m00 + y * m01 + z * m02;
    flight[row | 1] = offV + x * m10 + y * m11 + z * m12;
    flight[row | 2] = offW + x * m20 + y * m21 + z * m22;
    flight[row | 3] = rx * m00 + ry * m01 + rz * m02;
    flight[row | 4] = rx * m10 + ry * m11 + rz * m12;
    flight[row | 5] = rx * m20 + ry * m21 + rz * m22;
    flight[row | 6] = power;
    flight[row | 7] = kept;
    order[flying] = i;
    if (inZone) {
      const looking = watched * WATCH_REALS;
      watch[looking] = x;
      watch[looking | 1] = y;
      watch[looking | 2] = z;
      watch[looking | 3] = sx;
      watch[looking | 4] = sy;
      watch[looking | 5] = sz;
      watchedRow[watched] = flying;
      watched++;
    }
    flying++;
  }
  flights.watched = watched;
  return flying;
}

/**
 * Looks back at the sun from where something may stand in the way, books the rays that are shaded and takes them out of
 * flight.
 * @returns how many
 */
export function shade(
  view: PreparedView,
  scratch: Scratch,
  books: Books,
  facet: number,
  launched: number,
  flights: Flights,
): number {
  const { facetReals, facetInts } = view;
  const { reals: flight, index: order, watched, watch, watchedRow } = flights;
  const { tally, layout } = books;
  const { ray } = scratch;
  const base = facet * FACET_REALS;
  const shadeStart = facetInts[facet * FACET_INTS + FI_SHADE_START];
  const shadeCount = facetInts[facet * FACET_INTS + FI_SHADE_COUNT];
  let flying = launched;
  let shadedWatts = 0;
  // From the last one back: the row that fills a gap has been looked at already.
  for (let k = watched - 1; k >= 0; k--) {
    const looking = k * WATCH_REALS;
    for (let c = 0; c < 3; c++) {
      const ex = facetReals[base + FRAME_X + c];
      const ey = facetReals[base + FRAME_Y + c];
      const ez = facetReals[base + FRAME_Z + c];
      const origin = facetReals[base + FRAME_ORIGIN + c];
      ray[RAY_O + c] = origin + watch[looking] * ex + watch[looking | 1] * ey + watch[looking | 2] * ez;
      ray[RAY_D + c] = watch[looking | 3] * ex + watch[looking | 4] * ey + watch[looking | 5] * ez;
    }
    ray[RAY_T] = Number.POSITIVE_INFINITY;
    if (!isShaded(view, scratch, shadeStart, shadeCount, watch, looking)) continue;
    const row = watchedRow[k] * FLIGHT_REALS;
    shadedWatts += flight[row | 6];
    flying--;
    const last = flying * FLIGHT_REALS;
    for (let c = 0; c < FLIGHT_REALS; c++) flight[row + c] = flight[last + c];
    order[watchedRow[k]] = order[flying];
  }
  const home = facetInts[facet * FACET_INTS + FI_HOME];
  tally[layout.incident + home] += shadedWatts;
  tally[layout.counts + home * FATES + Fate.Shaded] += launched - flying;
  tally[layout.watts + home * FATES + Fate.Shaded] += shadedWatts;
  return launched - flying;
}

/** Scatters the rays in flight in the film's lobes: two axes across each ray, as `traceFacet` has them. */
export function scatter(
  view: PreparedView,
  facet: number,
  log2Rays: number,
  shifts: Int32Array,
  flying: number,
  flights: Flights,
): void {
  const { filmReals, normalTable } = view;
  const { reals: flight, index: order } = flights;
  const film = view.facetInts[facet * FACET_INTS + FI_FILM] * FILM_REALS;
  const lobeLimit = firstLobeLimit(filmReals[film + M_LOBE_SHARE]);
  const sigma1 = filmReals[film + M_SIGMA_1];
  const sigma2 = filmReals[film + M_SIGMA_2];
  const sigmaStep = sigma1 - sigma2;
  if (sigma1 === 0 && sigma2 === 0) return;
  const shift = facet * DIMENSIONS;
  const step6 = latticeStep(6, log2Rays);
  const step7 = latticeStep(7, log2Rays);
  const step8 = latticeStep(8, log2Rays);
  const shift6 = shifts[shift + 6];
  const shift7 = shifts[shift + 7];
  const shift8 = shifts[shift + 8];
  for (let n = 0; n < flying; n++) {
    const row = n * FLIGHT_REALS;
    const i = order[n];
    const du = flight[row | 3];
    const dv = flight[row | 4];
    const dw = flight[row | 5];
    const drawnP = (shift6 + Math.imul(i, step6)) | 0;
    const drawnQ = (shift7 + Math.imul(i, step7)) | 0;
    const drawnLobe = (shift8 + Math.imul(i, step8)) | 0;
    // 1 where the draw is below the share of the first lobe; a branch would be guessed wrong too often, as would the signs.
    const sigma = sigma2 + sigmaStep * (((drawnLobe >>> 1) - lobeLimit) >>> 31);
    let v = drawnP & 0x7fffffff;
    let zeros = Math.clz32(v);
    let mantissa = (v << zeros) << 1;
    let at = ((zeros << OCTAVE_BITS) | (mantissa >>> (32 - OCTAVE_BITS))) << 1;
    let size = normalTable[at] + normalTable[at | 1] * (((mantissa << OCTAVE_BITS) >>> 0) * 2 ** -32);
    const g1 = sigma * size * (1 | (drawnP >> 31));
    v = drawnQ & 0x7fffffff;
    zeros = Math.clz32(v);
    mantissa = (v << zeros) << 1;
    at = ((zeros << OCTAVE_BITS) | (mantissa >>> (32 - OCTAVE_BITS))) << 1;
    size = normalTable[at] + normalTable[at | 1] * (((mantissa << OCTAVE_BITS) >>> 0) * 2 ** -32);
    const g2 = sigma * size * (1 | (drawnQ >> 31));
    const sign = dw >= 0 ? 1 : -1;
    const a = -1 / (sign + dw);
    const b = du * dv * a;
    flight[row | 3] = du + g1 * (1 + sign * du * du * a) + g2 * b;
    flight[row | 4] = dv + g1 * sign * b + g2 * (sign + dv * dv * a);
    flight[row | 5] = dw + (-g1 * sign * du - g2 * dv);
  }
}

/** Books what the rays that ended at the home receiver carried, but for its map, curve and spot. */
function bookLanded(
  books: Books,
  home: number,
  fate: number,
  rays: number,
  incident: number,
  landedWatts: number,
  momentU: number,
  momentV: number,
): void {
  const { tally, layout } = books;
  const { moments } = layout.receivers[home];
  tally[layout.incident + home] += incident;
  tally[layout.absorbed + home] += incident - landedWatts;
  tally[layout.counts + home * FATES + fate] += rays;
  tally[layout.watts + home * FATES + fate] += landedWatts;
  tally[moments] += landedWatts;
  tally[moments + 1] += momentU;
  tally[moments + 2] += momentV;
}

/**
 * Books the rays in flight that come through a flat aperture and writes down the rows of the others.
 * @returns how many others
 */
function landOnFlat(
  view: PreparedView,
  books: Books,
  facet: number,
  flying: number,
  flights: Flights,
): number {
  const { receiverReals } = view;
  const { tally, layout } = books;
  const { reals: flight, missed } = flights;
  const home = view.facetInts[facet * FACET_INTS + FI_HOME];
  const hb = home * RECEIVER_REALS;
  const homeKind = view.receiverInts[home * RECEIVER_INTS + RI_KIND];
  const { map, curve, spot, nu, nv } = layout.receivers[home];
  const windowU = receiverReals[hb + R_HALF_WINDOW_U];
  const windowV = receiverReals[hb + R_HALF_WINDOW_V];
  const perCellU = nu / (2 * windowU);
  const perCellV = nv / (2 * windowV);
  const inverseU = receiverReals[hb + R_INVERSE_U];
  const inverseV = receiverReals[hb + R_INVERSE_V];
  const spotU = receiverReals[hb + R_SPOT_U];
  const spotV = receiverReals[hb + R_SPOT_V];
  const spotPerBin = receiverReals[hb + R_SPOT_INVERSE] * SPOT_BINS;
  const curvePerScale = CURVE_BINS / CURVE_MAX_SCALE ** 2;
  let misses = 0;
  let incident = 0;
  let caughtWatts = 0;
  let momentU = 0;
  let momentV = 0;

  for (let n = 0; n < flying; n++) {
    const row = n * FLIGHT_REALS;
    const ow = flight[row | 2];
    const dw = flight[row | 5];
    const t = -ow / dw;
    const u = flight[row] + t * flight[row | 3];
    const v = flight[row | 1] + t * flight[row | 4];
    const su = u * u * inverseU;
    const sv = v * v * inverseV;
    const scale =
      homeKind === ReceiverKind.Round
        ? su + sv
        : homeKind === ReceiverKind.Rectangle
          ? su > sv
            ? su
            : sv
          : su <= 1
            ? sv
            : Number.POSITIVE_INFINITY;
    if (!(dw < 0 && ow > 0 && scale <= 1 && t > RAY_START)) {
      missed[misses++] = n;
      continue;
    }

    const power = flight[row | 6];
    const kept = flight[row | 7];
    const iu = ((u + windowU) * perCellU) | 0;
    const iv = ((v + windowV) * perCellV) | 0;
    tally[map + (iv < nv ? iv : nv - 1) * nu + (iu < nu ? iu : nu - 1)] += kept;
    const awayU = homeKind === ReceiverKind.LineStrip ? 0 : u - spotU;
    const awayV = v - spotV;
    const spotBin = (awayU * awayU + awayV * awayV) * spotPerBin;
    tally[curve + ((scale * curvePerScale) | 0)] += kept;
    tally[spot + (spotBin < SPOT_BINS ? spotBin | 0 : SPOT_BINS)] += kept;
    incident += power;
    caughtWatts += kept;
    momentU += kept * u;
    momentV += kept * v;
  }

  bookLanded(books, home, Fate.Intercepted, flying - misses, incident, caughtWatts, momentU, momentV);
  return misses;
}

/** Rays that come nearer than this to the rim of a face are not told from those that pass it, m. */
const RIM = 1e-9;

/** Whether the home receiver has a body whose front nothing hides from the facet. */
function hasFace(view: PreparedView, facet: number): boolean {
  const home = view.facetInts[facet * FACET_INTS + FI_HOME];
  if (view.facetInts[facet * FACET_INTS + FI_CLEAR] !== 1) return false;
  const body = view.receiverInts[home * RECEIVER_INTS + RI_BODY];
  if (body < 0) return false;
  const halfX = view.blockerReals[body * BLOCKER_REALS + B_HALF_X];
  const halfY = view.blockerReals[body * BLOCKER_REALS + B_HALF_Y];
  return lowestOfAperture(view, home, [halfX, halfY]) - faceDepth(view, home, body) > view.globals[G_GROUND];
}

/** How far behind its receiver's aperture a body's front lies, m. */
function faceDepth(view: PreparedView, receiver: number, body: number): number {
  const { receiverReals, blockerReals } = view;
  const from = receiver * RECEIVER_REALS;
  const to = body * BLOCKER_REALS;
  let depth = -blockerReals[to + B_HALF_Z];
  for (let c = 0; c < 3; c++) {
    depth +=
      receiverReals[from + FRAME_Z + c] *
      (receiverReals[from + FRAME_ORIGIN + c] - blockerReals[to + FRAME_ORIGIN + c]);
  }
  return depth;
}

/**
 * Books the rays that miss the aperture, cross the window beside it and end on the front of the body just behind; the others are
 * added to `left`.
 * @param misses how many have missed the aperture
 * @param leftBefore how many are in `left` already
 * @returns how many are left in all
 */
function landOnFace(
  view: PreparedView,
  books: Books,
  facet: number,
  misses: number,
  flights: Flights,
  left: Int32Array,
  leftBefore: number,
): number {
  const { receiverReals, blockerReals } = view;
  const { tally, layout } = books;
  const { reals: flight, index: order, missed } = flights;
  const home = view.facetInts[facet * FACET_INTS + FI_HOME];
  const hb = home * RECEIVER_REALS;
  const homeKind = view.receiverInts[home * RECEIVER_INTS + RI_KIND];
  const { map, curve, spot, nu, nv } = layout.receivers[home];
  const windowU = receiverReals[hb + R_HALF_WINDOW_U];
  const windowV = receiverReals[hb + R_HALF_WINDOW_V];
  const perCellU = nu / (2 * windowU);
  const perCellV = nv / (2 * windowV);
  const inverseU = receiverReals[hb + R_INVERSE_U];
  const inverseV = receiverReals[hb + R_INVERSE_V];
  const spotU = receiverReals[hb + R_SPOT_U];
  const spotV = receiverReals[hb + R_SPOT_V];
  const spotPerBin = receiverReals[hb + R_SPOT_INVERSE] * SPOT_BINS;
  const curvePerScale = CURVE_BINS / CURVE_MAX_SCALE ** 2;
  const body = view.receiverInts[home * RECEIVER_INTS + RI_BODY];
  const round = view.blockerInts[body * BLOCKER_INTS + BI_KIND] === BlockerKind.Cylinder;
  const faceU = blockerReals[body * BLOCKER_REALS + B_HALF_X] - RIM;
  const faceV = blockerReals[body * BLOCKER_REALS + B_HALF_Y] - RIM;
  const depth = faceDepth(view, home, body);
  let leftCount = leftBefore;
  let incident = 0;
  let spilled = 0;
  let momentU = 0;
  let momentV = 0;

  for (let k = 0; k < misses; k++) {
    const row = missed[k] * FLIGHT_REALS;
    const ow = flight[row | 2];
    const du = flight[row | 3];
    const dv = flight[row | 4];
    const dw = flight[row | 5];
    const t = -ow / dw;
    const u = flight[row] + t * du;
    const v = flight[row | 1] + t * dv;
    // On the face, a little farther on.
    const further = -depth / dw;
    const fu = u + further * du;
    const fv = v + further * dv;
    const crosses = dw < 0 && ow > 0 && t > RAY_START && Math.abs(u) <= windowU && Math.abs(v) <= windowV;
    const stops =
      Math.abs(fu) <= windowU &&
      Math.abs(fv) <= windowV &&
      (round ? fu * fu + fv * fv <= faceU * faceU : Math.abs(fu) <= faceU && Math.abs(fv) <= faceV);
    if (!(crosses && stops)) {
      left[leftCount++] = order[missed[k]];
      continue;
    }

    const kept = flight[row | 7];
    const iu = ((u + windowU) * perCellU) | 0;
    const iv = ((v + windowV) * perCellV) | 0;
    tally[map + (iv < nv ? iv : nv - 1) * nu + (iu < nu ? iu : nu - 1)] += kept;
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
    const awayU = homeKind === ReceiverKind.LineStrip ? 0 : u - spotU;
    const awayV = v - spotV;
    const curveBin = scale * curvePerScale;
    const spotBin = (awayU * awayU + awayV * awayV) * spotPerBin;
    tally[curve + (curveBin < CURVE_BINS ? curveBin | 0 : CURVE_BINS)] += kept;
    tally[spot + (spotBin < SPOT_BINS ? spotBin | 0 : SPOT_BINS)] += kept;
    incident += flight[row | 6];
    spilled += kept;
    momentU += kept * u;
    momentV += kept * v;
  }

  const settled = misses - (leftCount - leftBefore);
  bookLanded(books, home, Fate.SpilledOnReceiver, settled, incident, spilled, momentU, momentV);
  return leftCount;
}

/** As `landOnFlat` for a tube: what meets its curved side from without. */
function landOnTube(
  view: PreparedView,
  books: Books,
  facet: number,
  flying: number,
  flights: Flights,
): number {
  const { receiverReals } = view;
  const { tally, layout } = books;
  const { reals: flight, missed } = flights;
  const home = view.facetInts[facet * FACET_INTS + FI_HOME];
  const hb = home * RECEIVER_REALS;
  const { map, curve, spot, nu, nv } = layout.receivers[home];
  const halfLength = receiverReals[hb + R_HALF_U];
  const radius = receiverReals[hb + R_HALF_V];
  const windowU = receiverReals[hb + R_HALF_WINDOW_U];
  const windowV = receiverReals[hb + R_HALF_WINDOW_V];
  const perCellU = nu / (2 * windowU);
  const perCellV = nv / (2 * windowV);
  const inverseV = receiverReals[hb + R_INVERSE_V];
  const spotV = receiverReals[hb + R_SPOT_V];
  const spotPerBin = receiverReals[hb + R_SPOT_INVERSE] * SPOT_BINS;
  const curvePerScale = CURVE_BINS / CURVE_MAX_SCALE ** 2;
  let misses = 0;
  let incident = 0;
  let caughtWatts = 0;
  let momentU = 0;
  let momentV = 0;

  for (let n = 0; n < flying; n++) {
    const row = n * FLIGHT_REALS;
    const oy = flight[row | 1];
    const oz = flight[row | 2];
    const dy = flight[row | 4];
    const dz = flight[row | 5];
    // As `hitClosedCylinder` has it: q carries the larger of two sums.
    const a = dy * dy + dz * dz;
    const b = oy * dy + oz * dz;
    const c = oy * oy + oz * oz - radius * radius;
    const discriminant = b * b - a * c;
    const t = c / (Math.sqrt(discriminant) - b);
    const u = flight[row] + t * flight[row | 3];
    if (!(discriminant >= 0 && b < 0 && c > 0 && t > RAY_START && Math.abs(u) < halfLength)) {
      missed[misses++] = n;
      continue;
    }

    const power = flight[row | 6];
    const kept = flight[row | 7];
    const v = radius * Math.atan2(oz + t * dz, oy + t * dy);
    const iu = ((u + windowU) * perCellU) | 0;
    const iv = ((v + windowV) * perCellV) | 0;
    tally[map + (iv < nv ? (iv > 0 ? iv : 0) : nv - 1) * nu + (iu < nu ? iu : nu - 1)] += kept;
    // The curve and the spot of a tube are measured by the closest approach to its axis.
    const miss = (oz * dy - oy * dz) / Math.sqrt(a);
    const scale = miss * miss * inverseV;
    const awayV = miss - spotV;
    const spotBin = awayV * awayV * spotPerBin;
    tally[curve + ((scale * curvePerScale) | 0)] += kept;
    tally[spot + (spotBin < SPOT_BINS ? spotBin | 0 : SPOT_BINS)] += kept;
    incident += power;
    caughtWatts += kept;
    momentU += kept * u;
    momentV += kept * v;
  }

  bookLanded(books, home, Fate.Intercepted, flying - misses, incident, caughtWatts, momentU, momentV);
  return misses;
}

/** The share of the first lobe as a limit on 31-bit draws: the same draws fall below it in both loops. */
export function firstLobeLimit(share: number): number {
  return Math.min(2 ** 31 - 1, Math.round(share * 2 ** 31)) | 0;
}
