/** Ranges of values to sweep over, as typed: from:to:step. */

/** Most values a range may have. */
export const MOST_VALUES = 10_000;

export type Parsed<T> =
  | { readonly ok: true; readonly value: T }
  /** `message` is for the user. */
  | { readonly ok: false; readonly message: string };

const NUMBER = /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i;

/** A finite decimal number, nothing around it but blanks; null otherwise. */
export function parseNumber(text: string): number | null {
  const trimmed = text.trim();
  if (!NUMBER.test(trimmed)) return null;
  const value = Number(trimmed);
  return Number.isFinite(value) ? value : null;
}

/**
 * The values of `from:to:step`, both ends included where the steps reach them. The step may be negative. A last step that
 * misses the end by rounding (1e-9 of a step) counts as reaching it.
 * @returns a plain message where the text is no range, the step leads away from the end, or there are over 10,000 values
 */
export function parseRange(text: string): Parsed<readonly number[]> {
  const refuse = (message: string) => ({ ok: false, message: `range "${text}": ${message}` }) as const;
  const parts = text.split(':');
  if (parts.length !== 3) return refuse('expected from:to:step, e.g. 2:8:0.5');
  const [from, to, step] = parts.map(parseNumber);
  if (from === null || to === null || step === null) {
    const bad = parts.find((part) => parseNumber(part) === null);
    return refuse(`"${bad}" is not a number`);
  }
  if (from === to) return { ok: true, value: [from] };
  if (step === 0) return refuse('the step must not be 0');
  if (Math.sign(to - from) !== Math.sign(step)) {
    return refuse(`the step must be ${to > from ? 'positive' : 'negative'} to lead from ${from} to ${to}`);
  }
  const steps = Math.floor((to - from) / step + 1e-9);
  if (!(steps + 1 <= MOST_VALUES)) return refuse(`more than ${MOST_VALUES} values; take a larger step`);
  // from + i * step leaves binary dust (0.30000000000000004); people typed decimals, so give decimals back.
  const values = Array.from({ length: steps + 1 }, (_, i) => Number((from + i * step).toPrecision(12)));
  if (Math.abs(from + steps * step - to) <= 1e-9 * Math.abs(step)) values[steps] = to;
  return { ok: true, value: values };
}

/**
 * `path=from:to:step`.
 * @returns the path and its values, or a plain message
 */
export function parseVary(
  text: string,
): Parsed<{ readonly path: string; readonly values: readonly number[] }> {
  // The last one: a quoted name in the path may hold another, a range cannot.
  const equals = text.lastIndexOf('=');
  const path = text.slice(0, Math.max(0, equals)).trim();
  if (path === '') return { ok: false, message: `"${text}": expected path=from:to:step` };
  const range = parseRange(text.slice(equals + 1).trim());
  return range.ok ? { ok: true, value: { path, values: range.value } } : range;
}
