/** Names and titles come from strangers: whatever they hold, no output may run, draw, drive a terminal or leave its folder. */
import { mkdir, readdir, readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { type CliResult, runCli, useScratchFolder } from '../support/cli.js';
import { type Loose, oneDish } from '../support/plain-scene.js';

const folder = useScratchFolder();
const RAYS = ['--rays', '5e3', '--workers', '0'];

/** Names that the schema takes: a spreadsheet, a browser, a shell and a file system would each love one of them. */
const NAMES = {
  title: '=HYPERLINK("http://example.invalid","<b>&amp;</b>")',
  site: "@SUM(1+1)*cmd|' /C calc'!A0",
  film: '=1+1',
  dish: '+<script>alert(1)</script>',
  row: '-2+3',
  facet: '@"; rm -rf $(HOME) `id` %0a',
  receiver: "=2+5+cmd|' /C x'!A0",
  soft: '=so\u00adft\u2060 ＝wide',
  file: '../../up/../CON',
  blocker: '<!--]]>&lt;"\'--> toString',
};

function hostileScene(change: (scene: Loose) => void = () => {}): string {
  return oneDish((scene) => {
    scene.title = NAMES.title;
    scene.site = { name: NAMES.site, latitude_deg: 34, longitude_deg: -5, height_m: 400 };
    scene.films = { [NAMES.film]: scene.films.film };
    scene.dishes = { [NAMES.dish]: { ...scene.dishes.seven, film: NAMES.film } };
    Object.assign(scene.rows[0], { name: NAMES.row, dish: NAMES.dish });
    const plate = { kind: 'plate', aperture: { shape: 'round', diameter_m: 0.1 }, cells: 8 };
    const names = [NAMES.receiver, NAMES.soft, NAMES.file, 'nul.png', 'toString'];
    scene.receivers = names.map((name, i) => ({ ...plate, name, position_m: [i + 5, 0, 3] }));
    scene.facets = names.map((name, i) => ({
      name: i === 0 ? NAMES.facet : `${name} mirror`,
      film: NAMES.film,
      outline: { kind: 'round', diameter_m: 0.5 },
      position_m: [i + 5, 0, 1],
      facing: { azimuth_deg: 180, elevation_deg: 75 },
      receiver: name,
    }));
    scene.blockers = [
      {
        kind: 'box',
        name: NAMES.blocker,
        centre_m: [5, -0.45, 1.5],
        size_m: [0.6, 0.6, 0.05],
        heading_deg: 90,
      },
    ];
    change(scene);
  });
}

// Built from numbers so that no such character stands in this file: controls but the line feed, soft hyphen, zero-width and
// direction marks, line separators, byte-order mark.
const DRIVING = new RegExp(
  `[${[
    [0x00, 0x09],
    [0x0b, 0x1f],
    [0x7f, 0x9f],
    [0xad, 0xad],
    [0x200b, 0x200f],
    [0x2028, 0x202e],
    [0x2060, 0x206f],
    [0xfeff, 0xfeff],
  ]
    .map((range) => range.map((code) => `\\u${code.toString(16).padStart(4, '0')}`).join('-'))
    .join('')}]`,
  'u',
);

function expectHarmless(text: string): void {
  expect(DRIVING.exec(text)).toBeNull();
}

/** Cells of CSV text with quoted cells. */
function cellsOf(csv: string): string[] {
  const cells: string[] = [];
  const pattern = /("(?:[^"]|"")*"|[^,\n]*)(,|\n|$)/gy;
  for (let match = pattern.exec(csv); match !== null && match[0] !== ''; match = pattern.exec(csv)) {
    const [, cell] = match;
    cells.push(cell.startsWith('"') ? cell.slice(1, -1).replace(/""/g, '"') : cell);
  }
  return cells;
}

/** A cell that a spreadsheet would take for a formula: it begins with = + - @, tab or return and is no number. */
function formulas(csv: string): string[] {
  return cellsOf(csv).filter((cell) => /^\s*[=+\-@\t\r＝＋－＠]/.test(cell) && Number.isNaN(Number(cell)));
}

async function filesBelow(path: string): Promise<string[]> {
  const entries = await readdir(path, { recursive: true, withFileTypes: true });
  return entries.filter((entry) => entry.isFile()).map((entry) => join(entry.parentPath, entry.name));
}

async function expectHarmlessFiles(path: string): Promise<void> {
  const files = await filesBelow(path);
  expect(files.some((file) => file.endsWith('.csv'))).toBe(true);
  expect(files.some((file) => file.endsWith('.png'))).toBe(true);
  for (const file of files) {
    expect(file.slice(path.length + 1)).toMatch(/^[A-Za-z0-9._/-]+$/);
    if (file.endsWith('.png')) continue;
    const text = await readFile(file, 'utf8');
    expectHarmless(text);
    if (file.endsWith('.csv')) expect(formulas(text)).toEqual([]);
    if (file.endsWith('.json')) JSON.parse(text);
  }
}

async function place(name: string, text: string): Promise<string> {
  const path = folder.path(name);
  await writeFile(path, text);
  return path;
}

function expectDone(result: CliResult): void {
  expect(result.stderr).not.toMatch(/fault in rowfocus|^\s+at /m);
  expect(result.code).toBe(0);
  expectHarmless(result.stdout);
  expectHarmless(result.stderr);
}

