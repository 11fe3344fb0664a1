/** The report page of a year. */
import { readFile } from 'node:fs/promises';
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

test('a plan of resettings has no page, and says so at once', async () => {
  const args = [
    'season',
    folder.scene(),
    '--resettings',
    '2',
    '--report',
    folder.path('plan.html'),
    ...QUICK,
  ];
  const { code, stderr } = await runCli(args);
  expect(code).toBe(2);
  expect(stderr).toContain("leave '--report' away");
});
