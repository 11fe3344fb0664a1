/** Convection on open surfaces: still air and wind, several published formulas each, and the band they leave. */

import { airAt } from './air.js';
import { type Band, bandOfFormulas, type Case, type FormulaValue } from './band.js';
import { aboveZero, within } from './inputs.js';
import {
  churchillBernstein,
  churchillChuCylinder,
  churchillChuCylinderLaminar,
  churchillChuPlate,
  churchillChuPlateLaminar,
  fujiiImuraFacingDown,
  fujiiImuraInclined,
  GRAVITY,
  mcAdamsFacingDown,
  mcAdamsFacingUp,
  mcAdamsPlate,
  mcAdamsWind,
  mitchellWind,
  morganCylinder,
  plateForced,
  rayleighNumber,
  watmuffWind,
  zukauskasCylinder,
} from './nusselt.js';

/** Air around a hot surface. Pressure in Pa; the standard atmosphere where it is left out. */
export interface Surroundings {
  /** Air, K. */
  readonly ambient: number;
  /** Wind at the receiver, m/s. */
  readonly wind: number;
  readonly pressure?: number;
}

/**
 * A flat surface: `length` along the horizontal (of a line receiver: along the row), `width` up its slope. `facingDown`: angle of its outward normal below the horizontal, radians: 0 sideways, pi/2 straight down,
 * -pi/2 straight up.
 */
export interface PlateShape {
  readonly kind: 'plate';
  readonly length: number;
  readonly width: number;
  readonly facingDown: number;
}

/** A horizontal tube, bare on the outside. */
export interface TubeShape {
  readonly kind: 'tube';
  readonly diameter: number;
  readonly length: number;
}

export type OpenShape = PlateShape | TubeShape;

/** Coefficients of one surface, W/m2 K, with every formula behind them. */
export interface SurfaceConvection {
  readonly natural: readonly FormulaValue[];
  readonly wind: readonly FormulaValue[];
  /** Both together. */
  readonly coefficient: Band;
}

/** @throws RangeError for sizes that are not above 0 or an angle outside +-pi/2 */
export function checkShape(shape: OpenShape): void {
  aboveZero('length, m,', shape.length);
  if (shape.kind === 'tube') {
    aboveZero('tube diameter, m,', shape.diameter);
    return;
  }
  aboveZero('width, m,', shape.width);
  within('angle facing down, rad,', shape.facingDown, -Math.PI / 2, Math.PI / 2);
}

/** m2 that air touches: one face of a plate, the whole mantle of a tube. */
export function shapeArea(shape: OpenShape): number {
  return shape.kind === 'tube' ? Math.PI * shape.diameter * shape.length : shape.length * shape.width;
}

/**
 * Still-air coefficients of an inclined plate, W/m2 K. A leaning hot plate is taken as a vertical one with g cos a or as a
 * horizontal one with g sin a, whichever gives more (as handbooks advise for hot faces turned down; from memory).
 * @param surface K; a surface colder than the air is taken like one as much hotter
 */
export function plateNatural(
  shape: PlateShape,
  surface: number,
  surroundings: Surroundings,
): readonly FormulaValue[] {
  checkShape(shape);
  const air = airAt((surface + surroundings.ambient) / 2, surroundings.pressure);
  const dT = surface - surroundings.ambient;
  const { prandtl: pr, conductivity: k } = air;
  const height = shape.width;
  const shorter = Math.min(shape.length, shape.width);
  const flat = (shape.length * shape.width) / (2 * (shape.length + shape.width));
  const upright = GRAVITY * Math.cos(shape.facingDown);
  const lying = GRAVITY * Math.abs(Math.sin(shape.facingDown));
  const raUpright = rayleighNumber(dT, height, air, upright);
  const raFlat = rayleighNumber(dT, flat, air, lying);
  const lyingNusselt = shape.facingDown >= 0 ? mcAdamsFacingDown(raFlat) : mcAdamsFacingUp(raFlat);
  const most = (uprightNusselt: number, flatCoefficient: number) =>
    Math.max((uprightNusselt * k) / height, flatCoefficient);
  const values: FormulaValue[] = [
    {
      name: 'Churchill & Chu 1975, McAdams lying',
      value: most(churchillChuPlate(raUpright, pr), (lyingNusselt * k) / flat),
      inRange: true,
    },
    {
      name: 'Churchill & Chu 1975 laminar, McAdams lying',
      value: most(churchillChuPlateLaminar(raUpright, pr), (lyingNusselt * k) / flat),
      inRange: raUpright <= 1e9,
    },
    {
      name: 'McAdams 1954',
      value: most(mcAdamsPlate(raUpright), (lyingNusselt * k) / flat),
      inRange: Math.max(raUpright, raFlat) >= 1e4 && raUpright <= 1e13,
    },
  ];
  if (shape.facingDown >= 0) {
    const raWhole = rayleighNumber(dT, shorter, air, lying);
    values.push({
      name: 'Fujii & Imura 1972',
      value: most(fujiiImuraInclined(raUpright), (fujiiImuraFacingDown(raWhole) * k) / shorter),
      inRange: Math.max(raUpright, raWhole) >= 1e5 && Math.max(raUpright, raWhole) <= 1e11,
    });
  }
  return values;
}

