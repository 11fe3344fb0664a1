/** The light of a year in equal steps, read from an optics table, and the air that goes with it. */
import type { YearLight, YearWeather } from '../plant/year-heat.js';
import { SHARES } from '../result/shares.js';
import { daysInYear } from '../sun/calendar.js';
import type { Clock } from '../sun/clock.js';
import type { Sky } from '../sun/sky.js';
import type { OpticsTable } from './optics-table.js';
import { nodeKey, nodesOf, weightsAt } from './optics-table-cells.js';
import { type Node, PARTS } from './optics-table-node.js';
import type { SunPoint } from './season-sun.js';

/** Losses in the order of the light's way, as the waterfall names them. */
export const OPTICAL_LOSSES = SHARES.filter((share) => share !== 'caught');

/** Equal steps from the year's first midnight by the clock. */
export interface YearGrid {
  /** Milliseconds since 1970 UTC. */
  readonly start: number;
  /** Seconds. */
  readonly step: number;
  readonly count: number;
  /** Month of each step, 0 to 11. */
  readonly months: Uint8Array;
}

export function yearGrid(clock: Clock, year: number, step: number): YearGrid {
  const { start } = clock.day({ year, month: 1, day: 1 });
  const { end } = clock.day({ year, month: 12, day: 31 });
  const count = Math.round((end - start) / 1000 / step);
  const months = new Uint8Array(count);
  // Month ends, not steps, are asked of the clock: that is a thousand times less.
  let month = 1;
  let next = clock.day({ year, month: 2, day: 1 }).start;
  for (let i = 0; i < count; i++) {
    while (month < 12 && start + i * step * 1000 >= next) {
      month++;
      next = month < 12 ? clock.day({ year, month: month + 1, day: 1 }).start : end;
    }
    months[i] = month - 1;
  }
  if (count < 24 * daysInYear(year) - 2) throw new RangeError('the clock lost more than two hours in a year');
  return { start, step, count, months };
}

/** Light of the scene as it is, and of openings of other sizes. */
export interface LightSeries {
  readonly light: YearLight;
  /** Light caught, W per step, of each size asked for in the table's nodes. */
  readonly byOpening: readonly Float64Array[];
}

function meanOf(values: Float64Array, width: number, offset: number): number {
  let sum = 0;
  for (let part = 0; part < PARTS; part++) sum += values[part * width + offset];
  return sum / PARTS;
}

/** Mean shares of a node, then the enclosed shares of its openings. */
function meansOf({ shares, enclosed }: Node): Float64Array {
  const openings = enclosed.length / PARTS;
  const means = new Float64Array(SHARES.length + openings);
  for (let i = 0; i < SHARES.length; i++) means[i] = meanOf(shares, SHARES.length, i);
  for (let i = 0; i < openings; i++) means[SHARES.length + i] = meanOf(enclosed, openings, i);
  return means;
}

/**
 * Reads the table at every sun position it was made of and sums by step. Interpolation may leave caught light a hair below nothing
 * where there is next to none: it is then taken off the spill, so that the books stay closed.
 * @param points the sun positions of the table, in its order
 * @param area mirror area, m2
 */
export function lightSeries(
  table: OpticsTable,
  points: readonly SunPoint[],
  grid: YearGrid,
  area: number,
): LightSeries {
  const { cloud, nodes, leaves } = table;
  const means = new Map<string, Float64Array>();
  for (const [key, node] of nodes) means.set(key, meansOf(node));
  const width = means.values().next().value?.length ?? SHARES.length;
  const sums = Array.from({ length: width }, () => new Float64Array(grid.count));
  for (const leaf of leaves) {
    const own = nodesOf(leaf).map(([x, y]) => means.get(nodeKey(x, y))!);
    for (const member of leaf.members) {
      const step = Math.floor((points[member].time - grid.start) / 1000 / grid.step);
      const at = Math.min(grid.count - 1, Math.max(0, step));
      const weights = weightsAt(leaf, cloud.longitudinal[member], cloud.profile[member], leaf.smooth);
      const watts = (cloud.energy[member] * area) / grid.step;
      for (let i = 0; i < 9; i++) {
        const scaled = watts * weights[i];
        for (let n = 0; n < width; n++) sums[n][at] += scaled * own[i][n];
      }
    }
  }
  const [caught, ...losses] = sums.slice(0, SHARES.length);
  const spill = losses[OPTICAL_LOSSES.indexOf('spill')];
  const onMirrors = new Float64Array(grid.count);
  for (let i = 0; i < grid.count; i++) {
    if (caught[i] < 0) {
      spill[i] += caught[i];
      caught[i] = 0;
    }
    onMirrors[i] = losses.reduce((sum, loss) => sum + loss[i], caught[i]);
  }
  return {
    light: {
      onMirrors,
      losses: OPTICAL_LOSSES.map((name, i) => ({ name, watts: losses[i] })),
      caught,
    },
    byOpening: sums.slice(SHARES.length).map((series) => series.map((watts) => Math.max(0, watts))),
  };
}

/** Caught light in place of the scene's, what is missing or more going to the spill. */
export function withCaught(light: YearLight, caught: Float64Array): YearLight {
  return {
    onMirrors: light.onMirrors,
    losses: light.losses.map(({ name, watts }) =>
      name === 'spill'
        ? { name, watts: watts.map((loss, i) => loss + light.caught[i] - caught[i]) }
        : { name, watts },
    ),
    caught,
  };
}

/** All light times a factor: a sunnier or a hazier year. */
export function scaledLight(light: YearLight, factor: number): YearLight {
  const scale = (watts: Float64Array) => watts.map((value) => value * factor);
  return {
    onMirrors: scale(light.onMirrors),
    losses: light.losses.map(({ name, watts }) => ({ name, watts: scale(watts) })),
    caught: scale(light.caught),
  };
}

/** Air of each step. `ambient` stands in for all of it where it is given, `wind` where the sky does not know the wind. */
export function yearAir(
  sky: Sky,
  grid: YearGrid,
  usual: { readonly ambient: number | null; readonly wind: number },
): { readonly weather: YearWeather; readonly windKnown: boolean } {
  const ambient = new Float64Array(grid.count);
  const wind = new Float64Array(grid.count);
  let known = 0;
  for (let i = 0; i < grid.count; i++) {
    const air = sky.beamAt(grid.start + (i + 0.5) * grid.step * 1000);
    if (air.wind !== null) known++;
    ambient[i] = usual.ambient ?? air.ambient;
    wind[i] = Math.min(40, air.wind ?? usual.wind);
  }
  return { weather: { ambient, wind }, windKnown: known > grid.count / 2 };
}
