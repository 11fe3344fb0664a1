/** The pieces that all figures are drawn with: words, lines, axes, colour bars. */
import { scaleLinear, scaleSymlog } from 'd3-scale';
import { colourAt, cssColour, type Rgb } from './colour-scale.js';
import { FONT_FAMILY, type FontWeight, fitText, textWidth } from './font.js';
import { plainText } from './plain-text.js';
import { element, group, type Markup } from './svg.js';
import type { PlotArea } from './types.js';

export const INK = '#1a1a1a';
export const FAINT_INK = '#555555';
export const GRID = '#dddddd';
export const MARGIN = 28;

export interface TextStyle {
  readonly size?: number;
  readonly weight?: FontWeight;
  readonly anchor?: 'start' | 'middle' | 'end';
  readonly fill?: string;
  /** Turned a quarter to read upwards. */
  readonly upwards?: boolean;
  /** Pixels of room; longer text ends in an ellipsis. */
  readonly room?: number;
  /** Colour of an outline that keeps the text readable on a picture. */
  readonly halo?: string;
}

/** @returns the text with its middle line's baseline at (x, y) */
export function words(x: number, y: number, content: string, style: TextStyle = {}): Markup {
  const { size = 13, weight = 'regular', anchor = 'start', fill = INK, upwards = false, room, halo } = style;
  const plain = plainText(content);
  return element(
    'text',
    {
      x,
      y,
      fill,
      'font-family': FONT_FAMILY,
      'font-size': size,
      'font-weight': weight === 'bold' ? 'bold' : undefined,
      'text-anchor': anchor === 'start' ? undefined : anchor,
      transform: upwards ? `rotate(-90 ${x} ${y})` : undefined,
      stroke: halo,
      'stroke-width': halo === undefined ? undefined : 3.5,
      'stroke-linejoin': halo === undefined ? undefined : 'round',
      'paint-order': halo === undefined ? undefined : 'stroke',
      'xml:space': 'preserve',
    },
    room === undefined ? plain : fitText(plain, room, size, weight),
  );
}

export interface StrokeStyle {
  readonly colour: string;
  readonly width?: number;
  readonly dash?: string | undefined;
}

export function straightLine(x1: number, y1: number, x2: number, y2: number, style: StrokeStyle): Markup {
  return element('line', {
    x1,
    y1,
    x2,
    y2,
    stroke: style.colour,
    'stroke-width': style.width ?? 1,
    'stroke-dasharray': style.dash === 'none' ? undefined : style.dash,
  });
}

/** @returns an SVG path through the points; a NaN in either coordinate starts a new piece */
export function pathThrough(points: readonly (readonly [number, number])[]): string {
  let path = '';
  let pen = 'M';
  for (const [x, y] of points) {
    if (!Number.isFinite(x) || !Number.isFinite(y)) {
      pen = 'M';
      continue;
    }
    path += `${pen}${x.toFixed(2)} ${y.toFixed(2)}`;
    pen = 'L';
  }
  return path;
}

/** A linear scale from data to pixels with ticks at round numbers. */
export interface Axis {
  readonly pixel: (value: number) => number;
  readonly ticks: readonly { readonly value: number; readonly label: string }[];
}

/**
 * @param domain data values at the two ends
 * @param range pixels of the two ends
 * @param spacing pixels wanted between ticks
 */
export function linearAxis(
  domain: readonly [number, number],
  range: readonly [number, number],
  spacing: number,
): Axis {
  const scale = scaleLinear().domain(domain).range(range);
  const count = Math.max(2, Math.floor(Math.abs(range[1] - range[0]) / spacing));
  const format = scale.tickFormat(count);
  const ungrouped = (value: number): string => format(value).replace(/,/g, Math.abs(value) < 1e4 ? '' : ' ');
  return {
    pixel: (value) => scale(value),
    ticks: scale.ticks(count).map((value) => ({ value, label: ungrouped(value) })),
  };
}

/**
 * An axis by powers of ten on both sides of 0, for amounts that differ by orders of magnitude and may be below 0.
 * @param linear the scale is about linear up to this, above 0
 */
