/**
 * What a batch leaves behind: one flat Float64Array, laid out by `tallyLayout`. Ray counts are whole numbers far below
 * 2^53, so they are exact; adding two tallies is adding arrays. Imports nothing outside the kernel.
 *
 * A group is all facets that serve one receiver (their home receiver); there are as many groups as receivers.
 */

/** Where a ray ends. Every ray launched ends in exactly one of these. */
export const Fate = {
  /** The mirror point faces away from the sun: no light there. */
  Unlit: 0,
  /** Something stands between the sun and the mirror point. */
  Shaded: 1,
  /** Stopped after a mirror by the back or edge of a facet. */
  BlockedByFacet: 2,
  /** Stopped after a mirror by a blocker. */
  BlockedByBlocker: 3,
  /** Stopped after a mirror by the side or back of a receiver or its body. */
  BlockedByReceiver: 4,
  /** Through the aperture of the home receiver. */
  Intercepted: 5,
  /** Through the aperture of another receiver. */
  InterceptedElsewhere: 6,
  /** On the front of a receiver's body, beside the aperture. */
  SpilledOnReceiver: 7,
  SpilledOnGround: 8,
  SpilledToSky: 9,
  /** Still between mirrors at the bounce limit, or thrown into its own mirror by a slope error. */
  Lost: 10,
} as const;

export const FATES = 11;

/** Bins of the intercept curve: uniform in (size relative to the aperture)^2, from 0 to CURVE_MAX_SCALE^2, then one overflow. */
export const CURVE_BINS = 1024;
export const CURVE_MAX_SCALE = 4;
/** Bins of the spot histogram: uniform in (distance from the spot centre)^2 up to the receiver's `spotRadius`^2, then one overflow. */
export const SPOT_BINS = 1024;

/** Sums of all light that crosses the receiver's window from the front: power, power x u, power x v. */
export const MOMENTS = 3;

/**
 * What footprints leave besides the map, per home receiver; all 0 where rays make the map.
 * Watts of the mirror points (after the film) whose light was laid down as footprints; watts of those that were given to rays
 * instead; sum of squared watts of footprints; the same over the area each is spread on (4 pi x root of the determinant of
 * its covariance), 1/m2; sum of squared watts of points given to rays.
 */
export const FootprintSum = { Laid: 0, ByRays: 1, Squares: 2, SquaresPerArea: 3, RaySquares: 4 } as const;
export const FOOTPRINT_SUMS = 5;

export class ReceiverTally {
  /** Offset of the map: cell (iu, iv) at map + iv * nu + iu, watts. iu grows with u, iv with v, from the window's low corner. */
  declare readonly map: number;
  declare readonly nu: number;
  declare readonly nv: number;
  /** Offset of the intercept curve's CURVE_BINS + 1 bins, watts of home-group light only. */
  declare readonly curve: number;
  /** Offset of the spot histogram's SPOT_BINS + 1 bins, watts of home-group light only. */
  declare readonly spot: number;
  declare readonly moments: number;
  /** Offset of the FOOTPRINT_SUMS sums of `FootprintSum`. */
  declare readonly footprints: number;

  /** @param first offset of its first number */
  constructor(first: number, nu: number, nv: number) {
    this.map = first;
    this.nu = nu;
    this.nv = nv;
    this.curve = this.map + nu * nv;
    this.spot = this.curve + CURVE_BINS + 1;
    this.moments = this.spot + SPOT_BINS + 1;
    this.footprints = this.moments + MOMENTS;
  }
}

export class TallyLayout {
  declare readonly groups: number;
  /** counts + group * FATES + fate: rays. */
  declare readonly counts: number;
  /** watts + group * FATES + fate: watts at the end of the ray (0 for Unlit; unreduced sunlight for Shaded). */
  declare readonly watts: number;
  /** incident + group: watts of sunlight that would fall on the mirrors if nothing shaded them (after the cosine). */
  declare readonly incident: number;
  /** absorbed + group: watts lost in film (all bounces). */
  declare readonly absorbed: number;
  /** strayRays + receiver, strayWatts + receiver: light of other groups' mirrors through this receiver's aperture. */
  declare readonly strayRays: number;
  declare readonly strayWatts: number;
  declare readonly receivers: readonly ReceiverTally[];
  declare readonly length: number;

  /** @param cells map cells (nu, nv) of each receiver, flat: [nu0, nv0, nu1, nv1, ...] */
  constructor(cells: ArrayLike<number>) {
    const groups = cells.length / 2;
    this.groups = groups;
    this.counts = 0;
    this.watts = this.counts + groups * FATES;
    this.incident = this.watts + groups * FATES;
    this.absorbed = this.incident + groups;
    this.strayRays = this.absorbed + groups;
    this.strayWatts = this.strayRays + groups;
    let next = this.strayWatts + groups;
    const receivers: ReceiverTally[] = [];
    for (let r = 0; r < groups; r++) {
      const place = new ReceiverTally(next, cells[2 * r], cells[2 * r + 1]);
      next = place.footprints + FOOTPRINT_SUMS;
      receivers.push(place);
    }
    this.receivers = receivers;
    this.length = next;
  }
}

/**
 * @param cells map cells (nu, nv) of each receiver, flat: [nu0, nv0, nu1, nv1, ...]
 * @returns offsets into a tally of `length` doubles
 */
export function tallyLayout(cells: ArrayLike<number>): TallyLayout {
  return new TallyLayout(cells);
}
