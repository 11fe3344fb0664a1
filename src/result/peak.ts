/**
 * The hottest place of a flux map, without the upward bias of picking the highest of many noisy numbers.
 *
 * The peak is the highest mean over a disc of stated diameter whose centre lies in the window. Taking the maximum and
 * reading its value on the same map favours cells that are high by chance. So the place is chosen on one half of the
 * slots of batches and read on the other, both ways round (cross-validation): the readings are unbiased for the places
 * chosen, and their spread gives the error.
 */
import { mean, meanEstimate } from '../run/statistics.js';
import { addSlots } from './resampled.js';

/** A map's cells and the averaging disc, metres. */
export interface DiscGeometry {
  readonly nu: number;
  readonly nv: number;
  readonly width: number;
  readonly height: number;
  readonly discDiameter: number;
  /** A tube's map is unrolled: v goes round. */
  readonly wrapsInV: boolean;
}

/** Cells a disc centred on a cell touches: offsets in cells and overlap areas in m2. */
export interface DiscKernel {
  readonly du: Int32Array;
  readonly dv: Int32Array;
  readonly area: Float64Array;
}

/** Area of a disc about the origin within 0..x by 0..y; odd in x and in y, so that differences give any rectangle. */
function discCornerArea(radius: number, x: number, y: number): number {
  const sign = Math.sign(x) * Math.sign(y);
  const right = Math.min(Math.abs(x), radius);
  const top = Math.min(Math.abs(y), radius);
  if (right * right + top * top <= radius * radius) return sign * right * top;
  const left = Math.sqrt(Math.max(0, radius * radius - top * top));
  const segment = (at: number) =>
    0.5 * (at * Math.sqrt(Math.max(0, radius * radius - at * at)) + radius * radius * Math.asin(at / radius));
  return sign * (left * top + segment(right) - segment(left));
}

/**
 * Overlap of the averaging disc with the cells round it, the disc being centred on a cell.
 * @returns areas in m2 that sum to the disc's area
 */
export function discKernel(geometry: DiscGeometry): DiscKernel {
  const cellWidth = geometry.width / geometry.nu;
  const cellHeight = geometry.height / geometry.nv;
  const radius = geometry.discDiameter / 2;
  const reachU = Math.ceil(radius / cellWidth - 0.5);
  const reachV = Math.ceil(radius / cellHeight - 0.5);
  const du: number[] = [];
  const dv: number[] = [];
  const area: number[] = [];
  for (let j = -reachV; j <= reachV; j++) {
    for (let i = -reachU; i <= reachU; i++) {
      const right = (i + 0.5) * cellWidth;
      const left = (i - 0.5) * cellWidth;
      const top = (j + 0.5) * cellHeight;
      const low = (j - 0.5) * cellHeight;
      const overlap =
        discCornerArea(radius, right, top) -
        discCornerArea(radius, left, top) -
        discCornerArea(radius, right, low) +
        discCornerArea(radius, left, low);
      if (overlap > 1e-12 * cellWidth * cellHeight) {
        du.push(i);
        dv.push(j);
        area.push(overlap);
      }
    }
  }
  return { du: Int32Array.from(du), dv: Int32Array.from(dv), area: Float64Array.from(area) };
}

/**
 * Area whose rays make the mean over the disc as noisy as it is, m2: cell area x (sum of overlaps)^2 / sum of overlaps^2. That is the
 * disc's own where cells are fine, and a whole cell's where the disc lies within one.
 */
export function countedArea(geometry: DiscGeometry): number {
  let sum = 0;
  let squares = 0;
  for (const area of discKernel(geometry).area) {
    sum += area;
    squares += area * area;
  }
  return ((geometry.width / geometry.nu) * (geometry.height / geometry.nv) * sum * sum) / squares;
}

/**
 * Mean over the disc about every cell. Where the disc hangs over the window's edge, over the part inside.
 * @param map nu x nv numbers from `offset` on
 * @param scale per cell: 1 / the disc's area inside the window (`discScale`)
 */
