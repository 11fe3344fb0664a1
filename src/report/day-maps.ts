/** The flux maps of a day on one sheet and one colour scale. */
import type { FluxGrid, ReceiverResult } from '../result/types.js';
import { FLUX_COLOURS } from './colour-scale.js';
import {
  colourBar,
  FAINT_INK,
  heading,
  INK,
  linearAxis,
  MARGIN,
  straightLine,
  typeset,
  words,
} from './drawing.js';
import { apertureOutline, mapArea, mapPicture, mapShape } from './flux-marks.js';
import { highestFlux } from './heatmap.js';
import { renderFigure } from './render-figure.js';
import { element, group, type Markup, svgDocument } from './svg.js';
import type { DrawnFigure, PlotArea } from './types.js';

export interface DayMap {
  /** What the clock shows. */
  readonly clock: string;
  /** Peak and spill, with their words. */
  readonly lines: readonly string[];
  readonly receiver: ReceiverResult;
  readonly grid: FluxGrid;
}

export interface DayMapsInput {
  readonly title: string;
  readonly subtitles: readonly string[];
  readonly maps: readonly DayMap[];
  /** Axis labels: along and across. */
  readonly xLabel: string;
  readonly yLabel: string;
}

const FIGURE_WIDTH = 1180;
const BAR_ROOM = 104;
const PANEL_GAP = 16;
const CAPTION = 66;
const LEAST_COLUMNS = 3;
const MOST_COLUMNS = 6;

function columnsFor(count: number): number {
  return Math.min(MOST_COLUMNS, Math.max(Math.min(count, LEAST_COLUMNS), Math.ceil(Math.sqrt(1.2 * count))));
}

/** @throws RangeError for no maps */
export function drawDayMaps(input: DayMapsInput): DrawnFigure {
  const { maps } = input;
  if (maps.length === 0) throw new RangeError('a sheet of maps needs maps');
  const scaleMax = highestFlux(maps.map(({ grid }) => grid));
  const top = heading(input.title, input.subtitles, FIGURE_WIDTH);
  const columns = columnsFor(maps.length);
  const left = MARGIN + 58;
  const room = FIGURE_WIDTH - left - MARGIN - BAR_ROOM;
  const width = Math.min(300, (room - (columns - 1) * PANEL_GAP) / columns);
  const [{ grid: first }] = maps;
  const shape = mapShape(first.width, first.height, [width, width]);
  const rows = Math.ceil(maps.length / columns);
  const pitchX = shape.width + PANEL_GAP;
  const pitchY = shape.height + CAPTION + PANEL_GAP;
  const areas: PlotArea[] = maps.map(({ grid }, i) =>
    mapArea(
      grid,
      shape,
      left + (i % columns) * pitchX,
      top.bottom + Math.floor(i / columns) * pitchY + CAPTION - 8,
    ),
  );
  const panels = maps.map((map, i) => {
    const onFoot = i + columns >= maps.length;
    return panel(map, areas[i], scaleMax, `map${i}`, { left: i % columns === 0, foot: onFoot });
  });
  const bottom = top.bottom + rows * pitchY - PANEL_GAP;
  const sheetRight = left + Math.min(columns, maps.length) * pitchX - PANEL_GAP;
  const barHeight = Math.min(460, bottom - top.bottom - CAPTION + 8);
  const bar = colourBar({
    left: sheetRight + 26,
    top: top.bottom + CAPTION - 8,
    height: Math.max(120, barHeight),
    domain: [0, scaleMax > 0 ? scaleMax : 1],
    colours: FLUX_COLOURS,
    label: 'flux / (kW/m²)',
  });
  const stretched = shape.stretched === null ? '' : `, stretched ${shape.stretch} x`;
  const xLabel = shape.stretched === 'u' ? `${input.xLabel}${stretched}` : input.xLabel;
  const yLabel = shape.stretched === 'v' ? `${input.yLabel}${stretched}` : input.yLabel;
  const height = Math.ceil(Math.max(bottom, top.bottom + CAPTION + Math.max(120, barHeight)) + 72);
  const svg = svgDocument(FIGURE_WIDTH, height, [
    top.markup,
    ...panels,
    bar.markup,
    words((left + sheetRight) / 2, bottom + 38, xLabel, { anchor: 'middle' }),
    words(MARGIN + 8, (top.bottom + bottom) / 2, yLabel, { anchor: 'middle', upwards: true }),
    element('rect', { x: left, y: bottom + 48, width: 30, height: 14, rx: 2, fill: '#2a1246' }),
    straightLine(left + 4, bottom + 55, left + 26, bottom + 55, { colour: '#ffffff', width: 2 }),
    words(left + 38, bottom + 59, 'opening · all maps share one colour scale', { size: 12, fill: FAINT_INK }),
  ]);
  return { svg, width: FIGURE_WIDTH, height, areas };
}

function panel(
  { clock, lines, grid, receiver }: DayMap,
  area: PlotArea,
  scaleMax: number,
  clip: string,
  axes: { readonly left: boolean; readonly foot: boolean },
): Markup {
  const bottom = area.top + area.height;
  const across = [area.left, area.left + area.width] as const;
  const roomy = linearAxis(area.x, across, 60);
  // A single tick, at 0, would tell no width.
  const xAxis = roomy.ticks.length > 1 ? roomy : linearAxis(area.x, across, 45);
  const yAxis = linearAxis(area.y, [bottom, area.top], 44);
  return group({}, [
    words(area.left, area.top - 37, clock, { size: 14, weight: 'bold' }),
    ...lines.map((line, i) =>
      words(area.left, area.top - 21 + 14 * i, typeset(line), {
        size: 11,
        room: area.width,
        fill: FAINT_INK,
      }),
    ),
    element(
      'clipPath',
      { id: clip },
      element('rect', { x: area.left, y: area.top, width: area.width, height: area.height }),
    ),
    mapPicture(grid, area, scaleMax),
    group({ 'clip-path': `url(#${clip})` }, [apertureOutline(area, receiver.aperture)]),
    element('rect', {
      x: area.left,
      y: area.top,
      width: area.width,
      height: area.height,
      fill: 'none',
      stroke: INK,
    }),
    ...(axes.foot
      ? xAxis.ticks.flatMap(({ value, label }) => [
          straightLine(xAxis.pixel(value), bottom, xAxis.pixel(value), bottom + 4, { colour: INK }),
          words(xAxis.pixel(value), bottom + 16, label, { size: 10.5, anchor: 'middle' }),
        ])
      : []),
    ...(axes.left
      ? yAxis.ticks.flatMap(({ value, label }) => [
          straightLine(area.left - 4, yAxis.pixel(value), area.left, yAxis.pixel(value), { colour: INK }),
          words(area.left - 7, yAxis.pixel(value) + 4, label, { size: 11, anchor: 'end' }),
        ])
      : []),
  ]);
}

/** @returns the sheet as a PNG file */
export function dayMapsPng(input: DayMapsInput): Uint8Array {
  return renderFigure(drawDayMaps(input));
}
