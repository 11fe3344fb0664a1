/** The sky of a scene over days and years: beam irradiance and air at any instant, from a formula or from weather. */
import { directionOf } from '../field/vector.js';
import type { Angles, ClearSkySpec, Scene, Site } from '../scene/types.js';
import { clearSkyBeam, HIGHEST_SITE } from './clear-sky.js';
import { seenSun } from './direction.js';
import type { Moment } from './moment.js';
import { type Stretch, sunUpBetween } from './solar-time.js';
import type { Weather } from './weather-types.js';
import { asDated, firstFrom, inYear, lastUpTo, type WeatherYear } from './weather-year.js';

const HOUR = 3_600_000;
const DEGREE = Math.PI / 180;
const EARTH_RADIUS = 6_371_000;
/** A weather station farther away, or higher or lower, by more than this (metres) is told. */
const FAR = 50_000;
const STEEP = 300;
/** Share of a file's beam energy in hours without sun beyond which its clock is doubted. */
const DARK_SHARE = 0.002;

/** Taken where a scene says nothing of its sky. */
const ASSUMED: ClearSkySpec = {
  kind: 'hottel',
  climate: 'midlatitude_summer',
  visibility: 23_000,
  clearness: 1,
};

/** Thrown where the sky over days is asked of a scene without a site. */
export class NoSiteError extends Error {
  override readonly name = 'NoSiteError';

  constructor() {
    super('the scene has no site: where the sun stands over days depends on the place');
  }
}

/** Thrown where a scene takes its sky from a weather file that was not read. */
export class WeatherMissingError extends Error {
  override readonly name = 'WeatherMissingError';

  constructor(file: string) {
    super(`the scene takes its sky from ${JSON.stringify(file)}, which was not read`);
  }
}

export interface Air {
  /** Air temperature, K. */
  readonly ambient: number;
  /** Wind speed, m/s; null where it is not known. */
  readonly wind: number | null;
  /** Air pressure, Pa. */
  readonly pressure: number;
}

export interface Beam extends Air {
  /** Beam (direct normal) irradiance, W/m2; 0 with the sun's centre, as seen, below the horizon. Of weather the interval's mean. */
  readonly dni: number;
  /** False where the weather file has nothing for this instant; the irradiance is then 0. */
  readonly known: boolean;
}

/** A stretch of time with the sun in it. */
export interface SkyStep extends Air {
  /** Milliseconds since 1970 UTC. */
  readonly start: number;
  readonly end: number;
  /** Where the sun is to be taken: the middle of the part with the sun up, milliseconds since 1970 UTC. */
  readonly time: number;
  /** Where the sun's centre is seen then. */
  readonly seen: Angles;
  /** Seconds with the sun up. */
  readonly sunlit: number;
  /**
   * Mean beam irradiance over all of start to end, its dark part included, W/m2: times (end - start) it is the energy. While the
   * sun is up it is stronger by (end - start) / sunlit.
   */
  readonly dni: number;
}

export interface Sky {
  /** @param time milliseconds since 1970 UTC */
  readonly beamAt: (time: number) => Beam;
  /**
   * The steps with the sun up between two instants. Under a clear sky they are as wide as asked; of weather they are the file's
   * own intervals that begin in from <= start < to, so that no energy of the file is lost or doubled.
   *
   * @param from milliseconds since 1970 UTC
   * @param width milliseconds; an hour if not given
   * @throws RangeError when there is no such stretch or width
   */
  readonly steps: (from: number, to: number, width?: number) => readonly SkyStep[];
  /** Where the irradiance comes from, in one line without a full stop. */
  readonly describe: () => string;
  /** The scene says nothing of its sky. */
  readonly assumed: boolean;
  /** What a user should know of it: gaps, a far station, a doubtful clock. */
  readonly notices: readonly string[];
}

/** A moment of a day, with the air about it. */
export interface SkyMoment extends Moment, Air {
  /** Milliseconds since 1970 UTC. */
  readonly time: number;
  /** Of the sun's centre as seen, radians. */
  readonly azimuth: number;
  readonly elevation: number;
  /** False where the weather file has nothing for this instant. */
  readonly known: boolean;
}

/**
 * @param weather of the scene's weather file (`parseWeather`), or null; where it is given it is the sky, whatever the scene says
 * @throws NoSiteError for a scene without a site
 * @throws WeatherMissingError when the scene's sky is a weather file and none is given
 */
