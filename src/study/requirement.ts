/** Requirements such as "spill<=5%", and the value of a swept key up to which one holds. */

import type { Figure, TraceResult } from '../result/types.js';
import { editDistance } from '../scene/nearest.js';
import { type Curve, type CurvePoint, curveThrough } from './curve.js';
import { figureByName, RECEIVER_FIGURES, SHARES, splitReceiverFigure, TOTAL_FIGURES } from './figures.js';
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

/** Halvings that narrow a step down to the last digit of a number. */
const HALVINGS = 60;

/** Where a condition that is met at `inside` and not at `outside` ceases to be. */
function edgeOf(inside: number, outside: number, met: (value: number) => boolean): number {
  let [in_, out] = [inside, outside];
  for (let i = 0; i < HALVINGS; i++) {
    const middle = (in_ + out) / 2;
    if (met(middle)) in_ = middle;
    else out = middle;
  }
  return (in_ + out) / 2;
}

function crossingsOf(requirement: Requirement, points: readonly CurvePoint[], curve: Curve): Crossing[] {
  const crossings: Crossing[] = [];
  for (let segment = 0; segment + 1 < points.length; segment++) {
    const [left, right] = [points[segment], points[segment + 1]];
    const before = holds(requirement, left.figure.value);
    if (before === holds(requirement, right.figure.value)) continue;
    const value =
      curve.interpolation(segment) === 'straight'
        ? straightCrossing(requirement.bound, left, right)
        : edgeOf(left.value, right.value, (at) => holds(requirement, curve.at(segment, at).value) === before);
    crossings.push({ segment, value, ends: before });
  }
  return crossings;
}

function straightCrossing(bound: number, left: CurvePoint, right: CurvePoint): number {
  const part = (bound - left.figure.value) / (right.figure.value - left.figure.value);
  return left.value + part * (right.value - left.value);
}

/**
 * The last value, in sweep order, at which the requirement holds, on a curve through the points (see `curveThrough`).
 *
 * Its interval is the values round it at which the curve cannot be told from the bound: their distance is no more than the
 * noise of the curve there (95 %) and how far it may be off between the points, in quadrature. (Of a straight line with normal
 * noise this is Fieller's interval, 1954, J. R. Stat. Soc. B 16, 175-185, from memory: the noise of the slope makes it longer on the flat
 * side.) With both alike in size, added so, it holds 95 % as long as the curve is off by no more than half of what it may be.
 * The interval is not cut to the range, but one step past its ends, where rays so few cannot bound it; the message says so.
 * `std_err` is the interval's half width over Student's t.
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
  points: readonly CurvePoint[],
): Tolerance {
  if (points.length === 0) throw new RangeError('a tolerance needs at least one point');
  const curve = curveThrough(points);
  const crossings = crossingsOf(requirement, points, curve);
  const where = at ? ` at ${at.path} = ${at.value}` : '';
  const first = points[0].value;
  const last = points[points.length - 1].value;
  const base = { path, at, crossings: crossings.map((crossing) => crossing.value) };
  if (crossings.length === 0) {
    const all = holds(requirement, points[0].figure.value);
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
      interpolation: null,
      message: all
        ? `${requirement.text} holds over the whole range of ${path}, ${first} to ${last}${where}${caveat}.`
        : `${requirement.text} holds nowhere in the range of ${path}, ${first} to ${last}${where}${caveat}.`,
    };
  }

  const chosen = crossings.findLast((crossing) => crossing.ends) ?? crossings[crossings.length - 1];
  const limit = limitOf(requirement.bound, points, curve, chosen);
  const interpolation = interpolationOf(requirement.bound, points, curve, chosen);
  const note = noteOn(points, chosen, limit, interpolation);
  const interval = `95 % interval ${brief(limit.ci95[0])} to ${brief(limit.ci95[1])}`;
  const side = chosen.ends ? 'up to' : 'from';
  if (crossings.length === 1) {
    return {
      ...base,
      outcome: 'crossing',
      holds: chosen.ends ? 'up_to_limit' : 'from_limit',
      limit,
      interpolation,
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
    interpolation,
    message: `${requirement.text} changes ${crossings.length} times over the range of ${path}${where}: it ${
      holds(requirement, points[0].figure.value) ? 'holds' : 'fails'
    } at ${first}, ${stretches}. The ${chosen.ends ? 'last value at which it holds' : 'value from which it holds'} is ${brief(limit.value)} (${interval}).${note}`,
  };
}

/** Parts of a step in which an end of the interval is looked for. */
const PARTS = 32;

