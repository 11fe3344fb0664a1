/** Weather in a table whose columns the scene declares. */
import type { ColumnLayout } from '../scene/types.js';
import { isDate } from './calendar.js';
import {
  ErrorList,
  FILE_YEARS,
  QUANTITIES,
  type Quantity,
  readQuantity,
  recordsOf,
  type WeatherRecord,
} from './weather-cells.js';
import { fillGrid, type WeatherRow } from './weather-gaps.js';
import type { WeatherOutcome } from './weather-types.js';

const DAY = 86_400_000;
/** A file this long stands for any year; gaps at its ends are not worth more than a day. */
const YEAR = { least: 364 * DAY, most: 366 * DAY };
const ISO = /^(\d{4})-(\d{2})-(\d{2})[T ](\d{2}):(\d{2})(?::(\d{2})(?:\.\d+)?)? ?(Z|[+-]\d{2}:?\d{2})?$/u;
const COMPACT = /^(\d{4})(\d{2})(\d{2}):(\d{2})(\d{2})()()$/u;

type ValueColumn = 'dni' | 'temperature' | 'wind' | 'pressure';

const VALUES: Readonly<Record<ValueColumn, Quantity>> = {
  dni: QUANTITIES.dni,
  temperature: QUANTITIES.temperature,
  wind: QUANTITIES.wind,
  pressure: QUANTITIES.pressureHpa,
};

interface FileTime {
  /** Milliseconds since 1970 as if the file's clock were UTC. */
  readonly shown: number;
  /** Milliseconds ahead of UTC; null where the text does not say. */
  readonly offset: number | null;
}

/** @returns null when there is no such date and time */
function fileTime(text: string): FileTime | null {
  const found = ISO.exec(text) ?? COMPACT.exec(text);
  if (found === null) return null;
  const [year, month, day, hour, minute, second] = found.slice(1, 7).map((part) => Number(part ?? 0));
  if (year < FILE_YEARS.first || year > FILE_YEARS.last) return null;
  if (!isDate({ year, month, day }) || minute > 59 || second > 59) return null;
  // The last instant of a day may be written as 24:00.
  if (hour > 24 || (hour === 24 && (minute > 0 || second > 0))) return null;
  const shown = Date.UTC(year, month - 1, day, hour, minute, second);
  const zone = found[7];
  if (zone === undefined || zone === '') return { shown, offset: null };
  if (zone === 'Z') return { shown, offset: 0 };
  const sign = zone.startsWith('-') ? -1 : 1;
  const minutes = Number(zone.slice(1, 3)) * 60 + Number(zone.slice(-2));
  return { shown, offset: sign * minutes * 60_000 };
}

const DELIMITER_NAMES: Readonly<
  Record<ColumnLayout['delimiter'], { readonly key: string; readonly plural: string }>
> = {
  ',': { key: 'comma', plural: 'commas' },
  ';': { key: 'semicolon', plural: 'semicolons' },
  '\t': { key: 'tab', plural: 'tabs' },
};

/**
 * The delimiter under which all declared headings would be found, where that of the scene finds none; else null.
 * @param line of the headings, as it stands in the file
 */
function otherDelimiter(
  { columns, delimiter }: ColumnLayout,
  line: string,
): ColumnLayout['delimiter'] | null {
  const wanted = Object.values(columns).filter((heading) => heading !== null);
  const found = (by: string): number => {
    const cells = line.split(by).map((cell) => cell.trim().replace(/^"(.*)"$/u, '$1'));
    return wanted.filter((heading) => cells.includes(heading)).length;
  };
  if (found(delimiter) > 0) return null;
  return ([',', ';', '\t'] as const).find((other) => found(other) === wanted.length) ?? null;
}

