/** Files that are there whole or not at all, under names that cannot leave their folder. */
import { createHash } from 'node:crypto';
import { rmSync } from 'node:fs';
import { mkdir, open, readdir, readFile, realpath, rename, rm, stat, writeFile } from 'node:fs/promises';
import { basename, dirname, join, resolve, sep } from 'node:path';
import { plainText } from './plain-text.js';

/** Something could not be written; the message is for the user. */
export class OutputError extends Error {
  override readonly name = 'OutputError';
  /** System error code, e.g. ENOSPC; null where there is none. */
  readonly code: string | null;

  constructor(message: string, code: string | null, options?: ErrorOptions) {
    super(message, options);
    this.code = code;
  }
}

export interface OutputFile {
  /** Bare file name. */
  readonly name: string;
  readonly data: string | Uint8Array;
}

/** Leaves room for an ending such as "-intercept-curve.csv" within the 255 bytes of common file systems. */
const LONGEST_SLUG = 80;
// Device names that Windows keeps for itself, with any ending (published by the vendor; from memory).
const RESERVED_NAME = /^(con|prn|aux|nul|conin\$|conout\$|com[0-9¹²³]|lpt[0-9¹²³])(\.|$)/i;

function shortHash(text: string): string {
  return createHash('sha256').update(text, 'utf8').digest('hex').slice(0, 8);
}

/** @returns the name itself where it is a plain file name, otherwise what is left of it and a hash of the whole */
function slug(name: string): string {
  const kept = name
    .normalize('NFKD')
    .replace(/\p{Mark}/gu, '')
    .replace(/[^A-Za-z0-9._-]+/g, '-')
    .replace(/-{2,}/g, '-')
    .replace(/^[-.]+|[-.]+$/g, '')
    .slice(0, LONGEST_SLUG)
    .replace(/[-.]+$/, '');
  if (kept !== '' && kept === name && !RESERVED_NAME.test(name)) return name;
  const stem = kept === '' || RESERVED_NAME.test(kept) ? 'receiver' : kept;
  return `${stem}-${shortHash(name)}`;
}

/**
 * File names (without ending) for receivers: made of ASCII letters, digits, point, dash and underscore, never empty, never
 * a path, never a reserved device name, and different from one another also where the file system ignores case.
 * @param names receiver names in scene order; equal names are told apart by a number
 */
export function fileSlugs(names: readonly string[]): string[] {
  const taken = new Set<string>();
  // Plain names first, so that a strange name can never take the file of a plain one.
  const slugs = names.map(slug);
  const order = names
    .map((_, i) => i)
    .sort((a, b) => Number(slugs[a] !== names[a]) - Number(slugs[b] !== names[b]) || a - b);
  for (const i of order) {
    const first = slugs[i];
    for (let attempt = 2; taken.has(slugs[i].toLowerCase()); attempt++) slugs[i] = `${first}-${attempt}`;
    taken.add(slugs[i].toLowerCase());
  }
  return slugs;
}

function codeOf(error: unknown): string | null {
  const code = (error as { code?: unknown } | null)?.code;
  return typeof code === 'string' ? code : null;
}

function messageOf(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}

/** A folder that is there but takes no new entries, as in /proc: the system says only that something does not exist. */
const NO_FOLDERS_HERE = 'NO_FOLDERS_HERE';

/** @returns the failure of a file operation in plain words */
export function outputError(path: string, error: unknown): OutputError {
  if (error instanceof OutputError) return error;
  const code = codeOf(error);
  const reasons: Record<string, string> = {
    ENOSPC: 'the disk is full',
    EDQUOT: 'the disk quota is used up',
    EFBIG: 'the file would be larger than the file system allows',
    EROFS: 'the file system is read-only',
    EACCES: 'permission denied',
    EPERM: 'the system does not permit it',
    ENOTDIR: 'a part of the path is a file, not a folder',
    EEXIST: 'a file of that name is there already, and a folder is needed',
    EISDIR: 'a folder of that name is there already',
    ENAMETOOLONG: 'the name is too long',
    EMFILE: 'too many files are open',
    ENOENT: 'a part of the path does not exist',
    ELOOP: 'the path holds a loop of links',
    EINVAL: 'the system takes no such name there',
    [NO_FOLDERS_HERE]: 'the system keeps that place for itself, so no files or folders can be made there',
  };
  const systemCall = (error as { syscall?: unknown } | null)?.syscall !== undefined;
  const other = systemCall ? `the system refuses it (${code})` : messageOf(error);
  const reason = (code !== null && reasons[code]) || other;
  return new OutputError(`cannot write ${plainText(path)}: ${plainText(reason)}`, code, { cause: error });
}

