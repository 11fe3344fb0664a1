import { buildOctaveTable, octaveCellEnd } from '../kernel/octave.js';
import type { SunshapeSpec } from '../scene/types.js';

/**
 * Sunshapes: radiance of the sky around the sun's centre as a function of the angle from it, and what follows from it.
 *
 * Angles are drawn with the density radiance(theta) sin(theta) cos(theta), the power on a plane that faces the sun. In
 * t = sin^2(theta) that density is the radiance itself, so the tables hold t: for a uniform disc t is linear in the
 * tail probability, and the trace loop needs one square root for sin(theta) and one for cos(theta).
 */

/** Half angle of the sun's disc in the circumsolar model, and its outer limit, radians. */
const BUIE_DISC = 4.65e-3;
const BUIE_LIMIT = 43.6e-3;
/** Where a Gaussian sunshape is cut, in standard deviations per axis. */
const GAUSSIAN_CUT = 6;
/** Largest circumsolar ratio the formula is used for. */
const LARGEST_CIRCUMSOLAR_RATIO = 0.8;

// Gauss-Legendre rule with five points on (0, 1).
const GAUSS_POINTS = [0.046910077030668004, 0.23076534494715845, 0.5, 0.7692346550528415, 0.953089922969332];
const GAUSS_WEIGHTS = [
  0.11846344252809454, 0.23931433524968324, 0.28444444444444444, 0.23931433524968324, 0.11846344252809454,
];

/** Radiance between two angles where it is smooth. */
interface Zone {
  readonly from: number;
  readonly to: number;
  readonly cells: number;
  readonly radiance: (theta: number) => number;
}

/** Part of a zone between w = start and start + width; rates are d(power)/d(theta^2) at its ends. */
interface Cell {
  readonly zone: Zone;
  readonly start: number;
  readonly width: number;
  /** theta^2 at the outer and the inner end. */
  readonly outer: number;
  readonly inner: number;
  readonly outerRate: number;
  readonly innerRate: number;
  /** The rates differ so little that the inverse is a cubic to about 1e-9. */
  readonly smooth: boolean;
}

/** A sunshape integrated once; angles in radians. */
export interface SunshapeProfile {
  /** Largest angle that carries light. */
  readonly limit: number;
  /** Power on a facing plane per unit of centre radiance, sr. */
  readonly power: number;
  /** Mean of cos(theta) over the sampled density. */
  readonly meanCosine: number;
  /** Standard deviation of the angle from the centre per axis (rms angle over sqrt 2), radians. */
  readonly axisSigma: number;
  /** Share of the power beyond theta. */
  readonly tail: (theta: number) => number;
  /** sin^2(theta) beyond which the share q of the power lies, 0 <= q <= 1. */
  readonly inverseTail: (q: number) => number;
}

/**
 * Radiance relative to the centre of the sun.
 *
 * Limb darkening: 1 - u (1 - mu). Circumsolar: Buie, Monger & Dey, Solar Energy 74 (2003) 113: with theta in mrad,
 * cos(0.326 theta) / cos(0.308 theta) to 4.65, e^kappa theta^gamma from there to 43.6.
 *
 * @param theta angle from the centre, radians, >= 0
 */
export function radiance(spec: SunshapeSpec, theta: number): number {
  if (spec.kind === 'point') return theta === 0 ? 1 : 0;
  const zone = zonesOf(spec).find((part) => theta <= part.to);
  return zone === undefined ? 0 : zone.radiance(theta);
}

/** Largest angle from the centre that carries light, radians. */
export function sunshapeLimit(spec: SunshapeSpec): number {
  if (spec.kind === 'point') return 0;
  return zonesOf(spec).at(-1)!.to;
}

/** Mean of cos(theta) over the sampled density. */
export function meanCosine(spec: SunshapeSpec): number {
  return sunshapeProfile(spec).meanCosine;
}

/** Standard deviation per axis of the whole sunshape, radians. */
export function axisSigma(spec: SunshapeSpec): number {
  return sunshapeProfile(spec).axisSigma;
}