export function discMeans(
  geometry: DiscGeometry,
  kernel: DiscKernel,
  scale: Float64Array,
  map: Float64Array,
  offset: number,
): Float64Array {
  const { nu, nv } = geometry;
  const means = new Float64Array(nu * nv);
  const inside = new Int32Array(kernel.area.length);
  for (let iv = 0; iv < nv; iv++) {
    const count = partsInside(geometry, kernel, iv, inside);
    // Four at a time, so that a cell's sum is fetched and put back a quarter as often; it grows in the same order.
    let part = 0;
    for (; part + 4 <= count; part += 4) addFourParts(geometry, kernel, inside, part, iv, map, offset, means);
    for (; part < count; part++) {
      const k = inside[part];
      const from = Math.max(0, -kernel.du[k]);
      const to = Math.min(nu, nu - kernel.du[k]);
      addPart(means, iv * nu, map, sourceOf(geometry, kernel, k, iv, offset), kernel.area[k], from, to);
    }
  }
  for (let cell = 0; cell < means.length; cell++) means[cell] *= scale[cell];
  return means;
}

/**
 * Which parts of the disc about the cells of a row lie in rows of the map.
 * @param out receives their indices, ascending
 * @returns how many
 */
function partsInside(
  { nv, wrapsInV }: DiscGeometry,
  kernel: DiscKernel,
  iv: number,
  out: Int32Array,
): number {
  let count = 0;
  for (let k = 0; k < kernel.area.length; k++) {
    const row = iv + kernel.dv[k];
    if (wrapsInV || (row >= 0 && row < nv)) out[count++] = k;
  }
  return count;
}

/** Where in the map the cell lies that part `k` of the disc about cell (0, iv) covers; it may lie beside the window. */
function sourceOf(
  { nu, nv }: DiscGeometry,
  kernel: DiscKernel,
  k: number,
  iv: number,
  offset: number,
): number {
  const row = (((iv + kernel.dv[k]) % nv) + nv) % nv;
  return offset + row * nu + kernel.du[k];
}

function addPart(
  means: Float64Array,
  row: number,
  map: Float64Array,
  source: number,
  weight: number,
  from: number,
  to: number,
): void {
  for (let iu = from; iu < to; iu++) means[row + iu] += weight * map[source + iu];
}

/** Adds the parts `inside[first]` to `inside[first + 3]` of the disc to the sums of row `iv`. */
function addFourParts(
  geometry: DiscGeometry,
  kernel: DiscKernel,
  inside: Int32Array,
  first: number,
  iv: number,
  map: Float64Array,
  offset: number,
  means: Float64Array,
): void {
  const { nu } = geometry;
  const { du, area } = kernel;
  let low = 0;
  let high = nu;
  for (let part = first; part < first + 4; part++) {
    low = Math.max(low, -du[inside[part]]);
    high = Math.min(high, nu - du[inside[part]]);
  }
  low = Math.min(low, nu);
  high = Math.max(low, high);
  const row = iv * nu;
  // Near the edges not all four lie in the window.
  for (let part = first; part < first + 4; part++) {
    const k = inside[part];
    const source = sourceOf(geometry, kernel, k, iv, offset);
    addPart(means, row, map, source, area[k], Math.max(0, -du[k]), Math.min(low, nu - du[k]));
    addPart(means, row, map, source, area[k], Math.max(high, -du[k]), Math.min(nu, nu - du[k]));
  }
  const [k0, k1, k2, k3] = [inside[first], inside[first + 1], inside[first + 2], inside[first + 3]];
  const [w0, w1, w2, w3] = [area[k0], area[k1], area[k2], area[k3]];
  const s0 = sourceOf(geometry, kernel, k0, iv, offset);
  const s1 = sourceOf(geometry, kernel, k1, iv, offset);
  const s2 = sourceOf(geometry, kernel, k2, iv, offset);
  const s3 = sourceOf(geometry, kernel, k3, iv, offset);
  for (let iu = low; iu < high; iu++) {
    means[row + iu] =
      means[row + iu] + w0 * map[s0 + iu] + w1 * map[s1 + iu] + w2 * map[s2 + iu] + w3 * map[s3 + iu];
  }
}

