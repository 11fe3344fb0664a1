import type { Case } from './band.js';
import { aboveZero, risingTable, within } from './inputs.js';
import { linearBetween } from './table.js';

const PLANCK = 6.62607015e-34;
const LIGHT_SPEED = 299_792_458;
const BOLTZMANN = 1.380649e-23;

/** W/m2 K4: 2 pi^5 k^4 / (15 h^3 c^2) from the exact constants of CODATA 2018. */
export const STEFAN_BOLTZMANN = (2 * Math.PI ** 5 * BOLTZMANN ** 4) / (15 * PLANCK ** 3 * LIGHT_SPEED ** 2);

/** W/m2 of a black surface at a temperature, K. */
export function blackEmission(temperature: number): number {
  return STEFAN_BOLTZMANN * temperature ** 4;
}

/**
 * Hemispherical emittance against temperature: `offset + slope x (T - 273.15 K)`, or a table (linear between rows, constant
 * beyond). `uncertainty` is relative; the low and high cases take emittance x (1 -+ uncertainty), never above 1.
 */
export type Emittance =
  | {
      readonly kind: 'linear';
      readonly offset: number;
      readonly slope: number;
      readonly uncertainty?: number;
    }
  | {
      readonly kind: 'table';
      readonly temperature: readonly number[];
      readonly value: readonly number[];
      readonly uncertainty?: number;
    };

/** A grey surface: the same emittance at all temperatures. */
export function grey(emittance: number, uncertainty = 0): Emittance {
  return { kind: 'linear', offset: within('emittance', emittance, 0, 1), slope: 0, uncertainty };
}

/** @throws RangeError for tables that do not rise, values outside 0..1, or an uncertainty outside 0..1 */
export function checkEmittance(emittance: Emittance): void {
  within('uncertainty of the emittance', emittance.uncertainty ?? 0, 0, 1);
  if (emittance.kind === 'linear') {
    within('emittance at 0 degrees C', emittance.offset, -1, 1);
    within('slope of the emittance, 1/K,', emittance.slope, -0.01, 0.01);
    return;
  }
  risingTable('emittance table', emittance.temperature, [emittance.value]);
  for (const value of emittance.value) within('emittance', value, 0, 1);
}

/** Emittance at a temperature, K, held to 0..1: a straight line drawn too far must not give light away. */
export function emittanceAt(emittance: Emittance, temperature: number, end: Case = 'best'): number {
  const value =
    emittance.kind === 'linear'
      ? emittance.offset + emittance.slope * (temperature - 273.15)
      : linearBetween(emittance.temperature, emittance.value, temperature);
  const spread = emittance.uncertainty ?? 0;
  const factor = end === 'low' ? 1 - spread : end === 'high' ? 1 + spread : 1;
  return Math.min(1, Math.max(0, value * factor));
}

/**
 * Absorptance (or emittance) of a cavity's opening, walls diffuse and at one temperature: a / (a + (1 - a) A_opening/A_wall).
 * Closed form.
 * @param areaRatio area of the opening over that of the inside walls, above 0 up to 1
 */
export function cavityAbsorptance(wallAbsorptance: number, areaRatio: number): number {
  within('wall absorptance', wallAbsorptance, 0, 1);
  within('opening over wall area', aboveZero('opening over wall area', areaRatio), 0, 1);
  if (wallAbsorptance === 0) return 0;
  return wallAbsorptance / (wallAbsorptance + (1 - wallAbsorptance) * areaRatio);
}

/** Clear-sky temperature for radiation, K: 0.0552 T^1.5 (Swinbank 1963, from memory). */
export function skyTemperature(ambient: number): number {
  return 0.0552 * aboveZero('ambient temperature, K,', ambient) ** 1.5;
}

/** Fourth-power mean of what a surface sees: `skyShare` clear sky, the rest ground and mirrors at the air's temperature; K. */
export function radiantSurroundings(ambient: number, skyShare: number): number {
  within('share of sky seen', skyShare, 0, 1);
  return (skyShare * skyTemperature(ambient) ** 4 + (1 - skyShare) * ambient ** 4) ** 0.25;
}

/** Net W/m2 from a grey surface to large surroundings: emittance x sigma x (T^4 - T_s^4). */
export function netRadiation(emittance: number, temperature: number, surroundings: number): number {
  return emittance * STEFAN_BOLTZMANN * (temperature ** 4 - surroundings ** 4);
}

/** W/m2 between two large parallel grey planes: sigma (T1^4 - T2^4) / (1/e1 + 1/e2 - 1). Closed form; 0 where one is a mirror. */
export function planeExchange(
  emittance1: number,
  emittance2: number,
  temperature1: number,
  temperature2: number,
): number {
  if (emittance1 === 0 || emittance2 === 0) return 0;
  return netRadiation(1 / (1 / emittance1 + 1 / emittance2 - 1), temperature1, temperature2);
}

/** Share of sunlight kept by a receiver in the simplest balance: alpha - eps sigma (T^4 - T_s^4) / (C G), no convection. */
export function radiativeEfficiency(
  absorptance: number,
  emittance: number,
  temperature: number,
  surroundings: number,
  flux: number,
): number {
  return absorptance - netRadiation(emittance, temperature, surroundings) / aboveZero('flux, W/m2,', flux);
}

/**
 * Test form of a flat collector (structure of ISO 9806): eta0 - a1 dT/G - a2 dT^2/G.
 * @param dT mean fluid temperature less ambient, K
 */
export function collectorEfficiency(
  eta0: number,
  a1: number,
  a2: number,
  dT: number,
  irradiance: number,
): number {
  return eta0 - (a1 * dT + a2 * dT * dT) / aboveZero('irradiance, W/m2,', irradiance);
}
