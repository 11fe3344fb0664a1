/**
 * The trace loop. Rays start on a facet (no ray is spent on gaps), look back at the sun, are reflected, scattered by the
 * film, and flown until something stops them. One facet at a time, so that its numbers sit in locals.
 *
 * A facet's own frame serves for launch and reflection; the home receiver is met in its own frame; world coordinates are
 * needed only where something may stand in the way.
 */

import * as books from './books.js';
import { Books } from './books.js';
import { Flights, firstLobeLimit, goesDirect, traceDirect } from './direct.js';
import { lowestOfAperture } from './frames.js';
import { hash32 } from './hash.js';
import { isShaded, nearestHit, nearestOfList } from './hierarchy.js';
import { apertureScale, Scratch, surfaceHeight, surfaceSlope, toFrame } from './intersect.js';
import * as lattice from './lattice.js';
import { latticeStep } from './lattice.js';
import type { PreparedView } from './layout.js';
import * as layout from './layout.js';
import { normalDeviate } from './normal.js';
import * as octave from './octave.js';
import * as rayLayout from './ray.js';
import * as tally from './tally.js';
import { tallyLayout } from './tally.js';
import * as turn from './turn.js';

// Imported bindings are read anew at every use; constants of the module itself are compiled into the loop.
const { PASSING_DISTANCE, PASSING_POWER, PASSING_SCALE } = books;
const { DIMENSIONS } = lattice;
const {
  BI_BODY_OF,
  BLOCKER_INTS,
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
  FI_BLOCK_START,
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
  OutlineKind,
  R_HALF_U,
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
} = layout;
const { OCTAVE_BITS } = octave;
const { CURVE_BINS, CURVE_MAX_SCALE, FATES, Fate, SPOT_BINS } = tally;
const { TURN_BITS } = turn;
const { RAY_D, RAY_LD, RAY_LO, RAY_O, RAY_START, RAY_T, RAY_U, RAY_V, RAY_W } = rayLayout;

/** What happens along one ray's path, for replay. */
export const PathEvent = {
  /** On the mirror, watts of sunlight. */
  Launch: 0,
  /** Shaded by the primitive named. */
  Shaded: 1,
  /** Leaves a mirror, watts after the film. */
  Reflected: 2,
  /** Crosses a receiver's window beside the aperture. */
  Window: 3,
  /** Ends: the fate is given apart. */
  End: 4,
} as const;

/** Receives the steps of one ray; only for replay, so it may allocate. */
export interface PathRecorder {
  /** @param primitive id (facets, then receivers, then blockers), -1 for ground and sky */
  step(event: number, primitive: number, x: number, y: number, z: number, watts: number): void;
  /** Unit vector towards the part of the sun the ray came from, and the fate at the end. */
  sun(x: number, y: number, z: number): void;
  end(fate: number): void;
}

/** Rays of one facet that are looked at together: the list of those the direct way leaves fits the first-level cache. */
const CHUNK = 512;

const SAMPLED_FACETS = 16;
const SAMPLE_LOG2_RAYS = 6;

/**
 * Traces one batch and adds it to `tally`.
 * @param log2Rays per facet: 2^k rays, or -1 for a facet that is not traced
 * @param shifts random shift of each facet's lattice, DIMENSIONS 32-bit values per facet
 * @param batchKey 32 bits that tell this batch from every other one of this seed (later bounces draw from it)
 * @param tally laid out by `tallyLayout(view.cells)`
 */
export function traceBatch(
  view: PreparedView,
  log2Rays: Int32Array,
  shifts: Int32Array,
  batchKey: number,
  tally: Float64Array,
): void {
  const scratch = new Scratch(view);
  const books = new Books(tally, tallyLayout(view.cells));
  const indices = new Int32Array(CHUNK);
  const flights = new Flights(CHUNK);
  const traceRange = (facet: number, firstRay: number, start: number, end: number): void => {
    const log2 = log2Rays[facet];
    const direct = goesDirect(view, facet);
    scratch.startOn(view, facet);
    for (let from = start; from < end; from += CHUNK) {
      const to = Math.min(end, from + CHUNK);
      let count = to - from;
      if (direct) count = traceDirect(view, scratch, books, facet, log2, shifts, from, to, flights, indices);
      else for (let k = 0; k < count; k++) indices[k] = from + k;
      if (count > 0) {
        traceFacet(view, scratch, books, facet, log2, shifts, indices, count, firstRay, batchKey, null);
      }
    }
  };

  // A first few rays of facets all over the scene. The loops are compiled after some thousand rays; a path that had not been
  // met by then would throw the compiled code away, and what takes its place is up to twice as slow for good.
  const every = Math.ceil(view.facets / SAMPLED_FACETS);
  const isSampled = (facet: number) => facet % every === 0 && log2Rays[facet] >= SAMPLE_LOG2_RAYS;
  let firstRay = 0;
  for (let facet = 0; facet < view.facets; facet++) {
    if (isSampled(facet)) traceRange(facet, firstRay, 0, 2 ** SAMPLE_LOG2_RAYS);
    if (log2Rays[facet] >= 0) firstRay += 2 ** log2Rays[facet];
  }
  firstRay = 0;
  for (let facet = 0; facet < view.facets; facet++) {
    if (log2Rays[facet] < 0) continue;
    const rays = 2 ** log2Rays[facet];
    traceRange(facet, firstRay, isSampled(facet) ? 2 ** SAMPLE_LOG2_RAYS : 0, rays);
    firstRay += rays;
  }
}

