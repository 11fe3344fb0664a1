/** The path of a receiver in plan and in elevation, to one scale, with times marked and the dish drawn. */
import { colourAt, cssColour, FLUX_COLOURS, type LineStyle, lineStyle } from './colour-scale.js';
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
  /** Straight lines from place to place; false where the receiver runs on the track between them. */
  readonly joined: boolean;
  /** The track that was fitted to these places, as a wide pale line beneath; null: none. */
  readonly track: readonly PathPlace[] | null;
}

/** Places of one hour, from series to series. */
export interface HourLine {
  readonly label: string;
  readonly places: readonly PathPlace[];
}

/** What the mirrors of a dish cover, mm: least and most of each axis. */
export interface DishBox {
  readonly label: string;
  readonly along: readonly [number, number];
  readonly across: readonly [number, number];
  readonly up: readonly [number, number];
}

export interface PathPlot {
  readonly title: string;
  readonly subtitles: readonly string[];
  /** In their order; the colours go from the first to the last. */
  readonly series: readonly PathSeries[];
  readonly hourLines: readonly HourLine[];
  /** A track of all series: places in order. */
  readonly track: { readonly label: string; readonly places: readonly PathPlace[] } | null;
  /** What the wide pale lines of the series are; not read where no series has one. */
  readonly ownTracksLabel: string;
  /** Null where it is not known. */
  readonly dish: DishBox | null;
  readonly xLabel: string;
  readonly acrossLabel: string;
  readonly upLabel: string;
}

const FIGURE_WIDTH = 1060;
const LEAST_HEIGHT = 150;
const MOST_HEIGHT = 760;
const TRACK_COLOUR = '#9a9a9a';
const HOUR_COLOUR = '#8a8a8a';
const DISH_COLOUR = '#d9e6f0';
const END_COLOUR = '#b3261e';
const LABEL_SIZE = 11;

/** Range of the values with air about them. */
function padded(values: readonly number[], part: number): [number, number] {
  const [low, high] = [Math.min(...values), Math.max(...values)];
  const air = Math.max(part * (high - low), 10);
  return [low - air, high + air];
}

/** The same middle, another span. */
function widened([low, high]: readonly [number, number], span: number): [number, number] {
  const middle = (low + high) / 2;
  return [middle - span / 2, middle + span / 2];
}

function span([low, high]: readonly [number, number]): number {
  return high - low;
}

/** Few series differ as much as can be, many go from dark to bright in their order. */
function seriesStyle(index: number, count: number): LineStyle {
  const { colour, dash } = lineStyle(index);
  if (count < 3) return { colour, dash };
  return { colour: cssColour(colourAt(FLUX_COLOURS, 0.12 + (0.68 * index) / (count - 1))), dash };
}

/**
 * Plan above elevation; both have the same scale along and across.
 * @throws RangeError where there is no place
 */
export function drawPathFigure(plot: PathPlot): DrawnFigure {
  const { dish } = plot;
  const places = plot.series
    .flatMap((series) => [...series.places, ...(series.track ?? [])])
    .concat(plot.track?.places ?? []);
  if (places.length === 0) throw new RangeError('a path needs places');
  const top = heading(plot.title, plot.subtitles, FIGURE_WIDTH);
  const domainOf = (axis: 0 | 1 | 2, box: readonly [number, number] | undefined): [number, number] =>
    padded(places.map((place) => place[axis]).concat(box ?? []), 0.06);
  const xNeeded = domainOf(0, dish?.along);
  const needed = [domainOf(1, dish?.across), domainOf(2, dish?.up)] as const;
  const left =
    MARGIN +
    14 +
    Math.max(...needed.map((domain) => tickRoom(linearAxis(domain, [LEAST_HEIGHT, 0], 60)))) +
    40;
  const width = FIGURE_WIDTH - MARGIN - 12 - left;
  const perMm = Math.min(width / span(xNeeded), ...needed.map((domain) => MOST_HEIGHT / span(domain)));
  const xDomain = widened(xNeeded, width / perMm);
  const xAxis = linearAxis(xDomain, [left, left + width], 86);
  const parts: Markup[] = [];
  const areas: PlotArea[] = [];
  let y = top.bottom + 8;
  const views = [
    { axis: 1 as const, name: 'Plan, from above' },
    { axis: 2 as const, name: "Elevation, from the right of the row's heading" },
  ];
  views.forEach(({ axis, name }, index) => {
    const domain = widened(needed[index], Math.max(span(needed[index]), LEAST_HEIGHT / perMm));
    const height = perMm * span(domain);
    parts.push(words(left, y + 4, `${name} · to one scale, nothing stretched`, { size: 13, weight: 'bold' }));
    const area: PlotArea = { left, top: y + 14, width, height, x: xDomain, y: domain };
    areas.push(area);
    parts.push(view(plot, axis, area, xAxis));
    y += 14 + height + 64;
  });
  const legend = flowLegend(MARGIN, y, FIGURE_WIDTH - 2 * MARGIN, legendOf(plot));
  const height = Math.ceil(y + legend.height + 22);
  return {
    svg: svgDocument(FIGURE_WIDTH, height, [top.markup, ...parts, legend.markup]),
    width: FIGURE_WIDTH,
    height,
    areas,
  };
}

