/** Small tables for the terminal: columns aligned to the right, the first to the left. */
import { createColors } from 'picocolors';
import { plainText } from '../report/plain-text.js';

const GAP = '  ';

function widthOf(text: string): number {
  return [...text].length;
}

/**
 * @param header one cell per column; a cell may hold a line feed, to be printed over two lines
 * @param rows as many cells as the header
 * @returns lines without a trailing newline
 */
export function textTable(
  header: readonly string[],
  rows: readonly (readonly string[])[],
  colour: boolean,
): string {
  const { bold } = createColors(colour);
  const heads = header.map((cell) => cell.split('\n').map(plainText));
  const height = Math.max(...heads.map((lines) => lines.length));
  const headRows = Array.from({ length: height }, (_, line) =>
    heads.map((lines) => lines[line - (height - lines.length)] ?? ''),
  );
  const bodyRows = rows.map((row) => row.map(plainText));
  const widths = header.map((_, column) =>
    Math.max(...[...headRows, ...bodyRows].map((row) => widthOf(row[column]))),
  );
  const line = (row: readonly string[]): string =>
    row
      .map((cell, column) => {
        const space = ' '.repeat(widths[column] - widthOf(cell));
        return column === 0 ? cell + space : space + cell;
      })
      .join(GAP)
      .trimEnd();
  return [...headRows.map((row) => bold(line(row))), ...bodyRows.map(line)].join('\n');
}
