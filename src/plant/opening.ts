/** The opening of a receiver: wider catches more light and loses more heat. */

import type { Band } from './band.js';
import { aboveZero, risingTable, within } from './inputs.js';
import { rootOf } from './root.js';
import { rowBelow } from './table.js';

/** Share of the light that falls inside an opening of each size, from a trace. Diameters of a round one, widths of a slot; m. */
export interface InterceptCurve {
  readonly size: readonly number[];
  readonly fraction: readonly number[];
}

/** A round opening, or a slot of a length, m, whose width is sought. */
export type OpeningKind = { readonly kind: 'round' } | { readonly kind: 'slot'; readonly length: number };

/** A stretch of time with one light and one loss: one moment, or a bin of a year. */
export interface OpeningTime {
  /** s. */
  readonly duration: number;
  /** W in the plane of the opening, caught or not. */
  readonly light: number;
  /** W/m2 of opening, radiation and convection. */
  readonly lossPerArea: number;
  /** W of the whole opening at a size, instead: for a cavity whose convection does not go with its opening's area. */
  readonly lossOf?: (size: number) => number;
  /** The spot of this time; the common curve where left out. */
  readonly curve?: InterceptCurve;
}

export interface OpeningQuestion {
  readonly opening: OpeningKind;
  readonly absorptance: number;
  readonly curve: InterceptCurve;
  readonly times: readonly OpeningTime[];
  /** Share of the best net heat that may be lost within the flat range; 0.01 where left out. */
  readonly flatLoss?: number;
}

export interface BestOpening {
  /** m. */
  readonly best: number;
  /** J over all times. */
  readonly netHeat: number;
  readonly interceptFraction: number;
  /** Sizes between which less than `flatLoss` of the best is lost. */
  readonly flatFrom: number;
  readonly flatTo: number;
  /** The best lies at an end of the curve: it may lie beyond. */
  readonly atEnd: boolean;
}

export function openingSize(opening: OpeningKind, size: number): number {
  return opening.kind === 'round' ? (Math.PI / 4) * size * size : opening.length * size;
}

/**
 * Caught share at a size: monotone cubic through the samples (Fritsch & Carlson, SIAM J. Numer. Anal. 17 (1980) 238: parabolic
 * tangents, held to three times the flatter side), so that the best size does not stick to a sample. Below the first sample in proportion to the square of the
 * size, from 0; constant beyond the last.
 */
export function interceptAt(curve: InterceptCurve, size: number): number {
  const { size: x, fraction: y } = curve;
  const last = x.length - 1;
  if (size >= x[last]) return y[last];
  if (size <= x[0]) return x[0] === 0 ? y[0] : y[0] * (Math.max(0, size) / x[0]) ** 2;
  const i = rowBelow(x, size);
  const width = x[i + 1] - x[i];
  const t = (size - x[i]) / width;
  const left = tangent(x, y, i);
  const right = tangent(x, y, i + 1);
  return (
    y[i] * (1 + 2 * t) * (1 - t) ** 2 +
    y[i + 1] * t * t * (3 - 2 * t) +
    width * (left * t * (1 - t) ** 2 - right * t * t * (1 - t))
  );
}

function tangent(x: readonly number[], y: readonly number[], i: number): number {
  const slope = (k: number) => (y[k + 1] - y[k]) / (x[k + 1] - x[k]);
  if (x.length === 2) return slope(0);
  if (i === 0) return endTangent(slope(0), slope(1), x[1] - x[0], x[2] - x[1]);
  const last = x.length - 1;
  if (i === last) {
    return endTangent(slope(last - 1), slope(last - 2), x[last] - x[last - 1], x[last - 1] - x[last - 2]);
  }
  const before = slope(i - 1);
  const after = slope(i);
  if (before * after <= 0) return 0;
  const [left, right] = [x[i] - x[i - 1], x[i + 1] - x[i]];
  const parabola = (before * right + after * left) / (left + right);
  return Math.sign(before) * Math.min(Math.abs(parabola), 3 * Math.min(Math.abs(before), Math.abs(after)));
}

/** Three-point tangent at an end, held so that the piece stays monotone. */
function endTangent(near: number, next: number, width: number, nextWidth: number): number {
  const raw = ((2 * width + nextWidth) * near - width * next) / (width + nextWidth);
  if (raw * near <= 0) return 0;
  return near * next <= 0 && Math.abs(raw) > 3 * Math.abs(near) ? 3 * near : raw;
}

function checkCurve(curve: InterceptCurve): void {
  risingTable('intercept curve', curve.size, [curve.fraction], 3);
  within('smallest size of the intercept curve, m,', curve.size[0], 0);
  for (const [row, value] of curve.fraction.entries()) {
    within('intercepted fraction', value, 0, 1);
    if (row > 0 && value < curve.fraction[row - 1]) {
      throw new RangeError(`intercept curve, row ${row + 1}: a wider opening cannot catch less`);
    }
  }
}

