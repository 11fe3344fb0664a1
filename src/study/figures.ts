/** Figures of a trace by name, and comparisons between two traces. */
import type { Figure, ReceiverResult, Replicates, TotalResult, TraceResult } from '../result/types.js';
import { jackknife, studentT975 } from '../run/statistics.js';
import type { Comparison } from './types.js';

/** Figures of all receivers together, in table order. */
export const TOTAL_FIGURES = [
  'spill_fraction',
  'intercept_factor',
  'blocked_fraction',
  'reflected_power',
  'intercepted_power',
  'peak_flux',
  'mean_flux',
  'concentration_ratio',
] as const satisfies readonly (keyof TotalResult)[];

/** Figures of one receiver. */
export const RECEIVER_FIGURES = [
  ...TOTAL_FIGURES,
  'peak_concentration',
  'opening_for_5_percent_spill_mm',
  'spot.holds_50',
  'spot.holds_90',
  'spot.holds_95',
  'spot.centroid_u',
  'spot.centroid_v',
] as const;

export type ReceiverFigureName = (typeof RECEIVER_FIGURES)[number];

/** Figures that are shares: written as a number from 0 to 1 or in per cent. */
export const SHARES: ReadonlySet<string> = new Set([
  'spill_fraction',
  'intercept_factor',
  'blocked_fraction',
]);

/** Splits "receivers.<name>.<figure>"; a receiver's name may hold dots. Null for any other text. */
export function splitReceiverFigure(
  name: string,
): { readonly receiver: string; readonly figure: ReceiverFigureName } | null {
  if (!name.startsWith('receivers.')) return null;
  const rest = name.slice('receivers.'.length);
  for (const figure of RECEIVER_FIGURES) {
    if (rest.endsWith(`.${figure}`) && rest.length > figure.length + 1) {
      return { receiver: rest.slice(0, -figure.length - 1), figure };
    }
  }
  return null;
}

function receiverFigure(receiver: ReceiverResult, figure: ReceiverFigureName): Figure {
  switch (figure) {
    case 'spot.holds_50':
      return receiver.spot.holds_50;
    case 'spot.holds_90':
      return receiver.spot.holds_90;
    case 'spot.holds_95':
      return receiver.spot.holds_95;
    case 'spot.centroid_u':
      return receiver.spot.centroid_u;
    case 'spot.centroid_v':
      return receiver.spot.centroid_v;
    default:
      return receiver[figure];
  }
}

/** A figure by its name; null where the trace has none of that name. */
export function figureByName(result: TraceResult, name: string): Figure | null {
  const total = TOTAL_FIGURES.find((figure) => figure === name);
  if (total !== undefined) return result.total[total];
  const split = splitReceiverFigure(name);
  const receiver = split && result.receivers.find((entry) => entry.name === split.receiver);
  return split && receiver ? receiverFigure(receiver, split.figure) : null;
}

/** Leave-one-out values of a figure by its name; empty where there are none. */
export function replicatesByName(replicates: Replicates, name: string): Float64Array {
  return replicates[name.startsWith('receivers.') ? name : `total.${name}`] ?? new Float64Array(0);
}

/** Names of the figures worth a column: all totals and, of a scene with a single receiver, its spot and opening. */
export function tableFigures(result: TraceResult): readonly string[] {
  if (result.receivers.length !== 1) return TOTAL_FIGURES;
  const own = ['spot.holds_90', 'spot.holds_95', 'opening_for_5_percent_spill_mm'];
  return [...TOTAL_FIGURES, ...own.map((figure) => `receivers.${result.receivers[0].name}.${figure}`)];
}

/** One figure of one trace, as a comparison needs it. */
export interface ComparedFigure {
  readonly figure: Figure;
  readonly replicates: Float64Array;
}

/**
 * The part of a figure's standard error that its leave-one-out values do not show: that of the place of a peak, of few rays,
 * of the lattice's resolution.
 */
export function unseenError({ figure, replicates }: ComparedFigure): number {
  const seen = replicates.length < 2 ? 0 : jackknife(replicates, figure.value).std_err;
  return Math.sqrt(Math.max(0, figure.std_err ** 2 - seen ** 2));
}

/**
 * Difference (other - base) and ratio of the same figure in two traces.
 *
 * Paired, the error is the jackknife's of the differences of leave-one-out values; errors that these do not show are
 * added as if independent (in two traces of the very same light they are nothing). Where the traces do not share their
 * random numbers group by group, or a value is only a bound (no ray was seen: its error is no spread of values), the
 * errors are added in quadrature, with Welch's degrees of freedom (Welch 1947, Biometrika 34, 28-35, from memory).
 *
 * @param sameDraws whether both were traced with the same seed, batches and groups
 */
export function compareFigures(other: ComparedFigure, base: ComparedFigure, sameDraws: boolean): Comparison {
  const a = other.figure;
  const b = base.figure;
  const groups = other.replicates.length;
  const bounded = a.limit !== undefined || b.limit !== undefined;
  const paired = sameDraws && !bounded && groups >= 2 && groups === base.replicates.length;
  const difference = a.value - b.value;
  const ratio = b.value !== 0 && !bounded ? a.value / b.value : null;
  if (paired) {
    const t = studentT975(groups - 1);
    const same = difference === 0 && other.replicates.every((entry, j) => entry === base.replicates[j]);
    const unseenOther = same ? 0 : unseenError(other);
    const unseenBase = same ? 0 : unseenError(base);
    // Both are linear in the two figures (the ratio to first order: (a - ratio b) / b), so a slot without which the base
    // is nothing does no harm.
    const errorOf = (perOther: number, perBase: number) =>
      Math.hypot(
        jackknife(
          other.replicates.map((entry, j) => perOther * entry - perBase * base.replicates[j]),
          perOther * a.value - perBase * b.value,
        ).std_err,
        perOther * unseenOther,
        perBase * unseenBase,
      );
    return {
      difference: withError(difference, errorOf(1, 1), t, a.unit),
      ratio: ratio === null ? null : withError(ratio, errorOf(1 / b.value, ratio / b.value), t, '1'),
      paired,
    };
  }
  const error = Math.hypot(a.std_err, b.std_err);
  const t = studentT975(
    welchDegrees([a.std_err, other.replicates.length], [b.std_err, base.replicates.length]),
  );
  return {
    difference: withError(difference, error, t, a.unit),
    ratio:
      ratio === null
        ? null
        : withError(ratio, Math.hypot(a.std_err / b.value, (ratio * b.std_err) / b.value), t, '1'),
    paired,
  };
}

function withError(value: number, error: number, t: number, unit: string): Figure {
  return { value, std_err: error, ci95: [value - t * error, value + t * error], unit };
}

/** Degrees of freedom of a sum of two independent errors, each with its number of groups (0 or 1: from ray counts). */
function welchDegrees(...errors: readonly (readonly [number, number])[]): number {
  let sum = 0;
  let below = 0;
  for (const [error, groups] of errors) {
    sum += error ** 2;
    if (groups >= 2) below += error ** 4 / (groups - 1);
  }
  return below > 0 ? Math.max(1, sum ** 2 / below) : Number.POSITIVE_INFINITY;
}
