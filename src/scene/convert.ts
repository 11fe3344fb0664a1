/** A valid scene file to the `Scene` of `types.ts`: SI units, radians, defaults that depend on other keys. */

import { sceneHash } from './hash.js';
import { convertPlant } from './plant-convert.js';
import type {
  BlockerEntry,
  DishEntry,
  FacetEntry,
  FilmEntry,
  ReceiverEntry,
  RowEntry,
  SceneFile,
  SiteEntry,
  SkyEntry,
  StandingReceiverEntry,
  SunEntry,
} from './schema.js';
import { LIMITS } from './schema.js';
import { offsetSeconds, timeZoneOf } from './time-zone.js';
import type {
  Angles,
  BlockerSpec,
  DishDesign,
  FacetShape,
  FacetSpec,
  Film,
  Outline,
  ReceiverDesign,
  RowSpec,
  Scene,
  Site,
  SkySpec,
  StandingReceiver,
  SunSpec,
  SunshapeSpec,
} from './types.js';

const KELVIN_AT_ZERO_CELSIUS = 273.15;

/** Default map window relative to the aperture: wide enough to see the near spill. */
const WINDOW_SCALE = 2.5;
const LINE_WINDOW_LENGTH_SCALE = 1.1;
/** Default averaging disc of the peak: this part of the aperture's small side, but at least so many map cells. */
const PEAK_DISC_PART = 0.1;
const PEAK_DISC_CELLS = 3;

function radians(degrees: number): number {
  return (degrees * Math.PI) / 180;
}

/** Division rounds once; a factor of 0.001, which no double holds exactly, would round twice. */
function fromMilliradians(angle: number): number {
  return angle / 1000;
}

function angles(entry: { azimuth_deg: number; elevation_deg: number }): Angles {
  return { azimuth: radians(entry.azimuth_deg), elevation: radians(entry.elevation_deg) };
}

/**
 * Standard atmosphere (ISO 2533: 288.15 K and 101325 Pa at sea level, 6.5 K per km, exponent 5.25588; from memory).
 * @param height metres above the sea
 */
function standardAtmosphere(height: number): { temperature: number; pressure: number } {
  const temperature = 288.15 - 0.0065 * height;
  return { temperature, pressure: 101_325 * (temperature / 288.15) ** 5.25588 };
}

function convertSite(entry: SiteEntry): Site {
  const standard = standardAtmosphere(entry.height_m);
  return {
    name: entry.name,
    latitude: radians(entry.latitude_deg),
    longitude: radians(entry.longitude_deg),
    height: entry.height_m,
    pressure: entry.pressure_hpa === undefined ? standard.pressure : entry.pressure_hpa * 100,
    temperature:
      entry.temperature_c === undefined ? standard.temperature : entry.temperature_c + KELVIN_AT_ZERO_CELSIUS,
    timeZone: entry.time_zone === undefined ? null : timeZoneOf(entry.time_zone),
  };
}

const DELIMITERS = { comma: ',', semicolon: ';', tab: '\t' } as const;

function convertSky(entry: SkyEntry): SkySpec {
  switch (entry.kind) {
    case 'hottel':
      return {
        kind: 'hottel',
        climate: entry.climate,
        visibility: entry.visibility === '5_km' ? 5000 : 23_000,
        clearness: entry.clearness,
      };
    case 'meinel':
      return { kind: 'meinel', clearness: entry.clearness };
    case 'epw':
      return { kind: 'weather', file: entry.file, layout: { kind: 'epw' } };
    case 'csv': {
      const { time, dni_w_m2, temperature_c, wind_m_s, pressure_hpa } = entry.columns;
      return {
        kind: 'weather',
        file: entry.file,
        layout: {
          kind: 'columns',
          columns: {
            time,
            dni: dni_w_m2,
            temperature: temperature_c ?? null,
            wind: wind_m_s ?? null,
            pressure: pressure_hpa ?? null,
          },
          timeMarks: entry.time_marks,
          utcOffset: entry.utc_offset === undefined ? null : offsetSeconds(entry.utc_offset),
          interval: entry.interval_minutes * 60,
          headingLine: entry.heading_line,
          delimiter: DELIMITERS[entry.delimiter],
          missing: entry.missing,
        },
      };
    }
  }
}

