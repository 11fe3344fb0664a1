/** Running text for the terminal. Loads no picture module. */
import type { createColors } from 'picocolors';
import { plainText, unbrokenPieces } from './plain-text.js';

export const INDENT = '  ';

/** Counts characters; a wide one (East Asian) is taken for one column, which can only make a line run a little over. */
export function lengthOf(text: string): number {
  return [...text].length;
}

/**
 * Breaks at spaces, though not within a number with its error and unit; a word longer than the width is cut.
 * @param width characters of a line, without the indent
 * @param indent stands before the first line
 * @param laterIndent stands before each line after the first
 */
export function wrap(text: string, width: number, indent = '', laterIndent = indent): string {
  const lines: string[] = [];
  let line = '';
  for (const whole of unbrokenPieces(plainText(text))) {
    let word = whole;
    while (lengthOf(word) > width) {
      if (line !== '') lines.push(line);
      line = '';
      const characters = [...word];
      lines.push(characters.slice(0, width).join(''));
      word = characters.slice(width).join('');
    }
    const longer = line === '' ? word : `${line} ${word}`;
    if (lengthOf(longer) > width) {
      lines.push(line);
      line = word;
    } else {
      line = longer;
    }
  }
  if (line !== '') lines.push(line);
  return lines.map((entry, index) => `${index === 0 ? indent : laterIndent}${entry}`).join('\n');
}

/** @returns lines to print below a result: a head and the cautions; none where there are no cautions */
export function cautionLines(
  cautions: readonly string[],
  columns: number,
  colours: Pick<ReturnType<typeof createColors>, 'bold' | 'red'>,
): string[] {
  if (cautions.length === 0) return [];
  return [
    '',
    colours.bold(colours.red('Caution')),
    ...cautions.map((caution) => wrap(caution, columns - INDENT.length, INDENT)),
  ];
}