/** Still-air coefficients of a horizontal tube, W/m2 K. */
export function tubeNatural(
  shape: TubeShape,
  surface: number,
  surroundings: Surroundings,
): readonly FormulaValue[] {
  checkShape(shape);
  const air = airAt((surface + surroundings.ambient) / 2, surroundings.pressure);
  const ra = rayleighNumber(surface - surroundings.ambient, shape.diameter, air);
  const perNusselt = air.conductivity / shape.diameter;
  return [
    {
      name: 'Churchill & Chu 1975',
      value: perNusselt * churchillChuCylinder(ra, air.prandtl),
      inRange: ra <= 1e12,
    },
    {
      name: 'Churchill & Chu 1975 laminar',
      value: perNusselt * churchillChuCylinderLaminar(ra, air.prandtl),
      inRange: ra <= 1e9,
    },
    { name: 'Morgan 1975', value: perNusselt * morganCylinder(ra), inRange: ra <= 1e12 },
  ];
}

/**
 * Wind coefficients of a plate, W/m2 K. The straight lines were measured on plates of half a metre or so and already hold some free
 * convection; Mitchell's was made for whole houses: it is shown always and counts from 0.5 m up (our judgement), as it has no
 * end for small things.
 */
export function plateWind(
  shape: PlateShape,
  surface: number,
  surroundings: Surroundings,
): readonly FormulaValue[] {
  const speed = within('wind, m/s,', surroundings.wind, 0);
  const air = airAt((surface + surroundings.ambient) / 2, surroundings.pressure);
  const [shorter, longer] = [Math.min(shape.length, shape.width), Math.max(shape.length, shape.width)];
  const flat = (along: number) => {
    const re = (speed * along) / air.kinematicViscosity;
    return { value: (plateForced(re, air.prandtl) * air.conductivity) / along, inRange: re <= 1e8 };
  };
  return [
    { name: 'flat plate (Pohlhausen, mixed above Re 5e5), along the shorter side', ...flat(shorter) },
    { name: 'flat plate (Pohlhausen, mixed above Re 5e5), along the longer side', ...flat(longer) },
    { name: 'Watmuff 1977: 2.8 + 3.0 V', value: watmuffWind(speed), inRange: speed > 0 },
    { name: 'McAdams 1954: 5.7 + 3.8 V', value: mcAdamsWind(speed), inRange: speed > 0 },
    {
      name: 'Mitchell: max(5, 8.6 V^0.6 / L^0.4)',
      value: mitchellWind(speed, Math.sqrt(shape.length * shape.width)),
      inRange: speed > 0 && Math.sqrt(shape.length * shape.width) >= 0.5,
    },
  ];
}

/** Wind coefficients of a tube square to the wind, W/m2 K. */
export function tubeWind(
  shape: TubeShape,
  surface: number,
  surroundings: Surroundings,
): readonly FormulaValue[] {
  const speed = within('wind, m/s,', surroundings.wind, 0);
  const film = airAt((surface + surroundings.ambient) / 2, surroundings.pressure);
  const stream = airAt(surroundings.ambient, surroundings.pressure);
  const reFilm = (speed * shape.diameter) / film.kinematicViscosity;
  const reStream = (speed * shape.diameter) / stream.kinematicViscosity;
  const wall = airAt(surface, surroundings.pressure);
  return [
    {
      name: 'Churchill & Bernstein 1977',
      // Its still-air end (Nu 0.3) belongs to the free convection counted beside it.
      value:
        speed === 0 ? 0 : (churchillBernstein(reFilm, film.prandtl) * film.conductivity) / shape.diameter,
      inRange: reFilm <= 1e7,
    },
    {
      name: 'Zukauskas 1972',
      value:
        (zukauskasCylinder(reStream, stream.prandtl, wall.prandtl) * stream.conductivity) / shape.diameter,
      inRange: reStream >= 1 && reStream <= 1e6,
    },
  ];
}

/**
 * Still air and wind together. Best: cube sum (h_n^3 + h_w^3)^(1/3) of the first formulas (Churchill's blending, from memory);
 * low: the larger of the lowest two; high: their plain sum, unless wind formulas of the straight-line kind are the highest,
 * which hold free convection already: then the larger of the two.
 */
export function surfaceConvection(
  shape: OpenShape,
  surface: number,
  surroundings: Surroundings,
): SurfaceConvection {
  aboveZero('surface temperature, K,', surface);
  const natural =
    shape.kind === 'tube'
      ? tubeNatural(shape, surface, surroundings)
      : plateNatural(shape, surface, surroundings);
  const wind =
    shape.kind === 'tube' ? tubeWind(shape, surface, surroundings) : plateWind(shape, surface, surroundings);
  const still = bandOfFormulas(natural);
  const blown = surroundings.wind === 0 ? { low: 0, best: 0, high: 0 } : bandOfFormulas(wind);
  const best = Math.cbrt(still.best ** 3 + blown.best ** 3);
  const pureForced = wind[0].value;
  return {
    natural,
    wind,
    coefficient: {
      low: Math.min(best, Math.max(still.low, blown.low)),
      best,
      high: Math.max(best, still.high + (surroundings.wind === 0 ? 0 : pureForced), blown.high, still.high),
    },
  };
}

/** One end of the coefficient's band, W/m2 K. */
export function coefficientAt(
  shape: OpenShape,
  surface: number,
  surroundings: Surroundings,
  end: Case,
): number {
  return surfaceConvection(shape, surface, surroundings).coefficient[end];
}
