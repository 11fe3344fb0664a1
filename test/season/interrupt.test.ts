/** Studies of a year that are stopped: what is finished is kept, told apart from what is not, and marked everywhere. */
import { readFile } from 'node:fs/promises';
import { describe, expect, test } from 'vitest';
import { createTaskPool } from '../../src/run/pool.js';
import { type NodeReply, type NodeTask, traceNodes } from '../../src/study/optics-table-node.js';
import { studyPlaces, studySpacing } from '../../src/study/rows-study.js';
import { studyDesign } from '../../src/study/season-design.js';
import { type SampleOptions, samplePlaces } from '../../src/study/season-sample.js';
import { runCli, useScratchFolder } from '../support/cli.js';
import { demoScene, everyDay, hourlyYear } from './scenes.js';

const SCENE = demoScene('row-of-eight', ['rows.A.dishes=2']);
/** One of the year's days: some twelve sun positions. */
const PLACES = samplePlaces(everyDay(hourlyYear(SCENE), 366, 80), Math.PI / 2);
const YEAR = { value: 900, std_err: 3, ci95: [894, 906], unit: 'kWh/m2' } as const;

/** Runs a study that is asked to stop once so many sun positions are traced. */
async function stoppedAfter<T>(count: number, study: (options: SampleOptions) => Promise<T>): Promise<T> {
  const pool = createTaskPool<NodeTask, NodeReply>(0, { name: 'optics', runTask: traceNodes });
  const stop = { requested: false };
  try {
    return await study({
      mode: { kind: 'held' },
      places: PLACES,
      seed: 'stop',
      rays: 2 ** 10,
      pool,
      stop,
      onNodes: (traced) => {
        stop.requested ||= traced >= count;
      },
    });
  } finally {
    await pool.close();
  }
}

describe('what is finished when the stop comes', () => {
  const VALUES = [0.9, 1, 1.1, 1.2];

  test('designs: those done, with the same figures as in the whole study, and no fresh gain', async () => {
    const study = (options: SampleOptions) => studyDesign(SCENE, 'ratio', VALUES, options);
    const whole = await stoppedAfter(Number.POSITIVE_INFINITY, study);
    const part = await stoppedAfter(3 * PLACES.length, study);
    expect(whole.points).toHaveLength(VALUES.length);
    expect(whole.fresh_gain_fraction).not.toBeNull();
    expect(part.points.length).toBeGreaterThanOrEqual(2);
    expect(part.points).toEqual(whole.points.slice(0, part.points.length));
    expect(part).toMatchObject({ fresh_gain_fraction: null, gain_is_sure: null });
    // The one that was cut short is not among them.
    expect(part.points.length).toBeLessThan(VALUES.length);
  });

  test('nothing, where the first design was not finished', async () => {
    await expect(stoppedAfter(1, (options) => studyDesign(SCENE, 'ratio', VALUES, options))).rejects.toThrow(
      expect.objectContaining({ name: 'StudyStopped' }),
    );
  });

  test('distances and places', async () => {
    const study = (options: SampleOptions) =>
      studySpacing(SCENE, 'pitch', [1.25, 1.35, 1.5], [0, 20], YEAR, options);
    const whole = await stoppedAfter(Number.POSITIVE_INFINITY, study);
    const part = await stoppedAfter(2 * PLACES.length, study);
    expect(whole?.points).toHaveLength(3);
    expect(part?.points.length).toBeLessThan(3);
    expect(part?.points).toEqual(whole?.points.slice(0, part?.points.length));
    expect(part?.best.every(({ value_m }) => value_m < 1.5)).toBe(true);
    expect(await stoppedAfter(1, study)).toBeNull();
    expect(await stoppedAfter(1, (options) => studyPlaces(SCENE, YEAR, options))).toBeNull();
  });
});

const folder = useScratchFolder();
const QUICK = ['--sun-step', '60', '--workers', '0'];

/** Sends Ctrl-C once progress matches. */
async function interrupted(args: readonly string[], pattern: RegExp) {
  let sent = false;
  return runCli([...args, ...QUICK], {
    onStderr: (text, child) => {
      if (!sent && pattern.test(text)) sent = child.kill('SIGINT');
    },
  });
}

