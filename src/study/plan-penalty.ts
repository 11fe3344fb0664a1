/** What it costs to depart from a plan: a visit left out, visits that come late, dates that are moved. */
import {
  changesOf,
  energyOfDays,
  evaluatePlan,
  type ResettingPlan,
  type SettingTable,
  settingByDay,
} from './setting-table.js';

/** Cost of every change coming so many days after its date. */
export interface LatePenalty {
  readonly days: number;
  /** Each change late alone, the others on their dates; one entry per change, kWh a year (below 0: it would gain). */
  readonly each_kwh: readonly number[];
  /** All changes late together: the whole plan shifted. */
  readonly all_kwh: number;
}

/** How far a change may be moved, the others on their dates. */
export interface DateSlack {
  readonly earlier_days: number;
  readonly later_days: number;
}

interface Round {
  readonly energy: Float64Array;
  readonly settings: number;
  readonly days: number;
  readonly plan: ResettingPlan;
  readonly changes: number;
}

function roundOf(table: SettingTable, plan: ResettingPlan): Round {
  return {
    energy: table.energy_kwh,
    settings: table.settings.length,
    days: table.days,
    plan,
    changes: changesOf(plan),
  };
}

/** Length in days of the period that change `i` begins; the last one runs past the turn of the year. */
function lengthOf({ plan, days, changes }: Round, i: number): number {
  return ((plan.periods[(i + 1) % changes].day - plan.periods[i].day + days - 1) % days) + 1;
}

/** What is lost where `held` is replaced by `instead` on `count` days from `first`, both through the turn of the year, kWh. */
function lossOfSwap(round: Round, first: number, count: number, held: number, instead: number): number {
  const { energy, settings, days } = round;
  let loss = 0;
  for (let i = 0; i < count; i++) {
    const base = ((first + i + days) % days) * settings;
    loss += energy[base + held] - energy[base + instead];
  }
  return loss;
}

/** The setting that is held before change `i`. */
function settingBefore({ plan, changes }: Round, i: number): number {
  return plan.periods[(i + changes - 1) % changes].setting;
}

/**
 * What each change brings: the loss where that visit alone is left out and the setting before is kept until the next, kWh a year.
 * The smallest is the price of one visit fewer without planning anew.
 * @returns one per change; empty for a plan without
 */
export function skipPenalties(table: SettingTable, plan: ResettingPlan): readonly number[] {
  const round = roundOf(table, plan);
  return Array.from({ length: round.changes }, (_, i) => {
    const { day, setting } = plan.periods[i];
    return lossOfSwap(round, day, lengthOf(round, i), setting, settingBefore(round, i));
  });
}

/**
 * The cost of visits that come `late` days after their date, each alone and all together. A visit that would come after the
 * next one is left out.
 * @throws RangeError for days that are not whole or below 0
 */
export function latePenalty(table: SettingTable, plan: ResettingPlan, late: number): LatePenalty {
  if (!(Number.isInteger(late) && late >= 0))
    throw new RangeError(`days late must be whole and not below 0, got ${late}`);
  const round = roundOf(table, plan);
  const each = Array.from({ length: round.changes }, (_, i) => {
    const { day, setting } = plan.periods[i];
    return lossOfSwap(round, day, Math.min(late, lengthOf(round, i)), setting, settingBefore(round, i));
  });
  const held = settingByDay(plan);
  const shifted = held.map((_, day) => held[(((day - late) % round.days) + round.days) % round.days]);
  const all = evaluatePlan(table, plan) - energyOfDays(round.energy, round.settings, shifted);
  return { days: late, each_kwh: each, all_kwh: all };
}

/**
 * How many days each change alone may be earlier or later, up to its neighbours, while the year loses less than a share.
 * @param share of the plan's own energy, e.g. 0.001
 * @returns one per change
 * @throws RangeError for a share outside 0 to 1
 */
export function dateSlack(table: SettingTable, plan: ResettingPlan, share: number): readonly DateSlack[] {
  if (!(share >= 0 && share <= 1))
    throw new RangeError(`a share of the year must be from 0 to 1, got ${share}`);
  const round = roundOf(table, plan);
  const allowed = share * Math.abs(evaluatePlan(table, plan));
  return Array.from({ length: round.changes }, (_, i) => {
    const { day, setting } = plan.periods[i];
    const before = settingBefore(round, i);
    const fits = (most: number, loss: (days: number) => number): number => {
      let days = 0;
      while (days < most && loss(days + 1) <= allowed) days++;
      return days;
    };
    // One day of each period is left, so that no move swallows a setting.
    const previous = lengthOf(round, (i + round.changes - 1) % round.changes);
    return {
      earlier_days: fits(previous - 1, (days) => lossOfSwap(round, day - days, days, before, setting)),
      later_days: fits(lengthOf(round, i) - 1, (days) => lossOfSwap(round, day, days, setting, before)),
    };
  });
}
