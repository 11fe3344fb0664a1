/**
 * Where the light of one mirror point and one sun direction lands, exactly, by integrals along the edges of the regions asked about.
 *
 * The normal n leans to m = n + e1 t1 + e2 t2, e1 and e2 Gaussian. To send light from s along r the mirror must stand along s + r,
 * so the lean that hits a given point is known in closed form, no matter how large it is. A region's edge thus becomes a curve in
 * (p, q) = (e1 / sigma1, e2 / sigma2), and the chance to land in the region is the mass of a unit Gaussian within that curve. By Green's
 * theorem that is
 *   1/(2 pi) * integral of (1 - exp(-r^2 / 2)) d(angle), r^2 = p^2 + q^2,
 * along the curve, with d(angle) = (p dq - q dp) / r^2: entire functions only, so even steps round a circle and Gauss-Legendre nodes along
 * straight edges converge faster than any power. First moments, for a reflectance that changes with the incidence, come from
 *   mass of p = - integral of density dq, mass of q = + integral of density dp.
 */
import { derivatives, legendre } from './rules.js';
import { cross, dot, plus, squareTo, unit, type V3 } from './vectors.js';

export type Fault =
  | 'none'
  | 'slope once'
  | 'sagittal not reduced'
  | 'radius for focal length'
  | 'sun one percent wide';

/** Mirror point with its frame, and one lobe offset. */
export interface Lean {
  readonly from: V3;
  readonly normal: V3;
  /** In the plane along the strip, and square to it. */
  readonly along: V3;
  readonly across: V3;
  readonly sigmaAlong: number;
  readonly sigmaAcross: number;
  readonly sun: V3;
  /** Scatter of the film added to the unit reflected ray, along two axes square to it that are made from `reference`. */
  readonly scatter: readonly [number, number];
  readonly reference: V3;
  readonly fault: Fault;
}

export interface Mass {
  total: number;
  p: number;
  q: number;
}

const MOST = 4096;

/** Standard deviations beyond which there is no light. */
const FAR = 6.5;

/** Nodes and differences for straight pieces, made once for each count. */
export class EdgeRules {
  private readonly made = new Map<number, { at: Float64Array; weight: Float64Array; slope: Float64Array }>();

  of(count: number) {
    let rule = this.made.get(count);
    if (rule === undefined) {
      const { at, weight } = legendre(count, 0, 1);
      rule = { at, weight, slope: derivatives(at) };
      this.made.set(count, rule);
    }
    return rule;
  }
}

/** Coefficients of the central difference of eighth order. */
const DIFFERENCE = [4 / 5, -1 / 5, 4 / 105, -1 / 280];

export class Landing {
  private readonly p = new Float64Array(MOST);
  private readonly q = new Float64Array(MOST);
  private readonly rules = new EdgeRules();
  private sx = 0;
  private sy = 0;
  private sz = 0;
  private lean!: Lean;
  private outP = 0;
  private outQ = 0;
  private stretch = 1;
  private leastPerMetre = 0;
  private mostPerMetre = Number.POSITIVE_INFINITY;
  private middle: V3 | null = null;
  private away = 0;
  /** For the fault 'sagittal not reduced': axes in (along, across) and the factor. */
  private tangent: readonly [number, number] = [1, 0];
  private reduction = 1;

  set(lean: Lean): void {
    this.lean = lean;
    this.middle = null;
    [this.sx, this.sy, this.sz] = lean.sun;
    const [g1, g2] = lean.scatter;
    this.stretch = Math.sqrt(1 + g1 * g1 + g2 * g2);
    if (lean.fault === 'sagittal not reduced') {
      const [a, b] = [dot(lean.sun, lean.along), dot(lean.sun, lean.across)];
      const length = Math.hypot(a, b);
      this.tangent = length > 0 ? [a / length, b / length] : [1, 0];
      this.reduction = dot(lean.sun, lean.normal);
    }
  }