describe('Ctrl-C at a command', () => {
  test('dish: values done, marked in text, CSV, JSON and page', async () => {
    const [out, page] = [folder.path('dish'), folder.path('dish.html')];
    const args = ['dish', folder.scene(), '--vary', 'ratio=0.8:1.39:0.01', '--rays', '20000'];
    const { code, stdout } = await interrupted(
      [...args, '--out', out, '--report', page],
      // The scene itself and the first value are done.
      /(^|\D)(9\d|\d{3,}) sun positions traced/,
    );
    expect(code).toBe(130);
    expect(stdout).toMatch(/Interrupted: only the \d+ of 60 values that were finished are given/);
    const [head, ...rows] = (await readFile(`${out}/dish.csv`, 'utf8')).trim().split('\n');
    expect(head).toMatch(/,interrupted$/);
    for (const row of rows) expect(row).toMatch(/,yes$/);
    const result = JSON.parse(await readFile(`${out}/result.json`, 'utf8'));
    expect(result.interrupted).toBe(true);
    expect(result.study.points).toHaveLength(rows.length);
    expect(await readFile(page, 'utf8')).toContain('Interrupted: only the');
  }, 120_000);

  test('rows: the year and what is done of the distances', async () => {
    const out = folder.path('rows');
    const args = ['rows', folder.scene(), '--pitch', '1.3:2.08:0.02', '--rays', '20000'];
    const { code, stdout } = await interrupted(
      [...args, '--set', 'rows.A.dishes=2', '--receivers', 'held', '--to', '50%', '--out', out],
      /distances: /,
    );
    expect(code).toBe(130);
    expect(stdout).toMatch(/Interrupted: (none|only \d+) of 40 distances w/);
    const result = JSON.parse(await readFile(`${out}/result.json`, 'utf8'));
    expect(result).toMatchObject({ interrupted: true, places: null });
    expect(result.hours.total.caught_per_m2.value).toBeGreaterThan(0);
  }, 120_000);

  test('re-settings: the plans made, not yet traced with fresh rays', async () => {
    const out = folder.path('resettings');
    // Rays enough that progress, told every ten seconds, is told of the traces; recorded light takes none of them.
    const args = ['season', folder.scene(), '--resettings', '2', '--settings=-6:6:3', '--rays', '3e6'];
    const { code, stdout } = await interrupted(
      [...args, '--move', 'along', '--reset', 'tilt', '--out', out],
      /checking with fresh rays: plans/,
    );
    expect(code).toBe(130);
    expect(stdout).toMatch(/Interrupted: tilt setting: plans were not traced with fresh rays/);
    expect(stdout).toMatch(/Read on parts of the rays that the plans were not made on/);
    expect(stdout).toMatch(/no traces have told how far off that is/);
    for (const name of ['resettings', 'resetting-dates', 'resetting-energy', 'resetting-late']) {
      const [head, first] = (await readFile(`${out}/${name}.csv`, 'utf8')).split('\n');
      expect(head).toMatch(/,interrupted$/);
      expect(first).toMatch(/,yes$/);
    }
    const result = JSON.parse(await readFile(`${out}/result.json`, 'utf8'));
    expect(result.interrupted).toBe(true);
    expect(result.ways[0]).toMatchObject({ recorded_light_level: null, table_error_bound_fraction: null });
  }, 120_000);

  test('re-settings: the ways done', async () => {
    const args = [
      'season',
      folder.scene(),
      '--resettings',
      '2',
      '--rays',
      '1000',
      '--move',
      'along',
      '--settings=-60:60:60',
    ];
    const { code, stdout, stderr } = await interrupted(
      [...args, '--reset', 'across'],
      /receivers across the row: [1-9]/,
    );
    expect(code).toBe(130);
    expect(stdout).toBe('');
    expect(stderr).toMatch(/Interrupted before one way was finished; there is nothing to report/);
  }, 120_000);

  test('nothing to keep is told in a sentence', async () => {
    const args = ['dish', folder.scene(), '--vary', 'ratio=0.9:1.1:0.1', '--rays', '1e6'];
    const { code, stdout, stderr } = await interrupted(args, /(^|\D)[1-9]\d? sun positions traced/);
    expect(code).toBe(130);
    expect(stdout).toBe('');
    expect(stderr).toMatch(/Interrupted before the first value was finished; there is nothing to report/);
  }, 120_000);
});
