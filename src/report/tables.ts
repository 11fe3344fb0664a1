/** A result as text for the terminal. Loads no picture module. */
import Table from 'cli-table3';
import pc from 'picocolors';
import {
  type FigureFormat,
  formatAperture,
  formatCount,
  formatFigure,
  formatNumber,
  formatSamples,
  formatToError,
  halfWidth,
} from '../result/number-format.js';
import type { Figure, Ledger, ReceiverResult, TotalResult, TraceResult } from '../result/types.js';
import { plainText } from './plain-text.js';
import { cautionLines, INDENT, lengthOf, wrap } from './terminal-text.js';

export interface TextOptions {
  readonly colour: boolean;
  /** Width of the terminal. */
  readonly columns: number;
}

/** Beyond this many receivers the table gives lowest, mean and highest, and the worst. */
export const MOST_RECEIVER_ROWS = 12;
const WORST_SHOWN = 3;
const LONGEST_NAME = 24;
const FEWEST_COLUMNS = 40;

type Colours = ReturnType<typeof pc.createColors>;
type Row = readonly string[];

const PERCENT: FigureFormat = { percent: true };
const BARE: FigureFormat = { bare: true };
const BARE_PERCENT: FigureFormat = { bare: true, percent: true };

function shorten(text: string, longest: number): string {
  const characters = [...text];
  return characters.length <= longest ? text : `${characters.slice(0, longest - 1).join('')}…`;
}

/** A table with no frame but a line under its head; the first column is text, the others are numbers. */
function plainTable(head: Row | null, rows: readonly Row[], colours: Colours, textColumns = 1): string {
  const width = Math.max(head?.length ?? 0, ...rows.map((row) => row.length));
  const table = new Table({
    chars: {
      top: '',
      'top-mid': '',
      'top-left': '',
      'top-right': '',
      bottom: '',
      'bottom-mid': '',
      'bottom-left': '',
      'bottom-right': '',
      left: INDENT,
      'left-mid': '',
      mid: '',
      'mid-mid': '',
      right: '',
      'right-mid': '',
      middle: '  ',
    },
    style: { head: [], border: [], 'padding-left': 0, 'padding-right': 0, compact: true },
    colAligns: Array.from({ length: width }, (_, i) => (i < textColumns ? 'left' : 'right')),
  });
  if (head !== null) {
    const widths = head.map((title, i) =>
      Math.max(lengthOf(title), ...rows.map((row) => lengthOf(row[i] ?? ''))),
    );
    table.push(
      head.map((title) => colours.bold(title)),
      widths.map((length) => '-'.repeat(length)),
    );
  }
  table.push(...rows.map((row) => [...row]));
  return table
    .toString()
    .split('\n')
    .map((line) => line.trimEnd())
    .join('\n');
}

function heading(title: string, colours: Colours): string {
  return colours.bold(title);
}

/** @returns the interval's meaning, said once */
function errorNote(result: TraceResult): string {
  return `± is the half width of the 95 % interval, from ${result.groups} groups of batches`;
}

function samplesText({ rays, deposit }: TraceResult): string {
  if (deposit === undefined) return formatSamples(rays, false);
  const byRays =
    deposit.by_rays_fraction > 0
      ? `; ${formatNumber(100 * deposit.by_rays_fraction, 2)} % of the light left to rays`
      : '';
  return `${formatSamples(rays, true)} with footprints (${deposit.rays_per_point} rays each for all but the maps${byRays})`;
}

function runLine(result: TraceResult): string {
  const { sun } = result;
  return (
    `seed ${result.seed}, ${samplesText(result)} in ${result.batches} batches, ` +
    `scene ${result.scene_hash.slice(0, 8)}; sun azimuth ${formatNumber(sun.azimuth_deg, 4)}°, ` +
    `elevation ${formatNumber(sun.elevation_deg, 4)}°, beam ${formatNumber(sun.dni_w_m2, 4)} W/m²`
  );
}

