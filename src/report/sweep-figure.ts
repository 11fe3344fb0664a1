/** Sweeps: lines with 95 % bands for one quantity, a coloured field for two. */

import { formatNumber, formatToError } from '../result/number-format.js';
import { colourAt, cssColour, FIELD_COLOURS, isLight, lineStyle } from './colour-scale.js';
import {
  type Axis,
  axesAround,
  axisAtValues,
  colourBar,
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
  typeset,
  words,
} from './drawing.js';
import { textWidth } from './font.js';
import { renderFigure } from './render-figure.js';
import { element, group, type Markup, svgDocument } from './svg.js';
import type { DrawnFigure, PlotArea, SweepMap, SweepPlot } from './types.js';

const FIGURE_WIDTH = 920;
const PLOT_HEIGHT = 420;
const REQUIREMENT_COLOUR = '#b3261e';
const CROSSING_COLOUR = '#5e35b1';

/** @throws RangeError where lengths do not match or there is nothing to draw */
function checkPlot(plot: SweepPlot): void {
  if (plot.x.length === 0 || plot.series.length === 0) throw new RangeError('a sweep plot needs points');
  for (const series of plot.series) {
    if (series.value.length !== plot.x.length || series.halfWidth.length !== plot.x.length) {
      throw new RangeError(`series "${series.label}" must have one value and one half width for each x`);
    }
  }
}

function valueRange(plot: SweepPlot): [number, number] {
  const ends = plot.series
    .flatMap(({ value, halfWidth }) => value.flatMap((y, i) => [y - halfWidth[i], y + halfWidth[i]]))
    .filter((y) => Number.isFinite(y));
  if (plot.requirement) ends.push(plot.requirement.value);
  if (ends.length === 0) return [0, 1];
  const low = Math.min(...ends);
  const high = Math.max(...ends);
  // Zero belongs in the picture unless that would press the curve flat.
  const withZero = low > 0 && low < 0.5 * high ? 0 : low;
  return niceDomain(withZero, high);
}

/**
 * Draws values against one quantity: lines with 95 % bands and whiskers, the requirement with its failing side tinted, and the crossing
 * with its interval.
 * @throws RangeError where lengths do not match or there is nothing to draw
 */
export function drawSweepFigure(plot: SweepPlot): DrawnFigure {
  checkPlot(plot);
  const top = heading(plot.title, [plot.subtitle], FIGURE_WIDTH);
  const yDomain = valueRange(plot);
  const first = plot.x[0];
  const last = plot.x[plot.x.length - 1];
  const xDomain: [number, number] = first === last ? niceDomain(first, last) : [first, last];
  const left = MARGIN + 14 + tickRoom(linearAxis(yDomain, [PLOT_HEIGHT, 0], 46)) + 26;
  const area: PlotArea = {
    left,
    top: top.bottom,
    width: FIGURE_WIDTH - MARGIN - 12 - left,
    height: PLOT_HEIGHT,
    x: xDomain,
    y: yDomain,
  };
  // A little air, so that the first and last whiskers are whole.
  const air = 14;
  const xAxis = linearAxis(xDomain, [area.left + air, area.left + area.width - air], 80);
  const yAxis = linearAxis(yDomain, [area.top + area.height, area.top], 46);
  const legend = flowLegend(
    MARGIN,
    area.top + area.height + 58,
    FIGURE_WIDTH - 2 * MARGIN,
    plot.series.map(({ label }, i) => ({ label, sample: (x, y) => lineSample(x, y, i) })),
  );
  const notes = `points: values traced · bands and whiskers: 95 %`;
  const notesTop = area.top + area.height + 58 + legend.height + 14;
  const height = notesTop + 18;
  const svg = svgDocument(FIGURE_WIDTH, height, [
    top.markup,
    element(
      'clipPath',
      { id: 'plot' },
      element('rect', { x: area.left, y: area.top, width: area.width, height: area.height }),
    ),
    failingSide(plot, area, yAxis),
    gridLines(area, xAxis, yAxis),
    group({ 'clip-path': 'url(#plot)' }, [
      ...crossingMarks(plot, area, xAxis),
      ...plot.series.map((series, i) => seriesBand(plot, series, i, xAxis, yAxis)),
      ...plot.series.map((series, i) => seriesLine(plot, series, i, xAxis, yAxis)),
      ...requirementLine(plot, area, yAxis),
    ]),
    ...annotations(plot, area, xAxis, yAxis),
    axesAround(area, xAxis, yAxis, { xLabel: plot.xLabel, yLabel: plot.yLabel }),
    legend.markup,
    words(MARGIN, notesTop, notes, { size: 12, fill: FAINT_INK }),
  ]);
  return {
    svg,
    width: FIGURE_WIDTH,
    height,
    areas: [{ ...area, left: area.left + air, width: area.width - 2 * air }],
  };
}

