/** Made-up results with known content, for tests of what is printed and drawn. No physics in here. */
import type {
  ApertureSize,
  Figure,
  FluxGrid,
  Ledger,
  ReceiverResult,
  TotalResult,
  TraceResult,
} from '../../src/result/types.js';

/** About Student t for 31 degrees of freedom, 97.5 %. */
const T_QUANTILE = 2.04;

export function figureOf(value: number, stdErr: number, unit: string, limit?: 'upper' | 'lower'): Figure {
  const half = T_QUANTILE * stdErr;
  return {
    value,
    std_err: stdErr,
    ci95: [value - half, value + half],
    unit,
    ...(limit === undefined ? {} : { limit }),
  };
}

/** A small repeatable source of noise in [0, 1): a 32-bit mixing counter. */
export function noiseSource(start: number): () => number {
  let state = start >>> 0;
  return () => {
    state = (state + 0x9e3779b9) >>> 0;
    let mixed = state;
    mixed = Math.imul(mixed ^ (mixed >>> 16), 0x21f0aaad);
    mixed = Math.imul(mixed ^ (mixed >>> 15), 0x735a2d97);
    return ((mixed ^ (mixed >>> 15)) >>> 0) / 2 ** 32;
  };
}

export interface SpotShape {
  /** kW/m2. */
  readonly peak: number;
  /** mm. */
  readonly centre: readonly [number, number];
  readonly sigma: readonly [number, number];
}

/** A Gaussian spot with noise like that of counted rays. */
export function gridOf(
  receiver: string,
  kind: ReceiverResult['kind'],
  aperture: ApertureSize,
  window: readonly [number, number],
  cells: readonly [number, number],
  spot: SpotShape,
): FluxGrid {
  const [nu, nv] = cells;
  const flux = new Float64Array(nu * nv);
  const stdErr = new Float64Array(nu * nv);
  const noise = noiseSource(12345);
  for (let iv = 0; iv < nv; iv++) {
    for (let iu = 0; iu < nu; iu++) {
      const u = ((iu + 0.5) / nu - 0.5) * window[0] * 1000;
      const v = ((iv + 0.5) / nv - 0.5) * window[1] * 1000;
      const du = (u - spot.centre[0]) / spot.sigma[0];
      const dv = (v - spot.centre[1]) / spot.sigma[1];
      const mean = spot.peak * Math.exp(-0.5 * (du * du + dv * dv));
      const error = 0.02 * Math.sqrt(mean * spot.peak);
      // Twelve uniforms make a fair normal deviate.
      let deviate = -6;
      for (let k = 0; k < 12; k++) deviate += noise();
      const cell = iv * nu + iu;
      flux[cell] = mean < 1e-4 * spot.peak ? 0 : Math.max(0, mean + error * deviate);
      stdErr[cell] = flux[cell] > 0 ? error : 0;
    }
  }
  return { receiver, kind, aperture, nu, nv, width: window[0], height: window[1], flux, stdErr };
}

export function ledgerOf(mirrorArea: number, dni: number, rays: number): Ledger {
  const available = mirrorArea * dni;
  const parts: readonly (readonly [string, string, number | null, number])[] = [
    ['cosine', 'mirrors not square to the sun', null, 0.071],
    ['unlit', 'mirrors turned away from the sun', 0, 0],
    ['shaded', 'shaded before the mirror', 0.031, 0.03],
    ['film', 'absorbed in the film', null, 0.142],
    ['blocked_by_facet', 'blocked by a facet', 0.006, 0.005],
    ['blocked_by_blocker', 'blocked by a beam or post', 0.004, 0.003],
    ['blocked_by_receiver', 'blocked by a receiver', 0, 0],
    ['intercepted', 'through the opening', 0.92, 0.724],
    ['spilled', 'spilled beside the opening', 0.039, 0.025],
  ];
  return {
    mirror_area_m2: mirrorArea,
    available_w: available,
    rays,
    lines: parts.map(([key, label, rayShare, share]) => ({
      key,
      label,
      rays: rayShare === null ? null : Math.round(rayShare * rays),
      power: figureOf(available * share, share === 0 ? 0 : available * 2e-4, 'W'),
      share,
    })),
  };
}

export interface ReceiverShape {
  readonly name: string;
  readonly kind: ReceiverResult['kind'];
  readonly aperture: ApertureSize;
  readonly spot: SpotShape;
  readonly spill?: number;
}

