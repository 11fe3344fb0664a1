/** A track over the seasons for people and spreadsheets: text and CSV. */
import { createColors } from 'picocolors';
import { type CsvCell, toCsv } from '../report/csv.js';
import { plainText } from '../report/plain-text.js';
import { cautionLines, wrap } from '../report/terminal-text.js';
import { formatFigure, formatNumber, halfWidth } from '../result/number-format.js';
import type { BuildableTrack, TrackResult, TrackTableRow } from '../study/day-track-types.js';
import { pathShape } from '../study/path-shape.js';
import { arcText, pathOption, wholeMm } from './path-text.js';
import { textTable } from './text-table.js';

/** Below this share of the best power a place of the table is told. */
const GOOD_ENOUGH = 0.995;

function loss(value: number | null): string {
  return value === null ? '' : value.toFixed(2).replace(/^-0\.00$/, '0.00');
}

/** @returns one decimal, a true minus, no minus zero */
export function degreeText(degrees: number): string {
  return `${degrees
    .toFixed(1)
    .replace(/^-0\.0$/, '0.0')
    .replace('-', '−')}°`;
}

/** The header that says by which time the table goes, one line for each season. */
export function seasonLines(result: TrackResult): string[] {
  return result.seasons.map(({ name, declination_deg, clock_at_solar_noon, days, tilt_setting_deg }) => {
    const noons = [...new Set(clock_at_solar_noon)].join(' and ');
    return `${name}: declination ${degreeText(declination_deg)}, noon by the sun at ${noons} by the clock, stands for ${days} days, dishes set to ${degreeText(tilt_setting_deg)}`;
  });
}

export function trackText(
  result: TrackResult,
  cautions: readonly string[],
  { colour, columns }: { readonly colour: boolean; readonly columns: number },
): string {
  const colours = createColors(colour);
  const { bold, yellow } = colours;
  const lines = [
    bold(plainText(result.title)),
    wrap(
      `Places by sun time: noon is when the sun is highest. Clock: ${result.clock}, on the first day named, ${result.year}. ` +
        `Beam irradiance: ${result.sky}.`,
      columns,
    ),
  ];
  if (result.interrupted) lines.push(yellow('Interrupted: only the rows that were finished are given.'));
  const notes = seasonLines(result);
  for (const season of result.seasons.keys()) {
    const rows = result.rows.filter((row) => row.season === season);
    if (rows.length === 0) continue;
    lines.push('', bold(notes[season]), seasonTable(rows, colour));
  }
  lines.push(
    '',
    wrap(
      'Along the row, across it (to the left of its heading) and up, in mm from where the scene has the receivers, and from ' +
        "the dish's centre. Way: along the path from the first place of the day. Over: beyond the row's end. Loss: per cent of the power " +
        'lost 10 mm beside the place (along, across, up), and with the clock 5 minutes late or early, the worse of the two.',
      columns,
    ),
    '',
    bold(worstText(result)),
  );
  if (result.tracks.length > 0) {
    lines.push('', bold('Tracks to build, against following freely'), tracksTable(result, colour));
    for (const track of result.tracks) {
      if (track.path_mm.length < 2) continue;
      const name = `${trackSeason(result, track)}, ${track.summary.track}`;
      const circle = arcText(pathShape(track.path_mm, track.summary.track === 'arc' ? 'arc' : null));
      if (circle !== '') lines.push(`${name}: ${circle}`);
      lines.push(`${name}: ${pathOption(track.path_mm)}`);
    }
  }
  if (result.warnings.length > 0) {
    lines.push(
      '',
      yellow(bold('Warnings')),
      ...result.warnings.map(({ message }) => wrap(message, columns - 2, '- ', '  ')),
    );
  }
  lines.push(...cautionLines(cautions, columns, colours));
  return `${lines.join('\n')}\n`;
}

/** What tracing the places again has shown. */
export function worstText({ rows, worst, seasons }: TrackResult): string {
  if (worst === null) return '';
  const { solar_time, season } = rows[worst.row];
  const below = rows.filter(({ of_best }) => of_best.ci95[1] < GOOD_ENOUGH).length;
  const found = formatFigure(worst.of_best, { percent: true });
  return (
    `Traced again at all ${rows.length} places: the worst catches ${found} of what the best place found catches (${solar_time} by the sun, ${seasons[season].name}); ` +
    `${below === 0 ? 'none' : below} surely below 99.5 %`
  );
}