function keyRows(total: TotalResult, single: ReceiverResult | null, receivers: number): Row[] {
  const rows: Row[] = [];
  if (single) rows.push(['opening', plainText(formatAperture(single.aperture))]);
  else rows.push(['receivers', formatCount(receivers)]);
  rows.push(
    ['mirror area', `${formatNumber(total.mirror_area_m2, 4)} m²`],
    ['geometric concentration', formatNumber(total.geometric_concentration, 4)],
  );
  const peakNote: Row = single
    ? ['  averaged over', `a disc of ${formatNumber(single.peak_disc_mm, 3)} mm`]
    : ['  at receiver', shorten(plainText(total.peak_receiver), LONGEST_NAME)];
  rows.push(
    ['peak flux', formatFigure(total.peak_flux)],
    peakNote,
    ['mean flux', formatFigure(total.mean_flux)],
    ['concentration ratio', formatFigure(total.concentration_ratio)],
  );
  if (single) rows.push(['peak concentration', formatFigure(single.peak_concentration)]);
  rows.push(
    ['reflected power', formatFigure(total.reflected_power)],
    ['intercepted power', formatFigure(total.intercepted_power)],
    ['intercept factor', formatFigure(total.intercept_factor, PERCENT)],
    ['spill', formatFigure(total.spill_fraction, PERCENT)],
    ['blocked', formatFigure(total.blocked_fraction, PERCENT)],
  );
  if (single) {
    rows.push(['smallest opening for 5 % spill', formatFigure(single.opening_for_5_percent_spill_mm)]);
  }
  return rows;
}

interface ReceiverColumn {
  readonly title: string;
  readonly figure: (receiver: ReceiverResult) => Figure;
  readonly format: FigureFormat;
  /** Lower ones are left away first where the terminal is narrow. */
  readonly weight: number;
}

const RECEIVER_COLUMNS: readonly ReceiverColumn[] = [
  { title: 'peak kW/m²', figure: (receiver) => receiver.peak_flux, format: BARE, weight: 6 },
  { title: 'mean kW/m²', figure: (receiver) => receiver.mean_flux, format: BARE, weight: 1 },
  { title: 'power W', figure: (receiver) => receiver.intercepted_power, format: BARE, weight: 4 },
  { title: 'intercept %', figure: (receiver) => receiver.intercept_factor, format: BARE_PERCENT, weight: 3 },
  { title: 'spill %', figure: (receiver) => receiver.spill_fraction, format: BARE_PERCENT, weight: 5 },
  {
    title: '5 % opening mm',
    figure: (receiver) => receiver.opening_for_5_percent_spill_mm,
    format: BARE,
    weight: 2,
  },
];

/** Drops the least important columns until the table is no wider than the terminal. */
function fitColumns(
  makeRows: (columns: readonly ReceiverColumn[]) => readonly Row[],
  columns: number,
): readonly ReceiverColumn[] {
  let kept = [...RECEIVER_COLUMNS];
  for (;;) {
    const rows = makeRows(kept);
    const widths = kept.map((column, i) =>
      Math.max(lengthOf(column.title), ...rows.map((row) => lengthOf(row[i + 1]))),
    );
    const nameWidth = Math.max(...rows.map((row) => lengthOf(row[0])), 'receiver'.length);
    const total = INDENT.length + nameWidth + widths.reduce((sum, width) => sum + width + 2, 0);
    if (total <= columns || kept.length === 1) return kept;
    const least = Math.min(...kept.map(({ weight }) => weight));
    kept = kept.filter(({ weight }) => weight !== least);
  }
}

function receiverRow(receiver: ReceiverResult, columns: readonly ReceiverColumn[]): Row {
  return [
    shorten(plainText(receiver.name), LONGEST_NAME),
    ...columns.map(({ figure, format }) => formatFigure(figure(receiver), format)),
  ];
}

function receiverSummary(receivers: readonly ReceiverResult[], columns: readonly ReceiverColumn[]): Row[] {
  const extreme = (column: ReceiverColumn, sign: 1 | -1): string => {
    const best = receivers.map(column.figure).reduce((a, b) => (sign * b.value > sign * a.value ? b : a));
    return formatFigure(best, column.format);
  };
  const mean = (column: ReceiverColumn): string => {
    const figures = receivers.map(column.figure);
    const scale = column.format.percent ? 100 / figures.length : 1 / figures.length;
    const sum = figures.reduce((total, { value }) => total + value, 0);
    const half = Math.hypot(...figures.map(halfWidth));
    return formatToError(scale * sum, scale * half, 4);
  };
  return [
    ['lowest', ...columns.map((column) => extreme(column, -1))],
    ['mean', ...columns.map(mean)],
    ['highest', ...columns.map((column) => extreme(column, 1))],
  ];
}

