/** Comparisons and sweeps as parts of a report page. */
import type { ReportSection, SectionFigure } from '../report/section.js';
import { drawSweepFigure, drawSweepMapFigure } from '../report/sweep-figure.js';
import { formatNumber } from '../result/number-format.js';
import type { CompareResult, SweepResult } from '../study/types.js';
import { compareCsv, differenceCell, letterOf, verdict } from './compare-report.js';
import { figureCell, figureWords, unitWords } from './figure-words.js';
import { sweepMap, sweepPlot, sweepTableCsv } from './sweep-report.js';

/** Rows of a sweep's table in the page; the file holds all of them. */
const MOST_ROWS = 60;

function labelled(name: string, naming: boolean, unit: string): string {
  return unit === '' ? figureWords(name, naming) : `${figureWords(name, naming)} / ${unit}`;
}

/** @returns the verdicts, one sentence for each scene after the first */
export function compareAnswer(result: CompareResult): string[] {
  return result.differences.map((_, index) => verdict(result, index)).filter((text) => text !== '');
}

export function compareSection(result: CompareResult): ReportSection {
  const { scenes, figures, differences } = result;
  const paired = differences.every((entry) => Object.values(entry.figures).every((one) => one.paired));
  const rows = figures.map((name) => {
    const sample = scenes[0].figures[name];
    return [
      labelled(name, false, sample === undefined ? '' : unitWords(name, sample)),
      ...scenes.map((scene) => figureCell(name, scene.figures[name])),
      ...differences.map(({ figures: entries }) => differenceCell(name, entries[name], sample)),
    ];
  });
  return {
    id: 'differences',
    title: 'Side by side',
    lead:
      `Every scene was traced with the same random numbers, so that ${paired ? 'errors of differences are the paired ones, smaller than those of the figures themselves' : 'differences can be told; not all of them could be paired'}. ` +
      'Differences of shares are in percentage points.',
    figures: [],
    tables: [
      {
        caption: 'Figures, and what sets each scene apart from A; ± is the 95 % half width',
        head: [
          '',
          ...scenes.map((_, index) => letterOf(index)),
          ...differences.map((_, index) => `${letterOf(index + 1)} - A`),
        ],
        rows,
      },
      {
        caption: 'The scenes',
        head: ['', 'file', 'title'],
        rows: scenes.map(({ name, title }, index) => [letterOf(index), name, title]),
      },
    ],
    csv: [{ name: 'compare.csv', text: compareCsv(result) }],
  };
}

/** @returns the tolerances, or what was swept where nothing was required */
export function sweepAnswer(result: SweepResult): string[] {
  if (result.tolerances.length > 0) return result.tolerances.map(({ message }) => message);
  const ranges = result.vary.map(({ path, values }) => {
    const low = formatNumber(Math.min(...values), 6);
    return `${path} from ${low} to ${formatNumber(Math.max(...values), 6)}`;
  });
  return [
    `${result.points.length} points: ${ranges.join(', ')}. Nothing was required of them, so no tolerance is told.`,
  ];
}

/**
 * @param shown names of the figures to show, a picture each
 * @param single whether the scene has a single receiver, which then need not be named
 */
export function sweepSection(result: SweepResult, shown: readonly string[], single: boolean): ReportSection {
  const file = 'sweep.csv';
  const figures = shown.map((name): SectionFigure => {
    const words = figureWords(name, !single);
    return {
      drawn:
        result.vary.length === 1
          ? drawSweepFigure(sweepPlot(result, name, single))
          : drawSweepMapFigure(sweepMap(result, name, single)),
      caption: `${words} against ${result.vary.map(({ path }) => path).join(' and ')}.`,
      description: result.points
        .slice(0, 40)
        .map(({ values, figures: found }) => `${values.join(', ')}: ${figureCell(name, found[name])}`)
        .join('; '),
      csv: file,
    };
  });
  const unit = (name: string): string => {
    const sample = result.points.find((point) => name in point.figures)?.figures[name];
    return sample === undefined ? '' : unitWords(name, sample);
  };
  const rows = result.points
    .slice(0, MOST_ROWS)
    .map(({ values, figures: found }) => [
      values.map((value) => formatNumber(value, 8)).join(', '),
      ...shown.map((name) => figureCell(name, found[name])),
    ]);
  const more = result.points.length - rows.length;
  return {
    id: 'sweep',
    title: 'The sweep',
    lead:
      `${result.points.length} points, all with the same random numbers; ± is half the 95 % interval of the value itself.` +
      (result.interrupted ? ' Interrupted: only the points that were finished are shown.' : '') +
      (more > 0 ? ` The table shows the first ${rows.length}; the file holds all.` : ''),
    figures,
    tables: [
      {
        caption: 'The points of the sweep',
        head: [
          result.vary.map(({ path }) => path).join(', '),
          ...shown.map((name) => labelled(name, !single, unit(name))),
        ],
        rows,
      },
    ],
    csv: [{ name: file, text: sweepTableCsv(result) }],
    methods: [
      'Tolerance of a sweep: between its points a figure runs on a cubic through four of them, or a parabola through three; how far ' +
        'that may be off is in the interval.',
    ],
  };
}
