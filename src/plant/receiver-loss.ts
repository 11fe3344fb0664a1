/** What a receiver loses at a wall temperature. */

import type { Band, Case, FormulaValue } from './band.js';
import { cavityConvection } from './cavity.js';
import { coefficientAt, type OpenShape, type Surroundings, surfaceConvection } from './convection.js';
import { annulusConductance, layerCoefficient } from './cover.js';
import { aboveZero } from './inputs.js';
import {
  cavityAbsorptance,
  emittanceAt,
  netRadiation,
  planeExchange,
  radiantSurroundings,
} from './radiation.js';
import { areaRatio, type Insulation, type Receiver, radiatingArea } from './receiver.js';
import { rootOf } from './root.js';
import { linearBetween } from './table.js';

/** W; from the cover where there is one. A figure below 0 is heat gained from the air or the surroundings. */
export interface Losses {
  readonly radiation: number;
  readonly convection: number;
  readonly conduction: number;
  /** What the wall itself gives away: less than the three together by the light that the cover takes up. */
  readonly wall: number;
  /** K; null without a cover. */
  readonly coverTemperature: number | null;
}

const OUTSIDE: Readonly<Record<Case, number>> = { low: 5, best: 10, high: 20 };

/** W through one layer of insulation; its conductivity is taken at the mean of wall and air. */
export function insulationLoss(layer: Insulation, wall: number, ambient: number, end: Case): number {
  const conductivity =
    typeof layer.conductivity === 'number'
      ? layer.conductivity
      : linearBetween(layer.conductivity.temperature, layer.conductivity.value, (wall + ambient) / 2);
  const outside = layer.outside ?? OUTSIDE[end];
  return ((wall - ambient) * layer.area) / (layer.thickness / conductivity + 1 / outside);
}

/** Emittance of what the surroundings see: the wall's own, or a cavity's. */
function seenEmittance(receiver: Receiver, wall: number, end: Case): number {
  const own = emittanceAt(receiver.emittance, wall, end);
  const ratio = areaRatio(receiver);
  return ratio === null ? own : cavityAbsorptance(own, ratio);
}

function conductionLoss(receiver: Receiver, wall: number, ambient: number, end: Case): number {
  const layers = receiver.insulation.reduce(
    (sum, layer) => sum + insulationLoss(layer, wall, ambient, end),
    0,
  );
  return layers + (receiver.supports ?? 0) * (wall - ambient);
}

/** The face that the outside air touches where a cover is. */
function coverFace(receiver: Receiver): { readonly shape: OpenShape; readonly area: number } {
  const { shape } = receiver;
  const gap = receiver.cover?.gap ?? 0;
  if (shape.kind === 'tube') {
    const diameter = shape.diameter + 2 * gap;
    return { shape: { ...shape, diameter }, area: Math.PI * diameter * shape.length };
  }
  if (shape.kind === 'plate') return { shape, area: shape.length * shape.width };
  const side = (Math.sqrt(Math.PI) / 2) * shape.openingDiameter;
  return {
    shape: { kind: 'plate', length: side, width: side, facingDown: shape.facingDown },
    area: side * side,
  };
}

/** W from the wall to the cover at two temperatures. */
function throughGap(
  receiver: Receiver,
  wall: number,
  glass: number,
  surroundings: Surroundings,
  end: Case,
): number {
  const cover = receiver.cover;
  if (cover === undefined) return 0;
  const { shape } = receiver;
  const open = receiver.convection !== 'none' && cover.gas !== 'vacuum';
  const emittance = seenEmittance(receiver, wall, end);
  if (shape.kind === 'tube') {
    const outer = shape.diameter + 2 * cover.gap;
    const resistance = 1 / emittance + (1 / cover.emittance - 1) * (shape.diameter / outer);
    const mirrors = emittance === 0 || cover.emittance === 0;
    const radiation = mirrors ? 0 : radiatingArea(receiver) * netRadiation(1 / resistance, wall, glass);
    const air = open
      ? annulusConductance(wall, glass, shape.diameter, outer, surroundings.pressure)[end] * shape.length
      : 0;
    return radiation + air * (wall - glass);
  }
  const height = shape.kind === 'plate' ? shape.width : shape.openingDiameter;
  const air = open
    ? layerCoefficient(wall, glass, cover.gap, height, shape.facingDown, surroundings.pressure)[end]
    : 0;
  return (
    radiatingArea(receiver) * (planeExchange(emittance, cover.emittance, wall, glass) + air * (wall - glass))
  );
}

