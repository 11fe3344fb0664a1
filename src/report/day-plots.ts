/** Figures of a day against the clock: curves with error bands, one plot under another. */
import { lineStyle } from './colour-scale.js';
import {
  type Axis,
  axesAround,
  FAINT_INK,
  flowLegend,
  gridLines,
  heading,
  linearAxis,
  MARGIN,
  niceDomain,
  pathThrough,
  straightLine,
  tickRoom,
  words,
} from './drawing.js';
import { renderFigure } from './render-figure.js';
import { element, group, type Markup, svgDocument } from './svg.js';
import { timeAxis } from './time-axis.js';
import type { DrawnFigure, PlotArea } from './types.js';

/** One curve: NaN leaves a gap. */
export interface DaySeries {
  readonly label: string;
  readonly value: readonly number[];
  /** 95 % half widths. */
  readonly halfWidth: readonly number[];
  /** Place in the palette. */
  readonly style: number;
}

export interface DayPanel {
  /** With its unit. */
  readonly yLabel: string;
  readonly series: readonly DaySeries[];
  /** Values end here by their nature: 100 for shares in per cent. */
  readonly most?: number;
  /** A level to draw across, e.g. the opening. */
  readonly level?: { readonly value: number; readonly label: string };
}

export interface DayPlot {
  readonly title: string;
  readonly subtitles: readonly string[];
  readonly xLabel: string;
  /** Hours of the day, rising; may run beyond 24. */
  readonly hours: readonly number[];
  /** One under another. */
  readonly panels: readonly DayPanel[];
}

const FIGURE_WIDTH = 920;
const PANEL_HEIGHT = 250;
const GAP = 46;
const LEVEL_COLOUR = '#1a1a1a';

function rangeOf({ series, level, most }: DayPanel): [number, number] {
  const ends = series
    .flatMap(({ value, halfWidth }) => value.flatMap((y, i) => [y - halfWidth[i], y + halfWidth[i]]))
    .filter((y) => Number.isFinite(y));
  if (level) ends.push(level.value);
  if (ends.length === 0) return [0, 1];
  // All of these are amounts: nothing is the natural foot, whatever an error band says.
  const top = Math.max(...ends);
  const [, high] = niceDomain(0, top > 0 ? 1.04 * top : 1, 5);
  // A little air above what cannot be passed, so that points on it are drawn whole.
  return [0, most !== undefined && high > most ? 1.03 * most : high];
}

/** @throws RangeError where there is nothing to draw, or lengths do not match */
export function drawDayPlot(plot: DayPlot): DrawnFigure {
  const { hours, panels } = plot;
  if (hours.length === 0 || panels.length === 0) throw new RangeError('a plot of a day needs steps');
  for (const { series } of panels) {
    if (
      series.some(
        ({ value, halfWidth }) => value.length !== hours.length || halfWidth.length !== hours.length,
      )
    )
      throw new RangeError('every curve must have one value and one half width for each step');
  }
  const top = heading(plot.title, plot.subtitles, FIGURE_WIDTH);
  const single = hours.length === 1;
  const xDomain: [number, number] = single
    ? [hours[0] - 1, hours[0] + 1]
    : [hours[0], hours[hours.length - 1]];
  const domains = panels.map(rangeOf);
  const left =
    MARGIN +
    24 +
    Math.max(...domains.map((domain) => tickRoom(linearAxis(domain, [PANEL_HEIGHT, 0], 46)))) +
    24;
  const width = FIGURE_WIDTH - MARGIN - 12 - left;
  const air = 12;
  const xAxis = timeAxis(xDomain, [left + air, left + width - air]);
  const parts: Markup[] = [];
  const areas: PlotArea[] = [];
  let y = top.bottom;
  panels.forEach((panel, index) => {
    const area: PlotArea = { left, top: y, width, height: PANEL_HEIGHT, x: xDomain, y: domains[index] };
    areas.push({ ...area, left: left + air, width: width - 2 * air });
    parts.push(panelMarkup(plot, panel, area, xAxis, index === panels.length - 1, index));
    const legend = flowLegend(left, y + PANEL_HEIGHT + (index === panels.length - 1 ? 54 : 26), width, [
      ...panel.series.map(({ label, style }) => ({ label, sample: sampleOf(style) })),
    ]);
    parts.push(legend.markup);
    y += PANEL_HEIGHT + GAP + legend.height;
  });
  const notesTop = y + 22;
  parts.push(
    words(MARGIN, notesTop, 'points: steps; without light 0 or a gap · bands and whiskers: 95 %', {
      size: 12,
      fill: FAINT_INK,
    }),
  );
  const height = Math.ceil(notesTop + 20);
  return {
    svg: svgDocument(FIGURE_WIDTH, height, [top.markup, ...parts]),
    width: FIGURE_WIDTH,
    height,
    areas,
  };
}

