/** A comparison for people: tables, CSV and the picture's parts. */
import { createColors } from 'picocolors';
import { type CsvCell, toCsv } from '../report/csv.js';
import { plainText } from '../report/plain-text.js';
import { cautionLines } from '../report/terminal-text.js';
import type { ComparePanel } from '../report/types.js';
import { cautionsFor } from '../result/cautions.js';
import { formatFigure, formatSamples } from '../result/number-format.js';
import type { Figure, Summary } from '../result/types.js';
import type { CompareResult, Comparison } from '../study/types.js';
import { figureCell, figureWords, highestPeak, isShare, unitWords } from './figure-words.js';
import { textTable } from './text-table.js';

/** @returns "A", "B", ..., "Z", "A2", ... */
export function letterOf(index: number): string {
  const letter = String.fromCharCode(65 + (index % 26));
  return index < 26 ? letter : `${letter}${Math.floor(index / 26) + 1}`;
}

/** Below this share of the figure a difference is rounding of the arithmetic. */
const ROUNDING = 1e-9;

function isRounding({ difference }: Comparison, base: Figure): boolean {
  const { value, ci95 } = difference;
  const largest = Math.max(Math.abs(value), Math.abs(ci95[0]), Math.abs(ci95[1]));
  return largest <= ROUNDING * Math.abs(base.value);
}

export function differenceCell(
  name: string,
  comparison: Comparison | undefined,
  base: Figure | undefined,
): string {
  if (comparison === undefined || base === undefined) return '';
  if (isRounding(comparison, base)) return 'the same';
  const text = formatFigure(comparison.difference, { bare: true, percent: isShare(name) });
  return comparison.difference.value > 0 ? `+${text}` : text;
}

function ratioCell(comparison: Comparison | undefined): string {
  return comparison === undefined || comparison.ratio === null
    ? '-'
    : formatFigure(comparison.ratio, { bare: true });
}

/** Whether the whole 95 % interval lies on one side of no difference. */
function isClear({ difference }: Comparison): boolean {
  return difference.ci95[0] > 0 || difference.ci95[1] < 0;
}

/** One sentence on what tells two scenes apart for certain. */
export function verdict(result: CompareResult, index: number): string {
  const other = letterOf(index + 1);
  const told = (name: string, clear: (more: boolean) => string, unclear: string, same: string): string[] => {
    const comparison = result.differences[index].figures[name];
    const base = result.scenes[0].figures[name];
    if (comparison === undefined || base === undefined) return [];
    if (isRounding(comparison, base)) return [same];
    return [isClear(comparison) ? clear(comparison.difference.value > 0) : unclear];
  };
  const parts = [
    ...told(
      'spill_fraction',
      (more) => `${other} spills ${more ? 'more' : 'less'} than A`,
      `${other} and A cannot be told apart by their spill at this ray count`,
      `${other} and A spill the same share`,
    ),
    ...told(
      'intercepted_power',
      (more) => `${other} puts ${more ? 'more' : 'less'} power through its openings`,
      'the power through the openings cannot be told apart',
      'the power through the openings is the same',
    ),
  ];
  return parts.length === 0 ? '' : `${parts.join('; ')}.`;
}

/**
 * What the picture shows of a scene: its hottest receiver. The peak is the one of the table, read on rays that had no part in
 * the choice of that receiver; the receiver's own would read higher, as it was chosen for it.
 * @returns null where the scene has no receiver
 */
export function comparePanel(title: string, { result, grids }: Summary): ComparePanel | null {
  const { total, receivers } = result;
  const hottest = receivers.findIndex(({ name }) => name === total.peak_receiver);
  if (hottest < 0) return null;
  return { title, receiver: { ...receivers[hottest], peak_flux: total.peak_flux }, grid: grids[hottest] };
}

export function compareText(
  result: CompareResult,
  interrupted: boolean,
  options: { readonly colour: boolean; readonly columns: number },
): string {
  const colours = createColors(options.colour);
  const { bold, yellow } = colours;
  const { scenes, figures, differences } = result;
  const lines: string[] = scenes.map(
    ({ name, title }, index) => `${bold(letterOf(index))}  ${plainText(name)}: ${plainText(title)}`,
  );
  if (interrupted) lines.push(yellow('Interrupted: only the scenes that were finished are compared.'));
  const label = (name: string): string => {
    const sample = scenes[0].figures[name];
    const unit = sample === undefined ? '' : unitWords(name, sample);
    const words = figureWords(name, false);
    return unit === '' ? words : `${words} / ${unit}`;
  };
  const values = figures.map((name) => [
    label(name),
    ...scenes.map((scene) => figureCell(name, scene.figures[name])),
  ]);
  lines.push('', textTable(['', ...scenes.map((_, index) => letterOf(index))], values, options.colour));
  const header = differences.flatMap((_, index) => {
    const other = letterOf(index + 1);
    return [`${other} - A`, `${other} / A`];
  });
  const rows = figures.map((name) => [
    label(name),
    ...differences.flatMap((entry) => [
      differenceCell(name, entry.figures[name], scenes[0].figures[name]),
      ratioCell(entry.figures[name]),
    ]),
  ]);
  lines.push('', textTable(['', ...header], rows, options.colour), '');
  lines.push(...differences.map((_, index) => verdict(result, index)).filter((text) => text !== ''));
  const paired = differences.every((entry) => Object.values(entry.figures).every((one) => one.paired));
  lines.push(
    '',
    `Some ${formatSamples(scenes[0].rays, result.deposit !== undefined)} a scene, seed ${JSON.stringify(plainText(scenes[0].seed))}. ± is half the 95 % interval; ` +
      (paired
        ? 'that of a difference is the paired one, as all scenes share their random numbers.'
        : 'not all differences could be paired (see --json).'),
  );
  if (result.warnings.length > 0) {
    lines.push(
      '',
      yellow(bold('Warnings')),
      ...result.warnings.map(({ message }) => `- ${plainText(message)}`),
    );
  }
  const hottest = highestPeak(scenes.map((scene) => scene.figures));
  lines.push(...cautionLines(cautionsFor(hottest), options.columns, colours));
  return `${lines.join('\n')}\n`;
}

/** A line for each scene and figure, with the difference to the first scene. */
export function compareCsv(result: CompareResult): string {
  const rows = result.scenes.flatMap((scene, index) =>
    result.figures.flatMap((name): CsvCell[][] => {
      const figure = scene.figures[name];
      if (figure === undefined) return [];
      const comparison = index === 0 ? undefined : result.differences[index - 1].figures[name];
      return [
        [
          scene.name,
          name,
          figure.unit,
          figure.value,
          figure.std_err,
          figure.limit ?? '',
          ...(comparison === undefined
            ? ['', '', '', '', '']
            : [
                comparison.difference.value,
                comparison.difference.std_err,
                comparison.ratio?.value ?? '',
                comparison.ratio?.std_err ?? '',
                comparison.paired ? 'yes' : 'no',
              ]),
        ],
      ];
    }),
  );
  return toCsv(
    [
      'scene',
      'figure',
      'unit',
      'value',
      'std_err',
      'limit',
      'difference',
      'difference_std_err',
      'ratio',
      'ratio_std_err',
      'paired',
    ],
    rows,
  );
}
