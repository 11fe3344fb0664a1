/** The parts of the page around the maps: answer, key figures, losses, sections handed in, inputs and methods. */

import { interceptCurveCsv, toCsv } from '../report/csv.js';
import { drawCurveFigure } from '../report/curve-figure.js';
import { ledgerCsv } from '../report/ledger-csv.js';
import { drawLossFigure, lossRows } from '../report/loss-figure.js';
import type { ReportSection } from '../report/section.js';
import type { Markup } from '../report/svg.js';
import {
  formatAperture,
  formatCount,
  formatFigure,
  formatNumber,
  formatSamples,
  formatWithError,
} from '../result/number-format.js';
import type { Figure, TraceResult } from '../result/types.js';
import { figureBlock } from './figure-block.js';
import { fileLink, many, type PlainTable, paragraphs, tableBlock, tag, unbroken } from './html.js';
import { FIGURE_WIDTH, letterOf } from './maps-part.js';
import type { PageInput, SceneInput, TracedScene } from './types.js';
import { verdictOf } from './verdict.js';

const PERCENT = { percent: true } as const;

/** @returns a part of the page with its heading */
export function part(id: string, title: string, ...children: readonly (Markup | string | null)[]): Markup {
  return tag(
    'section',
    { id, 'aria-labelledby': `${id}-heading` },
    tag('h2', { id: `${id}-heading` }, title),
    ...children,
  );
}

/** @returns the answer, each scene's own where there are several */
export function answerPart(input: PageInput): Markup {
  const { traced } = input;
  if (traced.length === 0) {
    return many(
      input.answer.map((text, i) => tag('p', { class: i === 0 ? 'answer' : null }, unbroken(text))),
    );
  }
  if (traced.length === 1) {
    const { result } = traced[0].summary;
    return many([
      tag('p', { class: 'answer' }, unbroken(verdictOf(result))),
      ...input.answer.map((text) => tag('p', {}, unbroken(text))),
      tag('p', {}, unbroken(result.answer)),
      result.interrupted
        ? tag('p', { class: 'warn' }, 'Interrupted: these are the figures of the batches that were finished.')
        : null,
    ]);
  }
  return many([
    ...input.answer.map((text) => tag('p', { class: 'answer' }, unbroken(text))),
    tag(
      'div',
      { class: `columns columns-${Math.min(4, traced.length)}` },
      ...traced.map(({ summary }, i) =>
        tag(
          'div',
          { class: 'column' },
          tag('h3', {}, `${letterOf(i)}: ${summary.result.title}`),
          tag('p', { class: 'scene-answer' }, unbroken(verdictOf(summary.result))),
        ),
      ),
    ),
  ]);
}

export function cautionPart(cautions: readonly string[]): Markup | null {
  if (cautions.length === 0) return null;
  return tag(
    'div',
    { class: 'caution', role: 'note' },
    tag('h2', {}, 'Caution: concentrated light'),
    tag('ul', {}, ...cautions.map((text) => tag('li', {}, text))),
  );
}

export function warningPart(warnings: readonly string[]): Markup | null {
  if (warnings.length === 0) return null;
  return part('warnings', 'What looks wrong', ...warnings.map((text) => tag('p', { class: 'warn' }, text)));
}

