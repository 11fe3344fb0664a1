/** Requirements such as "spill<=5%", and the value of a swept key up to which one holds. */

import type { Figure, TraceResult } from '../result/types.js';
import { jackknife, studentT975 } from '../run/statistics.js';
import { editDistance } from '../scene/nearest.js';
import {
  figureByName,
  RECEIVER_FIGURES,
  SHARES,
  splitReceiverFigure,
  TOTAL_FIGURES,
  unseenError,
} from './figures.js';
import { type Parsed, parseNumber } from './range.js';
import type { Relation, Requirement, Tolerance } from './types.js';

/** Short names people type. */
const SHORT_NAMES: Readonly<Record<string, string>> = {
  spill: 'spill_fraction',
  intercept: 'intercept_factor',
  blocked: 'blocked_fraction',
  peak: 'peak_flux',
  mean: 'mean_flux',
  power: 'intercepted_power',
  concentration: 'concentration_ratio',
};

/**
 * Reads a requirement: figure, relation (<=, <, >= or >), number; shares may be in per cent. Figures are those of the total,
 * or "receivers.NAME.figure".
 * @returns a plain message, with the nearest known name where the figure is not known
 */
export function parseRequirement(text: string): Parsed<Requirement> {
  const refuse = (message: string) => ({ ok: false, message: `"${text}": ${message}` }) as const;
  const match = /^([^<>=]*)(<=|>=|<|>)([^<>=]*)$/.exec(text.trim());
  if (!match)
    return refuse('expected a figure, then <=, <, >= or >, then a number, e.g. spill_fraction<=0.05');
  const written = match[1].trim();
  if (written === '') return refuse('the name of the figure is missing');
  const dot = written.startsWith('receivers.') ? written.lastIndexOf('.') + 1 : 0;
  const short = written.slice(dot);
  const figure = Object.hasOwn(SHORT_NAMES, short) ? written.slice(0, dot) + SHORT_NAMES[short] : written;
  const split = splitReceiverFigure(figure);
  if (!split && !TOTAL_FIGURES.some((name) => name === figure)) {
    if (figure.startsWith('receivers.')) {
      const last = figure.slice(figure.lastIndexOf('.') + 1);
      const near = nearestName(last, RECEIVER_FIGURES);
      return refuse(`expected receivers.NAME.FIGURE; nearest figure: ${near}`);
    }
    return refuse(
      `unknown figure "${written}"; did you mean ${nearestName(written, [...TOTAL_FIGURES, ...Object.keys(SHORT_NAMES)])}? Known: ${TOTAL_FIGURES.join(', ')}, or receivers.NAME.FIGURE`,
    );
  }
  const inPerCent = match[3].trim().endsWith('%');
  const number = parseNumber(match[3].trim().replace(/%$/, ''));
  if (number === null) return refuse(`"${match[3].trim()}" is not a number`);
  const share = SHARES.has(split?.figure ?? figure);
  if (inPerCent && !share) return refuse(`${figure} is no share, so its bound cannot be in per cent`);
  const bound = inPerCent ? number / 100 : number;
  if (share && (bound < 0 || bound > 1)) {
    return refuse(`${figure} lies between 0 and 1 (or 0 % and 100 %), not at ${match[3].trim()}`);
  }
  return { ok: true, value: { text: text.trim(), figure, relation: match[2] as Relation, bound } };
}

/**
 * Checks that a trace has the figure of a requirement (a receiver's name is known only once a scene is).
 * @returns a plain message, or null
 */
export function missingFigure(requirement: Requirement, result: TraceResult): string | null {
  if (figureByName(result, requirement.figure)) return null;
  const split = splitReceiverFigure(requirement.figure);
  const names = result.receivers.map((receiver) => receiver.name);
  if (!split || names.length === 0) return `the scene has no figure ${requirement.figure}`;
  return `the scene has no receiver "${split.receiver}"; nearest: "${nearestName(split.receiver, names)}"`;
}

/** The name that takes the fewest single-letter changes; the first of equals. */
export function nearestName(wanted: string, names: readonly string[]): string {
  let nearest = names[0];
  let fewest = Number.POSITIVE_INFINITY;
  for (const name of names) {
    const changes = editDistance(wanted.toLowerCase(), name.toLowerCase(), Number.MAX_SAFE_INTEGER);
    if (changes < fewest) {
      fewest = changes;
      nearest = name;
    }
  }
  return nearest;
}

