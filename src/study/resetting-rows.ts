/** Tables of a re-setting study: one flat row per line, units in the keys. */
import { resampledMean } from '../result/resampled.js';
import type { Figure } from '../result/types.js';
import { jackknife } from '../run/statistics.js';
import { differenceOfWays } from './resetting-error.js';
import type { ResettingStudy } from './resetting-study.js';
import type { SettingTable } from './setting-table.js';

const MILLISECONDS_A_DAY = 86_400_000;

/**
 * Month and day ("03-21") of a day of the year, 0 the first of January.
 * @param days 366 counts the 29th of February; any other length is read as a common year
 */
export function monthAndDay(day: number, days: number): string {
  const first = Date.UTC(days === 366 ? 2024 : 2023, 0, 1);
  return new Date(first + day * MILLISECONDS_A_DAY).toISOString().slice(5, 10);
}

/** One line per number of changes a year. */
export interface ResettingRow {
  readonly setting: string;
  readonly changes_asked: number;
  readonly changes_made: number;
  readonly energy_kwh: number;
  /** Null where a single replicate leaves none to be had. */
  readonly energy_std_err_kwh: number | null;
  readonly gain_of_last_kwh: number;
  readonly gain_of_last_std_err_kwh: number | null;
  /** "no": it may be noise. "unknown": luck and gain cannot be told apart. */
  readonly gain_is_sure: 'yes' | 'no' | 'unknown';
  /** "fresh table", "left-out folds" or "own table": what the four figures before were read on. */
  readonly read_on: string;
  /** On the table that the plan was made on. */
  readonly planned_energy_kwh: number;
  readonly share_of_every_day_pct: number;
  /** The change that costs least to leave out, the other dates kept; null without a change. */
  readonly cheapest_skip_kwh: number | null;
  readonly shortest_period_days: number;
  /** Dates and settings in one text: "03-12 to 35 deg; 10-02 to 20 deg". */
  readonly plan: string;
}

function lengths(periods: readonly { readonly day: number }[], days: number): number[] {
  return periods.map(({ day }, i) => {
    const next = periods[(i + 1) % periods.length].day;
    return ((next - day + days - 1) % days) + 1;
  });
}

function errorOf({ std_err }: Figure): number | null {
  return Number.isFinite(std_err) ? std_err : null;
}

/** One row per number of changes. */
export function resettingRows(study: ResettingStudy): ResettingRow[] {
  const { table, checked } = study;
  const { kind, settings, days } = table;
  return study.resettings.map((one) => ({
    setting: kind.name,
    changes_asked: one.asked,
    changes_made: one.changes,
    energy_kwh: one.checkedEnergy.value,
    energy_std_err_kwh: errorOf(one.checkedEnergy),
    gain_of_last_kwh: one.checkedGain.value,
    gain_of_last_std_err_kwh: errorOf(one.checkedGain),
    gain_is_sure: one.gainIsSure === null ? 'unknown' : one.gainIsSure ? 'yes' : 'no',
    read_on: checked,
    planned_energy_kwh: one.energy.value,
    share_of_every_day_pct: 100 * one.shareOfEveryDay,
    cheapest_skip_kwh: one.skip_kwh.length > 0 ? Math.min(...one.skip_kwh) : null,
    shortest_period_days: Math.min(...lengths(one.plan.periods, days)),
    plan:
      one.changes === 0
        ? `always ${settings[one.plan.periods[0].setting].value} ${kind.unit}`
        : one.plan.periods
            .map(({ day, setting }) => `${monthAndDay(day, days)} to ${settings[setting].value} ${kind.unit}`)
            .join('; '),
  }));
}

/** One line per day and setting of the table that plans are made on. */
export interface SettingEnergyRow {
  /** 1 is the first of January. */
  readonly day_of_year: number;
  readonly month_day: string;
  /** In the unit of the table's kind. */
  readonly value: number;
  readonly energy_kwh: number;
  /** Null where a single replicate leaves none to be had, or the table brings no errors. */
  readonly energy_std_err_kwh: number | null;
}

/** The table itself, day by day; settings share their random numbers, so they differ by less than their errors. */
export function settingEnergyRows(table: SettingTable): SettingEnergyRow[] {
  const { settings, days, energy_kwh } = table;
  return Array.from(energy_kwh, (energy, cell) => {
    const day = Math.floor(cell / settings.length);
    return {
      day_of_year: day + 1,
      month_day: monthAndDay(day, days),
      value: settings[cell % settings.length].value,
      energy_kwh: energy,
      energy_std_err_kwh: errorOfCell(table, cell),
    };
  });
}

function errorOfCell({ replicates_kwh, std_err_kwh }: SettingTable, cell: number): number | null {
  if (replicates_kwh === undefined || replicates_kwh.length === 0) return std_err_kwh?.[cell] ?? null;
  const { value, replicates } = resampledMean(Float64Array.from(replicates_kwh, (one) => one[cell]));
  return replicates.length < 2 ? null : jackknife(replicates, value).std_err;
}

