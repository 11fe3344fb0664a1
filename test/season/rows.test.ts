/** Distances of rows and dishes, and dishes by their place, set against the one year of the scene's own distances. */
import { expect, test } from 'vitest';
import { createTaskPool } from '../../src/run/pool.js';
import { type NodeReply, type NodeTask, traceNodes } from '../../src/study/optics-table-node.js';
import { landPerMirror, ownSpacing, studyPlaces, studySpacing } from '../../src/study/rows-study.js';
import { type SampleOptions, samplePlaces } from '../../src/study/season-sample.js';
import { demoScene, everyDay, hourlyYear } from './scenes.js';

const SCENE = demoScene('row-of-eight', ['rows.A.dishes=4']);
const PLACES = samplePlaces(everyDay(hourlyYear(SCENE), 366, 80), Math.PI / 2);

/** 95 % at 2 standard errors, to have simple numbers. */
function yearOf(value: number, std_err: number) {
  return { value, std_err, ci95: [value - 2 * std_err, value + 2 * std_err], unit: 'kWh/m2' } as const;
}

async function sampled<T>(study: (options: SampleOptions) => Promise<T | null>): Promise<T> {
  const pool = createTaskPool<NodeTask, NodeReply>(0, { name: 'optics', runTask: traceNodes });
  try {
    const found = await study({
      mode: { kind: 'following' },
      places: PLACES,
      seed: 'rows',
      rays: 2 ** 12,
      pool,
    });
    if (found === null) throw new Error('nothing asked it to stop');
    return found;
  } finally {
    await pool.close();
  }
}

test('at its own distance a scene catches what its year says, with the error of that', async () => {
  const own = ownSpacing(SCENE, 'pitch');
  const year = yearOf(800, 5);
  const { points } = await sampled((options) =>
    studySpacing(SCENE, 'pitch', [0.95 * own, own, 2 * own], [0, 10], year, options),
  );
  const [near, same, far] = points;
  expect(same.gain_fraction).toMatchObject({ value: 0, std_err: 0 });
  expect(same.caught_per_m2).toEqual(year);
  expect(same.worth_kwh_m2).toEqual([800, 800 - 10 * same.land_m2_per_m2]);
  // The others hang on it by their gain, and take its error beside their own (closed form).
  for (const { gain_fraction: gain, caught_per_m2 } of [near, far]) {
    expect(caught_per_m2.value).toBeCloseTo(800 * (1 + gain.value), 9);
    expect(caught_per_m2.std_err).toBeCloseTo(Math.hypot(5 * (1 + gain.value), 800 * gain.std_err), 9);
  }
  // Sabotage: a pitch that is quite another is told from the own one.
  expect(Math.abs(far.gain_fraction.value)).toBeGreaterThan(5 * far.gain_fraction.std_err);
});

test('dishes by their place make up the year together', async () => {
  const mean = async (value: number): Promise<number> => {
    const { classes } = await sampled((options) => studyPlaces(SCENE, yearOf(value, 5), options));
    expect(classes.map(({ dishes }) => dishes)).toEqual([2, 2]);
    return classes.reduce((sum, one) => sum + (one.dishes * one.caught_per_m2.value) / 4, 0);
  };
  expect((await mean(800)) / 800).toBeCloseTo(1, 2);
  // Sabotage: held against another year they do not.
  expect((await mean(840)) / 800).not.toBeCloseTo(1, 2);
});

test('land of a single row is as wide as its mirrors lie across it, whichever way the strips run', () => {
  // Seven strips of 0.14 m with gaps of 0.02 m, 1.2 m long: a bed of 1.1 m. The pitch is 1.35 m.
  const landOf = (way: string, rows: readonly string[] = []) =>
    landPerMirror(demoScene('row-of-eight', [`dishes.seven.strips.direction=${way}`, ...rows]));
  const offFrom = (land: number, across: number) => Math.abs((land * 7 * 0.14 * 1.2) / (across * 1.35) - 1);
  // Bent strips have some thousandths more surface than length x width.
  expect(offFrom(landOf('along_row'), 1.1)).toBeLessThan(0.01);
  expect(offFrom(landOf('across_row'), 1.2)).toBeLessThan(0.01);
  // Rows behind one another have a spacing of their own.
  expect(offFrom(landOf('along_row', ['rows.A.rows=2', 'rows.A.row_spacing_m=3']), 3)).toBeLessThan(0.01);
  // Fault: bed and length of the strips taken for each other.
  expect(offFrom(landOf('across_row'), 1.1)).toBeGreaterThan(0.05);
});
