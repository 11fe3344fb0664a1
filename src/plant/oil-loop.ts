/** A receiver with oil that flows through it: outlet, wall under the hottest place, and the flow that protects the oil. */

import type { Band, Case } from './band.js';
import type { Surroundings } from './convection.js';
import {
  type Channel,
  checkChannel,
  type FilmCoefficient,
  filmCoefficient,
  wettedArea,
} from './film-coefficient.js';
import { aboveZero, within } from './inputs.js';
import { boilingPoint, checkOil, enthalpyRise, type Oil, oilAt, temperatureAfter } from './oil.js';
import { checkReceiver, lightShares, type Receiver } from './receiver.js';
import { type Balance, balanceAt } from './receiver-balance.js';
import { rootOf } from './root.js';

export interface Loop {
  readonly oil: Oil;
  readonly channel: Channel;
  /** K. */
  readonly inlet: number;
  /** kg/s over all channels. */
  readonly massFlow: number;
  /** Pa absolute at the receiver; boiling is looked at only where it is given. */
  readonly pressure?: number;
}

/** Light on a receiver. */
export interface Light {
  /** W that reach it. */
  readonly watts: number;
  /** Highest W/m2 on the wall. */
  readonly peakFlux: number;
}

/** One end of the span. Temperatures K. */
export interface LoopState {
  readonly balance: Balance;
  readonly outlet: number;
  /** Mean oil temperature. */
  readonly bulk: number;
  readonly filmCoefficient: number;
  /** Oil side of the wall under the hottest place, at the outlet's bulk temperature. */
  readonly film: number;
  /** Lit side of the wall there. */
  readonly hottestWall: number;
}

export interface LoopResult {
  readonly best: LoopState;
  readonly useful: Band;
  readonly efficiency: Band;
  readonly outlet: Band;
  readonly film: Band;
  readonly hottestWall: Band;
  readonly flow: FilmCoefficient;
  /** K between the film limit and the highest film temperature of the span; null where the limit is unknown. */
  readonly filmMargin: number | null;
  readonly limits: Oil['limits'];
  /** K at the loop's pressure; null where unknown. */
  readonly boiling: number | null;
  readonly cautions: readonly string[];
}

/**
 * How near the oil comes to a wall of one temperature: T_out = T_wall - (T_wall - T_in) exp(-U A / (m cp)), closed form for a
 * constant coefficient; properties are taken at the mean of inlet and outlet, found by repeating until it stands.
 */
function approach(loop: Loop, wall: number, film: Case) {
  const { oil, channel, inlet, massFlow } = loop;
  const area = wettedArea(channel);
  let outlet = inlet;
  let coefficient = 0;
  for (let pass = 0; pass < 30; pass++) {
    const before = outlet;
    const bulk = (inlet + outlet) / 2;
    coefficient = filmCoefficient(oil, channel, bulk, massFlow).coefficient[film];
    const through = 1 / (1 / coefficient + channel.wallThickness / channel.wallConductivity);
    const units = (through * area) / (massFlow * oilAt(oil, bulk).heatCapacity);
    outlet = wall + (inlet - wall) * Math.exp(-units);
    if (Math.abs(outlet - before) < 1e-9) break;
  }
  return { coefficient, heat: massFlow * enthalpyRise(oil, inlet, outlet) };
}

/**
 * Balance of receiver and flow: the wall, of one temperature, gives the oil what it has to give (`approach`). Holds for a trickle,
 * which leaves as hot as the wall, and at night, when the oil warms the receiver.
 * The peak flux counts whole, less what is reflected: what the hot spot itself loses or leads sideways is not taken off.
 * @param loss end of the loss formulas
 * @param film end of the film formulas ('low': the least coefficient)
 */