function legendOf({ series, hourLines, track, ownTracksLabel, dish }: PathPlot): LegendEntry[] {
  const entries: LegendEntry[] = series.map(({ label, joined }, index) => ({
    label,
    sample: (x, y) => {
      const { colour, dash } = seriesStyle(index, series.length);
      return group({}, [
        ...(joined ? [straightLine(x, y + 8, x + 30, y + 8, { colour, width: 2, dash })] : []),
        element('circle', { cx: x + 15, cy: y + 8, r: 3.4, fill: colour }),
      ]);
    },
  }));
  const wide = (label: string, colour: string): LegendEntry => ({
    label,
    sample: (x, y) =>
      element('rect', { x, y: y + 4.5, width: 30, height: 7, fill: colour, 'fill-opacity': 0.5 }),
  });
  if (series.some((one) => one.track !== null)) entries.push(wide(ownTracksLabel, TRACK_COLOUR));
  if (track !== null) entries.push(wide(track.label, TRACK_COLOUR));
  if (hourLines.length > 0)
    entries.push({
      label: 'the same hour on all days',
      sample: (x, y) => straightLine(x, y + 8, x + 30, y + 8, { colour: HOUR_COLOUR }),
    });
  if (dish !== null)
    entries.push(
      {
        label: dish.label,
        sample: (x, y) =>
          element('rect', { x, y: y + 1, width: 30, height: 14, fill: DISH_COLOUR, stroke: FAINT_INK }),
      },
      {
        label: 'ends of the dish: beyond them the receiver of the last dish overhangs the row',
        sample: (x, y) =>
          straightLine(x + 15, y, x + 15, y + 16, { colour: END_COLOUR, width: 1.6, dash: '6 3' }),
      },
    );
  return entries;
}

type Point = readonly [number, number];

function view(plot: PathPlot, axis: 1 | 2, area: PlotArea, xAxis: Axis): Markup {
  const yAxis = linearAxis(area.y, [area.top + area.height, area.top], 60);
  const clip = `path${axis}`;
  const point = (place: PathPlace): Point => [xAxis.pixel(place[0]), yAxis.pixel(place[axis])];
  const lines = plot.series.map(({ places }) => places.map(point));
  const hours = plot.hourLines.map(({ places }) => places.map(point));
  const labels = new Labels(area, lines, [...lines, ...hours]);
  return group({}, [
    element(
      'clipPath',
      { id: clip },
      element('rect', { x: area.left, y: area.top, width: area.width, height: area.height }),
    ),
    gridLines(area, xAxis, yAxis),
    group({ 'clip-path': `url(#${clip})` }, [
      ...(plot.dish === null ? [] : dishMarks(plot.dish, axis, area, xAxis, yAxis)),
      ...(plot.track === null ? [] : [wideLine(plot.track.places.map(point), TRACK_COLOUR, 0.5)]),
      ...plot.series.flatMap(({ track }, index) =>
        track === null ? [] : [wideLine(track.map(point), seriesStyle(index, plot.series.length).colour)],
      ),
      ...hours.map((line) =>
        element('path', { d: pathThrough(line), fill: 'none', stroke: HOUR_COLOUR, 'stroke-width': 1 }),
      ),
      ...lines.map((line, index) =>
        seriesMarks(line, plot.series[index].joined, seriesStyle(index, lines.length)),
      ),
    ]),
    // Hours first: a label of an hour line stands for many.
    ...plot.hourLines.flatMap(({ label }, i) =>
      [0, hours[i].length - 1].flatMap((end) => labels.place(hours[i], end, label, INK)),
    ),
    ...plot.series.flatMap(({ times }, index) =>
      times.flatMap((text, i) =>
        text === ''
          ? []
          : labels.place(
              lines[index],
              i,
              text,
              lines.length === 1 ? INK : seriesStyle(index, lines.length).colour,
            ),
      ),
    ),
    axesAround(area, xAxis, yAxis, {
      xLabel: plot.xLabel,
      yLabel: axis === 1 ? plot.acrossLabel : plot.upLabel,
    }),
  ]);
}

function wideLine(line: readonly Point[], colour: string, opacity = 0.28): Markup {
  return element('path', {
    d: pathThrough(line),
    fill: 'none',
    stroke: colour,
    'stroke-width': 7,
    'stroke-linecap': 'round',
    'stroke-opacity': opacity,
  });
}

