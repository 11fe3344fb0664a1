/** The flux map for people: one figure for each receiver. */

import { formatFigure, formatNumber, formatSamples } from '../result/number-format.js';
import type { FluxGrid, ReceiverResult } from '../result/types.js';
import { FLUX_COLOURS } from './colour-scale.js';
import {
  axesAround,
  colourBar,
  FAINT_INK,
  flowLegend,
  heading,
  linearAxis,
  MARGIN,
  tickRoom,
  typeset,
  words,
  yLabelLines,
} from './drawing.js';
import {
  mapArea,
  mapLabels,
  mapMarks,
  mapPicture,
  mapShape,
  markLegend,
  medianNoise,
  toPixel,
} from './flux-marks.js';
import { fitText, textWidth, wrapText } from './font.js';
import { highestFlux } from './heatmap.js';
import { plainText } from './plain-text.js';
import { renderFigure } from './render-figure.js';
import { element, group, type Markup, svgDocument } from './svg.js';
import type { DrawnFigure, PlotArea, RunStamp } from './types.js';

const FIGURE_WIDTH = 900;
const MAP_ROOM: readonly [number, number] = [620, 560];
/** What axis, colour bar and margins take of the width. */
const BESIDE_MAP = 236;

export interface FluxFigureOptions {
  /** Of the whole figure, pixels; narrower ones stand inside a page. */
  readonly width?: number;
  /** Head the figure by the receiver only, where a page says all the rest. */
  readonly bare?: boolean;
  /** kW/m2 at the top of the colour scale, for pictures meant to be compared; the map's own highest cell otherwise. */
  readonly scaleMax?: number;
}

const KIND_NAMES: Readonly<Record<ReceiverResult['kind'], string>> = {
  plate: 'flat plate, seen from its front',
  cavity: 'cavity opening, seen from its front',
  line_plate: 'line plate, seen from its front',
  tube: 'tube, unrolled, its upper half above 0',
};

/** @returns seed, rays and scene in one line; a long seed is shortened so that the rest stays */
export function stampLine(stamp: RunStamp): string {
  const seed = fitText(plainText(stamp.seed), 260, 13);
  return `seed ${seed} · ${formatSamples(stamp.rays, stamp.points === true)} · scene ${stamp.sceneHash.slice(0, 8)} · ± is the 95 % half width`;
}

/**
 * Draws the figure: map in mm with equal scales where that can be read (otherwise the axis says how far it is stretched), colour bar
 * from 0, opening, 50 % and 90 % marks, centroid, peak, key figures with errors, and the ray noise.
 */
export function drawFluxFigure(
  receiver: ReceiverResult,
  grid: FluxGrid,
  stamp: RunStamp,
  options: FluxFigureOptions = {},
): DrawnFigure {
  const figureWidth = options.width ?? FIGURE_WIDTH;
  const room: readonly [number, number] = [Math.min(MAP_ROOM[0], figureWidth - BESIDE_MAP), MAP_ROOM[1]];
  const top =
    options.bare === true
      ? heading(`receiver ${receiver.name}`, [KIND_NAMES[receiver.kind]], figureWidth)
      : heading(
          stamp.title,
          [`receiver ${receiver.name} · ${KIND_NAMES[receiver.kind]}`, stampLine(stamp)],
          figureWidth,
        );
  const scaleMax = options.scaleMax ?? highestFlux([grid]);
  const shape = mapShape(grid.width, grid.height, room);
  const labels = mapLabels(receiver.kind, shape);
  const atOrigin = mapArea(grid, shape, 0, 0);
  const tickSpacing = shape.height < 260 ? 38 : 56;
  const yRoom =
    14 +
    tickRoom(linearAxis(atOrigin.y, [shape.height, 0], tickSpacing)) +
    24 +
    16 * (yLabelLines(labels.y, shape.height).length - 1);
  // Map and colour bar stand together in the middle; a narrow map leaves room on both sides.
  const barRoom = 24 + 90;
  const left = Math.max(
    MARGIN + yRoom,
    MARGIN + yRoom + (figureWidth - 2 * MARGIN - yRoom - shape.width - barRoom) / 2,
  );
  const area = mapArea(grid, shape, left, top.bottom);
  const xAxis = linearAxis(area.x, [area.left, area.left + area.width], 80);
  const yAxis = linearAxis(area.y, [area.top + area.height, area.top], tickSpacing);
  const bar = colourBar({
    left: area.left + area.width + 24,
    top: area.top,
    height: area.height,
    domain: [0, scaleMax > 0 ? scaleMax : 1],
    colours: FLUX_COLOURS,
    label: 'flux / (kW/m²)',
  });
  const legendTop = area.top + area.height + 60;
  const legend = flowLegend(
    MARGIN,
    legendTop,
    figureWidth - 2 * MARGIN,
    markLegend(receiver, true).map((entry) => ({ ...entry, label: typeset(entry.label) })),
  );
  const notes = noteLines(receiver, grid, stamp).flatMap((line) =>
    wrapText(typeset(line), figureWidth - 2 * MARGIN, 13, 'regular', ' · '),
  );
  const notesTop = legendTop + legend.height + 14;
  const height = notesTop + 20 * notes.length + 14;
  const svg = svgDocument(figureWidth, Math.ceil(height), [
    top.markup,
    mapPicture(grid, area, scaleMax),
    mapMarks(area, receiver, 'map'),
    peakLabel(area, grid, receiver),
    axesAround(area, xAxis, yAxis, { xLabel: labels.x, yLabel: labels.y }),
    bar.markup,
    legend.markup,
    ...notes.map((line, i) => words(MARGIN, notesTop + 20 * i, line, { size: 13, fill: FAINT_INK })),
  ]);
  return { svg, width: figureWidth, height: Math.ceil(height), areas: [area] };
}

