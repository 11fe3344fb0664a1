/** Proportions of a dish: the ratio of focal lengths that takes the astigmatism away, and gains that are no noise. */
import { describe, expect, test } from 'vitest';
import { createTaskPool } from '../../src/run/pool.js';
import { sunAtAngles } from '../../src/study/optics-table-angles.js';
import { type NodeReply, type NodeTask, traceNodes } from '../../src/study/optics-table-node.js';
import { standsFree } from '../../src/study/rows-study.js';
import {
  type DesignAxis,
  type DesignPoint,
  type DesignStudy,
  designCurve,
  flatRange,
  studyDesign,
  withDesign,
} from '../../src/study/season-design.js';
import { samplePlaces } from '../../src/study/season-sample.js';
import type { SunPoint } from '../../src/study/season-sun.js';
import { DEGREE, demoScene } from './scenes.js';

/** A dish of many fine strips without errors and a small opening: what it catches tells how sharp its image is. */
const SHARP = demoScene('one-dish', [
  'dishes.seven.strips.count=31',
  'dishes.seven.strips.width_m=0.01',
  'dishes.seven.strips.length_m=0.4',
  'dishes.seven.strips.gap_m=0.001',
  'films.roll_a.slope_error_along_mrad=0.1',
  'films.roll_a.slope_error_across_mrad=0.1',
  'films.roll_a.specularity_mrad=0',
  'sun.sunshape={kind: disc, half_angle_mrad: 0.5}',
  'dishes.seven.receiver.aperture.diameter_m=0.02',
  'dishes.seven.receiver.body=null',
]);

async function studyAt(
  offAxis: number,
  values: readonly number[],
  scene = SHARP,
  axis: DesignAxis = 'ratio',
): Promise<DesignStudy> {
  const pool = createTaskPool<NodeTask, NodeReply>(0, { name: 'optics', runTask: traceNodes });
  const tilt = scene.dishes[0].designTilt;
  const sun = sunAtAngles(Math.PI / 2, { longitudinal: offAxis * DEGREE, profile: Math.PI / 2 - tilt });
  const study = await studyDesign(scene, axis, values, {
    mode: { kind: 'following' },
    places: [{ sun, energy: 1 }],
    seed: 'ratio',
    rays: 2 ** 14,
    pool,
  });
  await pool.close();
  return study;
}

describe('OAX-04 astigmatism goes at the ratio 1 / cos^2 i (closed form)', () => {
  test.each([
    [20, 1.132474],
    [30, 1.333333],
    [40, 1.704088],
  ])('%d degrees off the axis along the row: %f', async (offAxis, ratio) => {
    // Steps of 4 %: the neighbours of the truth must catch less.
    const study = await studyAt(
      offAxis,
      [0.92, 0.96, 1, 1.04, 1.08].map((step) => step * ratio),
    );
    expect(study.best).toBeCloseTo(ratio, 6);
    expect(study.gain_is_sure).toBe(true);
    const [low, , , , high] = study.points.map(({ caught_fraction }) => caught_fraction.value);
    // Sabotage: a ratio 8 % off is seen to be worse.
    expect(Math.max(low, high)).toBeLessThan(0.97 * study.points[2].caught_fraction.value);
  });
});

describe('strip width', () => {
  // Flat across, without errors, under a sun without width: strips of width w make one image about as wide.
  const FLAT = demoScene('one-dish', [
    'dishes.seven.strips.count=5',
    'dishes.seven.strips.length_m=0.2',
    'dishes.seven.focal_length_along_row_m=4',
    'dishes.seven.focal_length_across_row_m=4',
    'films.roll_a.slope_error_along_mrad=0',
    'films.roll_a.slope_error_across_mrad=0',
    'films.roll_a.specularity_mrad=0',
    'sun.sunshape={kind: point}',
    'dishes.seven.receiver.aperture={shape: rectangle, width_m: 0.1, height_m: 0.05}',
    'dishes.seven.receiver.body=null',
  ]);

  test('an opening narrower than the strips takes its share of their image (closed form)', async () => {
    const study = await studyAt(0, [40, 100, 200], FLAT, 'strip_width');
    const [narrow, twice, four] = study.points.map(({ caught_fraction }) => caught_fraction.value);
    expect(study.own).toBeCloseTo(140, 9);
    expect(study.best).toBe(40);
    // Opening 50 mm: all of 40 mm, half of 100, a quarter of 200; outer strips see the opening at a slant of some degrees.
    expect(Math.abs(twice / narrow - 0.5)).toBeLessThan(0.02);
    expect(Math.abs(four / narrow - 0.25)).toBeLessThan(0.015);
    // Fault: strips 10 % wider than said.
    const wider = await studyAt(0, [40, 110], FLAT, 'strip_width');
    expect(
      Math.abs(wider.points[1].caught_fraction.value / wider.points[0].caught_fraction.value - 0.5),
    ).toBeGreaterThan(0.02);
  });

  test('the dish grows with its strips; number and gaps stay', () => {
    const [{ strips }] = withDesign(demoScene('one-dish'), 'strip_width', 200).dishes;
    const [{ strips: before }] = demoScene('one-dish').dishes;
    expect(strips).toEqual({ ...before, width: 0.2 });
  });

  test('dishes that grow into the next row are seen', () => {
    const rows = demoScene('day-row', ['rows.A.rows=2', 'rows.A.row_spacing_m=1.5']);
    expect(standsFree(rows)).toBe(true);
    // Seven strips of 0.24 m and gaps lie 1.48 m deep in plan; of 0.26 m, 1.6 m.
    expect(standsFree(withDesign(rows, 'strip_width', 240))).toBe(true);
    expect(standsFree(withDesign(rows, 'strip_width', 260))).toBe(false);
    expect(standsFree(withDesign(demoScene('day-row'), 'strip_width', 260))).toBe(true);
  });
});