export function powerAxis(
  domain: readonly [number, number],
  range: readonly [number, number],
  linear: number,
): Axis {
  const scale = scaleSymlog().constant(linear).domain(domain).range(range);
  const powers: number[] = [];
  const most = Math.max(Math.abs(domain[0]), Math.abs(domain[1]));
  for (let power = 10 ** Math.ceil(Math.log10(linear)); power <= most; power *= 10) powers.push(power);
  const values = [...powers.map((power) => -power).reverse(), 0, ...powers].filter(
    (value) => value >= domain[0] && value <= domain[1],
  );
  return {
    pixel: (value) => scale(value),
    ticks: values.map((value) => ({ value, label: String(value).replace('-', '−') })),
  };
}

/** @returns an axis whose ticks stand at the given values */
export function axisAtValues(
  domain: readonly [number, number],
  range: readonly [number, number],
  values: readonly number[],
): Axis {
  const scale = scaleLinear().domain(domain).range(range);
  return {
    pixel: (value) => scale(value),
    ticks: values.map((value) => ({ value, label: String(Number(value.toPrecision(6))).replace('-', '−') })),
  };
}

/** @returns the domain widened to round numbers */
export function niceDomain(low: number, high: number, count = 6): [number, number] {
  if (low === high) {
    const room = low === 0 ? 1 : Math.abs(low) * 0.1;
    return [low - room, high + room];
  }
  const [first, last] = scaleLinear().domain([low, high]).nice(count).domain();
  return [first, last];
}

export interface AxesStyle {
  readonly xLabel: string;
  readonly yLabel: string;
  /** Lines across the plot at the ticks (drawn by `gridLines`, before the data). */
  readonly tickSize?: number;
}

/** @returns widest of the tick labels, pixels */
export function tickRoom(axis: Axis, size = 12): number {
  return Math.max(0, ...axis.ticks.map((tick) => textWidth(tick.label, size)));
}

export function gridLines(area: PlotArea, xAxis: Axis, yAxis: Axis): Markup {
  const right = area.left + area.width;
  const bottom = area.top + area.height;
  return group({}, [
    ...xAxis.ticks.map(({ value }) =>
      straightLine(xAxis.pixel(value), area.top, xAxis.pixel(value), bottom, { colour: GRID }),
    ),
    ...yAxis.ticks.map(({ value }) =>
      straightLine(area.left, yAxis.pixel(value), right, yAxis.pixel(value), { colour: GRID }),
    ),
  ]);
}

/** The frame, ticks and labels; the tick labels stand to the left of and below the area. */
export function axesAround(area: PlotArea, xAxis: Axis, yAxis: Axis, style: AxesStyle): Markup {
  const bottom = area.top + area.height;
  const yLabelX = area.left - 14 - tickRoom(yAxis) - 10;
  const yTicks = [...yAxis.ticks];
  const xTicks = spacedTicks(xAxis);
  return group({}, [
    element('rect', {
      x: area.left,
      y: area.top,
      width: area.width,
      height: area.height,
      fill: 'none',
      stroke: INK,
      'stroke-width': 1,
    }),
    ...xTicks.flatMap(({ value, label }) => {
      const x = xAxis.pixel(value);
      return [
        straightLine(x, bottom, x, bottom + 5, { colour: INK }),
        words(x, bottom + 19, label, { size: 12, anchor: 'middle' }),
      ];
    }),
    ...yTicks.flatMap(({ value, label }) => {
      const y = yAxis.pixel(value);
      return [
        straightLine(area.left - 5, y, area.left, y, { colour: INK }),
        words(area.left - 9, y + 4.2, label, { size: 12, anchor: 'end' }),
      ];
    }),
    words(area.left + area.width / 2, bottom + 40, style.xLabel, { anchor: 'middle', room: area.width + 60 }),
    ...yLabelLines(style.yLabel, area.height).map((line, i, all) =>
      words(yLabelX - 16 * (all.length - 1 - i), area.top + area.height / 2, line, {
        anchor: 'middle',
        upwards: true,
        room: area.height + 70,
      }),
    ),
  ]);
}

/** A label too long for a low plot stands in two lines, broken at its last comma. */
export function yLabelLines(label: string, height: number): string[] {
  const comma = label.lastIndexOf(', ');
  if (textWidth(plainText(label), 13) <= height || comma < 0) return [label];
  return [label.slice(0, comma + 1), label.slice(comma + 2)];
}