/** See `tolerance`. In the swept key's own unit, which its name states. */
function limitOf(bound: number, points: readonly CurvePoint[], curve: Curve, crossing: Crossing): Figure {
  const untold = (segment: number, value: number): boolean => {
    const on = curve.at(segment, value);
    return Math.abs(on.value - bound) <= Math.hypot(on.noise, on.bend);
  };
  const last = points.length - 2;
  const end = (direction: 1 | -1): number => {
    let from = crossing.value;
    for (let segment = crossing.segment; ; segment += direction) {
      const within = segment >= 0 && segment <= last;
      const own = Math.min(last, Math.max(0, segment));
      const step = points[own + 1].value - points[own].value;
      const to = within ? points[direction > 0 ? own + 1 : own].value : from + direction * step;
      for (let part = 1; part <= PARTS; part++) {
        const value = part === PARTS ? to : from + (part / PARTS) * (to - from);
        if (!untold(own, value)) {
          const before = from + ((part - 1) / PARTS) * (to - from);
          return edgeOf(before, value, (at) => untold(own, at));
        }
      }
      from = to;
      if (!within) return to;
    }
  };
  const ends = [end(-1), end(1)];
  // Never does rounding leave the limit outside.
  const low = Math.min(...ends, crossing.value);
  const high = Math.max(...ends, crossing.value);
  return { value: crossing.value, std_err: (high - low) / (2 * curve.t), ci95: [low, high], unit: '' };
}

function interpolationOf(
  bound: number,
  points: readonly CurvePoint[],
  curve: Curve,
  crossing: Crossing,
): NonNullable<Tolerance['interpolation']> {
  const [left, right] = [points[crossing.segment], points[crossing.segment + 1]];
  const { bend } = curve.at(crossing.segment, crossing.value);
  const step = right.value - left.value;
  // The slope of the curve where it crosses; on a level stretch that of the straight line.
  const near = 1e-4 * step;
  const [below, above] = [-near, near].map((by) => curve.at(crossing.segment, crossing.value + by).value);
  const own = Math.abs((above - below) / (2 * near));
  const chord = Math.abs((right.figure.value - left.figure.value) / step);
  return {
    curve: curve.interpolation(crossing.segment),
    straight: straightCrossing(bound, left, right),
    error: bend === 0 ? 0 : bend / Math.max(own, 0.1 * chord),
  };
}

/** A bend of the curve is told where it shifts the limit by more than these shares of the interval's half width and of a step. */
const BEND_TOLD = { ofHalfWidth: 0.25, ofStep: 0.001 };

/** What a reader must know of how the limit came about: a sentence or two to follow the message, or nothing. */
function noteOn(
  points: readonly CurvePoint[],
  crossing: Crossing,
  limit: Figure,
  { curve, straight, error }: NonNullable<Tolerance['interpolation']>,
): string {
  const [left, right] = [points[crossing.segment], points[crossing.segment + 1]];
  const notes: string[] = [];
  const step = Math.abs(right.value - left.value);
  const half = (limit.ci95[1] - limit.ci95[0]) / 2;
  if (left.figure.limit || right.figure.limit) {
    notes.push('A figure beside it is only a bound, so the interpolation is rough.');
  } else if (curve === 'straight') {
    notes.push(
      'With no third point the line between the two is taken as straight, and the interval covers the noise of the rays only.',
    );
  } else if (
    Math.abs(straight - limit.value) > Math.max(BEND_TOLD.ofHalfWidth * half, BEND_TOLD.ofStep * step)
  ) {
    notes.push(
      `It lies on a curve through ${curve === 'cubic' ? 'four' : 'three'} points (a straight line between the two beside it puts it at ${brief(straight)}); the interval allows for that curve being off by ${brief(error)}${error > half / 2 ? ': take smaller steps there' : ''}.`,
    );
  }
  const values = points.map(({ value }) => value);
  const [from, to] = [Math.min(...values), Math.max(...values)];
  const [low, high] = limit.ci95;
  if (low < from || high > to) {
    notes.push(
      `The interval reaches past the range swept, where the curve is taken as straight and looked at for one step only.`,
    );
  }
  return notes.map((note) => ` ${note}`).join('');
}

function brief(value: number): string {
  return String(Number(value.toPrecision(4)));
}