/** One row per figure, one column per scene. */
function keyTable(results: readonly TraceResult[]): PlainTable {
  const row = (label: string, value: (result: TraceResult) => string): string[] => [
    label,
    ...results.map(value),
  ];
  const figure = (label: string, pick: (result: TraceResult) => Figure, percent = false): string[] =>
    row(label, (result) => formatFigure(pick(result), percent ? PERCENT : {}));
  return {
    caption: 'Key figures, ± is the 95 % half width',
    head: [
      '',
      ...results.map((result, i) =>
        results.length > 1 ? `${letterOf(i)}: ${result.title}` : 'all receivers',
      ),
    ],
    rows: [
      row('receivers', ({ receivers }) => formatCount(receivers.length)),
      row('opening', ({ receivers }) =>
        [...new Set(receivers.map(({ aperture }) => formatAperture(aperture)))].slice(0, 3).join('; '),
      ),
      row('mirror area', ({ total }) => `${formatNumber(total.mirror_area_m2, 4)} m²`),
      figure('power through openings', ({ total }) => total.intercepted_power),
      figure('reflected power', ({ total }) => total.reflected_power),
      figure('intercept factor', ({ total }) => total.intercept_factor, true),
      figure('spill', ({ total }) => total.spill_fraction, true),
      figure('blocked', ({ total }) => total.blocked_fraction, true),
      figure('peak flux', ({ total }) => total.peak_flux),
      row('  at receiver', ({ total }) => total.peak_receiver),
      figure('mean flux', ({ total }) => total.mean_flux),
      figure('concentration ratio', ({ total }) => total.concentration_ratio),
      row(
        'sun',
        ({ sun }) =>
          `azimuth ${formatNumber(sun.azimuth_deg, 4)}°, elevation ${formatNumber(sun.elevation_deg, 4)}°`,
      ),
      row('beam irradiance', ({ sun }) => `${formatNumber(sun.dni_w_m2, 4)} W/m²`),
    ],
  };
}

function keyCsv(results: readonly TraceResult[]): string {
  const keys = [
    'intercepted_power',
    'reflected_power',
    'intercept_factor',
    'spill_fraction',
    'blocked_fraction',
    'peak_flux',
    'mean_flux',
    'concentration_ratio',
  ] as const;
  const rows = results.flatMap(({ title, total }) =>
    keys.map((key) => [
      title,
      key,
      total[key].value,
      total[key].std_err,
      ...total[key].ci95,
      total[key].unit,
    ]),
  );
  return toCsv(['scene', 'figure', 'value', 'std_err', 'ci95_low', 'ci95_high', 'unit'], rows);
}

/** The figures that sum a scene up, one column for each scene. */
export function keyBlock(traced: readonly TracedScene[]): Markup {
  const results = traced.map(({ summary }) => summary.result);
  return tag(
    'div',
    { class: 'key' },
    tableBlock(keyTable(results)),
    tag('p', {}, fileLink('figures.csv', keyCsv(results), 'key figures as CSV')),
  );
}

/** One row for each receiver; nothing where no scene has several. */
export function receiversPart(traced: readonly TracedScene[]): Markup | null {
  const tables = traced.map(({ summary }, i) =>
    receiversTable(summary.result, traced.length > 1 ? letterOf(i) : null),
  );
  return tables.every((table) => table === null)
    ? null
    : part('receivers', 'Receiver by receiver', ...tables);
}

function receiversTable({ receivers }: TraceResult, letter: string | null): Markup | null {
  if (receivers.length < 2) return null;
  const table: PlainTable = {
    caption: letter === null ? 'Receivers' : `Receivers of ${letter}`,
    head: ['receiver', 'peak flux', 'power', 'intercept', 'spill', 'opening for 5 % spill'],
    rows: receivers.map((receiver) => [
      receiver.name,
      formatFigure(receiver.peak_flux),
      formatFigure(receiver.intercepted_power),
      formatFigure(receiver.intercept_factor, PERCENT),
      formatFigure(receiver.spill_fraction, PERCENT),
      formatFigure(receiver.opening_for_5_percent_spill_mm),
    ]),
  };
  return tableBlock(table);
}

/** One column per scene, or figure and table side by side for a single one. */
function columnsOf(
  traced: readonly TracedScene[],
  draw: (scene: TracedScene, index: number) => readonly Markup[],
): Markup {
  if (traced.length === 1) return tag('div', { class: 'pair' }, ...draw(traced[0], 0));
  return tag(
    'div',
    { class: `columns columns-${Math.min(4, traced.length)}` },
    ...traced.map((scene, i) =>
      tag(
        'div',
        { class: 'column' },
        tag('h3', {}, `${letterOf(i)}: ${scene.summary.result.title}`),
        ...draw(scene, i),
      ),
    ),
  );
}

