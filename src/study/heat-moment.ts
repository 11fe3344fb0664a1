/** Receivers, oil and pipes at one moment: where the light goes, how hot the wall gets, how long a stopped pump leaves. */
import type { Band } from '../plant/band.js';
import { cavityConvection } from '../plant/cavity.js';
import { type SurfaceConvection, type Surroundings, surfaceConvection } from '../plant/convection.js';
import { oilAt } from '../plant/oil.js';
import type { Light } from '../plant/oil-loop.js';
import { loopResult, standstillCautions } from '../plant/oil-loop.js';
import { oilSeries, type SeriesState, seriesState } from '../plant/oil-series.js';
import { hotSpotSeconds, hotSpotStagnation, stagnation, timeToLimit } from '../plant/receiver-balance.js';
import type { Figure, TraceResult } from '../result/types.js';
import { groupLossLines } from './heat-ledger.js';
import type { HeatPlant } from './heat-plant.js';
import type { BookLine, FormulaLine, HardestReceiver, HeatMoment, OilLimitsC, Span } from './heat-types.js';

export const CELSIUS = 273.15;
/** kg/m3 of steel, for the wall behind the hottest place. */
const STEEL_DENSITY = 7850;

export interface MomentAir extends Surroundings {
  readonly ambient: number;
  readonly wind: number;
}

export interface MomentInput {
  readonly plant: HeatPlant;
  /** A trace of the scene at the moment. */
  readonly trace: TraceResult;
  readonly air: MomentAir;
  readonly time: string | null;
  readonly sun: { readonly azimuth: number; readonly elevation: number; readonly dni: number };
}

export function spanC({ low, best, high }: Band): Span {
  return { low: low - CELSIUS, best: best - CELSIUS, high: high - CELSIUS };
}

export function limitsC({ oil }: HeatPlant): OilLimitsC {
  const { film, bulk, flash, autoignition } = oil.limits;
  const of = (kelvin: number | undefined) => (kelvin === undefined ? null : kelvin - CELSIUS);
  return {
    film_limit_c: of(film),
    bulk_limit_c: of(bulk),
    flash_point_c: of(flash),
    autoignition_c: of(autoignition),
  };
}

/** Highest flux on the wall: that in the plane of the opening, but for what a cavity spreads. W/m2. */
function wallFlux(plant: HeatPlant, peakFluxKw: number): number {
  return 1000 * peakFluxKw * (plant.spec.cavity?.wallFluxFactor ?? 1);
}

function sumOf(states: readonly SeriesState[], of: (state: SeriesState) => number): number {
  return states.reduce((sum, state) => sum + of(state), 0);
}