/** @returns the figure as a PNG file */
export function sweepFigurePng(plot: SweepPlot): Uint8Array {
  return renderFigure(drawSweepFigure(plot));
}

function lineSample(x: number, y: number, index: number): Markup {
  const { colour, dash } = lineStyle(index);
  return group({}, [
    element('rect', { x, y, width: 30, height: 16, fill: colour, 'fill-opacity': 0.18 }),
    straightLine(x, y + 8, x + 30, y + 8, { colour, width: 2.2, dash }),
    element('circle', { cx: x + 15, cy: y + 8, r: 3, fill: colour }),
  ]);
}

function failingSide(plot: SweepPlot, area: PlotArea, yAxis: Axis): Markup {
  if (!plot.requirement) return group({}, []);
  const y = Math.min(area.top + area.height, Math.max(area.top, yAxis.pixel(plot.requirement.value)));
  const above = plot.requirement.relation === '<=';
  return element('rect', {
    x: area.left,
    y: above ? area.top : y,
    width: area.width,
    height: above ? y - area.top : area.top + area.height - y,
    fill: REQUIREMENT_COLOUR,
    'fill-opacity': 0.07,
  });
}

function requirementLine(plot: SweepPlot, area: PlotArea, yAxis: Axis): Markup[] {
  if (!plot.requirement) return [];
  const y = yAxis.pixel(plot.requirement.value);
  return [
    straightLine(area.left, y, area.left + area.width, y, {
      colour: REQUIREMENT_COLOUR,
      width: 1.8,
      dash: '8 4',
    }),
  ];
}

function crossingMarks(plot: SweepPlot, area: PlotArea, xAxis: Axis): Markup[] {
  if (!plot.crossing) return [];
  const bottom = area.top + area.height;
  const [low, high] = plot.crossing.interval.map((x) =>
    Number.isFinite(x)
      ? Math.min(area.left + area.width, Math.max(area.left, xAxis.pixel(x)))
      : x > 0
        ? area.left + area.width
        : area.left,
  );
  const x = xAxis.pixel(plot.crossing.value);
  return [
    element('rect', {
      x: low,
      y: area.top,
      width: Math.max(1, high - low),
      height: area.height,
      fill: CROSSING_COLOUR,
      'fill-opacity': 0.16,
    }),
    straightLine(x, area.top, x, bottom, { colour: CROSSING_COLOUR, width: 1.8 }),
  ];
}

