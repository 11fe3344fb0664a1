/**
 * A mirror that stands still through the equinox, by the path of the command: scene text, clock, sun, trace.
 *
 * Sources: ROW-01, 14 closed forms (chief ray through the vertex); OAX-01, 02 closed forms: Coddington's foci f cos i and f / cos i,
 * and what follows for the spot at them and at f; stationary-dish-offaxis.csv exact trace. The real sun is not exactly on the
 * equator through the day (0.1 degrees at its ends) and its light is bent (0.02 degrees at most in this thin warm air).
 */
import { describe, expect, it } from 'vitest';
import type { DayStudy } from '../../src/study/day-types.js';
import { tableRows } from '../reference/tables.js';
import { sceneOf, traceText } from '../support/trace-text.js';
import { dayOf, LATITUDE, RADIANS, type StillMirror, solarHour, stillMirror } from './days.js';

/** A day of one step at the hour angle of the scene. */
function at(degrees: number, mirror: StillMirror): Promise<DayStudy> {
  return dayOf(sceneOf(stillMirror(mirror)), { at: [solarHour(degrees)], rays: 2 ** 16 });
}

function spotOf({ views }: DayStudy) {
  return views[0].receiver.spot;
}

/** Where the sun stands in the mirror's frame, from the step's own azimuth and elevation: east, north on the mirror, axis. */
function inMirror({ result }: DayStudy): [number, number, number] {
  const { azimuth_deg, elevation_deg } = result.steps[0].sun;
  const [a, e, l] = [azimuth_deg * RADIANS, elevation_deg * RADIANS, LATITUDE * RADIANS];
  const [east, north, up] = [Math.cos(e) * Math.sin(a), Math.cos(e) * Math.cos(a), Math.sin(e)];
  return [east, north * Math.cos(l) + up * Math.sin(l), up * Math.cos(l) - north * Math.sin(l)];
}

describe('ROW-14 travel of the spot over a plate at the focal length: f tan of the hour angle', () => {
  const plate = { diameter: 0.01, distance: 1, chief: null, window: 4.4, cells: 44 };
  it.each([
    [15, 0.26795],
    [30, 0.57735],
    [45, 1],
    [60, 1.73205],
  ])('%d degrees: %d', async (degrees, travel) => {
    const [afternoon, morning] = [await at(degrees, plate), await at(-degrees, plate)];
    const [u, other] = [spotOf(afternoon).centroid_u.value / 1000, spotOf(morning).centroid_u.value / 1000];
    expect(Math.abs(Math.abs(u) / travel - 1)).toBeLessThan(3e-3);
    expect(Math.abs(u / other + 1)).toBeLessThan(3e-3);
    // With the sun where it really stood: the least that coma of a mirror of f / 100 leaves.
    const [east, , axis] = inMirror(afternoon);
    expect(Math.abs(Math.abs(u) / Math.abs(east / axis) - 1)).toBeLessThan(3e-4);
    // Fault: the clock 2 minutes late.
    const late = await at(degrees + 0.5, plate);
    expect(Math.abs(Math.abs(spotOf(late).centroid_u.value) / 1000 / travel - 1)).toBeGreaterThan(3e-3);
  });
});

