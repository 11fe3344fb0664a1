/**
 * Builds the generating vector that stands in src/kernel/lattice.ts and prints it with its merit.
 *
 *   node --import tsx bench/build-lattice.ts
 *
 * Component by component (Nuyens & Cools, Math. Comp. 75 (2006) 903), every odd candidate of every component at once by
 * fast convolution; embedded for all N = 2^k (Cools, Kuo & Nuyens, SIAM J. Sci. Comput. 28 (2006) 2162): the component
 * taken has the smallest mean ratio (cubed), over k, of its error to that of the best rule built for that k alone.
 *
 * Error criterion: the squared worst-case error P2 of the shift-invariant kernel with product weights,
 *   e^2(N, z) = -1 + (1/N) sum_i prod_d (1 + gamma_d w({i z_d / N})),  w(x) = 2 pi^2 (x^2 - x + 1/6).
 *
 * How the sum becomes a convolution: the points i/N whose reduced denominator is 2^m are the same for all N >= 2^m, and
 * the odd numbers modulo 2^m are +-5^a, a modulo 2^(m-2). w is even, so with z = 5^a and i = 5^b the sum over
 * level m is a cyclic correlation of length 2^(m-2) in (a, b).
 */
import { DIMENSIONS, LARGEST_LOG2_RAYS, SMALLEST_LOG2_RAYS, WEIGHTS } from '../src/kernel/lattice.js';

/** Range of k that the vector has to serve. */
const FIRST_K = SMALLEST_LOG2_RAYS;
const LAST_K = LARGEST_LOG2_RAYS;

const omega = (x: number): number => 2 * Math.PI ** 2 * (x * x - x + 1 / 6);

/** Powers of 5 modulo 2^m for m >= 3: 2^(m-2) of them. */
function powersOfFive(m: number): Int32Array {
  const powers = new Int32Array(2 ** (m - 2));
  let power = 1;
  for (let exponent = 0; exponent < powers.length; exponent++) {
    powers[exponent] = power;
    power = Math.imul(power, 5) & (2 ** m - 1);
  }
  return powers;
}

/** In-place radix-2 transform of complex data. */
function transform(re: Float64Array, im: Float64Array): void {
  const length = re.length;
  for (let i = 1, j = 0; i < length; i++) {
    let bit = length >> 1;
    for (; j & bit; bit >>= 1) j ^= bit;
    j ^= bit;
    if (i < j) {
      [re[i], re[j]] = [re[j], re[i]];
      [im[i], im[j]] = [im[j], im[i]];
    }
  }
  const cosine = new Float64Array(length / 2);
  const sine = new Float64Array(length / 2);
  for (let i = 0; i < length / 2; i++) {
    cosine[i] = Math.cos((2 * Math.PI * i) / length);
    sine[i] = -Math.sin((2 * Math.PI * i) / length);
  }
  for (let size = 2; size <= length; size *= 2) {
    const half = size / 2;
    const stride = length / size;
    for (let start = 0; start < length; start += size) {
      for (let k = 0; k < half; k++) {
        const c = cosine[k * stride];
        const s = sine[k * stride];
        const a = start + k;
        const b = a + half;
        const tr = re[b] * c - im[b] * s;
        const ti = re[b] * s + im[b] * c;
        re[b] = re[a] - tr;
        im[b] = im[a] - ti;
        re[a] += tr;
        im[a] += ti;
      }
    }
  }
}

/** sum_b left[b] right[(a + b) mod n] for all a, both real, n a power of two. */
function correlate(left: Float64Array, right: Float64Array): Float64Array {
  const length = left.length;
  if (length === 1) return Float64Array.of(left[0] * right[0]);
  const leftRe = left.slice();
  const leftIm = new Float64Array(length);
  const rightRe = right.slice();
  const rightIm = new Float64Array(length);
  transform(leftRe, leftIm);
  transform(rightRe, rightIm);
  // conj(left) * right, then the inverse transform as a forward one of the conjugate.
  for (let i = 0; i < length; i++) {
    const re = leftRe[i] * rightRe[i] + leftIm[i] * rightIm[i];
    const im = leftRe[i] * rightIm[i] - leftIm[i] * rightRe[i];
    leftRe[i] = re / length;
    leftIm[i] = -im / length;
  }
  transform(leftRe, leftIm);
  return leftRe;
}

/** The products over the components chosen so far, by level of the denominator, and the kernel at the same points. */
class Construction {
  private readonly products: Float64Array[] = [];
  private readonly kernel: Float64Array[] = [];
  /** Product at the point 0, and at 1/2 (levels 0 and 1); level 2 has the single class 1/4. */
  private readonly low = [1, 1, 1];