function checkName(name: string): void {
  if (name === '' || name === '.' || name === '..' || /[/\\\0]/.test(name)) {
    throw new OutputError(`"${plainText(name)}" cannot be the name of a result file`, null);
  }
}

/** Start of the names of files that are not whole yet, before the number of the process that writes them. */
const PART = '.rowfocus-part-';

/**
 * Writes files into a folder, which is made where it does not exist. Each file goes to a temporary file first and is renamed
 * once it is whole, so that a run that is broken off leaves the old file or the new one, never a half one.
 * @returns the paths written, in order
 * @throws OutputError with a plain message: disk full, read-only, path is a file, ...
 */
export async function writeFiles(folder: string, files: readonly OutputFile[]): Promise<string[]> {
  for (const file of files) checkName(file.name);
  try {
    await makeFolder(resolve(folder));
  } catch (error) {
    throw outputError(folder, error);
  }
  const paths: string[] = [];
  for (const { name, data } of files) {
    const path = join(folder, name);
    const bytes = typeof data === 'string' ? Buffer.from(data, 'utf8') : Buffer.from(data);
    try {
      await replaceFile(path, bytes);
    } catch (error) {
      throw outputError(path, error);
    }
    paths.push(path);
  }
  return paths;
}

/**
 * Makes a folder and finds out, by making something in it, whether it takes files.
 * @throws OutputError
 */
export async function probeFolder(folder: string): Promise<void> {
  const probe = join(resolve(folder), `${PART}${process.pid}`);
  try {
    await makeFolder(resolve(folder));
    await makeFolder(probe);
  } catch (error) {
    const code = codeOf(error);
    // Room may be made while the rays are traced; and if not, the figures are still printed.
    if (code !== 'ENOSPC' && code !== 'EDQUOT') throw outputError(folder, error);
  } finally {
    await rm(probe, { recursive: true, force: true }).catch(() => {});
  }
}

/** Not Node's own recursive mode: Node 20 never returns from it where a parent exists but takes no folders (e.g. in /proc). */
async function makeFolder(path: string): Promise<void> {
  try {
    await mkdir(path);
  } catch (error) {
    const code = codeOf(error);
    if (code === 'EEXIST' || code === 'EISDIR' || code === 'EPERM' || code === 'EACCES' || code === 'EROFS') {
      // There already, as a folder: all is well, whatever the system says about making it anew.
      const isFolder = await stat(path).then(
        (found) => found.isDirectory(),
        () => false,
      );
      if (isFolder) return;
      throw error;
    }
    const parent = dirname(path);
    const parentExists = await stat(parent).then(
      () => true,
      () => false,
    );
    if (code === 'ENOENT' && parentExists)
      throw Object.assign(new Error(messageOf(error)), { code: NO_FOLDERS_HERE });
    if (code !== 'ENOENT' || parent === path) throw error;
    await makeFolder(parent);
    await mkdir(path);
  }
}

