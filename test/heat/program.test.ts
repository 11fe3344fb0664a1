/** heat, cost and versus as a user starts them. */
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { runCli } from '../support/cli.js';
import { demoText, SMALL } from './scenes.js';

const FAST = ['--to', '20%', '--rays', '256', '--sun-step', '60', '--quiet'];
const SETS = SMALL.flatMap((option) => ['--set', option]);
let folder: string;
let points: string;
let line: string;
let bare: string;

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'rowfocus-heat-'));
  points = join(folder, 'points.yaml');
  line = join(folder, 'line.yaml');
  bare = join(folder, 'bare.yaml');
  await writeFile(points, demoText('heat-points'));
  await writeFile(line, demoText('heat-line'));
  await writeFile(bare, demoText('day-row'));
});

afterAll(() => rm(folder, { recursive: true, force: true }));

describe('what it prints', () => {
  test('a moment: text, JSON, pictures', async () => {
    const out = join(folder, 'moment');
    const at = ['--at', '2026-03-20 13:24', '--out', out];
    const text = await runCli(['heat', points, ...at]);
    expect(text.code).toBe(0);
    for (const word of [
      'pump stop to film limit',
      'autoignition',
      'without flow',
      'least flow',
      'Caution',
      'local codes',
    ])
      expect(text.stdout).toContain(word);
    expect(text.stdout).not.toMatch(/\bsafe/i);
    const json = JSON.parse((await runCli(['heat', points, ...at, '--json'])).stdout);
    expect(json).toMatchObject({ kind: 'heat', heat: null, moment: { receivers: 8, strings: 1 } });
    expect((await readFile(join(out, 'heat-moment.png'))).subarray(1, 4).toString()).toBe('PNG');
  }, 60_000);

  test('a price: one kWh from the sunbeam on, all files', async () => {
    const out = join(folder, 'price');
    const page = join(folder, 'price.html');
    const { code, stdout, stderr } = await runCli([
      'cost',
      points,
      ...FAST,
      ...SETS,
      '--out',
      out,
      '--report',
      page,
    ]);
    expect(stderr).toBe('');
    expect(code).toBe(0);
    expect(stdout).toContain('Follow one kWh of sunlight to its price');
    expect(stdout).toMatch(/sunlight on the mirrors\s+1\.000 kWh/);
    expect(stdout).toContain('What moves it most');
    expect(stdout).toContain('Heat at night');
    const html = await readFile(page, 'utf8');
    for (const words of ['Price of heat', 'From sunlight on the mirrors', 'hydrogenated_terphenyl'])
      expect(html).toContain(words);
    const result = JSON.parse(await readFile(join(out, 'result.json'), 'utf8'));
    expect(result.kind).toBe('cost');
    for (const file of [
      'cost.csv',
      'heat-months.csv',
      'film.csv',
      'cost-split.png',
      'cost-levers.png',
      'heat-opening.png',
    ])
      expect((await readFile(join(out, file))).length).toBeGreaterThan(100);
  }, 120_000);
});

describe('what it refuses, with exit 2', () => {
  test.each([
    ['heat without the section', ['heat', 'BARE', '--at', '2026-03-20 13:00'], /says nothing of heat/],
    ['a moment by night', ['heat', 'POINTS', '--at', '2026-03-20 01:00'], /no beam irradiance/],
    ['a moment that is none', ['heat', 'POINTS', '--at', 'noon'], /expected a date and a clock time/],
    ['a day that is none', ['heat', 'POINTS', '--at', '2026-02-30 12:00'], /--at/],
    ['a price without prices', ['cost', 'BARE', '--quiet'], /says nothing of (prices|heat)/],
    [
      'a page that is no page',
      ['heat', 'POINTS', '--at', '2026-03-20 13:00', '--report', 'x.pdf'],
      /ends in \.html/,
    ],
    ['a comparison of one', ['versus', 'POINTS'], /two scenes at least/],
    [
      'unlike mirror areas',
      ['versus', 'POINTS', 'LINE', '--set', 'rows.A.dishes=8', '--set', 'films.roll_a.reflectance=2'],
      /reflectance/,
    ],
    ['a key that is not known', ['heat', 'POINTS', '--set', 'heat.oil.inlet=3'], /inlet_c/],
  ])(
    '%s',
    async (_, args, message) => {
      const own = args.map((arg) => ({ BARE: bare, POINTS: points, LINE: line })[arg] ?? arg);
      const { code, stdout, stderr } = await runCli(own);
      expect(stderr).toMatch(message);
      expect(code).toBe(2);
      expect(stdout).toBe('');
    },
    60_000,
  );

  test('unlike mirror areas in files', async () => {
    const small = join(folder, 'small.yaml');
    await writeFile(small, demoText('heat-points-equal').replace('dishes: 8', 'dishes: 7'));
    const { code, stderr } = await runCli(['versus', points, small]);
    expect(code).toBe(2);
    expect(stderr).toMatch(/mirror area: points\.yaml 9\.44\d? m2, small\.yaml 8\.26\d? m2/);
    expect(stderr).toContain('--unlike');
  }, 60_000);

  test('all that is wrong in heat and prices at once', async () => {
    const bad = join(folder, 'bad.yaml');
    await writeFile(
      bad,
      demoText('heat-points')
        .replace('outlet_c: 158', 'outlet_c: 120')
        .replace('emittance: 0.85', 'emittance: 1.85')
        .replace('crew_price_per_h: 9', 'crew_price: 9')
        .replace('cold_c: 110', 'cold_c: 190'),
    );
    const { code, stderr } = await runCli(['heat', bad]);
    expect(code).toBe(2);
    for (const path of ['heat.surface.emittance', 'cost.crew_price']) expect(stderr).toContain(path);
    const well = await readFile(bad, 'utf8');
    await writeFile(
      bad,
      well.replace('emittance: 1.85', 'emittance: 0.85').replace('crew_price: 9', 'crew_price_per_h: 9'),
    );
    const second = await runCli(['heat', bad]);
    for (const path of ['heat.oil.outlet_c', 'store.cold_c']) expect(second.stderr).toContain(path);
  }, 60_000);
});

test('Ctrl-C ends it with 130', async () => {
  let sent = false;
  const { code, stderr } = await runCli(['heat', points, '--rays', '65536', '--to', '0.1%'], {
    onStderr: (text, child) => {
      if (sent || !text.includes('sun positions traced')) return;
      sent = true;
      child.kill('SIGINT');
    },
  });
  expect(stderr).toContain('Interrupted');
  expect(code).toBe(130);
}, 120_000);