/** Sizes of opening at which the table of a curve is read, against the one as built. */
const CURVE_SCALES = [0.5, 0.75, 0.9, 1, 1.1, 1.25, 1.5, 2];
/** With more receivers the table gives the lowest and the highest. */
const MOST_CURVE_COLUMNS = 3;

function curveTable({ receivers }: TraceResult): PlainTable {
  type Point = TraceResult['receivers'][number]['intercept_curve'][number];
  const pointAt = (points: readonly Point[], scale: number): Point | undefined =>
    [...points].sort((a, b) => Math.abs(a.scale - scale) - Math.abs(b.scale - scale))[0];
  const cell = (point: Point): string => `${formatWithError(100 * point.intercept, 196 * point.std_err)} %`;
  const few = receivers.length <= MOST_CURVE_COLUMNS;
  const rows = CURVE_SCALES.flatMap((scale) => {
    const points = receivers.flatMap(({ intercept_curve: curve }) => pointAt(curve, scale) ?? []);
    if (points.length === 0) return [];
    const sizes = points.map((point) => point.size_mm);
    const [low, high] = [Math.min(...sizes), Math.max(...sizes)];
    const size =
      high - low < 0.05 ? formatNumber(low, 4) : `${formatNumber(low, 4)} to ${formatNumber(high, 4)}`;
    const sorted = [...points].sort((a, b) => a.intercept - b.intercept);
    const shown = few ? points : [sorted[0], sorted[sorted.length - 1]];
    return [[`${size} mm`, ...shown.map(cell)]];
  });
  return {
    caption: 'Intercept factor by size of the opening',
    head: ['size', ...(few ? receivers.map(({ name }) => name) : ['lowest receiver', 'highest receiver'])],
    rows,
  };
}

export function curvePart(traced: readonly TracedScene[]): Markup {
  return part(
    'opening',
    'How large an opening',
    tag(
      'p',
      { class: 'note' },
      'What share of the light that its mirrors send goes through a receiver’s opening, were it larger or smaller about the same centre.',
    ),
    columnsOf(traced, ({ summary }, i) => {
      const { result } = summary;
      const stamp = {
        title: result.title,
        seed: result.seed,
        rays: result.rays,
        sceneHash: result.scene_hash,
      };
      const figure = figureBlock({
        id: `curve-${i}`,
        drawn: drawCurveFigure(result.receivers, stamp, { width: FIGURE_WIDTH, bare: true }),
        caption: 'Intercept factor against the size of the opening, with 95 % bands.',
        description: result.receivers
          .slice(0, 12)
          .map(
            ({ name, intercept_factor: intercept, opening_for_5_percent_spill_mm: five }) =>
              `${name}: ${formatFigure(intercept, PERCENT)} as built, 5 % spill at ${formatFigure(five)}`,
          )
          .join('; '),
        csv: { name: `intercept-curve-${i + 1}.csv`, text: interceptCurveCsv(result) },
        table: traced.length > 1 ? curveTable(result) : null,
      });
      return traced.length > 1 ? [figure] : [figure, tableBlock(curveTable(result))];
    }),
  );
}

export function lossPart(traced: readonly TracedScene[]): Markup {
  return part(
    'losses',
    'Where the sunlight goes',
    columnsOf(traced, ({ summary }, i) => {
      const { result } = summary;
      const { ledger } = result.total;
      const table: PlainTable = {
        caption: 'Every watt and every ray',
        head: [
          'where it ends',
          'power',
          'of the sunlight',
          result.deposit === undefined ? 'rays' : 'mirror points',
        ],
        rows: lossRows(ledger),
      };
      const figure = figureBlock({
        id: `losses-${i}`,
        drawn: drawLossFigure(
          ledger,
          `all receivers, ${formatNumber(ledger.mirror_area_m2, 4)} m² of mirrors`,
          FIGURE_WIDTH,
        ),
        caption:
          'From the sunlight on the mirrors’ area down to what is caught; hanging bars are what each step takes.',
        description: ledger.lines.map(({ label, power }) => `${label}: ${formatFigure(power)}`).join('; '),
        csv: { name: `ledger-${i + 1}.csv`, text: ledgerCsv(result) },
        table: traced.length > 1 ? table : null,
      });
      return traced.length > 1 ? [figure] : [figure, tableBlock(table)];
    }),
  );
}