function annotations(plot: SweepPlot, area: PlotArea, xAxis: Axis, yAxis: Axis): Markup[] {
  const parts: Markup[] = [];
  const crossingX = plot.crossing ? xAxis.pixel(plot.crossing.value) : undefined;
  const crossingOnRight = crossingX !== undefined && crossingX > area.left + area.width / 2;
  if (plot.requirement) {
    const lineY = yAxis.pixel(plot.requirement.value);
    // On the failing side, at the end that the crossing leaves free.
    const failsAbove = plot.requirement.relation === '<=';
    const above = failsAbove ? lineY - area.top > 22 : area.top + area.height - lineY < 22;
    parts.push(
      words(
        crossingOnRight || crossingX === undefined ? area.left + 10 : area.left + area.width - 10,
        above ? lineY - 8 : lineY + 18,
        plot.requirement.label,
        {
          fill: REQUIREMENT_COLOUR,
          halo: '#ffffff',
          anchor: crossingOnRight || crossingX === undefined ? 'start' : 'end',
          room: area.width - 40,
        },
      ),
    );
  }
  if (plot.crossing && crossingX !== undefined) {
    const { value, interval } = plot.crossing;
    const width = Math.abs(interval[1] - interval[0]);
    const digits = crossingDigits(value, width);
    const end = (x: number): string => (Number.isFinite(x) ? formatNumber(x, digits) : 'beyond');
    const lines = [
      `holds up to ${formatNumber(value, digits)}`,
      `95 %: ${end(interval[0])} to ${end(interval[1])}`,
    ];
    if (crossingIsLowerEnd(plot)) lines[0] = `holds from ${formatNumber(value, digits)}`;
    const room = Math.max(...lines.map((line) => textWidth(line, 13, 'bold')));
    const edge = interval.map((x) => (Number.isFinite(x) ? xAxis.pixel(x) : crossingX));
    const leftEdge = Math.min(crossingX, ...edge);
    const rightEdge = Math.max(crossingX, ...edge);
    const onLeft =
      leftEdge - 10 - room > area.left && (crossingOnRight || rightEdge + 10 + room > area.left + area.width);
    const x = onLeft ? leftEdge - 9 : rightEdge + 9;
    // Low or high, wherever the first series leaves more air beside the crossing.
    const y = freeHeight(plot, area, xAxis, yAxis, onLeft ? [x - room, x] : [x, x + room]);
    lines.forEach((line, i) => {
      parts.push(
        words(x, y + 18 * i, typeset(line), {
          fill: CROSSING_COLOUR,
          weight: i === 0 ? 'bold' : 'regular',
          anchor: onLeft ? 'end' : 'start',
          halo: '#ffffff',
        }),
      );
    });
  }
  return parts;
}

/** @returns digits so that the last one is about a tenth of the interval */
function crossingDigits(value: number, width: number): number {
  if (!(width > 0) || !Number.isFinite(width) || value === 0) return 4;
  return Math.min(8, Math.max(2, Math.ceil(Math.log10(Math.abs(value) / width)) + 2));
}

/** Whether the requirement holds above the crossing rather than below it. */
function crossingIsLowerEnd(plot: SweepPlot): boolean {
  const { requirement, series, x } = plot;
  if (!requirement) return false;
  const holds = (y: number): boolean =>
    requirement.relation === '<=' ? y <= requirement.value : y >= requirement.value;
  const values = series[0].value;
  return !holds(values[0]) && holds(values[x.length - 1]);
}

function freeHeight(
  plot: SweepPlot,
  area: PlotArea,
  xAxis: Axis,
  yAxis: Axis,
  [from, to]: readonly [number, number],
): number {
  const taken: number[] = [];
  const samples = 24;
  for (const series of plot.series) {
    for (let s = 0; s <= samples; s++) {
      const pixel = from + ((to - from) * s) / samples;
      for (let i = 1; i < plot.x.length; i++) {
        const left = xAxis.pixel(plot.x[i - 1]);
        const right = xAxis.pixel(plot.x[i]);
        if (pixel < left || pixel > right || right === left) continue;
        const share = (pixel - left) / (right - left);
        const y = yAxis.pixel(series.value[i - 1] + share * (series.value[i] - series.value[i - 1]));
        if (Number.isFinite(y)) taken.push(y);
      }
    }
  }
  if (plot.requirement) {
    const y = yAxis.pixel(plot.requirement.value);
    // The requirement's own label needs room on both sides of its line.
    taken.push(y - 14, y, y + 14);
  }
  const candidates = Array.from({ length: 12 }, (_, i) => area.top + 24 + (i * (area.height - 66)) / 11);
  const clearance = (y: number): number => Math.min(200, ...taken.map((other) => Math.abs(other - (y + 6))));
  return candidates.reduce((best, y) => (clearance(y) > clearance(best) + 1 ? y : best));
}

