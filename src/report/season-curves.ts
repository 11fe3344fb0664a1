/** A figure of a year against one quantity: points with their errors, a flat range, the best, and lines of words below. */
import { lineStyle } from './colour-scale.js';
import {
  axesAround,
  axisAtValues,
  FAINT_INK,
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
import { element, group, type Markup, svgDocument } from './svg.js';
import type { DrawnFigure, PlotArea } from './types.js';

export interface YearCurve {
  readonly label: string;
  readonly x: readonly number[];
  readonly y: readonly number[];
  /** 95 % half widths; 0 where there is none. */
  readonly halfWidth: readonly number[];
  /** Points of the line through them; straight from point to point where not given. */
  readonly line?: readonly (readonly [number, number])[];
}

export interface YearCurves {
  readonly title: string;
  readonly subtitles: readonly string[];
  readonly xLabel: string;
  readonly yLabel: string;
  readonly curves: readonly YearCurve[];
  /** A range of x that is as good as the best. */
  readonly flat?: { readonly from: number; readonly to: number; readonly label: string };
  readonly best?: { readonly x: number; readonly label: string };
  /** A level to draw across. */
  readonly level?: { readonly value: number; readonly label: string };
  /** Ticks of the x axis; round numbers where not given. */
  readonly xTicks?: readonly number[];
  /** The y axis begins at 0. */
  readonly fromZero: boolean;
  /** Lines under the plot. */
  readonly notes: readonly string[];
}

const WIDTH = 960;
const HEIGHT = 360;
const LEFT = 100;
const FLAT_COLOUR = '#f4e3b0';
const NOTE_LINE = 19;

function domainOf(values: readonly number[], fromZero: boolean): [number, number] {
  const finite = values.filter((value) => Number.isFinite(value));
  const low = Math.min(...finite);
  const high = Math.max(...finite);
  const room = 0.06 * (high - low || Math.abs(high) || 1);
  return niceDomain(fromZero ? 0 : low - room, high + room, 6);
}

/** @throws RangeError where there is nothing to draw, or lengths do not match */
export function drawYearCurves(input: YearCurves): DrawnFigure {
  const { curves, flat, best, level } = input;
  if (
    curves.length === 0 ||
    curves.some(
      ({ x, y, halfWidth }) => x.length === 0 || y.length !== x.length || halfWidth.length !== x.length,
    )
  ) {
    throw new RangeError('every curve must have points, each with a value and a half width');
  }
  const top = heading(input.title, input.subtitles, WIDTH);
  const xs = curves.flatMap(({ x }) => x);
  const ends = curves.flatMap(({ y, halfWidth, line }) => [
    ...y.flatMap((value, i) => [value - halfWidth[i], value + halfWidth[i]]),
    ...(line ?? []).map(([, height]) => height),
  ]);
  const span = Math.max(...xs) - Math.min(...xs);
  const x: [number, number] = [Math.min(...xs) - 0.03 * (span || 1), Math.max(...xs) + 0.03 * (span || 1)];
  const y = domainOf(level === undefined ? ends : [...ends, level.value], input.fromZero);
  const area: PlotArea = { left: LEFT, top: top.bottom, width: WIDTH - LEFT - MARGIN, height: HEIGHT, x, y };
  const across: [number, number] = [area.left, area.left + area.width];
  const xAxis =
    input.xTicks === undefined ? linearAxis(x, across, 80) : axisAtValues(x, across, input.xTicks);
  const yAxis = linearAxis(y, [area.top + HEIGHT, area.top], 48);
  const foot = area.top + HEIGHT;
  const parts: Markup[] = [];
  if (flat !== undefined) {
    const from = xAxis.pixel(Math.max(x[0], flat.from));
    const to = xAxis.pixel(Math.min(x[1], flat.to));
    parts.push(
      element('rect', {
        x: from,
        y: area.top,
        width: Math.max(1, to - from),
        height: HEIGHT,
        fill: FLAT_COLOUR,
      }),
    );
  }
  parts.push(gridLines(area, xAxis, yAxis));
  if (level !== undefined) {
    const height = yAxis.pixel(level.value);
    parts.push(
      straightLine(area.left, height, area.left + area.width, height, { colour: FAINT_INK, dash: '6 4' }),
    );
  }
  if (best !== undefined) {
    const at = xAxis.pixel(best.x);
    parts.push(straightLine(at, area.top, at, foot, { colour: INK, dash: '2 3' }));
  }
  parts.push(...curves.map((curve, i) => curveMarks(curve, i, xAxis.pixel, yAxis.pixel)));
  const entries = [
    ...curves.map(({ label }, i) => ({ label, sample: lineSample(i) })),
    ...(flat === undefined
      ? []
      : [
          {
            label: flat.label,
            sample: (left: number, up: number) =>
              element('rect', {
                x: left + 4,
                y: up + 1,
                width: 22,
                height: 14,
                fill: FLAT_COLOUR,
                stroke: FAINT_INK,
                'stroke-width': 0.5,
              }),
          },
        ]),
    ...(best === undefined ? [] : [{ label: best.label, sample: dashSample(INK, '2 3') }]),
    ...(level === undefined ? [] : [{ label: level.label, sample: dashSample(FAINT_INK, '6 4') }]),
  ];
  const legend = flowLegend(MARGIN, foot + 56, WIDTH - 2 * MARGIN, entries);
  const notesTop = foot + 56 + legend.height + 18;
  const notes = input.notes.map((note, i) =>
    words(MARGIN, notesTop + NOTE_LINE * i, note, { size: 12.5, room: WIDTH - 2 * MARGIN }),
  );
  const height = Math.ceil(notesTop + NOTE_LINE * input.notes.length);
  const svg = svgDocument(WIDTH, height, [
    top.markup,
    ...parts,
    axesAround(area, xAxis, yAxis, { xLabel: input.xLabel, yLabel: input.yLabel }),
    legend.markup,
    ...notes,
  ]);
  return { svg, width: WIDTH, height, areas: [area] };
}

function lineSample(index: number): (left: number, up: number) => Markup {
  const { colour, dash } = lineStyle(index);
  return (left, up) =>
    group({}, [
      straightLine(left, up + 8, left + 30, up + 8, { colour, width: 2, dash }),
      element('circle', { cx: left + 15, cy: up + 8, r: 3.2, fill: colour }),
    ]);
}

function dashSample(colour: string, dash: string): (left: number, up: number) => Markup {
  return (left, up) => straightLine(left, up + 8, left + 30, up + 8, { colour, dash });
}

function curveMarks(
  { x, y, halfWidth, line }: YearCurve,
  index: number,
  toX: (value: number) => number,
  toY: (value: number) => number,
): Markup {
  const { colour, dash } = lineStyle(index);
  return group({}, [
    element('path', {
      d: pathThrough(
        (line ?? x.map((value, i) => [value, y[i]] as const)).map(([value, height]) => [
          toX(value),
          toY(height),
        ]),
      ),
      fill: 'none',
      stroke: colour,
      'stroke-width': 2,
      'stroke-dasharray': dash === 'none' ? undefined : dash,
    }),
    ...x.flatMap((value, i) => {
      const at = toX(value);
      const bar =
        halfWidth[i] > 0
          ? [straightLine(at, toY(y[i] - halfWidth[i]), at, toY(y[i] + halfWidth[i]), { colour, width: 1.4 })]
          : [];
      return [...bar, element('circle', { cx: at, cy: toY(y[i]), r: 3.2, fill: colour })];
    }),
  ]);
}

/** @returns the figure as a PNG file */
export function yearCurvesPng(input: YearCurves): Uint8Array {
  return renderFigure(drawYearCurves(input));
}
