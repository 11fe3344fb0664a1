/** The commands day and track as a user meets them. */
import { readdir, readFile, writeFile } from 'node:fs/promises';
import { describe, expect, it } from 'vitest';
import { powerOf } from '../../src/cli/day-pictures.js';
import type { DayResult } from '../../src/study/day-types.js';
import { runCli, useScratchFolder, withoutRun } from '../support/cli.js';

const folder = useScratchFolder();

const SCENE = `
title: One dish
site: { name: Tarn Hollow (invented), latitude_deg: 35, longitude_deg: 12, height_m: 300, time_zone: "+02:00" }
sky: { kind: hottel }
sun: { azimuth_deg: 180, elevation_deg: 55, dni_w_m2: 850, sunshape: { kind: disc } }
films: { roll_a: { reflectance: 0.84, slope_error_mrad: 4, specularity_mrad: 1.5 } }
dishes:
  five:
    film: roll_a
    focal_length_along_row_m: 1.6
    focal_length_across_row_m: 1.6
    strips: { count: 5, width_m: 0.18, length_m: 1, gap_m: 0.02, direction: along_row, bend: parabola, bend_fit: each_strip }
    rib: flat
    design_tilt_deg: 35
    receiver:
      kind: cavity
      aperture: { shape: round, diameter_m: 0.2 }
      window: { width_m: 0.5, height_m: 0.5 }
      cells: 20
      body: null
rows: [{ name: A, dish: five, dishes: 1, pitch_m: 1.2, heading_deg: 90, centre_m: [0, 0, 1.2] }]
ground: { height_m: 0 }
`;

async function scene(name: string, text = SCENE): Promise<string> {
  await writeFile(folder.path(name), text);
  return folder.path(name);
}

const DAY = ['--date', '2026-03-20'];
const SHORT = ['--at', '11:00,13:00,15:00', '--rays', '2000'];

