/** Tables and pictures of studies of a year, from results made up here. */
import { describe, expect, test } from 'vitest';
import {
  curves,
  datesCsv,
  endWarnings,
  energyCsv,
  type StudiedWay,
} from '../../src/cli/season-resetting-text.js';
import { drawYearCurves } from '../../src/report/season-curves.js';
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
  const made = { table, traced: 0, bound: 0, lattice: null };
  return { kind: 'tilt', made, study, level: null, bound: 0, whole: true };
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

/** The same year in `count` replicates that differ by `spread` from the first to the last, alike on all days. */
function replicatedWay(spread: number, count = 8): StudiedWay {
  const tilts = [-20, -10, 0, 10, 20];
  const { made, ...way } = wayWith(tilts, -10, 10);
  const replicates_kwh = Array.from({ length: count }, (_, part) =>
    made.table.energy_kwh.map((energy) => energy + spread * (part / (count - 1) - 0.5)),
  );
  const table: SettingTable = { ...made.table, replicates_kwh };
  return { ...way, made: { ...made, table }, study: studyResettings(table, { most: 3, fresh: table }) };
}

describe('files and picture of re-settings', () => {
  test('energy of each day at each setting, with its error, units in the keys', () => {
    const lines = energyCsv([replicatedWay(0.4)])
      .trim()
      .split('\n');
    expect(lines[0]).toBe('setting,day_of_year,month_day,tilt_deg,energy_kwh,energy_std_err_kwh');
    expect(lines).toHaveLength(1 + 12 * 5);
    const [, day, date, tilt, energy, error] = lines[7].split(',');
    expect([day, date, Number(tilt), Number(energy)]).toEqual(['2', '01-02', -10, 10]);
    // Eight equal steps over 0.4: standard deviation 0.4 / 7 x sqrt(6), over sqrt(8).
    expect(Number(error)).toBeCloseTo(((0.4 / 7) * Math.sqrt(6)) / Math.sqrt(8), 6);
    // Fault: replicates twice as far apart.
    const [, , , , , other] = energyCsv([replicatedWay(0.8)])
      .split('\n')[7]
      .split(',');
    expect(Number(other)).toBeCloseTo(2 * Number(error), 6);
  });

  test('a table without errors leaves them empty', () => {
    expect(energyCsv([wayWith([-9, 0, 9], -9, 9)]).split('\n')[1]).toMatch(/,$/);
  });

  test('a second plot has the worth of each further change; changes that are not made are told', () => {
    const way = replicatedWay(0.4);
    const input = curves([way], ['A row', '2026']);
    const { areas, svg } = drawYearCurves(input);
    expect(areas).toHaveLength(2);
    expect(svg).toContain('worth of the last one / kWh a year');
    const [bars] = input.steps?.bars ?? [];
    expect(bars.x).toEqual([1, 2, 3]);
    expect(bars.text[0]).toBe('none');
    expect(bars.y[1]).toBeCloseTo(way.study.resettings[2].checkedGain.value, 9);
    // Day by day the replicates move alike, so the gain is far surer than the energy.
    expect(bars.halfWidth[1]).toBeLessThan(0.01 * input.curves[0].halfWidth[2]);
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
