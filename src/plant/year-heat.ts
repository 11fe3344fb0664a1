/** Heat of a year, hour by hour: light caught, losses at the wanted temperature, warming up each morning. */

import { type Band, CASES, type Case } from './band.js';
import { aboveZero, within } from './inputs.js';
import { lossFromTable, lossTable, WIND_MOST } from './loss-table.js';
import { checkReceiver, lightShares, type Receiver } from './receiver.js';
import { MONTH_DAYS } from './soiling.js';

/** One figure per step, W, all of the same length. */
export interface YearLight {
  /** Beam irradiance times mirror area, before the cosine. */
  readonly onMirrors: Float64Array;
  /** What is lost on the way, by name, in the order to be shown: cosine, shading, film, blocking, spill, ... */
  readonly losses: readonly { readonly name: string; readonly watts: Float64Array }[];
  /** What reaches the receivers, all together. */
  readonly caught: Float64Array;
}

export interface YearWeather {
  /** K. */
  readonly ambient: Float64Array;
  /** m/s at the receivers. */
  readonly wind: Float64Array;
}

export interface YearPlant {
  readonly receiver: Receiver;
  /** Receivers alike; each gets its share of the light. */
  readonly receivers: number;
  /** K: wall temperature in operation. */
  readonly wall: number;
  /** W/K of pipes, warm while the plant delivers or warms up. */
  readonly pipeConductance: number;
  /** K of the pipes in operation; the wall's where left out. */
  readonly pipeTemperature?: number;
  /** J/K that must be warm before heat is delivered: receivers, pipes, the oil in them. */
  readonly heatCapacity: number;
  /** Pa; the standard atmosphere where left out. */
  readonly pressure?: number;
  /** W: below this net heat the pump is not started; 0 where left out. */
  readonly threshold?: number;
}

/** The waterfall, J (or of a month); the first figure is the sum of all others. */
export interface HeatBooks {
  readonly onMirrors: number;
  readonly optical: readonly { readonly name: string; readonly joules: number }[];
  readonly reflected: number;
  /** Absorbed while the plant stood: too little to run, or used up to keep a warm body from cooling. */
  readonly belowThreshold: number;
  readonly startUp: number;
  readonly receiverLoss: number;
  readonly pipeLoss: number;
  readonly delivered: number;
}

export interface YearResult {
  readonly books: HeatBooks;
  readonly months: readonly HeatBooks[];
  /** Hours in which heat was delivered, parts of hours counted. */
  readonly hours: number;
  /** Hours with light on the receivers in which the plant stood: below the threshold. */
  readonly idleHours: number;
  /** Times that the plant came up to temperature. */
  readonly starts: number;
  /** W, per step. */
  readonly delivered: Float64Array;
}

export interface YearHeat {
  readonly cases: Readonly<Record<Case, YearResult>>;
  /** J. */
  readonly delivered: Band;
}

/** Month, 0 to 11, of each step of a common year. @param stepsPerDay 24 for hours */
export function monthOfSteps(stepsPerDay: number): Uint8Array {
  const months = MONTH_DAYS.flatMap((days, month) => new Array<number>(days * stepsPerDay).fill(month));
  return Uint8Array.from(months);
}

/** @throws RangeError for series of unlike length, figures that are no numbers, or light that does not add up to 1e-9 */
export function checkYear(light: YearLight, weather: YearWeather, plant: YearPlant): void {
  checkReceiver(plant.receiver);
  aboveZero('number of receivers', plant.receivers);
  aboveZero('wall temperature, K,', plant.wall);
  within('pipe conductance, W/K,', plant.pipeConductance, 0);
  within('heat capacity, J/K,', plant.heatCapacity, 0);
  within('threshold, W,', plant.threshold ?? 0, 0);
  if (plant.pressure !== undefined) aboveZero('air pressure, Pa,', plant.pressure);
  const count = light.onMirrors.length;
  const series: readonly (readonly [string, Float64Array])[] = [
    ...light.losses.map((loss) => [loss.name, loss.watts] as const),
    ['light caught', light.caught],
    ['ambient', weather.ambient],
    ['wind', weather.wind],
  ];
  for (const [name, values] of series) {
    if (values.length !== count) throw new RangeError(`${name} has ${values.length} steps, not ${count}`);
  }
  for (let i = 0; i < count; i++) {
    let left = light.onMirrors[i];
    for (const loss of light.losses) left -= loss.watts[i];
    const error = Math.abs(left - light.caught[i]);
    if (!(error <= 1e-9 * Math.max(1, light.onMirrors[i]))) {
      throw new RangeError(
        `step ${i + 1}: light on the mirrors less its losses is ${left} W, but ${light.caught[i]} W is caught`,
      );
    }
    if (!(light.caught[i] >= 0)) throw new RangeError(`step ${i + 1}: light caught is ${light.caught[i]} W`);
    if (!(weather.ambient[i] > 0 && weather.wind[i] >= 0 && weather.wind[i] <= WIND_MOST)) {
      throw new RangeError(
        `step ${i + 1}: air of ${weather.ambient[i]} K and wind of ${weather.wind[i]} m/s cannot be`,
      );
    }
  }
}

