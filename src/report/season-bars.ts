/** Where the light of a year goes: bars month by month, and the whole year as steps down from what is available. */
import {
  type Axis,
  axesAround,
  FAINT_INK,
  flowLegend,
  GRID,
  heading,
  INK,
  linearAxis,
  MARGIN,
  niceDomain,
  straightLine,
  words,
} from './drawing.js';
import { renderFigure } from './render-figure.js';
import { element, group, type Markup, svgDocument } from './svg.js';
import type { DrawnFigure, PlotArea } from './types.js';

/** A part of each bar, from the foot up. */
export interface BarPart {
  readonly label: string;
  readonly colour: string;
  /** One per bar. */
  readonly value: readonly number[];
}

export interface StackedBars {
  readonly title: string;
  readonly subtitles: readonly string[];
  readonly yLabel: string;
  readonly bars: readonly string[];
  readonly parts: readonly BarPart[];
  /** Written above the foot of each bar: the first part with its error. */
  readonly notes: readonly string[];
  /** 95 % half widths of the first part, one per bar; 0: no mark. */
  readonly halfWidth: readonly number[];
}

/** Told apart by lightness too, for eyes that do not see colours. */
export const LIGHT_COLOURS = {
  caught: '#e0a100',
  cosine: '#c9d3dc',
  shading: '#5b6770',
  film: '#d98b73',
  blocking: '#6d4c9f',
  spill: '#3f8fbf',
} as const;

const WIDTH = 960;
const HEIGHT = 360;
const LEFT = 92;

function plotArea(top: number, bars: number, high: number): PlotArea {
  return { left: LEFT, top, width: WIDTH - LEFT - MARGIN, height: HEIGHT, x: [0, bars], y: [0, high] };
}

function sample(colour: string): (x: number, y: number) => Markup {
  return (x, y) =>
    element('rect', {
      x: x + 6,
      y: y + 1,
      width: 18,
      height: 14,
      fill: colour,
      stroke: INK,
      'stroke-width': 0.5,
    });
}

function levels(area: PlotArea, axis: Axis): Markup {
  return group(
    {},
    axis.ticks.map(({ value }) =>
      straightLine(area.left, axis.pixel(value), area.left + area.width, axis.pixel(value), { colour: GRID }),
    ),
  );
}

function errorMark(x: number, axis: Axis, value: number, half: number): Markup {
  const [low, high] = [axis.pixel(value - half), axis.pixel(value + half)];
  return group({}, [
    straightLine(x, low, x, high, { colour: INK, width: 1.4 }),
    straightLine(x - 5, low, x + 5, low, { colour: INK, width: 1.4 }),
    straightLine(x - 5, high, x + 5, high, { colour: INK, width: 1.4 }),
  ]);
}

/** Bars with their parts on one another. @throws RangeError where a part has not one value for each bar */
export function drawStackedBars(input: StackedBars): DrawnFigure {
  const { bars, parts, notes, halfWidth } = input;
  if (bars.length === 0 || parts.some(({ value }) => value.length !== bars.length)) {
    throw new RangeError('every part must have one value for each bar');
  }
  const top = heading(input.title, input.subtitles, WIDTH);
  const totals = bars.map((_, i) => parts.reduce((sum, { value }) => sum + Math.max(0, value[i]), 0));
  const [, high] = niceDomain(0, 1.03 * Math.max(...totals, 1e-9), 6);
  const area = plotArea(top.bottom, bars.length, high);
  const yAxis = linearAxis([0, high], [area.top + HEIGHT, area.top], 48);
  const step = area.width / bars.length;
  const foot = area.top + HEIGHT;
  const marks = bars.flatMap((name, i) => {
    const x = area.left + i * step + 0.14 * step;
    const width = 0.72 * step;
    let below = 0;
    const blocks = parts.map(({ value, colour }) => {
      const from = below;
      below += Math.max(0, value[i]);
      const y = yAxis.pixel(below);
      return element('rect', {
        x,
        y,
        width,
        height: yAxis.pixel(from) - y,
        fill: colour,
        stroke: '#ffffff',
        'stroke-width': 0.5,
      });
    });
    return [
      ...blocks,
      ...(halfWidth[i] > 0 ? [errorMark(x + width / 2, yAxis, parts[0].value[i], halfWidth[i])] : []),
      words(x + width / 2, foot - 8, notes[i], {
        size: 12,
        weight: 'bold',
        anchor: 'middle',
        room: step - 2,
      }),
      words(x + width / 2, foot + 19, name, { size: 12, anchor: 'middle' }),
    ];
  });
  const noX: Axis = { pixel: (value) => value, ticks: [] };
  const legend = flowLegend(
    MARGIN,
    foot + 40,
    WIDTH - 2 * MARGIN,
    parts.map(({ label, colour }) => ({ sample: sample(colour), label })),
  );
  const height = Math.ceil(foot + 40 + legend.height + 12);
  const svg = svgDocument(WIDTH, height, [
    top.markup,
    levels(area, yAxis),
    ...marks,
    axesAround(area, noX, yAxis, { xLabel: '', yLabel: input.yLabel }),
    legend.markup,
  ]);
  return { svg, width: WIDTH, height, areas: [area] };
}

