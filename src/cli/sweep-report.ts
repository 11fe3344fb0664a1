/** A sweep for people: table, CSV and pictures. */
import { createColors } from 'picocolors';
import { type CsvCell, toCsv } from '../report/csv.js';
import { plainText } from '../report/plain-text.js';
import { cautionLines, lengthOf, wrap } from '../report/terminal-text.js';
import type { SweepMap, SweepPlot } from '../report/types.js';
import { cautionsFor } from '../result/cautions.js';
import { formatCount, formatNumber, formatSamples } from '../result/number-format.js';
import type { Figure } from '../result/types.js';
import type { Requirement, SweepPoint, SweepResult } from '../study/types.js';
import {
  figureCell,
  figureWords,
  highestPeak,
  scaleOf,
  unitWords,
  writtenHalfWidth,
} from './figure-words.js';
import { textTable } from './text-table.js';

/** Rows of the table at most; a sweep of two paths can have thousands of points. */
const MOST_ROWS = 400;

function firstFigure(result: SweepResult, name: string): Figure | undefined {
  return result.points.find((point) => name in point.figures)?.figures[name];
}

function withUnit(words: string, unit: string, gap: string): string {
  return unit === '' ? words : `${words}${gap}${unit}`;
}

/**
 * @param shown names of the figures to show, a column each
 * @param single whether the scene has a single receiver, which then need not be named
 */
export function sweepText(
  result: SweepResult,
  shown: readonly string[],
  single: boolean,
  options: { readonly colour: boolean; readonly columns: number },
): string {
  const colours = createColors(options.colour);
  const { bold, yellow } = colours;
  const lines: string[] = [bold(plainText(result.title))];
  if (result.interrupted) {
    lines.push(yellow('Interrupted: only the points that were finished are given.'));
  }
  lines.push(
    '',
    ...(gridTables(result, shown, single, options) ?? [pointTable(result, shown, single, options)]),
  );
  if (result.points.length > MOST_ROWS) {
    lines.push(
      `... and ${result.points.length - MOST_ROWS} more points, all of them in the CSV file and with --json`,
    );
  }
  // One for each value of the second key: a list, not paragraphs.
  const several = result.tolerances.length > 1;
  for (const [index, { message }] of result.tolerances.entries()) {
    if (index === 0 || !several) lines.push('');
    lines.push(several ? wrap(message, options.columns - 2, '- ', '  ') : bold(plainText(message)));
  }
  const rays = result.points[0]?.rays ?? 0;
  lines.push(
    '',
    `${formatCount(result.points.length)} points, some ${formatSamples(rays, result.deposit !== undefined)} each, all with seed ${JSON.stringify(plainText(result.seed))}. ` +
      '± is half the 95 % interval of the value itself; differences between points are known better, as all share their random numbers (--json gives them).',
  );
  if (result.warnings.length > 0) {
    lines.push(
      '',
      yellow(bold('Warnings')),
      ...result.warnings.map(({ message }) => `- ${plainText(message)}`),
    );
  }
  const hottest = highestPeak(result.points.map(({ figures }) => figures));
  lines.push(...cautionLines(cautionsFor(hottest), options.columns, colours));
  return `${lines.join('\n')}\n`;
}

function columnHead(result: SweepResult, name: string, single: boolean, gap: string): string {
  const figure = firstFigure(result, name);
  const unit = figure === undefined ? '' : unitWords(name, figure);
  return withUnit(figureWords(name, !single), unit, gap);
}

/** A line for each point. */
function pointTable(
  result: SweepResult,
  shown: readonly string[],
  single: boolean,
  { colour }: { readonly colour: boolean },
): string {
  const header = [
    // Paths are long: a line for each of their parts.
    ...result.vary.map(({ path }) => path.replaceAll('.', '.\n')),
    ...shown.map((name) => columnHead(result, name, single, '\n')),
  ];
  const rows = result.points
    .slice(0, MOST_ROWS)
    .map((point) => [
      ...point.values.map((value) => formatNumber(value, 8)),
      ...shown.map((name) => figureCell(name, point.figures[name])),
    ]);
  return textTable(header, rows, colour);
}

/**
 * A sweep of two keys: a table for each figure, with the first key down and the second across.
 * @returns null where there are too many points, or a table would be wider than the terminal
 */
function gridTables(
  result: SweepResult,
  shown: readonly string[],
  single: boolean,
  { colour, columns }: { readonly colour: boolean; readonly columns: number },
): string[] | null {
  if (result.vary.length !== 2 || result.points.length > MOST_ROWS) return null;
  const { bold } = createColors(colour);
  const [down, across] = result.vary;
  const found = new Map(result.points.map((point) => [point.values.join('/'), point]));
  const lines = [`down:   ${plainText(down.path)}`, `across: ${plainText(across.path)}`];
  for (const name of shown) {
    const rows = down.values.map((first) => [
      formatNumber(first, 8),
      ...across.values.map((second) => figureCell(name, found.get(`${first}/${second}`)?.figures[name])),
    ]);
    const header = ['', ...across.values.map((value) => formatNumber(value, 8))];
    if (
      textTable(header, rows, false)
        .split('\n')
        .some((line) => lengthOf(line) > columns)
    )
      return null;
    lines.push('', bold(plainText(columnHead(result, name, single, ' / '))), textTable(header, rows, colour));
  }
  return lines;
}