/** Receives the steps of many rays, one ray after another. */
export interface RaysRecorder extends PathRecorder {
  /** A ray begins; all that is told until the next one belongs to it. */
  begin(ray: number): void;
}

/**
 * Traces chosen rays of a batch again and reports their steps.
 * @param rays indices within the batch, rising: facets in order, each with its 2^k rays
 * @throws RangeError where the batch has no such ray, or they do not rise
 */
export function recordRays(
  view: PreparedView,
  log2Rays: Int32Array,
  shifts: Int32Array,
  batchKey: number,
  rays: ArrayLike<number>,
  recorder: RaysRecorder,
): void {
  const scratch = new Scratch(view);
  const layout = tallyLayout(view.cells);
  const books = new Books(new Float64Array(layout.length), layout);
  const index = new Int32Array(1);
  let firstRay = 0;
  let next = 0;
  for (let facet = 0; facet < view.facets && next < rays.length; facet++) {
    const log2 = log2Rays[facet];
    if (log2 < 0) continue;
    const end = firstRay + 2 ** log2;
    if (rays[next] >= firstRay && rays[next] < end) scratch.startOn(view, facet);
    for (; rays[next] >= firstRay && rays[next] < end; next++) {
      index[0] = rays[next] - firstRay;
      recorder.begin(rays[next]);
      traceFacet(view, scratch, books, facet, log2, shifts, index, 1, firstRay, batchKey, recorder);
    }
    firstRay = end;
  }
  if (next < rays.length) throw new RangeError(`the batch has no ray ${rays[next]}`);
}

/**
 * Traces one ray of a batch again and reports its steps.
 * @param ray its index within the batch: facets in order, each with its 2^k rays
 * @throws RangeError where the batch has no such ray
 */
export function replayRay(
  view: PreparedView,
  log2Rays: Int32Array,
  shifts: Int32Array,
  batchKey: number,
  ray: number,
  recorder: PathRecorder,
): void {
  recordRays(view, log2Rays, shifts, batchKey, [ray], {
    begin: () => {},
    sun: (x, y, z) => recorder.sun(x, y, z),
    step: (event, primitive, x, y, z, watts) => recorder.step(event, primitive, x, y, z, watts),
    end: (fate) => recorder.end(fate),
  });
}

