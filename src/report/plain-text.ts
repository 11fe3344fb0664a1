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
];

function isHarmful(codePoint: number): boolean {
  if (codePoint >= 0xd800 && codePoint <= 0xdfff) return true;
  return HARMFUL_RANGES.some(([low, high]) => codePoint >= low && codePoint <= high);
}

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
  let plain = '';
  for (const character of text) {
    const codePoint = character.codePointAt(0)!;
    plain += isHarmful(codePoint) ? escapeCodePoint(codePoint) : character;
  }
  return plain;
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
  let plain = '';
  for (const character of text) {
    const codePoint = character.codePointAt(0)!;
    // Line feeds are the document's own layout; inside strings JSON has escaped them already.
    const harmful = codePoint !== 0x0a && isHarmful(codePoint);
    plain += harmful ? `\\u${codePoint.toString(16).padStart(4, '0')}` : character;
  }
  return plain;
}

/** The pieces a line may be broken between: words, with numbers kept together with their error and unit. */
export function unbrokenPieces(text: string): string[] {
  return text.split(/(?<!±) (?!±|%|k?W\b|mm\b|m\b)/);
}