/** @returns the figure as a PNG file */
export function fluxFigurePng(
  receiver: ReceiverResult,
  grid: FluxGrid,
  stamp: RunStamp,
  options: FluxFigureOptions = {},
): Uint8Array {
  return renderFigure(drawFluxFigure(receiver, grid, stamp, options));
}

function noteLines(receiver: ReceiverResult, grid: FluxGrid, stamp: RunStamp): string[] {
  const percent = { percent: true };
  const lines = [
    [
      `mean over the ${receiver.kind === 'tube' ? 'tube' : 'opening'} ${formatFigure(receiver.mean_flux)}`,
      `power ${formatFigure(receiver.intercepted_power)}`,
      `concentration ${formatFigure(receiver.concentration_ratio)}`,
    ].join(' · '),
    [
      `intercept ${formatFigure(receiver.intercept_factor, percent)}`,
      `spill ${formatFigure(receiver.spill_fraction, percent)}`,
      `blocked ${formatFigure(receiver.blocked_fraction, percent)}`,
    ].join(' · '),
  ];
  if (receiver.kind === 'tube') {
    lines.push(
      `seen across the axis, 50 % of the light within ${formatFigure(receiver.spot.holds_50)} · ` +
        `90 % within ${formatFigure(receiver.spot.holds_90)}`,
    );
  }
  const noise = medianNoise(grid);
  lines.push(
    noise === null
      ? `no light reached this map with ${formatSamples(stamp.rays, stamp.points === true)}`
      : `${stamp.points === true ? 'noise' : 'ray noise'}: median standard error of a lit cell ${formatNumber(noise, 2)} kW/m² · ` +
          `${formatSamples(stamp.rays, stamp.points === true)} · ` +
          `averaging disc of the peak ${formatNumber(receiver.peak_disc_mm, 3)} mm`,
  );
  return lines;
}

/** The peak's value in the darkest corner of the map, with a line to its mark, so that it hides nothing. */
function peakLabel(area: PlotArea, grid: FluxGrid, receiver: ReceiverResult): Markup {
  const size = 14;
  const label = fitText(typeset(`peak ${formatFigure(receiver.peak_flux)}`), area.width - 40, size, 'bold');
  const width = textWidth(label, size, 'bold') + 16;
  const height = 26;
  const inset = 10;
  const rightX = area.left + area.width - inset - width;
  const bottomY = area.top + area.height - inset - height;
  const corners: readonly (readonly [number, number])[] = [
    [rightX, area.top + inset],
    [area.left + inset, area.top + inset],
    [rightX, bottomY],
    [area.left + inset, bottomY],
  ];
  const [peakX, peakY] = toPixel(area, receiver.peak_position_mm);
  const brightness = corners.map(([x, y]) => {
    const coversPeak = peakX > x - 14 && peakX < x + width + 14 && peakY > y - 14 && peakY < y + height + 14;
    return coversPeak ? Number.POSITIVE_INFINITY : fluxBelow(area, grid, x, y, width, height);
  });
  const least = Math.min(...brightness);
  const negligible = 0.01 * highestFlux([grid]);
  const [x, y] = corners[brightness.findIndex((value) => value <= least + negligible)] ?? corners[0];
  // From the box's nearest point to just short of the mark.
  const fromX = Math.min(Math.max(peakX, x), x + width);
  const fromY = Math.min(Math.max(peakY, y), y + height);
  const distance = Math.hypot(peakX - fromX, peakY - fromY);
  const short = distance > 14 ? (distance - 11) / distance : 0;
  const toX = fromX + (peakX - fromX) * short;
  const toY = fromY + (peakY - fromY) * short;
  const leader = `M${fromX.toFixed(2)} ${fromY.toFixed(2)}L${toX.toFixed(2)} ${toY.toFixed(2)}`;
  return group({}, [
    element('path', { d: leader, stroke: '#000000', 'stroke-width': 3, 'stroke-opacity': 0.5 }),
    element('path', { d: leader, stroke: '#ffffff', 'stroke-width': 1.2 }),
    element('rect', {
      x,
      y,
      width,
      height,
      rx: 3,
      fill: '#000000',
      'fill-opacity': 0.85,
      stroke: '#ffffff',
      'stroke-width': 1,
    }),
    words(x + 8, y + 18, label, { size, weight: 'bold', fill: '#ffffff' }),
  ]);
}

/** @returns mean flux of the cells below a box of the figure */
function fluxBelow(
  area: PlotArea,
  grid: FluxGrid,
  x: number,
  y: number,
  width: number,
  height: number,
): number {
  const column = (pixel: number): number =>
    Math.min(grid.nu - 1, Math.max(0, Math.floor(((pixel - area.left) / area.width) * grid.nu)));
  const row = (pixel: number): number =>
    grid.nv -
    1 -
    Math.min(grid.nv - 1, Math.max(0, Math.floor(((pixel - area.top) / area.height) * grid.nv)));
  let sum = 0;
  let cells = 0;
  for (let iv = row(y + height); iv <= row(y); iv++) {
    for (let iu = column(x); iu <= column(x + width); iu++) {
      sum += grid.flux[iv * grid.nu + iu];
      cells += 1;
    }
  }
  return sum / cells;
}
