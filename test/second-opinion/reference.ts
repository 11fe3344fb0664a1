/**
 * A second opinion on a scene: the same figures as the tracer's, by deterministic quadrature, sharing no code with the program. Mirror points and
 * sun directions are Gauss nodes (the mirror's lit stretches are cut at shadows' edges), film scatter is a rule of rings, and slope errors are
 * integrated exactly along the edges of the regions (see `landing.ts`). Slow, and restricted: one receiver is looked at, light is followed
 * from one mirror to the receiver, and only posts can stand in its way.
 */
import type { Film, Scene } from '../../src/scene/types.js';
import { type Fault, Landing, type Lean, type Mass, sentOut } from './landing.js';
import {
  type Mirror,
  type Placed,
  type Post,
  placeScene,
  type Solid,
  surface,
  type Target,
} from './placing.js';
import { legendre, type PlaneRule, roundGaussian } from './rules.js';
import { type SkyOrders, skyOf } from './sky.js';
import {
  type Axes,
  cross,
  dot,
  into,
  outOf,
  plus,
  size,
  squareTo,
  turned,
  unit,
  type V3,
} from './vectors.js';

export interface Orders extends SkyOrders {
  /** Nodes along and across a rectangle; round and over the radius of a round mirror. */
  readonly mirror: readonly [number, number];
  /** Rings and turns of each lobe's rule. */
  readonly lobes: readonly (readonly [number, number])[];
  /** Standard deviations of the slope error from node to node along the regions' edges: up to 1.1 costs nothing. */
  readonly edgeStep: number;
  /** Side of the mirror along which shadows' edges are looked for. */
  readonly cut: 'along' | 'across';
}

/** Openings relative to the aperture: the aperture itself, and circles (or strips) smaller and larger. */
export const OPENINGS = [0.25, 0.5, 1, 1.5, 2] as const;

export interface Opinion {
  /** W. */
  readonly incident: number;
  readonly shaded: number;
  readonly reflected: number;
  readonly blocked: number;
  /** W within each of OPENINGS. */
  readonly within: readonly number[];
  /** Centre of all light and mean squares about the receiver's middle, m and m2. Null where something blocks. */
  readonly moments: { u: number; v: number; uu: number; vv: number; uv: number } | null;
}

type Region = (landing: Landing, mass: Mass) => void;

/** Reflectance: linear in the incidence between entries, constant beyond. */
function reflectance(film: Film, incidence: number): number {
  const { incidence: angle, value } = film.reflectance;
  const factor = film.soilingFactor * film.ageingFactor;
  if (angle.length === 1 || incidence <= angle[0]) return factor * value[0];
  for (let i = 1; i < angle.length; i++) {
    if (incidence <= angle[i]) {
      const part = (incidence - angle[i - 1]) / (angle[i] - angle[i - 1]);
      return factor * (value[i - 1] + part * (value[i] - value[i - 1]));
    }
  }
  return factor * value[value.length - 1];
}

/** Nodes for a piece of that many standard deviations. */
const nodesFor = (length: number, step: number) => 6 + Math.ceil(length / step);

/** Nodes round a circle of that many standard deviations' radius. */
const roundNodes = (radius: number, step: number) =>
  Math.max(18, 8 + Math.ceil((2 * Math.PI * radius) / step));

/** How far to each side of the landing place the edge of a long region is followed, in standard deviations. */
const EDGE_REACH = 7.5;