function seriesBand(
  plot: SweepPlot,
  series: SweepPlot['series'][number],
  index: number,
  xAxis: Axis,
  yAxis: Axis,
): Markup {
  // Gaps cut the band into pieces.
  const pieces: [number, number, number][][] = [[]];
  plot.x.forEach((x, i) => {
    const y = series.value[i];
    const half = Number.isFinite(series.halfWidth[i]) ? series.halfWidth[i] : 0;
    if (Number.isFinite(y))
      pieces[pieces.length - 1].push([xAxis.pixel(x), yAxis.pixel(y + half), yAxis.pixel(y - half)]);
    else pieces.push([]);
  });
  const colour = lineStyle(index).colour;
  return group(
    {},
    pieces
      .filter((piece) => piece.length > 1)
      .map((piece) => {
        const upper = piece.map(([x, high]): [number, number] => [x, high]);
        const lower = piece.map(([x, , low]): [number, number] => [x, low]).reverse();
        return element('path', {
          d: `${pathThrough([...upper, ...lower])}Z`,
          fill: colour,
          'fill-opacity': 0.18,
        });
      }),
  );
}

function seriesLine(
  plot: SweepPlot,
  series: SweepPlot['series'][number],
  index: number,
  xAxis: Axis,
  yAxis: Axis,
): Markup {
  const { colour, dash } = lineStyle(index);
  const points = plot.x.map((x, i): [number, number] => [xAxis.pixel(x), yAxis.pixel(series.value[i])]);
  return group({}, [
    element('path', {
      d: pathThrough(points),
      fill: 'none',
      stroke: colour,
      'stroke-width': 2,
      'stroke-dasharray': dash === 'none' ? undefined : dash,
    }),
    ...points.flatMap(([x, y], i) => {
      if (!Number.isFinite(y)) return [];
      const half = Number.isFinite(series.halfWidth[i]) ? series.halfWidth[i] : 0;
      const high = yAxis.pixel(series.value[i] + half);
      const low = yAxis.pixel(series.value[i] - half);
      const whisker = `M${x} ${high}V${low}M${x - 4} ${high}H${x + 4}M${x - 4} ${low}H${x + 4}`;
      return [
        // A whisker inside its own point would only be a smudge.
        ...(low - high > 7
          ? [element('path', { d: whisker, stroke: colour, 'stroke-width': 1.3, fill: 'none' })]
          : []),
        element('circle', { cx: x, cy: y, r: 3.4, fill: colour, stroke: '#ffffff', 'stroke-width': 1 }),
      ];
    }),
  ]);
}

/** @returns edges between neighbouring values, and half a step beyond the ends */
function cellEdges(values: readonly number[]): number[] {
  if (values.length === 1) return [values[0] - 0.5, values[0] + 0.5];
  const inner = values.slice(1).map((value, i) => (value + values[i]) / 2);
  const last = values.length - 1;
  return [values[0] - (inner[0] - values[0]), ...inner, values[last] + (values[last] - inner[last - 1])];
}

/** Most rows or columns whose values all stand at the axis. */
const MOST_NAMED_CELLS = 13;

/**
 * Draws values over two quantities: a coloured cell for each pair, with its number where there is room, contours otherwise, and a line
 * where the requirement is just met.
 * @throws RangeError where lengths do not match or there is nothing to draw
 */
