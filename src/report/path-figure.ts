/** The path of a receiver in plan and in elevation, with times marked. */
import { lineStyle } from './colour-scale.js';
import {
  type Axis,
  axesAround,
  FAINT_INK,
  flowLegend,
  gridLines,
  heading,
  INK,
  type LegendEntry,
  linearAxis,
  MARGIN,
  pathThrough,
  straightLine,
  tickRoom,
  words,
} from './drawing.js';
import { textWidth } from './font.js';
import { renderFigure } from './render-figure.js';
import { element, group, type Markup, svgDocument } from './svg.js';
import type { DrawnFigure, PlotArea } from './types.js';

/** mm: along the row, across it, up. */
export type PathPlace = readonly [number, number, number];

export interface PathSeries {
  readonly label: string;
  readonly places: readonly PathPlace[];
  /** Times to write at the places; empty: none there. */
  readonly times: readonly string[];
  readonly style: number;
}

export interface PathPlot {
  readonly title: string;
  readonly subtitles: readonly string[];
  readonly series: readonly PathSeries[];
  /** A track to draw as a line beneath: places in order. */
  readonly track: { readonly label: string; readonly places: readonly PathPlace[] } | null;
  /** Ends of the last dishes, mm along the row; null where they are not known. */
  readonly ends: readonly [number, number] | null;
  readonly endsLabel: string;
  readonly xLabel: string;
  readonly acrossLabel: string;
  readonly upLabel: string;
}

const FIGURE_WIDTH = 1060;
const LEAST_HEIGHT = 150;
const MOST_HEIGHT = 660;
const TRACK_COLOUR = '#9a9a9a';
const END_COLOUR = '#b3261e';

/** Range of the values with air about them. */
function padded(values: readonly number[], part: number): [number, number] {
  const [low, high] = [Math.min(...values), Math.max(...values)];
  const air = Math.max(part * (high - low), 10);
  return [low - air, high + air];
}

/** @throws RangeError where there is no place */
export function drawPathFigure(plot: PathPlot): DrawnFigure {
  const places = plot.series.flatMap((series) => series.places).concat(plot.track?.places ?? []);
  if (places.length === 0) throw new RangeError('a path needs places');
  const top = heading(plot.title, plot.subtitles, FIGURE_WIDTH);
  const xValues = places.map(([x]) => x).concat(plot.ends ?? []);
  const xDomain = padded(xValues, 0.05);
  const yDomains = ([1, 2] as const).map((axis) =>
    padded(
      places.map((place) => place[axis]),
      0.16,
    ),
  );
  const left =
    MARGIN +
    14 +
    Math.max(...yDomains.map((domain) => tickRoom(linearAxis(domain, [LEAST_HEIGHT, 0], 40)))) +
    40;
  const width = FIGURE_WIDTH - MARGIN - 12 - left;
  const perMm = width / (xDomain[1] - xDomain[0]);
  const xAxis = linearAxis(xDomain, [left, left + width], 86);
  const parts: Markup[] = [];
  const areas: PlotArea[] = [];
  let y = top.bottom + 8;
  const views = [
    { axis: 1 as const, name: 'plan' },
    { axis: 2 as const, name: 'elevation' },
  ];
  views.forEach(({ axis, name }, index) => {
    const domain = yDomains[index];
    const natural = perMm * (domain[1] - domain[0]);
    const height = Math.min(MOST_HEIGHT, Math.max(LEAST_HEIGHT, natural));
    const stretch = height / natural;
    const note =
      Math.abs(stretch - 1) < 0.02
        ? ', to one scale'
        : `, heights ${Number(stretch.toPrecision(2))} x the scale along the row`;
    parts.push(words(left, y + 4, `${name}${note}`, { size: 13, weight: 'bold' }));
    const area: PlotArea = { left, top: y + 14, width, height, x: xDomain, y: domain };
    areas.push(area);
    parts.push(view(plot, axis, area, xAxis, index === views.length - 1));
    y += 14 + height + (index === views.length - 1 ? 56 : 40);
  });
  const legend = flowLegend(MARGIN, y + 4, FIGURE_WIDTH - 2 * MARGIN, legendOf(plot));
  const height = Math.ceil(y + legend.height + 22);
  return {
    svg: svgDocument(FIGURE_WIDTH, height, [top.markup, ...parts, legend.markup]),
    width: FIGURE_WIDTH,
    height,
    areas,
  };
}