/** @throws RangeError for figures that cannot be */
export function heatMoment({ plant, trace, air, time, sun }: MomentInput): HeatMoment {
  const surroundings: Surroundings = { ...air, pressure: plant.pressure };
  const { receiversInSeries } = plant.spec;
  const lights = trace.receivers.map((receiver) => ({
    watts: receiver.intercepted_power.value,
    peakFlux: wallFlux(plant, receiver.peak_flux.value),
  }));
  const pipe = plant.pipeConductance / plant.receivers;
  const strings = [];
  for (let first = 0; first < lights.length; first += receiversInSeries) {
    const own = lights.slice(first, first + receiversInSeries);
    strings.push(oilSeries(plant.receiver, own, surroundings, plant.loop, pipe));
  }
  const best = strings.map(({ cases }) => cases.best);
  const delivered = {
    low: strings.reduce((sum, { delivered: { low } }) => sum + low, 0),
    best: sumOf(best, (state) => state.delivered),
    high: strings.reduce((sum, { delivered: { high } }) => sum + high, 0),
  };
  const outlets = strings.map(({ outlet }) => outlet);
  const hardest = hardestReceiver(plant, trace, lights, surroundings, strings[0].cases.best, pipe);
  const balance = (of: (b: SeriesState['receivers'][number]['balance']) => number) =>
    sumOf(best, (state) => state.receivers.reduce((sum, receiver) => sum + of(receiver.balance), 0));
  const waterfall: BookLine[] = [
    { key: 'on_mirrors', label: 'sunlight on the mirrors', value: trace.total.ledger.available_w },
    ...groupLossLines(trace.total.ledger),
    { key: 'reflected', label: 'reflected by the receivers', value: balance((b) => b.reflected) },
    { key: 'radiation', label: 'radiation', value: balance((b) => b.radiation) },
    { key: 'convection', label: 'convection', value: balance((b) => b.convection) },
    { key: 'conduction', label: 'conduction', value: balance((b) => b.conduction) },
    { key: 'pipes', label: 'pipes', value: sumOf(best, (state) => state.pipeLoss) },
    { key: 'delivered', label: 'delivered', value: delivered.best },
  ];
  const caught = trace.total.intercepted_power;
  return {
    time,
    dni_w_m2: sun.dni,
    sun_azimuth_deg: (sun.azimuth * 180) / Math.PI,
    sun_elevation_deg: (sun.elevation * 180) / Math.PI,
    ambient_c: air.ambient - CELSIUS,
    wind_m_s: air.wind,
    receivers: plant.receivers,
    strings: strings.length,
    waterfall_w: waterfall,
    delivered_w: delivered,
    caught_w: caught,
    outlet_c: spanC({
      low: Math.min(...outlets.map(({ low }) => low)),
      best: outlets.reduce((sum, outlet) => sum + outlet.best, 0) / outlets.length,
      high: Math.max(...outlets.map(({ high }) => high)),
    }),
    field_efficiency: delivered.best / waterfall[0].value,
    hardest: hardest.figures,
    limits: limitsC(plant),
    cautions: hardest.cautions,
  };
}

function formulaLines(list: SurfaceConvection['natural']): readonly FormulaLine[] {
  return list.map(({ name, value, inRange }) => ({ formula: name, value, in_range: inRange }));
}

function convectionOf(
  { receiver }: HeatPlant,
  wall: number,
  surroundings: Surroundings,
): HardestReceiver['convection_formulas'] {
  const { shape } = receiver;
  if (shape.kind === 'cavity') {
    const { natural, wind, conductance } = cavityConvection(shape, wall, surroundings);
    return { unit: 'W/K', still_air: formulaLines(natural), wind: formulaLines(wind), together: conductance };
  }
  const { natural, wind, coefficient } = surfaceConvection(shape, wall, surroundings);
  return {
    unit: 'W/m2 K',
    still_air: formulaLines(natural),
    wind: formulaLines(wind),
    together: coefficient,
  };
}

/** J/m2 K of wall and of the oil right behind it, which is a quarter of the pipe's diameter deep: area over wetted edge. */
function capacityBehind(plant: HeatPlant, temperature: number): number {
  const { wallThickness, insideDiameter } = plant.spec.channel;
  const { density, heatCapacity } = oilAt(plant.oil, temperature);
  return (
    wallThickness * STEEL_DENSITY * plant.spec.metalHeatCapacity +
    (density * heatCapacity * insideDiameter) / 4
  );
}

/** The hardest receiver's string, with it at the end, where the oil is hottest. */
function hardestLast(lights: readonly Light[], index: number, inSeries: number): readonly Light[] {
  const first = Math.floor(index / inSeries) * inSeries;
  const own = lights.slice(first, first + inSeries);
  return [...own.filter((_, i) => first + i !== index), lights[index]];
}

/** Steps of the search down from the greatest flow. */
const FLOW_STEP = 1.05;

/**
 * Least flow of a string that keeps film and bulk limits at the bad ends of the spans, the oil getting hotter from receiver to receiver:
 * from the greatest flow down, the last that holds before the first that fails, to a twentieth.
 * @returns kg/s; null where no flow does it or the film limit is not known
 */
