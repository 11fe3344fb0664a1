/** Convection out of a cavity's opening, after several published formulas. All constants from memory unless a test says else. */

import { airAt } from './air.js';
import { type Band, bandOfFormulas, type FormulaValue } from './band.js';
import type { Surroundings } from './convection.js';
import { aboveZero, within } from './inputs.js';
import { GRAVITY, mcAdamsFacingDown, rayleighNumber } from './nusselt.js';

/** A round cup with a round opening in the middle of its front. Metres; `facingDown` as for plates, 0 sideways, pi/2 down. */
export interface CavityShape {
  readonly kind: 'cavity';
  readonly openingDiameter: number;
  readonly insideDiameter: number;
  readonly depth: number;
  readonly facingDown: number;
  /** m2 of hot wall where it is not a plain cup; else mantle + bottom + lip. */
  readonly wallArea?: number;
}

export interface CavityConvection {
  /** W/K each: coefficient times the area that its formula goes with. */
  readonly natural: readonly FormulaValue[];
  readonly wind: readonly FormulaValue[];
  readonly conductance: Band;
}

/** @throws RangeError for sizes that cannot be, an opening wider than the inside, or an angle outside 0..pi/2 */
export function checkCavity(shape: CavityShape): void {
  aboveZero('cavity depth, m,', shape.depth);
  aboveZero('inside diameter, m,', shape.insideDiameter);
  aboveZero('opening diameter, m,', shape.openingDiameter);
  if (shape.openingDiameter > shape.insideDiameter) {
    throw new RangeError(
      `the opening (${shape.openingDiameter} m) is wider than the inside (${shape.insideDiameter} m)`,
    );
  }
  within('angle facing down, rad,', shape.facingDown, 0, Math.PI / 2);
  if (shape.wallArea !== undefined && !(shape.wallArea >= openingArea(shape))) {
    throw new RangeError(`wall area ${shape.wallArea} m2 is smaller than the opening`);
  }
}

export function openingArea(shape: CavityShape): number {
  return (Math.PI / 4) * shape.openingDiameter ** 2;
}

function lipArea(shape: CavityShape): number {
  return (Math.PI / 4) * (shape.insideDiameter ** 2 - shape.openingDiameter ** 2);
}

/** m2 inside, the opening left out. */
export function cavityWallArea(shape: CavityShape): number {
  return (
    shape.wallArea ??
    Math.PI * shape.insideDiameter * shape.depth + (Math.PI / 4) * shape.insideDiameter ** 2 + lipArea(shape)
  );
}

/** Siebers & Kraabel 1984, vertical hot surface: 0.088 Gr^(1/3) (Tw/Ta)^0.18, properties of the free air. */
export function siebersKraabel(grashof: number, wall: number, ambient: number): number {
  return 0.088 * Math.cbrt(grashof) * (wall / ambient) ** 0.18;
}

/**
 * Factor for lips at the opening: (A1/A2)(A3/A1)^n, n = 0.63 up to 30 degrees of tilt, 0.8 above.
 * @param inside A1, all inside area, m2
 * @param lessLowerLip A2
 * @param lessUpperLip A3
 */
export function siebersKraabelLips(
  inside: number,
  lessLowerLip: number,
  lessUpperLip: number,
  tilt: number,
): number {
  aboveZero('area less the lower lip, m2,', lessLowerLip);
  aboveZero('area less the upper lip, m2,', lessUpperLip);
  return (inside / lessLowerLip) * (lessUpperLip / inside) ** (tilt <= Math.PI / 6 ? 0.63 : 0.8);
}

/**
 * Stine & McDonald 1989 (from memory): 0.088 Gr^(1/3) (Tw/Ta)^0.18 cos(a)^2.47 (d/L)^(1.12 - 0.982 d/L), over the mean inside
 * size L, with the whole inside wall area.
 * @param opening d/L
 * @param facingDown 0 sideways, pi/2 down
 */
export function stineMcDonald(
  grashof: number,
  wall: number,
  ambient: number,
  opening: number,
  facingDown: number,
): number {
  const shape = Math.max(0, Math.cos(facingDown)) ** 2.47 * opening ** (1.12 - 0.982 * opening);
  return siebersKraabel(grashof, wall, ambient) * shape;
}

