/** The finished points of a sweep as lines of text, so that a sweep that was broken off can go on where it was. */
import { createHash } from 'node:crypto';
import type { Figure, Warning } from '../result/types.js';
import { combine } from './sweep.js';
import type { VariedPath } from './types.js';

/** All that a sweep needs of a point once it is traced. */
export interface PointRecord {
  /** One per varied path, in their order. */
  readonly values: readonly number[];
  readonly scene_hash: string;
  readonly title: string;
  readonly rays: number;
  readonly batches: number;
  readonly groups: number;
  readonly figures: Readonly<Record<string, Figure>>;
  /** Leave-one-out values of each column of the sweep, in column order. */
  readonly replicates: ReadonlyMap<string, Float64Array>;
  readonly warnings: readonly Warning[];
}

/**
 * What must be equal, beside the scene of each point, for the points of one sweep to serve another: all that enters a figure
 * or a column.
 */
export interface SweepKey {
  readonly program: string;
  readonly seed: string;
  readonly rays: number;
  /** Not there: rays. */
  readonly deposit?: 'footprints';
  readonly target: number | null;
  readonly max_rays: number;
  readonly vary: readonly VariedPath[];
  /** A required figure may be a column of its own. */
  readonly required_figure: string | null;
}

/** A record that cannot be continued; the message is for the user. */
export class RecordError extends Error {
  override readonly name = 'RecordError';
}

const KIND = 'rowfocus sweep points';

/** One line: the body and a digest of it, so that a line which was cut or changed shows. */
function sealedLine(body: object): string {
  const text = JSON.stringify(body);
  return `${JSON.stringify({ digest: digestOf(text), body })}\n`;
}

function digestOf(text: string): string {
  return createHash('sha256').update(text, 'utf8').digest('hex').slice(0, 16);
}

/** @returns the body of a whole line; null for anything else */
function openLine(line: string): Record<string, unknown> | null {
  try {
    const parsed: unknown = JSON.parse(line);
    if (parsed === null || typeof parsed !== 'object') return null;
    const { digest, body } = parsed as { digest?: unknown; body?: unknown };
    if (body === null || typeof body !== 'object') return null;
    return digest === digestOf(JSON.stringify(body)) ? (body as Record<string, unknown>) : null;
  } catch {
    return null;
  }
}

/** @returns first line of a record, line feed included */
export function headLine(key: SweepKey): string {
  return sealedLine({ kind: KIND, key });
}

/** Float64 as their bytes, little-endian in base64: exact, NaN included. */
function bytesOf(values: Float64Array): string {
  const bytes = Buffer.alloc(8 * values.length);
  values.forEach((value, i) => {
    bytes.writeDoubleLE(value, 8 * i);
  });
  return bytes.toString('base64');
}

function valuesOf(text: string): Float64Array {
  const bytes = Buffer.from(text, 'base64');
  return Float64Array.from({ length: bytes.length / 8 }, (_, i) => bytes.readDoubleLE(8 * i));
}

/** @returns the line of a point, line feed included */
export function pointLine(point: PointRecord): string {
  const replicates = [...point.replicates].map(([name, values]) => [name, bytesOf(values)]);
  return sealedLine({ ...point, replicates });
}

function recordOf(body: Record<string, unknown>): PointRecord {
  // The digest holds: it is what `pointLine` wrote. In the same order of keys, so that it is written again as it was.
  const replicates = body.replicates as readonly (readonly [string, string])[];
  const values = new Map(replicates.map(([name, text]) => [name, valuesOf(text)]));
  return { ...body, replicates: values } as unknown as PointRecord;
}

const KEY_WORDS: readonly (readonly [keyof SweepKey, string])[] = [
  ['program', 'version of the program'],
  ['seed', 'seed'],
  ['rays', 'number of rays'],
  ['deposit', 'way of depositing'],
  ['target', 'target error'],
  ['max_rays', 'cap of rays'],
  ['vary', 'varied keys or values'],
  ['required_figure', 'required figure'],
];

/** @returns in words what differs between two keys; empty where they are equal */
function differences(found: Partial<SweepKey>, wanted: SweepKey): readonly string[] {
  return KEY_WORDS.filter(
    ([name]) => JSON.stringify(found[name] ?? null) !== JSON.stringify(wanted[name] ?? null),
  ).map(([, words]) => words);
}

/**
 * Reads a record. A last line without its end, or one that was cut, is what a stop in the middle of writing leaves: it is left out.
 * @param text the whole file
 * @param key of the sweep that wants to go on
 * @returns the finished points in sweep order
 * @throws RecordError where the text is no record, is of another sweep, or is damaged before its last line
 */
export function readRecord(text: string, key: SweepKey): readonly PointRecord[] {
  const lines = text.split('\n');
  const head = openLine(lines[0]);
  if (head === null || head.kind !== KIND)
    throw new RecordError('it is no record of a sweep, or its head is damaged');
  const other = differences((head.key ?? {}) as Partial<SweepKey>, key);
  if (other.length > 0) {
    throw new RecordError(`it belongs to another sweep, with another ${other.join(', another ')}`);
  }
  // After the last line feed stands nothing, or what was torn off.
  const bodies = lines.slice(1, -1).map(openLine);
  const torn = bodies.indexOf(null);
  if (torn >= 0 && torn < bodies.length - 1) throw new RecordError(`its line ${torn + 2} is damaged`);
  const points = bodies.flatMap((body) => (body === null ? [] : [recordOf(body)]));
  const combinations = combine(key.vary);
  const stray = points.findIndex(
    (point, i) => JSON.stringify(point.values) !== JSON.stringify(combinations[i]),
  );
  if (stray >= 0) throw new RecordError(`its line ${stray + 2} is not the point that belongs there`);
  return points;
}

/**
 * @param points finished points
 * @param sceneHashes of the points that the sweep has at their places
 * @throws RecordError where a scene is another one now
 */
export function requireSameScenes(points: readonly PointRecord[], sceneHashes: readonly string[]): void {
  if (points.some((point, i) => point.scene_hash !== sceneHashes[i])) {
    throw new RecordError('it belongs to another scene, or the scene was changed since');
  }
}