/** Turns sums of (watts in a cell x overlap area) into W/m2: 1 / (cell area x the disc's area inside the window). */
export function discScale(geometry: DiscGeometry, kernel: DiscKernel): Float64Array {
  const { nu, nv } = geometry;
  const cellArea = (geometry.width / nu) * (geometry.height / nv);
  // Rows are alike but near the edges, so that a low window has them all.
  const reach = kernel.dv.reduce((most, dv) => Math.max(most, dv), 0);
  const rows = Math.min(nv, 2 * reach + 1);
  const ones = new Float64Array(nu * rows).fill(1);
  const kinds = discMeans({ ...geometry, nv: rows }, kernel, ones, ones, 0);
  for (let cell = 0; cell < kinds.length; cell++) kinds[cell] = 1 / (kinds[cell] * cellArea);
  const scale = new Float64Array(nu * nv);
  for (let iv = 0; iv < nv; iv++) {
    const kind = iv < reach ? iv : Math.max(reach, rows - (nv - iv));
    scale.set(kinds.subarray(kind * nu, (kind + 1) * nu), iv * nu);
  }
  return scale;
}

/** Half of the slots: where it puts the peak, and how high it finds the flux there. */
interface Half {
  readonly cell: number;
  readonly flux: number;
  /** Flux there by all slots. */
  readonly wholeFlux: number;
}

export interface PeakSearch {
  /** Per slot: flux of that slot alone at the place chosen by the half it is not in, W/m2. Empty for a single slot. */
  readonly readings: Float64Array;
  /** What the even and the odd slots choose, with their own flux there (W/m2); null for a single slot. */
  readonly halves: readonly [Half, Half] | null;
  /**
   * Half the difference, on the whole map, between the two places chosen, W/m2: what not knowing the place adds to the error of
   * the readings. It makes them too low, if anything: the top is at least as high as the better of the two.
   */
  readonly placeError: number;
  /** The plain maximum of the whole map, W/m2 (biased high on a noisy map) and its cell. */
  readonly plainMaximum: number;
  readonly cell: number;
}

/** Half widths of the smoothing tried when a place is chosen, in radii of the averaging disc. */
const SMOOTHING: readonly number[] = [0.5, 1, 2, 3];

/** A smoothed choice stands while it reads lower than the sharpest one by no more than this many standard errors. */
const SMOOTHING_TOLERANCE = 2;

/**
 * Looks for the peak with the even slots and reads it on the odd ones, and the other way round.
 *
 * On a gently curved peak, noise makes the sharpest choice wander off the top by more than its reading's error. So each half
 * also looks for its maximum on ever smoother maps and takes the smoothest place whose flux (over the disc itself) is
 * not clearly lower, by the half's own slots, than that of the sharpest: a narrow hot spot that the rays can resolve
 * stays, a bump of noise does not.
 *
 * Leaving out one slot at a time instead was measured and given up: its readings share nearly all the data that choose
 * their places, so that their spread understates the error by half on a smooth spot.
 *
 * @param sum tally summed over the slots
 * @param slots tallies of the slots, each the sum of `batchesPerSlot` estimates of the full watts
 * @param offset where this receiver's map starts in a tally
 */