test('no gain where there is none: the scene against itself', async () => {
  const study = await studyAt(25, [1]);
  expect(study.fresh_gain_fraction!.value).toBe(0);
  expect(study.gain_is_sure).toBe(false);
});

test('strips are cut from the same aperture', () => {
  const scene = demoScene('one-dish');
  const [{ strips: before }] = scene.dishes;
  const [{ strips: after }] = withDesign(scene, 'strips', 10).dishes;
  const across = ({ count, width, gap }: typeof before) => count * width + (count - 1) * gap;
  expect(after.count).toBe(10);
  expect(across(after)).toBeCloseTo(across(before), 12);
});

test('sample places hold all energy, in the middle of their bands', () => {
  const points = Array.from({ length: 2000 }, (_, i): SunPoint => {
    const sun = sunAtAngles(Math.PI / 2, {
      longitudinal: Math.sin(i) * 1.2,
      profile: 1 + 0.5 * Math.cos(7 * i),
    });
    return { time: i, sun, energy: 1 + (i % 3), seconds: 1, day: 0, month: 0 };
  });
  const places = samplePlaces(points, Math.PI / 2);
  const energy = (all: readonly { readonly energy: number }[]) =>
    all.reduce((sum, one) => sum + one.energy, 0);
  expect(places.length).toBe(45);
  expect(energy(places)).toBeCloseTo(energy(points), 6);
  for (const place of places) expect(place.energy).toBeLessThan((1.1 * energy(points)) / 45);
});

/** Designs that catch so much. */
function pointsOf(values: readonly number[], caught: (value: number) => number): DesignPoint[] {
  const figure = (value: number) => ({ value, std_err: 0, ci95: [value, value] as const, unit: '1' });
  return values.map((value) => ({
    value,
    caught_fraction: figure(caught(value)),
    gain_fraction: figure(0),
  }));
}

describe('the flat range', () => {
  const values = [0.8, 1, 1.2, 1.4, 1.6];
  /** A parabola through 0.6 at its top, 1.2. */
  const parabola = (value: number) => 0.6 * (1 - 0.5 * (value - 1.2) ** 2);
  // Closed form: the loss 0.5 d^2 is 1 % at d = sqrt(0.02).
  const reach = Math.sqrt(0.02);

  test('of a known parabola, to the last digits', () => {
    const { flat, seen } = flatRange(pointsOf(values, parabola));
    expect(flat[0]).toBeCloseTo(1.2 - reach, 9);
    expect(flat[1]).toBeCloseTo(1.2 + reach, 9);
    expect(seen).toEqual([true, true]);
    // Sabotage: straight lines between the points see 0.1 (the loss is 2 % at 0.2), which this must tell apart.
    expect(flat[1] - 1.2).toBeGreaterThan(0.1 + 0.03);
  });

  test('ends with those tried where the loss stays small', () => {
    const { flat, seen } = flatRange(pointsOf([1.1, 1.2, 1.3, 1.6], parabola));
    expect(flat[0]).toBe(1.1);
    expect(flat[1]).toBeCloseTo(1.2 + reach, 9);
    expect(seen).toEqual([false, true]);
    expect(flatRange(pointsOf([1], parabola)).flat).toEqual([1, 1]);
  });

  test('the curve of the picture goes through the designs, rising in their value', () => {
    const curve = designCurve(pointsOf(values, parabola));
    for (const [value, caught] of curve) expect(caught).toBeCloseTo(parabola(value), 12);
    expect(curve.every(([value], i) => i === 0 || value > curve[i - 1][0])).toBe(true);
    expect(curve[curve.length - 1][0]).toBe(1.6);
  });
});
