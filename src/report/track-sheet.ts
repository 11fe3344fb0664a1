/** The table of a receiver's places as sheets to print: A4 upright, a block for each season. */
import { FAINT_INK, INK, straightLine, typeset, words } from './drawing.js';
import { textWidth, wrapText } from './font.js';
import { plainText } from './plain-text.js';
import { renderFigure } from './render-figure.js';
import { element, group, type Markup, svgDocument } from './svg.js';
import type { DrawnFigure } from './types.js';

export interface SheetBlock {
  readonly title: string;
  readonly subtitle: string;
  /** As many cells as the sheet has heads. */
  readonly rows: readonly (readonly string[])[];
}

export interface TrackSheet {
  readonly title: string;
  readonly subtitles: readonly string[];
  /** Column heads; a line feed breaks one. */
  readonly heads: readonly string[];
  readonly blocks: readonly SheetBlock[];
  /** At the foot of each sheet. */
  readonly notes: readonly string[];
}

/** A4 at 96 pixels an inch. */
const WIDTH = 794;
const HEIGHT = 1123;
const EDGE = 40;
const GUTTER = 22;
const ROW = 14.5;
const HEAD = 62;
const SIZE = 10;

interface Placed {
  readonly block: SheetBlock;
  readonly page: number;
  readonly column: number;
  readonly top: number;
}

function blockHeight({ rows }: SheetBlock): number {
  return HEAD + rows.length * ROW + 16;
}

/** @throws RangeError for no blocks */
export function drawTrackSheets(sheet: TrackSheet): readonly DrawnFigure[] {
  if (sheet.blocks.length === 0) throw new RangeError('a sheet needs a block');
  const lines = sheet.subtitles.flatMap((line) => wrapText(plainText(line), WIDTH - 2 * EDGE, SIZE));
  const notes = sheet.notes.flatMap((line) => wrapText(plainText(line), WIDTH - 2 * EDGE, SIZE));
  const first = EDGE + 34 + 14 * lines.length;
  const last = HEIGHT - EDGE - 14 * notes.length - 24;
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
    const foot = Math.max(last, ...own.map(({ block, top }) => top + blockHeight(block)));
    const height = Math.ceil(foot + 24 + 14 * notes.length + EDGE);
    const pages = page === 0 ? '' : `sheet ${index + 1} of ${page + 1}`;
    const markup = [
      words(EDGE, EDGE + 12, sheet.title, { size: 17, weight: 'bold', room: WIDTH - 2 * EDGE - 90 }),
      words(WIDTH - EDGE, EDGE + 12, pages, { size: SIZE, anchor: 'end', fill: FAINT_INK }),
      ...lines.map((line, i) => words(EDGE, EDGE + 32 + 14 * i, line, { size: SIZE, fill: FAINT_INK })),
      ...own.map((one) => blockMarkup(one, sheet.heads)),
      ...notes.map((line, i) => words(EDGE, foot + 24 + 14 * i, line, { size: SIZE, fill: INK })),
    ];
    return { svg: svgDocument(WIDTH, height, markup), width: WIDTH, height, areas: [] };
  });
}

/** Right edges of the columns: as wide as their widest cell, what is left shared out. */
function columnEdges(
  heads: readonly string[],
  rows: readonly (readonly string[])[],
  width: number,
): number[] {
  const widths = heads.map((head, i) =>
    Math.max(
      ...head.split('\n').map((line) => textWidth(line, SIZE - 0.5)),
      ...rows.map((row) => textWidth(typeset(row[i] ?? ''), SIZE)),
    ),
  );
  const gap = (width - widths.reduce((a, b) => a + b, 0)) / Math.max(1, heads.length - 1);
  let edge = -gap;
  return widths.map((one) => {
    edge += gap + one;
    return edge;
  });
}

function blockMarkup({ block, column, top }: Placed, heads: readonly string[]): Markup {
  const width = (WIDTH - 2 * EDGE - GUTTER) / 2;
  const left = EDGE + column * (width + GUTTER);
  const edges = columnEdges(heads, block.rows, width - 6).map((edge) => left + 3 + edge);
  const headTop = top + 40;
  return group({}, [
    words(left, top + 12, block.title, { size: 12, weight: 'bold', room: width }),
    words(left, top + 25, block.subtitle, { size: 9, fill: FAINT_INK, room: width }),
    ...heads.flatMap((head, i) => {
      const parts = head.split('\n');
      return parts.map((line, k) =>
        words(edges[i], headTop + 11 * (k - (parts.length - 2)), line, {
          size: SIZE - 0.5,
          anchor: 'end',
          fill: FAINT_INK,
        }),
      );
    }),
    straightLine(left, top + HEAD - 6, left + width, top + HEAD - 6, { colour: INK, width: 0.8 }),
    ...block.rows.flatMap((row, r) => {
      const y = top + HEAD + r * ROW;
      // Every second pair of rows on a ground of its own leads the eye.
      const ground =
        r % 4 < 2 ? [] : [element('rect', { x: left, y: y - 4, width, height: ROW, fill: '#f1f1f1' })];
      return [
        ...ground,
        ...row.map((cell, i) => words(edges[i], y + 7, typeset(cell), { size: SIZE, anchor: 'end' })),
      ];
    }),
  ]);
}

/** @returns the sheets as PNG files */
export function trackSheetPngs(sheet: TrackSheet): readonly Uint8Array[] {
  return drawTrackSheets(sheet).map(renderFigure);
}