/**
 * @param text ISO 8601 date and time with an explicit offset
 * @returns milliseconds since 1970 UTC, or NaN when there is no such day or hour, or the year is not in 1950 to 2100
 */
export function instantOf(text: string): number {
  const time = Date.parse(text);
  const [year, month, day] = text.slice(0, 10).split('-').map(Number);
  // Date.parse rolls 30 February over into March.
  const daysInMonth = new Date(Date.UTC(year, month, 0)).getUTCDate();
  return year < 1950 || year > 2100 || day > daysInMonth ? Number.NaN : time;
}

function convertSunshape(entry: SunEntry['sunshape']): SunshapeSpec {
  switch (entry.kind) {
    case 'point':
      return { kind: 'point' };
    case 'disc':
      return { kind: 'disc', halfAngle: fromMilliradians(entry.half_angle_mrad) };
    case 'limb_darkened':
      return {
        kind: 'limb_darkened',
        halfAngle: fromMilliradians(entry.half_angle_mrad),
        darkening: entry.darkening,
      };
    case 'gaussian':
      return { kind: 'gaussian', sigma: fromMilliradians(entry.sigma_mrad) };
    case 'circumsolar':
      return { kind: 'circumsolar', circumsolarRatio: entry.circumsolar_ratio };
    case 'table':
      return {
        kind: 'table',
        angle: entry.angle_mrad.map(fromMilliradians),
        radiance: entry.radiance,
      };
  }
}

function convertSun(entry: SunEntry): SunSpec {
  const direction: SunSpec['direction'] =
    entry.date_time === undefined
      ? {
          kind: 'angles',
          azimuth: radians(entry.azimuth_deg ?? Number.NaN),
          elevation: radians(entry.elevation_deg ?? Number.NaN),
        }
      : { kind: 'moment', time: instantOf(entry.date_time) };
  return { direction, dni: entry.dni_w_m2, sunshape: convertSunshape(entry.sunshape) };
}

function convertFilm(name: string, entry: FilmEntry): Film {
  const table = entry.reflectance_by_incidence;
  const lobes = entry.lobes ?? [{ weight: 1, sigma_mrad: entry.specularity_mrad ?? 0 }];
  // The file's weights sum to 1 within 1e-6; from here on they do so exactly.
  const weights = lobes.length === 1 ? [1] : [lobes[0].weight, 1 - lobes[0].weight];
  return {
    name,
    reflectance:
      table === undefined
        ? { incidence: [0], value: [entry.reflectance ?? Number.NaN] }
        : { incidence: table.incidence_deg.map(radians), value: table.reflectance },
    soilingFactor: entry.soiling_factor,
    ageingFactor: entry.ageing_factor,
    slopeErrorAlong: fromMilliradians(entry.slope_error_along_mrad ?? entry.slope_error_mrad ?? Number.NaN),
    slopeErrorAcross: fromMilliradians(entry.slope_error_across_mrad ?? entry.slope_error_mrad ?? Number.NaN),
    lobes: lobes.map((lobe, index) => ({
      weight: weights[index],
      sigma: fromMilliradians(lobe.sigma_mrad),
    })),
  };
}

function mapCells(
  cells: ReceiverEntry['cells'],
  window: { width: number; height: number },
): readonly [number, number] {
  if (typeof cells !== 'number') return cells;
  const shortSide = Math.min(window.width, window.height);
  const along = (side: number) =>
    Math.max(cells, Math.min(LIMITS.cellsLongSide, Math.round((cells * side) / shortSide)));
  return [along(window.width), along(window.height)];
}

