/** Heat of a year: optics of the scene over the sun's places, light and air hour by hour, losses, warming up, delivered heat. */
import type { Band } from '../plant/band.js';
import { loopState } from '../plant/oil-loop.js';
import {
  type YearHeat,
  type YearLight,
  type YearPlant,
  type YearWeather,
  yearHeat,
} from '../plant/year-heat.js';
import { SHARES } from '../result/shares.js';
import type { TaskPool } from '../run/pool.js';
import type { Scene } from '../scene/types.js';
import type { Clock } from '../sun/clock.js';
import type { Sky } from '../sun/sky.js';
import { followOne, JOULES_PER_KWH, yearLines } from './heat-ledger.js';
import { CELSIUS } from './heat-moment.js';
import { OPENING_BINS, openingStudy } from './heat-opening.js';
import type { HeatPlant } from './heat-plant.js';
import { lightSeries, type YearGrid, yearAir, yearGrid } from './heat-series.js';
import type { HeatYear, Span } from './heat-types.js';
import { heatUncertainty } from './heat-uncertainty.js';
import { buildOpticsTable, type OpticsTable, sumByBucket } from './optics-table.js';
import { isMirrored } from './optics-table-mirror.js';
import { type NodeReply, type NodeTask, PARTS, type ReceiverMode } from './optics-table-node.js';
import { meanOfParts, mirrorArea, SEARCH_RAYS, seasonFigure, tableError, tableReport } from './season.js';
import type { SunSeason } from './season-sun.js';

export interface HeatYearOptions {
  readonly scene: Scene;
  readonly plant: HeatPlant;
  readonly mode: ReceiverMode;
  readonly season: SunSeason;
  readonly sky: Sky;
  readonly clock: Clock;
  readonly year: number;
  readonly seed: string;
  /** About so many rays for each node. */
  readonly rays: number;
  /** Wanted relative error of the year's light. */
  readonly tolerance: number;
  readonly mostNodes?: number;
  /** Seconds: see `heatStep`. */
  readonly step: number;
  readonly pool: TaskPool<NodeTask, NodeReply>;
  readonly stop?: { readonly requested: boolean };
  readonly onNodes?: (traced: number) => void;
  readonly onStage?: (text: string) => void;
}

/** All that later questions (other films, other openings, money) are answered from without a new table. */
export interface HeatStudy {
  readonly year: HeatYear;
  readonly plant: HeatPlant;
  readonly table: OpticsTable;
  readonly mirrorArea: number;
  /** Heat of the year with the light caught times a factor, J. */
  readonly heatAtFactor: (factor: number) => Band;
  /** Hour with the most light: milliseconds since 1970 UTC, middle of the step. */
  readonly brightest: number;
}

const MOST_NODES = 6000;

/** Plant of the year's balance at a wall temperature. */
export function yearPlant(plant: HeatPlant, wall: number): YearPlant {
  return {
    receiver: plant.receiver,
    receivers: plant.receivers,
    wall,
    pipeConductance: plant.pipeConductance,
    pipeTemperature: plant.mean,
    heatCapacity: plant.heatCapacity,
    pressure: plant.pressure,
    threshold: plant.spec.leastHeat,
  };
}

/**
 * Wall temperature in operation: the wanted mean of the oil and what the wall is above it at the year's typical light, which is
 * the mean weighted with itself.
 */
function workingWall(plant: HeatPlant, light: YearLight, weather: YearWeather): number {
  let sum = 0;
  let squares = 0;
  for (const watts of light.caught) {
    sum += watts;
    squares += watts * watts;
  }
  const watts = sum > 0 ? squares / sum / plant.receivers : 0;
  const surroundings = {
    ambient: weather.ambient.reduce((total, value) => total + value, 0) / weather.ambient.length,
    wind: weather.wind.reduce((total, value) => total + value, 0) / weather.wind.length,
    pressure: plant.pressure,
  };
  const state = loopState(plant.receiver, { watts, peakFlux: 0 }, surroundings, plant.loop);
  return plant.mean + Math.max(0, state.balance.wall - state.bulk);
}

function spanKwh({ low, best, high }: Band): Span {
  return { low: low / JOULES_PER_KWH, best: best / JOULES_PER_KWH, high: high / JOULES_PER_KWH };
}

function spanOf(year: YearHeat, of: (result: YearHeat['cases']['best']) => number): Span {
  const values = [of(year.cases.low), of(year.cases.best), of(year.cases.high)];
  return { low: Math.min(...values), best: values[1], high: Math.max(...values) };
}

