/** Heat-transfer oils by neutral class names. Temperatures K, pressures Pa, everything SI. */

import { aboveZero, risingTable } from './inputs.js';
import { linearBetween, rowBelow } from './table.js';

/** Properties row by row; the user's own data sheet can stand in for it. */
export interface OilTable {
  readonly temperature: readonly number[];
  readonly density: readonly number[];
  readonly heatCapacity: readonly number[];
  readonly conductivity: readonly number[];
  /** Pa s. */
  readonly viscosity: readonly number[];
  /** Pa, absolute; left out where unknown. */
  readonly vapourPressure?: readonly number[];
}

/** Temperatures that bound an oil's use, K; left out where no figure was found. */
export interface OilLimits {
  readonly leastUse?: number;
  readonly bulk?: number;
  /** Of the oil against the hottest wall. */
  readonly film?: number;
  readonly flash?: number;
  readonly fire?: number;
  readonly autoignition?: number;
}

export interface Oil {
  readonly name: string;
  /** Absent: only the limits are known, nothing can be computed for a flow. */
  readonly table?: OilTable;
  readonly limits: OilLimits;
  /** Where the figures come from and how far that was read. */
  readonly source: string;
}

export interface OilState {
  readonly density: number;
  readonly heatCapacity: number;
  readonly conductivity: number;
  readonly viscosity: number;
  readonly prandtl: number;
  /** Pa absolute; undefined where the table has none. */
  readonly vapourPressure?: number;
  /** The temperature lies beyond the table: end values were used. */
  readonly outsideTable: boolean;
}

const CELSIUS = 273.15;
const celsius = (...values: number[]): number[] => values.map((value) => value + CELSIUS);
const scaled = (factor: number, ...values: number[]): number[] => values.map((value) => value * factor);

/**
 * The oils that come with the program. Always check against the data sheet of the oil that is bought: same class, other limits.
 */
export const OILS: readonly Oil[] = [
  {
    name: 'biphenyl_diphenyl_oxide',
    table: {
      temperature: celsius(100, 150, 200, 250, 300, 350),
      density: [998.2, 956.6, 912.6, 867, 817, 761.4],
      heatCapacity: [1775, 1913, 2048, 2181, 2314, 2454],
      conductivity: [0.1276, 0.1212, 0.1138, 0.1055, 0.0964, 0.0864],
      viscosity: scaled(1e-3, 0.985, 0.585, 0.395, 0.288, 0.221, 0.178),
      vapourPressure: scaled(1e3, 0.48, 4.5, 23.9, 86.4, 239, 548),
    },
    limits: {
      leastUse: 12 + CELSIUS,
      bulk: 400 + CELSIUS,
      film: 425 + CELSIUS,
      flash: 110 + CELSIUS,
      autoignition: 621 + CELSIUS,
    },
    source:
      'table: a maker, 2014, as carried in the source data of the library CoolProp, read; limits: opening of the maker’s bulletin, read (flash point 110 to 124 C, the lower one taken)',
  },
  {
    name: 'hydrogenated_terphenyl',
    table: {
      temperature: celsius(100, 150, 200, 250, 300, 350),
      density: [955, 920.6, 885.1, 847.9, 808.5, 765.9],
      heatCapacity: [1837, 2014, 2195, 2379, 2569, 2766],
      conductivity: [0.114, 0.11, 0.106, 0.1, 0.095, 0.088],
      viscosity: scaled(1e-3, 3.6, 1.52, 0.86, 0.57, 0.41, 0.32),
      vapourPressure: scaled(1e3, 0.05, 0.4, 2.23, 9.25, 30.7, 85.7),
    },
    limits: { leastUse: CELSIUS, bulk: 345 + CELSIUS, film: 375 + CELSIUS },
    source:
      'table: a maker, 2014, as carried in the source data of the library CoolProp, read; use 0 to 345 C: its older manual, read; film limit from memory; flash and autoignition points not found',
  },
  {
    name: 'mineral_oil',
    table: {
      temperature: celsius(100, 150, 200, 250, 300),
      density: [809.5, 776.4, 741.8, 705.1, 665.5],
      heatCapacity: [2176, 2359, 2540, 2721, 2901],
      conductivity: [0.1283, 0.1247, 0.1209, 0.1171, 0.1134],
      viscosity: scaled(1e-3, 5.28, 2.19, 1.22, 0.8, 0.59),
    },
    limits: { bulk: 320 + CELSIUS, film: 340 + CELSIUS },
    source:
      'table: fit of a data sheet by the library CoolProp, run; limits: product sheet of another solvent-refined mineral oil, read; vapour pressure, flash and autoignition points not found',
  },
  {
    name: 'synthetic_hydrocarbon',
    limits: {
      leastUse: -25 + CELSIUS,
      bulk: 290 + CELSIUS,
      film: 335 + CELSIUS,
      flash: 177 + CELSIUS,
      fire: 218 + CELSIUS,
      autoignition: 343 + CELSIUS,
    },
    source: 'limits: opening of a maker’s bulletin, read; no table found, only limits can be used',
  },
];

/** @throws RangeError for a name that is not in the list, with the names there are */
export function oilNamed(name: string, oils: readonly Oil[] = OILS): Oil {
  const oil = oils.find((entry) => entry.name === name);
  if (oil === undefined) {
    throw new RangeError(`no oil "${name}"; there are ${oils.map((entry) => entry.name).join(', ')}`);
  }
  return oil;
}

