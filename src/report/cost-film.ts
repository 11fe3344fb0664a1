/** Worth of a year against the time between replacements of the film, with the range in which it hardly matters. */
import {
  axesAround,
  flowLegend,
  gridLines,
  heading,
  linearAxis,
  MARGIN,
  niceDomain,
  pathThrough,
  straightLine,
  words,
} from './drawing.js';
import { renderFigure } from './render-figure.js';
import { element, svgDocument } from './svg.js';
import type { DrawnFigure, PlotArea } from './types.js';

export interface IntervalCurve {
  readonly title: string;
  readonly subtitles: readonly string[];
  readonly xLabel: string;
  readonly yLabel: string;
  readonly points: readonly { readonly interval: number; readonly worth: number }[];
  readonly best: number;
  readonly flat: readonly [number, number];
}

const WIDTH = 960;
const HEIGHT = 340;
const LEFT = 92;
const CURVE = '#3f6f8f';
const FLAT = '#e3efe6';

export function drawIntervalCurve(input: IntervalCurve): DrawnFigure {
  const { points, best, flat } = input;
  const top = heading(input.title, input.subtitles, WIDTH);
  const x: [number, number] = [
    points[0].interval,
    Math.max(points[0].interval + 1, points.at(-1)?.interval ?? 1),
  ];
  const worths = points.map(({ worth }) => worth).sort((a, b) => a - b);
  // Replacing every month is ruinous: the picture shows what is worth a thought.
  const high = worths.at(-1) ?? 1;
  const low = Math.max(
    worths[0],
    worths[Math.floor(worths.length / 2)] - 3 * (high - worths[Math.floor(worths.length / 2)]),
  );
  const y = niceDomain(Math.min(low, high), high);
  const area: PlotArea = { left: LEFT, top: top.bottom, width: WIDTH - LEFT - MARGIN, height: HEIGHT, x, y };
  const xAxis = linearAxis(x, [area.left, area.left + area.width], 80);
  const yAxis = linearAxis(y, [area.top + HEIGHT, area.top], 48);
  const foot = area.top + HEIGHT;
  const [from, to] = flat.map((interval) => xAxis.pixel(interval));
  const nearRight = xAxis.pixel(best) > area.left + 0.8 * area.width;
  const path = pathThrough(
    points.map(({ interval, worth }) =>
      worth < y[0] ? [Number.NaN, Number.NaN] : [xAxis.pixel(interval), yAxis.pixel(worth)],
    ),
  );
  const legend = flowLegend(MARGIN, foot + 58, WIDTH - 2 * MARGIN, [
    {
      sample: (left, above) =>
        straightLine(left, above + 8, left + 30, above + 8, { colour: CURVE, width: 2.4 }),
      label: 'each interval in its best month',
    },
    {
      sample: (left, above) =>
        element('rect', { x: left + 4, y: above + 1, width: 22, height: 14, fill: FLAT }),
      label: 'less than 1 % below the best',
    },
  ]);
  const height = Math.ceil(foot + 64 + legend.height);
  const svg = svgDocument(WIDTH, height, [
    top.markup,
    element('rect', { x: from, y: area.top, width: Math.max(1, to - from), height: HEIGHT, fill: FLAT }),
    gridLines(area, xAxis, yAxis),
    element('path', { d: path, fill: 'none', stroke: CURVE, 'stroke-width': 2.4 }),
    straightLine(xAxis.pixel(best), area.top, xAxis.pixel(best), foot, { colour: CURVE, width: 1.4 }),
    words(xAxis.pixel(best) + (nearRight ? -6 : 6), foot - 10, `best ${best} months`, {
      weight: 'bold',
      fill: CURVE,
      halo: '#ffffff',
      anchor: nearRight ? 'end' : 'start',
    }),
    axesAround(area, xAxis, yAxis, { xLabel: input.xLabel, yLabel: input.yLabel }),
    legend.markup,
  ]);
  return { svg, width: WIDTH, height, areas: [area] };
}

/** @returns the figure as a PNG file */
export function curveOfIntervalsPng(input: IntervalCurve): Uint8Array {
  return renderFigure(drawIntervalCurve(input));
}