function coveredLosses(
  receiver: Receiver,
  wall: number,
  surroundings: Surroundings,
  lightInCover: number,
  end: Case,
): Losses {
  const { ambient } = surroundings;
  const seen = radiantSurroundings(ambient, receiver.skyShare ?? 0);
  const face = coverFace(receiver);
  const emittance = receiver.cover?.emittance ?? 0;
  const radiationOf = (glass: number) => face.area * netRadiation(emittance, glass, seen);
  const convectionOf = (glass: number) =>
    receiver.convection === 'none'
      ? 0
      : face.area * coefficientAt(face.shape, glass, surroundings, end) * (glass - ambient);
  const surplus = (glass: number) =>
    throughGap(receiver, wall, glass, surroundings, end) +
    lightInCover -
    radiationOf(glass) -
    convectionOf(glass);
  const cold = 0.9 * Math.min(wall, ambient, seen);
  let hot = 1.1 * Math.max(wall, ambient, seen);
  for (let step = 0; step < 20 && surplus(hot) > 0; step++) hot *= 1.5;
  const glass = rootOf(surplus, cold, hot);
  const gap = throughGap(receiver, wall, glass, surroundings, end);
  const conduction = conductionLoss(receiver, wall, ambient, end);
  const radiation = radiationOf(glass);
  return {
    radiation,
    // The balance of the glass gives the last figure, so that the books close to the last digit.
    convection: receiver.convection === 'none' ? convectionOf(glass) : gap + lightInCover - radiation,
    conduction,
    wall: gap + conduction,
    coverTemperature: glass,
  };
}

/**
 * Losses at a wall temperature.
 * @param wall K, one figure for the whole hot wall
 * @param lightInCover W of sunlight that the cover takes up; it warms the cover
 * @throws RangeError for a temperature that is not above 0
 */
export function lossesAt(
  receiver: Receiver,
  wall: number,
  surroundings: Surroundings,
  end: Case = 'best',
  lightInCover = 0,
): Losses {
  aboveZero('wall temperature, K,', wall);
  aboveZero('ambient temperature, K,', surroundings.ambient);
  if (receiver.cover) return coveredLosses(receiver, wall, surroundings, lightInCover, end);
  const { ambient } = surroundings;
  const { shape } = receiver;
  const seen = radiantSurroundings(ambient, receiver.skyShare ?? 0);
  const area = radiatingArea(receiver);
  const radiation = area * netRadiation(seenEmittance(receiver, wall, end), wall, seen);
  const conductance =
    receiver.convection === 'none'
      ? 0
      : shape.kind === 'cavity'
        ? cavityConvection(shape, wall, surroundings).conductance[end]
        : area * coefficientAt(shape, wall, surroundings, end);
  const convection = conductance * (wall - ambient);
  const conduction = conductionLoss(receiver, wall, ambient, end);
  return {
    radiation,
    convection,
    conduction,
    wall: radiation + convection + conduction,
    coverTemperature: null,
  };
}

/** Every formula behind a receiver's convection, W/K, to be shown beside the band that they leave. */
export interface ConvectionSpread {
  readonly natural: readonly FormulaValue[];
  readonly wind: readonly FormulaValue[];
  readonly conductance: Band;
}

/**
 * Convection of the open wall, or of the cover's outer face, formula by formula.
 * @param wall K; a cover is taken at the temperature that the best case gives it, without light in it
 */
export function convectionSpread(
  receiver: Receiver,
  wall: number,
  surroundings: Surroundings,
): ConvectionSpread {
  if (receiver.shape.kind === 'cavity' && !receiver.cover) {
    return cavityConvection(receiver.shape, wall, surroundings);
  }
  const face = coverFace(receiver);
  const surface = lossesAt(receiver, wall, surroundings).coverTemperature ?? wall;
  const { natural, wind, coefficient } = surfaceConvection(face.shape, surface, surroundings);
  const overArea = (values: readonly FormulaValue[]) =>
    values.map((entry) => ({ ...entry, value: entry.value * face.area }));
  return {
    natural: overArea(natural),
    wind: overArea(wind),
    conductance: {
      low: coefficient.low * face.area,
      best: coefficient.best * face.area,
      high: coefficient.high * face.area,
    },
  };
}