/** Leaves out labels that would touch the one before. */
function spacedTicks(axis: Axis): Axis['ticks'] {
  let last = Number.NEGATIVE_INFINITY;
  return axis.ticks.filter(({ value, label }) => {
    const half = textWidth(label, 12) / 2;
    const x = axis.pixel(value);
    if (x - half < last + 6) return false;
    last = x + half;
    return true;
  });
}

export interface ColourBar {
  readonly left: number;
  readonly top: number;
  readonly height: number;
  readonly domain: readonly [number, number];
  readonly colours: readonly Rgb[];
  readonly label: string;
}

export const COLOUR_BAR_WIDTH = 18;

/** @returns the bar with its ticks and label, and how many pixels it takes from `left` on */
export function colourBar(bar: ColourBar): { readonly markup: Markup; readonly room: number } {
  const { left, top, height, domain, colours, label } = bar;
  const axis = linearAxis(domain, [top + height, top], 48);
  const slices = colours.length;
  const sliceHeight = height / slices;
  const right = left + COLOUR_BAR_WIDTH;
  const ticksRoom = tickRoom(axis);
  const markup = group({}, [
    ...Array.from({ length: slices }, (_, i) =>
      element('rect', {
        x: left,
        y: top + height - (i + 1) * sliceHeight,
        width: COLOUR_BAR_WIDTH,
        // A little taller, so that no seam shows between slices.
        height: i === 0 ? sliceHeight : sliceHeight + 0.5,
        fill: cssColour(colourAt(colours, (i + 0.5) / slices)),
      }),
    ),
    element('rect', { x: left, y: top, width: COLOUR_BAR_WIDTH, height, fill: 'none', stroke: INK }),
    ...axis.ticks.flatMap(({ value, label: tick }) => {
      const y = axis.pixel(value);
      return [
        straightLine(right, y, right + 5, y, { colour: INK }),
        words(right + 9, y + 4.2, tick, { size: 12 }),
      ];
    }),
    words(right + 9 + ticksRoom + 20, top + height / 2, label, {
      anchor: 'middle',
      upwards: true,
      room: height + 60,
    }),
  ]);
  return { markup, room: COLOUR_BAR_WIDTH + 9 + ticksRoom + 28 };
}

export interface LegendEntry {
  /** Draws the sample in a box of 30 x 16 pixels with its upper left corner at (x, y). */
  readonly sample: (x: number, y: number) => Markup;
  readonly label: string;
}

const LEGEND_SAMPLE = 30;
const LEGEND_LINE = 23;

/** @returns the entries in as many lines as the room asks for, and the height they take */
export function flowLegend(
  left: number,
  top: number,
  room: number,
  entries: readonly LegendEntry[],
): { readonly markup: Markup; readonly height: number } {
  const parts: Markup[] = [];
  let x = left;
  let y = top;
  for (const { sample, label } of entries) {
    const labelRoom = Math.min(textWidth(plainText(label), 13), room - LEGEND_SAMPLE - 8);
    const width = LEGEND_SAMPLE + 8 + labelRoom;
    if (x > left && x + width > left + room) {
      x = left;
      y += LEGEND_LINE;
    }
    parts.push(sample(x, y), words(x + LEGEND_SAMPLE + 8, y + 12.5, label, { room: labelRoom + 1 }));
    x += width + 26;
  }
  return { markup: group({}, parts), height: entries.length === 0 ? 0 : y - top + LEGEND_LINE };
}

/** @returns title (bold), and the lines below it, all within `width`; and the y where the rest may begin */
export function heading(
  title: string,
  lines: readonly string[],
  width: number,
): { readonly markup: Markup; readonly bottom: number } {
  const room = width - 2 * MARGIN;
  const parts = [words(MARGIN, 42, title, { size: 20, weight: 'bold', room })];
  let y = 42;
  lines.forEach((line, i) => {
    y += i === 0 ? 24 : 20;
    parts.push(words(MARGIN, y, line, { size: 13, fill: i === 0 ? INK : FAINT_INK, room }));
  });
  return { markup: group({}, parts), bottom: y + 22 };
}

/** @returns a typographic minus for a hyphen before a digit, as the axes have it */
export function typeset(text: string): string {
  return text.replace(/(^|[\s(])-(?=\d)/g, '$1−');
}
