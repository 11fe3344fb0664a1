import { beforeAll, describe, expect, it } from 'vitest';
import { drawLossFigure, lossRows } from '../../src/report/loss-figure.js';
import type { Ledger } from '../../src/result/types.js';
import { tracedDemo } from '../support/pages.js';

/** Bars of the drawing, pixels: from where, how wide. */
function barsOf(svg: string): { x: number; width: number; fill: string }[] {
  return Array.from(
    svg.matchAll(/<rect x="([\d.]+)" y="[\d.]+" width="([\d.]+)" height="13" fill="(#\w+)"/g),
    (match) => ({
      x: Number(match[1]),
      width: Number(match[2]),
      fill: match[3],
    }),
  ).filter(({ fill }) => fill !== '#f3f3f3');
}

describe('where the sunlight goes, as steps', () => {
  let ledger: Ledger;
  beforeAll(async () => {
    ledger = (await tracedDemo('badly-built.yaml', 5e4)).summary.result.total.ledger;
  });

  it('each loss hangs from what the one before has left, down to what is caught', () => {
    const { svg, width } = drawLossFigure(ledger, 'all receivers', 500);
    const bars = barsOf(svg);
    const room = width - 2 * 28;
    expect(bars[0]).toMatchObject({ x: 28, width: room });
    let edge = 28 + room;
    for (const bar of bars.slice(1)) {
      const right = bar.x + bar.width;
      // A loss too thin to see is drawn a pixel wide; levels begin at the left.
      expect(Math.abs(right - edge)).toBeLessThan(1.01);
      if (bar.x > 28) edge = bar.x;
    }
    const caught = ledger.lines.find(({ key }) => key === 'intercepted')?.power.value ?? 0;
    const last = bars[bars.length - 1];
    expect(last.width / room).toBeCloseTo(caught / ledger.available_w, 3);
  });

  it('says all labels in full, with watts, their error and the share', () => {
    const { svg } = drawLossFigure(ledger, 'all receivers', 500);
    expect(svg).not.toContain('…');
    const film = ledger.lines.find(({ key }) => key === 'film');
    expect(svg).toContain('absorbed in the film');
    expect(svg).toMatch(/\d ± [\d.]+ W · [\d.]+ %/);
    expect(film?.power.value).toBeGreaterThan(0);
  });

  it('has a row in its table for every line, and the sum', () => {
    const rows = lossRows(ledger);
    expect(rows).toHaveLength(ledger.lines.length + 1);
    expect(rows.map(([label]) => label)).toContain('through the opening of its own receiver');
  });

  it('can be drawn of no light at all', () => {
    const dark: Ledger = { ...ledger, available_w: 0, lines: [] };
    expect(drawLossFigure(dark, 'none').svg).toContain('no sunlight on the mirrors');
  });
});
