/** `rowfocus verify` as a user starts it. */

import { spawnSync } from 'node:child_process';
import { cpSync, mkdirSync, readFileSync, symlinkSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { CHECKS } from '../../src/verify/checks.js';
import type { VerifyResult } from '../../src/verify/types.js';
import { runCli, useScratchFolder } from '../support/cli.js';

const ROOT = fileURLToPath(new URL('../../', import.meta.url));
const folder = useScratchFolder();
const QUIET = ['verify', '--quiet'];

async function json(args: readonly string[], code: number): Promise<VerifyResult> {
  const result = await runCli([...QUIET, '--json', ...args], { cwd: folder.path() });
  expect(result.stderr).toBe('');
  expect(result.code).toBe(code);
  return JSON.parse(result.stdout);
}

describe('all checks', () => {
  it('pass, from whatever folder, and none by more than 4 standard errors', async () => {
    const result = await json(['--workers', '2'], 0);
    expect(result.checks.filter(({ passed }) => !passed)).toEqual([]);
    expect(result.checks.map(({ name }) => name)).toEqual(CHECKS.map(({ name }) => name));
    expect(result).toMatchObject({ kind: 'verify', schema_version: 1, seed: 'verify', failed: 0, missed: 0 });
    expect(result.worst_z?.z).toBeLessThan(4);
    // As the text of --help has it: about once in 260 runs.
    expect(1 / result.chance_of_false_alarm).toBeGreaterThan(200);
    expect(1 / result.chance_of_false_alarm).toBeLessThan(300);
    const counted = Object.values(result.by_source).reduce((sum, count) => sum + count, 0);
    expect(counted).toBe(CHECKS.length);
    expect(result.by_source['from memory']).toBeLessThanOrEqual(6);
    for (const { source } of result.checks) {
      expect(['publication', 'closed form', 'common practice', 'from memory']).toContain(source.kind);
    }
  });

  it('each sees the small fault put into its scene; two have none', async () => {
    const result = await json(['--workers', '2', '--with-faults'], 0);
    const blind = result.checks.filter(({ passed }) => passed).map(({ name }) => name);
    expect(blind).toEqual(['books-of-rays', 'books-of-receivers']);
    expect(result).toMatchObject({ with_faults: true, missed: 0 });
  });
});

describe('seeds', () => {
  const ONE = ['--only', 'coddington-sphere-t', '--workers', '0'];

  it('--fresh draws a new one, which --seed repeats', async () => {
    const first = await json([...ONE, '--fresh'], 0);
    expect(first.seed).toMatch(/^[0-9a-f]{8}$/);
    const again = await json([...ONE, '--seed', first.seed], 0);
    expect(again.checks).toEqual(first.checks);
    const other = await json([...ONE, '--fresh'], 0);
    expect(other.checks[0].got).not.toBe(first.checks[0].got);
  });

  it('--fresh and --seed do not go together', async () => {
    const { code, stderr } = await runCli([...QUIET, '--fresh', '--seed', 'a']);
    expect(code).toBe(2);
    expect(stderr).toMatch(/cannot be used with/);
  });
});

describe('choosing', () => {
  it('an unknown check is refused, with the nearest', async () => {
    const { code, stderr, stdout } = await runCli([...QUIET, '--only', 'cosine-lav']);
    expect(code).toBe(2);
    expect(stderr).toMatch(/there is no check "cosine-lav".*cosine-law/);
    expect(stdout).toBe('');
  });

  it('several can be chosen', async () => {
    const result = await json(['--only', 'film-factors', '--only', 'cosine-law'], 0);
    expect(result.checks.map(({ name }) => name)).toEqual(['cosine-law', 'film-factors']);
  });

  it('--help has an example', async () => {
    const { code, stdout } = await runCli(['verify', '--help']);
    expect(code).toBe(0);
    expect(stdout).toMatch(/Examples:\n {2}rowfocus verify/);
  });
});

/** A copy of the built program in a folder of its own. */
function installed(): string {
  const copy = join(folder.path(), 'installed');
  mkdirSync(copy, { recursive: true });
  cpSync(join(ROOT, 'dist/src'), join(copy, 'dist/src'), { recursive: true });
  cpSync(join(ROOT, 'scenes-demo'), join(copy, 'scenes-demo'), { recursive: true });
  cpSync(join(ROOT, 'package.json'), join(copy, 'package.json'));
  symlinkSync(join(ROOT, 'node_modules'), join(copy, 'node_modules'));
  return copy;
}

describe('failure', () => {
  const start = (copy: string) =>
    spawnSync(
      process.execPath,
      [join(copy, 'dist/src/cli/main.js'), ...QUIET, '--only', 'cosine-law', '--workers', '0'],
      { encoding: 'utf8', cwd: folder.path() },
    );

  it('exit code 1 where a scene or an expected value is wrong, or the scene is missing', () => {
    const copy = installed();
    expect(start(copy).status).toBe(0);

    const scene = join(copy, 'scenes-demo/checks/cosine-law.yaml');
    const text = readFileSync(scene, 'utf8');
    writeFileSync(scene, text.replace('elevation_deg: 50', 'elevation_deg: 49'));
    const faulty = start(copy);
    expect(faulty.status).toBe(1);
    expect(faulty.stdout).toMatch(/^FAIL {2}cosine-law/m);

    writeFileSync(scene, 'title: no scene');
    const refused = start(copy);
    expect(refused.status).toBe(1);
    expect(refused.stderr).toMatch(/cosine-law is refused/);

    writeFileSync(scene, text);
    const list = join(copy, 'dist/src/verify/mirror-checks.js');
    const code = readFileSync(list, 'utf8');
    writeFileSync(list, code.replace('1000 * Math.cos(40 * DEGREES)', '1001 * Math.cos(40 * DEGREES)'));
    expect(start(copy).status).toBe(1);
  });
});