/** Running sums of one month. */
interface Sums {
  reflected: number;
  belowThreshold: number;
  startUp: number;
  receiverLoss: number;
  pipeLoss: number;
  delivered: number;
}

const emptySums = (): Sums => ({
  reflected: 0,
  belowThreshold: 0,
  startUp: 0,
  receiverLoss: 0,
  pipeLoss: 0,
  delivered: 0,
});

/**
 * A year in steps. In each the body has one temperature. It warms with absorbed light less losses (which grow in proportion to
 * its excess over the air), delivers once it is as hot as wanted, and cools at rest. All absorbed light is booked: as start-up heat
 * and losses while it warms, as delivered heat and losses while it runs, as `belowThreshold` else. Heat that cools away at night is
 * the start-up heat of the morning before; it is not counted twice.
 * @param months month of each step, 0 to 11 (`monthOfSteps`)
 * @param step s; 3600 where left out
 * @throws RangeError for input that cannot be
 */
export function yearHeat(
  light: YearLight,
  weather: YearWeather,
  plant: YearPlant,
  months: ArrayLike<number>,
  step = 3600,
): YearHeat {
  checkYear(light, weather, plant);
  aboveZero('step, s,', step);
  const count = light.onMirrors.length;
  if (months.length !== count) throw new RangeError(`months has ${months.length} steps, not ${count}`);
  const at = (end: Case) => yearOf(light, weather, plant, months, step, end);
  const cases = { low: at('low'), best: at('best'), high: at('high') };
  const values = CASES.map((end) => cases[end].books.delivered);
  return {
    cases,
    delivered: { low: Math.min(...values), best: values[1], high: Math.max(...values) },
  };
}

function spanOf(values: Float64Array): readonly [number, number] {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (const value of values) {
    if (value < low) low = value;
    if (value > high) high = value;
  }
  return [low, high];
}

function yearOf(
  light: YearLight,
  weather: YearWeather,
  plant: YearPlant,
  months: ArrayLike<number>,
  step: number,
  end: Case,
): YearResult {
  const count = light.onMirrors.length;
  const table =
    count === 0
      ? null
      : lossTable(
          plant.receiver,
          plant.wall,
          spanOf(weather.ambient),
          spanOf(weather.wind)[1],
          end,
          plant.pressure,
        );
  const absorbedShare = lightShares(plant.receiver, 1).absorbed;
  const pipe = plant.pipeTemperature ?? plant.wall;
  const sums = Array.from({ length: 12 }, emptySums);
  const delivered = new Float64Array(count);
  const state = { body: count > 0 ? weather.ambient[0] : plant.wall, hours: 0, idleHours: 0, starts: 0 };
  for (let i = 0; i < count && table; i++) {
    const ambient = weather.ambient[i];
    const absorbed = light.caught[i] * absorbedShare;
    const own = plant.receivers * lossFromTable(table, ambient, weather.wind[i]);
    const month = sums[months[i]];
    const before = month.delivered;
    month.reflected += (light.caught[i] - absorbed) * step;
    const pipes = plant.pipeConductance * (pipe - ambient);
    runStep({ absorbed, own, pipes, ambient, step }, plant, state, month);
    delivered[i] = (month.delivered - before) / step;
  }
  const books = sums.map((month, index) => booksOf(light, months, step, month, index));
  const { hours, idleHours, starts } = state;
  return { books: totalOf(books, light), months: books, hours, idleHours, starts, delivered };
}

interface Moment {
  readonly absorbed: number;
  readonly own: number;
  readonly pipes: number;
  readonly ambient: number;
  readonly step: number;
}

