/** A flux map inside a figure: the picture of its cells, and the marks on it. Shared by single maps and comparisons. */

import { formatAperture, formatFigure, formatNumber } from '../result/number-format.js';
import type { ApertureSize, FluxGrid, ReceiverResult } from '../result/types.js';
import type { LegendEntry } from './drawing.js';
import { straightLine } from './drawing.js';
import { writeRawMap } from './heatmap.js';
import { element, group, type Markup } from './svg.js';
import type { PlotArea } from './types.js';

/** Shorter side of a map below which equal scales would leave nothing to see, pixels. */
const LEAST_SIDE = 130;
/** Shorter side of a stretched map, pixels. */
const STRETCHED_SIDE = 230;

export interface MapShape {
  readonly width: number;
  readonly height: number;
  /** How many times larger the scale of the shorter side is; 1: equal scales. */
  readonly stretch: number;
  /** The side that is stretched. */
  readonly stretched: 'u' | 'v' | null;
}

/**
 * Equal scales where both sides stay large enough to read; otherwise the short side is stretched by a whole number.
 * @param windowWidth size along u, any unit
 * @param windowHeight size along v, same unit
 * @param room the largest map, pixels
 */
export function mapShape(
  windowWidth: number,
  windowHeight: number,
  room: readonly [number, number],
): MapShape {
  const scale = Math.min(room[0] / windowWidth, room[1] / windowHeight);
  const width = windowWidth * scale;
  const height = windowHeight * scale;
  const short = Math.min(width, height);
  if (short >= LEAST_SIDE) return { width, height, stretch: 1, stretched: null };
  const wanted = Math.max(2, Math.round(STRETCHED_SIDE / short));
  // Two digits are enough to say it in words.
  const stretch = wanted < 100 ? wanted : Number(wanted.toPrecision(2));
  return width < height
    ? { width: width * stretch, height, stretch, stretched: 'u' }
    : { width, height: height * stretch, stretch, stretched: 'v' };
}

/** @returns axis labels in words, with the stretching stated */
export function mapLabels(
  kind: ReceiverResult['kind'],
  shape: MapShape,
): { readonly x: string; readonly y: string } {
  const across = kind === 'tube' ? 'around the tube / mm' : 'across row, v / mm';
  const along = kind === 'tube' ? 'along the tube, u / mm' : 'along row, u / mm';
  const note = `, stretched ${shape.stretch} x`;
  return {
    x: shape.stretched === 'u' ? `${along}${note}` : along,
    y: shape.stretched === 'v' ? `${across}${note}` : across,
  };
}

export function mapArea(grid: FluxGrid, shape: MapShape, left: number, top: number): PlotArea {
  return {
    left,
    top,
    width: shape.width,
    height: shape.height,
    x: [-500 * grid.width, 500 * grid.width],
    y: [-500 * grid.height, 500 * grid.height],
  };
}

/** @returns the cells as an embedded picture; every cell keeps its sharp edge, for it is one number */
export function mapPicture(grid: FluxGrid, area: PlotArea, scaleMax: number): Markup {
  const data = Buffer.from(writeRawMap(grid, scaleMax)).toString('base64');
  return element('image', {
    x: area.left,
    y: area.top,
    width: area.width,
    height: area.height,
    href: `data:image/png;base64,${data}`,
    preserveAspectRatio: 'none',
    'image-rendering': 'optimizeSpeed',
  });
}

const HALO = '#000000';
const APERTURE_COLOUR = '#ffffff';
const HALF_COLOUR = '#4fe3ff';
const NINE_TENTHS_COLOUR = '#7dff9a';
const CENTROID_COLOUR = '#ff9df5';
const PEAK_COLOUR = '#ffffff';

interface OutlineStyle {
  readonly colour: string;
  readonly dash?: string;
}
const APERTURE_STYLE: OutlineStyle = { colour: APERTURE_COLOUR };
const HALF_STYLE: OutlineStyle = { colour: HALF_COLOUR, dash: '9 4' };
const NINE_TENTHS_STYLE: OutlineStyle = { colour: NINE_TENTHS_COLOUR, dash: '3 3.5' };

