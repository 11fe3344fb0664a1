/** Refusals at the edge of this folder: every public function names the figure that cannot be. */

/**
 * @returns the value
 * @throws RangeError unless value is finite and above 0
 */
export function aboveZero(name: string, value: number): number {
  if (!(value > 0 && Number.isFinite(value))) {
    throw new RangeError(`${name} must be a number above 0, got ${value}`);
  }
  return value;
}

/**
 * @returns the value
 * @throws RangeError unless value is finite and from least to most
 */
export function within(name: string, value: number, least: number, most = Number.MAX_VALUE): number {
  if (!(value >= least && value <= most)) {
    const span = most === Number.MAX_VALUE ? `${least} or more` : `from ${least} to ${most}`;
    throw new RangeError(`${name} must be ${span}, got ${value}`);
  }
  return value;
}

/**
 * @returns the value
 * @throws RangeError unless value is a whole number from least up
 */
export function wholeFrom(name: string, value: number, least: number): number {
  if (!(Number.isSafeInteger(value) && value >= least)) {
    throw new RangeError(`${name} must be a whole number of ${least} or more, got ${value}`);
  }
  return value;
}

/**
 * A table over a rising first column.
 * @throws RangeError for columns of unlike length, fewer than `least` rows, figures that are no numbers, or a first column that
 *   does not rise
 */
export function risingTable(
  name: string,
  rising: readonly number[],
  columns: readonly (readonly number[])[],
  least = 1,
): void {
  if (rising.length < least)
    throw new RangeError(`${name} needs ${least} rows or more, got ${rising.length}`);
  for (const column of columns) {
    if (column.length !== rising.length) {
      throw new RangeError(`${name} has columns of ${rising.length} and ${column.length} rows`);
    }
  }
  for (const column of [rising, ...columns]) {
    const row = column.findIndex((value) => !Number.isFinite(value));
    if (row >= 0) throw new RangeError(`${name}, row ${row + 1}: ${column[row]} is not a number`);
  }
  const fall = rising.findIndex((value, row) => row > 0 && !(value > rising[row - 1]));
  if (fall >= 0) throw new RangeError(`${name}, row ${fall + 1}: the first column must rise from row to row`);
}