export function loopState(
  receiver: Receiver,
  light: Light,
  surroundings: Surroundings,
  loop: Loop,
  loss: Case = 'best',
  film: Case = 'best',
): LoopState {
  const { oil, channel, inlet, massFlow } = loop;
  const { absorbed } = lightShares(receiver, light.watts);
  const surplus = (wall: number) =>
    balanceAt(receiver, light.watts, surroundings, wall, loss).useful - approach(loop, wall, film).heat;
  // At the inlet's temperature nothing passes to the oil. With a surplus there the wall is hotter, else colder.
  const start = surplus(inlet);
  let bound = start > 0 ? inlet : 0.5 * Math.min(inlet, surroundings.ambient);
  while (start > 0 && surplus(bound) > 0) bound *= 1.25;
  const wall = start === 0 ? inlet : rootOf(surplus, inlet, bound);
  const balance = balanceAt(receiver, light.watts, surroundings, wall, loss);
  const { coefficient } = approach(loop, wall, film);
  // From the balance itself: the books close even where a formula jumps from laminar to turbulent just here.
  const outlet = temperatureAfter(oil, inlet, balance.useful / massFlow);
  const bulk = (inlet + outlet) / 2;
  const atOutlet = filmCoefficient(oil, channel, outlet, massFlow).coefficient[film];
  const share = light.watts > 0 ? absorbed / light.watts : 0;
  const peak = light.peakFlux * share;
  const hottestFilm = outlet + (peak * (channel.fluxRatio ?? 1)) / Math.min(coefficient, atOutlet);
  return {
    balance,
    outlet,
    bulk,
    filmCoefficient: coefficient,
    film: hottestFilm,
    hottestWall: hottestFilm + (peak * channel.wallThickness) / channel.wallConductivity,
  };
}

function span(states: readonly LoopState[], of: (state: LoopState) => number): Band {
  const values = states.map(of);
  return { low: Math.min(...values), best: values[0], high: Math.max(...values) };
}

/** @throws RangeError for figures that cannot be, or an oil without a table */
export function checkLoop(receiver: Receiver, light: Light, surroundings: Surroundings, loop: Loop): void {
  checkReceiver(receiver);
  checkOil(loop.oil);
  checkChannel(loop.channel);
  within('light, W,', light.watts, 0);
  within('peak flux, W/m2,', light.peakFlux, 0);
  within('wind, m/s,', surroundings.wind, 0);
  aboveZero('inlet temperature, K,', loop.inlet);
  aboveZero('mass flow, kg/s,', loop.massFlow);
  if (loop.pressure !== undefined) aboveZero('pressure, Pa,', loop.pressure);
}

/** Corners of both spans, the best first. */
const CORNERS: readonly (readonly [Case, Case])[] = [
  ['best', 'best'],
  ['low', 'low'],
  ['low', 'high'],
  ['high', 'low'],
  ['high', 'high'],
];

/** Receiver and flow with the span of all formulas, held against the oil's limits. */
export function loopResult(
  receiver: Receiver,
  light: Light,
  surroundings: Surroundings,
  loop: Loop,
): LoopResult {
  checkLoop(receiver, light, surroundings, loop);
  const states = CORNERS.map(([loss, film]) => loopState(receiver, light, surroundings, loop, loss, film));
  const [best] = states;
  const useful = span(states, (state) => state.balance.useful);
  const film = span(states, (state) => state.film);
  const perLight = light.watts > 0 ? 1 / light.watts : 0;
  const flow = filmCoefficient(loop.oil, loop.channel, best.bulk, loop.massFlow);
  const result = {
    best,
    useful,
    efficiency: {
      low: useful.low * perLight,
      best: useful.best * perLight,
      high: useful.high * perLight,
    },
    outlet: span(states, (state) => state.outlet),
    film,
    hottestWall: span(states, (state) => state.hottestWall),
    flow,
    filmMargin: loop.oil.limits.film === undefined ? null : loop.oil.limits.film - film.high,
    limits: loop.oil.limits,
    boiling: loop.pressure === undefined ? null : boilingPoint(loop.oil, loop.pressure),
  };
  return { ...result, cautions: loopCautions(loop, result) };
}

const inCelsius = (kelvin: number) => `${Math.round(kelvin - 273.15)} C`;

