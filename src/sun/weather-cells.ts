/** Cells of a weather file: text to records with their lines, records to numbers within their range. */
import { CsvError, parse } from 'csv-parse/sync';
import type { WeatherError } from './weather-types.js';

export interface WeatherRecord {
  /** From 1. */
  readonly line: number;
  readonly cells: readonly string[];
}

/** What a column of numbers holds. */
export interface Quantity {
  /** For messages. */
  readonly name: string;
  /** Ends of what is believed, in the file's unit. */
  readonly least: number;
  readonly most: number;
  readonly unit: string;
  readonly toSi: (value: number) => number;
}

/** The air at the surface of the Earth stays within these; irradiance cannot pass that outside the air (some 1410 W/m2). */
export const QUANTITIES = {
  dni: { name: 'beam irradiance', least: 0, most: 1400, unit: 'W/m2', toSi: (value) => value },
  temperature: {
    name: 'air temperature',
    least: -90,
    most: 65,
    unit: 'degrees Celsius',
    toSi: (value) => value + 273.15,
  },
  wind: { name: 'wind speed', least: 0, most: 100, unit: 'm/s', toSi: (value) => value },
  pressureHpa: {
    name: 'air pressure',
    least: 300,
    most: 1100,
    unit: 'hPa',
    toSi: (value) => value * 100,
  },
  pressurePa: {
    name: 'air pressure',
    least: 30_000,
    most: 110_000,
    unit: 'Pa',
    toSi: (value) => value,
  },
} as const satisfies Record<string, Quantity>;

/** A file that is wrong throughout is told by its first errors. */
const MOST_ERRORS = 40;

/** One error, and where else the same was found. */
interface Repeated {
  readonly error: WeatherError;
  lines: number;
  last: number | null;
}

/** Errors of one file in the order found, the same one told once with how often it comes, cut where they run on. */
export class ErrorList {
  readonly #errors = new Map<string, Repeated>();
  /** Of errors that are not listed. */
  #more = 0;

  add(line: number | null, column: string | null, message: string, allowed?: string): void {
    const key = JSON.stringify([column, message, allowed]);
    const same = this.#errors.get(key);
    if (same !== undefined) {
      same.lines++;
      same.last = line;
      return;
    }
    if (this.#errors.size >= MOST_ERRORS) {
      this.#more++;
      return;
    }
    const error = { line, column, message, ...(allowed === undefined ? {} : { allowed }) };
    this.#errors.set(key, { error, lines: 1, last: line });
  }

  get none(): boolean {
    return this.#errors.size === 0;
  }

  /** The errors, and how many more there are. */
  list(): readonly WeatherError[] {
    const told = [...this.#errors.values()].map(({ error, lines, last }): WeatherError => {
      if (lines === 1) return error;
      const where = last === null ? '' : `, the last of them line ${last}`;
      return { ...error, message: `${error.message} So it is on ${lines} lines${where}.` };
    });
    return this.#more === 0
      ? told
      : [...told, { line: null, column: null, message: `There are ${this.#more} more errors.` }];
  }
}

/**
 * @param quotes whether cells may stand in quotes
 * @param firstLine line of the file that the text begins with, from 1
 * @returns the records that are not empty, or null with the error told
 */
export function recordsOf(
  text: string,
  delimiter: string,
  quotes: boolean,
  firstLine: number,
  errors: ErrorList,
): readonly WeatherRecord[] | null {
  try {
    const rows = parse(text, {
      bom: true,
      delimiter,
      info: true,
      quote: quotes ? '"' : null,
      relax_column_count: true,
      skip_empty_lines: true,
      trim: true,
    }) as unknown as readonly { record: string[]; info: { lines: number } }[];
    return rows.map(({ record, info }) => ({ line: info.lines + firstLine - 1, cells: record }));
  } catch (error) {
    if (!(error instanceof CsvError)) throw error;
    const open = error.code === 'CSV_QUOTE_NOT_CLOSED';
    const line = open ? lastOddQuote(text) : typeof error.lines === 'number' ? error.lines : null;
    const message = open
      ? 'A quote is opened here and never closed.'
      : 'There is a quote where none may stand.';
    errors.add(line === null ? null : line + firstLine - 1, null, message);
    return null;
  }
}

/** Line of a text, from 1, on which a quote is opened that nothing closes: those of earlier cells come in pairs. */
function lastOddQuote(text: string): number {
  return text.split('\n').findLastIndex((line) => (line.split('"').length - 1) % 2 === 1) + 1;
}

/** Years in which the sun's place is worked out; others are slips of the pen. */
export const FILE_YEARS = { first: 1900, last: 2100 } as const;

const NUMBER = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$/u;

/** Numbers that files put where there is no value. */
const MISSING_LIKE = /^-?9{2,}(?:\.[09]*)?$/u;

/** @returns the number in a cell, or null */
export function numberIn(cell: string | undefined): number | null {
  return cell !== undefined && NUMBER.test(cell) ? Number(cell) : null;
}

/**
 * One quantity of a record in SI units; not a number where it is missing, or wrong with the error told.
 *
 * @param column what to call the column
 */
export function readQuantity(
  { line, cells }: WeatherRecord,
  index: number,
  column: string,
  quantity: Quantity,
  isMissing: (value: number) => boolean,
  errors: ErrorList,
): number {
  const cell = cells[index];
  if (cell === undefined) {
    errors.add(line, column, `The line ends before this column: it has ${cells.length} cells.`);
    return Number.NaN;
  }
  if (cell === '') return Number.NaN;
  const value = numberIn(cell);
  const { name, least, most, unit, toSi } = quantity;
  const allowed = `${least} to ${most} ${unit}`;
  if (value === null) {
    errors.add(line, column, `${JSON.stringify(cell.slice(0, 40))} is not a number.`, allowed);
    return Number.NaN;
  }
  if (isMissing(value)) return Number.NaN;
  if (value < least || value > most) {
    const code = MISSING_LIKE.test(cell)
      ? ' If it marks a missing value: leave the cell empty, or name it under "missing" where the sky is a table.'
      : '';
    errors.add(line, column, `${cell} ${unit} is no ${name}.${code}`, allowed);
    return Number.NaN;
  }
  return toSi(value);
}
