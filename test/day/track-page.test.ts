/** The report page of a track over the seasons. */
import { readFile, writeFile } from 'node:fs/promises';
import { expect, it } from 'vitest';
import { runCli, useScratchFolder } from '../support/cli.js';
import { demoText } from '../support/pages.js';

const folder = useScratchFolder();
const SOME = ['--dates', '2026-03-20,2026-06-21', '--every', '60', '--above', '40', '--rays', '4000'];

it('the page of a track holds the path, a table for each season, tracks to build and the files', async () => {
  await writeFile(folder.path('dish.yaml'), demoText('one-dish.yaml'));
  const page = folder.path('track.html');
  const args = ['track', folder.path('dish.yaml'), ...SOME, '--workers', '0', '--quiet', '--json'];
  const { code, stdout, stderr } = await runCli([...args, '--report', page]);
  expect({ code, stderr }).toEqual({ code: 0, stderr: '' });
  const { rows } = JSON.parse(stdout);
  const html = await readFile(page, 'utf8');
  for (const words of [
    'Best places of the receiver by season',
    'Tracks to build, against following freely',
    'download="track.csv"',
    'download="tracks.csv"',
    'parked, late or lost',
    'dish.yaml',
  ])
    expect(html).toContain(words);
  // As many tables of places as seasons, and in them as many places as the document has.
  const places = html.match(/<tr><th[^>]*>\d\d:\d\d<\/th>/g) ?? [];
  expect(places).toHaveLength(rows.length);
  expect(html).not.toContain(folder.path());
  expect(html).not.toMatch(/\bsafe\b/i);
}, 60_000);