function leastStringFlow(
  plant: HeatPlant,
  lights: readonly Light[],
  surroundings: Surroundings,
  pipe: number,
): number | null {
  const { film, bulk } = plant.oil.limits;
  if (film === undefined) return null;
  const holds = (massFlow: number): boolean =>
    (['low', 'high'] as const).every((loss) => {
      const loop = { ...plant.loop, massFlow };
      const state = seriesState(plant.receiver, lights, surroundings, loop, pipe, loss, 'low');
      return state.film <= film - plant.spec.filmMargin && (bulk === undefined || state.outlet <= bulk);
    });
  const greatest = plant.spec.greatestFlow;
  if (!holds(greatest)) return null;
  let least = greatest;
  while (least > 1e-5 * greatest && holds(least / FLOW_STEP)) least /= FLOW_STEP;
  return least;
}

function hardestReceiver(
  plant: HeatPlant,
  trace: TraceResult,
  lights: readonly { readonly watts: number; readonly peakFlux: number }[],
  surroundings: Surroundings,
  string: SeriesState,
  pipe: number,
): { readonly figures: HardestReceiver; readonly cautions: readonly string[] } {
  const index = lights.reduce((top, light, i) => (light.peakFlux > lights[top].peakFlux ? i : top), 0);
  const light = lights[index];
  const traced = trace.receivers[index];
  const before = string.receivers.at(-2);
  const inlet = Math.max(plant.loop.inlet, before?.outlet ?? plant.loop.inlet);
  const loop = { ...plant.loop, inlet };
  const result = loopResult(plant.receiver, light, surroundings, loop);
  const { balance } = result.best;
  const still = stagnation(plant.receiver, light.watts, surroundings);
  const spot = hotSpotStagnation(plant.receiver, light.peakFlux, surroundings);
  const limit = plant.oil.limits.film;
  const toLimit =
    limit === undefined
      ? null
      : timeToLimit(plant.receiver, light.watts, surroundings, plant.store, balance.wall, limit).shortest;
  const absorbedShare = balance.light > 0 ? balance.absorbed / balance.light : 0;
  const peakAbsorbed = light.peakFlux * absorbedShare;
  const spotSeconds =
    limit === undefined || !(peakAbsorbed > 0) || (spot !== null && spot.high < limit)
      ? null
      : hotSpotSeconds(
          peakAbsorbed,
          capacityBehind(plant, result.best.film),
          Math.min(limit, result.best.film),
          limit,
        );
  const least = leastStringFlow(
    plant,
    hardestLast(lights, index, plant.spec.receiversInSeries),
    surroundings,
    pipe,
  );
  const peak: Figure = traced.peak_flux;
  const figures: HardestReceiver = {
    name: traced.name,
    light_w: light.watts,
    peak_flux_kw_m2: peak,
    inlet_c: inlet - CELSIUS,
    wall_c: balance.wall - CELSIUS,
    absorbed_w: balance.absorbed,
    radiation_w: balance.radiation,
    convection_w: balance.convection,
    conduction_w: balance.conduction,
    reflected_w: balance.reflected,
    useful_w: result.useful,
    efficiency: result.efficiency,
    outlet_c: spanC(result.outlet),
    film_coefficient_w_m2_k: result.flow.coefficient,
    reynolds: result.flow.reynolds,
    film_temperature_c: spanC(result.film),
    hottest_wall_c: spanC(result.hottestWall),
    film_margin_k: result.filmMargin,
    convection_formulas: convectionOf(plant, balance.wall, surroundings),
    stagnation_c: still && spanC(still),
    hot_spot_stagnation_c: spot && spanC(spot),
    minutes_to_film_limit: toLimit === null ? null : toLimit / 60,
    hot_spot_minutes_to_film_limit: spotSeconds === null ? null : spotSeconds / 60,
    least_flow_kg_s: least,
    flow_kg_s: plant.loop.massFlow,
  };
  const cautions = [...result.cautions, ...standstillCautions(plant.oil, still)];
  if (limit !== undefined && least === null) {
    cautions.push(
      `No flow up to ${plant.spec.greatestFlow} kg/s keeps the oil ${plant.spec.filmMargin} K below its film limit under this flux.`,
    );
  } else if (least !== null && least > plant.loop.massFlow) {
    cautions.push(
      `The flow of ${plant.loop.massFlow} kg/s is less than the ${least.toPrecision(2)} kg/s that keep the oil ${plant.spec.filmMargin} K below its film limit.`,
    );
  }
  return { figures, cautions };
}