export function skyOf(scene: Pick<Scene, 'site' | 'sky'>, weather: Weather | null): Sky {
  const { site, sky } = scene;
  if (site === null) throw new NoSiteError();
  if (weather !== null) return weatherSky(site, weather);
  if (sky?.kind === 'weather') throw new WeatherMissingError(sky.file);
  return clearSky(site, sky);
}

/**
 * The sky without clouds over a site: the scene's own formula, or the assumed one where the scene takes its sky from weather. For
 * what stands for many days, which the clouds of one day must not thin out.
 *
 * @throws NoSiteError for a scene without a site
 */
export function cloudlessSkyOf({ site, sky }: Pick<Scene, 'site' | 'sky'>): Sky {
  if (site === null) throw new NoSiteError();
  if (sky?.kind !== 'weather') return clearSky(site, sky);
  const clear = clearSky(site, null);
  return {
    ...clear,
    describe: () => `${modelText(ASSUMED, Math.min(site.height, HIGHEST_SITE.hottel))}, in place of weather`,
    assumed: false,
  };
}

/**
 * Sun and sky at an instant; by night the sun direction points below the horizon and the irradiance is 0. Refraction is that of
 * the site's own pressure and temperature, so that the sun's path does not hang on the weather.
 *
 * @param time milliseconds since 1970 UTC
 * @throws NoSiteError for a scene without a site
 */
export function momentAt(scene: Pick<Scene, 'site'>, sky: Sky, time: number): SkyMoment {
  if (scene.site === null) throw new NoSiteError();
  const seen = seenSun(scene.site, time);
  return { time, ...seen, sunDirection: directionOf(seen), ...sky.beamAt(time) };
}

function siteAir(site: Site): Air {
  return { ambient: site.temperature, wind: null, pressure: site.pressure };
}

function checkStretch(from: number, to: number, width: number): void {
  if (!(to > from && Number.isFinite(to - from)))
    throw new RangeError('the end must come after the beginning');
  if (!(width >= 1000)) throw new RangeError('a step lasts a second at least');
}

/** Middle of the longest sunlit part of start to end, with the sun then, and the seconds of all parts; null in the dark. */
function sunlitPart(
  site: Site,
  up: readonly Stretch[],
  start: number,
  end: number,
): Pick<SkyStep, 'time' | 'seen' | 'sunlit'> | null {
  let longest = 0;
  let time = 0;
  let all = 0;
  for (const stretch of up) {
    const from = Math.max(start, stretch.from);
    const lasts = Math.min(end, stretch.to) - from;
    if (!(lasts > 0)) continue;
    all += lasts;
    if (lasts <= longest) continue;
    longest = lasts;
    time = from + lasts / 2;
  }
  return all > 0 ? { time, seen: seenSun(site, time), sunlit: all / 1000 } : null;
}

function clearSky(site: Site, given: ClearSkySpec | null): Sky {
  const model = given ?? ASSUMED;
  // A scene that names the model was refused at such heights; one that names none still gets an answer.
  const height = given === null ? Math.min(site.height, HIGHEST_SITE.hottel) : site.height;
  const dniOf = ({ elevation }: Angles, time: number) =>
    elevation < 0 ? 0 : clearSkyBeam(model, { height }, Math.PI / 2 - elevation, time);
  return {
    beamAt: (time) => ({ dni: dniOf(seenSun(site, time), time), known: true, ...siteAir(site) }),
    steps: (from, to, width = HOUR) => {
      checkStretch(from, to, width);
      const up = sunUpBetween(site, from, to);
      return Array.from({ length: Math.ceil((to - from) / width) }, (_, index): SkyStep | null => {
        const start = from + index * width;
        const end = Math.min(to, start + width);
        const part = sunlitPart(site, up, start, end);
        if (part === null) return null;
        const dni = (dniOf(part.seen, part.time) * part.sunlit * 1000) / (end - start);
        return { start, end, ...part, dni, ...siteAir(site) };
      }).filter((step) => step !== null);
    },
    describe: () => {
      const assumed = given === null ? '; assumed, as the scene does not describe its sky' : '';
      return `${modelText(model, height)}${assumed}`;
    },
    assumed: given === null,
    notices:
      height === site.height
        ? []
        : [
            `The site lies ${Math.round(site.height)} m high; the assumed sky is that of ${height} m, where its formula ends.`,
          ],
  };
}

function modelText(model: ClearSkySpec, height: number): string {
  const clearness = model.clearness === 1 ? '' : `, times ${model.clearness}`;
  const where = `at ${Math.round(height)} m${clearness}`;
  if (model.kind === 'meinel') return `clear sky by Meinel (1976) ${where}`;
  return `clear sky by Hottel (1976), ${model.climate.replace('_', ' ')}, visibility ${model.visibility / 1000} km, ${where}`;
}

