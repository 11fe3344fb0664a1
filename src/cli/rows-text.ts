/** Rows in words, tables and figures. */
import { createColors } from 'picocolors';
import { type CsvCell, toCsv } from '../report/csv.js';
import { plainText } from '../report/plain-text.js';
import type { YearCurves } from '../report/season-curves.js';
import type { HourMap } from '../report/season-hours.js';
import type { SectionTable } from '../report/section.js';
import { wrap } from '../report/terminal-text.js';
import { formatFigure, formatNumber, halfWidth } from '../result/number-format.js';
import type { Figure } from '../result/types.js';
import { leastPitch } from '../study/rows-geometry.js';
import { ownSpacing, type PlaceStudy, type SpacingStudy } from '../study/rows-study.js';
import { yearCautions, yearHead, yearWarnings } from '../study/season-result.js';
import type { RowsFlags, RowsFound } from './rows.js';
import { type OpenYear, yearContext } from './season-options.js';
import type { YearReport } from './season-output.js';
import { MONTHS, noticesText, PARTIAL_COLUMN, receiversText } from './season-text.js';
import type { Session } from './session.js';
import { textTable } from './text-table.js';

const percent = (value: number): string => (100 * (Math.abs(value) < 5e-4 ? 0 : value)).toFixed(1);

/** Relative gain in per cent with its error. */
function gainText(gain: Figure): string {
  return `${(100 * gain.value).toFixed(2).replace(/^-0\.00$/, '0.00')} ± ${(100 * halfWidth(gain)).toFixed(2)}`;
}

function caughtText(caught: Figure): string {
  return `${caught.value.toFixed(1)} ± ${halfWidth(caught).toFixed(1)}`;
}

/** The distances as people read them; heads in two lines, the second the unit. */
export function spacingCells({
  axis,
  points,
  land_prices_kwh_m2,
}: SpacingStudy): Pick<SectionTable, 'head' | 'rows'> {
  return {
    head: [
      axis === 'spacing' ? 'row spacing\nm' : 'pitch\nm',
      'caught\nkWh/m²',
      'against the own\n%',
      'shading\n%',
      'blocking\n%',
      'land\nm²/m²',
      ...land_prices_kwh_m2.map((price) => `worth at\n${formatNumber(price)} kWh/m²`),
    ],
    rows: points.map((point) => [
      formatNumber(point.value_m, 4),
      caughtText(point.caught_per_m2),
      gainText(point.gain_fraction),
      percent(point.shading_fraction),
      percent(point.blocking_fraction),
      point.land_m2_per_m2.toFixed(2),
      ...point.worth_kwh_m2.map((worth) => worth.toFixed(0)),
    ]),
  };
}

export function placeCells({ classes }: PlaceStudy): Pick<SectionTable, 'head' | 'rows'> {
  return {
    head: ['place', 'dishes', 'caught\nkWh/m²', 'against all\n%', 'shading\n%', 'blocking\n%'],
    rows: classes.map((one) => [
      one.place,
      String(one.dishes),
      caughtText(one.caught_per_m2),
      gainText(one.gain_fraction),
      percent(one.shading_fraction),
      percent(one.blocking_fraction),
    ]),
  };
}

/** How far receivers go, and whether the last one leaves the row. */
export function overhangText({ hours: { reach } }: RowsFound): string {
  if (reach === null) return '';
  const overhang =
    reach.overhang_m > 0
      ? `the receiver of the last dish then stands ${formatNumber(reach.overhang_m, 3)} m beyond the end of the mirrors, so its track must reach out as far`
      : 'the receiver of the last dish never leaves the row';
  return `For ${100 * reach.share} % of the heat of the year receivers go up to ${formatNumber(reach.along_m, 3)} m along the row either way; ${overhang}.`;
}

/** @returns months down, hours across, per cent */
export function hourCells(
  { hours }: RowsFound,
  which: 'shading' | 'blocking',
): Pick<SectionTable, 'head' | 'rows'> {
  return {
    head: ['%', ...hours.hours.map((hour) => String(hour))],
    rows: hours[which].map((row, month) => [
      MONTHS[month],
      ...row.map((value) => (value === null ? '' : percent(value))),
    ]),
  };
}