/** @throws RangeError for tables that do not rise in temperature, with gaps, or with figures not above 0 */
export function checkOil(oil: Oil): void {
  for (const [name, value] of Object.entries(oil.limits)) aboveZero(`${oil.name}: ${name}, K,`, value);
  if (oil.table === undefined) return;
  const { temperature, density, heatCapacity, conductivity, viscosity, vapourPressure } = oil.table;
  const columns = [
    density,
    heatCapacity,
    conductivity,
    viscosity,
    ...(vapourPressure ? [vapourPressure] : []),
  ];
  risingTable(`${oil.name}: table`, temperature, columns);
  for (const column of [temperature, ...columns]) {
    for (const value of column) aboveZero(`${oil.name}: a figure of its table`, value);
  }
}

/** @throws RangeError for an oil of which only the limits are known */
function tableOf(oil: Oil): OilTable {
  if (oil.table === undefined) {
    throw new RangeError(`${oil.name} has limits only: give a table of its properties to compute a flow`);
  }
  return oil.table;
}

/** ln y linear in 1/T: the form of vapour pressure (Clausius-Clapeyron) and nearly that of viscosity. */
function logInverse(rising: readonly number[], values: readonly number[], at: number): number {
  const last = rising.length - 1;
  if (at <= rising[0]) return values[0];
  if (at >= rising[last]) return values[last];
  const row = rowBelow(rising, at);
  const share = (1 / at - 1 / rising[row]) / (1 / rising[row + 1] - 1 / rising[row]);
  return values[row] * (values[row + 1] / values[row]) ** share;
}

/**
 * Properties at a temperature: linear between rows; viscosity and vapour pressure logarithmic over 1/T; end values beyond the
 * table, which is told.
 * @throws RangeError for an oil without a table
 */
export function oilAt(oil: Oil, temperature: number): OilState {
  const table = tableOf(oil);
  aboveZero('oil temperature, K,', temperature);
  const of = (values: readonly number[]) => linearBetween(table.temperature, values, temperature);
  const heatCapacity = of(table.heatCapacity);
  const conductivity = of(table.conductivity);
  const viscosity = logInverse(table.temperature, table.viscosity, temperature);
  return {
    density: of(table.density),
    heatCapacity,
    conductivity,
    viscosity,
    prandtl: (viscosity * heatCapacity) / conductivity,
    ...(table.vapourPressure && {
      vapourPressure: logInverse(table.temperature, table.vapourPressure, temperature),
    }),
    outsideTable: temperature < table.temperature[0] || temperature > table.temperature.at(-1)!,
  };
}

/** J/kg between two temperatures: exact integral of the heat capacity as it is interpolated. */
export function enthalpyRise(oil: Oil, from: number, to: number): number {
  const { temperature, heatCapacity } = tableOf(oil);
  const cp = (at: number) => linearBetween(temperature, heatCapacity, at);
  const [low, high] = from <= to ? [from, to] : [to, from];
  const places = [low, ...temperature.filter((row) => row > low && row < high), high];
  let sum = 0;
  for (let i = 1; i < places.length; i++) {
    sum += ((cp(places[i - 1]) + cp(places[i])) / 2) * (places[i] - places[i - 1]);
  }
  return from <= to ? sum : -sum;
}

/** Temperature after taking up heat, K: the inverse of `enthalpyRise`, piece by piece. @param rise J/kg, may be below 0 */
export function temperatureAfter(oil: Oil, from: number, rise: number): number {
  const { temperature, heatCapacity } = tableOf(oil);
  const cp = (at: number) => linearBetween(temperature, heatCapacity, at);
  const sign = rise < 0 ? -1 : 1;
  const ahead = temperature
    .filter((row) => (row - from) * sign > 0)
    .sort((one, other) => (one - other) * sign);
  let place = from;
  let left = Math.abs(rise);
  for (const row of ahead) {
    const step = Math.abs(row - place);
    const piece = ((cp(place) + cp(row)) / 2) * step;
    if (piece >= left) {
      const slope = (cp(row) - cp(place)) / step;
      // cp x + slope x^2 / 2 = left, in the form that needs no division by a slope of 0.
      const start = cp(place);
      return place + (sign * 2 * left) / (start + Math.sqrt(start * start + 2 * slope * left));
    }
    left -= piece;
    place = row;
  }
  return place + (sign * left) / cp(place);
}

/**
 * Temperature at which the oil boils at a pressure, K.
 * @param pressure Pa absolute
 * @returns null where the table has no vapour pressure or the pressure lies beyond it
 */
export function boilingPoint(oil: Oil, pressure: number): number | null {
  const table = oil.table;
  if (table?.vapourPressure === undefined) return null;
  const pressures = table.vapourPressure;
  if (pressure < pressures[0] || pressure > pressures[pressures.length - 1]) return null;
  if (pressure === pressures[pressures.length - 1]) return table.temperature.at(-1)!;
  const row = rowBelow(pressures, pressure);
  const share = Math.log(pressure / pressures[row]) / Math.log(pressures[row + 1] / pressures[row]);
  const inverse =
    1 / table.temperature[row] + share * (1 / table.temperature[row + 1] - 1 / table.temperature[row]);
  return 1 / inverse;
}
