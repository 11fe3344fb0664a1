/** A figure with the span that published formulas leave open. */

/** low <= best <= high. Not an interval of chance: the span of the formulas (and of the inputs given with a span) used. */
export interface Band {
  readonly low: number;
  readonly best: number;
  readonly high: number;
}

/** Which end of the formulas' span a calculation takes; 'high' is the most loss, the least film coefficient. */
export type Case = 'low' | 'best' | 'high';

export const CASES: readonly Case[] = ['low', 'best', 'high'];

/** One formula's answer. `inRange` tells whether the formula was made for this Rayleigh or Reynolds number. */
export interface FormulaValue {
  readonly name: string;
  readonly value: number;
  readonly inRange: boolean;
}

/** The three cases of a calculation as a band; ends are put in order, for what falls when the loss rises. */
export function bandOfCases(of: (end: Case) => number): Band {
  const values = CASES.map(of);
  return { low: Math.min(...values), best: values[1], high: Math.max(...values) };
}

/**
 * Span of the formulas that were made for this case; best is the first of them.
 * @param values the preferred formula first; where none is in its range, all count
 * @throws RangeError for an empty list
 */
export function bandOfFormulas(values: readonly FormulaValue[]): Band {
  if (values.length === 0) throw new RangeError('a band needs at least one formula');
  const fitting = values.filter((entry) => entry.inRange);
  const used = (fitting.length > 0 ? fitting : values).map((entry) => entry.value);
  return { low: Math.min(...used), best: used[0], high: Math.max(...used) };
}