/** Draws a shape twice: a dark halo first, so that it shows on dark and on light ground. */
function outlined(name: string, geometry: Record<string, number | string>, style: OutlineStyle): Markup {
  return group({ fill: 'none' }, [
    element(name, { ...geometry, stroke: HALO, 'stroke-width': 4.5, 'stroke-opacity': 0.55 }),
    element(name, { ...geometry, stroke: style.colour, 'stroke-width': 2, 'stroke-dasharray': style.dash }),
  ]);
}

function plus(x: number, y: number, reach: number, colour: string): Markup {
  const d = `M${x - reach} ${y}H${x + reach}M${x} ${y - reach}V${y + reach}`;
  return cross(d, colour);
}

function times(x: number, y: number, reach: number, colour: string): Markup {
  const d = `M${x - reach} ${y - reach}L${x + reach} ${y + reach}M${x - reach} ${y + reach}L${x + reach} ${y - reach}`;
  return cross(d, colour);
}

function cross(d: string, colour: string): Markup {
  return group({ fill: 'none', 'stroke-linecap': 'round' }, [
    element('path', { d, stroke: HALO, 'stroke-width': 5, 'stroke-opacity': 0.75 }),
    element('path', { d, stroke: colour, 'stroke-width': 2.2 }),
  ]);
}

function ellipse(
  area: PlotArea,
  centre: readonly [number, number],
  diameter: number,
  style: OutlineStyle,
): Markup {
  const [x, y] = toPixel(area, centre);
  const rx = ((diameter / 2) * area.width) / (area.x[1] - area.x[0]);
  const ry = ((diameter / 2) * area.height) / (area.y[1] - area.y[0]);
  return outlined('ellipse', { cx: x, cy: y, rx, ry }, style);
}

/** Two lines along u, a width apart. */
function band(area: PlotArea, centreV: number, width: number, style: OutlineStyle): Markup {
  const at = (v: number): number => toPixel(area, [0, v])[1];
  const line = (v: number): Markup =>
    outlined('line', { x1: area.left, x2: area.left + area.width, y1: at(v), y2: at(v) }, style);
  return group({}, [line(centreV - width / 2), line(centreV + width / 2)]);
}

/** @returns SVG pixels of a point given in mm of the receiver frame */
export function toPixel(area: PlotArea, [u, v]: readonly [number, number]): [number, number] {
  return [
    area.left + ((u - area.x[0]) / (area.x[1] - area.x[0])) * area.width,
    area.top + ((area.y[1] - v) / (area.y[1] - area.y[0])) * area.height,
  ];
}

/** The opening, drawn to show on dark and on light ground. */
export function apertureOutline(area: PlotArea, aperture: ApertureSize): Markup {
  switch (aperture.shape) {
    case 'round':
      return ellipse(area, [0, 0], aperture.diameter_mm, APERTURE_STYLE);
    case 'rectangle': {
      const [x, y] = toPixel(area, [-aperture.width_mm / 2, aperture.height_mm / 2]);
      const [right, bottom] = toPixel(area, [aperture.width_mm / 2, -aperture.height_mm / 2]);
      return outlined('rect', { x, y, width: right - x, height: bottom - y }, APERTURE_STYLE);
    }
    case 'tube': {
      // The whole way around counts; only the ends bound it.
      const ends = [-aperture.length_mm / 2, aperture.length_mm / 2];
      return group(
        {},
        ends.map((u) => {
          const [x] = toPixel(area, [u, 0]);
          return outlined('line', { x1: x, x2: x, y1: area.top, y2: area.top + area.height }, APERTURE_STYLE);
        }),
      );
    }
  }
}

/** @returns whether a spot figure is a size that can be drawn */
function drawable(receiver: ReceiverResult, key: 'holds_50' | 'holds_90'): boolean {
  const figure = receiver.spot[key];
  return receiver.kind !== 'tube' && figure.limit === undefined && figure.value > 0;
}