/** @returns the receivers that spill most, worst first; equal ones in scene order */
function worstReceivers(receivers: readonly ReceiverResult[]): ReceiverResult[] {
  return [...receivers].sort((a, b) => b.spill_fraction.value - a.spill_fraction.value).slice(0, WORST_SHOWN);
}

function receiverTables(
  receivers: readonly ReceiverResult[],
  options: TextOptions,
  colours: Colours,
): string[] {
  if (receivers.length <= 1) return [];
  if (receivers.length <= MOST_RECEIVER_ROWS) {
    const makeRows = (columns: readonly ReceiverColumn[]): Row[] =>
      receivers.map((receiver) => receiverRow(receiver, columns));
    const columns = fitColumns(makeRows, options.columns);
    const head = ['receiver', ...columns.map(({ title }) => title)];
    return [
      heading('Receivers', colours),
      plainTable(head, makeRows(columns), colours),
      ...leftOut(columns, options, colours),
      '',
    ];
  }
  const worst = worstReceivers(receivers);
  const makeRows = (columns: readonly ReceiverColumn[]): Row[] => [
    ...receiverSummary(receivers, columns),
    ...worst.map((receiver) => receiverRow(receiver, columns)),
  ];
  const columns = fitColumns(makeRows, options.columns);
  const titles = columns.map(({ title }) => title);
  return [
    heading(`Receivers: range over ${formatCount(receivers.length)}`, colours),
    plainTable(['', ...titles], receiverSummary(receivers, columns), colours),
    '',
    heading(`The ${worst.length} that spill most`, colours),
    plainTable(
      ['receiver', ...titles],
      worst.map((receiver) => receiverRow(receiver, columns)),
      colours,
    ),
    ...leftOut(columns, options, colours),
    '',
  ];
}

/** @returns a line that names the columns the terminal had no room for; none where all are there */
function leftOut(columns: readonly ReceiverColumn[], options: TextOptions, colours: Colours): string[] {
  const titles = RECEIVER_COLUMNS.filter((column) => !columns.includes(column)).map(({ title }) => title);
  if (titles.length === 0) return [];
  return [colours.dim(wrap(`no room for: ${titles.join(', ')}`, options.columns - INDENT.length, INDENT))];
}

function ledgerTable(ledger: Ledger, footprints: boolean, colours: Colours): string {
  const rows = ledger.lines.map((line): Row => {
    const relative: Figure =
      ledger.available_w > 0
        ? {
            value: line.share,
            std_err: line.power.std_err / ledger.available_w,
            ci95: [line.power.ci95[0] / ledger.available_w, line.power.ci95[1] / ledger.available_w],
            unit: '1',
            ...(line.power.limit === undefined ? {} : { limit: line.power.limit }),
          }
        : { value: line.share, std_err: 0, ci95: [line.share, line.share], unit: '1' };
    return [
      plainText(line.label),
      formatFigure(line.power, BARE),
      formatFigure(relative, BARE_PERCENT),
      line.rays === null ? '' : formatCount(line.rays),
    ];
  });
  rows.push([
    'beam irradiance x mirror area',
    formatNumber(ledger.available_w),
    '100',
    formatCount(ledger.rays),
  ]);
  return plainTable(['where the sunlight goes', 'W', '%', footprints ? 'points' : 'rays'], rows, colours);
}

/** Around a tube the mean of a position has no meaning: only the one along it is given. */
function centroidText(kind: ReceiverResult['kind'], spot: ReceiverResult['spot']): string {
  const along = formatFigure(spot.centroid_u, BARE);
  return kind === 'tube' ? along : `${along}, ${formatFigure(spot.centroid_v, BARE)}`;
}

function spotTable(receivers: readonly ReceiverResult[], centroid: boolean, colours: Colours): string {
  const rows = receivers.map(
    ({ name, kind, spot }): Row => [
      shorten(plainText(name), LONGEST_NAME),
      spot.measure,
      formatFigure(spot.holds_50, BARE),
      formatFigure(spot.holds_90, BARE),
      formatFigure(spot.holds_95, BARE),
      ...(centroid ? [centroidText(kind, spot)] : []),
    ],
  );
  const head = ['receiver', 'spot / mm', '50 %', '90 %', '95 %', ...(centroid ? ['centroid u, v'] : [])];
  return plainTable(head, rows, colours, 2);
}

