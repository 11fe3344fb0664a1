/**
 * The best days and settings for a given number of changes a year, exactly: dynamic programming (Bellman 1957, from memory)
 * over day, setting held and changes left, once for each setting that may be held on the first day, so that the year closes.
 */
import {
  checkTable,
  evaluatePlan,
  planOfDays,
  type ResettingPlan,
  type SettingTable,
} from './setting-table.js';

export interface ResettingRules {
  /** Most changes a year to plan for; 24 where not given. */
  readonly most?: number;
  /** Largest difference of values in one change, in the settings' unit; none where not given. */
  readonly largestChange?: number;
  /** D entries: whether a change may be made before the sun is up on that day; every day where not given. */
  readonly allowedDays?: readonly boolean[];
}

export const MOST_CHANGES = 24;

/** Differences below this share of the table's sum are rounding, not gain. */
const ROUNDING = 1e-12;

/** The rules in the form the programming needs. */
interface Task {
  readonly energy: Float64Array;
  readonly settings: number;
  readonly days: number;
  readonly most: number;
  readonly allowed: readonly boolean[] | null;
  /** Settings from which each can be reached in one change: firstFrom[k] to lastFrom[k]. Both rise with k. */
  readonly firstFrom: Uint16Array;
  readonly lastFrom: Uint16Array;
  /** Whether each can be reached from all. */
  readonly anyChange: boolean;
}

function taskOf(table: SettingTable, rules: ResettingRules): Task {
  checkTable(table);
  const { most = MOST_CHANGES, largestChange = Number.POSITIVE_INFINITY, allowedDays } = rules;
  const { settings, days, energy_kwh } = table;
  if (!(Number.isInteger(most) && most >= 0 && most <= 366)) {
    throw new RangeError(`the number of changes a year must be whole, from 0 to 366, got ${most}`);
  }
  if (!(largestChange > 0)) throw new RangeError(`the largest change must be above 0, got ${largestChange}`);
  if (allowedDays && allowedDays.length !== days) {
    throw new RangeError(`allowed days: expected ${days} entries, got ${allowedDays.length}`);
  }
  const firstFrom = new Uint16Array(settings.length);
  const lastFrom = new Uint16Array(settings.length);
  // Steps of a grid that differ by binary dust are the same step.
  const reach = largestChange * (1 + 1e-9);
  settings.forEach(({ value }, k) => {
    firstFrom[k] = settings.findIndex((other) => value - other.value <= reach);
    lastFrom[k] = settings.findLastIndex((other) => other.value - value <= reach);
  });
  return {
    energy: energy_kwh,
    settings: settings.length,
    days,
    most,
    allowed: allowedDays ?? null,
    firstFrom,
    lastFrom,
    anyChange: firstFrom[settings.length - 1] === 0 && lastFrom[0] === settings.length - 1,
  };
}

/**
 * For every setting k the greatest of `values` over the settings it can be reached from: a maximum over a window that slides
 * along, kept in a queue of falling values.
 * @param queue scratch, K entries
 */
function bestBefore(
  values: Float64Array,
  base: number,
  task: Task,
  queue: Uint16Array,
  best: Float64Array,
): void {
  const { settings, firstFrom, lastFrom } = task;
  let head = 0;
  let tail = 0;
  let next = 0;
  for (let k = 0; k < settings; k++) {
    for (; next <= lastFrom[k]; next++) {
      while (tail > head && values[base + queue[tail - 1]] < values[base + next]) tail--;
      queue[tail++] = next;
    }
    while (queue[head] < firstFrom[k]) head++;
    best[k] = values[base + queue[head]];
  }
}

function greatest(values: Float64Array, base: number, count: number): number {
  let most = Number.NEGATIVE_INFINITY;
  for (let k = base; k < base + count; k++) if (values[k] > most) most = values[k];
  return most;
}

/**
 * One day further: `now` from `last`, both [c * K + k], the best energy (kWh) with at most c changes so far and setting k held;
 * -Infinity where that cannot be.
 */
function stepDay(
  task: Task,
  day: number,
  most: number,
  last: Float64Array,
  now: Float64Array,
  queue: Uint16Array,
  best: Float64Array,
): void {
  const { energy, settings, allowed, anyChange } = task;
  const open = allowed === null || allowed[day];
  const today = day * settings;
  for (let c = 0; c <= most; c++) {
    const base = c * settings;
    if (c === 0 || !open) best.fill(Number.NEGATIVE_INFINITY);
    else if (anyChange) best.fill(greatest(last, base - settings, settings));
    else bestBefore(last, base - settings, task, queue, best);
    for (let k = 0; k < settings; k++) {
      const stay = last[base + k];
      now[base + k] = Math.max(best[k], stay) + energy[today + k];
    }
  }
}

/**
 * The days of one year, one behind the other.
 * @param start the setting of the first day; null for any
 * @param history where to put every day's energies, [day * (most + 1) * K + c * K + k]; null to forget them
 * @returns [c * K + k] after the last day
 */
