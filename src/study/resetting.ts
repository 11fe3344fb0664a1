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
  };
}

/**
 * For every setting k the best of `values` over the settings it can be reached from: a maximum over a window that slides
 * along, kept in a queue of falling values.
 * @param queue scratch, K entries
 */
function bestBefore(
  values: Float64Array,
  base: number,
  task: Task,
  queue: Uint16Array,
  best: Uint16Array,
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
    best[k] = queue[head];
  }
}

/** Best energies of a year that begins with one setting: at most c changes so far, setting k held on the last day. */
interface Swept {
  /** [c * K + k], kWh; -Infinity where it cannot be. */
  readonly energy: Float64Array;
  /** [(day * (most + 1) + c) * K + k]: the setting of the day before; null where not asked for. */
  readonly before: Uint16Array | null;
}

function sweepYear(task: Task, start: number, most: number, keep: boolean): Swept {
  const { energy, settings, days, allowed } = task;
  const row = (most + 1) * settings;
  let now = new Float64Array(row).fill(Number.NEGATIVE_INFINITY);
  let last = new Float64Array(row);
  for (let c = 0; c <= most; c++) now[c * settings + start] = energy[start];
  const before = keep ? new Uint16Array(days * row) : null;
  const queue = new Uint16Array(settings);
  const best = new Uint16Array(settings);
  for (let day = 1; day < days; day++) {
    [now, last] = [last, now];
    const open = allowed === null || allowed[day];
    for (let c = 0; c <= most; c++) {
      const base = c * settings;
      const fewer = base - settings;
      const canChange = open && c > 0;
      if (canChange) bestBefore(last, fewer, task, queue, best);
      for (let k = 0; k < settings; k++) {
        let value = last[base + k];
        let from = k;
        // Staying wins a tie: no visit is planned that brings nothing.
        if (canChange && last[fewer + best[k]] > value) {
          from = best[k];
          value = last[fewer + from];
        }
        now[base + k] = value + energy[day * settings + k];
        if (before) before[day * row + base + k] = from;
      }
    }
  }
  return { energy: now, before };
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
  const { settings, days } = task;
  const swept = sweepYear(task, start, changes, true);
  const closing = closeYear(task, start, swept.energy, changes);
  const before = swept.before as Uint16Array;
  const held = new Uint16Array(days);
  let [k, c] = [closing.setting, closing.changes];
  for (let day = days - 1; day >= 0; day--) {
    held[day] = k;
    const from = before[(day * (changes + 1) + c) * settings + k];
    if (day > 0 && from !== k) {
      k = from;
      c--;
    }
  }
  return planOfDays(held);
}

/**
 * For each n from 0 to `most` the plan of at most n changes a year that gives the most energy on this table.
 *
 * One change alone does not exist on a circle, so the plan of 1 is that of 0. Where a further change brings nothing, the plan
 * with fewer is given again (`changesOf` tells). Time grows as D x K^2 x most.
 * @returns most + 1 plans; the index is n
 * @throws RangeError for rules or a table that make no sense
 */
export function planResettings(table: SettingTable, rules: ResettingRules = {}): readonly ResettingPlan[] {
  const task = taskOf(table, rules);
  const { most, settings } = task;
  const energy = new Float64Array(most + 1).fill(Number.NEGATIVE_INFINITY);
  const start = new Uint16Array(most + 1);
  for (let k = 0; k < settings; k++) {
    const swept = sweepYear(task, k, most, false).energy;
    for (let n = 0; n <= most; n++) {
      const closed = closeYear(task, k, swept, n).energy;
      if (closed > energy[n]) {
        energy[n] = closed;
        start[n] = k;
      }
    }
  }
  const dust = ROUNDING * task.energy.reduce((sum, value) => sum + Math.abs(value), 0);
  const plans: ResettingPlan[] = [];
  for (let n = 0; n <= most; n++) {
    const same = n > 0 && energy[n] - evaluatePlan(table, plans[n - 1]) <= dust;
    plans.push(same ? plans[n - 1] : traceBack(task, start[n], n));
  }
  return plans;
}
