/** Intercept against the size of the opening: one curve for each receiver, or their range where they are many. */

import { formatFigure, formatNumber, formatWithError } from '../result/number-format.js';
import type { CurvePoint, ReceiverResult } from '../result/types.js';
import { lineStyle } from './colour-scale.js';
import {
  type Axis,
  axesAround,
  FAINT_INK,
  gridLines,
  heading,
  INK,
  linearAxis,
  MARGIN,
  pathThrough,
  straightLine,
  tickRoom,
  typeset,
  words,
} from './drawing.js';
import { stampLine } from './flux-figure.js';
import { renderFigure } from './render-figure.js';
import { element, group, type Markup, svgDocument } from './svg.js';
import type { DrawnFigure, PlotArea, RunStamp } from './types.js';

const FIGURE_WIDTH = 1020;
const LEAST_PLOT_HEIGHT = 440;
const ENTRY_HEIGHT = 46;
const LEGEND_WIDTH = 340;
/** Below this width the legend stands under the plot. */
const LEAST_WIDTH_BESIDE = 800;
const NARROW_PLOT_HEIGHT = 330;
/** Beyond this many curves nobody can tell one from another. */
export const MOST_CURVES = 12;
/** Normal 95 %: the curve's points carry standard errors only. */
const COVERAGE_95 = 1.96;
const GUIDE = 0.95;
const GUIDE_COLOUR = '#8a8a8a';

interface Curve {
  readonly name: string;
  readonly points: readonly CurvePoint[];
  /** Opening of the scene, mm. */
  readonly opening: number;
  readonly receiver: ReceiverResult;
}

/**
 * The stretch from no opening to the first point, where the opening is so small that the flux in it is even: intercept grows with its
 * area, or with its width where only that changes.
 */
function smallestOpenings(receiver: ReceiverResult): CurvePoint[] {
  const [first] = receiver.intercept_curve;
  if (first === undefined || first.size_mm <= 0) return [];
  const power = receiver.spot.measure === 'width' ? 1 : 2;
  return [0, 0.2, 0.4, 0.6, 0.8].map((share) => ({
    scale: share * first.scale,
    size_mm: share * first.size_mm,
    intercept: share ** power * first.intercept,
    std_err: share ** power * first.std_err,
  }));
}

function curveOf(receiver: ReceiverResult): Curve {
  const points = [...smallestOpenings(receiver), ...receiver.intercept_curve];
  return { name: receiver.name, points, opening: openingSize(points), receiver };
}

/** @returns size at scale 1, from the curve itself, since size / scale is the same all along it */
function openingSize(points: readonly CurvePoint[]): number {
  const last = points[points.length - 1];
  return last === undefined || last.scale === 0 ? 0 : last.size_mm / last.scale;
}

/** @returns intercept and its standard error at a size, linear between the points; NaN outside them */
export function interceptAt(points: readonly CurvePoint[], size: number): { value: number; stdErr: number } {
  for (let i = 1; i < points.length; i++) {
    const before = points[i - 1];
    const after = points[i];
    if (size < before.size_mm || size > after.size_mm) continue;
    const share =
      after.size_mm === before.size_mm ? 0 : (size - before.size_mm) / (after.size_mm - before.size_mm);
    return {
      value: before.intercept + share * (after.intercept - before.intercept),
      stdErr: before.std_err + share * (after.std_err - before.std_err),
    };
  }
  return { value: Number.NaN, stdErr: Number.NaN };
}

function sizeLabel(receivers: readonly ReceiverResult[]): string {
  const labels = new Set(
    receivers.map((receiver) => {
      const { aperture } = receiver;
      if (aperture.shape === 'round') return 'diameter of the opening / mm';
      if (aperture.shape === 'tube') return 'diameter of the tube / mm';
      const size = openingSize(receiver.intercept_curve);
      const isHeight = Math.abs(size - aperture.height_mm) < Math.abs(size - aperture.width_mm);
      if (isHeight) return 'width of the opening across the row / mm';
      return receiver.kind === 'line_plate'
        ? 'length of the opening along the row / mm, width in proportion'
        : 'width of the opening / mm, height in proportion';
    }),
  );
  return labels.size === 1 ? [...labels][0] : 'size of the opening (diameter or width) / mm';
}