/** Net J over all times at a size: light x absorptance x caught share - loss, whichever way it comes out. */
export function netHeatAt(question: OpeningQuestion, size: number): number {
  const area = openingSize(question.opening, size);
  const common = interceptAt(question.curve, size);
  return question.times.reduce((sum, time) => {
    const share = time.curve ? interceptAt(time.curve, size) : common;
    const loss = time.lossOf ? time.lossOf(size) : time.lossPerArea * area;
    return sum + time.duration * (question.absorptance * time.light * share - loss);
  }, 0);
}

/**
 * The opening with the most net heat, and how flat the best is.
 * @throws RangeError for curves that fall, figures that cannot be, or where no opening brings net heat
 */
export function bestOpening(question: OpeningQuestion): BestOpening {
  checkCurve(question.curve);
  within('absorptance', question.absorptance, 0, 1);
  if (question.opening.kind === 'slot') aboveZero('slot length, m,', question.opening.length);
  const flatLoss = within('flat loss', question.flatLoss ?? 0.01, 0, 0.5);
  for (const time of question.times) {
    if (time.curve) checkCurve(time.curve);
    within('duration, s,', time.duration, 0);
    within('light, W,', time.light, 0);
    within('loss, W/m2,', time.lossPerArea, 0);
  }
  const from = question.curve.size[0];
  const to = question.curve.size.at(-1)!;
  const net = (size: number) => netHeatAt(question, size);
  // A fine comb first: several times with unlike spots can leave more than one summit.
  const teeth = 400;
  const at = (tooth: number) => from + ((to - from) * tooth) / teeth;
  let summit = 0;
  for (let tooth = 1; tooth <= teeth; tooth++) if (net(at(tooth)) > net(at(summit))) summit = tooth;
  const best = summitBetween(net, at(Math.max(0, summit - 1)), at(Math.min(teeth, summit + 1)));
  const netHeat = net(best);
  if (!(netHeat > 0)) throw new RangeError('no opening on the curve brings net heat');
  const enough = (size: number) => net(size) - (1 - flatLoss) * netHeat;
  return {
    best,
    netHeat,
    interceptFraction: interceptAt(question.curve, best),
    flatFrom: flatEnd(enough, best, from),
    flatTo: flatEnd(enough, best, to),
    atEnd: summit === 0 || summit === teeth,
  };
}

/** Where `enough` first turns below zero on the way from the best to an end; the end where it never does. */
function flatEnd(enough: (size: number) => number, best: number, end: number): number {
  const steps = 400;
  let held = best;
  for (let step = 1; step <= steps; step++) {
    const size = best + ((end - best) * step) / steps;
    if (enough(size) < 0) return rootOf(enough, held, size);
    held = size;
  }
  return end;
}

const GOLDEN = (Math.sqrt(5) - 1) / 2;

function summitBetween(f: (x: number) => number, from: number, to: number): number {
  let [a, b] = [from, to];
  for (let step = 0; step < 80 && b - a > 1e-12 * Math.abs(a + b); step++) {
    const left = b - GOLDEN * (b - a);
    const right = a + GOLDEN * (b - a);
    if (f(left) < f(right)) a = left;
    else b = right;
  }
  return [from, (a + b) / 2, to].reduce((best, x) => (f(x) > f(best) ? x : best));
}

/** The best opening with the loss at its low, best and high end: how far it moves; m. */
export function openingBand(
  question: OpeningQuestion,
  lossPerArea: (time: OpeningTime, index: number) => Band,
): Band {
  const sizes = (['low', 'best', 'high'] as const).map(
    (end) =>
      bestOpening({
        ...question,
        times: question.times.map((time, index) => ({ ...time, lossPerArea: lossPerArea(time, index)[end] })),
      }).best,
  );
  return { low: Math.min(...sizes), best: sizes[1], high: Math.max(...sizes) };
}

/**
 * Check value: best radius of a round opening in a circular Gaussian spot, a^2 = 2 s^2 ln(P rho alpha / (2 pi s^2 q)): at the edge the
 * light absorbed just pays for the loss. Closed form, from d/da of P rho alpha (1 - exp(-a^2 / 2 s^2)) - q pi a^2.
 * @param sigma per axis, m
 * @param absorbed P rho alpha, W
 * @param lossPerArea W/m2, above 0
 * @returns m; 0 where even the middle of the spot does not pay
 */
export function gaussianBestRadius(sigma: number, absorbed: number, lossPerArea: number): number {
  aboveZero('sigma, m,', sigma);
  aboveZero('loss, W/m2,', lossPerArea);
  const ratio = absorbed / (2 * Math.PI * sigma * sigma * lossPerArea);
  return ratio <= 1 ? 0 : sigma * Math.sqrt(2 * Math.log(ratio));
}
