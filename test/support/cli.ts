/** Starts the built program as a user does. `npm test` builds first; this only makes sure that there is something to start. */
import { type ChildProcess, spawn } from 'node:child_process';
import { existsSync } from 'node:fs';
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll } from 'vitest';
import { sceneTemplate } from '../../src/scene/template.js';

const MAIN = fileURLToPath(new URL('../../dist/src/cli/main.js', import.meta.url));

export interface CliResult {
  /** Null where a signal killed it. */
  readonly code: number | null;
  readonly signal: NodeJS.Signals | null;
  readonly stdout: string;
  readonly stderr: string;
}

export interface CliOptions {
  readonly cwd?: string;
  readonly input?: string;
  readonly environment?: Readonly<Record<string, string>>;
  /** Called whenever standard error has grown. */
  readonly onStderr?: (text: string, child: ChildProcess) => void;
  /** Close standard output before anything is read. */
  readonly closeStdout?: boolean;
}

/** Runs the program to its end. */
export function runCli(args: readonly string[], options: CliOptions = {}): Promise<CliResult> {
  if (!existsSync(MAIN)) throw new Error('there is no built program: run `npm run build` first');
  return new Promise((resolve, reject) => {
    const child = spawn(process.execPath, [MAIN, ...args], {
      cwd: options.cwd,
      env: { ...process.env, NO_COLOR: '', ...options.environment },
      stdio: ['pipe', 'pipe', 'pipe'],
    });
    let stdout = '';
    let stderr = '';
    if (options.closeStdout === true) child.stdout.destroy();
    child.stdout.setEncoding('utf8').on('data', (text: string) => {
      stdout += text;
    });
    child.stderr.setEncoding('utf8').on('data', (text: string) => {
      stderr += text;
      options.onStderr?.(stderr, child);
    });
    child.stdin.on('error', () => {});
    child.stdin.end(options.input ?? '');
    child.on('error', reject);
    child.on('close', (code, signal) => resolve({ code, signal, stdout, stderr }));
  });
}

/**
 * A folder of one's own for the tests of a file, with the template scene in it.
 * @returns functions that can be called inside tests
 */
export function useScratchFolder(): {
  readonly path: (name?: string) => string;
  readonly scene: () => string;
} {
  let folder = '';
  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), 'cli test '));
    await writeFile(join(folder, 'my scene.yaml'), sceneTemplate());
  });
  afterAll(() => rm(folder, { recursive: true, force: true }));
  return {
    path: (name = '') => join(folder, name),
    scene: () => join(folder, 'my scene.yaml'),
  };
}

/** A JSON document of the program without what depends on the machine. */
export function withoutRun(document: string): string {
  const at = document.lastIndexOf('\n  "run": {');
  if (at < 0) throw new Error('the document has no run object');
  return document.slice(0, at);
}