function weatherSky(site: Site, weather: Weather): Sky {
  const dated = asDated(weather);
  const years = new Map<number, WeatherYear>();
  const yearOf = (time: number): number => new Date(time + weather.utcOffset).getUTCFullYear();
  const year = (number: number): WeatherYear => {
    let found = years.get(number);
    if (found === undefined) {
      found = inYear(weather, number);
      years.set(number, found);
    }
    return found;
  };
  const airOf = (index: number): Air => {
    const or = (value: number, other: number) => (Number.isNaN(value) ? other : value);
    return {
      ambient: or(weather.temperature[index], site.temperature),
      wind: Number.isNaN(weather.wind[index]) ? null : weather.wind[index],
      pressure: or(weather.pressure[index], site.pressure),
    };
  };
  const stepsIn = ({ start, index }: WeatherYear, from: number, to: number): readonly SkyStep[] => {
    const steps: SkyStep[] = [];
    const up = sunUpBetween(site, from, to + weather.interval);
    for (let place = firstFrom(start, from); place < start.length && start[place] < to; place++) {
      const end = start[place] + weather.interval;
      const part = sunlitPart(site, up, start[place], end);
      if (part === null) continue;
      const dni = weather.dni[index[place]];
      steps.push({ start: start[place], end, ...part, dni, ...airOf(index[place]) });
    }
    return steps;
  };
  return {
    beamAt: (time) => {
      const { start, index } = weather.repeats ? year(yearOf(time)) : dated;
      const place = lastUpTo(start, time);
      if (place < 0 || time >= start[place] + weather.interval) {
        return { dni: 0, known: false, ...siteAir(site) };
      }
      const up = seenSun(site, time).elevation >= 0;
      return { dni: up ? weather.dni[index[place]] : 0, known: true, ...airOf(index[place]) };
    },
    steps: (from, to, width = HOUR) => {
      checkStretch(from, to, width);
      if (!weather.repeats) return stepsIn(dated, from, to);
      const steps: SkyStep[] = [];
      for (let number = yearOf(from); number <= yearOf(to); number++) {
        steps.push(...stepsIn(year(number), from, to));
      }
      return steps;
    },
    describe: () => {
      const count = weather.start.length;
      const many =
        weather.interval === HOUR
          ? `${count} hours`
          : `${count} means of ${weather.interval / 60_000} minutes`;
      const place = weather.place === null ? '' : ` (${weather.place.name})`;
      return `weather of ${weather.file}${place}, ${many}${weather.repeats ? ', taken for any year' : ''}`;
    },
    assumed: false,
    notices: [
      ...weather.notices.map(({ text }) => `${text}.`),
      ...placeNotices(site, weather),
      ...clockNotices(site, weather),
    ],
  };
}

function placeNotices(site: Site, { place }: Weather): readonly string[] {
  if (place === null) return [];
  const found: string[] = [];
  const half = (angle: number) => Math.sin(angle / 2) ** 2;
  const chord =
    half(place.latitude - site.latitude) +
    Math.cos(place.latitude) * Math.cos(site.latitude) * half(place.longitude - site.longitude);
  const distance = 2 * EARTH_RADIUS * Math.asin(Math.min(1, Math.sqrt(chord)));
  if (distance > FAR)
    found.push(`The weather station stands ${Math.round(distance / 1000)} km from the site.`);
  const climb = place.height - site.height;
  if (Math.abs(climb) > STEEP) {
    const way = climb > 0 ? 'higher' : 'lower';
    found.push(`The weather station stands ${Math.round(Math.abs(climb))} m ${way} than the site.`);
  }
  return found;
}

/** Beam irradiance in the dark tells of a wrong offset, a wrong place or wrong time marks. */
function clockNotices(site: Site, weather: Weather): readonly string[] {
  let dark = 0;
  let all = 0;
  const up = (time: number) => seenSun(site, time).elevation >= -0.5 * DEGREE;
  weather.dni.forEach((dni, index) => {
    all += dni;
    if (dni <= 0) return;
    const [start, end] = [weather.start[index], weather.end[index]];
    if (!up((start + end) / 2) && !up(start) && !up(end)) dark += dni;
  });
  if (!(dark > DARK_SHARE * all)) return [];
  const share = (100 * dark) / all;
  return [
    `${share.toFixed(1)} % of the beam energy in the weather file comes with the sun below the horizon and is left out: its offset from UTC, its time marks or the site may be wrong.`,
  ];
}
