/** The font that ships with the program, and how wide its letters are: a picture must know before it draws. */
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';

export const FONT_FAMILY = 'DejaVu Sans';

const requireFromHere = createRequire(import.meta.url);

/** Files of the regular and the bold face. */
export const FONT_FILES = {
  regular: requireFromHere.resolve('dejavu-fonts-ttf/ttf/DejaVuSans.ttf'),
  bold: requireFromHere.resolve('dejavu-fonts-ttf/ttf/DejaVuSans-Bold.ttf'),
} as const;

export type FontWeight = keyof typeof FONT_FILES;

interface Advances {
  readonly unitsPerEm: number;
  /** Advance width in font units of a code point. */
  readonly of: (codePoint: number) => number;
}

/**
 * Reads the advance widths from a TrueType file: tables head, hhea, hmtx and the format 4 and 12 parts of cmap
 * (OpenType specification, ISO/IEC 14496-22).
 * @throws Error where a table is missing
 */
function readAdvances(file: string): Advances {
  const bytes = readFileSync(file);
  const tables = new Map<string, number>();
  const tableCount = bytes.readUInt16BE(4);
  for (let i = 0; i < tableCount; i++) {
    const record = 12 + 16 * i;
    tables.set(bytes.toString('latin1', record, record + 4), bytes.readUInt32BE(record + 8));
  }
  const tableStart = (tag: string): number => {
    const start = tables.get(tag);
    if (start === undefined) throw new Error(`the font ${file} has no table ${tag}`);
    return start;
  };
  const unitsPerEm = bytes.readUInt16BE(tableStart('head') + 18);
  const longMetrics = bytes.readUInt16BE(tableStart('hhea') + 34);
  const metrics = tableStart('hmtx');
  const glyphs = readCharacterMap(bytes, tableStart('cmap'));
  return {
    unitsPerEm,
    of: (codePoint) => {
      const glyph = glyphs(codePoint);
      return bytes.readUInt16BE(metrics + 4 * Math.min(glyph, longMetrics - 1));
    },
  };
}

function readCharacterMap(bytes: Buffer, start: number): (codePoint: number) => number {
  let best = -1;
  const subtables = bytes.readUInt16BE(start + 2);
  for (let i = 0; i < subtables; i++) {
    const offset = start + bytes.readUInt32BE(start + 4 + 8 * i + 4);
    const format = bytes.readUInt16BE(offset);
    if (format === 12 || (format === 4 && best < 0)) best = offset;
  }
  if (best < 0) throw new Error('the font has no character map this program can read');
  const subtable = best;
  if (bytes.readUInt16BE(subtable) === 12) {
    const groups = bytes.readUInt32BE(subtable + 12);
    return (codePoint) => {
      for (let i = 0; i < groups; i++) {
        const record = subtable + 16 + 12 * i;
        const first = bytes.readUInt32BE(record);
        if (codePoint < first) return 0;
        if (codePoint <= bytes.readUInt32BE(record + 4)) {
          return bytes.readUInt32BE(record + 8) + codePoint - first;
        }
      }
      return 0;
    };
  }
  const segments = bytes.readUInt16BE(subtable + 6) / 2;
  const ends = subtable + 14;
  const starts = ends + 2 * segments + 2;
  const deltas = starts + 2 * segments;
  const rangeOffsets = deltas + 2 * segments;
  return (codePoint) => {
    for (let i = 0; i < segments; i++) {
      if (codePoint > bytes.readUInt16BE(ends + 2 * i)) continue;
      const first = bytes.readUInt16BE(starts + 2 * i);
      if (codePoint < first) return 0;
      const delta = bytes.readUInt16BE(deltas + 2 * i);
      const rangeOffset = bytes.readUInt16BE(rangeOffsets + 2 * i);
      if (rangeOffset === 0) return (codePoint + delta) & 0xffff;
      const glyph = bytes.readUInt16BE(rangeOffsets + 2 * i + rangeOffset + 2 * (codePoint - first));
      return glyph === 0 ? 0 : (glyph + delta) & 0xffff;
    }
    return 0;
  };
}

const ADVANCES: Readonly<Record<FontWeight, Advances>> = {
  regular: readAdvances(FONT_FILES.regular),
  bold: readAdvances(FONT_FILES.bold),
};

/** @returns width of the text in pixels at a font size of `size` pixels */
export function textWidth(text: string, size: number, weight: FontWeight = 'regular'): number {
  const advances = ADVANCES[weight];
  let units = 0;
  for (const character of text) units += advances.of(character.codePointAt(0)!);
  return (units / advances.unitsPerEm) * size;
}

/**
 * @param text already plain text
 * @param room pixels
 * @returns the text, shortened with an ellipsis where it is wider than the room
 */
export function fitText(text: string, room: number, size: number, weight: FontWeight = 'regular'): string {
  if (textWidth(text, size, weight) <= room) return text;
  const characters = [...text];
  let low = 0;
  let high = characters.length;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    const candidate = `${characters.slice(0, middle).join('').trimEnd()}…`;
    if (textWidth(candidate, size, weight) <= room) low = middle;
    else high = middle - 1;
  }
  return `${characters.slice(0, low).join('').trimEnd()}…`;
}

/**
 * @param separator where lines may break; it is left away at a break
 * @returns the text broken into lines no wider than the room; a single piece that is too wide is shortened
 */
export function wrapText(
  text: string,
  room: number,
  size: number,
  weight: FontWeight = 'regular',
  separator = ' ',
): string[] {
  const lines: string[] = [];
  let line = '';
  for (const piece of text.split(separator)) {
    const longer = line === '' ? piece : `${line}${separator}${piece}`;
    if (line !== '' && textWidth(longer, size, weight) > room) {
      lines.push(line);
      line = piece;
    } else {
      line = longer;
    }
  }
  if (line !== '') lines.push(line);
  return lines.map((entry) => fitText(entry, room, size, weight));
}
