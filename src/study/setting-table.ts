/**
 * Energy by day and setting, and plans that hold one setting for weeks. A setting is anything that stands still between two
 * visits: the tilt of the mirrors, the height of the receivers. The year is a circle: after the last day comes the first.
 */

export interface SettingKind {
  /** For people: "tilt". */
  readonly name: string;
  /** Unit of the settings' values: "deg". */
  readonly unit: string;
}

export interface Setting {
  readonly label: string;
  /** In the unit of the kind. */
  readonly value: number;
}

/** Kilowatt-hours of each day at each setting. Tables are flat: entry [day * settings.length + setting]. */
export interface SettingTable {
  readonly kind: SettingKind;
  /** K of them, values rising. */
  readonly settings: readonly Setting[];
  /** D; day 0 is the first of January. */
  readonly days: number;
  /** D x K, kWh. Below 0 is allowed: pumps may use more than a poor day gives. */
  readonly energy_kwh: Float64Array;
  /** D x K, kWh; taken as independent of each other, which is too careful where settings share their random numbers. */
  readonly std_err_kwh?: Float64Array;
  /** Independent tables whose mean is `energy_kwh`; inside one table settings may share random numbers. They outdo `std_err_kwh`. */
  readonly replicates_kwh?: readonly Float64Array[];
  /** Relative standard error of a factor that all entries share; 0 where not given. The spread of replicates does not show it. */
  readonly level_std_err?: number;
}

export interface Period {
  /** First day of the period, 0 to D - 1: the change is made before the sun is up. */
  readonly day: number;
  /** Index into the settings. */
  readonly setting: number;
}

/** What is held when. Two periods or more are as many changes a year; a single period is none. */
export interface ResettingPlan {
  readonly days: number;
  /** Days rising; the last period runs on past the turn of the year to the first. */
  readonly periods: readonly Period[];
}

/** Changes a year. One alone does not exist: on a circle every change but the last calls for another back. */
export function changesOf(plan: ResettingPlan): number {
  return plan.periods.length > 1 ? plan.periods.length : 0;
}

/** A plan that never changes. */
export function fixedPlan(days: number, setting: number): ResettingPlan {
  return { days, periods: [{ day: 0, setting }] };
}

/**
 * The setting held on each day.
 * @returns D indices
 * @throws RangeError where the plan has no period, or its days do not rise inside the year
 */
export function settingByDay(plan: ResettingPlan): Uint16Array {
  const { days, periods } = plan;
  if (periods.length === 0) throw new RangeError('a plan needs at least one period');
  const held = new Uint16Array(days).fill(periods[periods.length - 1].setting);
  periods.forEach(({ day, setting }, i) => {
    const end = i + 1 < periods.length ? periods[i + 1].day : days;
    if (!(Number.isInteger(day) && day >= 0 && day < end)) {
      throw new RangeError(
        `the periods of a plan must begin on rising days from 0 to ${days - 1}, got ${day}`,
      );
    }
    held.fill(setting, day, end);
  });
  return held;
}

/** The plan that holds these settings day by day; neighbouring days of one setting make one period. */
export function planOfDays(held: ArrayLike<number>): ResettingPlan {
  const days = held.length;
  const periods: Period[] = [];
  for (let day = 0; day < days; day++) {
    const before = held[day === 0 ? days - 1 : day - 1];
    if (held[day] !== before) periods.push({ day, setting: held[day] });
  }
  return periods.length === 0 ? fixedPlan(days, held[0]) : { days, periods };
}

/** Energy of one year with these settings day by day, kWh. */
export function energyOfDays(energy_kwh: Float64Array, settings: number, held: ArrayLike<number>): number {
  let sum = 0;
  for (let day = 0; day < held.length; day++) sum += energy_kwh[day * settings + held[day]];
  return sum;
}

/**
 * Energy of one year of a plan, kWh, by any table of the same shape: so a plan made on one table can be tried on a fresh one.
 * @throws RangeError where plan and table do not fit
 */