/** Regions of the receiver seen from a mirror: chances to land within each opening. */
function openingsOf(
  target: Target,
  post: Post | null,
  lean: Lean,
  landing: Landing,
  step: number,
): { openings: Region[]; blocked: Region } {
  const { axes, design } = target;
  const { aperture } = design;
  const nothing: Region = () => {};
  const at = (u: number, v: number): V3 => outOf(axes, [u, v, 0]);
  if (aperture.shape === 'round') {
    const perMetre = landing.measure(axes.o, axes.x, axes.y);
    if (post === null) {
      const openings = OPENINGS.map((scale): Region => {
        const radius = (scale * aperture.diameter) / 2;
        const nodes = roundNodes(radius * perMetre, step);
        return (place, mass) => place.circle(mass, axes.o, axes.x, axes.y, radius, nodes);
      });
      return { openings, blocked: nothing };
    }
    const edges = silhouette(post, lean.from, axes);
    const openings = OPENINGS.map((scale): Region => {
      const radius = (scale * aperture.diameter) / 2;
      return (place, mass) => {
        for (const [nu, nv, d] of edges) {
          // Light passes on the side nu u + nv v >= d.
          if (d <= -radius) {
            place.circle(mass, axes.o, axes.x, axes.y, radius, roundNodes(radius * perMetre, step));
            continue;
          }
          if (d >= radius) continue;
          const middle = Math.atan2(nv, nu);
          const half = Math.acos(d / radius);
          const arc = (part: number) => {
            const angle = middle + half * (2 * part - 1);
            return at(radius * Math.cos(angle), radius * Math.sin(angle));
          };
          const [first, last] = [arc(0), arc(1)];
          const chord = (part: number) => plus(plus([0, 0, 0], last, 1 - part), first, part);
          place.pieces(
            mass,
            [arc, chord],
            [
              nodesFor(1.3 * 2 * half * radius * perMetre, step),
              nodesFor(1.3 * 2 * radius * Math.sin(half) * perMetre, step),
            ],
          );
        }
      };
    });
    const blocked: Region = (place, mass) => {
      const reach = 20 / perMetre;
      const ends = edges.map(([nu, nv, d]) => [
        at(nu * d - nv * reach, nv * d + nu * reach),
        at(nu * d + nv * reach, nv * d - nu * reach),
      ]);
      const corners = [ends[0][0], ends[0][1], ends[1][0], ends[1][1]];
      const long = nodesFor(1.3 * 2 * reach * perMetre, step);
      place.pieces(
        mass,
        corners.map(
          (corner, i) => (part: number) =>
            plus(plus([0, 0, 0], corner, 1 - part), corners[(i + 1) % 4], part),
        ),
        [long, 16, long, 16],
      );
    };
    return { openings, blocked };
  }
  if (post !== null) throw new Error('a post before a round aperture only');
  // Straight edges along u; their ends are cut where no light comes.
  const central = sentOut(lean, 0, 0).ray;
  const o = into(axes, lean.from);
  const d = turned(axes, central);
  const line = design.kind === 'line_plate' || design.kind === 'tube';
  const tube = aperture.shape === 'tube';
  const [halfU, halfV] = tube
    ? [aperture.length / 2, aperture.diameter / 2]
    : [aperture.width / 2, aperture.height / 2];
  const far = Math.hypot(o[1], o[2]);
  const edge = tube
    ? (u: number, w: number): V3 => {
        // Nearest point to the axis of the line from the mirror that misses it by w.
        const sine = w / far;
        const cosine = Math.sqrt(1 - sine * sine);
        const y = o[1] - cosine * (o[1] * cosine - o[2] * sine);
        const z = o[2] - cosine * (o[2] * cosine + o[1] * sine);
        return outOf(axes, [u, y, z]);
      }
    : at;
  const t = tube ? -(o[1] * d[1] + o[2] * d[2]) / (d[1] ** 2 + d[2] ** 2) : -o[2] / d[2];
  const middle = o[0] + t * d[0];
  const perU = landing.lengthOf(edge(middle, 0), edge(middle + 1e-3, 0)) / 1e-3;
  const perV = landing.lengthOf(edge(middle, 0), edge(middle, 1e-3)) / 1e-3;
  const openings = OPENINGS.map((scale): Region => {
    const v = halfV * scale;
    const wholeU = line ? halfU : halfU * scale;
    // Slanted light moves along u as it lands farther out in v.
    const reach = (EDGE_REACH * 1.6) / perU + 3 * v * Math.abs(d[0] / Math.hypot(d[1], d[2]));
    const left = line ? Math.max(-wholeU, middle - reach) : -wholeU;
    const right = line ? Math.min(wholeU, middle + reach) : wholeU;
    if (!(left < right)) return nothing;
    const long = nodesFor(1.3 * (right - left) * perU, step);
    const short = nodesFor(1.3 * 2 * v * perV, step);
    return (place, mass) =>
      place.pieces(
        mass,
        [
          (part) => edge(left + part * (right - left), -v),
          (part) => edge(right, v * (2 * part - 1)),
          (part) => edge(right - part * (right - left), v),
          (part) => edge(left, v * (1 - 2 * part)),
        ],
        [long, short, long, short],
      );
  });
  return { openings, blocked: nothing };
}

