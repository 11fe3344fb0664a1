/** Texts of sweeps and comparisons: what stands below the tables. */
import { describe, expect, it } from 'vitest';
import { comparePanel, compareText } from '../../src/cli/compare-report.js';
import { sweepMap, sweepText } from '../../src/cli/sweep-report.js';
import type { Figure, FluxGrid } from '../../src/result/types.js';
import type { CompareResult, SweepPoint, SweepResult } from '../../src/study/types.js';
import { CAVITY, receiverOf, traceResultOf } from '../support/synthetic-result.js';

const CHANNEL = { colour: false, columns: 100 };

function peak(value: number): Figure {
  return { value, std_err: 0.1, ci95: [value - 0.2, value + 0.2], unit: 'kW/m2' };
}

function sweepOf(peaks: readonly number[]): SweepResult {
  const point = (value: number, index: number): SweepPoint => ({
    values: [index, 2 * (index % 2)],
    scene_hash: '0',
    rays: 1024,
    batches: 32,
    groups: 32,
    figures: { peak_flux: peak(value) },
    differences: {},
  });
  return {
    schema_version: 1,
    program: { name: 'rowfocus', version: '0' },
    kind: 'sweep',
    title: 'Invented',
    seed: 's',
    vary: [
      { path: 'a', values: [0, 1] },
      { path: 'b', values: [0, 2] },
    ],
    figures: ['peak_flux'],
    points: peaks.map(point),
    requirement: null,
    tolerances: [],
    interrupted: false,
    warnings: [],
  };
}

function comparisonOf(peaks: readonly number[]): CompareResult {
  const scene = (value: number) => ({
    name: 'a.yaml',
    title: 'Invented',
    scene_hash: '0',
    seed: 's',
    rays: 1024,
    batches: 32,
    groups: 32,
    figures: { peak_flux: peak(value) },
  });
  return {
    schema_version: 1,
    program: { name: 'rowfocus', version: '0' },
    kind: 'compare',
    scenes: peaks.map(scene),
    figures: ['peak_flux'],
    differences: peaks.slice(1).map(() => ({ scene: 'a.yaml', base: 'a.yaml', figures: {} })),
    warnings: [],
  };
}

describe('cautions below a sweep and a comparison', () => {
  it.each([
    ['one hot point among cold ones', [1, 40], true],
    ['all at or below 4 kW/m2', [1, 4], false],
  ] as const)('%s', (_, peaks, cautioned) => {
    const texts = [
      sweepText(sweepOf(peaks), ['peak_flux'], true, CHANNEL),
      compareText(comparisonOf(peaks), false, CHANNEL),
    ];
    for (const text of texts) {
      expect(text.includes('Caution')).toBe(cautioned);
      expect(text.includes('licensed practice')).toBe(cautioned);
    }
  });
});

describe('the picture of a comparison', () => {
  it('quotes the peak that the table has, with the map of the hottest receiver', () => {
    const receivers = ['A-1', 'A-2', 'A-3'].map((name) => receiverOf({ ...CAVITY, name }));
    const result = traceResultOf('x', receivers);
    const total = { ...result.total, peak_receiver: receivers[1].name, peak_flux: peak(11) };
    const grids = receivers.map(({ name }) => ({ receiver: name }) as FluxGrid);
    const panel = comparePanel('a.yaml', { result: { ...result, total }, grids, replicates: {} });
    expect(panel?.receiver).toMatchObject({ name: receivers[1].name, peak_flux: peak(11) });
    expect(panel?.grid.receiver).toBe(receivers[1].name);
  });
});

describe('the text of a sweep of two', () => {
  const grid = (): SweepResult => {
    const sweep = sweepOf([1, 2, 3, 4]);
    const values = [
      [0, 0],
      [0, 2],
      [1, 0],
      [1, 2],
    ];
    return { ...sweep, points: sweep.points.map((point, i) => ({ ...point, values: values[i] })) };
  };

  it('is a table with the first key down and the second across', () => {
    const text = sweepText(grid(), ['peak_flux'], true, CHANNEL);
    expect(text).toContain('down:   a\nacross: b\n\npeak flux / kW/m²\n');
    expect(text).toMatch(
      /^ +0 +2\n0 {2}1\.00 ± 0\.20 {2}2\.00 ± 0\.20\n1 {2}3\.00 ± 0\.20 {2}4\.00 ± 0\.20$/m,
    );
  });

  it('is a list of points where that table would not fit', () => {
    const text = sweepText(grid(), ['peak_flux'], true, { colour: false, columns: 25 });
    expect(text).toMatch(/^0 +2 +2\.00 ± 0\.20$/m);
  });
});

describe('the map of a sweep of two', () => {
  it('says on which side the requirement is met, and hands on the errors for the digits', () => {
    const requirement = { text: 'x', figure: 'peak_flux', relation: '>=', bound: 2 } as const;
    const map = sweepMap({ ...sweepOf([1, 2]), requirement }, 'peak_flux', true);
    expect(map.requirement?.label).toBe('peak flux at least 2: met on the brighter side');
    expect(map.halfWidth?.[0][0]).toBeCloseTo(0.2, 9);
  });

  it('states the largest error of its values', () => {
    expect(sweepMap(sweepOf([1, 2]), 'peak_flux', true).subtitle).toContain('± 0.2 kW/m² at most (95 %)');
  });
});