function seasonTable(rows: readonly TrackTableRow[], colour: boolean): string {
  const dish = rows[0].from_dish_mm !== null;
  const header = [
    'sun\ntime',
    '\nclock',
    '\nalong',
    '\nacross',
    '\nup',
    ...(dish ? ['from dish\nalong', '\nacross', '\nup'] : []),
    '\nway',
    'mm/\nmin',
    ...(dish ? ['\nover'] : []),
    'power\nW',
    'loss %\n10 mm',
    'loss %\n5 min',
  ];
  const cells = rows.map((row) => [
    row.solar_time,
    row.clock,
    ...row.offset_mm.map(wholeMm),
    ...(row.from_dish_mm === null ? [] : row.from_dish_mm.map(wholeMm)),
    wholeMm(row.along_path_mm),
    row.speed_mm_per_min === null ? '' : row.speed_mm_per_min.toFixed(1),
    ...(dish ? [row.overhang_mm === null ? '' : wholeMm(row.overhang_mm)] : []),
    wholeMm(row.intercepted_power.value),
    row.loss_at_10_mm_pct.map((one) => Math.max(0, one).toFixed(1)).join(' '),
    loss(row.loss_at_5_min_pct),
  ]);
  return textTable(header, cells, colour);
}

function overhang({ overhang_low_m, overhang_high_m }: BuildableTrack['summary']): number | null {
  return overhang_low_m === null ? null : Math.max(overhang_low_m, overhang_high_m ?? 0);
}

function trackSeason({ seasons }: TrackResult, { season }: BuildableTrack): string {
  return season === null ? 'all seasons' : seasons[season].name;
}

function tracksTable(result: TrackResult, colour: boolean): string {
  const { head, rows } = trackCells(result);
  return textTable(head, rows, colour);
}

/** The tracks to build as a table; heads have the unit in a second line. */
export function trackCells(result: TrackResult): { readonly head: string[]; readonly rows: string[][] } {
  const head = [
    'season',
    'track',
    'length\nm',
    'mean loss\n%',
    'worst loss\n%',
    'worst miss\nmm',
    'fastest\nmm/min',
    'over\nm',
    'clock 5 min\n% more',
  ];
  const number = (value: number | null, digits: number): string =>
    value === null ? '' : formatNumber(value, digits);
  const rows = result.tracks.map((track) => {
    const { summary } = track;
    return [
      trackSeason(result, track),
      summary.track,
      number(summary.length_m, 4),
      number(summary.mean_loss_pct, 3),
      number(summary.worst_loss_pct, 3),
      number(summary.worst_miss_mm, 3),
      number(summary.fastest_mm_per_min, 3),
      number(overhang(summary), 3),
      loss(track.loss_at_5_min_pct),
    ];
  });
  return { head, rows };
}

/** One row per place; units in the heads. */
export function trackCsv(result: TrackResult): string {
  const header = [
    'season',
    'solar_time',
    'clock',
    'clock_on_dates',
    'sun_azimuth_deg',
    'sun_elevation_deg',
    'dni_w_m2',
    'offset_along_mm',
    'offset_across_mm',
    'offset_up_mm',
    'from_dish_along_mm',
    'from_dish_across_mm',
    'from_dish_up_mm',
    'along_path_mm',
    'speed_mm_per_min',
    'overhang_mm',
    'loss_10_mm_along_pct',
    'loss_10_mm_across_pct',
    'loss_10_mm_up_pct',
    'loss_5_min_pct',
    'intercepted_power_w',
    'intercepted_power_std_err_w',
    'of_best',
    'of_best_half_width',
  ];
  const rows = result.rows.map((row): CsvCell[] => [
    result.seasons[row.season].name,
    row.solar_time,
    row.clock,
    row.clock_on_dates.map((clock, k) => `${result.seasons[row.season].dates[k]} ${clock}`).join('; '),
    row.sun.azimuth_deg,
    row.sun.elevation_deg,
    row.dni_w_m2,
    ...row.offset_mm,
    ...(row.from_dish_mm ?? ['', '', '']),
    row.along_path_mm,
    row.speed_mm_per_min ?? '',
    row.overhang_mm ?? '',
    ...row.loss_at_10_mm_pct,
    row.loss_at_5_min_pct ?? '',
    row.intercepted_power.value,
    row.intercepted_power.std_err,
    row.of_best.value,
    halfWidth(row.of_best),
  ]);
  return toCsv(header, rows);
}

/** Tracks to build: what each loses, then its terms; one number a row. */
export function tracksCsv({ tracks, seasons }: TrackResult): string {
  const rows = tracks.flatMap(({ season, summary, terms, loss_at_5_min_pct }): CsvCell[][] => {
    const head = [season === null ? 'all' : seasons[season].name, summary.track];
    const numbers = Object.entries(summary).filter(
      (entry): entry is [string, number] => typeof entry[1] === 'number',
    );
    return [
      ...numbers.map(([key, value]): CsvCell[] => [...head, key, value, '', '']),
      ...(loss_at_5_min_pct === null ? [] : [[...head, 'clock_5_min_loss_pct', loss_at_5_min_pct, '', '']]),
      ...terms.map(({ term, value, std_err, unit }): CsvCell[] => [
        ...head,
        term,
        value,
        std_err ?? '',
        unit,
      ]),
    ];
  });
  return toCsv(['season', 'track', 'term', 'value', 'std_err', 'unit'], rows);
}
