import { directionOf } from '../field/vector.js';
import type { Angles, Scene, Site } from '../scene/types.js';
import { almanac } from './almanac.js';
import type { Moment } from './moment.js';

/** Below this airless elevation (radians) no refraction is added: the formula is not meant for it. */
const LOWEST_REFRACTED = (-1 * Math.PI) / 180;
const DEGREE = Math.PI / 180;
const ZERO_CELSIUS = 273.15;

/** Thrown where a moment's sun stands below the horizon and no beam can reach a mirror. */
export class SunBelowHorizonError extends Error {
  override readonly name = 'SunBelowHorizonError';
  /** Elevation of the sun's centre, refraction included, radians. */
  readonly elevation: number;

  constructor(elevation: number) {
    super(`the sun stands ${(-elevation / DEGREE).toFixed(2)} degrees below the horizon at this moment`);
    this.elevation = elevation;
  }
}

/**
 * Refraction to add to an airless elevation, radians.
 *
 * Formula as in Reda & Andreas, Solar Energy 76 (2004) 577, with pressure and temperature; none below -1 degree.
 *
 * @param airless elevation without air, radians
 * @param pressure Pa
 * @param temperature K
 */
export function refraction(airless: number, pressure: number, temperature: number): number {
  if (airless < LOWEST_REFRACTED) return 0;
  const degrees = airless / DEGREE;
  const standard = 1.02 / (60 * Math.tan((degrees + 10.3 / (degrees + 5.11)) * DEGREE));
  return (pressure / 101_000) * (283 / (temperature - ZERO_CELSIUS + 273)) * standard * DEGREE;
}

/**
 * Where the sun's centre stands without air: apparent direction at the site (aberration and parallax included).
 *
 * @param time milliseconds since 1970 UTC
 */
export function airlessSun(site: Site, time: number): Angles {
  const { Body, Equator, Horizon, Observer } = almanac();
  const observer = new Observer(site.latitude / DEGREE, site.longitude / DEGREE, site.height);
  const date = new Date(time);
  const equatorial = Equator(Body.Sun, date, observer, true, true);
  const horizontal = Horizon(date, observer, equatorial.ra, equatorial.dec);
  return { azimuth: horizontal.azimuth * DEGREE, elevation: horizontal.altitude * DEGREE };
}

/** Where the sun's centre is seen from the site, refraction included. Arguments as for airlessSun. */
export function seenSun(site: Site, time: number): Angles {
  const { azimuth, elevation } = airlessSun(site, time);
  return { azimuth, elevation: elevation + refraction(elevation, site.pressure, site.temperature) };
}

/**
 * Sun direction and beam irradiance of a scene.
 *
 * @throws SunBelowHorizonError when the sun's centre is below the horizon
 * @throws Error when the scene gives an instant but no site
 */
export function momentOf(scene: Scene): Moment {
  const { direction, dni } = scene.sun;
  let angles: Angles;
  if (direction.kind === 'angles') {
    angles = direction;
  } else {
    if (scene.site === null) throw new Error('the sun is given by an instant, but the scene has no site');
    angles = seenSun(scene.site, direction.time);
  }
  if (angles.elevation < 0) throw new SunBelowHorizonError(angles.elevation);
  return { sunDirection: directionOf(angles), dni };
}
