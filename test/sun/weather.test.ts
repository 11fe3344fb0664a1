import { createHash } from 'node:crypto';
import { describe, expect, it } from 'vitest';
import type { ColumnLayout } from '../../src/scene/types.js';
import { formatWeatherErrors, parseWeather } from '../../src/sun/weather.js';
import type { Weather, WeatherError } from '../../src/sun/weather-types.js';
import { DEGREE } from './sites.js';
import { epwText, withCell } from './weather-files.js';

const HOUR = 3_600_000;
const EPW = { kind: 'epw' } as const;

function weatherOf(text: string, layout: Parameters<typeof parseWeather>[1] = EPW): Weather {
  const outcome = parseWeather(text, layout, 'tarn.epw');
  if (!outcome.ok) throw new Error(formatWeatherErrors(outcome.errors, 'tarn.epw'));
  return outcome.weather;
}

function errorsOf(text: string, layout: Parameters<typeof parseWeather>[1] = EPW): readonly WeatherError[] {
  const outcome = parseWeather(text, layout, 'tarn.epw');
  return outcome.ok ? [] : outcome.errors;
}

/** Line number of the data line with this place in the list. */
const lineOf = (index: number) => 9 + index;

describe('a file in the EPW layout', () => {
  it('is read in SI units, each hour beginning an hour before its number', () => {
    const text = epwText({ zone: 5.5 });
    const weather = weatherOf(text);
    expect(weather.start).toHaveLength(8760);
    expect(weather.start[0]).toBe(Date.parse('2019-01-01T00:00:00+05:30'));
    expect(weather.end[8759]).toBe(Date.parse('2020-01-01T00:00:00+05:30'));
    expect([weather.dni[0], weather.wind[0], weather.pressure[0]]).toEqual([500, 2.5, 96_000]);
    expect(weather.temperature[0]).toBeCloseTo(288.65, 10);
    expect(weather.place?.name).toBe('Tarn Hollow (invented)');
    expect(weather.place?.latitude).toBeCloseTo(34.5 * DEGREE, 12);
    expect(weather.place?.height).toBe(450);
    expect(weather).toMatchObject({ repeats: true, notices: [], utcOffset: 5.5 * HOUR, interval: HOUR });
    expect(weather.sha256).toBe(createHash('sha256').update(text).digest('hex'));
  });

  it('puts months of several years into one, without a gap between them', () => {
    const weather = weatherOf(epwText({ years: [2003, 1999, 2011] }));
    expect(weather.start[0]).toBe(Date.UTC(2025, 0, 1));
    expect(weather.end[8759]).toBe(Date.UTC(2026, 0, 1));
    expect(weather.notices).toEqual([]);
  });

  it('keeps a 29 February', () => {
    const weather = weatherOf(epwText({ years: [2003, 2000, 2011], leapDay: true }));
    expect(weather.start).toHaveLength(8784);
    expect(weather.start[59 * 24]).toBe(Date.UTC(2024, 1, 29));
    const own = weatherOf(epwText({ years: [2016], leapDay: true }));
    expect(own.end[8783]).toBe(Date.UTC(2017, 0, 1));
  });

  it('tells of a leap year without its leap day', () => {
    const weather = weatherOf(epwText({ years: [2016] }));
    expect(weather.notices.map(({ kind, count }) => [kind, count])).toContainEqual(['left_out', 24]);
    expect(weather.notices[0].text).toContain(`after line ${lineOf(59 * 24 - 1)}`);
  });

  it('fills short gaps from both sides, leaves longer ones out, and names both', () => {
    const weather = weatherOf(
      epwText({
        days: 30,
        edit: (lines) => {
          for (const index of [10, 11, 12]) lines[index] = withCell(lines[index], 15, 9999);
          lines[9] = withCell(lines[9], 15, 100);
          for (let index = 100; index < 104; index++) lines[index] = withCell(lines[index], 15, 9999);
          lines[200] = withCell(lines[200], 7, 99.9);
          lines[300] = withCell(lines[300], 22, 999);
          lines[301] = withCell(lines[301], 10, 999_999);
        },
      }),
    );
    expect(Array.from(weather.dni.slice(9, 14))).toEqual([100, 200, 300, 400, 500]);
    expect(weather.start).toHaveLength(716);
    expect(Array.from(weather.start).includes(Date.UTC(2019, 0, 5, 4))).toBe(false);
    const texts = weather.notices.map(({ text }) => text);
    expect(texts[0]).toBe(
      `3 hours of beam irradiance are missing and filled in from both sides (lines ${lineOf(10)} to ${lineOf(12)})`,
    );
    expect(texts[1]).toBe(
      `4 hours of beam irradiance are missing and left out (lines ${lineOf(100)} to ${lineOf(103)})`,
    );
    expect(texts[2]).toBe(
      `1 hour of air temperature is missing and filled in from both sides (line ${lineOf(200)})`,
    );
    expect(weather.notices).toHaveLength(5);
    expect(weather.temperature[196]).toBeCloseTo(288.65, 10);
  });

  it('names the first gaps only, and counts the rest', () => {
    const weather = weatherOf(
      epwText({
        days: 30,
        edit: (lines) => {
          for (let index = 50; index < 550; index += 50) lines[index] = withCell(lines[index], 15, '');
        },
      }),
    );
    expect(weather.notices).toHaveLength(1);
    expect(weather.notices[0].count).toBe(10);
    expect(weather.notices[0].text).toMatch(/^10 hours .*\(line 59; line 109; line 159, and 7 more gaps\)$/);
  });

  it('counts lines that are left out altogether', () => {
    const weather = weatherOf(epwText({ days: 30, edit: (lines) => lines.splice(500, 2) }));
    expect(weather.start).toHaveLength(720);
    expect(weather.notices[0]).toMatchObject({ kind: 'interpolated', count: 2 });
    expect(weather.notices[0].text).toContain(`after line ${lineOf(499)}`);
  });

  it.each([
    ['negative irradiance', 15, '-3', /-3 W\/m2 is no beam irradiance/, '15 (direct normal radiation)'],
    ['absurd irradiance', 15, '1401', /1401 W\/m2 is no beam/, '15 (direct normal radiation)'],
    ['text for a number', 15, 'high', /"high" is not a number/, '15 (direct normal radiation)'],
    ['absurd cold', 7, '-120', /is no air temperature/, '7 (dry bulb temperature)'],
    ['negative wind', 22, '-1', /is no wind speed/, '22 (wind speed)'],
    ['pressure in hPa', 10, '960', /is no air pressure/, '10 (atmospheric pressure)'],
    ['an hour 25', 4, '25', /"25" is no hour/, '4 (hour)'],
    ['a thirteenth month', 2, '13', /There is no day 2019-13-1/, '1 to 3 (date)'],
    ['a year far off', 1, '20190', /There is no day 20190-1-1/, '1 to 3 (date)'],
    ['a day too late', 3, '32', /There is no day 2019-1-32/, '1 to 3 (date)'],
  ])('refuses %s at its line and column', (_what, column, cell, message, name) => {
    const text = epwText({
      days: 5,
      edit: (lines) => lines.splice(40, 1, withCell(lines[16], column, cell)),
    });
    const [error] = errorsOf(text.replace(/\r/g, ''));
    expect(error.line).toBe(lineOf(40));
    expect(error.column).toBe(name);
    expect(error.message).toMatch(message);
  });

  it('refuses lines twice and out of order', () => {
    const twice = errorsOf(epwText({ days: 5, edit: (lines) => lines.splice(30, 0, lines[29]) }));
    expect(twice).toEqual([
      { line: lineOf(30), column: null, message: `This is the same time as in line ${lineOf(29)}.` },
    ]);
    const swapped = errorsOf(
      epwText({
        days: 5,
        edit: (lines) => {
          [lines[60], lines[61]] = [lines[61], lines[60]];
        },
      }),
    );
    expect(swapped).toEqual([
      { line: lineOf(61), column: null, message: `This is earlier than line ${lineOf(60)}.` },
    ]);
  });

  it('tells all errors at once, but not thousands', () => {
    const some = errorsOf(
      epwText({
        days: 5,
        edit: (lines) => {
          lines[3] = withCell(lines[3], 15, -1);
          lines[7] = withCell(lines[7], 7, 'warm');
        },
      }),
    );
    expect(some.map(({ line }) => line)).toEqual([lineOf(3), lineOf(7)]);
    const many = errorsOf(
      epwText({
        days: 10,
        edit: (lines) => {
          for (const [i, line] of lines.entries()) lines[i] = withCell(line, 15, -1 - i);
        },
      }),
    );
    expect(many).toHaveLength(41);
    expect(many[40].message).toBe('There are 200 more errors.');
  });

  it.each([
    ['no text at all', '', /first line is not LOCATION|no line DATA PERIODS/],
    ['something else', 'hello\nworld\n', /not a file in the EPW layout/],
    ['no data periods', 'LOCATION,a,-,-,x,0,34,5,0,10\n1,2,3\n', /no line DATA PERIODS/],
    ['no data', epwText({ days: 5, edit: (lines) => lines.splice(0) }), /holds no weather/],
    [
      'no irradiance',
      epwText({ days: 5, edit: (lines) => lines.splice(0, lines.length, withCell(lines[0], 15, 9999)) }),
      /no beam irradiance at all/,
    ],
    ['a bad latitude', epwText({ days: 1 }).replace(',34.5,', ',134.5,'), /"134.5" is no latitude/],
    [
      'two records an hour',
      epwText({ days: 1 }).replace('DATA PERIODS,1,1', 'DATA PERIODS,1,2'),
      /"2" records per hour/,
    ],
    [
      'a line cut off',
      epwText({ days: 5, edit: (lines) => lines.splice(5, 1, '2019,1,1,6,0,?,1.0') }),
      /line ends before this column/,
    ],
  ])('refuses a file with %s', (_what, text, message) => {
    const errors = errorsOf(text);
    expect(errors.map((error) => error.message).join('\n')).toMatch(message);
  });

  it('tells the same error once, with how often it comes and how far', () => {
    const found = errorsOf(
      epwText({
        days: 10,
        edit: (lines) => {
          for (const i of [3, 50, 120]) lines[i] = withCell(lines[i], 15, -9999);
          lines[60] = withCell(lines[60], 15, -9998);
          lines[61] = withCell(lines[61], 7, -9999);
        },
      }),
    );
    expect(found.map(({ line }) => line)).toEqual([lineOf(3), lineOf(60), lineOf(61)]);
    const [same, other, elsewhere] = found;
    expect(same.message).toMatch(
      new RegExp(
        `^-9999 W/m2 is no beam irradiance. If it marks a missing value: .*"missing".* So it is on 3 lines, the last of them line ${lineOf(120)}.$`,
      ),
    );
    expect(other.message).toBe('-9998 W/m2 is no beam irradiance.');
    expect(elsewhere.message).toMatch(/no air temperature/);
  });

  it('prints errors one a line', () => {
    const errors = errorsOf(
      epwText({ days: 5, edit: (lines) => lines.splice(3, 1, withCell(lines[3], 15, -1)) }),
    );
    expect(formatWeatherErrors(errors, 'tarn.epw')).toBe(
      'tarn.epw:12, column 15 (direct normal radiation): -1 W/m2 is no beam irradiance.\n  allowed: 0 to 1400 W/m2',
    );
  });
});

