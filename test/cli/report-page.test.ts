import { existsSync } from 'node:fs';
import { mkdir, readdir, readFile } from 'node:fs/promises';
import { describe, expect, it } from 'vitest';
import { runCli, useScratchFolder, withoutRun } from '../support/cli.js';

const folder = useScratchFolder();
const RAYS = ['--rays', '2e4', '--workers', '0', '--quiet'];

async function pageAt(name: string): Promise<string> {
  return readFile(folder.path(name), 'utf8');
}

describe('report pages from the command line', () => {
  it('report writes one file and says where it is', async () => {
    const { code, stdout, stderr } = await runCli(['report', folder.scene(), '--out', 'one.html', ...RAYS], {
      cwd: folder.path(),
    });
    expect(stderr).toBe('');
    expect(code).toBe(0);
    expect(stdout).toMatch(/^The spot .*\n\nReport page: one\.html\n$/s);
    const page = await pageAt('one.html');
    expect(page).toMatch(/^<!DOCTYPE html>/);
    // The name of the file, and not the folders it lies in.
    expect(page).toContain('my scene.yaml');
    expect(page).not.toContain(folder.path());
    expect((await readdir(folder.path())).filter((name) => name.startsWith('.rowfocus'))).toEqual([]);
  });

  it('report sets scenes side by side, with paired differences', async () => {
    const other = ['--set', 'films.roll_a.reflectance=0.7'];
    const scenes = [folder.scene(), folder.scene()];
    const { code } = await runCli(['report', ...scenes, ...other, '--out', 'two.html', ...RAYS], {
      cwd: folder.path(),
    });
    expect(code).toBe(0);
    const page = await pageAt('two.html');
    expect(page).toContain('Side by side');
    expect(page).toContain('B - A');
    expect(page).toContain('films.roll_a.reflectance=0.7');
  });

  it('trace writes it beside its text, and the JSON document stays as it is', async () => {
    const args = ['trace', folder.scene(), '--json', ...RAYS];
    const plain = await runCli(args, { cwd: folder.path() });
    const paged = await runCli([...args, '--report', 'trace.html'], { cwd: folder.path() });
    expect(paged.code).toBe(0);
    expect(withoutRun(paged.stdout)).toBe(withoutRun(plain.stdout));
    expect(await pageAt('trace.html')).toContain('command trace');
  });

  it('sweep and compare write it with their findings', async () => {
    const vary = ['--vary', 'films.roll_a.slope_error_across_mrad=4:8:2', '--require', 'spill<=5%'];
    const sweep = await runCli(['sweep', folder.scene(), ...vary, '--report', 'sweep.html', ...RAYS], {
      cwd: folder.path(),
    });
    expect(sweep.code, sweep.stderr).toBe(0);
    expect(sweep.stdout).toContain('Report page: sweep.html');
    const page = await pageAt('sweep.html');
    expect(page).toContain('spill&lt;=5% holds up to');
    expect(page).toContain('download="sweep.csv"');
    const compare = await runCli(
      ['compare', folder.scene(), folder.scene(), '--report', 'compare.html', ...RAYS],
      { cwd: folder.path() },
    );
    expect(compare.code, compare.stderr).toBe(0);
    expect(await pageAt('compare.html')).toContain('B and A spill the same share');
  });

  it.each([
    [['--out', 'page.txt'], 'needs a name that ends in .html'],
    [['--out', ''], 'needs the name of an HTML file'],
    [['--out', 'sub/'], 'needs the name of an HTML file'],
  ])('refuses %j before anything is traced', async (flags, message) => {
    const { code, stderr, stdout } = await runCli(['report', folder.scene(), ...flags, ...RAYS], {
      cwd: folder.path(),
    });
    expect(code).toBe(2);
    expect(stderr).toContain(message);
    expect(stdout).toBe('');
  });

  it('refuses more scenes than can stand side by side, and a page of a replay', async () => {
    const five = Array.from({ length: 5 }, () => folder.scene());
    const many = await runCli(['report', ...five, ...RAYS], { cwd: folder.path() });
    expect(many.code).toBe(2);
    expect(many.stderr).toContain('up to 4 scenes');
    const replay = await runCli(['trace', folder.scene(), '--replay', '0', '--report', 'a.html', ...RAYS], {
      cwd: folder.path(),
    });
    expect(replay.code).toBe(2);
    expect(replay.stderr).toContain("leave '--report' away");
  });

  it('prints the figures where the page cannot be written, then fails', async () => {
    await mkdir(folder.path('taken.html'));
    const { code, stdout, stderr } = await runCli(
      ['trace', folder.scene(), '--report', 'taken.html', ...RAYS],
      { cwd: folder.path() },
    );
    expect(code).toBe(1);
    expect(stdout).toContain('Key figures');
    expect(stderr).toContain('cannot write taken.html: a folder of that name is there already');
    const nowhere = await runCli(['report', folder.scene(), '--out', '/proc/x/a.html', ...RAYS]);
    expect(nowhere.code).toBe(1);
    expect(nowhere.stdout).toBe('');
    expect(existsSync('/proc/x')).toBe(false);
  });
});
