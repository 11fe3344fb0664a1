/** Heat of a year against the size of the opening, with the span of the loss formulas and the range in which it hardly matters. */
import {
  axesAround,
  flowLegend,
  gridLines,
  heading,
  INK,
  linearAxis,
  MARGIN,
  niceDomain,
  pathThrough,
  straightLine,
  words,
} from './drawing.js';
import { renderFigure } from './render-figure.js';
import { element, type Markup, svgDocument } from './svg.js';
import type { DrawnFigure, PlotArea } from './types.js';

export interface OpeningFigure {
  readonly title: string;
  readonly subtitles: readonly string[];
  readonly xLabel: string;
  readonly yLabel: string;
  readonly points: readonly {
    readonly size: number;
    readonly caught: number;
    readonly low: number;
    readonly best: number;
    readonly high: number;
  }[];
  readonly best: number;
  readonly flat: readonly [number, number];
  readonly present: number;
}

const WIDTH = 960;
const HEIGHT = 420;
const LEFT = 92;
const HEAT = '#c2571a';
const LIGHT = '#e0a100';
const BAND = '#f0c9a8';
const FLAT = '#e3efe6';

function line(colour: string, dash?: string): (x: number, y: number) => Markup {
  return (x, y) => straightLine(x, y + 8, x + 30, y + 8, { colour, width: 2.4, dash });
}

function block(colour: string): (x: number, y: number) => Markup {
  return (x, y) => element('rect', { x: x + 4, y: y + 1, width: 22, height: 14, fill: colour });
}

export function drawOpeningFigure(input: OpeningFigure): DrawnFigure {
  const { points, best, flat, present } = input;
  const top = heading(input.title, input.subtitles, WIDTH);
  const sizes = points.map(({ size }) => size);
  const x: [number, number] = [Math.min(...sizes), Math.max(...sizes)];
  const y = niceDomain(0, Math.max(...points.flatMap(({ caught, high }) => [caught, high])) * 1.04);
  const area: PlotArea = { left: LEFT, top: top.bottom, width: WIDTH - LEFT - MARGIN, height: HEIGHT, x, y };
  const xAxis = linearAxis(x, [area.left, area.left + area.width], 80);
  const yAxis = linearAxis(y, [area.top + HEIGHT, area.top], 48);
  const at = (size: number, value: number) =>
    [xAxis.pixel(size), yAxis.pixel(Math.max(y[0], value))] as const;
  const curve = (of: (point: (typeof points)[number]) => number) =>
    pathThrough(points.map((point) => at(point.size, of(point))));
  const band = `${curve(({ high }) => high)}L${[...points]
    .reverse()
    .map(({ size, low }) =>
      at(size, low)
        .map((n) => n.toFixed(2))
        .join(' '),
    )
    .join('L')}Z`;
  const [from, to] = flat.map((size) => xAxis.pixel(size));
  const foot = area.top + HEIGHT;
  const nearRight = xAxis.pixel(best) > area.left + 0.8 * area.width;
  const stroke = { fill: 'none', 'stroke-width': 2.4, 'stroke-linejoin': 'round' } as const;
  const legend = flowLegend(MARGIN, foot + 58, WIDTH - 2 * MARGIN, [
    { sample: line(HEAT), label: 'heat delivered' },
    { sample: block(BAND), label: 'span of the loss formulas' },
    { sample: line(LIGHT), label: 'light caught' },
    { sample: block(FLAT), label: 'less than 1 % below the best' },
    { sample: line(INK, '5 4'), label: 'opening of the scene' },
  ]);
  const svg = svgDocument(WIDTH, Math.ceil(foot + 64 + legend.height), [
    top.markup,
    element('rect', { x: from, y: area.top, width: Math.max(1, to - from), height: HEIGHT, fill: FLAT }),
    gridLines(area, xAxis, yAxis),
    element('path', { d: band, fill: BAND, 'fill-opacity': 0.8 }),
    element('path', { d: curve(({ caught }) => caught), stroke: LIGHT, ...stroke }),
    element('path', { d: curve((point) => point.best), stroke: HEAT, ...stroke }),
    straightLine(xAxis.pixel(present), area.top, xAxis.pixel(present), foot, { colour: INK, dash: '5 4' }),
    straightLine(xAxis.pixel(best), area.top, xAxis.pixel(best), foot, { colour: HEAT, width: 1.4 }),
    words(xAxis.pixel(best) + (nearRight ? -6 : 6), foot - 10, `best ${best.toFixed(0)} mm`, {
      weight: 'bold',
      fill: HEAT,
      halo: '#ffffff',
      anchor: nearRight ? 'end' : 'start',
    }),
    axesAround(area, xAxis, yAxis, { xLabel: input.xLabel, yLabel: input.yLabel }),
    legend.markup,
  ]);
  return { svg, width: WIDTH, height: Math.ceil(foot + 64 + legend.height), areas: [area] };
}

/** @returns the figure as a PNG file */
export function openingFigurePng(input: OpeningFigure): Uint8Array {
  return renderFigure(drawOpeningFigure(input));
}
