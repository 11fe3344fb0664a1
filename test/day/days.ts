/** Days of scenes for the tests in this folder: scene text in, a day's result out, as the command does it. */
import { runScene } from '../../src/run/run.js';
import type { Scene } from '../../src/scene/types.js';
import { studyDay } from '../../src/study/day.js';
import { daySteps } from '../../src/study/day-steps.js';
import type { DayMode, DayStudy } from '../../src/study/day-types.js';
import { calendarDate } from '../../src/sun/calendar.js';
import { clockOf } from '../../src/sun/clock.js';
import { skyOf } from '../../src/sun/sky.js';

export const RADIANS = Math.PI / 180;

export interface DayWish {
  readonly date?: string;
  /** Hours of the clock. */
  readonly at?: readonly number[];
  readonly every?: number;
  readonly mode?: DayMode;
  readonly rays?: number;
  readonly deposit?: 'rays' | 'footprints';
  readonly seed?: string;
  readonly workers?: 0 | 2;
}

export function dayOf(scene: Scene, wish: DayWish): Promise<DayStudy> {
  const { site } = scene;
  if (site === null) throw new Error('the scene has no site');
  const clock = clockOf(site);
  const sky = skyOf(scene, null);
  const at = wish.at?.map((hours) => 3600 * hours) ?? null;
  const steps = daySteps(scene, sky, clock, calendarDate(wish.date ?? '2026-03-20'), {
    every: wish.every ?? 1800,
    at,
    above: 5 * RADIANS,
  });
  return studyDay({
    scene,
    run: runScene,
    runOptions: {
      seed: wish.seed ?? 'day',
      rays: wish.rays ?? 2 ** 15,
      target: null,
      maxRays: 1e9,
      workers: wish.workers ?? 0,
      ...(wish.deposit === 'footprints' ? { deposit: 'footprints' as const } : {}),
    },
    sky,
    clock,
    steps,
    mode: wish.mode ?? { kind: 'held' },
    searchRays: 2 ** 13,
    shown: 0,
  });
}

/** A small mirror at the origin that faces the equinox noon, and a plate. Focal length 1 m, latitude 35, true solar time. */
export interface StillMirror {
  readonly shape?: string;
  readonly diameter: number;
  /** Of the plate from the mirror. */
  readonly distance: number;
  /** Hour angle (degrees, afternoon positive) whose chief ray the plate stands in and faces; null: on the axis, level with it. */
  readonly chief: number | null;
  /** Side of the map. */
  readonly window: number;
  readonly cells?: number;
  /** Turn of the mirror towards the east, degrees: a fault. */
  readonly turned?: number;
}

export const LATITUDE = 35;

export function stillMirror(mirror: StillMirror): string {
  const {
    shape = '{ kind: paraboloid, focal_length_m: 1 }',
    diameter,
    distance,
    chief,
    window,
    cells = 64,
  } = mirror;
  const l = LATITUDE * RADIANS;
  const w = (chief ?? 0) * RADIANS;
  // The sun in the west throws the spot to the east.
  const way = [Math.sin(w), -Math.cos(w) * Math.sin(l), Math.cos(w) * Math.cos(l)];
  const azimuth = (Math.atan2(-way[0], -way[1]) / RADIANS + 360) % 360;
  const elevation = Math.asin(-way[2]) / RADIANS;
  const place = way.map((part) => (part * distance).toFixed(9)).join(', ');
  return `
title: A mirror that stands still through the day
site: { name: Tarn Hollow (invented), latitude_deg: ${LATITUDE}, longitude_deg: 0, height_m: 0, pressure_hpa: 300, temperature_c: 59 }
sun: { azimuth_deg: 180, elevation_deg: ${90 - LATITUDE}, dni_w_m2: 1000, sunshape: { kind: point } }
films: { film: { reflectance: 1, slope_error_mrad: 0, specularity_mrad: 0 } }
facets:
  - name: mirror
    film: film
    shape: ${shape}
    outline: { kind: round, diameter_m: ${diameter} }
    position_m: [0, 0, 0]
    facing: { azimuth_deg: ${180 - (mirror.turned ?? 0)}, elevation_deg: ${90 - LATITUDE} }
    along_azimuth_deg: 90
receivers:
  - name: screen
    kind: plate
    aperture: { shape: round, diameter_m: 0.0001 }
    window: { width_m: ${window}, height_m: ${window} }
    cells: ${cells}
    position_m: [${place}]
    facing: { azimuth_deg: ${azimuth}, elevation_deg: ${elevation} }
    along_azimuth_deg: 90
`;
}

/** Solar time of an hour angle in degrees, hours. */
export function solarHour(degrees: number): number {
  return 12 + degrees / 15;
}