export function receiverOf(shape: ReceiverShape): ReceiverResult {
  const { name, kind, aperture, spot } = shape;
  const spill = shape.spill ?? 0.034;
  const line = kind === 'line_plate' || kind === 'tube';
  const across = line ? spot.sigma[1] : Math.hypot(...spot.sigma) / Math.SQRT2;
  const size =
    aperture.shape === 'round'
      ? aperture.diameter_mm
      : aperture.shape === 'rectangle'
        ? kind === 'line_plate'
          ? aperture.height_mm
          : aperture.width_mm
        : aperture.diameter_mm;
  const holds = (multiple: number): Figure => figureOf(multiple * across, 0.002 * across, 'mm');
  const curve = Array.from({ length: 81 }, (_, i) => {
    const scale = i / 20;
    const half = (scale * size) / 2;
    return {
      scale,
      size_mm: scale * size,
      intercept: 0.99 * (1 - Math.exp(-0.5 * (half / across) ** 2)),
      std_err: 0.004 * Math.exp(-((scale - 0.6) ** 2) * 4),
    };
  });
  return {
    name,
    kind,
    aperture,
    aperture_area_m2: 0.0254,
    mirror_area_m2: 1.176,
    geometric_concentration: 46.3,
    peak_flux: figureOf(spot.peak * 0.98, spot.peak * 0.007, 'kW/m2'),
    peak_disc_mm: 20,
    peak_position_mm: [spot.centre[0] + 3, spot.centre[1] - 2],
    mean_flux: figureOf(spot.peak * 0.41, spot.peak * 0.0007, 'kW/m2'),
    concentration_ratio: figureOf(28.43, 0.04, '1'),
    peak_concentration: figureOf(73.1, 0.5, '1'),
    reflected_power: figureOf(812.4, 0.21, 'W'),
    intercepted_power: figureOf(812.4 * (1 - spill), 0.31, 'W'),
    intercept_factor: figureOf(1 - spill, 0.0002, '1'),
    spill_fraction: figureOf(spill, 0.0002, '1'),
    blocked_fraction: figureOf(0, 0, '1'),
    spot: {
      measure: line ? 'width' : 'diameter',
      holds_50: holds(line ? 1.35 : 2.355),
      holds_90: holds(line ? 3.29 : 4.292),
      holds_95: holds(line ? 3.92 : 4.896),
      centroid_u: figureOf(spot.centre[0], 0.11, 'mm'),
      centroid_v: figureOf(spot.centre[1], 0.12, 'mm'),
      centre_mm: spot.centre,
    },
    intercept_curve: curve,
    opening_for_5_percent_spill_mm: figureOf(
      2 * across * Math.sqrt(-2 * Math.log(1 - 0.95 / 0.99)),
      0.6,
      'mm',
    ),
    ledger: ledgerOf(1.176, 850, 2 ** 18),
  };
}

export function totalOf(receivers: readonly ReceiverResult[]): TotalResult {
  const first = receivers[0];
  const hottest = receivers.reduce((a, b) => (b.peak_flux.value > a.peak_flux.value ? b : a));
  const sum = (key: 'mirror_area_m2' | 'aperture_area_m2'): number =>
    receivers.reduce((total, receiver) => total + receiver[key], 0);
  return {
    mirror_area_m2: sum('mirror_area_m2'),
    aperture_area_m2: sum('aperture_area_m2'),
    geometric_concentration: sum('mirror_area_m2') / sum('aperture_area_m2'),
    peak_flux: hottest.peak_flux,
    peak_receiver: hottest.name,
    mean_flux: first.mean_flux,
    concentration_ratio: first.concentration_ratio,
    reflected_power: figureOf(812.4 * receivers.length, 0.5, 'W'),
    intercepted_power: figureOf(784.8 * receivers.length, 0.6, 'W'),
    intercept_factor: first.intercept_factor,
    spill_fraction: first.spill_fraction,
    blocked_fraction: first.blocked_fraction,
    ledger: ledgerOf(sum('mirror_area_m2'), 850, 2 ** 18 * receivers.length),
  };
}

export function traceResultOf(title: string, receivers: readonly ReceiverResult[]): TraceResult {
  return {
    schema_version: 1,
    program: { name: 'rowfocus', version: '0.1.0' },
    kind: 'trace',
    title,
    scene_hash: '9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08',
    seed: 'demo',
    rays: 2 ** 18 * receivers.length,
    batches: 32,
    groups: 32,
    interrupted: false,
    sun: { azimuth_deg: 180, elevation_deg: 54.2, dni_w_m2: 850 },
    answer:
      'The spot fits: 96.6 % of the reflected light goes through the opening of 180 mm. 3.4 % is spilled and nothing is ' +
      'blocked. The smallest opening that spills at most 5 % would be 161 mm across.',
    total: totalOf(receivers),
    receivers,
    warnings: [
      {
        code: 'coarse_map',
        message: 'The map cells are finer than the rays can fill evenly; trace more rays.',
      },
    ],
    cautions: [
      'Concentrated light burns and ignites. The spot moves on its own when the receiver is away. Local codes and ' +
        'licensed practice decide what may be built.',
    ],
  };
}

export const CAVITY: ReceiverShape = {
  name: 'A1-04',
  kind: 'cavity',
  aperture: { shape: 'round', diameter_mm: 180 },
  spot: { peak: 62, centre: [12, -7], sigma: [26, 34] },
};

export const LINE_PLATE: ReceiverShape = {
  name: 'old line',
  kind: 'line_plate',
  aperture: { shape: 'rectangle', width_mm: 10_000, height_mm: 180 },
  spot: { peak: 21, centre: [0, 6], sigma: [3800, 41] },
};

export const TUBE: ReceiverShape = {
  name: 'tube',
  kind: 'tube',
  aperture: { shape: 'tube', diameter_mm: 40, length_mm: 4000 },
  spot: { peak: 30, centre: [0, 0], sigma: [1500, 20] },
};

/** A name that tries a tag, an attribute, a formula and a terminal code at once. */
export const HOSTILE_NAME = `=cmd|'/C calc'!A0<script>alert("&")</script>${String.fromCodePoint(0x1b)}[31mred${String.fromCodePoint(0x202e)}`;

export function cavityGrid(name = CAVITY.name, spot: SpotShape = CAVITY.spot): FluxGrid {
  return gridOf(name, 'cavity', CAVITY.aperture, [0.36, 0.36], [60, 60], spot);
}

export function linePlateGrid(): FluxGrid {
  return gridOf(LINE_PLATE.name, 'line_plate', LINE_PLATE.aperture, [10.4, 0.4], [208, 40], LINE_PLATE.spot);
}

export function tubeGrid(): FluxGrid {
  return gridOf(TUBE.name, 'tube', TUBE.aperture, [4.2, Math.PI * 0.04], [84, 32], TUBE.spot);
}