/** Share of the power on a facing plane that comes from within the angle theta (radians) of the centre. */
export function energyInside(spec: SunshapeSpec, theta: number): number {
  return 1 - sunshapeProfile(spec).tail(theta);
}

/**
 * Octave table of sin^2(theta) by the share q of the power beyond theta; all zero for a point sun.
 *
 * At the edge of the circumsolar model's disc the radiance drops some fortyfold within one cell of the table, which a
 * straight piece cannot follow. So for this model the whole table is turned by a small share, q -> (q - turn) mod 1, which
 * no uniform draw can tell: the disc's edge then falls between two cells, and the seam from the sun's centre to
 * the outer limit falls near the beginning, where cells are a hundred times narrower.
 * @param profile of the same sunshape, where it is known already
 */
export function sunshapeTable(spec: SunshapeSpec, profile = sunshapeProfile(spec)): Float64Array {
  if (spec.kind !== 'circumsolar' || spec.circumsolarRatio === 0) {
    return buildOctaveTable(profile.inverseTail);
  }
  const aureole = profile.tail(BUIE_DISC);
  const turn = octaveCellEnd(aureole) - aureole;
  return buildOctaveTable((q) => profile.inverseTail(q < turn ? q - turn + 1 : q - turn));
}

/**
 * Integrates a sunshape from its outer limit inwards.
 *
 * @throws RangeError when the sunshape carries no light or a circumsolar ratio is out of range
 */
export function sunshapeProfile(spec: SunshapeSpec): SunshapeProfile {
  if (spec.kind === 'point') {
    return {
      limit: 0,
      power: 0,
      meanCosine: 1,
      axisSigma: 0,
      tail: (theta) => (theta < 0 ? 1 : 0),
      inverseTail: () => 0,
    };
  }
  const zones = zonesOf(spec);
  // Cells from the limit inwards. Within a zone theta^2 = to^2 - (to^2 - from^2) w^2, w from 0 (outside) to 1:
  // that takes the square root out of a limb that darkens to nothing.
  const cells: Cell[] = [];
  const power: number[] = [0];
  let cosine = 0;
  let square = 0;
  for (const zone of [...zones].reverse()) {
    for (let index = 0; index < zone.cells; index++) {
      const width = 1 / zone.cells;
      const start = index * width;
      let sum = 0;
      for (let point = 0; point < GAUSS_POINTS.length; point++) {
        const w = start + GAUSS_POINTS[point] * width;
        const share = GAUSS_WEIGHTS[point] * width * powerRate(zone, w);
        const theta = angleAt(zone, w);
        sum += share;
        cosine += share * Math.cos(theta);
        square += share * theta * theta;
      }
      const outer = angleAt(zone, start);
      const inner = angleAt(zone, start + width);
      const outerRate = squareRate(zone, outer);
      const innerRate = squareRate(zone, inner);
      const smooth = outerRate > 0.8 * innerRate && innerRate > 0.8 * outerRate;
      cells.push({ zone, start, width, outer: outer ** 2, inner: inner ** 2, outerRate, innerRate, smooth });
      power.push(power[power.length - 1] + sum);
    }
  }
  const total = power[power.length - 1];
  if (!(total > 0)) throw new RangeError('the sunshape carries no light');

  const partial = (cell: number, w: number): number => {
    const { zone, start } = cells[cell];
    let sum = 0;
    for (let point = 0; point < GAUSS_POINTS.length; point++) {
      sum += GAUSS_WEIGHTS[point] * powerRate(zone, start + GAUSS_POINTS[point] * (w - start));
    }
    return power[cell] + sum * (w - start);
  };

  const tail = (theta: number): number => {
    if (theta < 0) return 1;
    let first = 0;
    for (const zone of [...zones].reverse()) {
      if (theta >= zone.to) return power[first] / total;
      if (theta >= zone.from) {
        const w = Math.sqrt((zone.to ** 2 - theta ** 2) / (zone.to ** 2 - zone.from ** 2));
        const cell = Math.min(zone.cells - 1, Math.floor(w * zone.cells));
        return partial(first + cell, w) / total;
      }
      first += zone.cells;
    }
    return 1;
  };

  // Newton, held inside the bracket.
  const solve = (cell: number, target: number, guess: number): number => {
    const { zone, start, width } = cells[cell];
    let below = start;
    let above = start + width;
    let w = guess;
    for (let step = 0; step < 40; step++) {
      const excess = partial(cell, w) - target;
      if (excess > 0) above = w;
      else below = w;
      const rate = powerRate(zone, w);
      let next = rate > 0 ? w - excess / rate : (below + above) / 2;
      if (!(next >= below && next <= above)) next = (below + above) / 2;
      const moved = Math.abs(next - w);
      w = next;
      if (moved <= 1e-12) break;
    }
    return w;
  };

  const inverseTail = (q: number): number => {
    const target = Math.min(1, Math.max(0, q)) * total;
    let low = 0;
    let high = cells.length - 1;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (power[middle + 1] < target) low = middle + 1;
      else high = middle;
    }
    const cell = cells[low];
    const inside = power[low + 1] - power[low];
    const share = inside > 0 ? (target - power[low]) / inside : 0;
    if (!cell.smooth) {
      return Math.sin(angleAt(cell.zone, solve(low, target, cell.start + cell.width * share))) ** 2;
    }
    const span = cell.outer - cell.inner;
    const part = hermite(share, inside / (span * cell.outerRate), inside / (span * cell.innerRate));
    return Math.sin(Math.sqrt(Math.max(0, cell.outer - span * part))) ** 2;
  };

  return {
    limit: zones.at(-1)!.to,
    power: total * Math.PI,
    meanCosine: cosine / total,
    axisSigma: Math.sqrt(square / total / 2),
    tail,
    inverseTail,
  };
}

