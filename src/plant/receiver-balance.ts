/** Heat balance of a receiver: light in, heat to use, standstill, and how long a stopped pump leaves. */

import { type Band, bandOfCases, CASES, type Case } from './band.js';
import type { Surroundings } from './convection.js';
import { aboveZero, wholeFrom, within } from './inputs.js';
import { checkReceiver, lightShares, type Receiver, radiatingArea } from './receiver.js';
import { lossesAt } from './receiver-loss.js';
import { rootOf } from './root.js';

/** W. light = reflected + radiation + convection + conduction + useful, to the last digits. */
export interface Balance {
  readonly wall: number;
  readonly light: number;
  readonly reflected: number;
  /** In the wall, after cover and cavity. */
  readonly absorbed: number;
  readonly radiation: number;
  readonly convection: number;
  readonly conduction: number;
  readonly useful: number;
  readonly coverTemperature: number | null;
}

export interface UsefulHeat {
  readonly cases: Readonly<Record<Case, Balance>>;
  readonly useful: Band;
  readonly loss: Band;
  /** Useful over light; 0 without light. */
  readonly efficiency: Band;
}

/**
 * Balance at a wall temperature, one end of the formulas' span.
 * @param watts light that reaches the opening or the tube
 */
export function balanceAt(
  receiver: Receiver,
  watts: number,
  surroundings: Surroundings,
  wall: number,
  end: Case = 'best',
): Balance {
  const { reflected, inCover, absorbed } = lightShares(receiver, watts);
  const losses = lossesAt(receiver, wall, surroundings, end, inCover);
  return {
    wall,
    light: watts,
    reflected,
    absorbed,
    radiation: losses.radiation,
    convection: losses.convection,
    conduction: losses.conduction,
    useful: absorbed - losses.wall,
    coverTemperature: losses.coverTemperature,
  };
}

/**
 * Useful heat at a wall temperature with the span of the formulas.
 * @throws RangeError for a receiver, light or surroundings that cannot be
 */
export function usefulHeat(
  receiver: Receiver,
  watts: number,
  surroundings: Surroundings,
  wall: number,
): UsefulHeat {
  checkReceiver(receiver);
  within('wind, m/s,', surroundings.wind, 0);
  const at = (end: Case) => balanceAt(receiver, watts, surroundings, wall, end);
  const cases = { low: at('low'), best: at('best'), high: at('high') };
  const useful = bandOfCases((end) => cases[end].useful);
  return {
    cases,
    useful,
    loss: bandOfCases((end) => cases[end].absorbed - cases[end].useful),
    efficiency: bandOfCases((end) => (watts > 0 ? cases[end].useful / watts : 0)),
  };
}

const HOTTEST = 20_000;

/**
 * Wall temperature at which nothing is left to use, K: standstill without flow.
 * @returns null where not even 20,000 K would lose the light (a wall without losses)
 */
export function stagnationAt(
  receiver: Receiver,
  watts: number,
  surroundings: Surroundings,
  end: Case = 'best',
): number | null {
  const useful = (wall: number) => balanceAt(receiver, watts, surroundings, wall, end).useful;
  let hot = 2 * surroundings.ambient;
  while (useful(hot) > 0) {
    hot *= 1.5;
    if (hot > HOTTEST) return null;
  }
  return rootOf(useful, 0.5 * surroundings.ambient, hot);
}

/** Standstill temperature with its span, K; null where it has none. */
export function stagnation(receiver: Receiver, watts: number, surroundings: Surroundings): Band | null {
  checkReceiver(receiver);
  const values = CASES.map((end) => stagnationAt(receiver, watts, surroundings, end));
  const [one, best, other] = values;
  if (one === null || best === null || other === null) return null;
  return { low: Math.min(one, other, best), best, high: Math.max(one, other, best) };
}

/**
 * Standstill temperature of the hottest place alone, K: a piece of wall that keeps none of its neighbours' losses and hands on no
 * heat sideways. The peak flux stands in for the mean; a real wall lies between this and `stagnation`.
 * @param peakFlux W/m2 on the wall
 */
export function hotSpotStagnation(
  receiver: Receiver,
  peakFlux: number,
  surroundings: Surroundings,
): Band | null {
  return stagnation(
    receiver,
    within('peak flux, W/m2,', peakFlux, 0) * radiatingArea(receiver),
    surroundings,
  );
}

/** Joules per kelvin that warm up: wall and the oil that stands in it. */
export interface HeatStore {
  readonly wallMass: number;
  readonly wallHeatCapacity: number;
  readonly oilMass: number;
  /** J/kg K at a temperature, K. */
  readonly oilHeatCapacity: (temperature: number) => number;
}

/** @throws RangeError for masses below 0 or nothing at all to warm up */
export function checkStore(store: HeatStore): void {
  within('wall mass, kg,', store.wallMass, 0);
  within('oil mass, kg,', store.oilMass, 0);
  aboveZero('wall heat capacity, J/kg K,', store.wallHeatCapacity);
  aboveZero('mass of wall and oil, kg,', store.wallMass + store.oilMass);
}

/**
 * Seconds from a stopped pump until the body as a whole reaches a limit: integral of C dT / (absorbed - losses) by Simpson's rule.
 * @param steps even number of steps over the temperature
 * @returns 0 where it starts at or above the limit; null where standstill stays below it
 */
export function secondsToLimit(
  receiver: Receiver,
  watts: number,
  surroundings: Surroundings,
  store: HeatStore,
  start: number,
  limit: number,
  end: Case = 'best',
  steps = 64,
): number | null {
  checkStore(store);
  wholeFrom('steps', steps, 2);
  if (start >= limit) return 0;
  const pieces = steps + (steps % 2);
  const slowness = (wall: number) => {
    const net = balanceAt(receiver, watts, surroundings, wall, end).useful;
    const capacity = store.wallMass * store.wallHeatCapacity + store.oilMass * store.oilHeatCapacity(wall);
    return net > 0 ? capacity / net : Number.POSITIVE_INFINITY;
  };
  let sum = 0;
  for (let i = 0; i <= pieces; i++) {
    const weight = i === 0 || i === pieces ? 1 : i % 2 === 1 ? 4 : 2;
    sum += weight * slowness(start + ((limit - start) * i) / pieces);
  }
  const seconds = (sum * (limit - start)) / (3 * pieces);
  return Number.isFinite(seconds) ? seconds : null;
}

/** Body as a whole, all three ends; null entries never reach the limit. */
export interface TimeToLimit {
  readonly shortest: number | null;
  readonly best: number | null;
  readonly longest: number | null;
}

/** @see secondsToLimit; the shortest time goes with the lowest loss */
export function timeToLimit(
  receiver: Receiver,
  watts: number,
  surroundings: Surroundings,
  store: HeatStore,
  start: number,
  limit: number,
): TimeToLimit {
  checkReceiver(receiver);
  const of = (end: Case) => secondsToLimit(receiver, watts, surroundings, store, start, limit, end);
  return { shortest: of('low'), best: of('best'), longest: of('high') };
}

/**
 * Seconds until the wall and the oil right behind the hottest place reach a limit, nothing lost and nothing led sideways: the
 * shortest time that can be.
 * @param peakAbsorbed W/m2 absorbed there
 * @param capacity J/m2 K of wall and oil behind it
 */
export function hotSpotSeconds(peakAbsorbed: number, capacity: number, start: number, limit: number): number {
  aboveZero('heat capacity behind the spot, J/m2 K,', capacity);
  aboveZero('absorbed peak flux, W/m2,', peakAbsorbed);
  return Math.max(0, (capacity * (limit - start)) / peakAbsorbed);
}