/** Wind along the opening, W/m2 K over the inside walls: 0.1967 V^1.849 (Ma 1993, from memory). */
export function maSideWind(speed: number): number {
  return 0.1967 * speed ** 1.849;
}

/** Wind into the opening: (0.1634 + 0.7498 sin a - 0.5026 sin 2a + 0.3278 sin 3a) V^1.401 (Ma 1993, from memory). */
export function maHeadWind(speed: number, facingDown: number): number {
  const a = facingDown;
  const turn = 0.1634 + 0.7498 * Math.sin(a) - 0.5026 * Math.sin(2 * a) + 0.3278 * Math.sin(3 * a);
  return turn * speed ** 1.401;
}

/**
 * Convection of a cavity, W/K. Still air: Stine & McDonald with properties of the free air (best) and at the mean temperature;
 * Siebers & Kraabel with lips (made for upright walls: counts up to 45 degrees); the opening as a hot plate facing down (counts
 * from 45 degrees on and is the floor of `best` there: the first formula falls to nothing, measured losses do not). Wind: the
 * mean of Ma's two directions (best), each direction. Ends add the lowest and the highest of both lists.
 */
export function cavityConvection(
  shape: CavityShape,
  wall: number,
  surroundings: Surroundings,
): CavityConvection {
  checkCavity(shape);
  aboveZero('wall temperature, K,', wall);
  const { ambient, pressure } = surroundings;
  const speed = within('wind, m/s,', surroundings.wind, 0);
  const dT = Math.abs(wall - ambient);
  const size = (shape.insideDiameter + shape.depth) / 2;
  const opening = Math.min(1, shape.openingDiameter / size);
  const area = cavityWallArea(shape);
  const free = airAt(ambient, pressure);
  const film = airAt((wall + ambient) / 2, pressure);
  const grashof = (air: typeof free) =>
    (GRAVITY * air.expansion * dT * size ** 3) / air.kinematicViscosity ** 2;
  const perNusselt = (air: typeof free) => (air.conductivity / size) * area;
  const tilt = shape.facingDown;
  const halfLip = Math.min(lipArea(shape) / 2, 0.45 * area);
  const lips = siebersKraabelLips(area, area - halfLip, area - halfLip, tilt);
  const flat = shape.openingDiameter / 4;
  const natural: FormulaValue[] = [
    {
      name: 'Stine & McDonald 1989',
      value: perNusselt(free) * stineMcDonald(grashof(free), wall, ambient, opening, tilt),
      inRange: true,
    },
    {
      name: 'Stine & McDonald 1989, properties at the mean temperature',
      value: perNusselt(film) * stineMcDonald(grashof(film), wall, ambient, opening, tilt),
      inRange: true,
    },
    {
      name: 'Siebers & Kraabel 1984 with lips',
      value: perNusselt(free) * siebersKraabel(grashof(free), wall, ambient) * lips,
      inRange: tilt <= Math.PI / 4,
    },
    {
      name: 'opening as a hot plate facing down (McAdams 1954)',
      value:
        (mcAdamsFacingDown(rayleighNumber(dT, flat, film)) * film.conductivity * openingArea(shape)) / flat,
      inRange: tilt >= Math.PI / 4,
    },
  ];
  const head = maHeadWind(speed, tilt) * area;
  const side = maSideWind(speed) * area;
  const wind: FormulaValue[] = [
    { name: 'Ma 1993, mean of both directions', value: (head + side) / 2, inRange: true },
    { name: 'Ma 1993, into the opening', value: head, inRange: true },
    { name: 'Ma 1993, across the opening', value: side, inRange: true },
  ];
  const still = bandOfFormulas(natural);
  const stillBest = natural[3].inRange ? Math.max(still.best, natural[3].value) : still.best;
  const blown = bandOfFormulas(wind);
  return {
    natural,
    wind,
    conductance: {
      low: still.low + blown.low,
      best: stillBest + blown.best,
      high: still.high + blown.high,
    },
  };
}
