/** Figures inside the page: the drawing itself, its words, its numbers as a table and as a file. */
import type { Markup } from '../report/svg.js';
import { escapeMarkup } from '../report/svg.js';
import type { DrawnFigure } from '../report/types.js';
import { type Child, fileLink, many, type PlainTable, tableBlock, tag } from './html.js';

/** Drawings wider than this scroll in a box of their own where the page is narrow, so that their letters stay readable. */
const WIDEST_THAT_SHRINKS = 640;
/** White border of the drawings that a page can do without, pixels: left and right, top, bottom. */
const TRIM = { side: 18, top: 14, bottom: 4 };

/**
 * The drawing as part of the page. Its inner names (clip paths) get the id before them, as a page has many figures.
 * @param id unique in the page
 */
export function inlineFigure(drawn: DrawnFigure, id: string, title: string, description: string): Markup {
  const end = drawn.svg.indexOf('>');
  const narrow = drawn.width <= WIDEST_THAT_SHRINKS;
  const [x, y] = narrow ? [TRIM.side, TRIM.top] : [0, 0];
  const width = drawn.width - 2 * x;
  const height = drawn.height - (narrow ? TRIM.top + TRIM.bottom : 0);
  const open =
    `<svg xmlns="http://www.w3.org/2000/svg" class="drawing" width="${width}" height="${height}" ` +
    `viewBox="${x} ${y} ${width} ${height}" role="img" aria-labelledby="${id}-title ${id}-desc">` +
    `<title id="${id}-title">${escapeMarkup(title)}</title><desc id="${id}-desc">${escapeMarkup(description)}</desc>`;
  // Texts hold no quotes (they are escaped), so these can only be the drawing's own names.
  const rest = drawn.svg
    .slice(end + 1)
    .replace(/ id="([^"]*)"/g, ` id="${id}-$1"`)
    .replace(/url\(#([^)"]*)\)/g, `url(#${id}-$1)`);
  return { markup: open + rest };
}

export interface FigureBlock {
  readonly id: string;
  readonly drawn: DrawnFigure;
  readonly caption: string;
  readonly description: string;
  readonly csv?: { readonly name: string; readonly text: string } | null;
  readonly table?: PlainTable | null;
  /** Laid over the drawing, or set beneath it. */
  readonly more?: Child;
  readonly attributes?: Readonly<Record<string, string | number>>;
}

/** @returns the figure with its caption, and what belongs to it */
export function figureBlock(block: FigureBlock): Markup {
  const { id, drawn, caption, description } = block;
  const drawing = inlineFigure(drawn, id, caption, description);
  const wide = drawn.width > WIDEST_THAT_SHRINKS;
  return tag(
    'figure',
    { id: `${id}-figure`, class: wide ? 'figure wide' : 'figure', ...block.attributes },
    tag(
      'div',
      wide
        ? { class: 'drawing-box scrolls', tabindex: 0, role: 'region', 'aria-label': caption }
        : { class: 'drawing-box' },
      drawing,
    ),
    tag(
      'figcaption',
      {},
      caption,
      ...(block.csv == null ? [] : [many([' ', fileLink(block.csv.name, block.csv.text, 'numbers as CSV')])]),
    ),
    block.more ?? null,
    block.table == null
      ? null
      : tag('details', {}, tag('summary', {}, 'the figure as a table'), tableBlock(block.table)),
  );
}