/** Through a link, as writing would go; a device or pipe is written as it is. */
async function replaceFile(path: string, bytes: Uint8Array): Promise<void> {
  const target = await realpath(path).catch(() => path);
  const old = await stat(target).catch(() => null);
  if (old?.isDirectory() === true) throw Object.assign(new Error('it is a folder'), { code: 'EISDIR' });
  if (old !== null && !old.isFile()) return writeFile(target, bytes);
  const part = join(dirname(target), `${PART}${process.pid}-${shortHash(basename(target))}`);
  const discard = (): void => rmSync(part, { force: true });
  process.once('exit', discard);
  try {
    const file = await open(part, 'w', old?.mode);
    try {
      await file.writeFile(bytes);
      // A nearly full disk can take the head of a file without an error.
      if ((await file.stat()).size !== bytes.length) {
        throw Object.assign(new Error('the disk took only part of it'), { code: 'ENOSPC' });
      }
    } finally {
      await file.close();
    }
    // No fsync: it guards against power loss only, and costs more than the tracing on a field of many receivers.
    await rename(part, target);
  } catch (error) {
    await rm(part, { force: true }).catch(() => {});
    throw error;
  } finally {
    process.off('exit', discard);
  }
}

/**
 * Replaces a set of files at once: they are made in a folder of their own beside the old ones and moved only when the last is
 * whole, so that a failure, or a kill before that, leaves all the old ones as they were.
 * @param folder that exists
 * @param fill writes the files, at most one folder deep, into the folder it is given
 * @param last file that is moved after all others, because it lists them
 * @throws OutputError, and whatever `fill` throws; then no old file was touched, unless the moving itself failed
 */
export async function replaceTogether(
  folder: string,
  fill: (stage: string) => Promise<void>,
  last: string,
): Promise<void> {
  const name = `${PART}${process.pid}`;
  const stage = join(folder, name);
  const discard = (): void => rmSync(stage, { recursive: true, force: true });
  process.once('exit', discard);
  try {
    await makeFolder(resolve(stage));
    await fill(stage);
    await moveAll(stage, folder, last);
  } catch (error) {
    // Anything but a refusal of the system is a fault of the program and told as such.
    if (!(error instanceof OutputError) && codeOf(error) === null) throw error;
    const told = outputError(folder, error);
    // What the user asked for is the file, not its stage.
    throw new OutputError(told.message.replace(`${name}${sep}`, ''), told.code, { cause: error });
  } finally {
    await rm(stage, { recursive: true, force: true }).catch(() => {});
    process.off('exit', discard);
  }
}

async function moveAll(stage: string, folder: string, last: string): Promise<void> {
  const entries = await readdir(stage, { recursive: true, withFileTypes: true });
  const files = entries
    .filter((entry) => entry.isFile())
    .map((entry) => join(entry.parentPath, entry.name).slice(stage.length + 1));
  const moves: { readonly from: string; readonly to: string }[] = [];
  for (const file of [
    ...files.filter((entry) => entry !== last),
    ...files.filter((entry) => entry === last),
  ]) {
    const to = join(folder, file);
    await makeFolder(resolve(dirname(to)));
    const old = await stat(to).catch(() => null);
    if (old?.isDirectory() === true) throw outputError(to, { code: 'EISDIR' });
    moves.push({ from: join(stage, file), to });
  }
  for (const { from, to } of moves) {
    const target = await realpath(to).catch(() => to);
    // A link may lead to another disk or to a device, where nothing can be moved.
    if (target !== (await plainTarget(to))) await replaceFile(to, await readFile(from));
    else await rename(from, to);
  }
}

/** @returns where a path leads if its last part is no link */
async function plainTarget(path: string): Promise<string> {
  const parent = await realpath(dirname(path)).catch(() => dirname(path));
  return join(parent, basename(path));
}

function isRunning(processId: number): boolean {
  try {
    process.kill(processId, 0);
    return true;
  } catch (error) {
    return codeOf(error) !== 'ESRCH';
  }
}

/** Removes what writers that were killed left unfinished in a folder; files of writers that still run are let alone. */
export async function removeLeftovers(folder: string): Promise<void> {
  const names = await readdir(folder).catch(() => []);
  for (const name of names.filter((entry) => entry.startsWith(PART))) {
    const writer = Number.parseInt(name.slice(PART.length), 10);
    if (Number.isNaN(writer) || isRunning(writer)) continue;
    await rm(join(folder, name), { recursive: true, force: true }).catch(() => {});
  }
}