  /** Lean, in standard deviations, that sends the light to the point. */
  private hit(x: number, y: number, z: number): void {
    const { lean } = this;
    let rx = x - lean.from[0];
    let ry = y - lean.from[1];
    let rz = z - lean.from[2];
    const far = 1 / Math.sqrt(rx * rx + ry * ry + rz * rz);
    rx *= far;
    ry *= far;
    rz *= far;
    const [g1, g2] = lean.scatter;
    if (g1 !== 0 || g2 !== 0) {
      // The reflected ray r with r + g1 a(r) + g2 b(r) along the line wanted: r stands on both sides, so step by step.
      const [cx, cy, cz] = lean.reference;
      const lx = rx * this.stretch;
      const ly = ry * this.stretch;
      const lz = rz * this.stretch;
      for (let step = 0; step < 2; step++) {
        const part = cx * rx + cy * ry + cz * rz;
        let ax = cx - part * rx;
        let ay = cy - part * ry;
        let az = cz - part * rz;
        const scale = 1 / Math.sqrt(ax * ax + ay * ay + az * az);
        ax *= scale;
        ay *= scale;
        az *= scale;
        const bx = ry * az - rz * ay;
        const by = rz * ax - rx * az;
        const bz = rx * ay - ry * ax;
        rx = lx - g1 * ax - g2 * bx;
        ry = ly - g1 * ay - g2 * by;
        rz = lz - g1 * az - g2 * bz;
        const length = 1 / Math.sqrt(rx * rx + ry * ry + rz * rz);
        rx *= length;
        ry *= length;
        rz *= length;
      }
    }
    const mx = this.sx + rx;
    const my = this.sy + ry;
    const mz = this.sz + rz;
    const { normal, along, across } = lean;
    const down = 1 / (mx * normal[0] + my * normal[1] + mz * normal[2]);
    let e1 = (mx * along[0] + my * along[1] + mz * along[2]) * down;
    let e2 = (mx * across[0] + my * across[1] + mz * across[2]) * down;
    if (lean.fault === 'sagittal not reduced') {
      const [tx, ty] = this.tangent;
      const tangential = e1 * tx + e2 * ty;
      const sagittal = (e2 * tx - e1 * ty) * this.reduction;
      e1 = tangential * tx - sagittal * ty;
      e2 = tangential * ty + sagittal * tx;
    }
    const once = lean.fault === 'slope once' ? 2 : 1;
    this.outP = (once * e1) / lean.sigmaAlong;
    this.outQ = (once * e2) / lean.sigmaAcross;
  }

  /** Size of a circle's image in standard deviations: from its nodes far apart. */
  lengthOf(from: V3, to: V3): number {
    this.hit(...from);
    const [p, q] = [this.outP, this.outQ];
    this.hit(...to);
    return Math.hypot(this.outP - p, this.outQ - q);
  }

  /**
   * Standard deviations to a metre about `centre`, least and most, near enough; taken over for all scatters of one mirror point
   * and sun direction. Returns the most.
   */
  measure(centre: V3, x: V3, y: V3): number {
    const metre = 1e-2;
    this.hit(centre[0], centre[1], centre[2]);
    const [p, q] = [this.outP, this.outQ];
    this.hit(centre[0] + metre * x[0], centre[1] + metre * x[1], centre[2] + metre * x[2]);
    const [a, c] = [(this.outP - p) / metre, (this.outQ - q) / metre];
    this.hit(centre[0] + metre * y[0], centre[1] + metre * y[1], centre[2] + metre * y[2]);
    const [b, d] = [(this.outP - p) / metre, (this.outQ - q) / metre];
    // Singular values of the matrix with columns (a, c) and (b, d).
    const half = (a * a + b * b + c * c + d * d) / 2;
    const root = Math.sqrt(Math.max(0, half * half - (a * d - b * c) ** 2));
    this.leastPerMetre = Math.sqrt(Math.max(0, half - root));
    this.mostPerMetre = Math.sqrt(half + root);
    return this.mostPerMetre;
  }

