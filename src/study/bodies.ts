/** Receivers in the way of recorded light: their shadow on the mirrors, and the light that neighbours' receivers stop. */
import { BODY_GAP } from '../field/receiver.js';
import type { Frame } from '../field/types.js';
import { addScaled, dot, norm, subtract } from '../field/vector.js';
import type { ReceiverDesign, Vec3 } from '../scene/types.js';
import type { LightGroup } from './light.js';

/** What is opaque of a receiver, in its own axes. */
interface Solid {
  /** Round about w, round about u (tubes), or with straight sides. */
  readonly kind: 'round' | 'tube' | 'box';
  readonly halfU: number;
  readonly halfV: number;
  /** From its front to its back along w, metres; the front lies at 0 or behind. */
  readonly front: number;
  readonly back: number;
}

function solidOf({ aperture, body }: ReceiverDesign): Solid {
  if (aperture.shape === 'tube') {
    const radius = aperture.diameter / 2;
    return { kind: 'tube', halfU: aperture.length / 2, halfV: radius, front: radius, back: -radius };
  }
  // Without a body the aperture itself is opaque from behind.
  const face = body ?? aperture;
  const [front, back] = body === null ? [0, 0] : [-BODY_GAP, -BODY_GAP - body.depth];
  return face.shape === 'round'
    ? { kind: 'round', halfU: face.diameter / 2, halfV: face.diameter / 2, front, back }
    : { kind: 'box', halfU: face.width / 2, halfV: face.height / 2, front, back };
}

/** Whether a line from (u, v, w) along (du, dv, dw) meets the solid between its start and `far`. */
function meets(
  solid: Solid,
  u: number,
  v: number,
  w: number,
  du: number,
  dv: number,
  dw: number,
  far: number,
): boolean {
  const { halfU, halfV, front, back } = solid;
  switch (solid.kind) {
    case 'round':
      return meetsRound(halfV, back, front, u, v, w, du, dv, dw, far);
    case 'tube':
      return meetsRound(halfV, -halfU, halfU, w, v, u, dw, dv, du, far);
    case 'box': {
      const ua = (-halfU - u) / du;
      const ub = (halfU - u) / du;
      const va = (-halfV - v) / dv;
      const vb = (halfV - v) / dv;
      const wa = (back - w) / dw;
      const wb = (front - w) / dw;
      const enter = Math.max(0, Math.min(ua, ub), Math.min(va, vb), Math.min(wa, wb));
      return enter <= Math.min(far, Math.max(ua, ub), Math.max(va, vb), Math.max(wa, wb));
    }
  }
}

/** The same for a cylinder about the third axis, between two planes across it. */
function meetsRound(
  radius: number,
  low: number,
  high: number,
  x: number,
  y: number,
  z: number,
  dx: number,
  dy: number,
  dz: number,
  far: number,
): boolean {
  const a = dx * dx + dy * dy;
  const b = x * dx + y * dy;
  const outside = x * x + y * y - radius * radius;
  const one = (low - z) / dz;
  const other = (high - z) / dz;
  // Along the axis the round side is never crossed, and says nothing of where.
  if (a === 0)
    return outside <= 0 && Math.max(0, Math.min(one, other)) <= Math.min(far, Math.max(one, other));
  const root = b * b - a * outside;
  if (!(root >= 0)) return false;
  const half = Math.sqrt(root);
  const enter = Math.max(0, (-b - half) / a, Math.min(one, other));
  const leave = Math.min(far, (half - b) / a, Math.max(one, other));
  return enter <= leave;
}

/** One of the bodies that may matter with the receivers in one place. */
interface Near {
  /** From the own receiver, in its axes. */
  readonly u: number;
  readonly v: number;
  readonly w: number;
  /** Part of the mirrors that have a dish, and so a receiver, on that side. */
  readonly share: number;
}

/** Distance of a point from a line through `from` along the unit vector `along`; infinite for what lies behind it. */
function besideLine(point: Vec3, from: Vec3, along: Vec3, room: number): number {
  const way = subtract(point, from);
  const ahead = dot(way, along);
  return ahead < -room ? Number.POSITIVE_INFINITY : norm(addScaled(way, along, -ahead));
}

/** The bodies about the light of a group, with its receivers in one place. */
export class Bodies {
  readonly #solid: Solid;
  readonly #shading: readonly Near[];
  readonly #stopping: readonly Near[];
  readonly #sun: Vec3;

  /** @param frame of the receiver in the frame of the group's rays */
  constructor({ design, mirrors, sun, others }: LightGroup, frame: Frame) {
    const solid = solidOf(design);
    this.#solid = solid;
    this.#sun = [dot(sun, frame.x), dot(sun, frame.y), dot(sun, frame.z)];
    const size = Math.hypot(solid.halfU, solid.halfV) + (solid.front - solid.back);
    const room = mirrors.radius + size;
    const way = subtract(frame.origin, mirrors.centre);
    const length = norm(way);
    const toReceiver: Vec3 = [way[0] / length, way[1] / length, way[2] / length];
    const shading: Near[] = [];
    const stopping: Near[] = [];
    for (const { along, share } of [{ along: 0, share: 1 }, ...others]) {
      const near = { u: along * frame.x[0], v: along * frame.y[0], w: along * frame.z[0], share };
      const place = addScaled(frame.origin, [1, 0, 0], along);
      if (besideLine(place, mirrors.centre, sun, room) <= room) shading.push(near);
      if (along !== 0 && besideLine(place, mirrors.centre, toReceiver, room) <= room) stopping.push(near);
    }
    this.#shading = shading;
    this.#stopping = stopping;
  }

  /**
   * Part of a ray that gets to its own receiver. All in the axes of that receiver.
   * @param far parameter at which it gets there
   */
  kept(u: number, v: number, w: number, du: number, dv: number, dw: number, far: number): number {
    const solid = this.#solid;
    const [su, sv, sw] = this.#sun;
    let kept = 1;
    for (let i = 0; i < this.#shading.length; i++) {
      const near = this.#shading[i];
      if (meets(solid, u - near.u, v - near.v, w - near.w, su, sv, sw, Number.POSITIVE_INFINITY))
        kept *= 1 - near.share;
    }
    for (let i = 0; i < this.#stopping.length; i++) {
      const near = this.#stopping[i];
      if (meets(solid, u - near.u, v - near.v, w - near.w, du, dv, dw, far)) kept *= 1 - near.share;
    }
    return kept;
  }
}
