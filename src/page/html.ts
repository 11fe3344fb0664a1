/** HTML text, escaped by construction, as `report/svg.ts` does it for pictures. */
import { escapeMarkup, type Markup } from '../report/svg.js';

/** Elements that have no content and no end. */
const VOID = new Set(['br', 'hr', 'img', 'input', 'meta']);

export type Child = Markup | string | null;

/** True writes the bare name; false, null and undefined leave the attribute away. */
export type HtmlAttributes = Readonly<Record<string, string | number | boolean | null | undefined>>;

/**
 * @param name element name, from this program only
 * @param children strings are escaped, null is nothing
 */
export function tag(name: string, attributes: HtmlAttributes, ...children: readonly Child[]): Markup {
  const attributeList = Object.entries(attributes)
    .map(([key, value]) => {
      if (value === undefined || value === null || value === false) return '';
      return value === true ? ` ${key}` : ` ${key}="${escapeMarkup(String(value))}"`;
    })
    .join('');
  if (VOID.has(name)) return { markup: `<${name}${attributeList}>` };
  return { markup: `<${name}${attributeList}>${inner(children)}</${name}>` };
}

/** @returns the children one after another */
export function many(children: readonly Child[]): Markup {
  return { markup: inner(children) };
}

function inner(children: readonly Child[]): string {
  return children
    .map((child) => (child === null ? '' : typeof child === 'string' ? escapeMarkup(child) : child.markup))
    .join('');
}

/** @returns one paragraph for each text */
export function paragraphs(texts: readonly string[], attributes: HtmlAttributes = {}): Markup {
  return many(texts.map((text) => tag('p', attributes, text)));
}

export interface PlainTable {
  readonly caption: string;
  readonly head: readonly string[];
  readonly rows: readonly (readonly string[])[];
}

/** Rows from which a table may be broken over two sheets of paper. */
const LONG = 24;

/** @returns the text with numbers, their errors and units kept on one line */
export function unbroken(text: string): string {
  return text
    .replace(/ ± /g, '\u00a0±\u00a0')
    .replace(/(\d) (?=(?:%|mm|m|W|kW|kW\/m²|m²)(?![\p{L}\d]))/gu, '$1\u00a0');
}

/** Columns from which a table's cells may be broken into lines on paper. */
const MANY = 8;

function boxClass(columns: number, rows: number): string {
  return `table-box${columns >= MANY ? ' many' : ''}${rows > LONG ? ' long' : ''}`;
}

/** Letters from which a cell is prose, and is broken into lines. */
const PROSE = 60;

function proseOf(cell: string): Readonly<Record<string, string>> {
  return cell.length > PROSE ? { class: 'prose' } : {};
}

/** @returns the table in a box that scrolls where the page is narrow; the first cell of a row is its name */
export function tableBlock({ caption, head, rows }: PlainTable): Markup {
  return tag(
    'div',
    {
      class: boxClass(head.length, rows.length),
      tabindex: 0,
      role: 'region',
      'aria-label': caption,
    },
    tag(
      'table',
      {},
      tag('caption', {}, caption),
      tag('thead', {}, tag('tr', {}, ...head.map((title) => tag('th', { scope: 'col' }, title)))),
      tag(
        'tbody',
        {},
        ...rows.map((row) =>
          tag(
            'tr',
            {},
            ...row.map((cell, i) =>
              i === 0 ? tag('th', { scope: 'row' }, cell) : tag('td', proseOf(cell), cell),
            ),
          ),
        ),
      ),
    ),
  );
}

/** @returns a link that saves the text as a file; it needs neither network nor script */
export function fileLink(name: string, text: string, label: string, type = 'text/csv'): Markup {
  const data = Buffer.from(text, 'utf8').toString('base64');
  return tag(
    'a',
    { class: 'file', download: name, href: `data:${type};charset=utf-8;base64,${data}` },
    label,
  );
}