describe('hostile names that are allowed', () => {
  it('the check of this test finds formulas and lets numbers be', () => {
    expect(formulas('a,=1+1,-5,"@x",-1e-3,\'=2,"+""2"\n')).toEqual(['=1+1', '@x', '+"2']);
    expect(() => expectHarmless('a\u001b[31m')).toThrow();
  });

  it('trace: text and files', async () => {
    const scene = await place('names.yaml', hostileScene());
    const out = folder.path('trace out');
    const result = await runCli(['trace', scene, ...RAYS, '--out', out]);
    expectDone(result);
    await expectHarmlessFiles(out);
    // The folder's neighbours are as they were.
    expect((await readdir(folder.path())).sort()).toEqual(['my scene.yaml', 'names.yaml', 'trace out']);
  });

  it('trace --json: one document, the names as they were given', async () => {
    const scene = await place('names.yaml', hostileScene());
    const result = await runCli(['trace', scene, ...RAYS, '--json']);
    expectDone(result);
    const document = JSON.parse(result.stdout);
    expect(document.title).toBe(NAMES.title);
    const names = document.receivers.map(({ name }: { name: string }) => name);
    expect(names).toEqual([NAMES.receiver, NAMES.soft, NAMES.file, 'nul.png', 'toString', `${NAMES.row}-1`]);
  });

  it('check, in words and as JSON', async () => {
    const scene = await place('names.yaml', hostileScene());
    expectDone(await runCli(['check', scene]));
    const result = await runCli(['check', scene, '--json']);
    expectDone(result);
    expect(JSON.parse(result.stdout).title).toBe(NAMES.title);
  });

  it('replay of rays of every mirror', async () => {
    const scene = await place('names.yaml', hostileScene());
    // The last rays of a batch are those of the single facets.
    for (const ray of ['0:0', '3:130', '5:150']) {
      const result = await runCli(['trace', scene, ...RAYS, '--replay', ray]);
      expectDone(result);
      expect(result.stdout).toMatch(/Fate: /);
      expectDone(await runCli(['trace', scene, ...RAYS, '--replay', ray, '--json']));
    }
  });

  it('sweep of a value below a hostile name', async () => {
    const scene = await place('names.yaml', hostileScene());
    const out = folder.path('sweep out');
    const vary = `films."${NAMES.film}".reflectance=0.5:0.9:0.2`;
    const result = await runCli([
      'sweep',
      scene,
      ...RAYS,
      '--vary',
      vary,
      '--require',
      'spill<=50%',
      '--out',
      out,
    ]);
    expectDone(result);
    await expectHarmlessFiles(out);
    const row = `rows.${JSON.stringify(NAMES.row)}.centre_m[2]=1:2:1`;
    const two = await runCli([
      'sweep',
      scene,
      ...RAYS,
      '--vary',
      vary,
      '--vary',
      row,
      '--out',
      folder.path('two out'),
    ]);
    expectDone(two);
    await expectHarmlessFiles(folder.path('two out'));
  });

  it('compare of files whose own names are hostile', async () => {
    await mkdir(folder.path('scenes'), { recursive: true });
    const paths = await Promise.all([
      place(`scenes/=1+1.yaml`, hostileScene()),
      place(
        `scenes/@b\u001b[31m<i>\u202e.yaml`,
        hostileScene((scene) => void Object.assign(scene.sun, { dni_w_m2: 900 })),
      ),
    ]);
    const out = folder.path('compare out');
    const result = await runCli(['compare', ...paths, ...RAYS, '--out', out]);
    expectDone(result);
    await expectHarmlessFiles(out);
    expectDone(await runCli(['check', paths[1]]));
    expectDone(await runCli(['trace', paths[1], ...RAYS]));
  });
});

describe('hostile text that is refused', () => {
  it.each([
    [
      'an escape sequence in the title',
      (scene: Loose) => Object.assign(scene, { title: 'a\u001b]0;owned\u0007b' }),
    ],
    ['a line break in a name', (scene: Loose) => Object.assign(scene.rows[0], { name: 'a\nb' })],
    ['a tab before a formula', (scene: Loose) => Object.assign(scene.receivers[0], { name: '\t=1+1' })],
    ['a return before a formula', (scene: Loose) => Object.assign(scene.facets[0], { name: '\r=1+1' })],
    ['a reversed text', (scene: Loose) => Object.assign(scene.blockers[0], { name: 'a\u202eb' })],
    ['a key that is code', (scene: Loose) => Object.assign(scene, { 'a\u001b[2Jb': 1 })],
    [
      'a film of a name that nothing defines',
      (scene: Loose) => Object.assign(scene.facets[0], { film: 'x\u009b31m' }),
    ],
    [
      'a word of no meaning',
      (scene: Loose) => Object.assign(scene.sun, { sunshape: { kind: '\u001b[8mx' } }),
    ],
  ])('%s: the error itself is harmless', async (_name, change) => {
    const scene = await place('refused.yaml', hostileScene(change));
    for (const command of ['check', 'trace']) {
      const result = await runCli([command, scene]);
      expect(result.code).toBe(2);
      expect(result.stdout).toBe('');
      expectHarmless(result.stderr);
      expect(result.stderr).toMatch(/^\d+ errors? in .*nothing was run\.$/m);
    }
  });

  it('raw control characters in the file, in options and in arguments: the message is harmless', async () => {
    const scene = await place('raw.yaml', hostileScene().replace('"rows"', '"ro\u001b[31mws\u0000"'));
    const good = await place('names.yaml', hostileScene());
    for (const args of [
      ['trace', scene],
      ['trace', good, '--set', 'films.\u001b[31mx=1'],
      ['trace', good, '--set', 'title=a\u001b[31mb'],
      ['trace', good, '--seed', 'a\u001b[31mb', ...RAYS],
      ['trace', '\u001b[31m none.yaml'],
      ['sweep', good, '--vary', '\u001b[31m=1:2:1'],
      ['compare', good, 'no\u009b31m.yaml'],
    ]) {
      const result = await runCli(args);
      expectHarmless(result.stdout);
      expectHarmless(result.stderr);
      expect(result.stderr).not.toMatch(/fault in rowfocus/);
    }
  });
});
