/** The sun as a set of directions with weights, from the formulas of the sunshapes. */
import type { SunshapeSpec } from '../../src/scene/types.js';
import { legendre } from './rules.js';
import { bearing, cross, plus, squareTo, unit, type V3 } from './vectors.js';

export interface SkyOrders {
  /** Nodes over the radius of the disc, and round it. */
  readonly disc: readonly [number, number];
  /** The same for the aureole, or for each piece of a table. */
  readonly aureole: readonly [number, number];
}

export interface Sky {
  readonly towards: readonly V3[];
  /** Irradiance on a plane square to each direction, W/m2. */
  readonly irradiance: readonly number[];
  readonly limit: number;
}

interface Ring {
  readonly theta: number;
  /** Radiance x solid angle of the ring, to a common factor. */
  readonly weight: number;
  readonly turns: number;
}

/** Rings over [low, high] of `variable`; `angle` gives theta and d(theta)/d(variable). */
function rings(
  count: number,
  turns: number,
  [low, high]: readonly [number, number],
  angle: (variable: number) => readonly [number, number],
  radiance: (theta: number, variable: number) => number,
): Ring[] {
  const rule = legendre(count, low, high);
  return Array.from(rule.at, (variable, i) => {
    const [theta, slope] = angle(variable);
    return { theta, weight: rule.weight[i] * slope * Math.sin(theta) * radiance(theta, variable), turns };
  });
}

/** theta = a sqrt(1 - mu^2), run from the rim (mu = 0) to the centre: even radiance is linear in mu, limb darkening a polynomial. */
const overDisc = (a: number) => (mu: number) =>
  [a * Math.sqrt(1 - mu * mu), (a * mu) / Math.sqrt(1 - mu * mu)] as const;
const overLog = (log: number) => [Math.exp(log), Math.exp(log)] as const;

const SOLAR_DISC = 4.65e-3;
const AUREOLE_END = 43.6e-3;

/** Buie, Monger & Dey, Solar Energy 74 (2003) 113: radiance by angle in mrad, in the disc and beyond it. */
function circumsolarRings(chi: number, orders: SkyOrders): Ring[] {
  const kappa = 0.9 * Math.log(13.5 * chi) * chi ** -0.3;
  const gamma = 2.2 * Math.log(0.52 * chi) * chi ** 0.43 - 0.1;
  const disc = rings(
    orders.disc[0],
    orders.disc[1],
    [0, 1],
    overDisc(SOLAR_DISC),
    (theta) => Math.cos(0.326e3 * theta) / Math.cos(0.308e3 * theta),
  );
  const ends = [Math.log(SOLAR_DISC), Math.log(14e-3), Math.log(AUREOLE_END)];
  const aureole = [0, 1].flatMap((i) =>
    rings(
      orders.aureole[0],
      orders.aureole[1] * (i + 1),
      [ends[i], ends[i + 1]],
      overLog,
      (theta) => Math.exp(kappa) * (1e3 * theta) ** gamma,
    ),
  );
  return [...disc, ...aureole];
}

function share(all: readonly Ring[]): number {
  const power = (from: number) =>
    all
      .filter(({ theta }) => theta > from)
      .reduce((sum, ring) => sum + ring.weight * Math.cos(ring.theta), 0);
  return power(SOLAR_DISC) / power(0);
}

function allRings(shape: SunshapeSpec, orders: SkyOrders, factor: number): Ring[] {
  const [radial, turns] = orders.disc;
  switch (shape.kind) {
    case 'point':
      return [{ theta: 0, weight: 1, turns: 1 }];
    case 'disc':
      return rings(radial, turns, [0, 1], overDisc(shape.halfAngle * factor), () => 1);
    case 'limb_darkened':
      return rings(
        radial,
        turns,
        [0, 1],
        overDisc(shape.halfAngle * factor),
        (_, mu) => 1 - shape.darkening * (1 - mu),
      );
    case 'gaussian': {
      const sigma = shape.sigma * factor;
      // To 6.5 standard deviations in pieces of theta.
      return [0, 1.5, 3, 6.5].slice(0, 3).flatMap((from, i) =>
        rings(
          radial,
          turns + 4 * i,
          [from * sigma, [1.5, 3, 6.5][i] * sigma],
          (theta) => [theta, 1],
          (theta) => Math.exp(-0.5 * (theta / sigma) ** 2),
        ),
      );
    }
    case 'circumsolar': {
      // The stated ratio is the true one; chi follows by halving, on a fine rule.
      const fine = { disc: [40, 1], aureole: [40, 1] } as const;
      let low = 1e-4;
      let high = 0.9;
      for (let step = 0; step < 60; step++) {
        const middle = (low + high) / 2;
        if (share(circumsolarRings(middle, fine)) < shape.circumsolarRatio) low = middle;
        else high = middle;
      }
      return circumsolarRings((low + high) / 2, orders);
    }
    case 'table':
      return shape.angle.slice(1).flatMap((to, i) => {
        const from = shape.angle[i];
        const [first, last] = [shape.radiance[i], shape.radiance[i + 1]];
        return rings(
          orders.aureole[0],
          Math.max(turns, Math.ceil(orders.aureole[1] * Math.min(1, to / 20e-3))),
          [from, to],
          (theta) => [theta, 1],
          (theta) => first + ((last - first) * (theta - from)) / (to - from),
        );
      });
  }
}

/**
 * @param dni irradiance of a plane that faces the sun's centre
 * @param factor the sun's size is multiplied by this (1; something else is a deliberate fault)
 */
export function skyOf(
  shape: SunshapeSpec,
  centre: { readonly azimuth: number; readonly elevation: number },
  dni: number,
  orders: SkyOrders,
  factor = 1,
): Sky {
  const axis = bearing(centre.azimuth, centre.elevation);
  const p = squareTo(Math.abs(axis[2]) < 0.9 ? [0, 0, 1] : [1, 0, 0], axis);
  const q = cross(axis, p);
  const all = allRings(shape, orders, factor).filter((ring) => ring.weight > 0);
  const facing = all.reduce((sum, ring) => sum + ring.weight * Math.cos(ring.theta), 0);
  const towards: V3[] = [];
  const irradiance: number[] = [];
  all.forEach((ring, index) => {
    for (let k = 0; k < ring.turns; k++) {
      const turn = (2 * Math.PI * (k + (index % 2) / 2)) / ring.turns + 0.2;
      const side = Math.sin(ring.theta);
      towards.push(
        unit(
          plus(
            plus([0, 0, 0], axis, Math.cos(ring.theta)),
            plus(plus([0, 0, 0], p, Math.cos(turn)), q, Math.sin(turn)),
            side,
          ),
        ),
      );
      irradiance.push((dni * ring.weight) / (ring.turns * facing));
    }
  });
  return { towards, irradiance, limit: Math.max(...all.map((ring) => ring.theta)) };
}
