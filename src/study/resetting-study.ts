/** How often to re-set: the best plan for each number of changes a year, what the last change brings, what lateness costs. */
import type { Figure } from '../result/types.js';
import { type DateSlack, dateSlack, type LatePenalty, latePenalty, skipPenalties } from './plan-penalty.js';
import { planResettings, type ResettingRules } from './resetting.js';
import { type Checked, type CheckedEnergies, checkedEnergies, energyFigure } from './resetting-error.js';
import { bestByDay, changesOf, planOfDays, type ResettingPlan, type SettingTable } from './setting-table.js';

export interface ResettingOptions extends ResettingRules {
  /** A table of the same shape from other random numbers, to read the plans on. */
  readonly fresh?: SettingTable;
  /** Parts the replicates are dealt into, to read plans on what they were not made on; 8 where not given. */
  readonly folds?: number;
  /** Days late to give the cost of; 1, 3, 7 and 14 where not given. */
  readonly lateDays?: readonly number[];
  /** Share of the year's energy that a moved date may cost; 0.001 where not given. */
  readonly slackShare?: number;
}

/** The best plan of at most `asked` changes a year. */
export interface Resetting {
  readonly asked: number;
  /** Changes the plan makes: fewer than asked where a further one brings nothing. */
  readonly changes: number;
  readonly plan: ResettingPlan;
  /** On the table that the plan was made on; its noise makes this too high. */
  readonly energy: Figure;
  /** To the plan of one change fewer, planned anew, on the same table: the gain of the last change and the price of one fewer. */
  readonly gain: Figure;
  /** The same two, free of the luck of choosing where `checked` is not "own table". */
  readonly checkedEnergy: Figure;
  readonly checkedGain: Figure;
  /**
   * Whether the checked gain is above 0 with 97.5 % confidence; what is not may be noise. Null where luck
   * cannot be told from gain: plans read on the noisy table they were made on, or on a fresh table that brings no errors. A single
   * table without errors is taken to be exact.
   */
  readonly gainIsSure: boolean | null;
  /** Share of the every-day bound that the plan reaches, both checked; over 1 where noise has spoilt the daily choice; 1 where nothing is caught. */
  readonly shareOfEveryDay: number;
  /**
   * Loss where one change is left out and the other dates stay, per change, kWh a year. This and the two below are read on the
   * fresh table where there is one, else on the plan's own, where noise makes departing from the plan look dearer than it is.
   */
  readonly skip_kwh: readonly number[];
  readonly late: readonly LatePenalty[];
  readonly slack: readonly DateSlack[];
}

export interface ResettingStudy {
  readonly table: SettingTable;
  readonly checked: Checked;
  /** All checked readings, for differences of two ways. */
  readonly readings: CheckedEnergies;
  /** Entry n: at most n changes a year. */
  readonly resettings: readonly Resetting[];
  /**
   * The best setting every day. No plan does better, but with noise the bound is only framed: on the table itself it is too high,
   * and checked too low, for a noisy day picks its second best. So a checked plan may reach more than the checked bound.
   */
  readonly everyDay: Figure;
  readonly checkedEveryDay: Figure;
  readonly slackShare: number;
}

/**
 * Plans for every number of changes from 0 to `most`, with what each change brings and what departing from the plan costs.
 * @throws RangeError for a table or options that make no sense
 */
export function studyResettings(table: SettingTable, options: ResettingOptions = {}): ResettingStudy {
  const { lateDays = [1, 3, 7, 14], slackShare = 0.001, folds = 8, fresh = null, ...rules } = options;
  const plans = planResettings(table, rules);
  const best = planOfDays(bestByDay(table));
  const checked = checkedEnergies(
    table,
    (made) =>
      made === table
        ? { plans, everyDay: best }
        : { plans: planResettings(made, rules), everyDay: planOfDays(bestByDay(made)) },
    fresh,
    folds,
  );
  const read = fresh ?? table;
  const errorless = read.std_err_kwh === undefined && (read.replicates_kwh ?? []).length === 0;
  const blind = fresh ? errorless : checked.how === 'own table' && !errorless;
  const resettings = plans.map((plan, n): Resetting => {
    const gain = checked.gain[n];
    return {
      asked: n,
      changes: changesOf(plan),
      plan,
      energy: energyFigure(table, plan),
      gain: energyFigure(table, plan, plans[Math.max(0, n - 1)]),
      checkedEnergy: checked.energy[n],
      checkedGain: gain,
      gainIsSure: blind ? null : gain.ci95[0] > 0,
      shareOfEveryDay: checked.everyDay.value > 0 ? checked.energy[n].value / checked.everyDay.value : 1,
      skip_kwh: skipPenalties(read, plan),
      late: lateDays.map((days) => latePenalty(read, plan, days)),
      slack: dateSlack(read, plan, slackShare),
    };
  });
  return {
    table,
    checked: checked.how,
    readings: checked,
    resettings,
    everyDay: energyFigure(table, best),
    checkedEveryDay: checked.everyDay,
    slackShare,
  };
}