/**
 * Seconds of the year's steps: as long as the light's own where those fill an hour, so that each step holds one place of the sun. Steps
 * of an hour over half-hourly suns gave 1 % less than steps of half an hour on a dish of the demo: starts and stops are missed.
 * @param sunStep minutes between places of the sun
 */
export function heatStep(sunStep: number): number {
  return Number.isInteger(sunStep) && 60 % sunStep === 0 ? 60 * sunStep : 3600;
}

/** @throws StudyStopped, NodeFailure, RangeError for figures that cannot be or a sun that is never up */
export async function studyHeat(options: HeatYearOptions): Promise<HeatStudy> {
  const { scene, plant, mode, season, sky, clock, pool, stop, onNodes, onStage, seed, rays, tolerance } =
    options;
  const points = season.points.filter(({ energy }) => energy > 0);
  const energy = Float64Array.from(points, (point) => point.energy);
  const quiet = { ...(stop === undefined ? {} : { stop }), ...(onNodes === undefined ? {} : { onNodes }) };
  const openings = plant.design.kind === 'tube' ? [] : OPENING_BINS;
  onStage?.('optics');
  const table = await buildOpticsTable({
    scene,
    mode,
    suns: points.map(({ sun }) => sun),
    energy,
    mirrored: isMirrored(scene, mode),
    seed,
    rays,
    searchRays: SEARCH_RAYS,
    tolerance,
    mostNodes: options.mostNodes ?? MOST_NODES,
    openings,
    pool,
    ...quiet,
  });
  const area = mirrorArea(scene);
  const grid: YearGrid = yearGrid(clock, options.year, options.step);
  const { light, byOpening } = lightSeries(table, points, grid, area);
  const { weather, windKnown } = yearAir(sky, grid, {
    ambient: scene.sky?.kind === 'weather' ? null : plant.spec.ambient,
    wind: plant.spec.wind,
  });
  const wall = workingWall(plant, light, weather);
  const yearOf = (own: HeatPlant, given: YearLight) =>
    yearHeat(given, weather, yearPlant(own, wall), grid.months, grid.step);
  const heat = yearOf(plant, light);
  const { books, months } = heat.cases.best;
  const lines = yearLines(books);
  const parts = sumByBucket(table, new Int32Array(points.length), 1).subarray(0, PARTS * SHARES.length);
  const caught = meanOfParts(parts, 'caught');
  const perArea = caught.value / JOULES_PER_KWH;
  const error = Math.hypot(caught.std_err / JOULES_PER_KWH, tableError(table, 1) * perArea);
  const delivered = spanKwh(heat.delivered);
  onStage?.('uncertainty');
  const { uncertainty, heatAtFactor } = await heatUncertainty({
    scene,
    mode,
    plant,
    table,
    light,
    yearOf: (given) => yearOf(plant, given),
    caughtRelativeError: perArea > 0 ? error / perArea : 0,
    formulaSpan: delivered,
    seed,
    rays,
    searchRays: SEARCH_RAYS,
    pool,
    ...quiet,
  });
  const year: HeatYear = {
    mirror_area_m2: area,
    mean_oil_c: plant.mean - CELSIUS,
    wall_c: wall - CELSIUS,
    wind_known: windKnown,
    step_minutes: grid.step / 60,
    waterfall_kwh: lines,
    delivered_kwh: delivered,
    delivered_per_m2_kwh: delivered.best / area,
    caught_kwh: seasonFigure(perArea * area, error * area, 'kWh'),
    months: months.map((month, index) => ({
      month: index + 1,
      waterfall_kwh: yearLines(month),
      delivered_kwh: spanKwh(spanOf(heat, (result) => result.months[index].delivered)),
    })),
    hours: spanOf(heat, (result) => result.hours),
    idle_hours: heat.cases.best.idleHours,
    starts: heat.cases.best.starts,
    follow_one_kwh: followOne(lines),
    opening: openings.length === 0 ? null : openingStudy({ plant, light, byOpening, yearOf }),
    uncertainty,
    table: tableReport(table, parts, rays, tolerance),
  };
  const top = light.caught.reduce((best, watts, i) => (watts > light.caught[best] ? i : best), 0);
  return {
    year,
    plant,
    table,
    mirrorArea: area,
    heatAtFactor,
    brightest: grid.start + (top + 0.5) * grid.step * 1000,
  };
}