/**
 * Edges of a long post's shadow on the receiver's plane, seen from a point: the planes through the point that touch the post. Each
 * as (nu, nv, d): light passes where nu u + nv v >= d, (nu, nv) a unit vector.
 */
function silhouette(post: Post, from: V3, axes: Axes): readonly (readonly [number, number, number])[] {
  const towards = plus(post.from, from, -1);
  const across = plus(towards, post.along, -dot(towards, post.along));
  const distance = size(across);
  const ahead = unit(across);
  const side = cross(post.along, ahead);
  const sine = post.radius / distance;
  const cosine = Math.sqrt(1 - sine * sine);
  return [1, -1].map((way) => {
    // The touching plane holds post.along and ahead cos + way side sin; outwards of it the light passes.
    const outwards = plus(plus([0, 0, 0], side, way * cosine), ahead, -sine);
    const nu = dot(outwards, axes.x);
    const nv = dot(outwards, axes.y);
    const length = Math.hypot(nu, nv);
    return [nu / length, nv / length, -dot(outwards, plus(axes.o, from, -1)) / length] as const;
  });
}

/** Stretches of [low, high] where `dark` is false: looked for at even steps, cut by halving. */
function litStretches(
  low: number,
  high: number,
  steps: number,
  dark: (at: number) => boolean,
): [number, number][] {
  const cut = (a: number, b: number) => {
    const first = dark(a);
    let [from, to] = [a, b];
    for (let step = 0; step < 34; step++) {
      const middle = (from + to) / 2;
      if (dark(middle) === first) from = middle;
      else to = middle;
    }
    return (from + to) / 2;
  };
  const stretches: [number, number][] = [];
  let start: number | null = null;
  let before = low;
  let wasDark = dark(low);
  if (!wasDark) start = low;
  for (let i = 1; i <= steps; i++) {
    const at = low + ((high - low) * i) / steps;
    const isDark = dark(at);
    if (isDark !== wasDark) {
      const edge = cut(before, at);
      if (isDark && start !== null) stretches.push([start, edge]);
      start = isDark ? null : edge;
    }
    before = at;
    wasDark = isDark;
  }
  if (!wasDark && start !== null) stretches.push([start, high]);
  return stretches;
}

/** Solids that could come between the mirror and the sun. */
function possible(mirror: Mirror, index: number, solids: readonly Solid[], sun: V3, limit: number): Solid[] {
  const { outline, axes } = mirror;
  const own = outline.kind === 'round' ? outline.diameter / 2 : Math.hypot(outline.length, outline.width) / 2;
  return solids.filter((solid) => {
    if (solid.mirror === index) return false;
    const away = plus(solid.centre, axes.o, -1);
    const ahead = dot(away, sun);
    const reach = solid.reach + 1.2 * own;
    return (
      ahead > -reach && size(plus(away, sun, -ahead)) < reach + Math.max(0, ahead) * (limit * 1.05) + 1e-3
    );
  });
}

export interface Asked {
  readonly orders: Orders;
  readonly fault?: Fault;
  /** Index of the receiver looked at, with the mirrors that serve it; 0 unless said. */
  readonly receiver?: number;
}

