/** Tables and pictures of studies of a year, from results made up here. */
import { describe, expect, test } from 'vitest';
import { datesCsv, endWarnings, type StudiedWay } from '../../src/cli/season-resetting-text.js';
import { drawHourMap } from '../../src/report/season-hours.js';
import { studyResettings } from '../../src/study/resetting-study.js';
import type { SettingTable } from '../../src/study/setting-table.js';

/** Two halves of a year of 12 days, each best at its own tilt. */
function wayWith(tilts: readonly number[], first: number, second: number): StudiedWay {
  const table: SettingTable = {
    kind: { name: 'tilt setting', unit: 'deg' },
    settings: tilts.map((value) => ({ label: `${value} deg`, value })),
    days: 12,
    energy_kwh: Float64Array.from({ length: 12 * tilts.length }, (_, i) => {
      const best = Math.floor(i / tilts.length) < 6 ? first : second;
      return 10 - Math.abs(tilts[i % tilts.length] - best) / 10;
    }),
  };
  const study = studyResettings(table, { most: 2 });
  return { kind: 'tilt', made: { table, traced: 0, bound: 0, shared: true }, study };
}

describe('re-settings', () => {
  test('dates carry the setting as a number, below nought too', () => {
    const [header, ...rows] = datesCsv([wayWith([-24, -9, 0, 9, 24], -9, 9)])
      .trim()
      .split('\n');
    const at = header.split(',').indexOf('tilt_deg');
    expect(rows.map((row) => Number(row.split(',')[at])).sort((a, b) => a - b)).toEqual([-9, 9]);
    expect(rows.join('\n')).not.toContain("'");
  });

  test('a plan that takes the end of the settings tried is told, one that does not is not', () => {
    const [warning] = endWarnings([wayWith([-9, 0, 9, 24], -9, 9).study]);
    expect(warning.message).toMatch(/tilt setting -9 deg, the end of those tried/);
    expect(endWarnings([wayWith([-24, -9, 0, 9, 24], -9, 9).study])).toEqual([]);
  });
});

describe('hours and months', () => {
  const map = {
    title: 'Shading',
    subtitles: [],
    xLabel: 'hour',
    hours: [11, 12],
    rows: ['Jan', 'Feb'],
    value: [
      [1.5, null],
      [2.5, 3.5],
    ],
    valueLabel: '%',
  };

  test('January on top, a number in each cell that has one', () => {
    const { svg } = drawHourMap(map);
    const height = (name: string) => Number(new RegExp(`y="([\\d.]+)"[^>]*>${name}<`).exec(svg)?.[1]);
    expect(height('Jan')).toBeLessThan(height('Feb'));
    for (const number of ['1.5', '2.5', '3.5']) expect(svg).toContain(`>${number}<`);
  });

  test('refuses rows that do not match', () => {
    expect(() => drawHourMap({ ...map, rows: ['Jan'] })).toThrow(RangeError);
  });
});
