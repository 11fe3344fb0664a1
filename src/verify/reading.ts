/** Figures of traces for the checks: those of the result, and some that its maps and its ledger hold. */
import { resample, sumSlots } from '../result/resampled.js';
import type { Ledger } from '../result/types.js';
import { jackknife } from '../run/statistics.js';
import type { Traced } from '../study/trace.js';
import type { Reading } from './types.js';

type Read = (traces: readonly Traced[]) => Reading;

/** The reading in another unit or over another base. */
export function scaled(read: Read, factor: number): Read {
  return (traces) => {
    const { value, std_err } = read(traces);
    return { value: value * factor, std_err: std_err * Math.abs(factor) };
  };
}

/** The share of all reflected light that its own receiver takes. */
export const interceptFactor: Read = ([{ summary }]) => summary.result.total.intercept_factor;

/** Mean flux on the first receiver over beam irradiance. */
export const concentration: Read = ([{ summary }]) => summary.result.receivers[0].concentration_ratio;

/** Highest flux on the first receiver over beam irradiance. */
export const peakConcentration: Read = ([{ summary }]) => summary.result.receivers[0].peak_concentration;

/** Light that leaves the mirrors, W. */
export const reflectedPower: Read = ([{ summary }]) => summary.result.total.reflected_power;

export function ledgerLine(ledger: Ledger, key: string): Reading {
  const line = ledger.lines.find((entry) => entry.key === key);
  if (line === undefined) throw new Error(`the ledger has no line ${key}`);
  return line.power;
}

/** Light in the opening over the light that meets the mirror: the reflectance into that opening. */
export const reflectanceIntoOpening: Read = ([{ summary }]) => {
  const { ledger, intercepted_power } = summary.result.total;
  const arriving = ledger.available_w - ledgerLine(ledger, 'cosine').value;
  return { value: intercepted_power.value / arriving, std_err: intercepted_power.std_err / arriving };
};

/** Light between 0.95 and 1.05 times the opening, from the intercept curve. */
export const lightInRing: Read = ([{ summary }]) => {
  const curve = summary.result.receivers[0].intercept_curve;
  const [inner, outer] = [0.95, 1.05].map((scale) => curve.find((point) => point.scale === scale));
  if (inner === undefined || outer === undefined) throw new Error('the intercept curve lacks an opening');
  return { value: outer.intercept - inner.intercept, std_err: Math.hypot(outer.std_err, inner.std_err) };
};

/** A flux map as a function of its cells: watts at (iu, iv), and where the cells lie, m. */
export interface MapView {
  readonly nu: number;
  readonly nv: number;
  readonly width: number;
  readonly height: number;
  readonly watts: (iu: number, iv: number) => number;
}

/** A figure of the first receiver's map; its error from leaving out one slot of batches at a time. */
export function ofMap(figure: (map: MapView) => number): Read {
  return ([{ prepared, outcome, summary }]) => {
    const { map, nu, nv } = prepared.layout.receivers[0];
    const { width, height } = summary.grids[0];
    const sums = sumSlots(outcome.slots, outcome.batchesPerSlot);
    const { value, replicates } = resample(sums, (read) =>
      figure({ nu, nv, width, height, watts: (iu, iv) => read(map + iv * nu + iu) }),
    );
    return { value, std_err: jackknife(replicates, value).std_err };
  };
}

/**
 * Root mean square about the centre along one axis, m. Light is taken as even within a cell only through Sheppard's
 * correction (variance less the square of the cell over 12), good to far below 1e-4 where the spread is ten cells or more.
 */
export function rmsAlong(axis: 'u' | 'v', map: MapView): number {
  const { nu, nv, watts } = map;
  const count = axis === 'u' ? nu : nv;
  const cell = (axis === 'u' ? map.width : map.height) / count;
  let power = 0;
  let first = 0;
  let second = 0;
  for (let iv = 0; iv < nv; iv++) {
    for (let iu = 0; iu < nu; iu++) {
      const at = ((axis === 'u' ? iu : iv) + 0.5 - count / 2) * cell;
      const here = watts(iu, iv);
      power += here;
      first += here * at;
      second += here * at * at;
    }
  }
  return Math.sqrt(Math.max(0, second / power - (first / power) ** 2 - cell ** 2 / 12));
}

/** Spread along one axis seen from `distance` m, mrad. */
export function angularRms(axis: 'u' | 'v', distance: number): Read {
  return scaled(
    ofMap((map) => rmsAlong(axis, map)),
    1000 / distance,
  );
}

/** Spread per axis of a round image seen from `distance` m, mrad: mean of the squares, so that its turn does not matter. */
export function roundRms(distance: number): Read {
  return scaled(
    ofMap((map) => Math.sqrt((rmsAlong('u', map) ** 2 + rmsAlong('v', map) ** 2) / 2)),
    1000 / distance,
  );
}

/** Centre of the light at one receiver, m. */
export function centroid(trace: Traced, receiver: number, axis: 'u' | 'v'): Reading {
  const { spot } = trace.summary.result.receivers[receiver];
  const { value, std_err } = axis === 'u' ? spot.centroid_u : spot.centroid_v;
  return { value: value / 1000, std_err: std_err / 1000 };
}