/** Aperture, window and body in metres (u by v), before cells and averaging disc are chosen. */
function receiverExtent(entry: ReceiverEntry): Pick<ReceiverDesign, 'aperture' | 'window' | 'body'> {
  if (entry.kind === 'tube') {
    const { diameter_m: diameter, length_m: length } = entry.aperture;
    return {
      aperture: { shape: 'tube', diameter, length },
      window: { width: length, height: Math.PI * diameter },
      body: null,
    };
  }
  if (entry.kind === 'line_plate') {
    const { length_m: width, width_m: height } = entry.aperture;
    return {
      aperture: { shape: 'rectangle', width, height },
      window: {
        width: entry.window?.length_m ?? width * LINE_WINDOW_LENGTH_SCALE,
        height: entry.window?.width_m ?? height * WINDOW_SCALE,
      },
      body: entry.body && {
        shape: 'rectangle',
        width: entry.body.length_m,
        height: entry.body.width_m,
        depth: entry.body.depth_m,
      },
    };
  }
  const aperture: ReceiverDesign['aperture'] =
    entry.aperture.shape === 'round'
      ? { shape: 'round', diameter: entry.aperture.diameter_m }
      : { shape: 'rectangle', width: entry.aperture.width_m, height: entry.aperture.height_m };
  const [width, height] = apertureBox(aperture);
  return {
    aperture,
    window: {
      width: entry.window?.width_m ?? width * WINDOW_SCALE,
      height: entry.window?.height_m ?? height * WINDOW_SCALE,
    },
    body:
      entry.body === null
        ? null
        : entry.body.shape === 'round'
          ? { shape: 'round', diameter: entry.body.diameter_m, depth: entry.body.depth_m }
          : {
              shape: 'rectangle',
              width: entry.body.width_m,
              height: entry.body.height_m,
              depth: entry.body.depth_m,
            },
  };
}

/** @returns size along u and v of the rectangle about an aperture (of a tube: length and diameter), metres */
export function apertureBox(aperture: ReceiverDesign['aperture']): readonly [number, number] {
  switch (aperture.shape) {
    case 'round':
      return [aperture.diameter, aperture.diameter];
    case 'rectangle':
      return [aperture.width, aperture.height];
    case 'tube':
      return [aperture.length, aperture.diameter];
  }
}

/** @returns the receiver in SI units, window, cells and averaging disc chosen where the file does not give them */
export function convertReceiver(entry: ReceiverEntry): ReceiverDesign {
  const { aperture, window, body } = receiverExtent(entry);
  const cells = mapCells(entry.cells, window);
  const largestCell = Math.max(window.width / cells[0], window.height / cells[1]);
  const smallSide = Math.min(...apertureBox(aperture));
  // Never wider than the aperture: over very oblong cells a disc of three of them would wind round and round a tube.
  const peakDisc =
    entry.peak_disc_m ??
    Math.min(smallSide, Math.max(smallSide * PEAK_DISC_PART, largestCell * PEAK_DISC_CELLS));
  return { kind: entry.kind, aperture, window, cells, peakDisc, body };
}

function convertBlocker(entry: BlockerEntry, index: number): BlockerSpec {
  const name = entry.name ?? `${entry.kind} ${index + 1}`;
  return entry.kind === 'box'
    ? {
        kind: 'box',
        name,
        centre: entry.centre_m,
        size: entry.size_m,
        heading: radians(entry.heading_deg),
      }
    : { kind: 'cylinder', name, from: entry.from_m, to: entry.to_m, diameter: entry.diameter_m };
}