/** Cubic on (0, 1) from 0 to 1 with the given slopes at its ends. */
function hermite(x: number, slopeAtStart: number, slopeAtEnd: number): number {
  const rest = 1 - x;
  return x * x * (3 - 2 * x) + slopeAtStart * x * rest * rest - slopeAtEnd * x * x * rest;
}

function angleAt(zone: Zone, w: number): number {
  const outer = zone.to * zone.to;
  return Math.sqrt(Math.max(0, outer - (outer - zone.from * zone.from) * w * w));
}

/** d(power)/d(theta^2), power in units of radiance times sin^2(theta). */
function squareRate(zone: Zone, theta: number): number {
  // d(sin^2 theta) = sin(2 theta) d(theta) and d(theta^2) = 2 theta d(theta).
  const stretch = theta > 0 ? Math.sin(2 * theta) / (2 * theta) : 1;
  return zone.radiance(theta) * stretch;
}

/** d(power)/dw. */
function powerRate(zone: Zone, w: number): number {
  return squareRate(zone, angleAt(zone, w)) * 2 * (zone.to * zone.to - zone.from * zone.from) * w;
}

function zonesOf(spec: Exclude<SunshapeSpec, { kind: 'point' }>): readonly Zone[] {
  switch (spec.kind) {
    case 'disc':
      return [{ from: 0, to: spec.halfAngle, cells: 64, radiance: () => 1 }];
    case 'limb_darkened': {
      const { halfAngle, darkening } = spec;
      return [
        {
          from: 0,
          to: halfAngle,
          cells: 256,
          radiance: (theta) => 1 - darkening * (1 - Math.sqrt(Math.max(0, 1 - (theta / halfAngle) ** 2))),
        },
      ];
    }
    case 'gaussian': {
      const bell = (theta: number): number => Math.exp(-0.5 * (theta / spec.sigma) ** 2);
      return Array.from({ length: GAUSSIAN_CUT }, (_, index) => ({
        from: index * spec.sigma,
        to: (index + 1) * spec.sigma,
        cells: 64,
        radiance: bell,
      }));
    }
    case 'circumsolar':
      return circumsolarZones(spec.circumsolarRatio);
    case 'table': {
      const { angle, radiance: values } = spec;
      const cells = Math.max(2, Math.ceil(256 / angle.length));
      return angle.slice(1).map((to, index) => {
        const from = angle[index];
        const slope = (values[index + 1] - values[index]) / (to - from);
        return { from, to, cells, radiance: (theta) => Math.max(0, values[index] + slope * (theta - from)) };
      });
    }
  }
}