interface BodyState {
  body: number;
  hours: number;
  idleHours: number;
  starts: number;
}

function runStep(moment: Moment, plant: YearPlant, state: BodyState, month: Sums): void {
  const { absorbed, own, pipes, ambient, step } = moment;
  const excess = plant.wall - ambient;
  const conductance = excess > 0 ? (own + pipes) / excess : 0;
  const net = absorbed - own - pipes;
  if (net <= (plant.threshold ?? 0)) {
    month.belowThreshold += absorbed * step;
    if (absorbed > 0) state.idleHours += step / 3600;
    state.body = drift(state.body, ambient, absorbed, conductance, plant.heatCapacity, step);
    state.body = Math.min(state.body, plant.wall);
    return;
  }
  const warming = warmingTime(state.body, plant.wall, ambient, absorbed, conductance, plant.heatCapacity);
  const warm = Math.min(step, warming);
  if (warm > 0) {
    const reached =
      warming <= step
        ? plant.wall
        : drift(state.body, ambient, absorbed, conductance, plant.heatCapacity, warm);
    const stored = plant.heatCapacity * (reached - state.body);
    const lost = absorbed * warm - stored;
    month.startUp += stored;
    // Losses while warming are shared out as they are in operation.
    const share = own + pipes === 0 ? 1 : own / (own + pipes);
    month.receiverLoss += lost * share;
    month.pipeLoss += lost * (1 - share);
    state.body = reached;
    if (warming <= step) state.starts++;
  }
  const running = step - warm;
  month.receiverLoss += own * running;
  month.pipeLoss += pipes * running;
  month.delivered += net * running;
  state.hours += running / 3600;
}

/** Body temperature after a time: C dT/dt = absorbed - UA (T - ambient), closed form. */
function drift(
  body: number,
  ambient: number,
  absorbed: number,
  conductance: number,
  capacity: number,
  seconds: number,
): number {
  if (capacity === 0) return conductance > 0 ? ambient + absorbed / conductance : body;
  if (conductance <= 0) return body + (absorbed * seconds) / capacity;
  const end = ambient + absorbed / conductance;
  return end + (body - end) * Math.exp((-conductance * seconds) / capacity);
}

/** Seconds until the body is as hot as wanted; 0 where it is, or has no heat capacity. */
function warmingTime(
  body: number,
  wall: number,
  ambient: number,
  absorbed: number,
  conductance: number,
  capacity: number,
): number {
  if (body >= wall || capacity === 0) return 0;
  if (conductance <= 0) return (capacity * (wall - body)) / absorbed;
  const end = ambient + absorbed / conductance;
  return (capacity / conductance) * Math.log((end - body) / (end - wall));
}

function booksOf(
  light: YearLight,
  months: ArrayLike<number>,
  step: number,
  sums: Sums,
  month: number,
): HeatBooks {
  const over = (watts: Float64Array) => {
    let sum = 0;
    for (let i = 0; i < watts.length; i++) if (months[i] === month) sum += watts[i];
    return sum * step;
  };
  return {
    onMirrors: over(light.onMirrors),
    optical: light.losses.map((loss) => ({ name: loss.name, joules: over(loss.watts) })),
    ...sums,
  };
}

function totalOf(months: readonly HeatBooks[], light: YearLight): HeatBooks {
  const sum = (of: (month: HeatBooks) => number) => months.reduce((total, month) => total + of(month), 0);
  return {
    onMirrors: sum((month) => month.onMirrors),
    optical: light.losses.map(({ name }, index) => ({
      name,
      joules: sum((month) => month.optical[index].joules),
    })),
    reflected: sum((month) => month.reflected),
    belowThreshold: sum((month) => month.belowThreshold),
    startUp: sum((month) => month.startUp),
    receiverLoss: sum((month) => month.receiverLoss),
    pipeLoss: sum((month) => month.pipeLoss),
    delivered: sum((month) => month.delivered),
  };
}

/** What is left of the books: 0 where they close. */
export function booksGap(books: HeatBooks): number {
  const optical = books.optical.reduce((sum, entry) => sum + entry.joules, 0);
  return (
    books.onMirrors -
    optical -
    books.reflected -
    books.belowThreshold -
    books.startUp -
    books.receiverLoss -
    books.pipeLoss -
    books.delivered
  );
}