function sampleOf(style: number): (x: number, y: number) => Markup {
  const { colour, dash } = lineStyle(style);
  return (x, y) =>
    group({}, [
      element('rect', { x, y, width: 30, height: 16, fill: colour, 'fill-opacity': 0.18 }),
      straightLine(x, y + 8, x + 30, y + 8, { colour, width: 2.2, dash }),
      element('circle', { cx: x + 15, cy: y + 8, r: 3, fill: colour }),
    ]);
}

function panelMarkup(
  { hours, xLabel }: DayPlot,
  panel: DayPanel,
  area: PlotArea,
  xAxis: Axis,
  last: boolean,
  index: number,
): Markup {
  const yAxis = linearAxis(area.y, [area.top + area.height, area.top], 46);
  const clip = `day${index}`;
  const level =
    panel.level === undefined
      ? []
      : [
          straightLine(
            area.left,
            yAxis.pixel(panel.level.value),
            area.left + area.width,
            yAxis.pixel(panel.level.value),
            {
              colour: LEVEL_COLOUR,
              width: 1.6,
              dash: '8 4',
            },
          ),
          words(area.left + area.width - 10, yAxis.pixel(panel.level.value) - 7, panel.level.label, {
            size: 12,
            anchor: 'end',
            halo: '#ffffff',
          }),
        ];
  return group({}, [
    element(
      'clipPath',
      { id: clip },
      element('rect', { x: area.left, y: area.top, width: area.width, height: area.height }),
    ),
    gridLines(area, xAxis, yAxis),
    group(
      { 'clip-path': `url(#${clip})` },
      panel.series.flatMap((series) => curve(series, hours, xAxis, yAxis)),
    ),
    ...level,
    axesAround(area, xAxis, yAxis, { xLabel: last ? xLabel : '', yLabel: panel.yLabel }),
  ]);
}

function curve(
  { value, halfWidth, style }: DaySeries,
  hours: readonly number[],
  xAxis: Axis,
  yAxis: Axis,
): Markup[] {
  const { colour, dash } = lineStyle(style);
  const half = (i: number): number => (Number.isFinite(halfWidth[i]) ? halfWidth[i] : 0);
  const points = hours.map((hour, i): [number, number] => [xAxis.pixel(hour), yAxis.pixel(value[i])]);
  const pieces: number[][] = [[]];
  for (const i of hours.keys()) {
    if (Number.isFinite(value[i])) pieces[pieces.length - 1].push(i);
    else pieces.push([]);
  }
  const bands = pieces
    .filter((piece) => piece.length > 1)
    .map((piece) => {
      const upper = piece.map((i): [number, number] => [points[i][0], yAxis.pixel(value[i] + half(i))]);
      const lower = piece
        .map((i): [number, number] => [points[i][0], yAxis.pixel(value[i] - half(i))])
        .reverse();
      return element('path', {
        d: `${pathThrough([...upper, ...lower])}Z`,
        fill: colour,
        'fill-opacity': 0.2,
      });
    });
  const line = element('path', {
    d: pathThrough(points),
    fill: 'none',
    stroke: colour,
    'stroke-width': 2,
    'stroke-dasharray': dash === 'none' ? undefined : dash,
  });
  const dots = points.flatMap(([x, y], i) => {
    if (!Number.isFinite(y)) return [];
    const [high, low] = [yAxis.pixel(value[i] + half(i)), yAxis.pixel(value[i] - half(i))];
    const whisker = `M${x} ${high}V${low}M${x - 4} ${high}H${x + 4}M${x - 4} ${low}H${x + 4}`;
    return [
      ...(low - high > 7
        ? [element('path', { d: whisker, stroke: colour, 'stroke-width': 1.3, fill: 'none' })]
        : []),
      element('circle', { cx: x, cy: y, r: 3, fill: colour, stroke: '#ffffff', 'stroke-width': 1 }),
    ];
  });
  return [...bands, line, ...dots];
}

/** @returns power and spill against time as a PNG file */
export function dayPowerPng(plot: DayPlot): Uint8Array {
  return renderFigure(drawDayPlot(plot));
}

/** @returns spot diameters against time as a PNG file */
export function daySpotPng(plot: DayPlot): Uint8Array {
  return renderFigure(drawDayPlot(plot));
}
