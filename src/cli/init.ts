/** `rowfocus init`: a first scene that runs as it is. */
import { mkdir, writeFile } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import type { Command } from 'commander';
import { plainText } from '../report/plain-text.js';
import { CommandFailure } from './failure.js';
import type { Session } from './session.js';

const SCHEMA_FILE = 'rowfocus.schema.json';

function reasonOf(error: unknown): string {
  const code = (error as { code?: unknown } | null)?.code;
  if (code === 'EACCES' || code === 'EPERM') return 'permission denied';
  if (code === 'ENOTDIR') return 'a part of the path is a file, not a folder';
  if (code === 'EISDIR') return 'it is a folder';
  if (code === 'ENOSPC') return 'the disk is full';
  if (code === 'EROFS') return 'the file system is read-only';
  return error instanceof Error ? error.message : String(error);
}

/** @returns false where something of that name is there already (it is left as it is) */
async function writeNew(path: string, text: string): Promise<boolean> {
  try {
    // 'wx' fails where the name is taken, in one step, so that no other program can slip in between.
    await writeFile(path, text, { encoding: 'utf8', flag: 'wx' });
    return true;
  } catch (error) {
    if ((error as { code?: unknown } | null)?.code === 'EEXIST') return false;
    throw new CommandFailure(`cannot write ${path}: ${reasonOf(error)}`);
  }
}

/** A path as it can be typed into a shell. */
function shellWord(path: string): string {
  return /^[\w./+-]+$/.test(path) ? path : `'${path.replaceAll("'", "'\\''")}'`;
}

export function addInitCommand(program: Command, session: Session): void {
  program
    .command('init')
    .summary('write a commented scene to start from')
    .description(
      `Writes a commented scene of one dish that runs as it is, and ${SCHEMA_FILE} beside it for completion in editors. ` +
        'Never overwrites a file.',
    )
    .argument('[file]', 'where to write it', 'scene.yaml')
    .addHelpText('after', '\nExample:\n  rowfocus init my-row.yaml')
    .action(async (file: string) => {
      const { sceneTemplate } = await import('../scene/template.js');
      const { schemaText } = await import('./schema-text.js');
      const folder = dirname(file);
      try {
        await mkdir(folder, { recursive: true });
      } catch (error) {
        throw new CommandFailure(`cannot make the folder ${folder}: ${reasonOf(error)}`);
      }
      if (!(await writeNew(file, sceneTemplate()))) {
        throw new CommandFailure(`${file} is there already and was left as it is; give another name`);
      }
      const schema = join(folder, SCHEMA_FILE);
      const fresh = await writeNew(schema, schemaText());
      session.out.write(
        [
          `Written: ${plainText(file)}`,
          fresh
            ? `Written: ${plainText(schema)} (for completion in editors)`
            : `Left as it is: ${plainText(schema)} ("rowfocus schema" prints the present one)`,
          '',
          'Next:',
          `  rowfocus check ${plainText(shellWord(file))}`,
          `  rowfocus trace ${plainText(shellWord(file))} --out results`,
          '',
        ].join('\n'),
      );
    });
}
