/** Bars one under the other: a waterfall from sunlight to heat, the parts of a price, the pull of each input. */
import {
  axesAround,
  FAINT_INK,
  GRID,
  heading,
  INK,
  linearAxis,
  MARGIN,
  niceDomain,
  straightLine,
  words,
} from './drawing.js';
import { textWidth } from './font.js';
import { plainText } from './plain-text.js';
import { renderFigure } from './render-figure.js';
import { element, group, type Markup, svgDocument } from './svg.js';
import type { DrawnFigure, PlotArea } from './types.js';

export interface RowBar {
  readonly label: string;
  readonly from: number;
  readonly to: number;
  readonly colour: string;
  /** Written beside the bar. */
  readonly note: string;
  /** Ends of an error mark on the bar's end; null for none. */
  readonly mark: readonly [number, number] | null;
}

export interface RowBars {
  readonly title: string;
  readonly subtitles: readonly string[];
  readonly xLabel: string;
  readonly bars: readonly RowBar[];
  /** Dashed lines lead from the end of each bar to the next: for waterfalls. */
  readonly steps: boolean;
}

const WIDTH = 960;
const ROW = 34;
const BAR = 20;
const MOST_LABEL = 280;

function markAt(y: number, low: number, high: number): Markup {
  return group({}, [
    straightLine(low, y, high, y, { colour: INK, width: 1.4 }),
    straightLine(low, y - 5, low, y + 5, { colour: INK, width: 1.4 }),
    straightLine(high, y - 5, high, y + 5, { colour: INK, width: 1.4 }),
  ]);
}

/** @throws RangeError without bars */
export function drawRowBars({ title, subtitles, xLabel, bars, steps }: RowBars): DrawnFigure {
  if (bars.length === 0) throw new RangeError('there is nothing to draw');
  const top = heading(title, subtitles, WIDTH);
  const labelRoom = Math.min(
    MOST_LABEL,
    Math.max(...bars.map(({ label }) => textWidth(plainText(label), 13))),
  );
  const noteRoom = Math.max(...bars.map(({ note }) => textWidth(plainText(note), 12))) + 16;
  const left = MARGIN + labelRoom + 14;
  const ends = bars.flatMap(({ from, to, mark }) => [from, to, ...(mark ?? [])]);
  const [low, high] = niceDomain(Math.min(0, ...ends), Math.max(0, ...ends));
  const area: PlotArea = {
    left,
    top: top.bottom,
    width: WIDTH - MARGIN - left,
    height: ROW * bars.length + 10,
    x: [low, high],
    y: [0, bars.length],
  };
  const notesLeft = low < 0;
  const axis = linearAxis([low, high], [left + (notesLeft ? noteRoom : 0), left + area.width - noteRoom], 90);
  const foot = area.top + area.height;
  const marks = bars.flatMap(({ label, from, to, colour, note, mark }, i): Markup[] => {
    const y = area.top + 5 + i * ROW + ROW / 2;
    const [x1, x2] = [axis.pixel(Math.min(from, to)), axis.pixel(Math.max(from, to))];
    const outer =
      mark === null ? [x1, x2] : [Math.min(x1, axis.pixel(mark[0])), Math.max(x2, axis.pixel(mark[1]))];
    const toLeft = notesLeft && to < 0;
    const next = bars[i + 1];
    return [
      words(left - 10, y + 4.5, label, { anchor: 'end', room: labelRoom + 2 }),
      ...(steps && next !== undefined
        ? [
            straightLine(
              axis.pixel(Math.min(from, to)),
              y + BAR / 2,
              axis.pixel(Math.min(from, to)),
              y + ROW - BAR / 2,
              { colour: FAINT_INK, dash: '3 3' },
            ),
          ]
        : []),
      element('rect', {
        x: x1,
        y: y - BAR / 2,
        width: Math.max(1, x2 - x1),
        height: BAR,
        fill: colour,
        stroke: INK,
        'stroke-width': 0.6,
      }),
      ...(mark === null ? [] : [markAt(y, axis.pixel(mark[0]), axis.pixel(mark[1]))]),
      words(toLeft ? outer[0] - 8 : outer[1] + 8, y + 4.5, note, {
        size: 12,
        anchor: toLeft ? 'end' : 'start',
        halo: '#ffffff',
      }),
    ];
  });
  const noY = { pixel: (value: number) => value, ticks: [] };
  const svg = svgDocument(WIDTH, Math.ceil(foot + 56), [
    top.markup,
    group(
      {},
      axis.ticks.map(({ value }) =>
        straightLine(axis.pixel(value), area.top, axis.pixel(value), foot, {
          colour: value === 0 ? FAINT_INK : GRID,
        }),
      ),
    ),
    ...marks,
    axesAround(area, axis, noY, { xLabel, yLabel: '' }),
  ]);
  return { svg, width: WIDTH, height: Math.ceil(foot + 56), areas: [area] };
}

/** @returns the figure as a PNG file */
export function rowBarsPng(input: RowBars): Uint8Array {
  return renderFigure(drawRowBars(input));
}