export function searchPeak(
  geometry: DiscGeometry,
  sum: Float64Array,
  slots: readonly Float64Array[],
  batchesPerSlot: number,
  offset: number,
): PeakSearch {
  const { nu, nv, wrapsInV } = geometry;
  const kernel = discKernel(geometry);
  const scale = discScale(geometry, kernel);
  const cells = nu * nv;
  const count = slots.length;

  if (count < 2) {
    const whole = discMeans(geometry, kernel, scale, sum, offset);
    const cell = indexOfMaximum(whole);
    return {
      readings: new Float64Array(0),
      halves: null,
      placeError: 0,
      plainMaximum: whole[cell] / (count * batchesPerSlot),
      cell,
    };
  }

  const discAt = (slot: Float64Array, cell: number): number => {
    const iu = cell % nu;
    const iv = (cell - iu) / nu;
    let total = 0;
    for (let k = 0; k < kernel.area.length; k++) {
      const column = iu + kernel.du[k];
      if (column < 0 || column >= nu) continue;
      let row = iv + kernel.dv[k];
      if (wrapsInV) row = ((row % nv) + nv) % nv;
      else if (row < 0 || row >= nv) continue;
      total += kernel.area[k] * slot[offset + row * nu + column];
    }
    return (total * scale[cell]) / batchesPerSlot;
  };

  const choose = (
    members: readonly Float64Array[],
  ): Omit<Half, 'wholeFlux'> & { readonly means: Float64Array } => {
    const map = new Float64Array(cells);
    addSlots(map, members, offset);
    const means = discMeans(geometry, kernel, scale, map, 0);
    const sharpest = indexOfMaximum(means);
    let cell = sharpest;
    const radius = geometry.discDiameter / 2;
    const atSharpest = members.map((slot) => discAt(slot, sharpest));
    const rows = members.length < 2 ? null : runningRows(geometry, means);
    for (const step of rows === null ? [] : SMOOTHING) {
      const halfU = Math.round((step * radius * nu) / geometry.width);
      const halfV = Math.round((step * radius * nv) / geometry.height);
      if (rows === null || (halfU === 0 && halfV === 0)) continue;
      const smoothest = highestBox(geometry, rows, halfU, halfV);
      const { value, std_err } = meanEstimate(
        members.map((slot, j) => atSharpest[j] - discAt(slot, smoothest)),
      );
      if (value > SMOOTHING_TOLERANCE * std_err) break;
      cell = smoothest;
    }
    return { cell, flux: means[cell] / (members.length * batchesPerSlot), means };
  };

  const even = choose(slots.filter((_, j) => j % 2 === 0));
  const odd = choose(slots.filter((_, j) => j % 2 === 1));
  const whole = even.means.map((mean, cell) => mean + odd.means[cell]);
  const cell = indexOfMaximum(whole);
  const perBatch = 1 / (count * batchesPerSlot);
  const halfOf = (choice: Omit<Half, 'wholeFlux'>): Half => ({
    cell: choice.cell,
    flux: choice.flux,
    wholeFlux: whole[choice.cell] * perBatch,
  });
  return {
    readings: Float64Array.from(slots, (slot, j) => discAt(slot, j % 2 === 0 ? odd.cell : even.cell)),
    halves: [halfOf(even), halfOf(odd)],
    placeError: (Math.abs(whole[even.cell] - whole[odd.cell]) * perBatch) / 2,
    plainMaximum: whole[cell] * perBatch,
    cell,
  };
}

/**
 * Readings of the hottest of several receivers: each half of the slots chooses the receiver too, and is read on the other
 * half, so that choosing among many alike receivers adds no bias upwards either. The other way there is some: a half may
 * choose a receiver that is a little less hot. So a quarter of the way up to the receiver that reads highest of all is added
 * to the place error: of alike receivers the highest lies above the truth by its luck (1.9 errors among twenty), of unlike
 * ones it may be the true one.
 * @returns readings as in `PeakSearch`, and the place error: what not knowing the receiver or the place on it adds
 */
export function hottestReadings(
  searches: readonly PeakSearch[],
): Pick<PeakSearch, 'readings' | 'placeError'> {
  const hottest = (half: 0 | 1): PeakSearch =>
    searches.reduce((a, b) => ((b.halves?.[half].flux ?? 0) > (a.halves?.[half].flux ?? 0) ? b : a));
  const byEven = hottest(0);
  const byOdd = hottest(1);
  const readings = searches[0].readings.map((_, j) => (j % 2 === 0 ? byOdd : byEven).readings[j]);
  const highest = searches.reduce((most, search) => Math.max(most, mean(search.readings)), mean(readings));
  const apart = (byEven.halves?.[0].wholeFlux ?? 0) - (byOdd.halves?.[1].wholeFlux ?? 0);
  return { readings, placeError: Math.hypot(apart / 2, (highest - mean(readings)) / 4) };
}