/** One point of a sweep, as the tolerance needs it. */
export interface TolerancePoint {
  readonly value: number;
  readonly figure: Figure;
  readonly replicates: Float64Array;
}

/** Whether a value meets the requirement. */
export function holds(requirement: Requirement, value: number): boolean {
  switch (requirement.relation) {
    case '<=':
      return value <= requirement.bound;
    case '<':
      return value < requirement.bound;
    case '>=':
      return value >= requirement.bound;
    case '>':
      return value > requirement.bound;
  }
}

interface Crossing {
  /** Between point `segment` and the next. */
  readonly segment: number;
  readonly value: number;
  /** True where the requirement holds before it and not after it. */
  readonly ends: boolean;
}

function crossingsOf(
  requirement: Requirement,
  at: readonly number[],
  figures: readonly number[],
): Crossing[] {
  const crossings: Crossing[] = [];
  for (let i = 0; i + 1 < at.length; i++) {
    const before = holds(requirement, figures[i]);
    if (before === holds(requirement, figures[i + 1])) continue;
    const part = (requirement.bound - figures[i]) / (figures[i + 1] - figures[i]);
    crossings.push({ segment: i, value: at[i] + part * (at[i + 1] - at[i]), ends: before });
  }
  return crossings;
}

/**
 * The last value, in sweep order, at which the requirement holds, interpolated linearly between points. The message says
 * where a bend of the curve between them matters beside the noise.
 *
 * Its error is the jackknife's: the crossing is found anew on the leave-one-out values of all points (same groups left
 * out at every point, so common noise stays common); where a replicate no longer crosses within the range, its straight line
 * through the crossed pair of points is carried on. Interval by Student's t with groups - 1 degrees of freedom, not
 * cut to the range. Without replicates (a single group) the error is carried over from the figures' own errors.
 *
 * Where it holds only from some value on, that first value is the limit. With several crossings the limit is the last one
 * after which it fails, or else the last one; all are listed and the message says so.
 *
 * @param path what was swept
 * @param at the other path's value, in a sweep of two
 * @param points at least one, in sweep order
 * @throws RangeError for no point
 */
export function tolerance(
  requirement: Requirement,
  path: string,
  at: Tolerance['at'],
  points: readonly TolerancePoint[],
): Tolerance {
  if (points.length === 0) throw new RangeError('a tolerance needs at least one point');
  const values = points.map((point) => point.value);
  const figures = points.map((point) => point.figure.value);
  const crossings = crossingsOf(requirement, values, figures);
  const where = at ? ` at ${at.path} = ${at.value}` : '';
  const first = values[0];
  const last = values[values.length - 1];
  const base = { path, at, crossings: crossings.map((crossing) => crossing.value) };
  if (crossings.length === 0) {
    const all = holds(requirement, figures[0]);
    const close = points.filter(
      ({ figure }) => figure.ci95[0] <= requirement.bound && requirement.bound <= figure.ci95[1],
    );
    const caveat =
      close.length > 0
        ? `, though at ${path} = ${close[close.length - 1].value} the 95 % interval reaches across the bound`
        : '';
    return {
      ...base,
      outcome: all ? 'whole_range' : 'none',
      holds: null,
      limit: null,
      message: all
        ? `${requirement.text} holds over the whole range of ${path}, ${first} to ${last}${where}${caveat}.`
        : `${requirement.text} holds nowhere in the range of ${path}, ${first} to ${last}${where}${caveat}.`,
    };
  }

  const chosen = crossings.findLast((crossing) => crossing.ends) ?? crossings[crossings.length - 1];
  const limit = crossingFigure(requirement, points, chosen);
  const bounded = [points[chosen.segment], points[chosen.segment + 1]].some((point) => point.figure.limit);
  const note = bounded
    ? ' A figure beside it is only a bound, so the interpolation is rough.'
    : bendNote(points, chosen, limit);
  const interval = `95 % interval ${brief(limit.ci95[0])} to ${brief(limit.ci95[1])}`;
  const side = chosen.ends ? 'up to' : 'from';
  if (crossings.length === 1) {
    return {
      ...base,
      outcome: 'crossing',
      holds: chosen.ends ? 'up_to_limit' : 'from_limit',
      limit,
      message: `${requirement.text} holds ${side} ${path} = ${brief(limit.value)}${where} (${interval}).${note}`,
    };
  }
  const stretches = crossings
    .map((crossing) => `${crossing.ends ? 'fails from' : 'holds from'} ${brief(crossing.value)}`)
    .join(', ');
  return {
    ...base,
    outcome: 'several_crossings',
    holds: chosen.ends ? 'up_to_limit' : 'from_limit',
    limit,
    message: `${requirement.text} changes ${crossings.length} times over the range of ${path}${where}: it ${
      holds(requirement, figures[0]) ? 'holds' : 'fails'
    } at ${first}, ${stretches}. The ${chosen.ends ? 'last value at which it holds' : 'value from which it holds'} is ${brief(limit.value)} (${interval}).${note}`,
  };
}