function buieDisc(theta: number): number {
  const milliradians = theta * 1e3;
  return Math.cos(0.326 * milliradians) / Math.cos(0.308 * milliradians);
}

/** kappa and gamma of Buie, Monger & Dey (2003) for angles in mrad. */
function buieAureole(chi: number): { kappa: number; gamma: number } {
  return {
    kappa: 0.9 * Math.log(13.5 * chi) * chi ** -0.3,
    gamma: 2.2 * Math.log(0.52 * chi) * chi ** 0.43 - 0.1,
  };
}

function circumsolarZones(ratio: number): readonly Zone[] {
  const disc: Zone = { from: 0, to: BUIE_DISC, cells: 192, radiance: buieDisc };
  if (ratio === 0) return [disc];
  const { kappa, gamma } = buieAureole(circumsolarChi(ratio));
  const aureole = (theta: number): number => Math.exp(kappa + gamma * Math.log(theta * 1e3));
  const bounds = [BUIE_DISC, 7e-3, 11e-3, 17e-3, 27e-3, BUIE_LIMIT];
  return [
    disc,
    ...bounds.slice(1).map((to, index) => ({ from: bounds[index], to, cells: 32, radiance: aureole })),
  ];
}

/**
 * Circumsolar ratio that the formula of Buie, Monger & Dey really has for a given chi: light between 4.65 and 43.6 mrad
 * over all light, by solid angle.
 */
export function circumsolarRatioOf(chi: number): number {
  return ratioOf(chi, discIntegral());
}

function ratioOf(chi: number, disc: number): number {
  const { kappa, gamma } = buieAureole(chi);
  const inner = BUIE_DISC * 1e3;
  const outer = BUIE_LIMIT * 1e3;
  const power = gamma + 2;
  const aureole =
    Math.exp(kappa) *
    (Math.abs(power) < 1e-9 ? Math.log(outer / inner) : (outer ** power - inner ** power) / power);
  return aureole / (aureole + disc);
}

/** Integral of the disc's radiance times theta, mrad^2, composite Gauss. */
function discIntegral(): number {
  const cells = 16;
  const width = (BUIE_DISC * 1e3) / cells;
  let sum = 0;
  for (let index = 0; index < cells; index++) {
    for (let point = 0; point < GAUSS_POINTS.length; point++) {
      const milliradians = (index + GAUSS_POINTS[point]) * width;
      sum += GAUSS_WEIGHTS[point] * width * milliradians * buieDisc(milliradians * 1e-3);
    }
  }
  return sum;
}

/**
 * The chi of Buie, Monger & Dey that makes the true, integrated circumsolar ratio equal the one given (chi itself is
 * not the ratio), by bisection.
 *
 * @param trueRatio above 0, at most 0.8
 * @throws RangeError outside that range
 */
export function circumsolarChi(trueRatio: number): number {
  if (!(trueRatio > 0 && trueRatio <= LARGEST_CIRCUMSOLAR_RATIO)) {
    throw new RangeError(
      `a circumsolar ratio lies above 0 and at most at ${LARGEST_CIRCUMSOLAR_RATIO}, got ${trueRatio}`,
    );
  }
  const disc = discIntegral();
  let low = 1e-3;
  let high = 1;
  for (let step = 0; step < 50; step++) {
    const middle = (low + high) / 2;
    if (ratioOf(middle, disc) < trueRatio) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}
