/**
 * Errors of plans made on noisy tables. A plan picks the highest of noisy numbers, so its energy on its own table is too high.
 * What it brings is read on tables that had no part in choosing it: each fold of the replicates in turn, or a fresh table.
 */
import { resampledMean } from '../result/resampled.js';
import type { Figure } from '../result/types.js';
import { jackknife, NORMAL_975, studentT975 } from '../run/statistics.js';
import {
  checkTable,
  energyOfDays,
  evaluatePlan,
  meanTable,
  type ResettingPlan,
  type SettingTable,
  settingByDay,
} from './setting-table.js';

/** How a figure of a plan was kept clear of the luck of its choice. */
export type Checked = 'fresh table' | 'left-out folds' | 'own table';

/** @param level relative error of a factor that the value hangs on */
function figure(value: number, own: number, t: number, level = 0): Figure {
  const std_err = Math.hypot(own, value * level);
  const half = Math.hypot(t * own, NORMAL_975 * value * level);
  return { value, std_err, ci95: [value - half, value + half], unit: 'kWh' };
}

/**
 * Energy of a plan less that of another (or of nothing), with the error of the difference: days on which both hold the same
 * setting cancel. By the replicates where the table has them (jackknife, so that random numbers that the settings share
 * cancel), else by the table of errors, taken as independent, else without error.
 * @returns kWh a year; an error of 0 means that the table has none
 */
export function energyFigure(
  table: SettingTable,
  plan: ResettingPlan,
  less: ResettingPlan | null = null,
): Figure {
  const settings = table.settings.length;
  const held = settingByDay(plan);
  const other = less && settingByDay(less);
  const quantity = (energy: Float64Array) =>
    energyOfDays(energy, settings, held) - (other ? energyOfDays(energy, settings, other) : 0);
  const { replicates_kwh, std_err_kwh, level_std_err } = table;
  if (replicates_kwh && replicates_kwh.length > 0) {
    const { value, replicates } = resampledMean(Float64Array.from(replicates_kwh, quantity));
    if (replicates.length < 2) {
      return {
        value,
        std_err: Number.POSITIVE_INFINITY,
        ci95: [Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY],
        unit: 'kWh',
      };
    }
    const { std_err } = jackknife(replicates, value);
    return figure(value, std_err, studentT975(replicates.length - 1), level_std_err);
  }
  let variance = 0;
  if (std_err_kwh) {
    for (let day = 0; day < table.days; day++) {
      if (other && other[day] === held[day]) continue;
      variance += std_err_kwh[day * settings + held[day]] ** 2;
      if (other) variance += std_err_kwh[day * settings + other[day]] ** 2;
    }
  }
  return figure(quantity(table.energy_kwh), Math.sqrt(variance), NORMAL_975, level_std_err);
}

/** What n changes bring when the choice of dates had no part in the reading. */
export interface CheckedEnergies {
  readonly how: Checked;
  /** By number of changes. */
  readonly energy: readonly Figure[];
  /** To one change fewer; entry 0 is 0. */
  readonly gain: readonly Figure[];
  /** The best setting of every day, chosen and read apart. */
  readonly everyDay: Figure;
  /** kWh a year by replicate and number of changes; null where what was read has fewer than two replicates. */
  readonly readings: readonly (readonly number[])[] | null;
  /** Relative error of a factor that all of them share; 0 where there is none. */
  readonly level_std_err: number;
}

type Planner = (table: SettingTable) => {
  readonly plans: readonly ResettingPlan[];
  readonly everyDay: ResettingPlan;
};

const NOTHING: Figure = { value: 0, std_err: 0, ci95: [0, 0], unit: 'kWh' };

/** Mean of what the replicates say one by one, its error from their spread. */
function meanFigure(values: readonly number[], level = 0): Figure {
  const { value, replicates } = resampledMean(Float64Array.from(values));
  return figure(value, jackknife(replicates, value).std_err, studentT975(values.length - 1), level);
}

/**
 * Reads every replicate by plans made without it and its fold. Plans of different folds are made on much the same data, so the
 * readings are not wholly independent; their spread is mostly the noise of the replicate that is read, which is.
 */
