/** How far the sun is, and what follows from it: how strong its light and how large its disc. */
import type { SunshapeSpec } from '../scene/types.js';
import { almanac } from './almanac.js';

/** Angular radius of the disc at 1 au: 959.63 seconds of arc (astronomical constant, from memory), radians. */
export const DISC_RADIUS_AT_1_AU = ((959.63 / 3600) * Math.PI) / 180;

/** Distance of the sun from the Earth's centre, au. @param time milliseconds since 1970 UTC */
export function sunDistance(time: number): number {
  const { Body, HelioDistance } = almanac();
  return HelioDistance(Body.Earth, new Date(time));
}

/** Irradiance outside the air relative to that at 1 au. @param time milliseconds since 1970 UTC */
export function distanceFactor(time: number): number {
  return sunDistance(time) ** -2;
}

/** Angular radius of the sun's disc, radians. @param time milliseconds since 1970 UTC */
export function discRadius(time: number): number {
  return Math.asin(Math.sin(DISC_RADIUS_AT_1_AU) / sunDistance(time));
}

/**
 * A scene's sunshape as the sun's distance of the day makes it: in January the disc is 1.7 % wider than at 1 au.
 *
 * The half angle of a disc, evenly bright or limb-darkened, is taken as that at 1 au and scaled. Other shapes stay as they are:
 * widths of a bell or of a measured profile hold sky around the disc, which does not scale, and the circumsolar formula
 * is fitted to profiles of all seasons.
 *
 * @param time milliseconds since 1970 UTC
 */
export function sunshapeOfDay(spec: SunshapeSpec, time: number): SunshapeSpec {
  if (spec.kind !== 'disc' && spec.kind !== 'limb_darkened') return spec;
  return { ...spec, halfAngle: (spec.halfAngle * discRadius(time)) / DISC_RADIUS_AT_1_AU };
}
