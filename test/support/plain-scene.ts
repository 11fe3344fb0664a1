/** Two small valid scenes as plain data, to be spoilt in one place; and what every result must keep to. */
import { expect } from 'vitest';
import { fluxCsv, interceptCurveCsv } from '../../src/report/csv.js';
import { toJsonDocument } from '../../src/report/json.js';
import { ledgerCsv } from '../../src/report/ledger-csv.js';
import type { Summary } from '../../src/result/types.js';
import { loadScene } from '../../src/scene/load.js';
import { traceText } from './trace-text.js';

// biome-ignore lint/suspicious/noExplicitAny: tests put wrong things into these on purpose
export type Loose = any;

/** A paraboloid of 1 m that looks straight up at the sun, f = 2 m, and a plate of 0.1 m at its focus. */
export function onePlate(change: (scene: Loose) => void = () => {}): string {
  const scene: Loose = {
    title: 'one plate',
    sun: { azimuth_deg: 180, elevation_deg: 90, dni_w_m2: 1000, sunshape: { kind: 'disc' } },
    films: { film: { reflectance: 0.8, slope_error_mrad: 2, specularity_mrad: 1 } },
    facets: [
      {
        name: 'mirror',
        film: 'film',
        shape: { kind: 'paraboloid', focal_length_m: 2 },
        outline: { kind: 'round', diameter_m: 1 },
      },
    ],
    receivers: [
      { name: 'plate', kind: 'plate', aperture: { shape: 'round', diameter_m: 0.1 }, position_m: [0, 0, 2] },
    ],
  };
  change(scene);
  return JSON.stringify(scene, null, 1);
}

/** One dish of seven strips leaning 30 degrees to the south, square to the sun. */
export function oneDish(change: (scene: Loose) => void = () => {}): string {
  const scene: Loose = {
    title: 'one dish',
    sun: { azimuth_deg: 180, elevation_deg: 60, dni_w_m2: 1000 },
    films: { film: { reflectance: 0.8, slope_error_mrad: 2, specularity_mrad: 1 } },
    dishes: {
      seven: {
        film: 'film',
        focal_length_along_row_m: 2,
        focal_length_across_row_m: 2,
        strips: { count: 7, width_m: 0.14, length_m: 1.2, gap_m: 0.02 },
        design_tilt_deg: 30,
        receiver: { kind: 'cavity', aperture: { shape: 'round', diameter_m: 0.18 } },
      },
    },
    rows: [{ name: 'A', dish: 'seven', dishes: 1, centre_m: [0, 0, 1] }],
  };
  change(scene);
  return JSON.stringify(scene, null, 1);
}

/** Paths of numbers that are not finite. */
export function notFinite(value: unknown, path = ''): string[] {
  if (typeof value === 'number') return Number.isFinite(value) ? [] : [`${path} = ${value}`];
  if (value === null || typeof value !== 'object') return [];
  if (value instanceof Float64Array) {
    const at = value.findIndex((entry) => !Number.isFinite(entry));
    return at < 0 ? [] : [`${path}[${at}] = ${value[at]}`];
  }
  return Object.entries(value).flatMap(([key, entry]) => notFinite(entry, `${path}.${key}`));
}

/** What holds for every result, whatever the scene: finite everywhere, shares within 0 and 1, a ledger that closes. */
export function expectSound(summary: Summary): void {
  expect(notFinite(summary)).toEqual([]);
  const { result, grids } = summary;
  for (const { ledger } of [result.total, ...result.receivers]) {
    const sum = ledger.lines.reduce((total, line) => total + line.power.value, 0);
    expect(Math.abs(sum - ledger.available_w)).toBeLessThanOrEqual(1e-11 * ledger.available_w);
  }
  for (const part of [result.total, ...result.receivers]) {
    for (const key of ['spill_fraction', 'intercept_factor', 'blocked_fraction'] as const) {
      const { value, ci95 } = part[key];
      expect(value).toBeGreaterThanOrEqual(0);
      expect(value).toBeLessThanOrEqual(1 + 1e-12);
      expect(ci95[0]).toBeLessThanOrEqual(value);
      expect(ci95[1]).toBeGreaterThanOrEqual(value);
    }
    expect(part.intercepted_power.value).toBeGreaterThanOrEqual(0);
  }
  const written = [
    toJsonDocument(result, [], { seconds: 1, workers: 0 } as Loose),
    interceptCurveCsv(result),
    ledgerCsv(result),
    ...grids.map(fluxCsv),
    result.answer,
  ].join('\n');
  expect(written).not.toMatch(/NaN|Infinity|undefined/);
}

/** Traces and looks whether the result is sound. */
export async function soundTrace(yaml: string, rays = 20_000): Promise<Summary> {
  const summary = await traceText(yaml, { rays, seed: 'degenerate' });
  expectSound(summary);
  return summary;
}

/** Messages of a scene that must be refused, with their paths. */
export function refusal(yaml: string): string {
  const loaded = loadScene(yaml, { file: 'scene.yaml', overrides: [] });
  if (loaded.ok) throw new Error('the scene was taken');
  return loaded.errors.map(({ path, message, allowed }) => `${path}: ${message} (${allowed})`).join('\n');
}

export function codesOf(summary: Summary): string[] {
  return summary.result.warnings.map(({ code }) => code);
}

/** Watts of a line of the summed ledger. */
export function ledgerPower(summary: Summary, key: string): number {
  return summary.result.total.ledger.lines.find((line) => line.key === key)!.power.value;
}