describe('day', () => {
  it('prints a table, the energy and cautions', async () => {
    const { code, stdout, stderr } = await runCli(['day', await scene('a.yaml'), ...DAY, ...SHORT]);
    expect({ code, stderr }).toEqual({ code: 0, stderr: '' });
    expect(stdout).toMatch(/^11:00 .*\n13:00 .*\n15:00 /m);
    expect(stdout).toMatch(/Intercepted from 11:00 to 15:00: .* kWh/);
    expect(stdout).toMatch(/clear sky by Hottel/);
    expect(stdout).toMatch(/Caution[\s\S]*parked, late or lost/);
  });

  it('draws steps in clouds as no power: under the curve lies the energy that is printed', async () => {
    const hours = ['10', '11', '12', '13', '14'].map(
      (hour) => `2026-03-20T${hour}:00,${hour === '12' ? 0 : 800}\n`,
    );
    await writeFile(folder.path('clouds.csv'), `time,dni\n${hours.join('')}`);
    const marks = 'time_marks: start, interval_minutes: 60, utc_offset: "+02:00"';
    const sky = `sky: { kind: csv, file: clouds.csv, columns: { time: time, dni_w_m2: dni }, ${marks} }`;
    const path = await scene('clouds.yaml', SCENE.replace('sky: { kind: hottel }', sky));
    const few = ['--at', '10:30,11:30,12:30,13:30,14:30', '--rays', '2000', '--receivers', 'following'];
    const result: DayResult = JSON.parse((await runCli(['day', path, ...DAY, ...few, '--json'])).stdout);
    const { hours: at, panels } = powerOf(result);
    const [{ value }] = panels[0].series;
    const area = (kept: readonly number[]) =>
      kept.slice(1).reduce((sum, i, k) => sum + ((value[i] + value[kept[k]]) / 2) * (at[i] - at[kept[k]]), 0);
    const energy = result.energy?.value ?? Number.NaN;
    expect(at).toEqual([10.5, 11.5, 12.5, 13.5, 14.5]);
    expect(area([0, 1, 2, 3, 4])).toBeCloseTo(energy, 6);
    // A line drawn over the dark step holds more.
    expect(area([0, 1, 3, 4])).toBeGreaterThan(1.3 * energy);
    expect(panels[1].series[0].value.map(Number.isFinite)).toEqual([true, true, false, true, true]);
  }, 60_000);

  it.each(['following', 'on-track'])(
    '%s: leaves its files, all listed, pictures among them',
    async (receivers) => {
      const out = folder.path(`out ${receivers}`);
      const args = [
        'day',
        await scene('a.yaml'),
        ...DAY,
        ...SHORT,
        '--receivers',
        receivers,
        '--out',
        out,
        '--json',
      ];
      const { code, stdout } = await runCli(args);
      expect(code).toBe(0);
      const document = JSON.parse(stdout);
      expect((await readdir(out)).sort()).toEqual(
        document.files.map(({ file }: { file: string }) => file).sort(),
      );
      expect(await readFile(`${out}/result.json`, 'utf8')).toBe(stdout);
      expect(await readdir(out)).toEqual(
        expect.arrayContaining(['day.csv', 'day-maps.png', 'day-power.png', 'day-spot.png', 'day-path.png']),
      );
      const [head, ...rows] = (await readFile(`${out}/day.csv`, 'utf8')).trim().split('\n');
      expect(rows).toHaveLength(3);
      expect(head).toMatch(/^[a-z0-9_,]+$/);
      const column = (name: string, row: number): number =>
        Number(rows[row].split(',')[head.split(',').indexOf(name)]);
      expect(column('intercepted_power_w', 1)).toBeCloseTo(
        document.steps[1].figures.intercepted_power.value,
        3,
      );
      expect(column('intercepted_power_std_err_w', 1)).toBeGreaterThan(0);
      expect(column('spot_holds_90_mm', 1)).toBeCloseTo(
        document.steps[1].receivers[0].spot.holds_90.value,
        3,
      );
      expect(column('from_dish_up_mm', 1)).toBeCloseTo(document.steps[1].from_dish_mm[2], 3);
      expect(document.steps[2].offset_mm[0]).toBeGreaterThan(200);
    },
  );

  it('tells the two angles of the sun to a row: at the equinox the sun keeps to one profile angle', async () => {
    const args = ['day', await scene('a.yaml'), ...DAY, ...SHORT, '--json'];
    const { steps } = JSON.parse((await runCli(args)).stdout);
    for (const { sun, solar_time_h } of steps) {
      // Declination 0: profile = 90 - latitude, longitudinal = -hour angle east of the meridian. The day's declination stays below 0.3 degrees.
      expect(Math.abs(sun.profile_deg - 55)).toBeLessThan(0.3);
      expect(Math.abs(sun.longitudinal_deg - 15 * (12 - solar_time_h))).toBeLessThan(0.3);
      const elevation = Math.asin(
        Math.cos((sun.longitudinal_deg * Math.PI) / 180) * Math.sin((sun.profile_deg * Math.PI) / 180),
      );
      expect((elevation * 180) / Math.PI).toBeCloseTo(sun.elevation_deg, 9);
    }
    // Fault: another heading of the row.
    const turned = [...args, '--set', 'rows.A.heading_deg=80'];
    const [first] = JSON.parse((await runCli(turned)).stdout).steps;
    expect(Math.abs(first.sun.profile_deg - 55)).toBeGreaterThan(1);
  });

  it('gives the same bytes with 0, 1 and 2 workers', async () => {
    const path = await scene('a.yaml');
    const documents = [];
    for (const workers of ['0', '1', '2']) {
      const args = [
        'day',
        path,
        ...DAY,
        ...SHORT,
        '--receivers',
        'following',
        '--json',
        '--workers',
        workers,
      ];
      documents.push(withoutRun((await runCli(args)).stdout));
    }
    expect(documents[1]).toBe(documents[0]);
    expect(documents[2]).toBe(documents[0]);
    const other = await runCli([
      'day',
      path,
      ...DAY,
      ...SHORT,
      '--receivers',
      'following',
      '--json',
      '--seed',
      'x',
    ]);
    expect(withoutRun(other.stdout)).not.toBe(documents[0]);
  }, 60_000);

  it('follows a path that is given', async () => {
    const args = ['day', await scene('a.yaml'), ...DAY, ...SHORT, '--receivers', 'on-track', '--json'];
    const { stdout } = await runCli([...args, '--path=-500,0,-40 0,0,0 500,0,-40']);
    const { steps } = JSON.parse(stdout);
    for (const { offset_mm } of steps) expect(offset_mm[2]).toBeCloseTo(-Math.abs(offset_mm[0]) / 12.5, 6);
    expect(steps[2].along_path_mm).toBeGreaterThan(501);
  });

  it('tells what track was fitted, in text and JSON: ends, circle or knee, and the path to give again', async () => {
    const args = ['day', await scene('a.yaml'), ...DAY, '--at', '9:00,11:00,13:00,15:00,17:00'];
    const on = [...args, '--rays', '2000', '--quiet', '--receivers', 'on-track'];
    const { stdout } = await runCli(on);
    const text = stdout.replaceAll('\n', ' ');
    expect(text).toMatch(
      /Track, from the dish's centre \(along, across, up\): arc, from -?\d+, -?\d+, -?\d+ to -?\d+, -?\d+, -?\d+ mm; \d+ mm long; radius \d+ mm about .* in the plane across the direction/,
    );
    const again = /^--path="(.*)"$/m.exec(stdout)?.[1] ?? '';
    const whole = JSON.parse((await runCli([...on, '--json'])).stdout);
    expect(whole.path.kind).toBe('arc');
    expect(whole.path.ends_mm).toEqual([whole.path_mm[0], whole.path_mm.at(-1)]);
    expect(whole.path.arc.radius_mm).toBeGreaterThan(500);
    // The path as printed carries the receiver where the track does.
    const given = JSON.parse((await runCli([...on, `--path=${again}`, '--json'])).stdout);
    expect(given.path).toMatchObject({ kind: 'given', arc: null, knee_mm: null });
    expect(Math.abs(given.energy.value / whole.energy.value - 1)).toBeLessThan(0.002);
    // Sabotage: 60 mm above it, the catch tells.
    const raised = again.replace(/,(-?\d+)(?= |$)/g, (_, up) => `,${Number(up) + 60}`);
    const off = JSON.parse((await runCli([...on, `--path=${raised}`, '--json'])).stdout);
    expect(off.energy.value / whole.energy.value).toBeLessThan(0.998);

    const knee = await runCli([...on, '--track', 'knee']);
    expect(knee.stdout.replaceAll('\n', ' ')).toMatch(
      /two straight pieces, from .* bent at -?\d+, -?\d+, -?\d+ mm/,
    );
  }, 60_000);

  it('stops at Ctrl-C with the steps that are finished', async () => {
    const args = [
      'day',
      await scene('a.yaml'),
      ...DAY,
      '--every',
      '1',
      '--rays',
      '3e4',
      '--json',
      '--workers',
      '0',
    ];
    let sent = false;
    const { code, stdout } = await runCli(args, {
      onStderr: (text, child) => {
        if (!sent && /scene ([2-9]|\d\d+) of/.test(text)) sent = child.kill('SIGINT');
      },
    });
    expect(code).toBe(130);
    const document = JSON.parse(stdout);
    expect(document.interrupted).toBe(true);
    expect(document.steps.length).toBeGreaterThan(0);
  }, 60_000);

  it.each<readonly [string, readonly string[], RegExp, string]>([
    ['no date', [], /required option '--date/, SCENE],
    ['no such date', ['--date', '2026-02-30'], /there is no day "2026-02-30"/, SCENE],
    ['no such clock', [...DAY, '--zone', 'Mars'], /there is no such clock/, SCENE],
    ['no such time', [...DAY, '--at', '25:00'], /clock times separated by commas/, SCENE],
    ['sun too low', [...DAY, '--at', '5:00'], /below 5 degrees at 05:00/, SCENE],
    ['sun never so high', [...DAY, '--above', '80'], /does not stand above 80 degrees/, SCENE],
    ['polar night', ['--date', '2026-12-21', '--set', 'site.latitude_deg=80'], /polar night/, SCENE],
    ['path without a track', [...DAY, '--path', '0,0,0 1,0,0'], /go with '--receivers on-track'/, SCENE],
    [
      'path of one point',
      [...DAY, '--receivers', 'on-track', '--path', '0,0,0'],
      /two different points/,
      SCENE,
    ],
    ['no such receiver', [...DAY, '--of', 'B-1'], /there is no receiver "B-1"; nearest: A-1/, SCENE],
    ['no site', DAY, /has no site/, SCENE.replace(/^(site|sky):.*\n/gm, '')],
    [
      'no weather file',
      DAY,
      /cannot read the weather file .*none\.epw: there is no such file/,
      SCENE.replace('{ kind: hottel }', '{ kind: epw, file: none.epw }'),
    ],
  ])('%s: exit code 2 and why', async (name, args, message, text) => {
    const path = await scene(`${name}.yaml`, text);
    const { code, stdout, stderr } = await runCli(['day', path, ...args]);
    expect(stderr).toMatch(message);
    expect(stderr).not.toMatch(/fault in rowfocus/);
    expect({ code, stdout }).toEqual({ code: 2, stdout: '' });
  });
});

describe('track', () => {
  const SOME = ['--dates', '2026-03-20,2026-06-21', '--every', '60', '--above', '40', '--rays', '4000'];

  it('tells the clock on each date that shares a table: the sun is early on one, late on the other', async () => {
    const dates = ['--dates', '2026-04-21,2026-08-21', '--every', '60', '--above', '60', '--rays', '2000'];
    const out = folder.path('dates');
    const args = ['track', await scene('a.yaml'), ...dates, '--json', '--out', out];
    const { seasons, rows } = JSON.parse((await runCli(args)).stdout);
    expect(seasons).toHaveLength(1);
    const noon = rows.find(({ solar_time }: { solar_time: string }) => solar_time === '12:00');
    expect(noon.clock_on_dates).toEqual(seasons[0].clock_at_solar_noon);
    expect(noon.clock).toBe(noon.clock_on_dates[0]);
    // The equation of time differs by 4 to 5 minutes between these dates.
    const [first, second] = noon.clock_on_dates.map((clock: string) => Number(clock.slice(3)));
    expect(second - first).toBeGreaterThanOrEqual(4);
    expect(second - first).toBeLessThanOrEqual(5);
    const csv = await readFile(`${out}/track.csv`, 'utf8');
    expect(csv).toContain(`2026-04-21 ${noon.clock_on_dates[0]}; 2026-08-21 ${noon.clock_on_dates[1]}`);
  });

  it('leaves no hour out of the table for clouds of its date in a weather file', async () => {
    const weather = 'time,dni\n2026-03-20T00:00,0\n2026-03-20T01:00,0\n';
    await writeFile(folder.path('overcast.csv'), weather);
    const marks = 'time_marks: start, interval_minutes: 60, utc_offset: "+00:00"';
    const sky = `sky: { kind: csv, file: overcast.csv, columns: { time: time, dni_w_m2: dni }, ${marks} }`;
    const overcast = await scene('overcast.yaml', SCENE.replace('sky: { kind: hottel }', sky));
    const noon = ['--dates', '2026-03-20', '--every', '60', '--above', '50', '--rays', '2000', '--json'];
    const rowsOf = async (path: string) => JSON.parse((await runCli(['track', path, ...noon])).stdout);
    const [clear, clouded] = [await rowsOf(await scene('a.yaml')), await rowsOf(overcast)];
    const times = ({ rows }: { rows: { solar_time: string }[] }) => rows.map((row) => row.solar_time);
    expect(times(clear)).toContain('12:00');
    expect(times(clouded)).toEqual(times(clear));
    expect(clear.sky).not.toMatch(/in place of weather/);
    expect(clouded.sky).toMatch(/^clear sky by Hottel.*in place of weather$/);
  }, 60_000);

  it('prints the table, what tracing again has shown, and tracks; leaves its files', async () => {
    const out = folder.path('track');
    const { code, stdout } = await runCli(['track', await scene('a.yaml'), ...SOME, '--out', out]);
    expect(code).toBe(0);
    expect(stdout).toMatch(/20 Mar: declination .* noon by the sun at 13:1\d by the clock/);
    expect(stdout).toMatch(/^12:00 +13:1\d /m);
    expect(stdout).toMatch(/Traced again at all \d+ places: the worst catches [\d.]+/);
    expect(stdout).toMatch(/^all seasons +arc /m);
    const files = await readdir(out);
    expect(files).toEqual(
      expect.arrayContaining([
        'track.csv',
        'tracks.csv',
        'track-sheet-1.png',
        'track-path.png',
        'result.json',
      ]),
    );
    const { rows } = JSON.parse(await readFile(`${out}/result.json`, 'utf8'));
    expect((await readFile(`${out}/track.csv`, 'utf8')).trim().split('\n')).toHaveLength(rows.length + 1);
    // Printed as whole millimetres, traced as printed.
    for (const { offset_mm } of rows) for (const mm of offset_mm) expect(Number.isInteger(mm)).toBe(true);
  }, 60_000);

  it.each<readonly [string, readonly string[], RegExp]>([
    ['no such date', ['--dates', '2026-03-20,2026-13-01'], /there is no day "2026-13-01"/],
    ['a date twice', ['--dates', '2026-03-20,2026-03-20'], /given twice/],
    ['a year out of range', ['--year', '1900'], /1950 to 2099/],
    ['polar night', ['--dates', '2026-12-21', '--set', 'site.latitude_deg=80'], /polar night/],
  ])('%s: exit code 2 and why', async (_, args, message) => {
    const { code, stdout, stderr } = await runCli(['track', await scene('a.yaml'), ...args]);
    expect(stderr).toMatch(message);
    expect({ code, stdout }).toEqual({ code: 2, stdout: '' });
  });
});