/** @returns where the curves have all but levelled out, mm; the opening and the 5 % size are always inside */
function sizeRange(curves: readonly Curve[]): number {
  let needed = 0;
  let available = 0;
  for (const { points, opening, receiver } of curves) {
    const last = points[points.length - 1];
    if (last === undefined) continue;
    const level = points.find((point) => point.intercept >= 0.998 * last.intercept) ?? last;
    const five = receiver.opening_for_5_percent_spill_mm;
    needed = Math.max(
      needed,
      1.4 * opening,
      1.15 * level.size_mm,
      five.limit === undefined ? 1.25 * five.value : 0,
    );
    available = Math.max(available, last.size_mm);
  }
  return Math.min(needed, available) || 1;
}

export interface CurveFigureOptions {
  /** Of the whole figure, pixels; narrower ones stand inside a page. */
  readonly width?: number;
  /** Head the figure by its receivers only, where a page says all the rest. */
  readonly bare?: boolean;
}

/**
 * Draws the intercept curves with 95 % bands, the scene's opening with its value, the 95 % guide and the smallest opening that spills at
 * most 5 %. More than MOST_CURVES receivers are drawn as their range and mean (at equal sizes).
 */
export function drawCurveFigure(
  receivers: readonly ReceiverResult[],
  stamp: RunStamp,
  options: CurveFigureOptions = {},
): DrawnFigure {
  const curves = receivers.map(curveOf);
  const many = curves.length > MOST_CURVES;
  const subject =
    curves.length === 1
      ? `receiver ${curves[0].name}`
      : `${curves.length} receivers${many ? ', their range and mean' : ''}`;
  const figureWidth = options.width ?? FIGURE_WIDTH;
  const beside = figureWidth >= LEAST_WIDTH_BESIDE;
  const top =
    options.bare === true
      ? heading('intercept against opening size', [subject], figureWidth)
      : heading(stamp.title, [`intercept against opening size · ${subject}`, stampLine(stamp)], figureWidth);
  // As high as its legend.
  const plotHeight = beside
    ? Math.max(LEAST_PLOT_HEIGHT, many ? 0 : 40 + curves.length * ENTRY_HEIGHT)
    : NARROW_PLOT_HEIGHT;
  const yDomain: readonly [number, number] = [0, 1];
  const xDomain: readonly [number, number] = [0, sizeRange(curves)];
  const left = MARGIN + 14 + tickRoom(linearAxis(yDomain, [plotHeight, 0], 44)) + 24;
  const area: PlotArea = {
    left,
    top: top.bottom,
    width: figureWidth - MARGIN - (beside ? LEGEND_WIDTH + 24 : 0) - left,
    height: plotHeight,
    x: xDomain,
    y: yDomain,
  };
  const xAxis = linearAxis(xDomain, [area.left, area.left + area.width], 76);
  const yAxis = linearAxis(yDomain, [area.top + area.height, area.top], 44);
  const clip = element(
    'clipPath',
    { id: 'plot' },
    element('rect', { x: area.left, y: area.top, width: area.width, height: area.height }),
  );
  const drawn = many ? rangeOfCurves(curves, xAxis, yAxis, xDomain) : separateCurves(curves, xAxis, yAxis);
  const below = area.top + area.height + 62;
  const [legendLeft, legendTop] = beside ? [area.left + area.width + 24, area.top] : [MARGIN, below];
  const height = Math.max(below, drawn.legendHeight + legendTop + (beside ? 20 : 0));
  const svg = svgDocument(figureWidth, Math.ceil(height), [
    top.markup,
    clip,
    gridLines(area, xAxis, yAxis),
    group({ 'clip-path': 'url(#plot)' }, [
      straightLine(area.left, yAxis.pixel(GUIDE), area.left + area.width, yAxis.pixel(GUIDE), {
        colour: GUIDE_COLOUR,
        width: 1.4,
        dash: '2 3',
      }),
      ...drawn.marks,
    ]),
    words(area.left + 8, yAxis.pixel(GUIDE) - 6, '95 %', { size: 12, fill: FAINT_INK, halo: '#ffffff' }),
    ...openingLines(curves, area, xAxis),
    axesAround(area, xAxis, yAxis, { xLabel: sizeLabel(receivers), yLabel: 'intercept factor' }),
    drawn.legend(legendLeft, legendTop),
  ]);
  return { svg, width: figureWidth, height: Math.ceil(height), areas: [area] };
}