export function drawSweepMapFigure(map: SweepMap): DrawnFigure {
  if (map.x.length === 0 || map.y.length === 0) throw new RangeError('a sweep map needs points');
  if (map.value.length !== map.y.length || map.value.some((row) => row.length !== map.x.length)) {
    throw new RangeError('a sweep map needs one value for each pair of x and y');
  }
  const top = heading(map.title, [map.subtitle], FIGURE_WIDTH);
  const xEdges = cellEdges(map.x);
  const yEdges = cellEdges(map.y);
  const xDomain: [number, number] = [xEdges[0], xEdges[xEdges.length - 1]];
  const yDomain: [number, number] = [yEdges[0], yEdges[yEdges.length - 1]];
  const finite = map.value.flat().filter((value) => Number.isFinite(value));
  const valueDomain =
    finite.length === 0 ? ([0, 1] as [number, number]) : niceDomain(Math.min(...finite), Math.max(...finite));
  const axisFor = (
    domain: [number, number],
    range: [number, number],
    values: readonly number[],
    spacing: number,
  ): Axis =>
    values.length <= MOST_NAMED_CELLS
      ? axisAtValues(domain, range, values)
      : linearAxis(domain, range, spacing);
  const left = MARGIN + 14 + tickRoom(axisFor(yDomain, [PLOT_HEIGHT, 0], map.y, 46)) + 26;
  const area: PlotArea = {
    left,
    top: top.bottom,
    width: FIGURE_WIDTH - MARGIN - 110 - left,
    height: PLOT_HEIGHT,
    x: xDomain,
    y: yDomain,
  };
  const xAxis = axisFor(xDomain, [area.left, area.left + area.width], map.x, 80);
  const yAxis = axisFor(yDomain, [area.top + area.height, area.top], map.y, 46);
  const share = (value: number): number => (value - valueDomain[0]) / (valueDomain[1] - valueDomain[0]);
  const cells: Markup[] = [];
  const labels: Markup[] = [];
  const labelSize = 12;
  const texts = map.value.map((row, iy) =>
    row.map((value, ix) =>
      Number.isFinite(value)
        ? typeset(formatToError(value, map.halfWidth?.[iy][ix] ?? Number.NaN, CELL_DIGITS))
        : 'none',
    ),
  );
  const widest = Math.max(...texts.flat().map((text) => textWidth(text, labelSize)));
  const narrowest = Math.min(...map.x.map((_, ix) => xAxis.pixel(xEdges[ix + 1]) - xAxis.pixel(xEdges[ix])));
  const lowest = Math.min(...map.y.map((_, iy) => yAxis.pixel(yEdges[iy]) - yAxis.pixel(yEdges[iy + 1])));
  const labelled = narrowest >= widest + 6 && lowest >= labelSize + 5;
  map.y.forEach((_, iy) => {
    map.x.forEach((__, ix) => {
      const value = map.value[iy][ix];
      const x = xAxis.pixel(xEdges[ix]);
      const y = yAxis.pixel(yEdges[iy + 1]);
      const width = xAxis.pixel(xEdges[ix + 1]) - x;
      const height = yAxis.pixel(yEdges[iy]) - y;
      const colour = Number.isFinite(value)
        ? colourAt(FIELD_COLOURS, share(value))
        : ([224, 224, 224] as const);
      cells.push(
        element('rect', { x, y, width: width + 0.4, height: height + 0.4, fill: cssColour(colour) }),
      );
      if (!labelled) return;
      labels.push(
        words(x + width / 2, y + height / 2 + 4.2, texts[iy][ix], {
          size: labelSize,
          anchor: 'middle',
          fill: isLight(colour) ? '#000000' : '#ffffff',
          halo: cssColour(colour),
        }),
      );
    });
  });
  const bar = colourBar({
    left: area.left + area.width + 22,
    top: area.top,
    height: area.height,
    domain: valueDomain,
    colours: FIELD_COLOURS,
    label: map.valueLabel,
  });
  const levels = labelled
    ? []
    : linearAxis(valueDomain, [0, area.height], 60).ticks.filter(
        ({ value }) => value > Math.min(...finite) && value < Math.max(...finite),
      );
  const contours = levels.map(({ value }) => contourLine(map, value, xAxis, yAxis, '#ffffff', 1.2, '0.9'));
  const requirement = map.requirement;
  const legend = flowLegend(MARGIN, area.top + area.height + 58, FIGURE_WIDTH - 2 * MARGIN, [
    ...(requirement
      ? [{ label: requirement.label, sample: (x: number, y: number) => requirementSample(x, y) }]
      : []),
    ...(labelled
      ? []
      : [
          {
            label: `contours at ${levels.map(({ label }) => label).join(', ')}`,
            sample: (x: number, y: number) =>
              group({}, [
                element('rect', {
                  x,
                  y,
                  width: 30,
                  height: 16,
                  fill: cssColour(colourAt(FIELD_COLOURS, 0.3)),
                }),
                straightLine(x, y + 8, x + 30, y + 8, { colour: '#ffffff', width: 1.4 }),
              ]),
          },
        ]),
  ]);
  const height = area.top + area.height + 58 + legend.height + 8;
  const svg = svgDocument(FIGURE_WIDTH, height, [
    top.markup,
    ...cells,
    ...contours,
    ...(requirement
      ? [
          contourLine(map, requirement.value, xAxis, yAxis, '#000000', 5, '0.6'),
          contourLine(map, requirement.value, xAxis, yAxis, '#ff5a4f', 2.6, '1'),
        ]
      : []),
    ...labels,
    axesAround(area, xAxis, yAxis, { xLabel: map.xLabel, yLabel: map.yLabel }),
    bar.markup,
    legend.markup,
  ]);
  return { svg, width: FIGURE_WIDTH, height, areas: [area] };
}