/** The closed form for a long row, for comparison. */
function leastText({ scene }: Pick<OpenYear, 'scene'>): string {
  const [row] = scene.rows;
  const dish = scene.dishes.find(({ name }) => name === row.dish) ?? scene.dishes[0];
  const { strips } = dish;
  const slant = strips.count * strips.width + (strips.count - 1) * strips.gap;
  const tilt = Math.abs(dish.designTilt + dish.tiltSetting);
  const profile = Math.PI / 2 - Math.abs(scene.site?.latitude ?? 0) - (23.44 * Math.PI) / 180;
  if (row.rows < 2 || strips.direction !== 'along_row' || profile <= 0) return '';
  return ` By the closed form H (cos b + sin b / tan a) flat rows of this slant height stand out of each other's shade at noon of midwinter from ${leastPitch(slant, tilt, profile).toFixed(2)} m on.`;
}

function subtitlesOf({ title, subtitle, sky }: RowsWords): readonly string[] {
  return [title, subtitle, `sky: ${sky}`];
}

export function rowsCurves(spacing: SpacingStudy, words: RowsWords): YearCurves {
  const x = spacing.points.map(({ value_m }) => value_m);
  // Of the difference from the own distance: what the year itself may be off moves all points alike.
  const half = spacing.points.map(
    ({ caught_per_m2, gain_fraction }) =>
      (halfWidth(gain_fraction) * caught_per_m2.value) / (1 + gain_fraction.value),
  );
  return {
    title: `Worth of a m² of mirror against the ${spacing.axis === 'spacing' ? 'distance of rows' : 'pitch of dishes'}`,
    subtitles: [
      ...subtitlesOf(words),
      "error bars: 95 %, of what sets a distance apart from the scene's own",
    ],
    xLabel: spacing.axis === 'spacing' ? 'from row to row / m' : 'from dish to dish / m',
    yLabel: 'heat less land / (kWh a year per m² of mirror)',
    curves: spacing.land_prices_kwh_m2.map((price, p) => ({
      label: price === 0 ? 'heat alone' : `land at ${formatNumber(price)} kWh/m² a year`,
      x,
      y: spacing.points.map(({ worth_kwh_m2 }) => worth_kwh_m2[p]),
      halfWidth: half,
    })),
    fromZero: false,
    notes: [bestText(spacing), WORTH],
  };
}

/** How worth is reckoned. */
const WORTH =
  'Worth = heat caught - price x land, kWh a year per m² of mirror; land = row spacing x pitch / mirror area of a dish.';

function bestText({ best, land_prices_kwh_m2 }: SpacingStudy): string {
  const all = best.map(({ value_m, inside, flat_m, flat_ends_seen }, p) => {
    const edge = inside ? '' : ', the end of those tried';
    const [from, to] = flat_m.map((value) => formatNumber(value, 3));
    const flat = `${flat_ends_seen[0] ? '' : 'at most '}${from} to ${flat_ends_seen[1] ? '' : 'at least '}${to} m`;
    return `${formatNumber(value_m, 4)} m at ${formatNumber(land_prices_kwh_m2[p])} kWh/m² (${flat}${edge})`;
  });
  return `Best for the prices of land, and between which distances less than 1 % of the heat is lost against it: ${all.join('; ')}.`;
}