function indexOfMaximum(values: Float64Array): number {
  let highest = 0;
  for (let i = 1; i < values.length; i++) if (values[i] > values[highest]) highest = i;
  return highest;
}

/** Running sums along u, nu + 1 for each row of the map: boxes of any width come from them. */
function runningRows({ nu, nv }: DiscGeometry, map: Float64Array): Float64Array {
  const running = new Float64Array(nv * (nu + 1));
  for (let iv = 0; iv < nv; iv++) {
    let sum = 0;
    for (let iu = 0; iu < nu; iu++) {
      sum += map[iv * nu + iu];
      running[iv * (nu + 1) + iu + 1] = sum;
    }
  }
  return running;
}

/**
 * The cell about which the mean over a box of (2 halfU + 1) by (2 halfV + 1) cells, or over the part of it inside the window, is
 * highest; the first of equals.
 * @param running from `runningRows`
 */
function highestBox(geometry: DiscGeometry, running: Float64Array, halfU: number, halfV: number): number {
  const { nu, nv, wrapsInV } = geometry;
  const alongU = boxesAlongU(geometry, running, halfU);
  const reach = wrapsInV ? Math.min(halfV, Math.floor((nv - 1) / 2)) : halfV;
  // Beside the window lies a row of nothing, the last.
  const startOf = (row: number): number => {
    if (wrapsInV) return (((row % nv) + nv) % nv) * nu;
    return (row < 0 || row >= nv ? nv : row) * nu;
  };
  const box = new Float64Array(nu);
  for (let row = -reach; row < reach; row++) addPart(box, 0, alongU, startOf(row), 1, 0, nu);
  let highest = Number.NEGATIVE_INFINITY;
  let cell = 0;
  for (let iv = 0; iv < nv; iv++) {
    // Down the columns: the box's sum moves on by one row coming in and one going out.
    const incoming = startOf(iv + reach);
    const outgoing = startOf(iv - reach);
    const rows = wrapsInV ? 2 * reach + 1 : Math.min(nv - 1, iv + reach) - Math.max(0, iv - reach) + 1;
    // A hair lower than the highest, so that rounding hides none; it spares a division for nearly every cell.
    let least = rows * highest - 1e-9 * Math.abs(rows * highest);
    for (let iu = 0; iu < nu; iu++) {
      const sum = box[iu] + alongU[incoming + iu];
      if (sum >= least && sum / rows > highest) {
        highest = sum / rows;
        cell = iv * nu + iu;
        least = rows * highest - 1e-9 * Math.abs(rows * highest);
      }
      box[iu] = sum - alongU[outgoing + iu];
    }
  }
  return cell;
}

/** Means over 2 halfU + 1 cells of each row, or over those inside the window; then a row of nothing. */
function boxesAlongU({ nu, nv }: DiscGeometry, running: Float64Array, halfU: number): Float64Array {
  const means = new Float64Array((nv + 1) * nu);
  const width = 2 * halfU + 1;
  for (let iv = 0; iv < nv; iv++) {
    const row = iv * (nu + 1);
    const at = iv * nu;
    for (let iu = 0; iu < Math.min(halfU, nu); iu++) {
      const to = Math.min(nu, iu + halfU + 1);
      means[at + iu] = (running[row + to] - running[row]) / to;
    }
    for (let iu = halfU; iu < nu - halfU; iu++) {
      means[at + iu] = (running[row + iu + halfU + 1] - running[row + iu - halfU]) / width;
    }
    for (let iu = Math.max(halfU, nu - halfU); iu < nu; iu++) {
      const from = iu - halfU;
      means[at + iu] = (running[row + nu] - running[row + from]) / (nu - from);
    }
  }
  return means;
}
