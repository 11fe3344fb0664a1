/** A share by hour and month: months from the top down, the number in each cell. */
import { colourAt, cssColour, FIELD_COLOURS, isLight } from './colour-scale.js';
import { type Axis, axesAround, colourBar, heading, MARGIN, niceDomain, words } from './drawing.js';
import { renderFigure } from './render-figure.js';
import { element, type Markup, svgDocument } from './svg.js';
import type { DrawnFigure, PlotArea } from './types.js';

export interface HourMap {
  readonly title: string;
  readonly subtitles: readonly string[];
  readonly xLabel: string;
  readonly hours: readonly number[];
  /** Names, the first drawn on top. */
  readonly rows: readonly string[];
  /** Entry [row][hour]; null where the sun is not up. */
  readonly value: readonly (readonly (number | null)[])[];
  readonly valueLabel: string;
}

const WIDTH = 960;
const ROW = 34;
const LEFT = 74;
const BAR_ROOM = 110;
const NIGHT = [236, 236, 236] as const;

/** @throws RangeError where lengths do not match or there is nothing to draw */
export function drawHourMap({ rows, hours, value, ...map }: HourMap): DrawnFigure {
  if (rows.length === 0 || hours.length === 0) throw new RangeError('there is nothing to draw');
  if (value.length !== rows.length || value.some((row) => row.length !== hours.length)) {
    throw new RangeError('there must be one value for each row and hour');
  }
  const top = heading(map.title, map.subtitles, WIDTH);
  const tall = ROW * rows.length;
  const area: PlotArea = {
    left: LEFT,
    top: top.bottom,
    width: WIDTH - LEFT - MARGIN - BAR_ROOM,
    height: tall,
    x: [0, hours.length],
    y: [rows.length, 0],
  };
  const step = area.width / hours.length;
  const known = value.flat().filter((one) => one !== null);
  const domain = niceDomain(0, Math.max(...known, 1e-3));
  const cells = value.flatMap((row, r) =>
    row.flatMap((one, h): Markup[] => {
      const colour = one === null ? NIGHT : colourAt(FIELD_COLOURS, one / domain[1]);
      const [x, y] = [area.left + h * step, area.top + r * ROW];
      const cell = element('rect', {
        x,
        y,
        width: step + 0.4,
        height: ROW + 0.4,
        fill: cssColour(colour),
      });
      if (one === null) return [cell];
      const ink = isLight(colour) ? '#000000' : '#ffffff';
      return [
        cell,
        words(x + step / 2, y + ROW / 2 + 4.2, one.toFixed(1), { size: 12, anchor: 'middle', fill: ink }),
      ];
    }),
  );
  const axis = (names: readonly string[], from: number, size: number): Axis => ({
    pixel: (at) => from + at * size,
    ticks: names.map((label, i) => ({ value: i + 0.5, label })),
  });
  const bar = colourBar({
    left: area.left + area.width + 22,
    top: area.top,
    height: tall,
    domain,
    colours: FIELD_COLOURS,
    label: map.valueLabel,
  });
  const height = area.top + tall + 66;
  const svg = svgDocument(WIDTH, height, [
    top.markup,
    ...cells,
    axesAround(area, axis(hours.map(String), area.left, step), axis(rows, area.top, ROW), {
      xLabel: map.xLabel,
      yLabel: '',
    }),
    bar.markup,
  ]);
  return { svg, width: WIDTH, height, areas: [area] };
}

/** @returns the figure as a PNG file */
export function hourMapPng(map: HourMap): Uint8Array {
  return renderFigure(drawHourMap(map));
}
