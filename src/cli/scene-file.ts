/** Scene files from disk or standard input, with the values that `--set` puts in. */
import { createReadStream } from 'node:fs';
import { stat } from 'node:fs/promises';
import { plainText } from '../report/plain-text.js';
import type { SceneError } from '../scene/errors.js';
import { loadScene } from '../scene/load.js';
import { type Override, parseOverride } from '../scene/override.js';
import type { Scene } from '../scene/types.js';
import { BadSceneError } from './failure.js';
import type { Session } from './session.js';

/** Larger files are not read: no scene needs it, and a wrong file must not fill the memory. */
const MOST_BYTES = 50 * 1024 * 1024;

export interface SceneText {
  /** As in messages. */
  readonly file: string;
  readonly text: string;
}

export interface LoadedScene extends SceneText {
  readonly scene: Scene;
}

const REASONS: Readonly<Record<string, string>> = {
  ENOENT: 'there is no such file',
  EACCES: 'permission denied',
  EPERM: 'permission denied',
  EISDIR: 'it is a folder, not a scene file',
  ENOTDIR: 'a part of the path is a file, not a folder',
  ENAMETOOLONG: 'the name is too long',
  ELOOP: 'the path holds a loop of links',
};

function cannotRead(file: string, reason: string): BadSceneError {
  return new BadSceneError(`error: cannot read ${plainText(file)}: ${plainText(reason)}.`);
}

function reasonOf(error: unknown): string {
  const code = (error as { code?: unknown } | null)?.code;
  if (typeof code === 'string' && code in REASONS) return REASONS[code];
  return error instanceof Error ? error.message : String(error);
}

/**
 * @param path "-" for standard input
 * @throws BadSceneError where it is missing, a folder, too large, or no text
 */
export async function readSceneText(path: string, session: Session): Promise<SceneText> {
  const file = path === '-' ? 'standard input' : path;
  const chunks: Buffer[] = [];
  let length = 0;
  try {
    if (path !== '-' && (await stat(path)).isDirectory()) {
      throw Object.assign(new Error('folder'), { code: 'EISDIR' });
    }
    const source = path === '-' ? session.input : createReadStream(path);
    for await (const chunk of source) {
      const bytes = typeof chunk === 'string' ? Buffer.from(chunk, 'utf8') : (chunk as Buffer);
      length += bytes.length;
      if (length > MOST_BYTES) break;
      chunks.push(bytes);
    }
  } catch (error) {
    throw cannotRead(file, reasonOf(error));
  }
  if (length > MOST_BYTES) throw cannotRead(file, 'it is larger than 50 MB');
  return { file, text: decode(file, Buffer.concat(chunks)) };
}

function decode(file: string, bytes: Buffer): string {
  if (bytes.includes(0)) throw cannotRead(file, 'it is no text file (a scene is YAML in UTF-8)');
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch {
    throw cannotRead(file, 'it is no text in UTF-8 (save it with that encoding)');
  }
}

/** Reads all `path=value` options; those that cannot be read come back as errors, beside the others. */
export function readOverrides(options: readonly string[]): {
  readonly overrides: readonly Override[];
  readonly errors: readonly SceneError[];
} {
  const overrides: Override[] = [];
  const errors: SceneError[] = [];
  for (const option of options) {
    const outcome = parseOverride(option);
    if (outcome.ok) overrides.push(outcome.override);
    else errors.push(outcome.error);
  }
  return { overrides, errors };
}

/** Checks a scene's text with its overrides. @throws BadSceneError that tells every error at once */
export async function sceneFromText(
  source: SceneText,
  sets: readonly string[],
  session: Session,
): Promise<Scene> {
  const { overrides, errors } = readOverrides(sets);
  const outcome = loadScene(source.text, { file: source.file, overrides });
  if (outcome.ok && errors.length === 0) return outcome.scene;
  const all = [...(outcome.ok ? [] : outcome.errors), ...errors];
  throw await badScene(all, source, session);
}

/** @returns the error that tells all of them, each with its place in the text */
export async function badScene(
  errors: readonly SceneError[],
  source: SceneText,
  session: Session,
): Promise<BadSceneError> {
  // A good scene does not wait for the printer to be loaded.
  const { formatSceneErrors } = await import('../scene/print.js');
  const { colour } = session.err;
  return new BadSceneError(formatSceneErrors(errors, source.text, source.file, { colour }));
}

/** Reads and checks a scene file. @throws BadSceneError */
export async function openScene(
  path: string,
  sets: readonly string[],
  session: Session,
): Promise<LoadedScene> {
  const source = await readSceneText(path, session);
  return { ...source, scene: await sceneFromText(source, sets, session) };
}

/** Reads all scenes. @throws BadSceneError that tells the errors of all files at once */
export async function openScenes(
  paths: readonly string[],
  sets: readonly string[],
  session: Session,
): Promise<LoadedScene[]> {
  const loaded: LoadedScene[] = [];
  const faults: string[] = [];
  for (const path of paths) {
    try {
      loaded.push(await openScene(path, sets, session));
    } catch (error) {
      if (!(error instanceof BadSceneError)) throw error;
      faults.push(error.message);
    }
  }
  if (faults.length > 0) throw new BadSceneError(faults.join('\n\n'));
  return loaded;
}