function centroidTable(receivers: readonly ReceiverResult[], colours: Colours): string {
  const rows = receivers.map(
    ({ name, kind, spot }): Row => [shorten(plainText(name), LONGEST_NAME), centroidText(kind, spot)],
  );
  return plainTable(['receiver', 'centroid u, v / mm'], rows, colours);
}

/** The spot of each receiver as a list, for terminals too narrow for the table. */
function spotList(receivers: readonly ReceiverResult[], colours: Colours): string {
  const rows = receivers.flatMap(({ name, kind, spot }): Row[] => [
    ['receiver', shorten(plainText(name), LONGEST_NAME)],
    [`${spot.measure} with 50 % of the light`, formatFigure(spot.holds_50)],
    [`${spot.measure} with 90 %`, formatFigure(spot.holds_90)],
    [`${spot.measure} with 95 %`, formatFigure(spot.holds_95)],
    ['centroid along u', formatFigure(spot.centroid_u)],
    ...(kind === 'tube' ? [] : [['centroid along v', formatFigure(spot.centroid_v)]]),
  ]);
  return plainTable(null, rows, colours, 2);
}

function fits(table: string, columns: number, colours: Colours): boolean {
  const bare = colours.isColorSupported ? table.replace(ANSI_SEQUENCE, '') : table;
  return bare.split('\n').every((line) => lengthOf(line) <= columns);
}

// Built from a number, so that no control character stands in this file. Only our own bold and colour codes can be met here.
const ANSI_SEQUENCE = new RegExp(`${String.fromCharCode(27)}\\[[0-9;]*m`, 'g');

/**
 * The whole result for the terminal: the answer first, then key figures, receivers, ledger, spot, warnings, and the cautions
 * last. Names are printed with their control characters escaped.
 * @returns lines joined by line feeds, with one at the end
 */
export function formatTraceText(result: TraceResult, options: TextOptions): string {
  const colours = pc.createColors(options.colour);
  const columns = Math.max(FEWEST_COLUMNS, Math.floor(options.columns));
  const sized: TextOptions = { ...options, columns };
  const { receivers } = result;
  const single = receivers.length === 1 ? receivers[0] : null;
  const lines: string[] = [wrap(result.answer, columns), ''];
  if (result.interrupted) {
    lines.push(
      colours.yellow(wrap('Interrupted: these are the figures of the batches that were finished.', columns)),
      '',
    );
  }
  lines.push(heading(wrap(result.title, columns), colours), '');
  lines.push(
    heading('Key figures', colours),
    plainTable(null, keyRows(result.total, single, receivers.length), colours, 2),
    '',
  );
  lines.push(...receiverTables(receivers, sized, colours));
  lines.push(
    heading('Ledger', colours),
    ledgerTable(result.total.ledger, result.deposit !== undefined, colours),
    '',
  );
  const shown = receivers.length > MOST_RECEIVER_ROWS ? worstReceivers(receivers) : receivers;
  if (shown.length > 0) {
    const title = shown.length < receivers.length ? `Spot (the ${shown.length} that spill most)` : 'Spot';
    const [whole, short] = [true, false].map((centroid) => spotTable(shown, centroid, colours));
    lines.push(heading(title, colours));
    if (fits(whole, columns, colours)) lines.push(whole);
    else if (fits(short, columns, colours)) lines.push(short, '', centroidTable(shown, colours));
    else lines.push(spotList(shown, colours));
    lines.push('');
  }
  lines.push(colours.dim(wrap(runLine(result), columns)), colours.dim(wrap(errorNote(result), columns)));
  if (result.warnings.length > 0) {
    lines.push('', colours.bold(colours.yellow('Warnings')));
    for (const { message } of result.warnings) {
      lines.push(wrap(message, columns - 2 * INDENT.length, `${INDENT}- `, INDENT + INDENT));
    }
  }
  lines.push(...cautionLines(result.cautions, columns, colours));
  return `${lines.join('\n')}\n`;
}