const COLUMNS: ColumnLayout = {
  kind: 'columns',
  columns: { time: 'time', dni: 'dni_w_m2', temperature: 'air_c', wind: null, pressure: 'hpa' },
  timeMarks: 'start',
  utcOffset: null,
  interval: 3600,
  headingLine: 1,
  delimiter: ',',
  missing: [-999],
};
const TABLE = [
  'time,air_c,dni_w_m2,hpa,note',
  '2026-06-21T10:00:00Z,20,700,960,a',
  '2026-06-21T11:00:00Z,21,750,961,"quoted, with comma"',
  '2026-06-21T12:00:00Z,22,-999,961,',
  '2026-06-21T13:00:00Z,23,710,,',
].join('\n');

describe('a table of declared columns', () => {
  it('is read by heading, in any order', () => {
    const weather = weatherOf(TABLE, COLUMNS);
    expect(Array.from(weather.dni)).toEqual([700, 750, 730, 710]);
    expect(weather.start[0]).toBe(Date.UTC(2026, 5, 21, 10));
    expect(weather.temperature[3]).toBeCloseTo(296.15, 10);
    expect(weather.pressure[1]).toBe(96_100);
    expect(weather.wind.every(Number.isNaN)).toBe(true);
    expect(weather).toMatchObject({ place: null, repeats: false });
    expect(weather.notices.map(({ kind }) => kind)).toEqual(['interpolated', 'other_values']);
  });

  it.each([
    ['start', 0],
    ['middle', 30],
    ['end', 60],
  ] as const)('takes the time as the %s of its interval', (timeMarks, minutes) => {
    const weather = weatherOf(TABLE, { ...COLUMNS, timeMarks });
    expect(weather.start[0]).toBe(Date.UTC(2026, 5, 21, 10) - minutes * 60_000);
  });

  it('takes times without an offset by that of the scene, and refuses them without', () => {
    const bare = TABLE.replaceAll('Z', '').replaceAll('T', ' ');
    const weather = weatherOf(bare, { ...COLUMNS, utcOffset: 7200 });
    expect(weather.start[0]).toBe(Date.UTC(2026, 5, 21, 8));
    expect(weather.utcOffset).toBe(2 * HOUR);
    const [error] = errorsOf(bare, COLUMNS);
    expect(error).toMatchObject({ line: 2, column: 'time' });
    expect(error.message).toMatch(/no offset from UTC/);
  });

  it('reads offsets of their own, compact times, and 24:00', () => {
    const first = (time: string) =>
      weatherOf(`time,dni_w_m2\n${time},1\n`, {
        ...COLUMNS,
        columns: { ...COLUMNS.columns, temperature: null, pressure: null },
        utcOffset: 0,
      }).start[0];
    expect(first('2026-06-21T10:00+02:00')).toBe(Date.UTC(2026, 5, 21, 8));
    expect(first('2026-06-21 10:00:00 -0330')).toBe(Date.UTC(2026, 5, 21, 13, 30));
    expect(first('20260621:1010')).toBe(Date.UTC(2026, 5, 21, 10, 10));
    expect(first('2026-06-21T24:00')).toBe(Date.UTC(2026, 5, 22));
  });

  it('reads other delimiters, headings further down, shorter intervals', () => {
    const text = `# made up\nanything "at all\n${TABLE.replaceAll(',', ';').replaceAll(':00:00Z', ':00:00Z')}`;
    const weather = weatherOf(text, { ...COLUMNS, headingLine: 3, delimiter: ';' });
    expect(Array.from(weather.dni)).toEqual([700, 750, 730, 710]);
    const [error] = errorsOf(text.replace('710', '7100'), { ...COLUMNS, headingLine: 3, delimiter: ';' });
    expect(error).toMatchObject({ line: 7, column: 'dni_w_m2' });
    const open = errorsOf(text.replace('comma"', 'comma'), { ...COLUMNS, headingLine: 3, delimiter: ';' });
    expect(open[0].line).toBe(5);
    const quarter = weatherOf('time,dni_w_m2\n2026-01-01T10:00Z,1\n2026-01-01T10:30Z,3\n', {
      ...COLUMNS,
      columns: { ...COLUMNS.columns, temperature: null, pressure: null },
      interval: 900,
    });
    expect(Array.from(quarter.dni)).toEqual([1, 2, 3]);
    expect(quarter.notices[0].text).toMatch(/^1 interval of 15 minutes of beam irradiance is missing/);
  });

  it('a table divided by something else is told in one error, with the key to set', () => {
    const semicolons = TABLE.replaceAll(',', ';');
    const [error, ...more] = errorsOf(semicolons, COLUMNS);
    expect(more).toEqual([]);
    expect(error).toMatchObject({ line: 1, allowed: 'delimiter: semicolon (in "sky")' });
    expect(error.message).toBe('The columns are divided by semicolons, not by commas.');
    const [commas] = errorsOf(TABLE, { ...COLUMNS, delimiter: '\t' });
    expect(commas.allowed).toContain('delimiter: comma');
    // A heading that is nowhere is still a heading that is nowhere.
    const [other] = errorsOf(TABLE.replace('air_c', 'air_f'), COLUMNS);
    expect(other.message).toMatch(/There is no column headed/);
  });

  it('a year of it stands for any year, half a year does not', () => {
    const year = (days: number) => {
      const rows = Array.from(
        { length: days * 24 },
        (_, hour) => `${new Date(Date.UTC(2025, 3, 1) + hour * HOUR).toISOString()},1`,
      );
      return weatherOf(['time,dni_w_m2', ...rows].join('\n'), {
        ...COLUMNS,
        columns: { ...COLUMNS.columns, temperature: null, pressure: null },
      }).repeats;
    };
    expect([year(365), year(180), year(730)]).toEqual([true, false, false]);
  });

  it.each([
    ['a column that is not there', TABLE.replace('dni_w_m2', 'dni'), 1, /no column headed "dni_w_m2"/],
    ['a heading twice', TABLE.replace('note', 'hpa'), 1, /Several columns/],
    ['no such day', TABLE.replace('06-21T11', '02-30T11'), 3, /is no date and time/],
    ['a year far off', TABLE.replace('2026-06-21T11', '1026-06-21T11'), 3, /is no date and time/],
    ['negative irradiance', TABLE.replace('750', '-0.5'), 3, /-0.5 W\/m2 is no beam irradiance/],
    ['absurd irradiance', TABLE.replace('750', '1500'), 3, /1500 W\/m2 is no beam irradiance/],
    ['a decimal comma', TABLE.replace('21,750', '"21,5",750'), 3, /"21,5" is not a number/],
    ['a time twice', TABLE.replace('T11', 'T10'), 3, /same time as in line 2/],
    ['a wrong order', TABLE.replace('T11', 'T09'), 3, /earlier than line 2/],
    ['a time off the grid', TABLE.replace('T11:00', 'T11:20'), 3, /80 minutes after line 2/],
    ['a quote never closed', TABLE.replace('comma"', 'comma'), 3, /opened here and never closed/],
    ['a quote inside a cell', TABLE.replace('960,a', '960,a"b'), 2, /a quote where none may stand/],
    ['text after a quote', TABLE.replace('comma"', 'comma" x'), 3, /a quote where none may stand/],
    ['headings beyond its end', '', 1, /no line of headings/],
  ])('refuses %s', (_what, text, line, message) => {
    const [error] = errorsOf(text, COLUMNS);
    expect(error.message).toMatch(message);
    expect(error.line).toBe(line);
  });

  it('never throws, whatever the text', () => {
    for (const text of [
      '\0',
      '"',
      ',,,\n,,,',
      '\ufeff',
      'time\n\n\n',
      TABLE.slice(0, 50),
      `${TABLE}\n${'x,'.repeat(5000)}`,
    ]) {
      for (const layout of [EPW, COLUMNS]) {
        expect(() => parseWeather(text, layout, 'odd')).not.toThrow();
        expect(parseWeather(text, layout, 'odd').ok).toBe(false);
      }
    }
  });
});
