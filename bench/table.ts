/** Rows of measured values and the lines they are printed as. */

export interface Row {
  readonly name: string;
  readonly unit: string;
  readonly median: number;
  readonly lowest: number;
  readonly highest: number;
  readonly note?: string;
}

/** Takes values down as a row, and gives back their median. */
export type Recorder = (name: string, unit: string, values: readonly number[], note?: string) => number;

const NAME_WIDTH = 58;

/** Middle value; of an even number of values, the mean of the two in the middle. */
export function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const half = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[half] : (sorted[half - 1] + sorted[half]) / 2;
}

/** @param values repeats of one measurement, at least one */
export function rowOf(name: string, unit: string, values: readonly number[], note?: string): Row {
  const row = {
    name,
    unit,
    median: median(values),
    lowest: Math.min(...values),
    highest: Math.max(...values),
  };
  return note === undefined ? row : { ...row, note };
}

/** Three significant digits, without an exponent where the number is a plain one. */
export function shortNumber(value: number): string {
  if (value !== 0 && (Math.abs(value) < 1e-3 || Math.abs(value) >= 1e6)) return value.toExponential(2);
  return Math.abs(value) >= 1000 ? String(Math.round(value)) : value.toPrecision(3);
}

export function headLine(): string {
  return `${''.padEnd(NAME_WIDTH)} ${['median', 'lowest', 'highest'].map((word) => word.padStart(9)).join(' ')}`;
}

export function lineOf({ name, unit, median: middle, lowest, highest, note }: Row): string {
  const numbers = [middle, lowest, highest].map((value) => shortNumber(value).padStart(9)).join(' ');
  return `${name.padEnd(NAME_WIDTH)} ${numbers}  ${unit}${note === undefined ? '' : `  (${note})`}`;
}
