/** Heat from the wall of a channel into the oil that flows in it. */

import { type Band, bandOfFormulas, type FormulaValue } from './band.js';
import { aboveZero, wholeFrom, within } from './inputs.js';
import { type Oil, oilAt } from './oil.js';

/** Channels behind the lit wall, all alike, side by side. SI. */
export interface Channel {
  /** Inside diameter, or hydraulic diameter of another section. */
  readonly diameter: number;
  /** Of one channel, lit or not. */
  readonly length: number;
  /** How many carry the flow side by side. */
  readonly parallel: number;
  /** m2 over all; pi/4 d^2 times their number where left out. */
  readonly flowArea?: number;
  /** m2 that takes the heat up, over all; pi d L times their number where left out. */
  readonly wettedArea?: number;
  readonly wallThickness: number;
  readonly wallConductivity: number;
  /** Heat flux on the oil's side over that on the lit side at the hot spot; 1 where left out (outside over inside diameter for a tube). */
  readonly fluxRatio?: number;
}

export interface FilmCoefficient {
  readonly velocity: number;
  readonly reynolds: number;
  readonly prandtl: number;
  readonly regime: 'laminar' | 'transition' | 'turbulent';
  readonly formulas: readonly FormulaValue[];
  /** W/m2 K. */
  readonly coefficient: Band;
  readonly outsideTable: boolean;
}

/** Ends of the transition between laminar and turbulent flow in a pipe (Gnielinski 2013 takes 2300 and 4000; from memory). */
export const LAMINAR_END = 2300;
export const TURBULENT_START = 4000;

export function flowArea(channel: Channel): number {
  return channel.flowArea ?? (Math.PI / 4) * channel.diameter ** 2 * channel.parallel;
}

export function wettedArea(channel: Channel): number {
  return channel.wettedArea ?? Math.PI * channel.diameter * channel.length * channel.parallel;
}

/** m3 of oil in the channels. */
export function channelVolume(channel: Channel): number {
  return flowArea(channel) * channel.length;
}

/** @throws RangeError for sizes that cannot be */
export function checkChannel(channel: Channel): void {
  aboveZero('channel diameter, m,', channel.diameter);
  aboveZero('channel length, m,', channel.length);
  wholeFrom('number of channels side by side', channel.parallel, 1);
  aboveZero('flow area, m2,', flowArea(channel));
  aboveZero('wetted area, m2,', wettedArea(channel));
  within('wall thickness, m,', channel.wallThickness, 0);
  aboveZero('wall conductivity, W/m K,', channel.wallConductivity);
  aboveZero('flux ratio', channel.fluxRatio ?? 1);
}

/** Friction factor (Darcy) of a smooth pipe: (0.79 ln Re - 1.64)^-2 (Petukhov 1970), Re 3000 to 5e6. */
export function petukhovFriction(re: number): number {
  return (0.79 * Math.log(re) - 1.64) ** -2;
}

/** Gnielinski, Int. Chem. Eng. 16 (1976) 359: Re 3000 to 5e6, Pr 0.5 to 2000. @param friction of a smooth pipe where left out */
export function gnielinski(re: number, pr: number, friction = petukhovFriction(re)): number {
  const f = friction / 8;
  return (f * (re - 1000) * pr) / (1 + 12.7 * Math.sqrt(f) * (pr ** (2 / 3) - 1));
}

/** Dittus & Boelter 1930, heating: 0.023 Re^0.8 Pr^0.4, Re above 1e4, Pr 0.6 to 160. */
export function dittusBoelter(re: number, pr: number): number {
  return 0.023 * re ** 0.8 * pr ** 0.4;
}

/** Hausen 1943: laminar, wall at one temperature, entry counted: 3.66 + 0.0668 Gz / (1 + 0.04 Gz^(2/3)), Gz = Re Pr d/L. */
export function hausen(re: number, pr: number, diameterOverLength: number): number {
  const gz = re * pr * diameterOverLength;
  return 3.66 + (0.0668 * gz) / (1 + 0.04 * gz ** (2 / 3));
}

/** Fully developed laminar flow in a round pipe: wall at one temperature (3.66), uniform heat flux (48/11). Closed form. */
export const LAMINAR_WALL_TEMPERATURE = 3.66;
export const LAMINAR_HEAT_FLUX = 48 / 11;

/**
 * Coefficients in the channel at a bulk temperature. Laminar: Hausen (best), fully developed 3.66 and 4.36. Turbulent:
 * Gnielinski (best), Dittus-Boelter above Re 1e4. Between Re 2300 and 4000: a straight line from Hausen to Gnielinski (best, as
 * Gnielinski 2013), the laminar value as the low end and Gnielinski's at this Re (from 3000) as the high end. Viscosity at the
 * wall is not corrected for: oils thin at a hot wall, which helps.
 * @param massFlow kg/s over all channels
 * @throws RangeError for a flow that is not above 0, or an oil without a table
 */
export function filmCoefficient(oil: Oil, channel: Channel, bulk: number, massFlow: number): FilmCoefficient {
  checkChannel(channel);
  aboveZero('mass flow, kg/s,', massFlow);
  const state = oilAt(oil, bulk);
  const velocity = massFlow / (state.density * flowArea(channel));
  const re = (state.density * velocity * channel.diameter) / state.viscosity;
  const pr = state.prandtl;
  const ratio = channel.diameter / channel.length;
  const perNusselt = state.conductivity / channel.diameter;
  const regime = re <= LAMINAR_END ? 'laminar' : re < TURBULENT_START ? 'transition' : 'turbulent';
  const formulas = nusseltFormulas(re, pr, ratio).map((entry) => ({
    ...entry,
    value: entry.value * perNusselt,
  }));
  return {
    velocity,
    reynolds: re,
    prandtl: pr,
    regime,
    formulas,
    coefficient: bandOfFormulas(formulas),
    outsideTable: state.outsideTable,
  };
}

function nusseltFormulas(re: number, pr: number, ratio: number): readonly FormulaValue[] {
  if (re <= LAMINAR_END) {
    return [
      { name: 'Hausen 1943', value: hausen(re, pr, ratio), inRange: true },
      { name: 'developed, wall at one temperature', value: LAMINAR_WALL_TEMPERATURE, inRange: true },
      { name: 'developed, uniform heat flux', value: LAMINAR_HEAT_FLUX, inRange: true },
    ];
  }
  if (re < TURBULENT_START) {
    const share = (re - LAMINAR_END) / (TURBULENT_START - LAMINAR_END);
    const laminar = hausen(LAMINAR_END, pr, ratio);
    const turbulent = gnielinski(TURBULENT_START, pr);
    return [
      {
        name: 'line from Hausen to Gnielinski',
        value: laminar + share * (turbulent - laminar),
        inRange: true,
      },
      { name: 'laminar held on: Hausen', value: hausen(re, pr, ratio), inRange: true },
      { name: 'Gnielinski 1976', value: gnielinski(re, pr), inRange: re >= 3000 },
    ];
  }
  return [
    { name: 'Gnielinski 1976', value: gnielinski(re, pr), inRange: true },
    { name: 'Dittus & Boelter 1930', value: dittusBoelter(re, pr), inRange: re >= 1e4 && pr <= 160 },
  ];
}