/** All points and all figures, units as in the JSON document (shares from 0 to 1). */
export function sweepTableCsv(result: SweepResult): string {
  const header = [
    ...result.vary.map(({ path }) => path),
    'rays',
    ...result.figures.flatMap((name) => {
      const unit = firstFigure(result, name)?.unit ?? '';
      const head = unit === '' || unit === '1' ? name : `${name} (${unit})`;
      return [head, `${name} std_err`, `${name} ci95_low`, `${name} ci95_high`, `${name} limit`];
    }),
  ];
  const rows = result.points.map((point): CsvCell[] => [
    ...point.values,
    point.rays,
    ...result.figures.flatMap((name): CsvCell[] => {
      const figure = point.figures[name];
      if (figure === undefined) return ['', '', '', '', ''];
      return [figure.value, figure.std_err, ...figure.ci95, figure.limit ?? ''];
    }),
  ]);
  return toCsv(header, rows);
}

function requirementWords(requirement: Requirement): string {
  const unit = scaleOf(requirement.figure) === 100 ? ' %' : '';
  const bound = formatNumber(requirement.bound * scaleOf(requirement.figure), 4);
  const side = requirement.relation.startsWith('<') ? 'at most' : 'at least';
  return `${figureWords(requirement.figure, true)} ${side} ${bound}${unit}`;
}

function stamp(result: SweepResult): string {
  return `seed ${plainText(result.seed)} · ${formatSamples(result.points[0].rays, result.deposit !== undefined)} each · ${result.points.length} points`;
}

/** Orders points by their first value: a sweep may have run downwards. */
function rising(points: readonly SweepPoint[]): SweepPoint[] {
  return [...points].sort((a, b) => a.values[0] - b.values[0]);
}

/** One figure against the path of a sweep of one. */
export function sweepPlot(result: SweepResult, name: string, single: boolean): SweepPlot {
  const points = rising(result.points);
  const { requirement, tolerances } = result;
  const own = requirement !== null && requirement.figure === name ? requirement : null;
  const limit = own === null ? null : (tolerances[0]?.limit ?? null);
  const sample = firstFigure(result, name);
  const words = figureWords(name, !single);
  const scale = scaleOf(name);
  return {
    title: result.title,
    subtitle: `${stamp(result)} · band: 95 %`,
    xLabel: result.vary[0].path,
    yLabel: withUnit(words, sample === undefined ? '' : unitWords(name, sample), ' / '),
    x: points.map((point) => point.values[0]),
    series: [
      {
        label: words,
        value: points.map((point) => (point.figures[name]?.value ?? Number.NaN) * scale),
        halfWidth: points.map((point) => {
          const figure = point.figures[name];
          return figure === undefined ? Number.NaN : writtenHalfWidth(name, figure);
        }),
      },
    ],
    ...(own === null
      ? {}
      : {
          requirement: {
            value: own.bound * scale,
            label: requirementWords(own),
            relation: own.relation.startsWith('<') ? '<=' : '>=',
          } as const,
        }),
    ...(limit === null ? {} : { crossing: { value: limit.value, interval: limit.ci95 } }),
  };
}

/** One figure over the two paths of a sweep of two. */
export function sweepMap(result: SweepResult, name: string, single: boolean): SweepMap {
  const ascending = (values: readonly number[]) => [...new Set(values)].sort((a, b) => a - b);
  const x = ascending(result.points.map((point) => point.values[0]));
  const y = ascending(result.points.map((point) => point.values[1]));
  const scale = scaleOf(name);
  const found = new Map(result.points.map((point) => [`${point.values[0]}/${point.values[1]}`, point]));
  const sample = firstFigure(result, name);
  const { requirement } = result;
  const halfWidths = result.points.flatMap(({ figures }) =>
    name in figures && figures[name].limit === undefined ? [writtenHalfWidth(name, figures[name])] : [],
  );
  const unit = sample === undefined ? '' : unitWords(name, sample);
  const error =
    halfWidths.length === 0
      ? ''
      : ` · ± ${withUnit(formatNumber(Math.max(...halfWidths), 2), unit, ' ')} at most (95 %)`;
  return {
    title: result.title,
    subtitle: `${stamp(result)}${error}`,
    xLabel: result.vary[0].path,
    yLabel: result.vary[1].path,
    x,
    y,
    value: y.map((high) =>
      x.map((low) => (found.get(`${low}/${high}`)?.figures[name]?.value ?? Number.NaN) * scale),
    ),
    halfWidth: y.map((high) =>
      x.map((low) => {
        const figure = found.get(`${low}/${high}`)?.figures[name];
        return figure === undefined ? Number.NaN : writtenHalfWidth(name, figure);
      }),
    ),
    valueLabel: withUnit(figureWords(name, !single), unit, ' / '),
    ...(requirement !== null && requirement.figure === name
      ? {
          requirement: {
            value: requirement.bound * scale,
            // Low values are the dark ones.
            label: `${requirementWords(requirement)}: met on the ${requirement.relation.startsWith('<') ? 'darker' : 'brighter'} side`,
          },
        }
      : {}),
  };
}