/** @returns the figure as a PNG file */
export function sweepMapFigurePng(map: SweepMap): Uint8Array {
  return renderFigure(drawSweepMapFigure(map));
}

/** Of the numbers in the cells: zeros are kept, so that neighbours read alike; fewer where the error is larger. */
const CELL_DIGITS = 3;

function requirementSample(x: number, y: number): Markup {
  return group({}, [
    straightLine(x, y + 8, x + 30, y + 8, { colour: '#000000', width: 5 }),
    straightLine(x, y + 8, x + 30, y + 8, { colour: '#ff5a4f', width: 2.6 }),
  ]);
}

/**
 * The line on which the field, linear between cell centres, has a value. Each square of four centres is cut into two triangles along
 * its diagonal, so that no square is ambiguous.
 */
function contourLine(
  map: SweepMap,
  level: number,
  xAxis: Axis,
  yAxis: Axis,
  colour: string,
  width: number,
  opacity: string,
): Markup {
  let path = '';
  const corner = (ix: number, iy: number): [number, number, number] => [
    xAxis.pixel(map.x[ix]),
    yAxis.pixel(map.y[iy]),
    map.value[iy][ix],
  ];
  const cut = (triangle: readonly (readonly [number, number, number])[]): void => {
    if (triangle.some(([, , value]) => !Number.isFinite(value))) return;
    const ends: string[] = [];
    for (let i = 0; i < 3; i++) {
      const [x1, y1, from] = triangle[i];
      const [x2, y2, to] = triangle[(i + 1) % 3];
      if (from < level === to < level) continue;
      const share = (level - from) / (to - from);
      ends.push(`${(x1 + share * (x2 - x1)).toFixed(2)} ${(y1 + share * (y2 - y1)).toFixed(2)}`);
    }
    if (ends.length === 2) path += `M${ends[0]}L${ends[1]}`;
  };
  for (let iy = 0; iy + 1 < map.y.length; iy++) {
    for (let ix = 0; ix + 1 < map.x.length; ix++) {
      cut([corner(ix, iy), corner(ix + 1, iy), corner(ix, iy + 1)]);
      cut([corner(ix + 1, iy), corner(ix + 1, iy + 1), corner(ix, iy + 1)]);
    }
  }
  return element('path', {
    d: path === '' ? 'M0 0' : path,
    fill: 'none',
    stroke: colour,
    'stroke-width': width,
    'stroke-opacity': opacity,
    'stroke-linecap': 'round',
  });
}