  /** Chance (and first moments) of landing within a circle about `centre` in the plane of x and y. */
  circle(mass: Mass, centre: V3, x: V3, y: V3, radius: number, nodes: number): void {
    const { p, q } = this;
    // Wholly inside or outside by more than 6.5 standard deviations (5e-10 of the light): nothing to integrate.
    if (this.middle === null || this.middle !== centre) {
      this.middle = centre;
      this.hit(centre[0], centre[1], centre[2]);
      this.away = Math.hypot(this.outP, this.outQ);
    }
    if (this.away + FAR < 0.9 * radius * this.leastPerMetre) mass.total += 1;
    if (
      this.away + FAR < 0.9 * radius * this.leastPerMetre ||
      this.away - FAR > 1.1 * radius * this.mostPerMetre
    )
      return;
    const step = (2 * Math.PI) / nodes;
    for (let i = 0; i < nodes; i++) {
      const u = radius * Math.cos(i * step);
      const v = radius * Math.sin(i * step);
      this.hit(
        centre[0] + u * x[0] + v * y[0],
        centre[1] + u * x[1] + v * y[1],
        centre[2] + u * x[2] + v * y[2],
      );
      p[i] = this.outP;
      q[i] = this.outQ;
    }
    let total = 0;
    let ofP = 0;
    let ofQ = 0;
    let area = 0;
    for (let i = 0; i < nodes; i++) {
      let dp = 0;
      let dq = 0;
      for (let k = 1; k <= 4; k++) {
        const ahead = i + k < nodes ? i + k : i + k - nodes;
        const behind = i >= k ? i - k : i - k + nodes;
        dp += DIFFERENCE[k - 1] * (p[ahead] - p[behind]);
        dq += DIFFERENCE[k - 1] * (q[ahead] - q[behind]);
      }
      const half = (p[i] * p[i] + q[i] * q[i]) / 2;
      const density = Math.exp(-half);
      const turn = p[i] * dq - q[i] * dp;
      area += turn;
      total += (half < 1e-4 ? 1 - half / 2 + (half * half) / 6 : (1 - density) / half) * turn;
      ofP -= density * dq;
      ofQ += density * dp;
    }
    const sign = area >= 0 ? 1 : -1;
    mass.total += (sign * total) / (4 * Math.PI);
    mass.p += (sign * ofP) / (2 * Math.PI);
    mass.q += (sign * ofQ) / (2 * Math.PI);
  }

  /**
   * The same for a region bounded by pieces, each a smooth curve over 0..1, joined to a closed curve.
   * @param nodes per piece
   */
  pieces(mass: Mass, curves: readonly ((part: number) => V3)[], nodes: readonly number[]): void {
    const { p, q } = this;
    let total = 0;
    let ofP = 0;
    let ofQ = 0;
    let area = 0;
    curves.forEach((curve, which) => {
      const count = nodes[which];
      const rule = this.rules.of(count);
      for (let i = 0; i < count; i++) {
        const point = curve(rule.at[i]);
        this.hit(point[0], point[1], point[2]);
        p[i] = this.outP;
        q[i] = this.outQ;
      }
      for (let i = 0; i < count; i++) {
        let dp = 0;
        let dq = 0;
        for (let j = 0; j < count; j++) {
          dp += rule.slope[i * count + j] * p[j];
          dq += rule.slope[i * count + j] * q[j];
        }
        const half = (p[i] * p[i] + q[i] * q[i]) / 2;
        const density = Math.exp(-half);
        const turn = rule.weight[i] * (p[i] * dq - q[i] * dp);
        area += turn;
        total += (half < 1e-4 ? 1 - half / 2 + (half * half) / 6 : (1 - density) / half) * turn;
        ofP -= rule.weight[i] * density * dq;
        ofQ += rule.weight[i] * density * dp;
      }
    });
    const sign = area >= 0 ? 1 : -1;
    mass.total += (sign * total) / (4 * Math.PI);
    mass.p += (sign * ofP) / (2 * Math.PI);
    mass.q += (sign * ofQ) / (2 * Math.PI);
  }
}

/** The ray that a lean of (e1, e2) and the scatter send out, not a unit vector; and the cosine of its incidence. */
export function sentOut(lean: Lean, p: number, q: number): { ray: V3; cosine: number } {
  let e1 = p * lean.sigmaAlong;
  let e2 = q * lean.sigmaAcross;
  if (lean.fault === 'slope once') {
    e1 /= 2;
    e2 /= 2;
  }
  const m = unit(plus(plus(lean.normal, lean.along, e1), lean.across, e2));
  const cosine = dot(m, lean.sun);
  const r = plus(plus([0, 0, 0], m, 2 * cosine), lean.sun, -1);
  const a = squareTo(lean.reference, r);
  return { ray: plus(plus(r, a, lean.scatter[0]), cross(r, a), lean.scatter[1]), cosine };
}