/** @returns the figure as a PNG file */
export function curveFigurePng(receivers: readonly ReceiverResult[], stamp: RunStamp): Uint8Array {
  return renderFigure(drawCurveFigure(receivers, stamp));
}

function openingLines(curves: readonly Curve[], area: PlotArea, xAxis: Axis): Markup[] {
  const sizes = [...new Set(curves.map(({ opening }) => Number(opening.toPrecision(6))))].sort(
    (a, b) => a - b,
  );
  const bottom = area.top + area.height;
  let lastLabel = Number.NEGATIVE_INFINITY;
  return sizes.flatMap((size) => {
    const x = xAxis.pixel(size);
    const line = straightLine(x, area.top, x, bottom, { colour: INK, width: 1.6 });
    if (x - lastLabel < 22) return [line];
    lastLabel = x;
    // Upwards along the line, low down, where the curves have long since passed.
    const label = words(x + 15, bottom - 10, `opening as built: ${formatNumber(size)} mm`, {
      size: 12,
      halo: '#ffffff',
      upwards: true,
    });
    return [line, label];
  });
}

interface DrawnCurves {
  readonly marks: readonly Markup[];
  readonly legendHeight: number;
  readonly legend: (left: number, top: number) => Markup;
}

function band(
  points: readonly { readonly x: number; readonly low: number; readonly high: number }[],
  xAxis: Axis,
  yAxis: Axis,
  colour: string,
  opacity: number,
): Markup {
  const upper = points.map(({ x, high }): [number, number] => [xAxis.pixel(x), yAxis.pixel(high)]);
  const lower = points.map(({ x, low }): [number, number] => [xAxis.pixel(x), yAxis.pixel(low)]).reverse();
  return element('path', {
    d: `${pathThrough([...upper, ...lower])}Z`,
    fill: colour,
    'fill-opacity': opacity,
  });
}

function separateCurves(curves: readonly Curve[], xAxis: Axis, yAxis: Axis): DrawnCurves {
  const bands = curves.map(({ points }, i) =>
    band(
      points.map((point) => ({
        x: point.size_mm,
        low: point.intercept - COVERAGE_95 * point.std_err,
        high: point.intercept + COVERAGE_95 * point.std_err,
      })),
      xAxis,
      yAxis,
      lineStyle(i).colour,
      0.22,
    ),
  );
  const lines = curves.map(({ points }, i) =>
    element('path', {
      d: pathThrough(points.map((point) => [xAxis.pixel(point.size_mm), yAxis.pixel(point.intercept)])),
      fill: 'none',
      stroke: lineStyle(i).colour,
      'stroke-width': 2,
      'stroke-dasharray': lineStyle(i).dash === 'none' ? undefined : lineStyle(i).dash,
    }),
  );
  const dots = curves.flatMap(({ points, opening, receiver }, i) => {
    const colour = lineStyle(i).colour;
    const atOpening = interceptAt(points, opening);
    const five = receiver.opening_for_5_percent_spill_mm;
    const atFive = interceptAt(points, five.value);
    const parts: Markup[] = [];
    if (Number.isFinite(atOpening.value)) {
      const [cx, cy] = [xAxis.pixel(opening), yAxis.pixel(atOpening.value)];
      parts.push(element('circle', { cx, cy, r: 4.5, fill: colour, stroke: '#ffffff', 'stroke-width': 1.5 }));
    }
    if (five.limit === undefined && Number.isFinite(atFive.value)) {
      const [x, y] = [xAxis.pixel(five.value), yAxis.pixel(atFive.value)];
      const diamond = `M${x} ${y - 6}L${x + 6} ${y}L${x} ${y + 6}L${x - 6} ${y}Z`;
      parts.push(element('path', { d: diamond, fill: '#ffffff', stroke: colour, 'stroke-width': 2 }));
    }
    return parts;
  });
  return {
    marks: [...bands, ...lines, ...dots],
    legendHeight: 40 + curves.length * ENTRY_HEIGHT,
    legend: (left, top) =>
      group({}, [
        element('circle', { cx: left + 8, cy: top + 6, r: 4.5, fill: FAINT_INK }),
        words(left + 24, top + 10.5, 'intercept at the opening as built', { size: 12, fill: FAINT_INK }),
        element('path', {
          d: `M${left + 8} ${top + 20}L${left + 14} ${top + 26}L${left + 8} ${top + 32}L${left + 2} ${top + 26}Z`,
          fill: '#ffffff',
          stroke: FAINT_INK,
          'stroke-width': 2,
        }),
        words(left + 24, top + 30.5, 'opening that spills 5 % of the unblocked light', {
          size: 12,
          fill: FAINT_INK,
        }),
        ...curves.flatMap(({ name, receiver }, i) => {
          const y = top + 56 + i * ENTRY_HEIGHT;
          const style = lineStyle(i);
          const value = formatFigure(receiver.intercept_factor, { percent: true });
          const five = formatFigure(receiver.opening_for_5_percent_spill_mm);
          return [
            straightLine(left, y, left + 34, y, { colour: style.colour, width: 2.4, dash: style.dash }),
            words(left + 44, y + 4.5, name, { room: LEGEND_WIDTH - 44, weight: 'bold' }),
            words(left + 44, y + 21.5, typeset(`● ${value}   ◇ ${five}`), {
              size: 12,
              room: LEGEND_WIDTH - 44,
            }),
          ];
        }),
      ]),
  };
}