function sweepYear(
  task: Task,
  start: number | null,
  firstDay: number,
  most: number,
  history: Float64Array | null,
): Float64Array {
  const { energy, settings, days } = task;
  const row = (most + 1) * settings;
  let now = new Float64Array(row).fill(Number.NEGATIVE_INFINITY);
  let last = new Float64Array(row);
  for (let i = 0; i < row; i++) {
    const k = i % settings;
    if (start === null || k === start) now[i] = energy[firstDay * settings + k];
  }
  history?.set(now, firstDay * row);
  const queue = new Uint16Array(settings);
  const best = new Float64Array(settings);
  for (let i = 1; i < days; i++) {
    const day = (firstDay + i) % days;
    [now, last] = [last, now];
    stepDay(task, day, most, last, now, queue, best);
    history?.set(now, day * row);
  }
  return now;
}

/** What is held on the last day and how many changes may lead up to it, the change at the turn of the year taken off. */
interface Closing {
  readonly setting: number;
  readonly changes: number;
  readonly energy: number;
}

function closeYear(task: Task, start: number, swept: Float64Array, changes: number): Closing {
  const { settings, allowed, firstFrom, lastFrom } = task;
  let closing: Closing = { setting: start, changes, energy: swept[changes * settings + start] };
  if (changes === 0 || (allowed !== null && !allowed[0])) return closing;
  for (let k = firstFrom[start]; k <= lastFrom[start]; k++) {
    const energy = swept[(changes - 1) * settings + k];
    if (k !== start && energy > closing.energy) closing = { setting: k, changes: changes - 1, energy };
  }
  return closing;
}

function traceBack(task: Task, start: number, changes: number): ResettingPlan {
  const { settings, days, firstFrom, lastFrom, allowed } = task;
  const row = (changes + 1) * settings;
  const history = new Float64Array(days * row);
  const closing = closeYear(task, start, sweepYear(task, start, 0, changes, history), changes);
  const held = new Uint16Array(days);
  let [k, c] = [closing.setting, closing.changes];
  held[days - 1] = k;
  for (let day = days - 1; day > 0; day--) {
    const before = (day - 1) * row + c * settings;
    if (c > 0 && (allowed === null || allowed[day])) {
      let from = k;
      let most = history[before + k];
      // Staying wins a tie: no visit is planned that brings nothing.
      for (let j = firstFrom[k]; j <= lastFrom[k]; j++) {
        const value = history[before - settings + j];
        if (value > most) [from, most] = [j, value];
      }
      if (from !== k) {
        k = from;
        c--;
      }
    }
    held[day - 1] = k;
  }
  return planOfDays(held);
}

/**
 * The best closed year of each number of changes and the setting of its first day.
 *
 * Dropping the count of the change from the first day to the second gives a bound for every first setting from a single
 * sweep; most settings cannot be first by it and are never tried.
 */
function bestStarts(task: Task): { readonly energy: Float64Array; readonly start: Uint16Array } {
  const { most, settings, days } = task;
  const energy = new Float64Array(most + 1).fill(Number.NEGATIVE_INFINITY);
  const start = new Uint16Array(most + 1);
  const bound = sweepYear(task, null, days > 1 ? 1 : 0, most, null);
  const promising = Array.from({ length: settings }, (_, k) => k).sort(
    (a, b) => bound[most * settings + b] - bound[most * settings + a] || a - b,
  );
  for (const k of promising) {
    let worth = most;
    while (worth >= 0 && bound[worth * settings + k] <= energy[worth]) worth--;
    if (worth < 0) continue;
    const swept = sweepYear(task, k, 0, worth, null);
    for (let n = 0; n <= worth; n++) {
      const closed = closeYear(task, k, swept, n).energy;
      if (closed > energy[n]) {
        energy[n] = closed;
        start[n] = k;
      }
    }
  }
  return { energy, start };
}

/**
 * For each n from 0 to `most` the plan of at most n changes a year that gives the most energy on this table.
 *
 * One change alone does not exist on a circle, so the plan of 1 is that of 0. Where a further change brings nothing, the plan
 * with fewer is given again (`changesOf` tells). Time grows as D x K^2 x most at worst.
 * @returns most + 1 plans; the index is n
 * @throws RangeError for rules or a table that make no sense
 */
export function planResettings(table: SettingTable, rules: ResettingRules = {}): readonly ResettingPlan[] {
  const task = taskOf(table, rules);
  const { most } = task;
  const { energy, start } = bestStarts(task);
  const dust = ROUNDING * task.energy.reduce((sum, value) => sum + Math.abs(value), 0);
  const plans: ResettingPlan[] = [];
  for (let n = 0; n <= most; n++) {
    const same = n > 0 && energy[n] - evaluatePlan(table, plans[n - 1]) <= dust;
    plans.push(same ? plans[n - 1] : traceBack(task, start[n], n));
  }
  return plans;
}
