/**
 * Linear between rows, the end rows' values beyond the ends.
 * @param rising first column, rising, one row or more
 */
export function linearBetween(rising: readonly number[], values: readonly number[], at: number): number {
  const last = rising.length - 1;
  if (at <= rising[0]) return values[0];
  if (at >= rising[last]) return values[last];
  const row = rowBelow(rising, at);
  const share = (at - rising[row]) / (rising[row + 1] - rising[row]);
  return values[row] + share * (values[row + 1] - values[row]);
}

/** The last row at or below a place that lies inside the table. */
export function rowBelow(rising: readonly number[], at: number): number {
  let low = 0;
  let high = rising.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (rising[middle] <= at) low = middle;
    else high = middle;
  }
  return low;
}
