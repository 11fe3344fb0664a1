/**
 * Light through any opening of a flux map, from its cells alone. Runs in the page's script as well as here, so it imports
 * nothing.
 */

export interface FluxCells {
  readonly nu: number;
  readonly nv: number;
  readonly width_mm: number;
  readonly height_mm: number;
  /** kW/m2, cell (iu, iv) at iv * nu + iu, from the low corner. */
  readonly flux: ArrayLike<number>;
  /** Standard error of each cell, kW/m2. */
  readonly std_err: ArrayLike<number>;
}

export type Opening =
  | { readonly shape: 'round'; readonly size_mm: number; readonly u_mm: number; readonly v_mm: number }
  | {
      readonly shape: 'rectangle';
      readonly width_mm: number;
      readonly height_mm: number;
      readonly u_mm: number;
      readonly v_mm: number;
    };

export interface ThroughOpening {
  readonly power_w: number;
  /** As if cells were independent of one another. */
  readonly std_err_w: number;
  readonly area_m2: number;
  /** True where the opening reaches beyond the map, where nothing is known of single places. */
  readonly beyond: boolean;
}

/** Parts along each side into which a cell is cut where the edge of a round opening crosses it. */
const PARTS = 16;

interface Cut {
  /** Part of the cell's area inside, 0 to 1. */
  readonly share: number;
  /** Middle of that part from the cell's middle, in cells. */
  readonly du: number;
  readonly dv: number;
}

const WHOLE: Cut = { share: 1, du: 0, dv: 0 };

function overlap(from: number, to: number, low: number, high: number): readonly [number, number] {
  return [Math.max(from, low), Math.min(to, high)];
}

/** @param u0,v0 low corner of the cell, mm; a, b its sides */
function cutCell(opening: Opening, u0: number, v0: number, a: number, b: number): Cut | null {
  const { u_mm: u, v_mm: v } = opening;
  if (opening.shape === 'rectangle') {
    const [fromU, toU] = overlap(u0, u0 + a, u - opening.width_mm / 2, u + opening.width_mm / 2);
    const [fromV, toV] = overlap(v0, v0 + b, v - opening.height_mm / 2, v + opening.height_mm / 2);
    if (fromU >= toU || fromV >= toV) return null;
    return {
      share: ((toU - fromU) * (toV - fromV)) / (a * b),
      du: ((fromU + toU) / 2 - u0) / a - 0.5,
      dv: ((fromV + toV) / 2 - v0) / b - 0.5,
    };
  }
  const radius = opening.size_mm / 2;
  const near = (low: number, side: number, at: number): number => Math.max(low - at, at - low - side, 0);
  if (Math.hypot(near(u0, a, u), near(v0, b, v)) >= radius) return null;
  const far = (low: number, side: number, at: number): number =>
    Math.max(Math.abs(low - at), Math.abs(low + side - at));
  if (Math.hypot(far(u0, a, u), far(v0, b, v)) <= radius) return WHOLE;
  let count = 0;
  let sumU = 0;
  let sumV = 0;
  for (let i = 0; i < PARTS; i++) {
    const du = (i + 0.5) / PARTS;
    for (let j = 0; j < PARTS; j++) {
      const dv = (j + 0.5) / PARTS;
      if (Math.hypot(u0 + du * a - u, v0 + dv * b - v) > radius) continue;
      count++;
      sumU += du - 0.5;
      sumV += dv - 0.5;
    }
  }
  return count === 0 ? null : { share: count / PARTS ** 2, du: sumU / count, dv: sumV / count };
}

/** Slope of the flux across a cell, per cell, from its neighbours; one-sided at the border of the map. */
function slope(flux: ArrayLike<number>, at: number, low: boolean, high: boolean, step: number): number {
  if (low && high) return (flux[at + step] - flux[at - step]) / 2;
  if (high) return flux[at + step] - flux[at];
  return low ? flux[at] - flux[at - step] : 0;
}

/**
 * Power through an opening laid on the map: whole cells as they are; of a cell that the edge cuts, the part inside, with the
 * flux on a plane through the neighbouring cells (never below 0), which leaves the cell's own power as it is.
 */
export function lightThrough(cells: FluxCells, opening: Opening): ThroughOpening {
  const { nu, nv, flux } = cells;
  const a = cells.width_mm / nu;
  const b = cells.height_mm / nv;
  // kW/m2 x mm2 is mW.
  const perCell = a * b * 1e-3;
  let power = 0;
  let variance = 0;
  for (let iv = 0; iv < nv; iv++) {
    const v0 = (iv - nv / 2) * b;
    for (let iu = 0; iu < nu; iu++) {
      const cut = cutCell(opening, (iu - nu / 2) * a, v0, a, b);
      if (cut === null) continue;
      const at = iv * nu + iu;
      let mean = flux[at];
      if (cut !== WHOLE) {
        mean +=
          cut.du * slope(flux, at, iu > 0, iu < nu - 1, 1) +
          cut.dv * slope(flux, at, iv > 0, iv < nv - 1, nu);
      }
      power += Math.max(0, mean) * cut.share * perCell;
      variance += (cells.std_err[at] * cut.share * perCell) ** 2;
    }
  }
  const [reachU, reachV] =
    opening.shape === 'round'
      ? [opening.size_mm / 2, opening.size_mm / 2]
      : [opening.width_mm / 2, opening.height_mm / 2];
  const beyond =
    Math.abs(opening.u_mm) + reachU > cells.width_mm / 2 + 1e-9 ||
    Math.abs(opening.v_mm) + reachV > cells.height_mm / 2 + 1e-9;
  const area =
    opening.shape === 'round' ? (Math.PI / 4) * opening.size_mm ** 2 : opening.width_mm * opening.height_mm;
  return { power_w: power, std_err_w: Math.sqrt(variance), area_m2: area * 1e-6, beyond };
}

/** What the engine found for the scene's own opening. */
export interface TracedOpening {
  readonly reflected_w: number;
  readonly intercepted_w: number;
  readonly intercept: number;
  readonly spill: number;
}

export interface OpeningFigures {
  readonly power_w: number;
  readonly half_w: number;
  readonly intercept: number;
  readonly spill: number;
  /** 95 % half width of intercept and spill. */
  readonly half: number;
  readonly mean_kw_m2: number;
  readonly beyond: boolean;
}

/** Normal 95 %. */
const COVERAGE = 1.96;

/**
 * Figures of another opening, so that those of the scene's own are the engine's: the map's power is scaled to what was traced
 * through the scene's opening, and intercept and spill change by the power gained or lost over the reflected power.
 * @param own the scene's opening
 */
export function openingFigures(
  cells: FluxCells,
  own: Opening,
  traced: TracedOpening,
  opening: Opening,
): OpeningFigures {
  const asBuilt = lightThrough(cells, own);
  const through = lightThrough(cells, opening);
  const scale = asBuilt.power_w > 0 && traced.intercepted_w > 0 ? traced.intercepted_w / asBuilt.power_w : 1;
  const power = through.power_w * scale;
  const gained = traced.reflected_w > 0 ? (power - traced.intercepted_w) / traced.reflected_w : 0;
  const half = COVERAGE * through.std_err_w;
  return {
    power_w: power,
    half_w: half,
    intercept: Math.max(0, traced.intercept + gained),
    spill: Math.max(0, traced.spill - gained),
    half: traced.reflected_w > 0 ? half / traced.reflected_w : 0,
    mean_kw_m2: through.area_m2 > 0 ? power / through.area_m2 / 1000 : 0,
    beyond: through.beyond,
  };
}
