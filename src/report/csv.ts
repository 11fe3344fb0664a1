/** Numbers as CSV: a header row whose names carry the units, a point as decimal mark, UTF-8, LF. */
import { stringify } from 'csv-stringify/sync';
import type { FluxGrid, TraceResult } from '../result/types.js';
import { plainText } from './plain-text.js';

export type CsvCell = string | number;

/** Digits kept: relative rounding 5e-8, far below any ray noise. */
const CSV_DIGITS = 8;

/**
 * @returns text that a spreadsheet shows and does not run: text beginning with = + - @ gets a leading apostrophe
 *   (common practice against formula injection)
 */
export function neutralCell(text: string): string {
  const plain = plainText(text);
  return /^\s*[=+\-@＝＋－＠]/.test(plain) ? `'${plain}` : plain;
}

/**
 * @param header column names
 * @param rows text cells are neutralised; numbers stand as they are
 * @throws RangeError for a number that is not finite
 */
export function toCsv(header: readonly string[], rows: readonly (readonly CsvCell[])[]): string {
  const cell = (value: CsvCell): string => {
    if (typeof value === 'string') return neutralCell(value);
    if (!Number.isFinite(value)) throw new RangeError(`a CSV cell must be a finite number, not ${value}`);
    return String(Number(value.toPrecision(CSV_DIGITS)));
  };
  return stringify([header.map(cell), ...rows.map((row) => row.map(cell))], { record_delimiter: '\n' });
}

/** Units of figures as the end of a column's name. */
const UNIT_ENDS: Readonly<Record<string, string>> = {
  '': '',
  '1': '',
  W: '_w',
  'kW/m2': '_kw_m2',
  kWh: '_kwh',
  mm: '_mm',
};

/**
 * Names of the two columns of a figure, as JSON keys have them: "peak_flux_kw_m2", "peak_flux_std_err_kw_m2".
 * @param name dots become underlines
 * @param unit as the figure has it
 * @throws RangeError for a unit that has no ending, lest a column go without
 */
export function figureColumns(name: string, unit: string): [string, string] {
  const end = UNIT_ENDS[unit];
  if (end === undefined) throw new RangeError(`no ending of a column's name is known for the unit "${unit}"`);
  const key = name.replaceAll('.', '_');
  return [`${key}${end}`, `${key}_std_err${end}`];
}

/**
 * The flux map as one cell per line: u_mm, v_mm (the cell's centre), flux_kw_m2, std_err_kw_m2; u runs fastest, from the
 * low corner. A long table rather than a matrix, because it carries positions, units and errors in one file that spreadsheets
 * pivot and numpy reads as it is: `numpy.genfromtxt('flux.csv', delimiter=',', names=True)['flux_kw_m2'].reshape(nv, nu)`.
 */
export function fluxCsv(grid: FluxGrid): string {
  const rows: CsvCell[][] = [];
  const cellWidth = (1000 * grid.width) / grid.nu;
  const cellHeight = (1000 * grid.height) / grid.nv;
  for (let iv = 0; iv < grid.nv; iv++) {
    for (let iu = 0; iu < grid.nu; iu++) {
      const cell = iv * grid.nu + iu;
      rows.push([
        (iu + 0.5 - grid.nu / 2) * cellWidth,
        (iv + 0.5 - grid.nv / 2) * cellHeight,
        grid.flux[cell],
        grid.stdErr[cell],
      ]);
    }
  }
  return toCsv(['u_mm', 'v_mm', 'flux_kw_m2', 'std_err_kw_m2'], rows);
}

/** Intercept against the size of the opening, all receivers under one another. */
export function interceptCurveCsv(result: TraceResult): string {
  const rows = result.receivers.flatMap((receiver) =>
    receiver.intercept_curve.map((point): CsvCell[] => [
      receiver.name,
      point.scale,
      point.size_mm,
      point.intercept,
      point.std_err,
    ]),
  );
  return toCsv(['receiver', 'scale', 'size_mm', 'intercept_factor', 'std_err'], rows);
}
