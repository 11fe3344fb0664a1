/** The report page of a year. */
import { readFile } from 'node:fs/promises';
import { fileURLToPath } from 'node:url';
import { expect, test } from 'vitest';
import { runCli, useScratchFolder } from '../support/cli.js';

const folder = useScratchFolder();
const QUICK = ['--to', '50%', '--rays', '1000', '--sun-step', '60', '--workers', '0', '--quiet'];

test('the page of a year holds months, losses, table and CSV, with the figures of the JSON document', async () => {
  const page = folder.path('year.html');
  const args = ['season', folder.scene(), '--receivers', 'held', ...QUICK, '--json', '--report', page];
  const { code, stdout, stderr } = await runCli(args);
  expect({ code, stderr }).toEqual({ code: 0, stderr: '' });
  const { total } = JSON.parse(stdout);
  const html = await readFile(page, 'utf8');
  for (const words of [
    'month by month',
    'Where the sunlight of the year goes',
    'download="season.csv"',
    'my scene.yaml',
    'Concentrated light',
    'Caution',
    `<td>${total.available_kwh.toFixed(0)}</td>`,
  ])
    expect(html.toLowerCase()).toContain(words.toLowerCase());
  expect(html).not.toContain(folder.path());
  expect(html).not.toMatch(/\bsafe\b/i);
}, 60_000);

interface Paged {
  readonly args: readonly string[];
  /** What the page must hold, upper and lower case alike. */
  readonly words: readonly string[];
  /** A cell of the page's tables, from the JSON document. */
  // biome-ignore lint/suspicious/noExplicitAny: the document as any reader has it.
  readonly cell: (document: any) => string;
}

test.each<readonly [string, Paged]>([
  [
    'dish',
    {
      args: ['dish', '--vary', 'ratio=0.9:1.1:0.1'],
      words: ['Best of those tried', 'download="dish.csv"', 'within 1 % of the best'],
      cell: ({ study }) => `${(100 * study.points[0].caught_fraction.value).toFixed(2)} ± `,
    },
  ],
  [
    'rows',
    {
      args: ['rows', '--pitch', '1.3:1.5:0.1'],
      words: ['land at', 'download="rows.csv"', 'download="rows-hours.csv"', 'Blocking', 'by hour and month'],
      cell: ({ spacing }) => `${spacing.points[0].caught_per_m2.value.toFixed(1)} ± `,
    },
  ],
  [
    'season',
    {
      args: ['season', '--resettings', '2', '--settings=-10:10:20'],
      words: ['Re-settings in 2026', 'download="resetting-dates.csv"', 'dynamic programming'],
      cell: ({ ways }) => `${ways[0].plans[2].energy_kwh.toFixed(0)} ± `,
    },
  ],
])(
  'the page of %s holds figures, table, CSV, cautions and methods',
  async (_, { args, words, cell }) => {
    const page = folder.path(`${args[0]}.html`);
    const [command, ...own] = args;
    const held = ['--receivers', 'held'];
    // No wanted error where the command has none.
    const quick = command === 'dish' ? QUICK.slice(2) : QUICK;
    const sets = ['--set', 'rows.A.dishes=2'];
    const result = await runCli([
      command,
      folder.scene(),
      ...own,
      ...held,
      ...quick,
      ...sets,
      '--json',
      '--report',
      page,
    ]);
    expect({ code: result.code, stderr: result.stderr }).toEqual({ code: 0, stderr: '' });
    const html = await readFile(page, 'utf8');
    for (const word of [
      ...words,
      '<svg',
      'Caution',
      'my scene.yaml',
      'Methods',
      '--set',
      `<td>${cell(JSON.parse(result.stdout))}`,
    ])
      expect(html.toLowerCase()).toContain(word.toLowerCase());
    expect(html.replaceAll('http://www.w3.org/2000/svg', '')).not.toMatch(/(src|href)="?https?:|url\(h/);
    expect(html).not.toContain(folder.path());
    expect(html).not.toMatch(/\bsafe\b/i);
  },
  120_000,
);

test('the page of versus holds both scenes, their figures and their inputs', async () => {
  const page = folder.path('versus.html');
  const [line, points] = ['heat-line.yaml', 'heat-points-equal.yaml'].map((name) =>
    fileURLToPath(new URL(`../../scenes-demo/${name}`, import.meta.url)),
  );
  const args = [
    'versus',
    line,
    points,
    '--unlike',
    '--receivers',
    'held',
    ...QUICK,
    '--json',
    '--report',
    page,
  ];
  const { code, stdout } = await runCli(args);
  expect(code).toBe(0);
  const { answer, entries } = JSON.parse(stdout);
  const html = await readFile(page, 'utf8');
  for (const words of [
    'heat-line.yaml',
    'heat-points-equal.yaml',
    'Where the sunlight of the year goes, scene by scene',
    'download="versus.csv"',
    'Caution',
    `<td>${entries[1].mirror_area_m2.toFixed(3)}</td>`,
    answer[0].split('(')[0],
  ])
    expect(html).toContain(words);
  expect(html).not.toMatch(/\bsafe\b/i);
}, 120_000);

test('a page that is none is refused before anything is traced', async () => {
  for (const command of ['dish', 'rows', 'versus']) {
    const scenes = command === 'versus' ? [folder.scene(), folder.scene()] : [folder.scene()];
    const more = command === 'rows' ? ['--pitch', '1.3:1.5:0.1'] : [];
    const { code, stderr } = await runCli([command, ...scenes, ...more, '--report', folder.path('page.txt')]);
    expect(code).toBe(2);
    expect(stderr).toContain('ends in .html');
  }
}, 60_000);
