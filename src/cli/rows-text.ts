/** Rows in words, tables and figures. */
import { createColors } from 'picocolors';
import { type CsvCell, toCsv } from '../report/csv.js';
import { plainText } from '../report/plain-text.js';
import type { YearCurves } from '../report/season-curves.js';
import type { HourMap } from '../report/season-hours.js';
import { formatFigure, formatNumber, halfWidth } from '../result/number-format.js';
import { leastPitch } from '../study/rows-geometry.js';
import { yearCautions, yearHead, yearWarnings } from '../study/season-result.js';
import type { RowsFlags, RowsFound } from './rows.js';
import { type OpenYear, yearContext } from './season-options.js';
import { reportYear, type YearFile } from './season-output.js';
import { MONTHS, noticesText, receiversText } from './season-text.js';
import type { Session } from './session.js';
import { textTable } from './text-table.js';

const percent = (value: number): string => (100 * (Math.abs(value) < 5e-4 ? 0 : value)).toFixed(1);

function spacingTable({ spacing }: RowsFound, colour: boolean): string {
  const name = spacing.axis === 'spacing' ? 'row spacing\nm' : 'pitch\nm';
  return textTable(
    [
      name,
      'caught\nkWh/m²',
      'shading\n%',
      'blocking\n%',
      'land\nm²/m²',
      ...spacing.land_prices_kwh_m2.map((price) => `worth at\n${formatNumber(price)} kWh/m²`),
    ],
    spacing.points.map((point) => [
      formatNumber(point.value_m, 4),
      `${point.caught_per_m2.value.toFixed(1)} ± ${halfWidth(point.caught_per_m2).toFixed(1)}`,
      percent(point.shading_fraction),
      percent(point.blocking_fraction),
      point.land_m2_per_m2.toFixed(2),
      ...point.worth_kwh_m2.map((worth) => worth.toFixed(0)),
    ]),
    colour,
  );
}

function placesText({ places }: RowsFound, colour: boolean): string {
  if (places === null) return '';
  const table = textTable(
    ['place', 'dishes', 'caught\nkWh/m²', 'shading\n%', 'blocking\n%'],
    places.classes.map((one) => [
      one.place,
      String(one.dishes),
      `${one.caught_per_m2.value.toFixed(1)} ± ${halfWidth(one.caught_per_m2).toFixed(1)}`,
      percent(one.shading_fraction),
      percent(one.blocking_fraction),
    ]),
    colour,
  );
  const overhang =
    places.overhang_m > 0
      ? `the receiver of the last dish then stands ${formatNumber(places.overhang_m, 3)} m beyond the end of the mirrors, so its track must reach out as far`
      : 'the receiver of the last dish never leaves the row';
  return `\nBy place, at the scene's own distances:\n${table}\nReceivers go up to ${formatNumber(places.farthest_along_m, 3)} m along the row either way; ${overhang}.\n`;
}

function hoursText({ hours }: RowsFound, which: 'shading' | 'blocking', colour: boolean): string {
  return textTable(
    ['%', ...hours.hours.map((hour) => String(hour))],
    hours[which].map((row, month) => [
      MONTHS[month],
      ...row.map((value) => (value === null ? '' : percent(value))),
    ]),
    colour,
  );
}

/** The closed form for a long row, for comparison. */
function leastText({ scene }: OpenYear): string {
  const [row] = scene.rows;
  const dish = scene.dishes.find(({ name }) => name === row.dish) ?? scene.dishes[0];
  const { strips } = dish;
  const slant = strips.count * strips.width + (strips.count - 1) * strips.gap;
  const tilt = Math.abs(dish.designTilt + dish.tiltSetting);
  const profile = Math.PI / 2 - Math.abs(scene.site?.latitude ?? 0) - (23.44 * Math.PI) / 180;
  if (row.rows < 2 || strips.direction !== 'along_row' || profile <= 0) return '';
  return `\nBy the closed form H (cos b + sin b / tan a) flat rows of this slant height stand out of each other's shade at noon of midwinter from ${leastPitch(slant, tilt, profile).toFixed(2)} m on.`;
}

function curves({ spacing }: RowsFound, subtitles: readonly string[]): YearCurves {
  const x = spacing.points.map(({ value_m }) => value_m);
  return {
    title: `Worth of a m² of mirror against the ${spacing.axis === 'spacing' ? 'distance of rows' : 'pitch of dishes'}`,
    subtitles: [...subtitles, 'error bars: 95 %, of the rays alone'],
    xLabel: spacing.axis === 'spacing' ? 'from row to row / m' : 'from dish to dish / m',
    yLabel: 'heat less land / (kWh a year per m² of mirror)',
    curves: spacing.land_prices_kwh_m2.map((price, p) => ({
      label: price === 0 ? 'heat alone' : `land at ${formatNumber(price)} kWh/m² a year`,
      x,
      y: spacing.points.map(({ worth_kwh_m2 }) => worth_kwh_m2[p]),
      halfWidth: spacing.points.map(({ caught_per_m2 }) => halfWidth(caught_per_m2)),
    })),
    fromZero: false,
    notes: [
      bestText(spacing),
      'worth = heat caught - price x land; land = row spacing x pitch / mirror area of a dish',
    ],
  };
}

