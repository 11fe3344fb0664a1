import { describe, expect, it } from 'vitest';
import { figureColumns, fluxCsv, interceptCurveCsv, neutralCell, toCsv } from '../../src/report/csv.js';
import { toJsonDocument } from '../../src/report/json.js';
import { CAVITY, cavityGrid, HOSTILE_NAME, receiverOf, traceResultOf } from '../support/synthetic-result.js';

const ESCAPE = String.fromCodePoint(0x1b);

describe('flux CSV', () => {
  it('comes back as the same map, positions and all', () => {
    const grid = cavityGrid();
    const lines = fluxCsv(grid).trimEnd().split('\n');
    expect(lines[0]).toBe('u_mm,v_mm,flux_kw_m2,std_err_kw_m2');
    const rows = lines.slice(1).map((line) => line.split(',').map(Number));
    expect(rows.length).toBe(grid.nu * grid.nv);
    const wrong = rows.filter(([u, v, flux, error], cell) => {
      const expectedU = ((cell % grid.nu) + 0.5) * 6 - 180;
      const expectedV = (Math.floor(cell / grid.nu) + 0.5) * 6 - 180;
      // Eight digits are kept.
      const close = (found: number, wanted: number): boolean =>
        Math.abs(found - wanted) <= 1e-7 * Math.abs(wanted);
      return !(
        close(u, expectedU) &&
        close(v, expectedV) &&
        close(flux, grid.flux[cell]) &&
        close(error, grid.stdErr[cell])
      );
    });
    expect(wrong).toEqual([]);
  });
});

describe('CSV text', () => {
  it('names the columns of a figure as keys with their unit, and lets no unit go untold', () => {
    expect(figureColumns('peak_flux', 'kW/m2')).toEqual(['peak_flux_kw_m2', 'peak_flux_std_err_kw_m2']);
    expect(figureColumns('spot.holds_90', 'mm')).toEqual(['spot_holds_90_mm', 'spot_holds_90_std_err_mm']);
    expect(figureColumns('spill_fraction', '1')).toEqual(['spill_fraction', 'spill_fraction_std_err']);
    expect(() => figureColumns('speed', 'knots')).toThrow(RangeError);
  });

  it.each(['=1+1', '+1', '-1', '@x', ' =1', `=cmd|' /C calc'!A0`, '＝1'])('neutralises %j', (text) => {
    expect(neutralCell(text).startsWith("'")).toBe(true);
  });

  it('leaves numbers and plain names alone, and quotes what needs it', () => {
    expect(
      toCsv(
        ['a', 'b'],
        [
          [-1.5, 'A1-04'],
          [0, 'x, "y"'],
        ],
      ),
    ).toBe('a,b\n-1.5,A1-04\n0,"x, ""y"""\n');
    expect(() => toCsv(['a'], [[Number.NaN]])).toThrow(RangeError);
  });

  it('carries hostile names harmlessly', () => {
    const text = interceptCurveCsv(traceResultOf('x', [receiverOf({ ...CAVITY, name: HOSTILE_NAME })]));
    expect(text).not.toContain(ESCAPE);
    expect(text.split('\n')[1].startsWith(`"'=cmd`)).toBe(true);
  });
});

describe('JSON document', () => {
  const result = traceResultOf(HOSTILE_NAME, [receiverOf(CAVITY)]);
  const files = [{ what: 'flux_map', receiver: 'A1-04', file: 'A1-04-flux.png' }];

  it('has the machine part last and nowhere else', () => {
    const one = toJsonDocument(result, files, { wall_time_s: 1.5, workers: 1 });
    const two = toJsonDocument(result, files, { wall_time_s: 9.25, workers: 8 });
    const parsed = JSON.parse(one);
    expect(Object.keys(parsed).at(0)).toBe('schema_version');
    expect(Object.keys(parsed).at(-1)).toBe('run');
    const cut = (text: string): string => text.slice(0, text.indexOf('\n  "run"'));
    expect(cut(one)).toBe(cut(two));
    expect(cut(one).length).toBeGreaterThan(1000);
    const { files: listed, run, ...rest } = parsed;
    expect(rest).toEqual(result);
    expect(listed).toEqual(files);
    expect(run).toEqual({ wall_time_s: 1.5, workers: 1 });
  });

  it('does not depend on the order in which keys were made', () => {
    const turned = (value: unknown): unknown =>
      Array.isArray(value)
        ? value.map(turned)
        : value !== null && typeof value === 'object'
          ? Object.fromEntries(
              Object.entries(value)
                .reverse()
                .map(([key, entry]) => [key, turned(entry)]),
            )
          : value;
    const run = { wall_time_s: 1, workers: 1 };
    expect(toJsonDocument(turned(result) as object, files, run)).toBe(toJsonDocument(result, files, run));
  });

  it.each([Number.NaN, Number.POSITIVE_INFINITY])('refuses %d and names its place', (bad) => {
    const broken = { ...result, sun: { ...result.sun, dni_w_m2: bad } };
    expect(() => toJsonDocument(broken, [], { wall_time_s: 1, workers: 1 })).toThrow('result.sun.dni_w_m2');
  });

  it('holds no control character but its own line feeds', () => {
    const text = toJsonDocument(
      { ...result, title: `${HOSTILE_NAME}${String.fromCodePoint(0x9b)}31m${String.fromCodePoint(0x7f)}` },
      [],
      { wall_time_s: 1, workers: 1 },
    );
    expect(/\p{Cc}/u.test(text.replaceAll('\n', ''))).toBe(false);
    expect(JSON.parse(text).title).toContain(String.fromCodePoint(0x9b));
  });
});