/** A bend of the curve is told where it may shift the limit by more than these shares of the interval's half width and of a step. */
const BEND_TOLD = { ofHalfWidth: 0.5, ofStep: 0.001 };

/**
 * The interval knows the noise of the rays, not how the curve runs between the points. A parabola through the crossed
 * pair and a neighbour (Newton's form, to first order in the bend) tells how far that matters.
 * @returns a sentence to follow the message; nothing where the bend is within the noise, or without a third point
 */
function bendNote(points: readonly TolerancePoint[], crossing: Crossing, limit: Figure): string {
  const left = points[crossing.segment];
  const right = points[crossing.segment + 1];
  const slope = (right.figure.value - left.figure.value) / (right.value - left.value);
  const product = (crossing.value - left.value) * (crossing.value - right.value);
  let shift = 0;
  for (const beside of [points[crossing.segment - 1], points[crossing.segment + 2]]) {
    if (beside === undefined || beside.figure.limit !== undefined) continue;
    const line = left.figure.value + slope * (beside.value - left.value);
    const bend = (beside.figure.value - line) / ((beside.value - left.value) * (beside.value - right.value));
    const own = (-bend * product) / slope;
    if (Math.abs(own) > Math.abs(shift)) shift = own;
  }
  const half = (limit.ci95[1] - limit.ci95[0]) / 2;
  const least = Math.max(BEND_TOLD.ofHalfWidth * half, BEND_TOLD.ofStep * Math.abs(right.value - left.value));
  if (!(Math.abs(shift) > least)) return '';
  return (
    ` The interval covers the noise of the rays only: the curve is bent between the points, and a parabola puts the limit ` +
    `at ${brief(crossing.value + shift)}; take smaller steps there.`
  );
}

function crossingFigure(
  requirement: Requirement,
  points: readonly TolerancePoint[],
  crossing: Crossing,
): Figure {
  const values = points.map((point) => point.value);
  const groups = Math.min(...points.map((point) => point.replicates.length));
  const alike = points.every((point) => point.replicates.length === groups);
  const left = points[crossing.segment];
  const right = points[crossing.segment + 1];
  const slope = (right.figure.value - left.figure.value) / (right.value - left.value);
  if (!alike || groups < 2) {
    const part = (crossing.value - left.value) / (right.value - left.value);
    const figureError = (1 - part) * left.figure.std_err + part * right.figure.std_err;
    const error = Math.abs(figureError / slope);
    const t = studentT975(groups >= 2 ? groups - 1 : Number.POSITIVE_INFINITY);
    return limitFigure(crossing.value, error, t);
  }
  const replicates = Float64Array.from({ length: groups }, (_, j) => {
    const figures = points.map((point) => point.replicates[j]);
    const alternatives = crossingsOf(requirement, values, figures).filter(
      (entry) => entry.ends === crossing.ends,
    );
    let nearest: number | null = null;
    for (const { value } of alternatives) {
      if (nearest === null || Math.abs(value - crossing.value) < Math.abs(nearest - crossing.value)) {
        nearest = value;
      }
    }
    if (nearest !== null) return nearest;
    const rise = figures[crossing.segment + 1] - figures[crossing.segment];
    if (rise === 0) return crossing.value;
    const part = (requirement.bound - figures[crossing.segment]) / rise;
    return left.value + part * (right.value - left.value);
  });
  const part = (crossing.value - left.value) / (right.value - left.value);
  const unseen = Math.hypot((1 - part) * unseenError(left), part * unseenError(right)) / Math.abs(slope);
  const error = Math.hypot(jackknife(replicates, crossing.value).std_err, unseen);
  return limitFigure(crossing.value, error, studentT975(groups - 1));
}

/** In the swept key's own unit, which its name states. */
function limitFigure(value: number, error: number, t: number): Figure {
  return { value, std_err: error, ci95: [value - t * error, value + t * error], unit: '' };
}

function brief(value: number): string {
  return String(Number(value.toPrecision(4)));
}