/** @returns all marks on the map, clipped to it */
export function mapMarks(area: PlotArea, receiver: ReceiverResult, clipName: string): Markup {
  const { spot } = receiver;
  const circle = (key: 'holds_50' | 'holds_90', style: OutlineStyle): Markup =>
    spot.measure === 'diameter'
      ? ellipse(area, spot.centre_mm, spot[key].value, style)
      : band(area, spot.centre_mm[1], spot[key].value, style);
  const parts: Markup[] = [apertureOutline(area, receiver.aperture)];
  if (drawable(receiver, 'holds_90')) parts.push(circle('holds_90', NINE_TENTHS_STYLE));
  if (drawable(receiver, 'holds_50')) parts.push(circle('holds_50', HALF_STYLE));
  // Around a tube the mean of a position has no meaning.
  if (receiver.kind !== 'tube') {
    const [x, y] = toPixel(area, [spot.centroid_u.value, spot.centroid_v.value]);
    parts.push(plus(x, y, 8, CENTROID_COLOUR));
  }
  const [peakX, peakY] = toPixel(area, receiver.peak_position_mm);
  parts.push(times(peakX, peakY, 6, PEAK_COLOUR));
  return group({}, [
    element(
      'clipPath',
      { id: clipName },
      element('rect', { x: area.left, y: area.top, width: area.width, height: area.height }),
    ),
    group({ 'clip-path': `url(#${clipName})` }, parts),
  ]);
}

function sampleOnDark(draw: (x: number, y: number) => Markup): LegendEntry['sample'] {
  return (x, y) =>
    group({}, [
      element('rect', { x, y, width: 30, height: 16, rx: 2, fill: '#2a1246' }),
      draw(x + 15, y + 8),
    ]);
}

const sampleLine = (style: OutlineStyle): LegendEntry['sample'] =>
  sampleOnDark((x, y) =>
    straightLine(x - 13, y, x + 13, y, { colour: style.colour, width: 2.2, dash: style.dash }),
  );

/** What the marks mean, with their numbers where `numbers` is set. */
export function markLegend(receiver: ReceiverResult, numbers: boolean): LegendEntry[] {
  const { spot } = receiver;
  const size = spot.measure === 'diameter' ? 'circle' : 'band';
  const entry = (sample: LegendEntry['sample'], name: string, value: string): LegendEntry => ({
    sample,
    label: numbers ? `${name}: ${value}` : name,
  });
  const entries: LegendEntry[] = [
    entry(
      sampleLine(APERTURE_STYLE),
      receiver.kind === 'tube' ? 'ends' : 'opening',
      formatAperture(receiver.aperture),
    ),
  ];
  if (drawable(receiver, 'holds_50')) {
    entries.push(
      entry(sampleLine(HALF_STYLE), `${size} with 50 % of the light`, formatFigure(spot.holds_50)),
    );
  }
  if (drawable(receiver, 'holds_90')) {
    entries.push(entry(sampleLine(NINE_TENTHS_STYLE), `${size} with 90 %`, formatFigure(spot.holds_90)));
  }
  if (receiver.kind !== 'tube') {
    const at = `u ${formatFigure(spot.centroid_u, { bare: true })}, v ${formatFigure(spot.centroid_v)}`;
    entries.push(
      entry(
        sampleOnDark((x, y) => plus(x, y, 6, CENTROID_COLOUR)),
        'centroid',
        at,
      ),
    );
  }
  entries.push(
    entry(
      sampleOnDark((x, y) => times(x, y, 5, PEAK_COLOUR)),
      'peak',
      `${formatFigure(receiver.peak_flux)}, mean over a disc of ${formatNumber(receiver.peak_disc_mm, 3)} mm`,
    ),
  );
  return entries;
}

/** @returns median standard error of the cells that hold light; null where none does */
export function medianNoise(grid: FluxGrid): number | null {
  const noise: number[] = [];
  grid.flux.forEach((flux, cell) => {
    if (flux > 0) noise.push(grid.stdErr[cell]);
  });
  if (noise.length === 0) return null;
  noise.sort((a, b) => a - b);
  const middle = noise.length >> 1;
  return noise.length % 2 === 1 ? noise[middle] : (noise[middle - 1] + noise[middle]) / 2;
}