function loopCautions(loop: Loop, result: Omit<LoopResult, 'cautions'>): readonly string[] {
  const { limits } = loop.oil;
  const cautions: string[] = [];
  const over = (limit: number | undefined, value: number, text: (limit: string, value: string) => string) => {
    if (limit !== undefined && value > limit) cautions.push(text(inCelsius(limit), inCelsius(value)));
  };
  over(
    limits.film,
    result.film.high,
    (limit, value) =>
      `The oil against the hottest wall may reach ${value}, above its film limit of ${limit}: it breaks down and cokes.`,
  );
  over(
    limits.bulk,
    result.outlet.high,
    (limit, value) => `The oil may leave at ${value}, above its bulk limit of ${limit}.`,
  );
  over(
    limits.flash,
    result.outlet.high,
    (limit, value) =>
      `The oil leaves at up to ${value}, above its flash point of ${limit}: a leak can be set on fire.`,
  );
  over(
    limits.autoignition,
    result.hottestWall.high,
    (limit, value) =>
      `The wall may reach ${value}, above ${limit} at which the oil ignites by itself in air.`,
  );
  if (limits.autoignition === undefined) {
    cautions.push(`The autoignition point of ${loop.oil.name} is not known here: see its data sheet.`);
  }
  if (result.boiling !== null && result.film.high >= result.boiling) {
    cautions.push(
      `The oil boils at ${inCelsius(result.boiling)} at this pressure; the wall under the spot may reach ${inCelsius(result.film.high)}: raise the pressure.`,
    );
  }
  if (result.boiling === null) {
    const vapour = oilAt(loop.oil, result.film.high).vapourPressure;
    if (loop.pressure === undefined || vapour === undefined || vapour >= loop.pressure) {
      cautions.push(
        'Whether the oil boils at the wall could not be ruled out: pressure or vapour table is missing or too short.',
      );
    }
  }
  if (result.flow.regime !== 'turbulent') {
    cautions.push(
      `The flow is ${result.flow.regime} (Re ${Math.round(result.flow.reynolds)}): the film coefficient is low and uncertain.`,
    );
  }
  if (result.flow.outsideTable || oilAt(loop.oil, result.outlet.high).outsideTable) {
    cautions.push('The oil runs outside its table of properties: end values were used.');
  }
  return cautions;
}

/**
 * What to say of a wall without flow.
 * @param standstill K, from `stagnation`; null where nothing ends the heating
 */
export function standstillCautions(oil: Oil, standstill: Band | null): readonly string[] {
  if (standstill === null) return ['Without flow nothing that was counted stops the wall from heating up.'];
  const { film, autoignition } = oil.limits;
  const hottest = inCelsius(standstill.high);
  const cautions: string[] = [];
  if (film !== undefined && standstill.high > film) {
    cautions.push(
      `Without flow the wall heats up to ${hottest}, above the oil's film limit of ${inCelsius(film)}: the mirrors must come off the receiver when the pump stops.`,
    );
  }
  if (autoignition !== undefined && standstill.high > autoignition) {
    cautions.push(
      `Without flow the wall heats up to ${hottest}; the oil ignites by itself in air from ${inCelsius(autoignition)}.`,
    );
  }
  return cautions;
}

/** What the least flow must hold. */
export interface Protection {
  /** K kept between the highest film temperature of the span and the film limit. */
  readonly filmMargin: number;
  /** kg/s; search ends there. */
  readonly greatestFlow: number;
}

/**
 * Least flow that keeps the oil below its limits, at the bad end of every span: film limit less the margin under the hottest
 * place, bulk limit at the outlet (where one is known).
 * @returns kg/s, or null where even the greatest flow does not do it
 * @throws RangeError for an oil without a film limit
 */
export function leastFlow(
  receiver: Receiver,
  light: Light,
  surroundings: Surroundings,
  loop: Omit<Loop, 'massFlow'>,
  protection: Protection,
): number | null {
  const { film, bulk } = loop.oil.limits;
  if (film === undefined) throw new RangeError(`${loop.oil.name} has no film limit`);
  const greatest = aboveZero('greatest flow, kg/s,', protection.greatestFlow);
  checkLoop(receiver, light, surroundings, { ...loop, massFlow: greatest });
  within('film margin, K,', protection.filmMargin, 0);
  const excess = (massFlow: number) => {
    const states = (['low', 'high'] as const).map((end) =>
      loopState(receiver, light, surroundings, { ...loop, massFlow }, end, 'low'),
    );
    const hottest = Math.max(...states.map((state) => state.film)) - (film - protection.filmMargin);
    const leaving = bulk === undefined ? hottest : Math.max(...states.map((state) => state.outlet)) - bulk;
    return Math.max(hottest, leaving);
  };
  if (excess(greatest) > 0) return null;
  // From the greatest flow down in steps of a tenth: the first flow that fails bounds the answer, whatever lies below.
  let fits = greatest;
  for (let flow = greatest / 1.1; flow > greatest * 1e-5; flow /= 1.1) {
    if (excess(flow) > 0) {
      const log = rootOf((x) => excess(Math.exp(x)), Math.log(flow), Math.log(fits), 1e-9);
      return Math.exp(log);
    }
    fits = flow;
  }
  return fits;
}
