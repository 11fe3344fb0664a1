/** Makes text from scene files harmless to print: names and titles come from strangers. */

// Built from numbers so that no control character stands in this file: C0, DEL and C1, soft hyphen, zero-width and
// direction marks, line and paragraph separators, direction overrides and isolates, byte-order mark, lone surrogates.
const HARMFUL_RANGES: readonly (readonly [number, number])[] = [
  [0x00, 0x1f],
  [0x7f, 0x9f],
  [0xad, 0xad],
  [0x200b, 0x200f],
  [0x2028, 0x202e],
  [0x2060, 0x206f],
  [0xfeff, 0xfeff],
  [0xfff0, 0xfffb],
  [0xfffe, 0xffff],
  [0xd800, 0xdfff],
];

/** Finds them; those in `kept` are let through. By code points, so that only lone surrogates count as such. */
function harmful(kept: readonly number[]): RegExp {
  const classes = HARMFUL_RANGES.map(([low, high]) => `\\u{${low.toString(16)}}-\\u{${high.toString(16)}}`);
  const but = kept.map((codePoint) => `(?!\\u{${codePoint.toString(16)}})`).join('');
  return new RegExp(`${but}[${classes.join('')}]`, 'gu');
}

const HARMFUL = harmful([]);
const HARMFUL_IN_JSON = harmful([0x0a]);

function escapeCodePoint(codePoint: number): string {
  return codePoint <= 0xff
    ? `\\x${codePoint.toString(16).padStart(2, '0')}`
    : `\\u${codePoint.toString(16).padStart(4, '0')}`;
}

/**
 * @param text any text, e.g. a receiver's name from a scene file
 * @returns the same text with every control, direction or invisible character written as `\xNN` or `\uNNNN`, so that it
 *   can neither drive a terminal nor break a picture or a table
 */
export function plainText(text: string): string {
  return text.replace(HARMFUL, (character) => escapeCodePoint(character.codePointAt(0)!));
}

/**
 * @param text text that may already hold line ends of our own making
 * @returns as `plainText`, but line feeds stay
 */
export function plainLines(text: string): string {
  return text.split('\n').map(plainText).join('\n');
}

/**
 * @param text JSON text
 * @returns JSON text of the same meaning in which harmful characters stand as `\uNNNN`
 */
export function plainJson(text: string): string {
  // Line feeds are the document's own layout; inside strings JSON has escaped them already.
  return text.replace(
    HARMFUL_IN_JSON,
    (character) => `\\u${character.codePointAt(0)!.toString(16).padStart(4, '0')}`,
  );
}

/** The pieces a line may be broken between: words, with numbers kept together with their error and unit. */
export function unbrokenPieces(text: string): string[] {
  return text.split(/(?<!±) (?!±|%|k?W\b|mm\b|m\b)/);
}