/** @throws Error where the scene holds something the second opinion cannot do */
export function secondOpinion(scene: Scene, asked: Asked): Opinion {
  const { orders, fault = 'none', receiver = 0 } = asked;
  if (scene.sun.direction.kind !== 'angles') throw new Error('the sun must be given by angles');
  const placed: Placed = placeScene(scene, fault === 'radius for focal length');
  const sky = skyOf(
    scene.sun.sunshape,
    scene.sun.direction,
    scene.sun.dni,
    orders,
    fault === 'sun one percent wide' ? 1.01 : 1,
  );
  const centre = skyOf({ kind: 'point' }, scene.sun.direction, 1, orders).towards[0];
  const target = placed.targets[receiver];
  const post = placed.posts[0] ?? null;
  const landing = new Landing();
  const mass: Mass = { total: 0, p: 0, q: 0 };
  const sums = { incident: 0, lit: 0, reflected: 0, blocked: 0, u: 0, v: 0, uu: 0, vv: 0, uv: 0 };
  const within = OPENINGS.map(() => 0);
  const leans = roundGaussian(1, 6);

  placed.mirrors.forEach((mirror, index) => {
    if (mirror.home !== receiver) return;
    const { axes, outline, film } = mirror;
    const even = film.reflectance.value.length === 1;
    const scatters: { p: number; q: number; weight: number }[] = film.lobes.flatMap((lobe, which) => {
      if (lobe.sigma === 0) return [{ p: 0, q: 0, weight: lobe.weight }];
      const rule: PlaneRule = roundGaussian(...orders.lobes[which]);
      return Array.from(rule.weight, (weight, i) => ({
        p: lobe.sigma * rule.p[i],
        q: lobe.sigma * rule.q[i],
        weight: lobe.weight * weight,
      }));
    });
    const reference = squareTo(target.axes.x, unit(plus(target.axes.o, axes.o, -1)));
    const solids = possible(mirror, index, placed.solids, centre, sky.limit);
    const stand = (x: number, y: number) => {
      const [h, hx, hy] = surface(mirror.shape, x, y);
      return { point: outOf(axes, [x, y, h]), slopes: [hx, hy] as const };
    };
    const leanAt = (x: number, y: number, sun: V3, scatter: readonly [number, number]): Lean => {
      const { point, slopes } = stand(x, y);
      const flat: Axes = { ...axes, o: [0, 0, 0] };
      const normal = unit(outOf(flat, [-slopes[0], -slopes[1], 1]));
      const along = unit(outOf(flat, [1, 0, slopes[0]]));
      return {
        from: point,
        normal,
        along,
        across: cross(normal, along),
        sigmaAlong: film.slopeErrorAlong,
        sigmaAcross: film.slopeErrorAcross,
        sun,
        scatter,
        reference,
        fault,
      };
    };

    // The two parameters over the outline: `outer` at fixed nodes, `inner` cut at shadows' edges.
    const round = outline.kind === 'round';
    const alongCut = orders.cut === 'along';
    const place = (outer: number, inner: number): readonly [number, number] => {
      if (round) return [inner * Math.cos(outer), inner * Math.sin(outer)];
      return alongCut ? [inner, outer] : [outer, inner];
    };
    const halves = round
      ? [0, 0]
      : alongCut
        ? [outline.width / 2, outline.length / 2]
        : [outline.length / 2, outline.width / 2];
    const middles = round
      ? [0, 0]
      : alongCut
        ? [outline.centre[1], outline.centre[0]]
        : [outline.centre[0], outline.centre[1]];
    const [innerLow, innerHigh] = round
      ? [outline.holeDiameter / 2, outline.diameter / 2]
      : [middles[1] - halves[1], middles[1] + halves[1]];
    const plainCounts = round || !alongCut ? orders.mirror : [orders.mirror[1], orders.mirror[0]];
    // A shadow's edge has a root at its ends, so the fixed nodes are twice as many where there are shadows.
    const counts = solids.length > 0 && !round ? [2 * plainCounts[0], plainCounts[1]] : plainCounts;
    const outerRule = round
      ? {
          at: Float64Array.from({ length: counts[0] }, (_, i) => ((i + 0.25) * 2 * Math.PI) / counts[0]),
          weight: new Float64Array(counts[0]).fill((2 * Math.PI) / counts[0]),
        }
      : legendre(counts[0], middles[0] - halves[0], middles[0] + halves[0]);
    const whole = legendre(counts[1], innerLow, innerHigh);
    const rules = Array.from({ length: counts[1] + 1 }, (_, count) =>
      count > 0 ? legendre(count, 0, 1) : null,
    );
    const steps = Math.ceil(Math.min(200, Math.max(24, (innerHigh - innerLow) / 0.006)));

    sky.towards.forEach((sun, which) => {
      const irradiance = sky.irradiance[which];
      const local = turned(axes, sun);
      for (let a = 0; a < outerRule.at.length; a++) {
        const outer = outerRule.at[a];
        const lightAt = (inner: number) => {
          const [x, y] = place(outer, inner);
          const [, hx, hy] = surface(mirror.shape, x, y);
          return (
            irradiance *
            outerRule.weight[a] *
            (round ? inner : 1) *
            (local[2] - hx * local[0] - hy * local[1])
          );
        };
        for (let b = 0; b < whole.at.length; b++) sums.incident += whole.weight[b] * lightAt(whole.at[b]);
        const stretches: [number, number][] =
          solids.length === 0
            ? [[innerLow, innerHigh]]
            : litStretches(innerLow, innerHigh, steps, (inner) => {
                const { point } = stand(...place(outer, inner));
                return solids.some((solid) => solid.meets(point, sun));
              });
        for (const [low, high] of stretches) {
          const wanted = Math.ceil((counts[1] * (high - low)) / (innerHigh - innerLow)) + 2;
          const rule = rules[Math.min(counts[1], wanted)]!;
          for (let b = 0; b < rule.at.length; b++) {
            const inner = low + (high - low) * rule.at[b];
            const watts = (high - low) * rule.weight[b] * lightAt(inner);
            const [x, y] = place(outer, inner);
            sums.lit += watts;
            const plain = leanAt(x, y, sun, [0, 0]);
            landing.set(plain);
            const { openings, blocked } = openingsOf(target, post, plain, landing, orders.edgeStep);
            // Mean reflectance over the leans, and how it goes with them.
            let mean = reflectance(film, 0);
            let perP = 0;
            let perQ = 0;
            if (!even) {
              mean = 0;
              for (let k = 0; k < leans.weight.length; k++) {
                const value = reflectance(film, Math.acos(sentOut(plain, leans.p[k], leans.q[k]).cosine));
                mean += leans.weight[k] * value;
                perP += leans.weight[k] * leans.p[k] * value;
                perQ += leans.weight[k] * leans.q[k] * value;
              }
            }
            sums.reflected += watts * mean;
            for (const scatter of scatters) {
              const lean = { ...plain, scatter: [scatter.p, scatter.q] as const };
              const power = watts * scatter.weight;
              landing.set(lean);
              const chance = (region: Region) => {
                mass.total = 0;
                mass.p = 0;
                mass.q = 0;
                region(landing, mass);
                return power * (mean * mass.total + perP * mass.p + perQ * mass.q);
              };
              for (let k = 0; k < OPENINGS.length; k++) within[k] += chance(openings[k]);
              if (post !== null) {
                sums.blocked += chance(blocked);
                continue;
              }
              if (target.design.aperture.shape === 'tube') continue;
              for (let k = 0; k < leans.weight.length; k++) {
                const { ray } = sentOut(lean, leans.p[k], leans.q[k]);
                const o = into(target.axes, lean.from);
                const d = turned(target.axes, ray);
                const t = -o[2] / d[2];
                const u = o[0] + t * d[0];
                const v = o[1] + t * d[1];
                const part = power * leans.weight[k] * (mean + perP * leans.p[k] + perQ * leans.q[k]);
                sums.u += part * u;
                sums.v += part * v;
                sums.uu += part * u * u;
                sums.vv += part * v * v;
                sums.uv += part * u * v;
              }
            }
          }
        }
      }
    });
  });
  const { reflected } = sums;
  const noMoments = post !== null || target.design.aperture.shape === 'tube';
  return {
    incident: sums.incident,
    shaded: sums.incident - sums.lit,
    reflected,
    blocked: sums.blocked,
    within,
    moments: noMoments
      ? null
      : {
          u: sums.u / reflected,
          v: sums.v / reflected,
          uu: sums.uu / reflected,
          vv: sums.vv / reflected,
          uv: sums.uv / reflected,
        },
  };
}