/** Places of the declared columns, or null with the errors told. */
function findColumns(
  layout: ColumnLayout,
  headings: WeatherRecord | undefined,
  errors: ErrorList,
): Readonly<Record<keyof ColumnLayout['columns'], number | null>> | null {
  if (headings === undefined) {
    errors.add(layout.headingLine, null, 'There is no line of headings here.');
    return null;
  }
  const known = headings.cells
    .slice(0, 40)
    .map((heading) => JSON.stringify(heading))
    .join(', ');
  const find = (heading: string | null): number | null => {
    if (heading === null) return null;
    const index = headings.cells.indexOf(heading);
    if (index < 0) {
      errors.add(headings.line, null, `There is no column headed ${JSON.stringify(heading)}.`, known);
    } else if (headings.cells.includes(heading, index + 1)) {
      errors.add(headings.line, heading, 'Several columns have this heading.');
    }
    return index;
  };
  const { time, dni, temperature, wind, pressure } = layout.columns;
  const places = {
    time: find(time),
    dni: find(dni),
    temperature: find(temperature),
    wind: find(wind),
    pressure: find(pressure),
  };
  return errors.none ? places : null;
}

/**
 * @param text of the file
 * @param file its name, for people
 * @param sha256 of the text
 * @returns the weather, or every error found; intervals that are missing are told in its notices
 */
export function parseColumns(
  text: string,
  layout: ColumnLayout,
  file: string,
  sha256: string,
): WeatherOutcome {
  const errors = new ErrorList();
  const refused = (): WeatherOutcome => ({ ok: false, errors: errors.list() });
  // What stands above the headings need not be a table at all.
  const body = text.split('\n').slice(layout.headingLine - 1);
  const divided = otherDelimiter(layout, body[0] ?? '');
  if (divided !== null) {
    errors.add(
      layout.headingLine,
      null,
      `The columns are divided by ${DELIMITER_NAMES[divided].plural}, not by ${DELIMITER_NAMES[layout.delimiter].plural}.`,
      `delimiter: ${DELIMITER_NAMES[divided].key} (in "sky")`,
    );
    return refused();
  }
  const records = recordsOf(body.join('\n'), layout.delimiter, true, layout.headingLine, errors);
  if (records === null) return refused();
  const headings = records[0]?.line === layout.headingLine ? records[0] : undefined;
  const places = findColumns(layout, headings, errors);
  if (places === null) return refused();
  const interval = layout.interval * 1000;
  const lead = { start: 0, middle: interval / 2, end: interval }[layout.timeMarks];
  let utcOffset: number | null = layout.utcOffset === null ? null : layout.utcOffset * 1000;
  const rows: WeatherRow[] = [];
  for (const record of records.slice(1)) {
    const cell = record.cells[places.time ?? 0] ?? '';
    const time = fileTime(cell);
    const offset = time?.offset ?? (layout.utcOffset === null ? null : layout.utcOffset * 1000);
    const values = readValues(record, layout, places, errors);
    if (time === null) {
      errors.add(
        record.line,
        layout.columns.time,
        `${JSON.stringify(cell.slice(0, 40))} is no date and time.`,
        '2026-03-20T12:00, 2026-03-20 12:00+01:00, 20260320:1200 and the like',
      );
    } else if (offset === null) {
      errors.add(
        record.line,
        layout.columns.time,
        'The time has no offset from UTC, and the scene gives none for the file.',
        'Z or an offset after the time, or utc_offset in the scene',
      );
      break;
    } else {
      utcOffset ??= offset;
      rows.push({ line: record.line, start: time.shown - offset - lead, ...values });
    }
  }
  const given = (['dni', 'temperature', 'wind', 'pressure'] as const).filter(
    (column) => places[column] !== null,
  );
  if (!errors.none) return refused();
  const grid = fillGrid(rows, interval, given, errors);
  if (grid === null) return refused();
  const reach = grid.end[grid.end.length - 1] - grid.start[0];
  return {
    ok: true,
    weather: {
      file,
      sha256,
      place: null,
      utcOffset: utcOffset ?? 0,
      interval,
      repeats: reach >= YEAR.least && reach <= YEAR.most,
      ...grid,
    },
  };
}

function readValues(
  record: WeatherRecord,
  layout: ColumnLayout,
  places: Readonly<Record<ValueColumn, number | null>>,
  errors: ErrorList,
): Omit<WeatherRow, 'line' | 'start'> {
  const read = (column: ValueColumn): number => {
    const place = places[column];
    const heading = layout.columns[column];
    if (place === null || heading === null) return Number.NaN;
    const isMissing = (value: number) => layout.missing.includes(value);
    return readQuantity(record, place, heading, VALUES[column], isMissing, errors);
  };
  return {
    dni: read('dni'),
    temperature: read('temperature'),
    wind: read('wind'),
    pressure: read('pressure'),
  };
}
