/** A figure between the points of a sweep: a curve through the nearest of them, its noise, and how far it may be off. */
import { jackknife, studentT975 } from '../run/statistics.js';
import { type ComparedFigure, unseenError } from './figures.js';

/** One point of a sweep. */
export interface CurvePoint extends ComparedFigure {
  /** Of the swept key. */
  readonly value: number;
}

/** Curve through a crossed pair of points: straight, or through one or both neighbours too. */
export type Interpolation = 'straight' | 'parabola' | 'cubic';

/** A figure at a value of the swept key. */
export interface OnCurve {
  readonly value: number;
  /** Half of the 95 % interval that the noise of the rays makes. */
  readonly noise: number;
  /** How far the curve may be off between the points, for want of points: 0 at a point, and on a straight line, which cannot tell. */
  readonly bend: number;
  /** On the straight line between the points on either side. */
  readonly straight: number;
}

export interface Curve {
  /** Between point `segment` and the next; before the first and after the last point on the straight line of the end pair. */
  readonly at: (segment: number, value: number) => OnCurve;
  /** How the curve runs between point `segment` and the next. */
  readonly interpolation: (segment: number) => Interpolation;
  /** Student's t of its noise. */
  readonly t: number;
}

/** Of the bend between two points, what a cubic is taken to leave open at least: see `curveThrough`. */
const BEND_LEFT_BY_CUBIC = 0.5;

/**
 * The curve through the points, and straight on past the first and the last.
 *
 * Between two points it is the cubic through them and their two neighbours (Newton's divided differences; the first and last
 * pair have one neighbour, which makes it a parabola). A straight line is off by step^2 f''/8, a parabola by step^3 f'''/16,
 * so that of a smooth curve each is off by less than what the next one corrects. `bend` is that: of a parabola its distance
 * from the straight line; of a cubic the larger distance of the two parabolas from it, or half that of the straight line (at a
 * turning bend the parabolas agree by chance). A corner, or a wiggle narrower than the steps, no points can tell.
 *
 * At a given value of the key the curve is a weighted sum of the points' figures. So its noise is the jackknife's of the same sum
 * of their leave-one-out values (the same groups left out at every point, so that common noise stays common), with what
 * these do not show of each point added in quadrature. Without replicates the points' own errors are added outright.
 *
 * A neighbour is not used where its figure is only a bound, or where it does not lie outside the pair.
 * @param points at least two, in sweep order
 */
export function curveThrough(points: readonly CurvePoint[]): Curve {
  const groups = Math.min(...points.map(({ replicates }) => replicates.length));
  const paired = groups >= 2 && points.every(({ replicates }) => replicates.length === groups);
  const t = studentT975(groups >= 2 ? groups - 1 : Number.POSITIVE_INFINITY);
  const unseen = points.map(unseenError);

  const besides = (segment: number): readonly [before: number | null, after: number | null] => {
    const [left, right] = [points[segment], points[segment + 1]];
    const usable = (index: number, outside: (part: number) => boolean): number | null => {
      const beside = points.at(index);
      if (index < 0 || beside === undefined || beside.figure.limit !== undefined) return null;
      if (left.figure.limit !== undefined || right.figure.limit !== undefined) return null;
      return outside((beside.value - left.value) / (right.value - left.value)) ? index : null;
    };
    return [usable(segment - 1, (part) => part < 0), usable(segment + 2, (part) => part > 1)];
  };

  const noiseOf = (nodes: readonly number[], weights: readonly number[]): number => {
    if (!paired) {
      return t * nodes.reduce((sum, node, k) => sum + Math.abs(weights[k]) * points[node].figure.std_err, 0);
    }
    const left = Float64Array.from({ length: groups }, (_, j) =>
      nodes.reduce((sum, node, k) => sum + weights[k] * points[node].replicates[j], 0),
    );
    const whole = nodes.reduce((sum, node, k) => sum + weights[k] * points[node].figure.value, 0);
    return (
      t * Math.hypot(jackknife(left, whole).std_err, ...nodes.map((node, k) => weights[k] * unseen[node]))
    );
  };

  /** The polynomial through some points. */
  const through = (nodes: readonly number[], value: number) => {
    const weights = lagrangeWeights(
      nodes.map((node) => points[node].value),
      value,
    );
    return {
      weights,
      value: nodes.reduce((sum, node, k) => sum + weights[k] * points[node].figure.value, 0),
    };
  };

  const at = (segment: number, value: number): OnCurve => {
    const pair = [segment, segment + 1];
    const line = through(pair, value);
    const past = (value - points[segment].value) * (value - points[segment + 1].value) > 0;
    const [before, after] = past ? [null, null] : besides(segment);
    if (before === null && after === null) {
      return { value: line.value, noise: noiseOf(pair, line.weights), bend: 0, straight: line.value };
    }
    const parabolas = [before, after].flatMap((beside) =>
      beside === null ? [] : [through([...pair, beside], value).value],
    );
    const nodes = [...pair, before, after].filter((node) => node !== null);
    const curve = through(nodes, value);
    const fromLine = Math.abs(curve.value - line.value);
    const bend =
      parabolas.length === 1
        ? fromLine
        : Math.max(
            BEND_LEFT_BY_CUBIC * fromLine,
            ...parabolas.map((parabola) => Math.abs(parabola - curve.value)),
          );
    return { value: curve.value, noise: noiseOf(nodes, curve.weights), bend, straight: line.value };
  };

  return {
    t,
    at,
    interpolation: (segment) => {
      const used = besides(segment).filter((beside) => beside !== null).length;
      return (['straight', 'parabola', 'cubic'] as const)[used];
    },
  };
}

/** Weights of the values at `nodes` in the polynomial through them (Lagrange), at x. */
function lagrangeWeights(nodes: readonly number[], x: number): number[] {
  return nodes.map((own, k) =>
    nodes.reduce((product, other, m) => (m === k ? product : (product * (x - other)) / (own - other)), 1),
  );
}