/** Traces the listed rays of the lattice of the facet that the scratch is on, whatever may become of them. */
function traceFacet(
  view: PreparedView,
  scratch: Scratch,
  books: Books,
  facet: number,
  log2Rays: number,
  shifts: Int32Array,
  indices: Int32Array,
  count: number,
  firstRay: number,
  batchKey: number,
  recorder: PathRecorder | null,
): void {
  const { facetReals, facetInts, filmReals, receiverReals, globals, sunTable, normalTable, turnTable } = view;
  const { tally, layout } = books;
  const { ray, sun, toReceiver } = scratch;
  const pointSun = view.pointSun;

  // The facet's constants.
  const base = facet * FACET_REALS;
  const ints = facet * FACET_INTS;
  const film = facetInts[ints + FI_FILM] * FILM_REALS;
  const home = facetInts[ints + FI_HOME];
  const kind = facetInts[ints + FI_KIND];
  const quadratic =
    kind === FacetKind.Flat || kind === FacetKind.BentParabola || kind === FacetKind.Paraboloid;
  const bendX = facetReals[base + F_CURVE_A];
  const bendY = kind === FacetKind.Paraboloid ? bendX : 0;
  const round = facetInts[ints + FI_OUTLINE] === OutlineKind.Round;
  const halfX = facetReals[base + F_HALF_X];
  const halfY = facetReals[base + F_HALF_Y];
  const centreX = facetReals[base + F_CENTRE_X];
  const centreY = facetReals[base + F_CENTRE_Y];
  const beamPerRay = (globals[G_BEAM] * facetReals[base + F_OUTLINE_AREA]) / 2 ** log2Rays;
  const slopeAlong = filmReals[film + M_SLOPE_ALONG];
  const slopeAcross = filmReals[film + M_SLOPE_ACROSS];
  const lobeLimit = firstLobeLimit(filmReals[film + M_LOBE_SHARE]);
  const sigma1 = filmReals[film + M_SIGMA_1];
  const sigma2 = filmReals[film + M_SIGMA_2];
  const sigmaStep = sigma1 - sigma2;
  const rough = slopeAlong > 0 || slopeAcross > 0;
  const scatters = sigma1 > 0 || sigma2 > 0;
  const shadeStart = facetInts[ints + FI_SHADE_START];
  const shadeCount = facetInts[ints + FI_SHADE_COUNT];
  const shadowLowX = facetReals[base + F_SHADOW_LOW_X];
  const shadowHighX = facetReals[base + F_SHADOW_HIGH_X];
  const shadowLowY = facetReals[base + F_SHADOW_LOW_Y];
  const shadowHighY = facetReals[base + F_SHADOW_HIGH_Y];
  const blockStart = facetInts[ints + FI_BLOCK_START];
  const blockCount = facetInts[ints + FI_BLOCK_COUNT];

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

  // From the facet frame straight into the home receiver's frame.
  const hb = home * RECEIVER_REALS;
  const homeKind = view.receiverInts[home * RECEIVER_INTS + RI_KIND];
  // The short way to the home aperture knows no ground.
  const flatHome = homeKind !== ReceiverKind.Tube && lowestOfAperture(view, home) >= globals[G_GROUND];
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

  // Point i of the lattice is i x step + shift in each dimension.
  const shift = facet * DIMENSIONS;
  const step0 = latticeStep(0, log2Rays);
  const step1 = latticeStep(1, log2Rays);
  const step2 = latticeStep(2, log2Rays);
  const step3 = latticeStep(3, log2Rays);
  const step4 = latticeStep(4, log2Rays);
  const step5 = latticeStep(5, log2Rays);
  const step6 = latticeStep(6, log2Rays);
  const step7 = latticeStep(7, log2Rays);
  const step8 = latticeStep(8, log2Rays);
  const shift0 = shifts[shift + 0];
  const shift1 = shifts[shift + 1];
  const shift2 = shifts[shift + 2];
  const shift3 = shifts[shift + 3];
  const shift4 = shifts[shift + 4];
  const shift5 = shifts[shift + 5];
  const shift6 = shifts[shift + 6];
  const shift7 = shifts[shift + 7];
  const shift8 = shifts[shift + 8];

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
  const slope = scratch.slope;
  let incident = 0;
  let absorbed = 0;
  let shadedRays = 0;
  let shadedWatts = 0;
  let caughtRays = 0;
  let caughtWatts = 0;
  let momentU = 0;
  let momentV = 0;

  for (let k = 0; k < count; k++) {
    const i = indices[k];
    const across = (shift0 + Math.imul(i, step0)) | 0;
    const along = (shift1 + Math.imul(i, step1)) | 0;
    const sunRadius = (shift2 + Math.imul(i, step2)) | 0;
    const sunTurn = (shift3 + Math.imul(i, step3)) | 0;
    const tiltAlong = (shift4 + Math.imul(i, step4)) | 0;
    const tiltAcross = (shift5 + Math.imul(i, step5)) | 0;
    const scatterP = (shift6 + Math.imul(i, step6)) | 0;
    const scatterQ = (shift7 + Math.imul(i, step7)) | 0;
    const lobe = (shift8 + Math.imul(i, step8)) | 0;
    // Where on the mirror: uniform over the outline.
    let x: number;
    let y: number;
    if (round) {
      const radius = Math.sqrt(
        halfY * halfY + (halfX * halfX - halfY * halfY) * ((across >>> 0) + 0.5) * 2 ** -32,
      );
      const cell = (along >>> (32 - TURN_BITS)) << 2;
      const part = ((along << TURN_BITS) >>> 0) * 2 ** -32;
      x = radius * (turnTable[cell] + turnTable[cell + 1] * part);
      y = radius * (turnTable[cell + 2] + turnTable[cell + 3] * part);
    } else {
      x = centreX + halfX * (along + 0.5) * 2 ** -31;
      y = centreY + halfY * (across + 0.5) * 2 ** -31;
    }
    let z: number;
    let hx: number;
    let hy: number;
    if (quadratic) {
      hx = 2 * bendX * x;
      hy = 2 * bendY * y;
      z = 0.5 * (hx * x + hy * y);
    } else {
      z = surfaceHeight(view, facet, x, y);
      surfaceSlope(view, facet, x, y, slope);
      hx = slope[0];
      hy = slope[1];
    }

    // Where on the sun.
    let sx = sunX;
    let sy = sunY;
    let sz = sunZ;
    let beam = beamPerRay;
    if (!pointSun) {
      const v = sunRadius >>> 1;
      const zeros = Math.clz32(v);
      const mantissa = (v << zeros) << 1;
      const at = ((zeros << OCTAVE_BITS) | (mantissa >>> (32 - OCTAVE_BITS))) << 1;
      const sinSquared = sunTable[at] + sunTable[at + 1] * (((mantissa << OCTAVE_BITS) >>> 0) * 2 ** -32);
      const sine = Math.sqrt(sinSquared);
      const cosine = Math.sqrt(1 - sinSquared);
      const cell = (sunTurn >>> (32 - TURN_BITS)) << 2;
      const part = ((sunTurn << TURN_BITS) >>> 0) * 2 ** -32;
      const p = sine * (turnTable[cell] + turnTable[cell + 1] * part);
      const q = sine * (turnTable[cell + 2] + turnTable[cell + 3] * part);
      sx = cosine * sunX + p * ax + q * bx;
      sy = cosine * sunY + p * ay + q * by;
      sz = cosine * sunZ + p * az + q * bz;
      // Drawn by its power on a plane that faces the sun's centre, so the beam square to itself is that much stronger.
      beam = beamPerRay / cosine;
    }

    // Sunlight on the surface element: beam x outline area x (N . s), N = (-h_x, -h_y, 1) being the element's own normal
    // times its area per outline area.
    const power = beam * (sz - hx * sx - hy * sy);
    if (recorder !== null) {
      recorder.sun(sx * xx + sy * yx + sz * zx, sx * xy + sy * yy + sz * zy, sx * xz + sy * yz + sz * zz);
      recorder.step(
        PathEvent.Launch,
        facet,
        gx + x * xx + y * yx + z * zx,
        gy + x * xy + y * yy + z * zy,
        gz + x * xz + y * yz + z * zz,
        Math.max(0, power),
      );
    }
    if (!(power > 0)) {
      tally[counts + Fate.Unlit] += 1;
      if (recorder !== null) recorder.end(Fate.Unlit);
      continue;
    }
    incident += power;

    // Shading: does anything stand between here and that part of the sun?
    if (shadeCount > 0 && x >= shadowLowX && x <= shadowHighX && y >= shadowLowY && y <= shadowHighY) {
      ray[RAY_O] = gx + x * xx + y * yx + z * zx;
      ray[RAY_O + 1] = gy + x * xy + y * yy + z * zy;
      ray[RAY_O + 2] = gz + x * xz + y * yz + z * zz;
      ray[RAY_D] = sx * xx + sy * yx + sz * zx;
      ray[RAY_D + 1] = sx * xy + sy * yy + sz * zy;
      ray[RAY_D + 2] = sx * xz + sy * yz + sz * zz;
      ray[RAY_T] = Number.POSITIVE_INFINITY;
      ray[RAY_LO] = x;
      ray[RAY_LO + 1] = y;
      if (isShaded(view, scratch, shadeStart, shadeCount, ray, RAY_LO)) {
        shadedRays++;
        shadedWatts += power;
        if (recorder !== null) recordShade(view, scratch, recorder, shadeStart, shadeCount);
        continue;
      }
    }

    // Slope error: the unit normal leans by Gaussian amounts in the planes along and across the strip, then the
    // reflection about the leaning normal is exact (2 s tangentially, 2 s cos i sagittally follow by themselves).
    let mx = -hx;
    let my = -hy;
    let mz = 1;
    if (rough) {
      // Two deviates, looked up as in `normalDeviate`.
      let v = tiltAlong & 0x7fffffff;
      let zeros = Math.clz32(v);
      let mantissa = (v << zeros) << 1;
      let at = ((zeros << OCTAVE_BITS) | (mantissa >>> (32 - OCTAVE_BITS))) << 1;
      let size = normalTable[at] + normalTable[at + 1] * (((mantissa << OCTAVE_BITS) >>> 0) * 2 ** -32);
      const e1 = slopeAlong * size * (1 | (tiltAlong >> 31));
      v = tiltAcross & 0x7fffffff;
      zeros = Math.clz32(v);
      mantissa = (v << zeros) << 1;
      at = ((zeros << OCTAVE_BITS) | (mantissa >>> (32 - OCTAVE_BITS))) << 1;
      size = normalTable[at] + normalTable[at + 1] * (((mantissa << OCTAVE_BITS) >>> 0) * 2 ** -32);
      const e2 = slopeAcross * size * (1 | (tiltAcross >> 31));
      // The normal here is N, not of unit length, so the leans are multiplied by |N|.
      const root = Math.sqrt(1 + hx * hx);
      let lean = e1;
      if (hy !== 0) {
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
    let rx = twice * mx - sx;
    let ry = twice * my - sy;
    let rz = twice * mz - sz;

    // Film: reflectance by incidence, all factors included.
    const incidenceCell = (Math.abs(sm) / Math.sqrt(mm)) * FILM_CELLS;
    const lower = incidenceCell < FILM_CELLS ? incidenceCell | 0 : FILM_CELLS - 1;
    const r0 = filmReals[film + M_REFLECTANCE + lower];
    const r1 = filmReals[film + M_REFLECTANCE + lower + 1];
    const kept = power * (r0 + (r1 - r0) * (incidenceCell - lower));
    absorbed += power - kept;

    // From here on in the home receiver's frame.
    let fu = rx * m00 + ry * m01 + rz * m02;
    let fv = rx * m10 + ry * m11 + rz * m12;
    let fw = rx * m20 + ry * m21 + rz * m22;
    if (scatters) {
      // Two axes across the reflected ray (Duff et al., J. Computer Graphics Techniques 6 (2017) 1); the lobe is round, so
      // their turn about the ray does not matter.
      const sigma = sigma2 + sigmaStep * (((lobe >>> 1) - lobeLimit) >>> 31);
      let v = scatterP & 0x7fffffff;
      let zeros = Math.clz32(v);
      let mantissa = (v << zeros) << 1;
      let at = ((zeros << OCTAVE_BITS) | (mantissa >>> (32 - OCTAVE_BITS))) << 1;
      let size = normalTable[at] + normalTable[at + 1] * (((mantissa << OCTAVE_BITS) >>> 0) * 2 ** -32);
      const g1 = sigma * size * (1 | (scatterP >> 31));
      v = scatterQ & 0x7fffffff;
      zeros = Math.clz32(v);
      mantissa = (v << zeros) << 1;
      at = ((zeros << OCTAVE_BITS) | (mantissa >>> (32 - OCTAVE_BITS))) << 1;
      size = normalTable[at] + normalTable[at + 1] * (((mantissa << OCTAVE_BITS) >>> 0) * 2 ** -32);
      const g2 = sigma * size * (1 | (scatterQ >> 31));
      const sign = fw >= 0 ? 1 : -1;
      const a = -1 / (sign + fw);
      const b = fu * fv * a;
      const qx = fu + g1 * (1 + sign * fu * fu * a) + g2 * b;
      const qy = fv + g1 * sign * b + g2 * (sign + fv * fv * a);
      fw += -g1 * sign * fu - g2 * fv;
      fu = qx;
      fv = qy;
      rx = fu * m00 + fv * m10 + fw * m20;
      ry = fu * m01 + fv * m11 + fw * m21;
      rz = fu * m02 + fv * m12 + fw * m22;
    }

    if (!(rz - hx * rx - hy * ry > 0)) {
      tally[counts + Fate.Lost] += 1;
      tally[watts + Fate.Lost] += kept;
      if (recorder !== null) {
        recorder.step(
          PathEvent.End,
          facet,
          gx + x * xx + y * yx + z * zx,
          gy + x * xy + y * yy + z * zy,
          gz + x * xz + y * yz + z * zz,
          kept,
        );
        recorder.end(Fate.Lost);
      }
      continue;
    }

    // Home aperture first: most rays end there.
    if (flatHome && recorder === null) {
      const ow = offW + x * m20 + y * m21 + z * m22;
      if (fw < 0 && ow > 0) {
        const t = -ow / fw;
        const u = offU + x * m00 + y * m01 + z * m02 + t * fu;
        const v = offV + x * m10 + y * m11 + z * m12 + t * fv;
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
        // Not from a mirror point that lies in the aperture's own plane: the general way does not see that either.
        if (scale <= 1 && t > RAY_START) {
          let free = true;
          if (blockCount > 0) {
            ray[RAY_O] = gx + x * xx + y * yx + z * zx;
            ray[RAY_O + 1] = gy + x * xy + y * yy + z * zy;
            ray[RAY_O + 2] = gz + x * xz + y * yz + z * zz;
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
            // Map, curve and spot of the home receiver, as `depositMap`, `recordHome` and `depositHome` do it.
            const iu = ((u + windowU) * perCellU) | 0;
            const iv = ((v + windowV) * perCellV) | 0;
            tally[map + (iv < nv ? iv : nv - 1) * nu + (iu < nu ? iu : nu - 1)] += kept;
            const du = homeKind === ReceiverKind.LineStrip ? 0 : u - spotU;
            const dv = v - spotV;
            const spotBin = (du * du + dv * dv) * spotPerBin;
            tally[curve + ((scale * (CURVE_BINS / CURVE_MAX_SCALE ** 2)) | 0)] += kept;
            tally[spot + (spotBin < SPOT_BINS ? spotBin | 0 : SPOT_BINS)] += kept;
            momentU += kept * u;
            momentV += kept * v;
            caughtRays++;
            caughtWatts += kept;
            continue;
          }
        }
      }
    }

    // Everything else flies through the whole scene.
    ray[RAY_O] = gx + x * xx + y * yx + z * zx;
    ray[RAY_O + 1] = gy + x * xy + y * yy + z * zy;
    ray[RAY_O + 2] = gz + x * xz + y * yz + z * zz;
    ray[RAY_D] = rx * xx + ry * yx + rz * zx;
    ray[RAY_D + 1] = rx * xy + ry * yy + rz * zy;
    ray[RAY_D + 2] = rx * xz + ry * yz + rz * zz;
    ray[RAY_W] = kept;
    if (recorder !== null) {
      recorder.step(PathEvent.Reflected, facet, ray[RAY_O], ray[RAY_O + 1], ray[RAY_O + 2], kept);
    }
    const fate = fly(view, scratch, books, home, firstRay + i, batchKey, recorder);
    tally[counts + fate] += 1;
    tally[watts + fate] += ray[RAY_W];
    depositHome(books, home);
  }

  tally[layout.incident + home] += incident;
  tally[layout.absorbed + home] += absorbed;
  tally[counts + Fate.Shaded] += shadedRays;
  tally[watts + Fate.Shaded] += shadedWatts;
  tally[counts + Fate.Intercepted] += caughtRays;
  tally[watts + Fate.Intercepted] += caughtWatts;
  tally[place.moments] += caughtWatts;
  tally[place.moments + 1] += momentU;
  tally[place.moments + 2] += momentV;
}

/** Follows the ray of the scratch through the whole scene, from mirror to mirror, until it ends. */
export function fly(
  view: PreparedView,
  scratch: Scratch,
  books: Books,
  home: number,
  rayIndex: number,
  batchKey: number,
  recorder: PathRecorder | null,
): number {
  const { ray } = scratch;
  const ground = view.globals[G_GROUND];
  books.passed = false;
  books.held = -1;
  for (let bounce = 1; ; bounce++) {
    ray[RAY_T] = Number.POSITIVE_INFINITY;
    if (ray[RAY_D + 2] < 0 && ray[RAY_O + 2] > ground)
      ray[RAY_T] = (ground - ray[RAY_O + 2]) / ray[RAY_D + 2];
    const onGround = ray[RAY_T] < Number.POSITIVE_INFINITY;
    const hit = nearestHit(view, scratch);
    const front = scratch.front;
    const t = ray[RAY_T];
    const u = ray[RAY_U];
    const v = ray[RAY_V];
    depositCrossings(view, scratch, books, t, books.withhold && bounce === 1 ? home : -1);
    if (recorder !== null) recordCrossings(view, scratch, recorder, t);
    recordHome(view, books, home, ray, hit === view.facets + home && front === 1);

    if (hit < 0) {
      const fate = onGround ? Fate.SpilledOnGround : Fate.SpilledToSky;
      if (recorder !== null) endAt(recorder, ray, -1, onGround ? t : 1, fate);
      return fate;
    }
    if (hit >= view.facets) {
      const receiver = hit - view.facets;
      let fate: number;
      if (receiver < view.receivers) {
        fate = Fate.BlockedByReceiver;
        if (front === 1) {
          ray[RAY_U] = u;
          ray[RAY_V] = v;
          depositMap(view, books, receiver, ray);
          if (receiver === home) {
            fate = Fate.Intercepted;
          } else {
            fate = Fate.InterceptedElsewhere;
            books.tally[books.layout.strayRays + receiver] += books.rayCount;
            books.tally[books.layout.strayWatts + receiver] += ray[RAY_W];
          }
        }
      } else {
        const bodyOf = view.blockerInts[(receiver - view.receivers) * BLOCKER_INTS + BI_BODY_OF];
        fate =
          bodyOf < 0 ? Fate.BlockedByBlocker : front === 1 ? Fate.SpilledOnReceiver : Fate.BlockedByReceiver;
      }
      if (recorder !== null) endAt(recorder, ray, hit, t, fate);
      return fate;
    }

    const fate = reflect(view, scratch, books, hit, t, home, rayIndex, bounce, batchKey);
    if (recorder !== null && fate < 0) {
      recorder.step(PathEvent.Reflected, hit, ray[RAY_O], ray[RAY_O + 1], ray[RAY_O + 2], ray[RAY_W]);
    }
    if (fate >= 0) {
      if (recorder !== null) endAt(recorder, ray, hit, t, fate);
      return fate;
    }
    if (bounce >= view.bounceLimit) {
      if (recorder !== null) recorder.end(Fate.Lost);
      return Fate.Lost;
    }
  }
}

/**
 * Reflects the ray off a facet it has met in flight, random numbers from the hash of (batch, ray, bounce).
 * @returns -1 where it goes on, else the fate that ended it
 */
function reflect(
  view: PreparedView,
  scratch: Scratch,
  books: Books,
  facet: number,
  t: number,
  home: number,
  rayIndex: number,
  bounce: number,
  batchKey: number,
): number {
  const { ray, slope } = scratch;
  const { facetReals, filmReals, normalTable } = view;
  const base = facet * FACET_REALS;
  toFrame(facetReals, base, ray);
  const dx = ray[RAY_LD];
  const dy = ray[RAY_LD + 1];
  const dz = ray[RAY_LD + 2];
  const length = Math.sqrt(dx * dx + dy * dy + dz * dz);
  // Against the flight: where the light comes from.
  const sx = -dx / length;
  const sy = -dy / length;
  const sz = -dz / length;
  const x = ray[RAY_LO] + t * dx;
  const y = ray[RAY_LO + 1] + t * dy;
  const z = ray[RAY_LO + 2] + t * dz;
  surfaceSlope(view, facet, x, y, slope);
  const hx = slope[0];
  const hy = slope[1];
  if (!(sz - hx * sx - hy * sy > 0)) return Fate.BlockedByFacet;

  const film = view.facetInts[facet * FACET_INTS + FI_FILM] * FILM_REALS;
  const perNormal = 1 / Math.sqrt(1 + hx * hx + hy * hy);
  const nx = -hx * perNormal;
  const ny = -hy * perNormal;
  const nz = perNormal;
  const tangent = 1 / Math.sqrt(1 + hx * hx);
  const e1 =
    filmReals[film + M_SLOPE_ALONG] * normalDeviate(normalTable, hash32(batchKey, rayIndex, bounce, 4));
  const e2 =
    filmReals[film + M_SLOPE_ACROSS] * normalDeviate(normalTable, hash32(batchKey, rayIndex, bounce, 5));
  const mx = nx + e1 * tangent + e2 * ny * hx * tangent;
  const my = ny + e2 * (nz - nx * hx) * tangent;
  const mz = nz + e1 * hx * tangent - e2 * ny * tangent;
  const mm = mx * mx + my * my + mz * mz;
  const sm = sx * mx + sy * my + sz * mz;
  let rx = ((2 * sm) / mm) * mx - sx;
  let ry = ((2 * sm) / mm) * my - sy;
  let rz = ((2 * sm) / mm) * mz - sz;

  const incidenceCell = (Math.abs(sm) / Math.sqrt(mm)) * FILM_CELLS;
  const lower = incidenceCell < FILM_CELLS ? incidenceCell | 0 : FILM_CELLS - 1;
  const r0 = filmReals[film + M_REFLECTANCE + lower];
  const r1 = filmReals[film + M_REFLECTANCE + lower + 1];
  const kept = ray[RAY_W] * (r0 + (r1 - r0) * (incidenceCell - lower));
  books.tally[books.layout.absorbed + home] += ray[RAY_W] - kept;
  ray[RAY_W] = kept;

  const choice = hash32(batchKey, rayIndex, bounce, 8) >>> 1;
  const sigma =
    choice < firstLobeLimit(filmReals[film + M_LOBE_SHARE])
      ? filmReals[film + M_SIGMA_1]
      : filmReals[film + M_SIGMA_2];
  const g1 = sigma * normalDeviate(normalTable, hash32(batchKey, rayIndex, bounce, 6));
  const g2 = sigma * normalDeviate(normalTable, hash32(batchKey, rayIndex, bounce, 7));
  const sign = rz >= 0 ? 1 : -1;
  const a = -1 / (sign + rz);
  const b = rx * ry * a;
  const qx = rx + g1 * (1 + sign * rx * rx * a) + g2 * b;
  const qy = ry + g1 * sign * b + g2 * (sign + ry * ry * a);
  rz += -g1 * sign * rx - g2 * ry;
  rx = qx;
  ry = qy;
  if (!(rx * nx + ry * ny + rz * nz > 0)) return Fate.Lost;

  for (let c = 0; c < 3; c++) {
    const ex = facetReals[base + FRAME_X + c];
    const ey = facetReals[base + FRAME_Y + c];
    const ez = facetReals[base + FRAME_Z + c];
    ray[RAY_O + c] = facetReals[base + FRAME_ORIGIN + c] + x * ex + y * ey + z * ez;
    ray[RAY_D + c] = rx * ex + ry * ey + rz * ez;
  }
  return -1;
}

/** Adds the ray's watts to the map cell at (RAY_U, RAY_V) and to the moments. */
function depositMap(view: PreparedView, books: Books, receiver: number, ray: Float64Array): void {
  books.tally[bookMoments(view, books, receiver, ray)] += ray[RAY_W];
}

/** Adds the ray's watts to the moments; returns the place in the tally of its map cell. */
function bookMoments(view: PreparedView, books: Books, receiver: number, ray: Float64Array): number {
  const place = books.layout.receivers[receiver];
  const base = receiver * RECEIVER_REALS;
  const u = ray[RAY_U];
  const v = ray[RAY_V];
  const power = ray[RAY_W];
  const halfU = view.receiverReals[base + R_HALF_WINDOW_U];
  const halfV = view.receiverReals[base + R_HALF_WINDOW_V];
  let iu = ((u + halfU) * (place.nu / (2 * halfU))) | 0;
  let iv = ((v + halfV) * (place.nv / (2 * halfV))) | 0;
  if (iu >= place.nu) iu = place.nu - 1;
  if (iv >= place.nv) iv = place.nv - 1;
  if (iu < 0) iu = 0;
  if (iv < 0) iv = 0;
  const tally = books.tally;
  tally[place.moments] += power;
  tally[place.moments + 1] += power * u;
  tally[place.moments + 2] += power * v;
  return place.map + iv * place.nu + iu;
}

/** Adds the ray in flight to its home receiver's intercept curve and spot histogram, where it has passed that receiver. */
export function depositHome(books: Books, home: number): void {
  if (!books.passed) return;
  const place = books.layout.receivers[home];
  const curveBin = books.passing[PASSING_SCALE] * (CURVE_BINS / CURVE_MAX_SCALE ** 2);
  const spotBin = books.passing[PASSING_DISTANCE] * SPOT_BINS;
  books.tally[place.curve + (curveBin < CURVE_BINS ? curveBin | 0 : CURVE_BINS)] +=
    books.passing[PASSING_POWER];
  books.tally[place.spot + (spotBin < SPOT_BINS ? spotBin | 0 : SPOT_BINS)] += books.passing[PASSING_POWER];
}

/**
 * Notes where a ray passes its home receiver: a flat one where it crosses the plane from the front (however far out), a tube
 * where it comes closest to the axis. Nothing is noted where the ray is stopped before. The first passing counts, unless
 * a mirror sends the ray back into the aperture: then that one does, so that the curve at the aperture's own size is
 * the light intercepted.
 */
function recordHome(
  view: PreparedView,
  books: Books,
  home: number,
  ray: Float64Array,
  caught: boolean,
): void {
  if (books.passed && !caught) return;
  const reals = view.receiverReals;
  const base = home * RECEIVER_REALS;
  const kind = view.receiverInts[home * RECEIVER_INTS + RI_KIND];
  toFrame(reals, base, ray);
  if (kind !== ReceiverKind.Tube) {
    if (!(ray[RAY_LD + 2] < 0)) return;
    const t = -ray[RAY_LO + 2] / ray[RAY_LD + 2];
    if (!(t > 0) || (t > ray[RAY_T] && !caught)) return;
    const u = ray[RAY_LO] + t * ray[RAY_LD];
    const v = ray[RAY_LO + 1] + t * ray[RAY_LD + 1];
    const du = kind === ReceiverKind.LineStrip ? 0 : u - reals[base + R_SPOT_U];
    const dv = v - reals[base + R_SPOT_V];
    books.passing[PASSING_SCALE] = apertureScale(view, home, u, v);
    books.passing[PASSING_DISTANCE] = (du * du + dv * dv) * reals[base + R_SPOT_INVERSE];
  } else {
    const oy = ray[RAY_LO + 1];
    const oz = ray[RAY_LO + 2];
    const dy = ray[RAY_LD + 1];
    const dz = ray[RAY_LD + 2];
    const square = dy * dy + dz * dz;
    const t = -(oy * dy + oz * dz) / square;
    if (!(t > 0) || (t > ray[RAY_T] && !caught)) return;
    const miss = (oz * dy - oy * dz) / Math.sqrt(square);
    const u = ray[RAY_LO] + t * ray[RAY_LD];
    const within = caught || Math.abs(u) <= reals[base + R_HALF_U];
    const away = miss - reals[base + R_SPOT_V];
    books.passing[PASSING_SCALE] = within
      ? miss * miss * reals[base + R_INVERSE_V]
      : Number.POSITIVE_INFINITY;
    books.passing[PASSING_DISTANCE] = away * away * reals[base + R_SPOT_INVERSE];
  }
  books.passed = true;
  books.passing[PASSING_POWER] = ray[RAY_W];
}

/**
 * Adds the ray's watts to the maps of all windows it crossed up to distance t.
 * @param withheld receiver whose map it leaves alone (see `Books.withhold`); -1 for none
 */
export function depositCrossings(
  view: PreparedView,
  scratch: Scratch,
  books: Books,
  t: number,
  withheld = -1,
): void {
  const { ray } = scratch;
  for (let k = 0; k < scratch.crossings; k++) {
    if (!(scratch.crossingT[k] < t + RAY_START)) continue;
    ray[RAY_U] = scratch.crossingU[k];
    ray[RAY_V] = scratch.crossingV[k];
    if (scratch.crossed[k] === withheld) books.held = bookMoments(view, books, withheld, ray);
    else depositMap(view, books, scratch.crossed[k], ray);
  }
}

function recordCrossings(view: PreparedView, scratch: Scratch, recorder: PathRecorder, limit: number): void {
  const { ray } = scratch;
  for (let k = 0; k < scratch.crossings; k++) {
    const t = scratch.crossingT[k];
    if (!(t < limit + RAY_START)) continue;
    recorder.step(
      PathEvent.Window,
      view.facets + scratch.crossed[k],
      ray[RAY_O] + t * ray[RAY_D],
      ray[RAY_O + 1] + t * ray[RAY_D + 1],
      ray[RAY_O + 2] + t * ray[RAY_D + 2],
      ray[RAY_W],
    );
  }
}

function recordShade(
  view: PreparedView,
  scratch: Scratch,
  recorder: PathRecorder,
  shadeStart: number,
  shadeCount: number,
): void {
  const { ray } = scratch;
  ray[RAY_T] = Number.POSITIVE_INFINITY;
  const shader = nearestOfList(view, scratch, view.shaders, shadeStart, shadeCount);
  const t = ray[RAY_T];
  recorder.step(
    PathEvent.Shaded,
    shader,
    ray[RAY_O] + t * ray[RAY_D],
    ray[RAY_O + 1] + t * ray[RAY_D + 1],
    ray[RAY_O + 2] + t * ray[RAY_D + 2],
    0,
  );
  recorder.end(Fate.Shaded);
}

function endAt(recorder: PathRecorder, ray: Float64Array, primitive: number, t: number, fate: number): void {
  recorder.step(
    PathEvent.End,
    primitive,
    ray[RAY_O] + t * ray[RAY_D],
    ray[RAY_O + 1] + t * ray[RAY_D + 1],
    ray[RAY_O + 2] + t * ray[RAY_D + 2],
    ray[RAY_W],
  );
  recorder.end(fate);
}
