/** Beam (direct normal) irradiance under a clear sky, by formulas. */
import type { ClearSkySpec, HottelClimate, Site } from '../scene/types.js';
import { airMass } from './air-mass.js';
import { distanceFactor } from './distance.js';

/**
 * Irradiance outside the air at 1 au, W/m2: 1361, the nominal value of IAU resolution B3 of 2015 (from memory), between 1360.8 of
 * Kopp & Lean, GRL 38 (2011) L01706, and 1361.1 of Gueymard, Solar Energy 168 (2018).
 */
export const SOLAR_CONSTANT = 1361;

/** The solar constant inside Meinel's formula, W/m2. Its other numbers go with it: replacing it would spoil the fit. */
export const MEINEL_CONSTANT = 1353;

/** Factors on a0, a1 and k of Hottel's formula, by climate: Hottel, Solar Energy 18 (1976) 129. */
const CLIMATE_FACTORS: Readonly<Record<HottelClimate, readonly [number, number, number]>> = {
  tropical: [0.95, 0.98, 1.02],
  midlatitude_summer: [0.97, 0.99, 1.02],
  subarctic_summer: [0.99, 0.99, 1.01],
  midlatitude_winter: [1.03, 1.01, 1.0],
};

/** Heights above the sea, metres, up to which the formulas are used. */
export const HIGHEST_SITE = { hottel: 2500, meinel: 5000 } as const;

/** What Hottel's formula is made of: transmittance a0 + a1 exp(-k / cos(zenith)). */
export interface HottelTerms {
  readonly a0: number;
  readonly a1: number;
  readonly k: number;
}

/**
 * Hottel, Solar Energy 18 (1976) 129. The constants for a visibility of 5 km are from memory.
 *
 * @param visibility metres
 * @param height above the sea, metres, up to 2500
 * @param climate null: the standard atmosphere, without factors
 * @throws RangeError for a higher site
 */
export function hottelTerms(
  visibility: 23_000 | 5000,
  height: number,
  climate: HottelClimate | null,
): HottelTerms {
  if (height > HIGHEST_SITE.hottel) {
    throw new RangeError(`Hottel's formula is for heights up to ${HIGHEST_SITE.hottel} m, not ${height} m`);
  }
  const a = height / 1000;
  const [r0, r1, rk] = climate === null ? [1, 1, 1] : CLIMATE_FACTORS[climate];
  return visibility === 5000
    ? {
        a0: r0 * (0.2538 - 0.0063 * (6 - a) ** 2),
        a1: r1 * (0.7678 + 0.001 * (6.5 - a) ** 2),
        k: rk * (0.249 + 0.081 * (2.5 - a) ** 2),
      }
    : {
        a0: r0 * (0.4237 - 0.00821 * (6 - a) ** 2),
        a1: r1 * (0.5055 + 0.00595 * (6.5 - a) ** 2),
        k: rk * (0.2711 + 0.01858 * (2.5 - a) ** 2),
      };
}

/** Transmittance of the air for beam light. @param zenith radians, up to pi/2 */
export function hottelTransmittance({ a0, a1, k }: HottelTerms, zenith: number): number {
  return a0 + a1 * Math.exp(-k / Math.max(0, Math.cos(zenith)));
}

/**
 * Beam irradiance at 1 au by Meinel & Meinel, Applied Solar Energy (1976), with the air mass of Kasten & Young, W/m2.
 *
 * @param mass relative optical air mass
 * @param height above the sea, metres, up to 5000
 * @throws RangeError for a higher site
 */
export function meinelBeam(mass: number, height: number): number {
  if (height > HIGHEST_SITE.meinel) {
    throw new RangeError(`Meinel's formula is used up to ${HIGHEST_SITE.meinel} m, not at ${height} m`);
  }
  const h = 0.14 * (height / 1000);
  return MEINEL_CONSTANT * ((1 - h) * 0.7 ** (mass ** 0.678) + h);
}

/** Irradiance outside the air on a plane that faces the sun, W/m2. @param time milliseconds since 1970 UTC */
export function extraterrestrialBeam(time: number): number {
  return SOLAR_CONSTANT * distanceFactor(time);
}

/**
 * Beam irradiance under a clear sky, W/m2; 0 with the sun below the horizon. Both formulas are scaled by the sun's distance.
 *
 * Near the horizon Hottel's transmittance goes to a0 (some 0.13 at sea level), not to 0: it leans on hours with a higher sun.
 *
 * @param zenith of the sun's centre as seen, refraction included, radians
 * @param time milliseconds since 1970 UTC
 * @throws RangeError for a site higher than the formula is used for
 */
export function clearSkyBeam(
  model: ClearSkySpec,
  site: Pick<Site, 'height'>,
  zenith: number,
  time: number,
): number {
  if (zenith > Math.PI / 2) return 0;
  if (model.kind === 'meinel') {
    return model.clearness * distanceFactor(time) * meinelBeam(airMass(zenith), site.height);
  }
  const terms = hottelTerms(model.visibility, site.height, model.climate);
  return model.clearness * extraterrestrialBeam(time) * hottelTransmittance(terms, zenith);
}