describe('ROW-01 profile angle: the spot climbs by tan(declination) / cos(hour angle)', () => {
  const rows = tableRows('profile-angle.csv').flatMap((row) => {
    const declination = Number(row.declination_deg);
    return Object.entries(row).flatMap(([key, eta]) => {
      const hour = /^eta_(?:at_)?w(\d+)$/.exec(key)?.[1];
      return hour === undefined ? [] : [{ declination, hour: Number(hour), eta: Number(eta) }];
    });
  });

  /** Profile angle read from the spot on a plate at the focal length, degrees. */
  async function profileAngle(declination: number, hour: number, lean = 0): Promise<number> {
    const [d, w, l] = [(declination + lean) * RADIANS, hour * RADIANS, LATITUDE * RADIANS];
    const south = Math.cos(d) * Math.cos(w) * Math.sin(l) - Math.sin(d) * Math.cos(l);
    const up = Math.cos(d) * Math.cos(w) * Math.cos(l) + Math.sin(d) * Math.sin(l);
    const west = Math.cos(d) * Math.sin(w);
    const azimuth = 180 + Math.atan2(west, south) / RADIANS;
    const text = stillMirror({ diameter: 0.004, distance: 1, chief: null, window: 9, cells: 30 });
    const { result } = await traceText(text, {
      rays: 4096,
      seed: `profile ${hour}`,
      overrides: [`sun.azimuth_deg=${azimuth}`, `sun.elevation_deg=${Math.asin(up) / RADIANS}`],
    });
    return Math.atan(Math.abs(result.receivers[0].spot.centroid_v.value) / 1000) / RADIANS;
  }

  it('has the whole table', () => {
    expect(rows).toHaveLength(36);
  });

  // Sun below the horizon of the site: no light to read it from.
  const visible = rows.filter(
    ({ declination, hour }) =>
      Math.sin(declination * RADIANS) * Math.sin(LATITUDE * RADIANS) +
        Math.cos(declination * RADIANS) * Math.cos(hour * RADIANS) * Math.cos(LATITUDE * RADIANS) >
      0,
  );
  it.each(visible)('declination $declination, $hour degrees: $eta', async ({ declination, hour, eta }) => {
    const angle = await profileAngle(declination, hour);
    // 5e-6: the table's last digit; the rest is the size of the mirror.
    expect(Math.abs(angle - eta)).toBeLessThan(2e-3);
    // Fault: a declination 0.05 degrees off.
    expect(Math.abs((await profileAngle(declination, hour, 0.05)) - eta)).toBeGreaterThan(2e-3);
  });
});

describe('OAX-01 and 02 over the day: spots at the foci and at the focal length', () => {
  const D = 0.02;
  /** Half width that holds 90 % of a disc of radius 1 pressed flat: (2 / pi) (a sqrt(1 - a^2) + asin a) = 0.9, closed form. */
  const FLAT_90 = 0.805_446;
  it.each([30, 45, 60])('%d degrees', async (degrees) => {
    const i = degrees * RADIANS;
    const c = Math.cos(i);
    const read = async (distance: number, late = 0): Promise<number> => {
      const mirror = { diameter: D, distance, chief: degrees, window: 3 * D, cells: 60 };
      return spotOf(await at(degrees + late, mirror)).holds_90.value / 1000;
    };
    // At f cos i: a line across the plane of incidence, D (1 - cos^2 i) long; at f / cos i one in it, D (1 / cos i - cos i).
    const tangential = FLAT_90 * D * (1 - c * c);
    const sagittal = FLAT_90 * D * (1 / c - c);
    expect(Math.abs((await read(c)) / tangential - 1)).toBeLessThan(0.02);
    expect(Math.abs((await read(1 / c)) / sagittal - 1)).toBeLessThan(0.02);
    // At f: a disc, evenly lit, D (1 - cos i) wide: the least blur of a still dish.
    expect(Math.abs((await read(1)) / (Math.sqrt(0.9) * D * (1 - c)) - 1)).toBeLessThan(0.03);
    // Fault: the plate 10 % of f too far out, where the disc has grown.
    expect(Math.abs((await read(1.1)) / (Math.sqrt(0.9) * D * (1 - c)) - 1)).toBeGreaterThan(0.03);
  });
});

describe('stationary-dish-offaxis.csv through the hours of the equinox', () => {
  const rows = tableRows('stationary-dish-offaxis.csv')
    .filter((row) => Number(row.R_eastwest_over_R_northsouth) === 1)
    .map((row) => ({
      n: Number(row.f_ns_over_D),
      degrees: Number(row.offaxis_eastwest_deg),
      r90: Number(row.r90_over_f_ns_point_sun),
      distance: Number(row.plane_distance_over_f_ns),
    }));
  it.each(rows)('f / D = $n, $degrees degrees: r90 $r90', async ({ n, degrees, r90, distance }) => {
    const mirror = { diameter: 1 / n, distance, chief: degrees, window: 8 * r90, cells: 80 };
    const held = async (scale: number): Promise<number> =>
      spotOf(await at(degrees, { ...mirror, diameter: scale / n })).holds_90.value / 2000;
    expect(Math.abs((await held(1)) / r90 - 1)).toBeLessThan(0.015);
    // Fault: a dish 1.05 x as wide.
    expect(Math.abs((await held(1.05)) / r90 - 1)).toBeGreaterThan(0.015);
  });
});
