/** The table of a receiver's places as sheets to print: A4 upright, a block for each season. */
import { FAINT_INK, INK, straightLine, typeset, words } from './drawing.js';
import { textWidth, wrapText } from './font.js';
import { plainText } from './plain-text.js';
import { renderFigure } from './render-figure.js';
import { element, group, type Markup, svgDocument } from './svg.js';
import type { DrawnFigure } from './types.js';

export interface SheetColumn {
  /** A line feed breaks it. */
  readonly head: string;
  /** What one looks up by. */
  readonly strong: boolean;
}

export interface SheetBlock {
  readonly title: string;
  /** Broken where they are too long for a block. */
  readonly subtitles: readonly string[];
  readonly columns: readonly SheetColumn[];
  /** As many cells as there are columns. */
  readonly rows: readonly (readonly string[])[];
}

export interface TrackSheet {
  readonly title: string;
  readonly subtitles: readonly string[];
  readonly blocks: readonly SheetBlock[];
  /** At the foot of each sheet; the cautions below them. */
  readonly notes: readonly string[];
  readonly cautions: readonly string[];
}

const CAUTION = '#b3261e';
/** A4 at 96 pixels an inch. */
const WIDTH = 794;
const HEIGHT = 1123;
const EDGE = 40;
const GUTTER = 22;
const ROW = 14.5;
const HEAD = 54;
const SUBTITLE = 12;
const SIZE = 10;
const SMALL = 9;
const BLOCK_WIDTH = (WIDTH - 2 * EDGE - GUTTER) / 2;

interface Placed {
  readonly block: SheetBlock;
  readonly page: number;
  readonly column: number;
  readonly top: number;
}

function subtitleLines({ subtitles }: SheetBlock): string[] {
  return subtitles.flatMap((line) => wrapText(typeset(plainText(line)), BLOCK_WIDTH, SMALL));
}

/** From the top of a block to its first row. */
function headHeight(block: SheetBlock): number {
  return HEAD + SUBTITLE * subtitleLines(block).length;
}

function blockHeight(block: SheetBlock): number {
  return headHeight(block) + block.rows.length * ROW + 16;
}

/** @throws RangeError for no blocks */
export function drawTrackSheets(sheet: TrackSheet): readonly DrawnFigure[] {
  if (sheet.blocks.length === 0) throw new RangeError('a sheet needs a block');
  const lines = sheet.subtitles.flatMap((line) => wrapText(plainText(line), WIDTH - 2 * EDGE, SIZE));
  const notes = sheet.notes.flatMap((line) => wrapText(plainText(line), WIDTH - 2 * EDGE, SIZE));
  const first = EDGE + 34 + 14 * lines.length;
  const cautions = sheet.cautions.flatMap((line) => wrapText(plainText(line), WIDTH - 2 * EDGE - 62, SIZE));
  const foot = 14 * (notes.length + cautions.length);
  const last = HEIGHT - EDGE - foot - 34;
  const placed: Placed[] = [];
  let [page, column, y] = [0, 0, first];
  for (const block of sheet.blocks) {
    if (y > first && y + blockHeight(block) > last) {
      [page, column, y] = column === 0 ? [page, 1, first] : [page + 1, 0, first];
    }
    placed.push({ block, page, column, top: y });
    y += blockHeight(block);
  }
  return Array.from({ length: page + 1 }, (_, index) => {
    const own = placed.filter((one) => one.page === index);
    // Very short steps make a block longer than a sheet: the sheet grows with it.
    const end = Math.max(last, ...own.map(({ block, top }) => top + blockHeight(block)));
    const height = Math.ceil(end + 34 + foot + EDGE);
    const cautionTop = end + 30 + 14 * notes.length;
    const pages = page === 0 ? '' : `sheet ${index + 1} of ${page + 1}`;
    const markup = [
      words(EDGE, EDGE + 12, sheet.title, { size: 17, weight: 'bold', room: WIDTH - 2 * EDGE - 90 }),
      words(WIDTH - EDGE, EDGE + 12, pages, { size: SIZE, anchor: 'end', fill: FAINT_INK }),
      ...lines.map((line, i) => words(EDGE, EDGE + 32 + 14 * i, line, { size: SIZE, fill: FAINT_INK })),
      ...own.map(blockMarkup),
      ...notes.map((line, i) => words(EDGE, end + 20 + 14 * i, line, { size: SIZE, fill: INK })),
      words(EDGE, cautionTop, 'Caution', { size: SIZE + 1, weight: 'bold', fill: CAUTION }),
      ...cautions.map((line, i) => words(EDGE + 62, cautionTop + 14 * i, line, { size: SIZE, fill: INK })),
    ];
    return { svg: svgDocument(WIDTH, height, markup), width: WIDTH, height, areas: [] };
  });
}

/** Right edges of the columns: as wide as their widest cell, what is left shared out. */
function columnEdges({ columns, rows }: SheetBlock, width: number): number[] {
  const widths = columns.map(({ head, strong }, i) =>
    Math.max(
      ...head.split('\n').map((line) => textWidth(line, SMALL)),
      ...rows.map((row) => textWidth(typeset(row[i] ?? ''), SIZE, strong ? 'bold' : 'regular')),
    ),
  );
  const gap = (width - widths.reduce((a, b) => a + b, 0)) / Math.max(1, columns.length - 1);
  let edge = -gap;
  return widths.map((one) => {
    edge += gap + one;
    return edge;
  });
}

function blockMarkup({ block, column, top }: Placed): Markup {
  const left = EDGE + column * (BLOCK_WIDTH + GUTTER);
  const edges = columnEdges(block, BLOCK_WIDTH - 6).map((edge) => left + 3 + edge);
  const rowsTop = top + headHeight(block);
  return group({}, [
    words(left, top + 12, block.title, { size: 12, weight: 'bold', room: BLOCK_WIDTH }),
    ...subtitleLines(block).map((line, i) =>
      words(left, top + 25 + SUBTITLE * i, line, { size: SMALL, fill: FAINT_INK }),
    ),
    ...block.columns.flatMap(({ head, strong }, i) => {
      const parts = head.split('\n');
      return parts.map((line, k) =>
        words(edges[i], rowsTop - 11 + 11 * (k - (parts.length - 1)), line, {
          size: SMALL,
          anchor: 'end',
          weight: strong ? 'bold' : 'regular',
          fill: strong ? INK : FAINT_INK,
        }),
      );
    }),
    straightLine(left, rowsTop - 6, left + BLOCK_WIDTH, rowsTop - 6, { colour: INK, width: 0.8 }),
    ...block.rows.flatMap((row, r) => {
      const y = rowsTop + r * ROW;
      // Every second pair of rows on a ground of its own leads the eye.
      const ground =
        r % 4 < 2
          ? []
          : [element('rect', { x: left, y: y - 4, width: BLOCK_WIDTH, height: ROW, fill: '#f1f1f1' })];
      return [
        ...ground,
        ...row.map((cell, i) =>
          words(edges[i], y + 7, typeset(cell), {
            size: SIZE,
            anchor: 'end',
            weight: block.columns[i].strong ? 'bold' : 'regular',
          }),
        ),
      ];
    }),
  ]);
}

/** @returns the sheets as PNG files */
export function trackSheetPngs(sheet: TrackSheet): readonly Uint8Array[] {
  return drawTrackSheets(sheet).map(renderFigure);
}