function convertDish(name: string, entry: DishEntry): DishDesign {
  const { strips, receiver } = entry;
  return {
    name,
    film: entry.film,
    focalLengthAlongRow: entry.focal_length_along_row_m,
    focalLengthAcrossRow: entry.focal_length_across_row_m,
    strips: {
      count: strips.count,
      width: strips.width_m,
      length: strips.length_m,
      gap: strips.gap_m,
      direction: strips.direction,
      bend: strips.bend,
      bendFit: strips.bend_fit,
    },
    rib: entry.rib,
    designTilt: radians(entry.design_tilt_deg),
    designSun: entry.design_sun && angles(entry.design_sun),
    tiltSetting: radians(entry.tilt_setting_deg),
    focus: entry.focus_m,
    receiver: receiver && {
      design: convertReceiver(receiver),
      offset: receiver.offset_m,
      faces: receiver.faces,
    },
    blockers: entry.blockers.map(convertBlocker),
  };
}

/** @returns length of a dish along its row, its strips laid flat, metres */
export function dishLengthAlongRow(entry: DishEntry): number {
  const { count, width_m, length_m, gap_m, direction } = entry.strips;
  return direction === 'along_row' ? length_m : count * width_m + (count - 1) * gap_m;
}

function convertRow(entry: RowEntry, dish: DishEntry): RowSpec {
  return {
    name: entry.name,
    dish: entry.dish,
    dishes: entry.dishes,
    // Of no effect with a single dish or row; a length keeps it out of the way of divisions.
    pitch: entry.pitch_m ?? dishLengthAlongRow(dish),
    heading: radians(entry.heading_deg),
    centre: entry.centre_m,
    rows: entry.rows,
    rowSpacing: entry.row_spacing_m ?? dishLengthAlongRow(dish),
    receiver: entry.receiver,
  };
}

function convertShape(entry: FacetEntry['shape']): FacetShape {
  switch (entry.kind) {
    case 'flat':
      return { kind: 'flat' };
    case 'bent':
      return { kind: 'bent', curve: entry.curve, focalLength: entry.focal_length_m };
    case 'paraboloid':
      return { kind: 'paraboloid', focalLength: entry.focal_length_m };
    case 'toroid':
      return { kind: 'toroid', radiusAlong: entry.radius_along_m, radiusAcross: entry.radius_across_m };
  }
}

function convertOutline(entry: FacetEntry['outline']): Outline {
  return entry.kind === 'round'
    ? { kind: 'round', diameter: entry.diameter_m, holeDiameter: entry.hole_diameter_m }
    : { kind: 'rectangle', length: entry.length_m, width: entry.width_m, centre: entry.centre_m };
}

function convertFacet(entry: FacetEntry): FacetSpec {
  return {
    name: entry.name,
    film: entry.film,
    shape: convertShape(entry.shape),
    outline: convertOutline(entry.outline),
    position: entry.position_m,
    facing: angles(entry.facing),
    alongAzimuth: radians(entry.along_azimuth_deg),
    receiver: entry.receiver,
  };
}

function convertStandingReceiver(entry: StandingReceiverEntry): StandingReceiver {
  return {
    name: entry.name,
    design: convertReceiver(entry),
    position: entry.position_m,
    facing: angles(entry.facing),
    alongAzimuth: radians(entry.along_azimuth_deg),
  };
}

/**
 * @param file a scene file that passed the schema and `consistencyProblems`
 * @returns the scene in SI units and radians with its hash
 */
export function convertScene(file: SceneFile): Scene {
  const scene: Omit<Scene, 'hash'> = {
    title: file.title,
    site: file.site === undefined ? null : convertSite(file.site),
    sun: convertSun(file.sun),
    sky: file.sky === undefined ? null : convertSky(file.sky),
    films: Object.entries(file.films).map(([name, entry]) => convertFilm(name, entry)),
    dishes: Object.entries(file.dishes).map(([name, entry]) => convertDish(name, entry)),
    rows: file.rows.map((entry) => convertRow(entry, file.dishes[entry.dish])),
    facets: file.facets.map(convertFacet),
    receivers: file.receivers.map(convertStandingReceiver),
    blockers: file.blockers.map(convertBlocker),
    ground: file.ground === undefined ? null : file.ground.height_m,
    bounceLimit: file.bounce_limit,
    plant: convertPlant(file),
  };
  return { ...scene, hash: sceneHash(scene) };
}