export function evaluatePlan(
  table: Pick<SettingTable, 'settings' | 'days' | 'energy_kwh'>,
  plan: ResettingPlan,
): number {
  const settings = table.settings.length;
  if (plan.days !== table.days || table.energy_kwh.length !== table.days * settings) {
    throw new RangeError(`a plan of ${plan.days} days does not fit a table of ${table.days} days`);
  }
  const strange = plan.periods.find(
    ({ setting }) => !(Number.isInteger(setting) && setting >= 0 && setting < settings),
  );
  if (strange)
    throw new RangeError(`the table has ${settings} settings, the plan asks for number ${strange.setting}`);
  return energyOfDays(table.energy_kwh, settings, settingByDay(plan));
}

/**
 * The best setting of every day: no plan on this table does better. With noise in the table it is too high, as every greatest of
 * noisy values is.
 */
export function bestByDay({ settings, days, energy_kwh }: SettingTable): Uint16Array {
  const best = new Uint16Array(days);
  for (let day = 0; day < days; day++) {
    const base = day * settings.length;
    for (let k = 1; k < settings.length; k++) {
      if (energy_kwh[base + k] > energy_kwh[base + best[day]]) best[day] = k;
    }
  }
  return best;
}

/** Mean of tables of one shape, leaving out those of which `skip` is true. */
export function meanTable(
  tables: readonly Float64Array[],
  skip: (index: number) => boolean = () => false,
): Float64Array {
  const sum = new Float64Array(tables[0].length);
  let count = 0;
  tables.forEach((table, index) => {
    if (skip(index)) return;
    count++;
    for (let i = 0; i < sum.length; i++) sum[i] += table[i];
  });
  return sum.map((value) => value / count);
}

/**
 * A table from independent replicates, each D x K kWh for a whole year.
 * @throws RangeError as `checkTable`, and where there is no replicate
 */
export function tableOfReplicates(
  kind: SettingKind,
  settings: readonly Setting[],
  days: number,
  replicates_kwh: readonly Float64Array[],
): SettingTable {
  if (replicates_kwh.length === 0) throw new RangeError('a table of replicates needs at least one');
  for (const one of replicates_kwh) checkShape(one, days * settings.length, 'a replicate');
  const table = { kind, settings, days, energy_kwh: meanTable(replicates_kwh), replicates_kwh };
  checkTable(table);
  return table;
}

function checkShape(values: Float64Array, expected: number, name: string): void {
  if (values.length !== expected) {
    throw new RangeError(`${name} must hold days x settings = ${expected} values, got ${values.length}`);
  }
  const bad = values.findIndex((value) => !Number.isFinite(value));
  if (bad >= 0) throw new RangeError(`${name} holds ${values[bad]} at entry ${bad}`);
}

/** @throws RangeError where the parts of a table do not fit each other, values do not rise or are not finite */
export function checkTable(table: SettingTable): void {
  const { settings, days, energy_kwh, std_err_kwh, replicates_kwh } = table;
  if (!(Number.isInteger(days) && days >= 1)) throw new RangeError(`a year needs whole days, got ${days}`);
  if (settings.length === 0 || settings.length > 65_535) {
    throw new RangeError(`a table needs 1 to 65535 settings, got ${settings.length}`);
  }
  settings.forEach(({ value }, i) => {
    if (!Number.isFinite(value) || (i > 0 && !(value > settings[i - 1].value))) {
      throw new RangeError(`the values of settings must rise, got ${value} at number ${i}`);
    }
  });
  const size = days * settings.length;
  checkShape(energy_kwh, size, 'the energy table');
  if (std_err_kwh) checkShape(std_err_kwh, size, 'the table of errors');
  if (!replicates_kwh || replicates_kwh.length === 0) return;
  for (const one of replicates_kwh) checkShape(one, size, 'a replicate');
  const mean = meanTable(replicates_kwh);
  const scale = energy_kwh.reduce((most, value) => Math.max(most, Math.abs(value)), 0);
  const off = mean.findIndex((value, i) => Math.abs(value - energy_kwh[i]) > 1e-9 * scale);
  if (off >= 0) {
    throw new RangeError(
      `the energy table must be the mean of its replicates; entry ${off} is ${energy_kwh[off]}, not ${mean[off]}`,
    );
  }
}