export interface Steps {
  readonly title: string;
  readonly subtitles: readonly string[];
  readonly yLabel: string;
  /** The first stands on the foot and is what there is; each further one is taken off it; what is left is drawn last. */
  readonly available: { readonly label: string; readonly value: number };
  readonly losses: readonly { readonly label: string; readonly value: number; readonly colour: string }[];
  readonly left: {
    readonly label: string;
    readonly value: number;
    readonly halfWidth: number;
    readonly note: string;
  };
}

/** The year as steps down: what is available, each loss, what is caught. */
export function drawSteps(input: Steps): DrawnFigure {
  const top = heading(input.title, input.subtitles, WIDTH);
  const { available, losses, left } = input;
  const [, high] = niceDomain(0, 1.06 * Math.max(available.value, 1e-9), 6);
  const area = plotArea(top.bottom, losses.length + 2, high);
  const yAxis = linearAxis([0, high], [area.top + HEIGHT, area.top], 48);
  const step = area.width / (losses.length + 2);
  const foot = area.top + HEIGHT;
  const parts: Markup[] = [];
  const percent = (value: number): string =>
    available.value > 0 ? `${((100 * value) / available.value).toFixed(1)} %` : '';
  const block = (i: number, from: number, to: number, colour: string, label: string, note: string): void => {
    const x = area.left + i * step + 0.12 * step;
    const width = 0.76 * step;
    const y = yAxis.pixel(Math.max(from, to));
    const tall = Math.max(1, yAxis.pixel(Math.min(from, to)) - y);
    parts.push(
      element('rect', { x, y, width, height: tall, fill: colour, stroke: INK, 'stroke-width': 0.6 }),
      words(x + width / 2, y - 7, note, { size: 12, weight: 'bold', anchor: 'middle', room: step }),
      words(x + width / 2, foot + 19, label, { size: 12, anchor: 'middle', room: step - 4 }),
    );
    if (i > 0) {
      const level = yAxis.pixel(Math.max(from, to));
      parts.push(straightLine(x - 0.24 * step, level, x, level, { colour: FAINT_INK, dash: '3 3' }));
    }
  };
  block(0, 0, available.value, '#fbe7a8', available.label, '100 %');
  let rest = available.value;
  losses.forEach(({ label, value, colour }, i) => {
    block(i + 1, rest, rest - value, colour, label, percent(value));
    rest -= value;
  });
  block(losses.length + 1, 0, left.value, LIGHT_COLOURS.caught, left.label, left.note);
  parts.push(errorMark(area.left + (losses.length + 1.5) * step, yAxis, left.value, left.halfWidth));
  const noX: Axis = { pixel: (value) => value, ticks: [] };
  const height = foot + 40;
  const svg = svgDocument(WIDTH, height, [
    top.markup,
    levels(area, yAxis),
    ...parts,
    axesAround(area, noX, yAxis, { xLabel: '', yLabel: input.yLabel }),
  ]);
  return { svg, width: WIDTH, height, areas: [area] };
}

/** @returns the figure as a PNG file */
export function stackedBarsPng(input: StackedBars): Uint8Array {
  return renderFigure(drawStackedBars(input));
}

/** @returns the figure as a PNG file */
export function stepsPng(input: Steps): Uint8Array {
  return renderFigure(drawSteps(input));
}
