/** The JSON document: the same bytes for the same scene, seed and rays, but for its last key, `run`. */
import { plainJson } from './plain-text.js';
import type { MachineRun, WrittenFile } from './types.js';

/** Keys in the order in which people look for them; others follow, by name. */
const KEY_ORDER: readonly string[] = [
  'schema_version',
  'program',
  'kind',
  'name',
  'version',
  'title',
  'scene_hash',
  'seed',
  'rays',
  'batches',
  'groups',
  'interrupted',
  'sun',
  'answer',
  'value',
  'std_err',
  'ci95',
  'unit',
  'limit',
  'key',
  'label',
  'power',
  'share',
  'aperture',
  'shape',
  'mirror_area_m2',
  'aperture_area_m2',
  'geometric_concentration',
  'peak_flux',
  'peak_receiver',
  'peak_disc_mm',
  'peak_position_mm',
  'mean_flux',
  'concentration_ratio',
  'peak_concentration',
  'reflected_power',
  'intercepted_power',
  'intercept_factor',
  'spill_fraction',
  'blocked_fraction',
  'spot',
  'measure',
  'holds_50',
  'holds_90',
  'holds_95',
  'centroid_u',
  'centroid_v',
  'centre_mm',
  'opening_for_5_percent_spill_mm',
  'intercept_curve',
  'scale',
  'size_mm',
  'intercept',
  'ledger',
  'lines',
  'total',
  'receivers',
  'warnings',
  'code',
  'message',
  'cautions',
];

function ordered(value: unknown, path: string, rank: ReadonlyMap<string, number>): unknown {
  if (value === null || typeof value === 'string' || typeof value === 'boolean') return value;
  if (typeof value === 'number') {
    if (!Number.isFinite(value)) throw new RangeError(`${path} is ${value}, which JSON cannot hold`);
    return value;
  }
  if (Array.isArray(value)) return value.map((entry, i) => ordered(entry, `${path}[${i}]`, rank));
  if (typeof value !== 'object' || ArrayBuffer.isView(value)) {
    throw new TypeError(`${path} is of a kind that JSON cannot hold`);
  }
  const rankOf = (key: string): number => rank.get(key) ?? rank.size;
  const entries = Object.entries(value)
    .filter(([, entry]) => entry !== undefined)
    .sort(([a], [b]) => rankOf(a) - rankOf(b) || (a < b ? -1 : 1));
  // No prototype: a key named __proto__ stays a key.
  const sorted: Record<string, unknown> = Object.create(null);
  for (const [key, entry] of entries) sorted[key] = ordered(entry, `${path}.${key}`, rank);
  return sorted;
}

/**
 * @param result what the run found: a trace's result, or that of a sweep or comparison
 * @param files the files written beside it
 * @param run the only part that depends on the machine; it becomes the last key
 * @returns one JSON document, two spaces, a line feed at its end; keys in a fixed order whatever order they were made in
 * @throws RangeError for NaN or an infinity, with its path; TypeError for what is no JSON
 */
export function toJsonDocument(result: object, files: readonly WrittenFile[], run: MachineRun): string {
  const rank = new Map(KEY_ORDER.map((key, i) => [key, i]));
  const body = ordered(result, 'result', rank) as object;
  const document = {
    ...body,
    files: ordered(files, 'files', rank),
    run: ordered({ wall_time_s: run.wall_time_s, workers: run.workers }, 'run', rank),
  };
  return `${plainJson(JSON.stringify(document, null, 2))}\n`;
}