  constructor(private readonly largest: number) {
    for (let m = 3; m <= largest; m++) {
      this.kernel[m] = Float64Array.from(powersOfFive(m), (j) => omega(j / 2 ** m));
      this.products[m] = new Float64Array(2 ** (m - 2)).fill(1);
    }
  }

  /** e^2 for every k and every candidate 5^a modulo 2^k, with one more component of weight gamma: result[k][a]. */
  errors(gamma: number): Float64Array[] {
    const [zero, half, quarter] = this.low;
    let running = Float64Array.of(
      zero * (1 + gamma * omega(0)) +
        half * (1 + gamma * omega(0.5)) +
        2 * quarter * (1 + gamma * omega(0.25)),
    );
    const result: Float64Array[] = [];
    for (let m = 3; m <= this.largest; m++) {
      const sum = correlate(this.products[m], this.kernel[m]);
      let plain = 0;
      for (const product of this.products[m]) plain += product;
      const next = new Float64Array(sum.length);
      for (let a = 0; a < sum.length; a++) {
        next[a] = running[a & (running.length - 1)] + 2 * (plain + gamma * sum[a]);
      }
      running = next;
      result[m] = Float64Array.from(running, (value) => value / 2 ** m - 1);
    }
    return result;
  }

  /** Takes 5^exponent as the next component. */
  take(exponent: number, gamma: number): void {
    this.low[0] *= 1 + gamma * omega(0);
    this.low[1] *= 1 + gamma * omega(0.5);
    this.low[2] *= 1 + gamma * omega(0.25);
    for (let m = 3; m <= this.largest; m++) {
      const products = this.products[m];
      const kernel = this.kernel[m];
      const mask = products.length - 1;
      for (let b = 0; b < products.length; b++) products[b] *= 1 + gamma * kernel[(b + exponent) & mask];
    }
  }
}

/** Best error per component of a rule built for 2^k points only: result[d]. */
function bestAlone(k: number): number[] {
  const construction = new Construction(k);
  return WEIGHTS.map((gamma, dimension) => {
    const errors = construction.errors(gamma)[k];
    let best = 0;
    if (dimension > 0) {
      for (let a = 1; a < errors.length; a++) if (errors[a] < errors[best]) best = a;
    }
    construction.take(best, gamma);
    return errors[best];
  });
}

/** The candidate with the smallest mean, over k, of the cubed ratio to the reference: bad k count most, none alone rules. */
function chooseExponent(errors: readonly Float64Array[], reference: readonly number[]): number {
  const candidates = 2 ** (LAST_K - 2);
  let exponent = 0;
  let smallest = Number.POSITIVE_INFINITY;
  for (let a = 0; a < candidates; a++) {
    let sum = 0;
    for (let k = LAST_K; k >= FIRST_K && sum < smallest; k--) {
      const ratio = errors[k][a & (errors[k].length - 1)] / reference[k];
      sum += ratio * ratio * ratio;
    }
    if (sum < smallest) {
      smallest = sum;
      exponent = a;
    }
  }
  return exponent;
}

const alone: number[][] = [];
for (let k = FIRST_K; k <= LAST_K; k++) alone[k] = bestAlone(k);

const exponents: number[] = [];
const embedded = new Construction(LAST_K);
let report: string[] = [];
for (let dimension = 0; dimension < DIMENSIONS; dimension++) {
  const gamma = WEIGHTS[dimension];
  const reference = alone.map((errors) => errors[dimension]);
  const errors = embedded.errors(gamma);
  // The first component is 1: only the ratios of the components matter.
  const exponent = dimension === 0 ? 0 : chooseExponent(errors, reference);
  embedded.take(exponent, gamma);
  exponents.push(exponent);
  report = reference.map((best, k) => {
    const error = errors[k][exponent & (errors[k].length - 1)];
    return `k ${k}: e^2 ${error.toExponential(6)}, ${(error / best).toFixed(3)} of the best for this k alone`;
  });
  console.log(`component ${dimension} chosen`);
}
// The list starts at index FIRST_K.
for (const line of report.slice(FIRST_K)) console.log(line);
const powers = powersOfFive(LAST_K);
// z and 2^22 - z give the mirrored rule with the same error: the smaller one is printed.
console.log(
  exponents.map((exponent) => Math.min(powers[exponent], 2 ** LAST_K - powers[exponent])).join(', '),
);