function bestText({ best, land_prices_kwh_m2 }: RowsFound['spacing']): string {
  const all = best.map(({ value_m, inside }, p) => {
    const edge = inside ? '' : ' (the end of those tried)';
    return `${formatNumber(value_m, 4)} m${edge} at ${formatNumber(land_prices_kwh_m2[p])} kWh/m²`;
  });
  return `Best for the prices of land: ${all.join(', ')}.`;
}

function hoursMap({ hours }: RowsFound, subtitles: readonly string[], clock: string): HourMap {
  return {
    title: 'Light lost to shading and blocking, by hour and month',
    subtitles: [...subtitles, "at the scene's own distances · grey: the sun is down"],
    xLabel: `hour by its beginning, clock: ${clock} / h`,
    hours: hours.hours,
    rows: MONTHS,
    value: hours.shading.map((row, month) =>
      row.map((value, i) =>
        value === null ? null : 100 * Math.max(0, value + (hours.blocking[month][i] ?? 0)),
      ),
    ),
    valueLabel: 'shading and blocking / (% of DNI x mirror area)',
  };
}

function hoursCsv({ hours }: RowsFound): string {
  const rows = hours.shading.flatMap((row, month) =>
    row.flatMap((value, i): CsvCell[][] =>
      value === null
        ? []
        : [[month + 1, hours.hours[i], value, hours.blocking[month][i] ?? 0, hours.caught[month][i] ?? 0]],
    ),
  );
  return toCsv(['month', 'hour', 'shading_fraction', 'blocking_fraction', 'caught_fraction'], rows);
}

function spacingCsv({ spacing }: RowsFound): string {
  return toCsv(
    [
      `${spacing.axis}_m`,
      'caught_kwh_m2',
      'caught_std_err_kwh_m2',
      'shading_fraction',
      'blocking_fraction',
      'land_m2_per_m2',
      ...spacing.land_prices_kwh_m2.map((price) => `worth_at_${price}_kwh_m2`),
    ],
    spacing.points.map((point): CsvCell[] => [
      point.value_m,
      point.caught_per_m2.value,
      point.caught_per_m2.std_err,
      point.shading_fraction,
      point.blocking_fraction,
      point.land_m2_per_m2,
      ...point.worth_kwh_m2,
    ]),
  );
}

/** @throws OutputError, after the result was printed */
export async function reportRows(
  found: RowsFound,
  opened: OpenYear,
  flags: RowsFlags,
  session: Session,
): Promise<void> {
  const { scene, mode, sky, clock } = opened;
  const head = yearHead(yearContext(opened, flags));
  const body = {
    ...head,
    kind: 'rows',
    spacing: found.spacing,
    places: found.places,
    hours: found.hours,
    warnings: yearWarnings(sky, null),
    cautions: yearCautions(),
  };
  const { colour } = session.out;
  const { bold } = createColors(colour);
  const subtitle = `${flags.year}, ${receiversText(mode.kind)} · ${head.site.name} · seed ${flags.seed}`;
  const text = [
    bold(plainText(`${scene.title}: distances`)),
    plainText(`${subtitle}.`),
    plainText(`Sky: ${head.sky}.`),
    '',
    `${bestText(found.spacing)} The scene's own: ${formatNumber(found.spacing.own_m, 4)} m.${leastText(opened)}`,
    '',
    spacingTable(found, colour),
    'Worth = heat caught - price x land, kWh a year per m² of mirror; land = row spacing x pitch / mirror area of a dish.',
    placesText(found, colour),
    `At the scene's own distances the year gives ${formatFigure(found.hours.total.caught_per_m2)} of mirror. Shading by hour (${clock.name}) and month, that of receivers included, % of DNI x area:`,
    hoursText(found, 'shading', colour),
    '',
    'Blocking:',
    hoursText(found, 'blocking', colour),
    '',
    noticesText(body, session.out),
  ].join('\n');
  const subtitles = [scene.title, subtitle, `sky: ${head.sky}`];
  const figures =
    flags.out === undefined
      ? null
      : await Promise.all([import('../report/season-curves.js'), import('../report/season-hours.js')]);
  const files: YearFile[] = [
    { what: 'rows_table', file: 'rows.csv', make: () => spacingCsv(found) },
    { what: 'hours_table', file: 'rows-hours.csv', make: () => hoursCsv(found) },
  ];
  if (figures !== null) {
    const [{ yearCurvesPng }, { hourMapPng }] = figures;
    files.push(
      {
        what: 'rows_figure',
        file: 'rows.png',
        make: () => yearCurvesPng(curves(found, subtitles)),
      },
      {
        what: 'hours_figure',
        file: 'rows-hours.png',
        make: () => hourMapPng(hoursMap(found, subtitles, clock.name)),
      },
    );
  }
  await reportYear(body, text, files, flags, opened.machine(), session);
}
