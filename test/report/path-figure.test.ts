/** The picture of a receiver's path: one scale, labels that can be read, the dish in its place. */
import { describe, expect, it } from 'vitest';
import { textWidth } from '../../src/report/font.js';
import { drawPathFigure, type PathPlace, type PathPlot } from '../../src/report/path-figure.js';
import { HOSTILE_NAME } from '../support/synthetic-result.js';

/** A day's arc as a row of dishes has it, mm. */
const ARC: readonly PathPlace[] = Array.from({ length: 23 }, (_, i) => {
  const turn = (Math.PI * (i - 11)) / 24;
  return [1700 * Math.sin(turn), -400 - 700 * Math.cos(turn), 500 + 1150 * Math.cos(turn)];
});

const PLOT: PathPlot = {
  title: HOSTILE_NAME,
  subtitles: [],
  series: [
    {
      label: 'receiver',
      places: ARC,
      times: ARC.map((_, i) => `${8 + i / 2}:00`),
      joined: true,
      track: null,
    },
  ],
  hourLines: [],
  track: { label: 'arc track', places: ARC },
  ownTracksLabel: '',
  dish: { label: 'mirrors', along: [-600, 600], across: [-450, 450], up: [-310, 310] },
  xLabel: 'along / mm',
  acrossLabel: 'across / mm',
  upLabel: 'up / mm',
};

interface Label {
  readonly x: number;
  readonly y: number;
  readonly text: string;
}

/** Times in the picture: texts of the labels' size with a halo. */
function timesIn(svg: string): Label[] {
  return [...svg.matchAll(/<text x="([\d.]+)" y="([\d.]+)"[^>]*font-size="11"[^>]*>([^<]*)</g)].map(
    ([, x, y, text]) => ({ x: Number(x), y: Number(y), text }),
  );
}

function touching(labels: readonly Label[]): number {
  const boxes = labels.map(({ x, y, text }) => ({ x, y, half: textWidth(text, 11) / 2 }));
  return boxes.flatMap((a, i) =>
    boxes.slice(i + 1).filter((b) => Math.abs(a.x - b.x) < a.half + b.half && Math.abs(a.y - b.y) < 10),
  ).length;
}

describe('picture of a path', () => {
  it('has one scale along, across and up', () => {
    const { areas } = drawPathFigure(PLOT);
    const scales = areas.flatMap(({ width, height, x, y }) => [
      width / (x[1] - x[0]),
      height / (y[1] - y[0]),
    ]);
    expect(scales).toHaveLength(4);
    for (const scale of scales) expect(scale).toBeCloseTo(scales[0], 9);
  });

  it('keeps one scale where the path is level, in a plot high enough to read', () => {
    const level = ARC.map(([x]): PathPlace => [x, 0, 0]);
    const { areas } = drawPathFigure({
      ...PLOT,
      series: [{ ...PLOT.series[0], places: level }],
      track: null,
      dish: null,
    });
    for (const { width, height, x, y } of areas) {
      expect(height).toBeGreaterThanOrEqual(150 - 1e-9);
      expect(height / (y[1] - y[0])).toBeCloseTo(width / (x[1] - x[0]), 9);
    }
  });

  it('writes the time at every place, in plan and elevation, and no two on each other', () => {
    const labels = timesIn(drawPathFigure(PLOT).svg);
    expect(labels).toHaveLength(2 * ARC.length);
    expect(touching(labels)).toBe(0);
    // Fault: labels straight above places that stand closer.
    const crowded = ARC.map(([x, y], i) => ({ x: x / 8, y: y / 8, text: `${8 + i / 2}:00` }));
    expect(touching(crowded)).toBeGreaterThan(0);
  });

  it('joins an hour over the seasons and names it once at each end', () => {
    const seasons = [0, -300, -600].map((by, i) => ({
      label: `season ${i}`,
      places: ARC.map(([x, y, z]): PathPlace => [x, y + by, z + by]),
      times: ARC.map(() => ''),
      joined: true,
      track: null,
    }));
    const noon = seasons.map(({ places }) => places[11]);
    const { svg } = drawPathFigure({
      ...PLOT,
      series: seasons,
      hourLines: [{ label: '12 h', places: noon }],
    });
    expect(timesIn(svg).map(({ text }) => text)).toEqual(['12 h', '12 h', '12 h', '12 h']);
  });

  it('leaves the line from place to place away where the receiver runs on its track', () => {
    const lines = (joined: boolean): number =>
      drawPathFigure({ ...PLOT, series: [{ ...PLOT.series[0], joined }] }).svg.split('stroke-width="1.8"')
        .length;
    expect(lines(true) - lines(false)).toBe(2);
  });

  it('escapes names, says what the lines are, and needs places', () => {
    const { svg } = drawPathFigure(PLOT);
    expect(svg).not.toContain('<script');
    for (const text of ['arc track', 'mirrors', 'ends of the dish', 'to one scale'])
      expect(svg).toContain(text);
    expect(() => drawPathFigure({ ...PLOT, series: [], track: null })).toThrow(RangeError);
  });
});