function byFolds(
  table: SettingTable,
  replicates: readonly Float64Array[],
  folds: number,
  plan: Planner,
): CheckedEnergies {
  const { replicates_kwh: _all, std_err_kwh: _errors, ...bare } = table;
  const made = Array.from({ length: folds }, (_, fold) =>
    plan({ ...bare, energy_kwh: meanTable(replicates, (index) => index % folds === fold) }),
  );
  const read = replicates.map((energy_kwh, index) => {
    const { plans, everyDay } = made[index % folds];
    const unseen = { ...bare, energy_kwh };
    return { energies: plans.map((one) => evaluatePlan(unseen, one)), bound: evaluatePlan(unseen, everyDay) };
  });
  const counts = made[0].plans.map((_, n) => n);
  const { level_std_err = 0 } = table;
  const mean = (values: readonly number[]) => meanFigure(values, level_std_err);
  return {
    how: 'left-out folds',
    energy: counts.map((n) => mean(read.map(({ energies }) => energies[n]))),
    gain: counts.map((n) =>
      n === 0 ? NOTHING : mean(read.map(({ energies }) => energies[n] - energies[n - 1])),
    ),
    everyDay: mean(read.map(({ bound }) => bound)),
    readings: read.map(({ energies }) => energies),
    level_std_err,
  };
}

/**
 * Energies and gains free of the luck of choosing: on `fresh` where it is given; else, where the table has two replicates or
 * more, by folds; else on the table itself, which the result says.
 * @param fresh another table of the same shape from other random numbers
 * @param folds parts the replicates are dealt into, 2 or more
 * @throws RangeError for fewer than 2 folds or a fresh table of another shape
 */
export function checkedEnergies(
  table: SettingTable,
  plan: Planner,
  fresh: SettingTable | null,
  folds: number,
): CheckedEnergies {
  if (!(Number.isInteger(folds) && folds >= 2))
    throw new RangeError(`replicates need 2 folds or more, got ${folds}`);
  if (fresh && (fresh.days !== table.days || fresh.settings.length !== table.settings.length)) {
    throw new RangeError(
      'the fresh table must have the days and settings of the table that the plans are made on',
    );
  }
  if (fresh) checkTable(fresh);
  const replicates = table.replicates_kwh ?? [];
  if (!fresh && replicates.length >= 2)
    return byFolds(table, replicates, Math.min(folds, replicates.length), plan);
  const read = fresh ?? table;
  const { plans, everyDay } = plan(table);
  return {
    how: fresh ? 'fresh table' : 'own table',
    energy: plans.map((one) => energyFigure(read, one)),
    gain: plans.map((one, n) => (n === 0 ? NOTHING : energyFigure(read, one, plans[n - 1]))),
    everyDay: energyFigure(read, everyDay),
    readings: readingsOf(read, plans),
    level_std_err: read.level_std_err ?? 0,
  };
}

/** Each replicate of a table read by each plan. */
function readingsOf(table: SettingTable, plans: readonly ResettingPlan[]): CheckedEnergies['readings'] {
  const { replicates_kwh, std_err_kwh: _errors, ...bare } = table;
  if (!replicates_kwh || replicates_kwh.length < 2) return null;
  return replicates_kwh.map((energy_kwh) => plans.map((plan) => evaluatePlan({ ...bare, energy_kwh }, plan)));
}

/** A difference of two checked energies. */
export interface PairedDifference {
  readonly difference: Figure;
  /** True where replicates were paired one by one, so that random numbers they share cancel. */
  readonly paired: boolean;
}

/**
 * What one way of re-setting brings over another at so many changes each, kWh a year. Replicates are paired where both ways were
 * read alike on as many of them: replicate j of both tables must then come from the same random numbers, which gains much, or
 * from independent ones, which loses nothing.
 */
export function differenceOfWays(
  a: CheckedEnergies,
  aChanges: number,
  b: CheckedEnergies,
  bChanges: number,
): PairedDifference {
  const [one, other] = [a.energy[aChanges], b.energy[bChanges]];
  if (a.readings && b.readings && a.how === b.how && a.readings.length === b.readings.length) {
    const { readings } = b;
    const differences = a.readings.map((energies, j) => energies[aChanges] - readings[j][bChanges]);
    const { value, std_err, ci95 } = meanFigure(differences);
    // Levels are found way by way, each by moments of its own.
    const level = Math.hypot(one.value * a.level_std_err, other.value * b.level_std_err);
    const half = Math.hypot(ci95[1] - value, NORMAL_975 * level);
    const difference = {
      value,
      std_err: Math.hypot(std_err, level),
      ci95: [value - half, value + half] as const,
      unit: 'kWh',
    };
    return { difference, paired: true };
  }
  const std_err = Math.hypot(one.std_err, other.std_err);
  return { difference: figure(one.value - other.value, std_err, NORMAL_975), paired: false };
}