/** One line per change of one plan. */
export interface ChangeRow {
  readonly change: number;
  /** 1 is the first of January. */
  readonly day_of_year: number;
  readonly month_day: string;
  readonly setting: string;
  readonly value: number;
  readonly unit: string;
  /** Value less the value before. */
  readonly step: number;
  readonly held_days: number;
  /** Days that the date may move alone for the study's share of the year. */
  readonly may_be_earlier_days: number;
  readonly may_be_later_days: number;
  readonly left_out_kwh: number;
}

/**
 * One row per change of the plan of `n` changes; none where it makes none.
 * @throws RangeError where the study has no plan of n
 */
export function changeRows(study: ResettingStudy, n: number): ChangeRow[] {
  const one = study.resettings[n];
  if (!one) throw new RangeError(`the study has no plan of ${n} changes`);
  if (one.changes === 0) return [];
  const { kind, settings, days } = study.table;
  const { periods } = one.plan;
  const held = lengths(periods, days);
  return periods.map(({ day, setting }, i) => {
    const before = periods[(i + periods.length - 1) % periods.length].setting;
    return {
      change: i + 1,
      day_of_year: day + 1,
      month_day: monthAndDay(day, days),
      setting: settings[setting].label,
      value: settings[setting].value,
      unit: kind.unit,
      step: settings[setting].value - settings[before].value,
      held_days: held[i],
      may_be_earlier_days: one.slack[i].earlier_days,
      may_be_later_days: one.slack[i].later_days,
      left_out_kwh: one.skip_kwh[i],
    };
  });
}

/** One line per number of changes and days late. */
export interface LateRow {
  readonly changes_asked: number;
  readonly late_days: number;
  /** The change that costs most when it alone is late. */
  readonly worst_one_kwh: number;
  readonly mean_one_kwh: number;
  readonly all_late_kwh: number;
  readonly all_late_pct: number;
}

/** What lateness costs, for every plan that makes a change. */
export function lateRows(study: ResettingStudy): LateRow[] {
  return study.resettings
    .filter(({ changes, asked }) => changes > 0 && asked === changes)
    .flatMap(({ asked, late, checkedEnergy }) =>
      late.map(({ days, each_kwh, all_kwh }) => ({
        changes_asked: asked,
        late_days: days,
        worst_one_kwh: Math.max(...each_kwh),
        mean_one_kwh: each_kwh.reduce((sum, value) => sum + value, 0) / each_kwh.length,
        all_late_kwh: all_kwh,
        all_late_pct: (100 * all_kwh) / checkedEnergy.value,
      })),
    );
}

/** One line per way of re-setting and number of changes. */
export interface WayRow {
  readonly way: string;
  readonly changes_asked: number;
  readonly changes_made: number;
  readonly energy_kwh: number;
  /** Null where a single replicate leaves none to be had. */
  readonly energy_std_err_kwh: number | null;
  /** To the same number of changes of the first way; its error is that of the paired difference where `paired` says so. */
  readonly above_first_way_kwh: number;
  readonly above_first_way_std_err_kwh: number | null;
  readonly paired: 'yes' | 'no';
  /** Changes with which the first way catches as much or more; null where none of those studied do. */
  readonly first_way_needs_changes: number | null;
  readonly every_day_kwh: number;
}

const NO_DIFFERENCE = {
  difference: { value: 0, std_err: 0, ci95: [0, 0], unit: 'kWh' },
  paired: true,
} as const;

/**
 * Several ways side by side: re-set the mirrors, move the receivers. Replicates of the ways' tables that share their numbers
 * should share their random numbers too.
 * @throws RangeError where a way has been studied for fewer changes than the first
 */
export function wayRows(studies: readonly ResettingStudy[]): WayRow[] {
  const [first] = studies;
  return studies.flatMap((study) => {
    const { table, resettings, checkedEveryDay, readings } = study;
    if (resettings.length < first.resettings.length) {
      throw new RangeError(
        `"${table.kind.name}" has been studied for fewer changes than "${first.table.kind.name}"`,
      );
    }
    return resettings.slice(0, first.resettings.length).map(({ asked, changes, checkedEnergy }) => {
      const { difference, paired } =
        study === first ? NO_DIFFERENCE : differenceOfWays(readings, asked, first.readings, asked);
      const needed = first.resettings.findIndex((one) => one.checkedEnergy.value >= checkedEnergy.value);
      return {
        way: table.kind.name,
        changes_asked: asked,
        changes_made: changes,
        energy_kwh: checkedEnergy.value,
        energy_std_err_kwh: errorOf(checkedEnergy),
        above_first_way_kwh: difference.value,
        above_first_way_std_err_kwh: errorOf(difference),
        paired: paired ? 'yes' : 'no',
        first_way_needs_changes: needed < 0 ? null : needed,
        every_day_kwh: checkedEveryDay.value,
      };
    });
  });
}
