/** Two to four scenes side by side on one colour scale. */

import { formatFigure, formatNumber } from '../result/number-format.js';
import { FLUX_COLOURS } from './colour-scale.js';
import {
  axesAround,
  colourBar,
  FAINT_INK,
  flowLegend,
  heading,
  linearAxis,
  MARGIN,
  typeset,
  words,
} from './drawing.js';
import {
  type MapShape,
  mapArea,
  mapLabels,
  mapMarks,
  mapPicture,
  mapShape,
  markLegend,
} from './flux-marks.js';
import { textWidth } from './font.js';
import { highestFlux } from './heatmap.js';
import { plainText } from './plain-text.js';
import { renderFigure } from './render-figure.js';
import { group, type Markup, svgDocument } from './svg.js';
import type { CompareFigureInput, ComparePanel, DrawnFigure, PlotArea } from './types.js';

const FEWEST_PANELS = 2;
const MOST_PANELS = 4;
/** Width of a panel with its axis, pixels. */
const PANEL_WIDTH = 380;
const PANEL_GAP = 16;
const MAP_HEIGHT = 310;
/** Windows that differ by more than this are not drawn to one scale: the smaller would shrink to a dot. */
const MOST_SIZE_RATIO = 3;

/** One mm scale for all maps where all then stay readable. */
function panelShapes(
  panels: readonly ComparePanel[],
  mapWidth: number,
): { shapes: MapShape[]; common: boolean } {
  const own = panels.map(({ grid }) => mapShape(grid.width, grid.height, [mapWidth, MAP_HEIGHT]));
  const widths = panels.map(({ grid }) => grid.width);
  const heights = panels.map(({ grid }) => grid.height);
  const ratio = (sizes: readonly number[]): number => Math.max(...sizes) / Math.min(...sizes);
  const common =
    own.every(({ stretched }) => stretched === null) &&
    ratio(widths) <= MOST_SIZE_RATIO &&
    ratio(heights) <= MOST_SIZE_RATIO;
  if (!common) return { shapes: own, common };
  const scale = Math.min(mapWidth / Math.max(...widths), MAP_HEIGHT / Math.max(...heights));
  return {
    shapes: panels.map(({ grid }) => ({
      width: grid.width * scale,
      height: grid.height * scale,
      stretch: 1,
      stretched: null,
    })),
    common,
  };
}

/**
 * Draws the maps on one colour scale (0 to the highest cell of all), to one mm scale where that stays readable, and the key
 * figures with their errors under each.
 * @throws RangeError unless there are two to four panels
 */
export function drawCompareFigure(input: CompareFigureInput): DrawnFigure {
  const { panels } = input;
  if (panels.length < FEWEST_PANELS || panels.length > MOST_PANELS) {
    throw new RangeError(
      `a comparison figure takes ${FEWEST_PANELS} to ${MOST_PANELS} scenes, not ${panels.length}`,
    );
  }
  const width = 2 * MARGIN + panels.length * PANEL_WIDTH + (panels.length - 1) * PANEL_GAP + 110;
  const axisRoom = 84;
  const { shapes, common } = panelShapes(panels, PANEL_WIDTH - axisRoom);
  const top = heading(input.title, [input.subtitle, scaleNote(common)], width);
  const scaleMax = highestFlux(panels.map(({ grid }) => grid));
  const mapTop = top.bottom + 46;
  const tallest = Math.max(...shapes.map(({ height }) => height));
  const areas: PlotArea[] = [];
  const parts: Markup[] = [];
  panels.forEach((panel, i) => {
    const panelLeft = MARGIN + i * (PANEL_WIDTH + PANEL_GAP);
    const left = panelLeft + axisRoom;
    // Maps stand on one line at the bottom, under their titles.
    const area = mapArea(panel.grid, shapes[i], left, mapTop + tallest - shapes[i].height);
    areas.push(area);
    const xAxis = linearAxis(area.x, [area.left, area.left + area.width], 62);
    const yAxis = linearAxis(area.y, [area.top + area.height, area.top], 42);
    const labels = mapLabels(panel.receiver.kind, shapes[i]);
    parts.push(
      words(panelLeft, top.bottom + 10, panel.title, { size: 15, weight: 'bold', room: PANEL_WIDTH }),
      words(panelLeft, top.bottom + 29, receiverLine(panel, scaleMax), {
        fill: FAINT_INK,
        room: PANEL_WIDTH,
      }),
      mapPicture(panel.grid, area, scaleMax),
      mapMarks(area, panel.receiver, `map-${i}`),
      axesAround(area, xAxis, yAxis, { xLabel: labels.x, yLabel: labels.y }),
      keyFigures(panel, panelLeft, mapTop + tallest + 74),
    );
  });
  const bar = colourBar({
    left: width - MARGIN - 92,
    top: mapTop,
    height: tallest,
    domain: [0, scaleMax > 0 ? scaleMax : 1],
    colours: FLUX_COLOURS,
    label: 'flux / (kW/m²)',
  });
  // The marks mean the same on every map; the panel with the most of them explains all.
  const legends = panels.map(({ receiver }) => markLegend(receiver, false));
  const entries = new Map(legends.flat().map((entry) => [entry.label, entry]));
  const legendTop = mapTop + tallest + 74 + KEY_ROWS * KEY_LINE + 10;
  const legend = flowLegend(MARGIN, legendTop, width - 2 * MARGIN, [...entries.values()]);
  const height = Math.ceil(legendTop + legend.height + 10);
  const svg = svgDocument(width, height, [top.markup, ...parts, bar.markup, legend.markup]);
  return { svg, width, height, areas };
}

/** Below this share of the colour scale a map is too dark to read, and its line says why. */
const DARK_SHARE = 0.1;

function receiverLine({ receiver, grid }: ComparePanel, scaleMax: number): string {
  const share = scaleMax > 0 ? highestFlux([grid]) / scaleMax : 1;
  const dark =
    share < DARK_SHARE ? ` · dark here: at most ${formatNumber(100 * share, 2)} % of the scale` : '';
  return `receiver ${receiver.name}${dark}`;
}

function scaleNote(common: boolean): string {
  const scales = common ? 'all maps to one scale in mm' : 'scales in mm differ from map to map';
  return `one colour scale · ${scales} · ± is the 95 % half width`;
}

const KEY_ROWS = 6;
const KEY_LINE = 20;

function keyFigures({ receiver }: ComparePanel, left: number, top: number): Markup {
  const percent = { percent: true };
  const rows: readonly (readonly [string, string])[] = [
    ['peak flux', formatFigure(receiver.peak_flux)],
    ['mean flux', formatFigure(receiver.mean_flux)],
    ['power', formatFigure(receiver.intercepted_power)],
    ['intercept', formatFigure(receiver.intercept_factor, percent)],
    ['spill', formatFigure(receiver.spill_fraction, percent)],
    ['for 5 % spill', formatFigure(receiver.opening_for_5_percent_spill_mm)],
  ];
  const column = Math.max(...rows.map(([name]) => textWidth(plainText(name), 13))) + 14;
  return group(
    {},
    rows.flatMap(([name, value], i) => [
      words(left, top + KEY_LINE * i, name, { fill: FAINT_INK }),
      words(left + column, top + KEY_LINE * i, typeset(value), { room: PANEL_WIDTH - column }),
    ]),
  );
}

/** @returns the figure as a PNG file */
export function compareFigurePng(input: CompareFigureInput): Uint8Array {
  return renderFigure(drawCompareFigure(input));
}
