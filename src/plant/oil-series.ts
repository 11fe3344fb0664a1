/** Receivers one after another on the same oil: each takes in what the one before let out. */

import { type Band, CASES, type Case } from './band.js';
import type { Surroundings } from './convection.js';
import { within } from './inputs.js';
import { enthalpyRise, temperatureAfter } from './oil.js';
import { checkLoop, type Light, type Loop, type LoopState, loopState } from './oil-loop.js';
import type { Receiver } from './receiver.js';

export interface SeriesState {
  readonly receivers: readonly LoopState[];
  /** W given to the oil by the receivers. */
  readonly gained: number;
  /** W lost by the pipes between and after them. */
  readonly pipeLoss: number;
  /** K at the end of the last pipe. */
  readonly outlet: number;
  /** gained - pipeLoss, equal to what the oil has taken up from inlet to outlet. */
  readonly delivered: number;
  /** Highest of all, K. */
  readonly film: number;
}

export interface SeriesResult {
  readonly cases: Readonly<Record<Case, SeriesState>>;
  readonly delivered: Band;
  readonly outlet: Band;
  readonly film: Band;
}

/**
 * One end of the spans. The pipe after each receiver loses its conductance times its inlet's excess over the air.
 * @param lights of each receiver in the order of the flow
 * @param pipeConductance W/K of the pipe after each receiver
 */
export function seriesState(
  receiver: Receiver,
  lights: readonly Light[],
  surroundings: Surroundings,
  loop: Loop,
  pipeConductance: number,
  loss: Case,
  film: Case,
): SeriesState {
  let inlet = loop.inlet;
  let gained = 0;
  let pipeLoss = 0;
  const receivers: LoopState[] = [];
  for (const light of lights) {
    const state = loopState(receiver, light, surroundings, { ...loop, inlet }, loss, film);
    receivers.push(state);
    gained += state.balance.useful;
    const lost = pipeConductance * (state.outlet - surroundings.ambient);
    pipeLoss += lost;
    inlet = temperatureAfter(loop.oil, state.outlet, -lost / loop.massFlow);
  }
  return {
    receivers,
    gained,
    pipeLoss,
    outlet: inlet,
    delivered: gained - pipeLoss,
    film: receivers.reduce((most, state) => Math.max(most, state.film), inlet),
  };
}

/**
 * A string of like receivers with the span of all formulas: most loss with the least film coefficient, and the other way round. The
 * film band takes in the worst pairing, least loss with least film coefficient, too.
 * @throws RangeError for figures that cannot be, or no receivers
 */
export function oilSeries(
  receiver: Receiver,
  lights: readonly Light[],
  surroundings: Surroundings,
  loop: Loop,
  pipeConductance = 0,
): SeriesResult {
  if (lights.length === 0) throw new RangeError('a string needs at least one receiver');
  for (const light of lights) checkLoop(receiver, light, surroundings, loop);
  within('pipe conductance, W/K,', pipeConductance, 0);
  const at = (loss: Case, film: Case) =>
    seriesState(receiver, lights, surroundings, loop, pipeConductance, loss, film);
  const cases = { low: at('low', 'high'), best: at('best', 'best'), high: at('high', 'low') };
  const hottest = at('low', 'low');
  const span = (of: (state: SeriesState) => number, more: readonly SeriesState[] = []): Band => {
    const values = [...CASES.map((end) => cases[end]), ...more].map(of);
    return { low: Math.min(...values), best: of(cases.best), high: Math.max(...values) };
  };
  return {
    cases,
    delivered: span((state) => state.delivered),
    outlet: span((state) => state.outlet),
    film: span((state) => state.film, [hottest]),
  };
}

/** W that the oil takes up between two temperatures. */
export function heatInOil(loop: Loop, from: number, to: number): number {
  return loop.massFlow * enthalpyRise(loop.oil, from, to);
}