function legendOf({ series, track, ends, endsLabel }: PathPlot): LegendEntry[] {
  const entries: LegendEntry[] = series.map(({ label, style }) => ({
    label,
    sample: (x, y) => {
      const { colour, dash } = lineStyle(style);
      return group({}, [
        straightLine(x, y + 8, x + 30, y + 8, { colour, width: 2, dash }),
        element('circle', { cx: x + 15, cy: y + 8, r: 3.4, fill: colour }),
      ]);
    },
  }));
  if (track !== null)
    entries.push({
      label: track.label,
      sample: (x, y) => straightLine(x, y + 8, x + 30, y + 8, { colour: TRACK_COLOUR, width: 6 }),
    });
  if (ends !== null)
    entries.push({
      label: endsLabel,
      sample: (x, y) =>
        straightLine(x + 15, y, x + 15, y + 16, { colour: END_COLOUR, width: 1.6, dash: '6 3' }),
    });
  return entries;
}

function view(plot: PathPlot, axis: 1 | 2, area: PlotArea, xAxis: Axis, last: boolean): Markup {
  const yAxis = linearAxis(area.y, [area.top + area.height, area.top], 40);
  const clip = `path${axis}`;
  const point = (place: PathPlace): [number, number] => [xAxis.pixel(place[0]), yAxis.pixel(place[axis])];
  const taken: Box[] = [];
  const everyPoint = plot.series.flatMap(({ places }) => places.map(point));
  return group({}, [
    element(
      'clipPath',
      { id: clip },
      element('rect', { x: area.left, y: area.top, width: area.width, height: area.height }),
    ),
    gridLines(area, xAxis, yAxis),
    group({ 'clip-path': `url(#${clip})` }, [
      ...(plot.ends ?? []).map((x) =>
        straightLine(xAxis.pixel(x), area.top, xAxis.pixel(x), area.top + area.height, {
          colour: END_COLOUR,
          width: 1.6,
          dash: '6 3',
        }),
      ),
      ...(plot.track === null
        ? []
        : [
            element('path', {
              d: pathThrough(plot.track.places.map(point)),
              fill: 'none',
              stroke: TRACK_COLOUR,
              'stroke-width': 6,
              'stroke-linecap': 'round',
              'stroke-opacity': 0.6,
            }),
          ]),
      ...plot.series.map(({ places, style }) => {
        const { colour, dash } = lineStyle(style);
        return group({}, [
          element('path', {
            d: pathThrough(places.map(point)),
            fill: 'none',
            stroke: colour,
            'stroke-width': 1.8,
            'stroke-dasharray': dash === 'none' ? undefined : dash,
          }),
          ...places.map((place) => {
            const [cx, cy] = point(place);
            return element('circle', { cx, cy, r: 3.2, fill: colour, stroke: '#ffffff', 'stroke-width': 1 });
          }),
        ]);
      }),
    ]),
    ...plot.series.flatMap((series) => timeLabels(series, point, area, taken, everyPoint)),
    axesAround(area, xAxis, yAxis, {
      xLabel: last ? plot.xLabel : '',
      yLabel: axis === 1 ? plot.acrossLabel : plot.upLabel,
    }),
  ]);
}

interface Box {
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
}

function overlaps(a: Box, b: Box): boolean {
  return a.x < b.x + b.width && b.x < a.x + a.width && a.y < b.y + b.height && b.y < a.y + a.height;
}

/** Each label above or below its place, where it covers no other label and as few places as can be; left away where neither will do. */
function timeLabels(
  { places, times, style }: PathSeries,
  point: (place: PathPlace) => [number, number],
  area: PlotArea,
  taken: Box[],
  everyPoint: readonly (readonly [number, number])[],
): Markup[] {
  const size = 11;
  return places.flatMap((place, i) => {
    const text = times[i];
    if (text === undefined || text === '') return [];
    const [x, y] = point(place);
    const width = textWidth(text, size);
    for (const dy of [-8, 18]) {
      const box: Box = { x: x - width / 2 - 3, y: y + dy - 10, width: width + 6, height: 13 };
      const inside =
        box.x > area.left &&
        box.x + box.width < area.left + area.width &&
        box.y > area.top &&
        box.y + box.height < area.top + area.height;
      const covers = everyPoint.some(([px, py]) =>
        overlaps(box, { x: px - 2, y: py - 2, width: 4, height: 4 }),
      );
      if (!inside || covers || taken.some((other) => overlaps(box, other))) continue;
      taken.push(box);
      return [
        words(x, y + dy, text, {
          size,
          anchor: 'middle',
          halo: '#ffffff',
          fill: style < 0 ? FAINT_INK : INK,
        }),
      ];
    }
    return [];
  });
}

/** @returns the figure as a PNG file */
export function pathFigurePng(plot: PathPlot): Uint8Array {
  return renderFigure(drawPathFigure(plot));
}