/** @returns what a study handed in, as it stands in the page */
export function sectionPart(section: ReportSection): Markup {
  const { csv } = section;
  const used = new Set(section.figures.map((figure) => figure.csv));
  const loose = csv.filter(({ name }) => !used.has(name));
  return part(
    `section-${section.id}`,
    section.title,
    section.lead === '' ? null : tag('p', {}, section.lead),
    ...section.figures.map((figure, i) =>
      figureBlock({
        id: `section-${section.id}-${i}`,
        drawn: figure.drawn,
        caption: figure.caption,
        description: figure.description,
        csv: csv.find(({ name }) => name === figure.csv) ?? null,
      }),
    ),
    ...section.tables.map(tableBlock),
    loose.length === 0
      ? null
      : tag('p', {}, ...loose.map(({ name, text }) => many([fileLink(name, text, name), ' ']))),
  );
}

function runRows(input: PageInput): string[][] {
  const { machine, traced } = input;
  const rows = [
    ['program', `rowfocus ${input.version}, command ${input.command}`],
    ['seed', input.seed],
    [
      'wall time',
      `${formatNumber(machine.wall_time_s, 3)} s with ${machine.workers === 0 ? 'no threads beside the main one' : `${machine.workers} threads`}`,
    ],
    ['written', input.written],
  ];
  if (input.overrides.length > 0) rows.push(['values put in by --set', input.overrides.join('; ')]);
  traced.forEach(({ summary, file }, i) => {
    const { result } = summary;
    const name = traced.length > 1 ? `${letterOf(i)}: ${file}` : file;
    const samples = formatSamples(result.rays, result.deposit !== undefined);
    rows.push([
      name,
      `${samples} in ${result.batches} batches, errors from ${result.groups} groups; scene ${result.scene_hash}`,
    ]);
  });
  if (traced.length === 0) for (const { file, hash } of input.inputs) rows.push([file, `scene ${hash}`]);
  return rows;
}

function sourceBlock({ file, text, title }: SceneInput, i: number): Markup {
  return many([
    tag('h3', {}, title),
    tag(
      'p',
      { class: 'note' },
      `${file}, as written `,
      fileLink(`scene-${i + 1}.yaml`, text, 'scene file', 'text/yaml'),
    ),
    tag(
      'pre',
      { class: 'source', tabindex: 0, role: 'region', 'aria-label': `scene file ${file}` },
      { markup: sourceText(text) },
    ),
  ]);
}

/** Scene text keeps its lines; within a line all is made harmless as everywhere. */
function sourceText(text: string): string {
  return text
    .split(/\r\n|[\r\n]/)
    .map((line) => tag('span', {}, line.replace(/\t/g, '  ')).markup)
    .join('\n');
}

export function inputsPart(input: PageInput): Markup {
  const sources = input.traced.length > 0 ? input.traced : input.inputs;
  return part(
    'inputs',
    'Inputs',
    tableBlock({ caption: 'The run', head: ['', ''], rows: runRows(input) }),
    ...sources.map(sourceBlock),
  );
}

export function methodsPart(methods: readonly string[]): Markup {
  return part(
    'methods',
    'Methods and sources',
    tag('ul', { class: 'methods' }, ...methods.map((text) => tag('li', {}, text))),
    paragraphs(
      [
        'These figures describe optics. Local codes and licensed practice decide what may be built and how it is guarded.',
      ],
      {},
    ),
  );
}
