/**
 * Hourly weather of a year in the EPW layout: eight lines of header, then 35 columns; hours 1 to 24 of local standard time, each
 * the end of its hour. Columns and flags of missing values: EnergyPlus documentation, "Auxiliary Programs" (from memory).
 */
import { isDate } from './calendar.js';
import {
  ErrorList,
  FILE_YEARS,
  numberIn,
  QUANTITIES,
  readQuantity,
  recordsOf,
  type WeatherRecord,
} from './weather-cells.js';
import { fillGrid, type WeatherRow } from './weather-gaps.js';
import type { Weather, WeatherOutcome, WeatherPlace } from './weather-types.js';

const HOUR = 3_600_000;
const DEGREE = Math.PI / 180;
/** Taken where the file's months come from several years, and for those with a 29 February. */
const COMMON_YEAR = 2025;
const COMMON_LEAP_YEAR = 2024;
const HEADER_AT_MOST = 40;

const COLUMNS = {
  dni: { index: 14, name: '15 (direct normal radiation)', missing: 9999 },
  temperature: { index: 6, name: '7 (dry bulb temperature)', missing: 99.9 },
  wind: { index: 21, name: '22 (wind speed)', missing: 999 },
  pressure: { index: 9, name: '10 (atmospheric pressure)', missing: 999_999 },
} as const;

interface Header {
  readonly place: WeatherPlace;
  /** Milliseconds ahead of UTC. */
  readonly utcOffset: number;
}

interface DatedRecord {
  readonly record: WeatherRecord;
  readonly year: number;
  readonly month: number;
  readonly day: number;
  /** 1 to 24. */
  readonly hour: number;
}

/**
 * @param text of the file
 * @param file its name, for people
 * @param sha256 of the text
 * @returns the weather, or every error found; hours that are missing are told in its notices
 */
export function parseEpw(text: string, file: string, sha256: string): WeatherOutcome {
  const errors = new ErrorList();
  const records = recordsOf(text, ',', false, 1, errors);
  if (records === null) return { ok: false, errors: errors.list() };
  const header = readHeader(records, errors);
  const from = records
    .slice(0, HEADER_AT_MOST)
    .findIndex(({ cells }) => cells[0].toUpperCase() === 'DATA PERIODS');
  if (header === null || from < 0) {
    if (from < 0)
      errors.add(null, null, 'There is no line DATA PERIODS: this is not a file in the EPW layout.');
    return { ok: false, errors: errors.list() };
  }
  checkPeriods(records[from], errors);
  const dated = records.slice(from + 1).flatMap((record) => dateOf(record, errors));
  const yearOf = calendarOf(dated);
  const rows = dated.map((entry) => rowOf(entry, yearOf, header.utcOffset, errors));
  const grid = fillGrid(rows, HOUR, ['dni', 'temperature', 'wind', 'pressure'], errors);
  if (grid === null || !errors.none) return { ok: false, errors: errors.list() };
  const weather: Weather = { file, sha256, ...header, interval: HOUR, repeats: true, ...grid };
  return { ok: true, weather };
}

function readHeader(records: readonly WeatherRecord[], errors: ErrorList): Header | null {
  const [first] = records;
  if (first === undefined || first.cells[0].toUpperCase() !== 'LOCATION') {
    errors.add(
      first?.line ?? null,
      null,
      'The first line is not LOCATION: this is not a file in the EPW layout.',
    );
    return null;
  }
  const read = (index: number, name: string, least: number, most: number): number => {
    const value = numberIn(first.cells[index]);
    if (value !== null && value >= least && value <= most) return value;
    const cell = JSON.stringify((first.cells[index] ?? '').slice(0, 40));
    errors.add(first.line, `${index + 1} (${name})`, `${cell} is no ${name}.`, `${least} to ${most}`);
    return Number.NaN;
  };
  return {
    place: {
      name: (first.cells[1] ?? '').replace(/\p{C}/gu, '').slice(0, 64) || 'no name',
      latitude: read(6, 'latitude', -90, 90) * DEGREE,
      longitude: read(7, 'longitude', -180, 180) * DEGREE,
      height: read(9, 'height', -1000, 9999.9),
    },
    utcOffset: read(8, 'time zone', -12, 14) * HOUR,
  };
}

/** One record an hour is what the layout of the columns above means. */
function checkPeriods({ line, cells }: WeatherRecord, errors: ErrorList): void {
  const perHour = numberIn(cells[2]);
  if (perHour !== 1) {
    errors.add(line, '3 (records per hour)', `${JSON.stringify(cells[2] ?? '')} records per hour.`, '1');
  }
}

function dateOf(record: WeatherRecord, errors: ErrorList): readonly DatedRecord[] {
  const { line, cells } = record;
  const [year, month, day, hour] = cells.slice(0, 4).map((cell) => numberIn(cell) ?? Number.NaN);
  // The year is only that of the month's source.
  if (year < FILE_YEARS.first || year > FILE_YEARS.last || !isDate({ year, month, day })) {
    errors.add(line, '1 to 3 (date)', `There is no day ${cells.slice(0, 3).join('-').slice(0, 40)}.`);
    return [];
  }
  if (!(Number.isInteger(hour) && hour >= 1 && hour <= 24)) {
    errors.add(line, '4 (hour)', `${JSON.stringify((cells[3] ?? '').slice(0, 40))} is no hour.`, '1 to 24');
    return [];
  }
  return [{ record, year, month, day, hour }];
}

/** The year that all rows are put in: their own where it is one. */
function calendarOf(dated: readonly DatedRecord[]): number {
  const years = new Set(dated.map(({ year }) => year));
  if (years.size === 1) return dated[0].year;
  return dated.some(({ month, day }) => month === 2 && day === 29) ? COMMON_LEAP_YEAR : COMMON_YEAR;
}

function rowOf(
  { record, month, day, hour }: DatedRecord,
  year: number,
  utcOffset: number,
  errors: ErrorList,
): WeatherRow {
  const read = (column: keyof typeof COLUMNS) => {
    const { index, name, missing } = COLUMNS[column];
    const quantity = QUANTITIES[column === 'pressure' ? 'pressurePa' : column];
    return readQuantity(record, index, name, quantity, (value) => value >= missing, errors);
  };
  return {
    line: record.line,
    start: Date.UTC(year, month - 1, day) + (hour - 1) * HOUR - utcOffset,
    dni: read('dni'),
    temperature: read('temperature'),
    wind: read('wind'),
    pressure: read('pressure'),
  };
}