function seriesMarks(line: readonly Point[], joined: boolean, { colour, dash }: LineStyle): Markup {
  const between = element('path', {
    d: pathThrough(line),
    fill: 'none',
    stroke: colour,
    'stroke-width': 1.8,
    'stroke-dasharray': dash === 'none' ? undefined : dash,
  });
  return group({}, [
    ...(joined ? [between] : []),
    ...line.map(([cx, cy]) =>
      element('circle', { cx, cy, r: 3.2, fill: colour, stroke: '#ffffff', 'stroke-width': 1 }),
    ),
  ]);
}

function dishMarks(dish: DishBox, axis: 1 | 2, area: PlotArea, xAxis: Axis, yAxis: Axis): Markup[] {
  const [low, high] = axis === 1 ? dish.across : dish.up;
  const [from, to] = dish.along.map(xAxis.pixel);
  return [
    element('rect', {
      x: from,
      y: yAxis.pixel(high),
      width: to - from,
      // A dish that lies flat is still to be seen from the side.
      height: Math.max(3, yAxis.pixel(low) - yAxis.pixel(high)),
      fill: DISH_COLOUR,
      'fill-opacity': 0.75,
      stroke: FAINT_INK,
    }),
    ...[from, to].map((x) =>
      straightLine(x, area.top, x, area.top + area.height, { colour: END_COLOUR, width: 1.6, dash: '6 3' }),
    ),
  ];
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

/** Directions in which a label may stand from its place: above, below, and round. */
const AROUND: readonly Point[] = [
  [0, -1],
  [0, 1],
  [1, 0],
  [-1, 0],
  [1, -1],
  [-1, -1],
  [1, 1],
  [-1, 1],
];
const LABEL_HEIGHT = 12;
const STEP_ON_LINE = 3;

/** Finds room for labels: never on another label or on a place, and on as little of the lines as can be. */
class Labels {
  readonly #area: PlotArea;
  readonly #taken: Box[] = [];
  readonly #places: readonly Point[];
  readonly #inked: readonly Point[];

  constructor(area: PlotArea, marked: readonly (readonly Point[])[], drawn: readonly (readonly Point[])[]) {
    this.#area = area;
    this.#places = marked.flat();
    this.#inked = drawn.flatMap(pointsAlong);
  }

  /** @returns the label beside a line's place; nothing where there is no room */
  place(line: readonly Point[], at: number, text: string, fill: string): Markup[] {
    const [x, y] = line[at];
    const width = textWidth(text, LABEL_SIZE) + 4;
    let best: { readonly box: Box; readonly cost: number } | null = null;
    for (const reach of [11, 20]) {
      for (const [order, [dx, dy]] of AROUND.entries()) {
        const [cx, cy] = [x + dx * (reach - 4 + width / 2), y + dy * (reach + 2)];
        const box = { x: cx - width / 2, y: cy - LABEL_HEIGHT / 2, width, height: LABEL_HEIGHT };
        if (!this.#isFree(box)) continue;
        const covered = this.#inked.filter((point) => holds(box, point)).length;
        const cost = covered + 0.2 * order + (reach > 11 ? 2 : 0);
        if (best === null || cost < best.cost) best = { box, cost };
      }
    }
    if (best === null) return [];
    this.#taken.push(best.box);
    const { box } = best;
    return [
      words(box.x + width / 2, box.y + LABEL_HEIGHT - 2, text, {
        size: LABEL_SIZE,
        anchor: 'middle',
        halo: '#ffffff',
        fill,
      }),
    ];
  }

  #isFree(box: Box): boolean {
    const { left, top, width, height } = this.#area;
    const inside =
      box.x > left + 2 &&
      box.x + box.width < left + width - 2 &&
      box.y > top + 2 &&
      box.y + box.height < top + height - 2;
    return (
      inside &&
      !this.#taken.some((other) => overlaps(box, other)) &&
      !this.#places.some(([px, py]) => overlaps(box, { x: px - 3, y: py - 3, width: 6, height: 6 }))
    );
  }
}

function holds({ x, y, width, height }: Box, [px, py]: Point): boolean {
  return px > x && px < x + width && py > y && py < y + height;
}

/** Points on a line, a few pixels apart. */
function pointsAlong(line: readonly Point[]): Point[] {
  return line.slice(1).flatMap(([x, y], i) => {
    const [fromX, fromY] = line[i];
    const count = Math.ceil(Math.hypot(x - fromX, y - fromY) / STEP_ON_LINE);
    return Array.from(
      { length: count },
      (_, k): Point => [fromX + ((x - fromX) * k) / count, fromY + ((y - fromY) * k) / count],
    );
  });
}

/** @returns the figure as a PNG file */
export function pathFigurePng(plot: PathPlot): Uint8Array {
  return renderFigure(drawPathFigure(plot));
}
