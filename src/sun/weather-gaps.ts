/** Rows of a weather file on an even grid of intervals: order, gaps, and what was done about them. */
import type { ErrorList } from './weather-cells.js';
import type { Weather, WeatherNotice } from './weather-types.js';

/** One interval as the file gives it; a value that is missing is not a number. */
export interface WeatherRow {
  /** From 1. */
  readonly line: number;
  /** Milliseconds since 1970 UTC. */
  readonly start: number;
  readonly dni: number;
  readonly temperature: number;
  readonly wind: number;
  readonly pressure: number;
}

type Column = 'dni' | 'temperature' | 'wind' | 'pressure';

const COLUMNS: readonly Column[] = ['dni', 'temperature', 'wind', 'pressure'];
const NAMES: Readonly<Record<Column, string>> = {
  dni: 'beam irradiance',
  temperature: 'air temperature',
  wind: 'wind speed',
  pressure: 'air pressure',
};
const HOUR = 3_600_000;
/** Gaps up to this long are filled from both sides. */
const SHORT_GAP = 3 * HOUR;
/** A year of minutes. */
const MOST_INTERVALS = 366 * 24 * 60;
const GAPS_NAMED = 3;

/** Intervals from one row's to another's that hold no value. */
interface Gap {
  readonly from: number;
  readonly count: number;
}

/**
 * @param rows in the order of the file
 * @param interval milliseconds
 * @param given columns that the file has
 * @returns arrays and notices, or null with the errors told
 */
export function fillGrid(
  rows: readonly WeatherRow[],
  interval: number,
  given: readonly Column[],
  errors: ErrorList,
): Pick<Weather, 'start' | 'end' | Column | 'notices'> | null {
  if (rows.length === 0) {
    errors.add(null, null, 'The file holds no weather.');
    return null;
  }
  if (!inOrder(rows, interval, errors)) return null;
  const first = rows[0].start;
  const length = Math.round((rows[rows.length - 1].start - first) / interval) + 1;
  if (length > MOST_INTERVALS) {
    errors.add(null, null, `The file reaches over ${length} intervals.`, `at most ${MOST_INTERVALS}`);
    return null;
  }
  const lines = new Int32Array(length);
  const values: Record<Column, Float64Array> = {
    dni: new Float64Array(length).fill(Number.NaN),
    temperature: new Float64Array(length).fill(Number.NaN),
    wind: new Float64Array(length).fill(Number.NaN),
    pressure: new Float64Array(length).fill(Number.NaN),
  };
  for (const row of rows) {
    const index = Math.round((row.start - first) / interval);
    lines[index] = row.line;
    for (const column of COLUMNS) values[column][index] = row[column];
  }
  const notices = given.flatMap((column) => mendColumn(column, values[column], lines, interval));
  const known = Array.from(values.dni.keys()).filter((index) => !Number.isNaN(values.dni[index]));
  if (known.length === 0) {
    errors.add(null, null, 'The file holds no beam irradiance at all.');
    return null;
  }
  const pick = (column: Column) => Float64Array.from(known, (index) => values[column][index]);
  return {
    start: Float64Array.from(known, (index) => first + index * interval),
    end: Float64Array.from(known, (index) => first + (index + 1) * interval),
    dni: pick('dni'),
    temperature: pick('temperature'),
    wind: pick('wind'),
    pressure: pick('pressure'),
    notices,
  };
}

/** Every interval once, in order, a whole number of intervals apart. */
function inOrder(rows: readonly WeatherRow[], interval: number, errors: ErrorList): boolean {
  const before = errors.none;
  let fine = true;
  for (let index = 1; index < rows.length; index++) {
    const [last, row] = [rows[index - 1], rows[index]];
    const apart = (row.start - last.start) / interval;
    if (apart >= 1 && Number.isInteger(apart)) continue;
    fine = false;
    const minutes = interval / 60_000;
    if (apart === 0) errors.add(row.line, null, `This is the same time as in line ${last.line}.`);
    else if (apart < 0) errors.add(row.line, null, `This is earlier than line ${last.line}.`);
    else {
      errors.add(
        row.line,
        null,
        `This is ${(row.start - last.start) / 60_000} minutes after line ${last.line}.`,
        `a multiple of ${minutes} minutes`,
      );
    }
  }
  return fine && before;
}

function gapsIn(values: Float64Array): readonly Gap[] {
  const gaps: Gap[] = [];
  let from = 0;
  for (let index = 0; index <= values.length; index++) {
    if (index < values.length && Number.isNaN(values[index])) continue;
    if (index > from) gaps.push({ from, count: index - from });
    from = index + 1;
  }
  return gaps;
}

/** Fills a column's short gaps in place and tells of all. */
function mendColumn(
  column: Column,
  values: Float64Array,
  lines: Int32Array,
  interval: number,
): readonly WeatherNotice[] {
  const filled: Gap[] = [];
  const left: Gap[] = [];
  for (const gap of gapsIn(values)) {
    const before = values[gap.from - 1];
    const after = values[gap.from + gap.count];
    const open = before === undefined || after === undefined;
    if (open || gap.count * interval > SHORT_GAP) {
      left.push(gap);
      continue;
    }
    for (let step = 1; step <= gap.count; step++) {
      values[gap.from + step - 1] = before + ((after - before) * step) / (gap.count + 1);
    }
    filled.push(gap);
  }
  const notice = (kind: WeatherNotice['kind'], gaps: readonly Gap[], done: string): WeatherNotice[] => {
    if (gaps.length === 0) return [];
    const count = gaps.reduce((sum, gap) => sum + gap.count, 0);
    const named = gaps.slice(0, GAPS_NAMED).map((gap) => placeOf(gap, lines));
    const more = gaps.length > GAPS_NAMED ? `, and ${gaps.length - GAPS_NAMED} more gaps` : '';
    const many = `${count} ${intervalWord(interval, count)} of ${NAMES[column]} ${count === 1 ? 'is' : 'are'}`;
    return [{ kind, count, text: `${many} missing and ${done} (${named.join('; ')}${more})` }];
  };
  return [
    ...notice('interpolated', filled, 'filled in from both sides'),
    ...(column === 'dni'
      ? notice('left_out', left, 'left out')
      : notice('other_values', left, column === 'wind' ? 'not known' : "taken as the site's")),
  ];
}

function intervalWord(interval: number, count: number): string {
  const plural = count === 1 ? '' : 's';
  return interval === HOUR ? `hour${plural}` : `interval${plural} of ${interval / 60_000} minutes`;
}

/** Where a gap stands in the file: its own lines, or the last line before it. */
function placeOf({ from, count }: Gap, lines: Int32Array): string {
  const own = Array.from(lines.subarray(from, from + count)).filter((line) => line > 0);
  if (own.length === 0) return `after line ${lines[from - 1]}`;
  return own.length === 1 ? `line ${own[0]}` : `lines ${own[0]} to ${own[own.length - 1]}`;
}