function rangeOfCurves(
  curves: readonly Curve[],
  xAxis: Axis,
  yAxis: Axis,
  [low, high]: readonly [number, number],
): DrawnCurves {
  const steps = 160;
  const samples = Array.from({ length: steps + 1 }, (_, i) => {
    const x = low + ((high - low) * i) / steps;
    const values = curves
      .map(({ points }) => interceptAt(points, x).value)
      .filter((value) => Number.isFinite(value));
    return {
      x,
      low: Math.min(...values),
      high: Math.max(...values),
      mean: values.reduce((a, b) => a + b, 0) / values.length,
    };
  }).filter(({ mean }) => Number.isFinite(mean));
  const style = lineStyle(0);
  const atOpening = curves
    .map((curve) => ({ name: curve.name, ...interceptAt(curve.points, curve.opening) }))
    .filter(({ value }) => Number.isFinite(value))
    .sort((a, b) => a.value - b.value);
  const percent = (value: number, stdErr: number): string =>
    `${formatWithError(100 * value, 100 * COVERAGE_95 * stdErr)} %`;
  const rows: (readonly [string, string])[] = [];
  if (atOpening.length > 0) {
    const worst = atOpening[0];
    const best = atOpening[atOpening.length - 1];
    rows.push(
      [`lowest: ${worst.name}`, percent(worst.value, worst.stdErr)],
      [`highest: ${best.name}`, percent(best.value, best.stdErr)],
    );
  }
  const widest = curves
    .map(({ receiver }) => receiver)
    .reduce((a, b) =>
      b.opening_for_5_percent_spill_mm.value > a.opening_for_5_percent_spill_mm.value ? b : a,
    );
  rows.push([
    `widest opening for 5 % spill: ${widest.name}`,
    formatFigure(widest.opening_for_5_percent_spill_mm),
  ]);
  return {
    marks: [
      band(samples, xAxis, yAxis, style.colour, 0.25),
      element('path', {
        d: pathThrough(samples.map(({ x, mean }) => [xAxis.pixel(x), yAxis.pixel(mean)])),
        fill: 'none',
        stroke: style.colour,
        'stroke-width': 2.2,
      }),
    ],
    legendHeight: 80 + 48 * rows.length,
    legend: (left, top) =>
      group({}, [
        straightLine(left, top + 8, left + 34, top + 8, { colour: style.colour, width: 2.4 }),
        words(left + 44, top + 12.5, `mean of ${curves.length} receivers`),
        element('rect', {
          x: left,
          y: top + 24,
          width: 34,
          height: 14,
          fill: style.colour,
          'fill-opacity': 0.25,
        }),
        words(left + 44, top + 35.5, 'lowest to highest'),
        words(left, top + 70, 'intercept at the opening as built', { weight: 'bold' }),
        ...rows.flatMap(([label, value], i) => [
          words(left, top + 94 + 42 * i, label, { room: LEGEND_WIDTH }),
          words(left, top + 112 + 42 * i, typeset(value), { room: LEGEND_WIDTH, fill: FAINT_INK }),
        ]),
      ]),
  };
}
