/** The sheet that hangs in the yard: a block for each season, to read by a watch. */
import { describe, expect, it } from 'vitest';
import { textWidth } from '../../src/report/font.js';
import { drawTrackSheets, type SheetBlock, type TrackSheet } from '../../src/report/track-sheet.js';
import { HOSTILE_NAME } from '../support/synthetic-result.js';

const HEADS = ['clock\n21 Jan', 'clock\n20 Nov', 'sun\ntime', 'along\nmm', 'across\nmm', 'up\nmm', 'way\nmm'];

function block(title: string, count: number): SheetBlock {
  return {
    title,
    subtitles: [
      'a line of words that is so long that it must be broken to stay inside the block, whatever it says of the season',
    ],
    columns: HEADS.map((head, i) => ({ head, strong: i < 2 })),
    rows: Array.from({ length: count }, (_, i) => [
      `${String(8 + (i >> 1)).padStart(2, '0')}:28`,
      `${String(8 + (i >> 1)).padStart(2, '0')}:02`,
      `${String(7 + (i >> 1)).padStart(2, '0')}:00`,
      String(-1200 + 100 * i),
      '-1700',
      '1031',
      String(220 * i),
    ]),
  };
}

const SHEET: TrackSheet = {
  title: HOSTILE_NAME,
  subtitles: ['mm from the dish'],
  blocks: Array.from({ length: 7 }, (_, i) => block(`season ${i + 1}`, 13 + i)),
  notes: ['a note'],
  cautions: ['It burns.', 'Cover the mirrors.'],
};

interface Words {
  readonly left: number;
  readonly right: number;
  readonly y: number;
}

/** Where the words of a sheet stand, each by its own size and anchor. */
function wordsIn(svg: string): Words[] {
  return [...svg.matchAll(/<text x="([\d.-]+)" y="([\d.-]+)"([^>]*)>([^<]*)</g)].map(
    ([, x, y, style, text]) => {
      const size = Number(/font-size="([\d.]+)"/.exec(style)?.[1]);
      const width = textWidth(
        text.replace(/&#?\w+;/g, '"'),
        size,
        style.includes('font-weight="bold"') ? 'bold' : 'regular',
      );
      const left = style.includes('text-anchor="end"') ? Number(x) - width : Number(x);
      return { left, right: left + width, y: Number(y) };
    },
  );
}

/** Pairs of words that touch: less than a pixel between them and less than 8 pixels from line to line. */
function touching(words: readonly Words[]): number {
  return words.flatMap((a, i) =>
    words.slice(i + 1).filter((b) => Math.abs(a.y - b.y) < 8 && a.left < b.right + 1 && b.left < a.right + 1),
  ).length;
}

describe('sheets of a track', () => {
  it('hold every block once, on sheets of A4, each with notes and cautions', () => {
    const sheets = drawTrackSheets(SHEET);
    expect(sheets.length).toBeGreaterThan(1);
    for (const { svg, width, height } of sheets) {
      expect(height / width).toBeCloseTo(Math.SQRT2, 2);
      for (const text of ['a note', 'Caution', 'It burns.', 'Cover the mirrors.'])
        expect(svg).toContain(`>${text}<`);
      expect(svg).not.toContain('<script');
    }
    const all = sheets.map(({ svg }) => svg).join('');
    for (const { title } of SHEET.blocks) expect(all.split(`>${title}<`)).toHaveLength(2);
    for (const text of ['21 Jan', '20 Nov']) expect(all.split(`>${text}<`)).toHaveLength(8);
  });

  it('have no words on others, and none beyond the edge', () => {
    for (const { svg, width } of drawTrackSheets(SHEET)) {
      const words = wordsIn(svg);
      expect(words.length).toBeGreaterThan(100);
      expect(touching(words)).toBe(0);
      for (const { left, right } of words) {
        expect(left).toBeGreaterThan(30);
        expect(right).toBeLessThan(width - 30);
      }
      // Fault: lines half as far apart.
      expect(touching(words.map((one) => ({ ...one, y: one.y / 2 })))).toBeGreaterThan(0);
    }
  });

  it('print clock times in bold, as they are looked up by', () => {
    const [{ svg }] = drawTrackSheets(SHEET);
    expect(svg).toMatch(/font-weight="bold"[^>]*>08:28</);
    expect(svg).not.toMatch(/font-weight="bold"[^>]*>07:00</);
  });

  it('need a block', () => {
    expect(() => drawTrackSheets({ ...SHEET, blocks: [] })).toThrow(RangeError);
  });
});
