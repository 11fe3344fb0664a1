/** A figure of a year against one quantity: points with their errors, a flat range, the best, and lines of words below. */
import { lineStyle } from './colour-scale.js';
import {
  type Axis,
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
  powerAxis,
  straightLine,
  typeset,
  words,
} from './drawing.js';
import { wrapText } from './font.js';
import { plainText } from './plain-text.js';
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

/** What each step brings, a bar for it, as a second plot under the first on the same x axis. */
export interface StepBars {
  readonly yLabel: string;
  readonly bars: readonly {
    readonly label: string;
    readonly x: readonly number[];
    readonly y: readonly number[];
    /** 95 % half widths; 0 where there is none. */
    readonly halfWidth: readonly number[];
    /** To write at each bar. */
    readonly text: readonly string[];
    /** Bars that may be noise are drawn hollow. */
    readonly sure: readonly boolean[];
  }[];
  /** Points beside the bars, one list for each entry of `bars`. */
  readonly marks: readonly { readonly x: readonly number[]; readonly y: readonly number[] }[];
  readonly hollowLabel: string;
  readonly markLabel: string;
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
  readonly steps?: StepBars;
  /** Lines under the plot; long ones are broken. */
  readonly notes: readonly string[];
}

const WIDTH = 960;
const HEIGHT = 360;
const LEFT = 100;
const FLAT_COLOUR = '#f4e3b0';
const NOTE_LINE = 19;
const NOTE_SIZE = 12.5;
const STEPS_HEIGHT = 260;
/** Pixels that "1108 ± 12" takes. */
const LABEL_ROOM = 74;

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
  // Words at the first and the last bar reach beyond them.
  const air = (input.steps === undefined ? 0.03 : 0.08) * (span || 1);
  const x: [number, number] = [Math.min(...xs) - air, Math.max(...xs) + air];
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
  const below =
    input.steps === undefined
      ? null
      : stepsBelow(input.steps, foot + 56 + legend.height + 26, xAxis, area, input.xLabel);
  const notesTop = (below?.bottom ?? foot + 56 + legend.height) + 18;
  const lines = input.notes.flatMap((note) =>
    wrapText(typeset(plainText(note)), WIDTH - 2 * MARGIN, NOTE_SIZE),
  );
  const notes = lines.map((line, i) => words(MARGIN, notesTop + NOTE_LINE * i, line, { size: NOTE_SIZE }));
  const height = Math.ceil(notesTop + NOTE_LINE * lines.length);
  const svg = svgDocument(WIDTH, height, [
    top.markup,
    ...parts,
    axesAround(area, xAxis, yAxis, { xLabel: input.xLabel, yLabel: input.yLabel }),
    legend.markup,
    ...(below === null ? [] : [below.markup]),
    ...notes,
  ]);
  return { svg, width: WIDTH, height, areas: below === null ? [area] : [area, below.area] };
}

function stepsBelow(
  { bars, marks, yLabel, hollowLabel, markLabel }: StepBars,
  top: number,
  xAxis: Axis,
  above: PlotArea,
  xLabel: string,
): { readonly markup: Markup; readonly area: PlotArea; readonly bottom: number } {
  const ends = bars
    .flatMap(({ y, halfWidth }) => y.flatMap((value, i) => [value - halfWidth[i], value + halfWidth[i]]))
    .concat(marks.flatMap(({ y }) => y));
  const widths = bars.flatMap(({ halfWidth }) => halfWidth).filter((half) => half > 0);
  // What cannot be told from 0 lies on the linear part.
  const linear = widths.length > 0 ? Math.max(1e-3, Math.min(...widths)) : 1;
  const [low, high] = [Math.min(0, ...ends), Math.max(linear, ...ends)];
  const places = [...new Set(bars.flatMap(({ x }) => x))].sort((a, b) => a - b);
  const apart = places.length > 1 ? xAxis.pixel(places[1]) - xAxis.pixel(places[0]) : 80;
  const upwards = apart / bars.length < LABEL_ROOM;
  // Room for the words over the highest bar: the scale goes by powers of ten.
  const y: [number, number] = [low < 0 ? 2 * low : 0, (upwards ? 40 : 4) * high];
  const area: PlotArea = { ...above, top, height: STEPS_HEIGHT, y };
  const yAxis = powerAxis(y, [top + STEPS_HEIGHT, top], linear);
  // Between the bars of several ways there is room for the marks.
  const gap = bars.length > 1 ? Math.min(18, 0.12 * apart) : 0;
  const width = Math.max(2, Math.min(26, (0.75 * apart) / bars.length - gap));
  const zero = yAxis.pixel(0);
  const drawn = bars.flatMap(({ x, y: values, halfWidth, text, sure }, way) => {
    const { colour } = lineStyle(way);
    const middle = (value: number): number =>
      xAxis.pixel(value) + (way - (bars.length - 1) / 2) * (width + gap);
    return [
      ...x.flatMap((value, i): Markup[] => {
        const [at, end] = [middle(value), yAxis.pixel(values[i])];
        const tip = yAxis.pixel(Math.max(0, values[i] + halfWidth[i])) - 6;
        return [
          element('rect', {
            x: at - width / 2,
            y: Math.min(zero, end),
            width,
            height: Math.max(1, Math.abs(zero - end)),
            fill: sure[i] ? colour : '#ffffff',
            'fill-opacity': sure[i] ? 0.75 : 1,
            stroke: colour,
          }),
          ...(halfWidth[i] > 0
            ? [
                straightLine(
                  at,
                  yAxis.pixel(values[i] - halfWidth[i]),
                  at,
                  yAxis.pixel(values[i] + halfWidth[i]),
                  { colour: INK, width: 1.4 },
                ),
              ]
            : []),
          words(upwards ? at + 4 : at, tip, typeset(text[i]), {
            size: 11,
            anchor: upwards ? 'start' : 'middle',
            upwards,
            halo: '#ffffff',
          }),
        ];
      }),
      ...marks[way].x.map((value, i) =>
        diamond(middle(value) + width / 2 + Math.max(6, gap / 2), yAxis.pixel(marks[way].y[i]), colour),
      ),
    ];
  });
  const entries = [
    ...bars.map(({ label }, way) => ({ label, sample: barSample(lineStyle(way).colour, 0.75) })),
    ...(bars.some(({ sure }) => sure.includes(false))
      ? [{ label: hollowLabel, sample: barSample(FAINT_INK, 0) }]
      : []),
    { label: markLabel, sample: (left: number, up: number) => diamond(left + 15, up + 8, FAINT_INK) },
  ];
  const legend = flowLegend(MARGIN, top + STEPS_HEIGHT + 56, WIDTH - 2 * MARGIN, entries);
  return {
    markup: group({}, [
      gridLines(area, xAxis, yAxis),
      ...drawn,
      axesAround(area, xAxis, yAxis, { xLabel, yLabel }),
      legend.markup,
    ]),
    area,
    bottom: top + STEPS_HEIGHT + 56 + legend.height,
  };
}

function diamond(x: number, y: number, colour: string): Markup {
  return element('path', {
    d: `M${x} ${y - 5}L${x + 5} ${y}L${x} ${y + 5}L${x - 5} ${y}Z`,
    fill: '#ffffff',
    stroke: colour,
    'stroke-width': 1.5,
  });
}

function barSample(colour: string, opacity: number): (left: number, up: number) => Markup {
  return (left, up) =>
    element('rect', {
      x: left + 8,
      y: up + 1,
      width: 14,
      height: 14,
      fill: colour,
      'fill-opacity': opacity,
      stroke: colour,
    });
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
