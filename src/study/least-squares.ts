/** Least squares for a handful of parameters: damped Gauss-Newton steps (Marquardt, J. SIAM 11 (1963) 431, from memory). */

/** Symmetric n x n matrix as rows. */
export type Matrix = readonly (readonly number[])[];

/** Residuals of parameters; the sum of their squares is to be small. Always the same number of them. */
export type Residuals = (parameters: readonly number[]) => Float64Array;

export interface LeastSquares {
  readonly parameters: readonly number[];
  readonly residuals: Float64Array;
  readonly squares: number;
  /** Derivatives at the end, [parameter][residual]. */
  readonly jacobian: readonly Float64Array[];
  readonly converged: boolean;
}

/**
 * Solves A x = b for a symmetric positive definite A by Cholesky's factors.
 * @returns null where A is not positive definite
 */
export function solveSymmetric(a: Matrix, b: readonly number[]): number[] | null {
  const n = b.length;
  const lower: number[][] = [];
  for (let i = 0; i < n; i++) {
    lower.push(new Array<number>(n).fill(0));
    for (let j = 0; j <= i; j++) {
      let sum = a[i][j];
      for (let k = 0; k < j; k++) sum -= lower[i][k] * lower[j][k];
      if (i === j) {
        if (!(sum > 0)) return null;
        lower[i][i] = Math.sqrt(sum);
      } else lower[i][j] = sum / lower[j][j];
    }
  }
  const x = [...b];
  for (let i = 0; i < n; i++) {
    for (let k = 0; k < i; k++) x[i] -= lower[i][k] * x[k];
    x[i] /= lower[i][i];
  }
  for (let i = n - 1; i >= 0; i--) {
    for (let k = i + 1; k < n; k++) x[i] -= lower[k][i] * x[k];
    x[i] /= lower[i][i];
  }
  return x;
}

/** Parameters are lengths in metres and slopes, all of order 1: this step balances rounding against the third derivative. */
const STEP = 1e-5;

/** Derivatives of the residuals by central differences, [parameter][residual]. */
function jacobianOf(residuals: Residuals, parameters: readonly number[]): Float64Array[] {
  return parameters.map((_, i) => {
    const at = (step: number) => residuals(parameters.map((value, j) => (j === i ? value + step : value)));
    const after = at(STEP);
    const before = at(-STEP);
    return after.map((value, k) => (value - before[k]) / (2 * STEP));
  });
}

function dotOf(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += a[i] * b[i];
  return sum;
}

const MOST_STEPS = 200;

/** Steps, in metres or slopes, that nobody can build. */
const TINY_STEP = 1e-10;

function isTiny(move: readonly number[] | null): boolean {
  return move?.every((step) => Math.abs(step) < TINY_STEP) ?? false;
}

/**
 * The parameters of least squares near `start`. A parameter that the residuals do not feel stays where it is.
 * @throws RangeError where the residuals of the start are not finite
 */
export function leastSquares(residuals: Residuals, start: readonly number[]): LeastSquares {
  let parameters = [...start];
  let now = residuals(parameters);
  let squares = dotOf(now, now);
  if (!Number.isFinite(squares))
    throw new RangeError('least squares: the residuals of the start are not finite');
  let jacobian = jacobianOf(residuals, parameters);
  let damping = 1e-3;
  let converged = false;
  for (let step = 0; step < MOST_STEPS && !converged; step++) {
    const normal = jacobian.map((a) => jacobian.map((b) => dotOf(a, b)));
    const scale = Math.max(...normal.map((row, i) => row[i]), Number.MIN_VALUE);
    const damped = normal.map((row, i) =>
      row.map((value, j) => (i === j ? value * (1 + damping) + 1e-15 * scale : value)),
    );
    const move = solveSymmetric(
      damped,
      jacobian.map((column) => -dotOf(column, now)),
    );
    const next = move && parameters.map((value, i) => value + move[i]);
    const tried = next && residuals(next);
    const smaller = tried ? dotOf(tried, tried) : Number.NaN;
    if (next && tried && smaller < squares) {
      converged = (squares - smaller <= 1e-13 * squares && damping <= 1e-3) || isTiny(move);
      [parameters, now, squares] = [next, tried, smaller];
      jacobian = jacobianOf(residuals, parameters);
      damping = Math.max(damping / 10, 1e-12);
    } else {
      damping *= 10;
      // Not even a step this short helps any more: this is the bottom, to rounding.
      converged = damping > 1e12 || (move !== null && isTiny(move));
    }
  }
  return { parameters, residuals: now, squares, jacobian, converged };
}

/** A reading that alone settles a parameter leaves no residual to judge by; its share is kept from being divided by 0. */
const LEAST_PART = 0.05;

/**
 * Covariance of the parameters from the scatter of the residuals, whatever their sizes: the sandwich with each reading's
 * residuals raised by what the fit has taken off them (HC3 of MacKinnon & White, J. Econometrics 29 (1985) 305, from memory).
 * @param size residuals of one reading, which follow each other
 * @param freedom degrees of freedom of one reading: fewer than its residuals where the fit leaves one of them 0
 * @returns null where the parameters are not determined or nothing is left to judge by
 */
export function covarianceOf(
  { residuals, jacobian }: LeastSquares,
  size: number,
  freedom: number,
): Matrix | null {
  const count = jacobian.length;
  if ((residuals.length / size) * freedom <= count) return null;
  const normal = jacobian.map((a) => jacobian.map((b) => dotOf(a, b)));
  const inverse: number[][] = [];
  for (let i = 0; i < count; i++) {
    const column = solveSymmetric(
      normal,
      jacobian.map((_, j) => (i === j ? 1 : 0)),
    );
    if (!column) return null;
    inverse.push(column);
  }
  const middle = Array.from({ length: count }, () => new Array<number>(count).fill(0));
  for (let first = 0; first < residuals.length; first += size) {
    const score = new Array<number>(count).fill(0);
    let leverage = 0;
    for (let k = first; k < first + size; k++) {
      for (let i = 0; i < count; i++) {
        score[i] += jacobian[i][k] * residuals[k];
        for (let j = 0; j < count; j++) leverage += jacobian[i][k] * inverse[i][j] * jacobian[j][k];
      }
    }
    const left = Math.max(LEAST_PART, 1 - leverage / freedom);
    for (let i = 0; i < count; i++) {
      for (let j = 0; j < count; j++) middle[i][j] += (score[i] * score[j]) / left ** 2;
    }
  }
  const through = (a: Matrix, b: Matrix) =>
    a.map((row) => row.map((_, j) => row.reduce((sum, v, k) => sum + v * b[k][j], 0)));
  return through(through(inverse, middle), inverse);
}