export function hoursMap({ hours }: RowsFound, words: RowsWords): HourMap {
  return {
    title: 'Light lost to shading and blocking, by hour and month',
    subtitles: [...subtitlesOf(words), "at the scene's own distances · grey: the sun is down"],
    xLabel: `hour by its beginning, clock: ${words.clock} / h`,
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

export function hoursCsv({ hours }: RowsFound): string {
  const rows = hours.shading.flatMap((row, month) =>
    row.flatMap((value, i): CsvCell[][] =>
      value === null
        ? []
        : [[month + 1, hours.hours[i], value, hours.blocking[month][i] ?? 0, hours.caught[month][i] ?? 0]],
    ),
  );
  return toCsv(['month', 'hour', 'shading_fraction', 'blocking_fraction', 'caught_fraction'], rows);
}

export function spacingCsv({ axis, points, land_prices_kwh_m2 }: SpacingStudy, interrupted: boolean): string {
  const partial = interrupted ? ['yes'] : [];
  return toCsv(
    [
      `${axis}_m`,
      'caught_kwh_m2',
      'caught_std_err_kwh_m2',
      'gain_fraction',
      'gain_std_err',
      'shading_fraction',
      'blocking_fraction',
      'land_m2_per_m2',
      ...land_prices_kwh_m2.map((price) => `worth_at_${price}_kwh_m2`),
      ...partial.map(() => PARTIAL_COLUMN),
    ],
    points.map((point): CsvCell[] => [
      point.value_m,
      point.caught_per_m2.value,
      point.caught_per_m2.std_err,
      point.gain_fraction.value,
      point.gain_fraction.std_err,
      point.shading_fraction,
      point.blocking_fraction,
      point.land_m2_per_m2,
      ...point.worth_kwh_m2,
      ...partial,
    ]),
  );
}

/** What the study is of, in words. */
export interface RowsWords {
  readonly title: string;
  readonly subtitle: string;
  readonly sky: string;
  /** Of hours and months. */
  readonly clock: string;
  /** The finding, a sentence or more. */
  readonly answer: string;
}

/** What an interrupt has left; null where all is there. */
function interruptedText({ interrupted, spacing, wanted }: RowsFound): string | null {
  if (!interrupted) return null;
  const done = spacing?.points.length ?? 0;
  const left = 'dishes were not told apart by their place';
  if (done === wanted) return `Interrupted: ${left}.`;
  return `Interrupted: ${done === 0 ? 'none' : `only ${done}`} of ${wanted} distances ${done === 0 ? 'was' : 'were'} finished; ${left}.`;
}

function answerOf({ hours, spacing, axis }: RowsFound, { scene }: OpenYear): string {
  const year = formatFigure(hours.total.caught_per_m2);
  return (
    `${spacing === null ? '' : `${bestText(spacing)} `}The scene's own: ${formatNumber(ownSpacing(scene, axis), 4)} m; ` +
    `there the year gives ${year} of mirror.${leastText({ scene })}`
  );
}

/** How the figures of distances and places hang together. */
export const SAMPLED =
  "Distances and places are set against the scene's own year in the same light, with the same random numbers: gains are known better than " +
  'the year itself, whose error is in the ± of what is caught.';

export function rowsReport(
  found: RowsFound,
  opened: OpenYear,
  flags: RowsFlags,
  { out }: Session,
): YearReport {
  const { scene, mode, sky, clock } = opened;
  const { spacing, places, hours } = found;
  const head = yearHead(yearContext(opened, flags));
  const interrupted = interruptedText(found);
  const body = {
    ...head,
    kind: 'rows',
    spacing,
    places,
    hours,
    interrupted: found.interrupted,
    warnings: yearWarnings(sky, null),
    cautions: yearCautions(),
  };
  const { bold, yellow } = createColors(out.colour);
  const words: RowsWords = {
    title: scene.title,
    subtitle: `${flags.year}, ${receiversText(mode.kind)} · ${head.site.name} · seed ${flags.seed}`,
    sky: head.sky,
    clock: clock.name,
    answer: answerOf(found, opened),
  };
  const table = ({ head: heads, rows }: Pick<SectionTable, 'head' | 'rows'>): string =>
    textTable(heads, rows, out.colour);
  const text = [
    bold(plainText(`${scene.title}: distances`)),
    plainText(`${words.subtitle}.`),
    plainText(`Sky: ${head.sky}.`),
    ...(interrupted === null ? [] : [yellow(interrupted)]),
    '',
    wrap(words.answer, out.columns),
    ...(spacing === null ? [] : ['', table(spacingCells(spacing)), wrap(WORTH, out.columns)]),
    ...(places === null
      ? []
      : [
          '',
          "By place, at the scene's own distances:",
          table(placeCells(places)),
          wrap(overhangText(found), out.columns),
        ]),
    ...(spacing === null && places === null ? [] : [wrap(SAMPLED, out.columns)]),
    '',
    wrap(
      `At the scene's own distances, by hour (${clock.name}) and month, shading, that of receivers included, % of DNI x area:`,
      out.columns,
    ),
    table(hourCells(found, 'shading')),
    '',
    'Blocking:',
    table(hourCells(found, 'blocking')),
    '',
    noticesText(body, out),
  ].join('\n');
  return {
    command: 'rows',
    body,
    interrupted,
    answer: [words.answer],
    text,
    files: async () => {
      const [{ yearCurvesPng }, { hourMapPng }] = await Promise.all([
        import('../report/season-curves.js'),
        import('../report/season-hours.js'),
      ]);
      return [
        ...(spacing === null
          ? []
          : [
              {
                what: 'rows_table',
                file: 'rows.csv',
                make: () => spacingCsv(spacing, spacing.points.length < found.wanted),
              },
              {
                what: 'rows_figure',
                file: 'rows.png',
                make: () => yearCurvesPng(rowsCurves(spacing, words)),
              },
            ]),
        { what: 'hours_table', file: 'rows-hours.csv', make: () => hoursCsv(found) },
        {
          what: 'hours_figure',
          file: 'rows-hours.png',
          make: () => hourMapPng(hoursMap(found, words)),
        },
      ];
    },
    sections: async () => {
      const { rowsSection } = await import('./rows-sections.js');
      return [rowsSection(found, words)];
    },
  };
}
