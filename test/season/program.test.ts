/** The commands of the year, as a user starts them. */
import { readFile, writeFile } from 'node:fs/promises';
import { describe, expect, test } from 'vitest';
import { epwText, withCell } from '../sun/weather-files.js';
import { runCli, useScratchFolder } from '../support/cli.js';

const folder = useScratchFolder();
const QUICK = [
  '--receivers',
  'held',
  '--to',
  '50%',
  '--rays',
  '1000',
  '--sun-step',
  '60',
  '--workers',
  '0',
  '--quiet',
];

describe('season', () => {
  test('a year as JSON, with files', async () => {
    const first = await runCli(['season', folder.scene(), ...QUICK, '--json', '--out', folder.path('year')]);
    expect(first.code).toBe(0);
    const result = JSON.parse(first.stdout);
    expect(result.kind).toBe('season');
    expect(result.months.length).toBe(12);
    expect(result.files.map(({ file }: { file: string }) => file)).toEqual(
      ['season.csv', 'season-months.png', 'season-losses.png'].concat(['result.json']),
    );
    const csv = await readFile(folder.path('year/season.csv'), 'utf8');
    expect(csv.split('\n').length).toBe(15);
    expect(csv.split('\n')[0]).toContain('available_kwh');
  });

  test('a year in which nothing is caught is told', async () => {
    const turned = ['--set', 'site.latitude_deg=-34.6', '--tilt', '50'];
    const { code, stdout } = await runCli(['season', folder.scene(), ...QUICK, ...turned]);
    expect(code).toBe(0);
    expect(stdout).toMatch(/Nothing was caught in the whole year/);
    expect(stdout).toMatch(/face away from the sun at noon; heading 270\?/);
  });

  test.each(['season', 'dish', 'season --resettings 1'])(
    '%s: a year that the weather file knows nothing of is told, exit code 2',
    async (command) => {
      await writeFile(folder.path('other.csv'), 'time,dni\n2019-06-21T12:00,800\n2019-06-21T13:00,800\n');
      const marks = 'time_marks: start, interval_minutes: 60, utc_offset: "+00:00"';
      const sky = `sky: { kind: csv, file: other.csv, columns: { time: time, dni_w_m2: dni }, ${marks} }\n`;
      const text = (await readFile(folder.scene(), 'utf8')).replace(/^sky:\n(?: .*\n)+/m, '');
      await writeFile(folder.path('other.yaml'), `${text}\n${sky}`);
      const [name, ...args] = command.split(' ');
      const { code, stderr } = await runCli([name, folder.path('other.yaml'), ...args, '--quiet']);
      expect(code).toBe(2);
      expect(stderr).toMatch(/no beam irradiance in 2026 \(weather of other\.csv.*try another --year/);
      expect(stderr).not.toMatch(/fault in rowfocus/);
    },
  );

  test('gaps of a weather file are told with what they take, and so is a far station; check tells it too', async () => {
    const edit = (lines: string[]) => {
      for (let i = 24 * 150; i < 24 * 160; i++) lines[i] = withCell(lines[i], 15, 9999);
    };
    await writeFile(folder.path('gaps.epw'), epwText({ latitude: 40, edit }));
    const text = (await readFile(folder.scene(), 'utf8')).replace(/^sky:\n(?: .*\n)+/m, '');
    const scene = folder.path('gaps.yaml');
    await writeFile(scene, `${text}\nsky: { kind: epw, file: gaps.epw }\n`);
    const { code, stdout } = await runCli(['season', scene, ...QUICK]);
    expect(code).toBe(0);
    expect(stdout).toMatch(
      /nothing for 14\d hours of sun, which are left out: .* about [345]\.\d % of the year's beam/,
    );
    expect(stdout).toMatch(/240 hours of beam irradiance are missing and left out/);
    const { weather_gaps } = JSON.parse((await runCli(['season', scene, ...QUICK, '--json'])).stdout);
    expect(weather_gaps.beam_fraction).toBeGreaterThan(0.03);
    const checked = await runCli(['check', scene]);
    expect(checked.code).toBe(0);
    expect(checked.stdout).toMatch(/The weather station stands \d+ km from the site/);
    expect(checked.stdout).toMatch(/240 hours of beam irradiance are missing/);
    await writeFile(folder.path('gaps.epw'), 'nothing');
    expect((await runCli(['check', scene])).code).toBe(2);
  });

  const wrong: readonly (readonly [string, readonly string[], RegExp])[] = [
    ['a track without its points', ['--receivers', 'on-track'], /--path/],
    ['points without a track', ['--path', '0,0,0 1,0,0'], /on-track/],
    ['ways of receivers that stand', ['--receivers', 'held', '--move', 'along'], /--move/],
    ['settings without a plan', ['--settings', '-5:5:1'], /--resettings/],
    ['a year that is none', ['--year', '20'], /1950 to 2100/],
    ['a year before those of --date', ['--year', '1949'], /1950 to 2100/],
    ['a year after those of --date', ['--year', '2101'], /1950 to 2100/],
    ['a day that is none', ['--resettings', '02-30'], /month-day/],
    [
      're-setting receivers that go there by themselves',
      ['--resettings', '2', '--reset', 'across'],
      /--move/,
    ],
  ];
  test.each(wrong)('%s is told, exit code 2', async (_, args, words) => {
    const { code, stderr, stdout } = await runCli([
      'season',
      folder.scene(),
      ...args,
      '--quiet',
      '--workers',
      '0',
    ]);
    expect(code).toBe(2);
    expect(stderr).toMatch(words);
    expect(stdout).toBe('');
  });

  test('a scene without a site is told', async () => {
    const text = (await readFile(folder.scene(), 'utf8')).replace(/\n(?:site|sky):\n(?: {2}.*\n)+/g, '\n');
    const path = folder.path('no-site.yaml');
    await writeFile(path, text);
    const { code, stderr } = await runCli(['season', path, '--quiet']);
    expect(code).toBe(2);
    expect(stderr).toMatch(/no site/);
  });
});

describe('rows and dish', () => {
  test.each([
    ['rows', ['--spacing', '2:3:0.5'], /single rows only/],
    ['rows', [], /--spacing/],
    ['rows', ['--spacing', '0:3:1'], /above 0/],
    [
      'rows',
      ['--pitch', '0.5:1:0.5', '--set', 'rows.A.dishes=2'],
      /at 0.5 m mirrors would overlap: the dishes are 1.2 m long; begin at 1.2 or more/,
    ],
    [
      'rows',
      ['--spacing', '0.2:1:0.4', '--set', 'rows.A.rows=2', '--set', 'rows.A.row_spacing_m=3'],
      /at 0.2 m mirrors would overlap: .* seen from above; begin at 0\.\d+ or more/,
    ],
    ['dish', ['--vary', 'strips=2.5:4:1'], /whole numbers/],
    ['dish', ['--vary', 'colour=1:2:1'], /ratio, strips/],
    ['dish', ['--date', '2026-02-30'], /--date/],
  ] as const)('%s %j is told, exit code 2', async (command, args, words) => {
    const { code, stderr } = await runCli([command, folder.scene(), ...args, '--quiet', '--workers', '0']);
    expect(code).toBe(2);
    expect(stderr).toMatch(words);
  });
});
