/** The file in which a sweep keeps its finished points while it runs, so that `--resume` can go on from them. */
import { appendFile, readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { outputError } from '../report/files.js';
import { plainText } from '../report/plain-text.js';
import type { WrittenFile } from '../report/types.js';
import {
  headLine,
  type PointRecord,
  pointLine,
  RecordError,
  readRecord,
  requireSameScenes,
  type SweepKey,
} from '../study/resume.js';
import { CommandFailure, UsageError } from './failure.js';
import { type Session, say } from './session.js';
import { writeBelow } from './trace-files.js';

export const POINTS_FILE: WrittenFile = { what: 'sweep_points', receiver: null, file: 'sweep-points.jsonl' };

export interface SweepRecord {
  /** Finished before, in sweep order. */
  readonly points: readonly PointRecord[];
  /** Adds a point. Never throws: a sweep of hours does not end because its record cannot grow. */
  readonly add: (point: PointRecord) => Promise<void>;
  /** Why the record could not be kept up; null while all is well. */
  readonly failure: () => unknown;
}

/**
 * Nothing is written before the first point is added: an old record stays until there is something to put in its place.
 * @param resume whether to go on from the record that is there
 * @param sceneHashAt hash of the scene at the values of a point
 * @throws UsageError for a record of another sweep, CommandFailure for one that cannot be read
 */
export async function openRecord(
  folder: string,
  key: SweepKey,
  resume: boolean,
  sceneHashAt: (values: readonly number[]) => Promise<string>,
  session: Session,
): Promise<SweepRecord> {
  const points = resume ? await recordedPoints(join(folder, POINTS_FILE.file), key, sceneHashAt) : [];
  let begun = false;
  let failure: unknown = null;
  const add = async (point: PointRecord): Promise<void> => {
    if (failure !== null) return;
    try {
      const line = pointLine(point);
      if (begun) await appendLine(folder, line);
      else await writeBelow(folder, POINTS_FILE.file, headLine(key) + points.map(pointLine).join('') + line);
      begun = true;
    } catch (error) {
      failure = error;
      const reason = error instanceof Error ? error.message : String(error);
      say(
        session,
        `${plainText(reason)}; the sweep goes on, but this and later points are not kept for --resume`,
      );
    }
  };
  return { points, add, failure: () => failure };
}

async function appendLine(folder: string, line: string): Promise<void> {
  const path = join(folder, POINTS_FILE.file);
  try {
    await appendFile(path, line);
  } catch (error) {
    throw outputError(path, error);
  }
}

async function recordedPoints(
  path: string,
  key: SweepKey,
  sceneHashAt: (values: readonly number[]) => Promise<string>,
): Promise<readonly PointRecord[]> {
  let text: string;
  try {
    text = await readFile(path, 'utf8');
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return [];
    const reason = error instanceof Error ? error.message : String(error);
    throw new CommandFailure(`cannot read ${path}: ${reason}`);
  }
  try {
    const points = readRecord(text, key);
    const hashes: string[] = [];
    for (const { values } of points) hashes.push(await sceneHashAt(values));
    requireSameScenes(points, hashes);
    return points;
  } catch (error) {
    if (!(error instanceof RecordError)) throw error;
    throw new UsageError(
      `cannot go on from ${path}: ${error.message}. It was left as it is; choose another folder, or leave out --resume to ` +
        'start from the beginning and replace it.',
    );
  }
}
