import { PNG } from 'pngjs';
import { describe, expect, it } from 'vitest';
import { colourAt, FLUX_COLOURS, lineStyle } from '../../src/report/colour-scale.js';
import { compareFigurePng, drawCompareFigure } from '../../src/report/compare-figure.js';
import { curveFigurePng, drawCurveFigure, interceptAt } from '../../src/report/curve-figure.js';
import { drawFluxFigure, fluxFigurePng } from '../../src/report/flux-figure.js';
import { mapShape } from '../../src/report/flux-marks.js';
import { fitText, textWidth } from '../../src/report/font.js';
import { highestFlux, writeRawMap } from '../../src/report/heatmap.js';
import { FIGURE_SCALE, renderFigure } from '../../src/report/render-figure.js';
import { drawSweepFigure, drawSweepMapFigure } from '../../src/report/sweep-figure.js';
import type { DrawnFigure, PlotArea } from '../../src/report/types.js';
import type { FluxGrid } from '../../src/result/types.js';
import {
  CAVITY,
  cavityGrid,
  HOSTILE_NAME,
  LINE_PLATE,
  linePlateGrid,
  receiverOf,
  TUBE,
  totalOf,
  tubeGrid,
} from '../support/synthetic-result.js';

const STAMP = { title: 'One dish', seed: 'test', rays: 2 ** 20, sceneHash: '0123456789abcdef' };

/** A map with a single lit cell. */
function singleCell(nu: number, nv: number, iu: number, iv: number): FluxGrid {
  const flux = new Float64Array(nu * nv);
  flux[iv * nu + iu] = 50;
  const stdErr = flux.map((value) => value / 100);
  return {
    receiver: 'r',
    kind: 'cavity',
    aperture: CAVITY.aperture,
    nu,
    nv,
    width: 0.36,
    height: 0.36,
    flux,
    stdErr,
  };
}

function pixel(picture: PNG, x: number, y: number): [number, number, number] {
  const at = 4 * (Math.round(y) * picture.width + Math.round(x));
  return [picture.data[at], picture.data[at + 1], picture.data[at + 2]];
}

function toPng(area: PlotArea, u: number, v: number): [number, number] {
  const x = area.left + ((u - area.x[0]) / (area.x[1] - area.x[0])) * area.width;
  const y = area.top + ((area.y[1] - v) / (area.y[1] - area.y[0])) * area.height;
  return [x * FIGURE_SCALE, y * FIGURE_SCALE];
}

/** Renders and reads the size from the PNG's header only: decoding takes longer than drawing. */
function render(figure: DrawnFigure): Buffer {
  const bytes = Buffer.from(renderFigure(figure));
  expect([bytes.readUInt32BE(16), bytes.readUInt32BE(20)]).toEqual([
    figure.width * FIGURE_SCALE,
    figure.height * FIGURE_SCALE,
  ]);
  return bytes;
}

function decode(figure: DrawnFigure): PNG {
  return PNG.sync.read(render(figure));
}

describe('raw map', () => {
  it.each([
    ['low u, low v', 0, 0, 0, 2],
    ['high u, low v', 3, 0, 3, 2],
    ['low u, high v', 0, 2, 0, 0],
    ['high u, high v', 3, 2, 3, 0],
  ])('puts the cell at %s in its corner', (_, iu, iv, x, y) => {
    const picture = PNG.sync.read(Buffer.from(writeRawMap(singleCell(4, 3, iu, iv))));
    expect([picture.width, picture.height]).toEqual([4, 3]);
    const lit: number[][] = [];
    for (let row = 0; row < 3; row++) {
      for (let column = 0; column < 4; column++) {
        if (pixel(picture, column, row)[0] > 100) lit.push([column, row]);
      }
    }
    expect(lit).toEqual([[x, y]]);
  });

  it('is black at 0, and shares a scale when told to', () => {
    const grid = singleCell(4, 3, 1, 1);
    const alone = PNG.sync.read(Buffer.from(writeRawMap(grid)));
    expect(pixel(alone, 0, 0)).toEqual(colourAt(FLUX_COLOURS, 0));
    expect(pixel(alone, 1, 1)).toEqual(colourAt(FLUX_COLOURS, 1));
    const shared = PNG.sync.read(Buffer.from(writeRawMap(grid, 100)));
    expect(pixel(shared, 1, 1)).toEqual(colourAt(FLUX_COLOURS, 0.5));
    expect(highestFlux([grid, cavityGrid()])).toBeGreaterThan(50);
  });

  it('draws a map without light', () => {
    const dark = { ...cavityGrid(), flux: new Float64Array(3600), stdErr: new Float64Array(3600) };
    const picture = PNG.sync.read(Buffer.from(writeRawMap(dark)));
    expect(pixel(picture, 30, 30)).toEqual(colourAt(FLUX_COLOURS, 0));
    render(drawFluxFigure(receiverOf(CAVITY), dark, STAMP));
  });
});

describe('flux figure', () => {
  /** Share of points of a circle where the picture is white. */
  function whiteAlongCircle(picture: PNG, area: PlotArea, radius: number): number {
    let white = 0;
    for (let i = 0; i < 360; i++) {
      const turn = (i * Math.PI) / 180;
      const [x, y] = toPng(area, radius * Math.cos(turn), radius * Math.sin(turn));
      if (Math.min(...pixel(picture, x, y)) > 200) white += 1;
    }
    return white / 360;
  }

  // A spot in the corner leaves the opening's outline alone on black.
  const corner = { peak: 60, centre: [140, 140], sigma: [8, 8] } as const;
  const figure = drawFluxFigure(receiverOf({ ...CAVITY, spot: corner }), cavityGrid('r', corner), STAMP);

  it('draws the opening where it belongs', () => {
    const picture = decode(figure);
    expect(whiteAlongCircle(picture, figure.areas[0], 90)).toBeGreaterThan(0.98);
    // The same check must fail for an opening 3 mm off.
    expect(whiteAlongCircle(picture, figure.areas[0], 93)).toBeLessThan(0.1);
    expect(whiteAlongCircle(picture, figure.areas[0], 87)).toBeLessThan(0.1);
  });

  it('puts high u to the right and high v up', () => {
    const picture = decode(figure);
    const warmth = (u: number, v: number): number => pixel(picture, ...toPng(figure.areas[0], u, v))[0];
    // Beside the marks, inside the spot.
    expect(warmth(135, 147)).toBeGreaterThan(60);
    for (const [u, v] of [
      [-135, 147],
      [135, -147],
      [-135, -147],
    ]) {
      expect(warmth(u, v)).toBeLessThan(30);
    }
  });

  it('has equal scales in mm for a square window', () => {
    expect(figure.areas[0].width).toBeCloseTo(figure.areas[0].height, 9);
  });

  it('stretches a line and a tube by a stated whole number', () => {
    const line = drawFluxFigure(receiverOf(LINE_PLATE), linePlateGrid(), STAMP);
    const area = line.areas[0];
    const stretch = area.height / 400 / (area.width / 10400);
    expect(stretch).toBeCloseTo(Math.round(stretch), 9);
    expect(line.svg).toContain(`stretched ${Math.round(stretch)} x`);
    expect(area.height).toBeGreaterThan(130);
    const tube = drawFluxFigure(receiverOf(TUBE), tubeGrid(), STAMP);
    expect(tube.svg).toContain('around the tube / mm');
    expect(tube.svg).not.toContain('centroid');
    render(line);
    render(tube);
  });

  it('draws circles for a point receiver and lines across for a line', () => {
    expect(drawFluxFigure(receiverOf(CAVITY), cavityGrid(), STAMP).svg.match(/<ellipse/g)?.length).toBe(6);
    expect(drawFluxFigure(receiverOf(LINE_PLATE), linePlateGrid(), STAMP).svg).not.toContain('<ellipse');
  });

  it('states the noise, the seed and the scene', () => {
    const { svg } = figure;
    expect(svg).toContain('ray noise: median standard error of a lit cell');
    expect(svg).toContain('seed test · 1 048 576 rays · scene 01234567');
  });

  it('carries a hostile name as text, cut to the sheet', () => {
    const hostile = drawFluxFigure(receiverOf({ ...CAVITY, name: HOSTILE_NAME }), cavityGrid(), {
      ...STAMP,
      title: HOSTILE_NAME.repeat(20),
      seed: HOSTILE_NAME.repeat(9),
    });
    expect(hostile.svg).not.toContain('<script');
    expect(hostile.svg).toContain('&lt;script&gt;alert(&quot;&amp;&quot;)');
    expect(hostile.svg).toContain('…');
    expect(/\p{Cc}/u.test(hostile.svg)).toBe(false);
    const picture = decode(hostile);
    // A clean right margin: nothing runs out of the sheet.
    let stained = 0;
    for (let y = 0; y < picture.height; y++) {
      for (let x = picture.width - 20; x < picture.width; x++) {
        if (picture.data[4 * (y * picture.width + x)] !== 255) stained += 1;
      }
    }
    expect(stained).toBe(0);
  });

  it('draws spots that are only bounds without their circle', () => {
    const receiver = receiverOf(CAVITY);
    const wide = { ...receiver.spot.holds_90, value: 360, limit: 'lower' } as const;
    const { svg } = drawFluxFigure(
      { ...receiver, spot: { ...receiver.spot, holds_90: wide } },
      cavityGrid(),
      STAMP,
    );
    expect(svg.match(/<ellipse/g)?.length).toBe(4);
  });

  it('gives the same bytes twice', () => {
    const once = fluxFigurePng(receiverOf(CAVITY), cavityGrid(), STAMP);
    expect(
      Buffer.from(once).equals(Buffer.from(fluxFigurePng(receiverOf(CAVITY), cavityGrid(), STAMP))),
    ).toBe(true);
  });
});

describe('mapShape', () => {
  it.each([
    [0.36, 0.36, 1, null],
    [10.4, 0.4, 10, 'v'],
    [0.4, 10.4, 11, 'u'],
    [1000, 0.1, 3700, 'v'],
  ])('%d by %d is stretched %d times', (width, height, stretch, side) => {
    const shape = mapShape(width, height, [620, 560]);
    expect([shape.stretch, shape.stretched]).toEqual([stretch, side]);
    expect(Math.min(shape.width, shape.height)).toBeGreaterThanOrEqual(130);
    expect(shape.width).toBeLessThanOrEqual(620.001);
    expect(shape.height).toBeLessThanOrEqual(560.001);
  });
});

describe('text in figures', () => {
  it('measures as the renderer draws', () => {
    for (const text of ['peak 60.76 ± 0.89 kW/m²', 'across row, v / mm', 'WWWW iiii … µm']) {
      const width = Math.ceil(textWidth(text, 40));
      const figure = {
        svg: `<svg xmlns="http://www.w3.org/2000/svg" width="${width + 80}" height="80"><rect width="100%" height="100%" fill="#fff"/><text x="40" y="55" font-family="DejaVu Sans" font-size="40">${text}</text></svg>`,
        width: width + 80,
        height: 80,
        areas: [],
      };
      const picture = decode(figure);
      let right = 0;
      for (let y = 0; y < picture.height; y++) {
        for (let x = 0; x < picture.width; x++) {
          if (picture.data[4 * (y * picture.width + x)] < 128) right = Math.max(right, x);
        }
      }
      // Side bearings and kerning, at a size of 40: the drawn text may be shorter by a little, never longer.
      const excess = right / FIGURE_SCALE - (40 + width);
      expect(excess).toBeLessThan(0.5);
      expect(excess).toBeGreaterThan(-8);
    }
  });

  it('shortens to the room', () => {
    expect(fitText('short', 100, 12)).toBe('short');
    const cut = fitText('a rather long line of text', 80, 12);
    expect(cut.endsWith('…')).toBe(true);
    expect(textWidth(cut, 12)).toBeLessThanOrEqual(80);
  });
});

describe('curve figure', () => {
  const receiversOf = (count: number) =>
    Array.from({ length: count }, (_, i) => receiverOf({ ...CAVITY, name: `A1-${i + 1}` }));

  it.each([1, 8, 12, 13, 60])('draws %d receivers', (count) => {
    const figure = drawCurveFigure(receiversOf(count), STAMP);
    render(figure);
    expect(figure.svg.includes('lowest to highest')).toBe(count > 12);
    expect(figure.svg).toContain('opening as built: 180 mm');
    expect(figure.svg).toContain('diameter of the opening / mm');
  });

  it('reads a curve between its points', () => {
    const points = [
      { scale: 0, size_mm: 0, intercept: 0, std_err: 0 },
      { scale: 1, size_mm: 100, intercept: 0.9, std_err: 0.01 },
    ];
    expect(interceptAt(points, 50)).toEqual({ value: 0.45, stdErr: 0.005 });
    expect(interceptAt(points, 101).value).toBeNaN();
  });

  it('names the size of a line by what it is', () => {
    expect(drawCurveFigure([receiverOf(LINE_PLATE)], STAMP).svg).toContain(
      'width of the opening across the row / mm',
    );
    expect(drawCurveFigure([receiverOf(TUBE)], STAMP).svg).toContain('diameter of the tube / mm');
  });

  it('survives a receiver that no light reached', () => {
    const receiver = receiverOf(CAVITY);
    const dark = {
      ...receiver,
      intercept_curve: [],
      opening_for_5_percent_spill_mm: {
        value: 720,
        std_err: 0,
        ci95: [720, 720],
        unit: 'mm',
        limit: 'lower',
      },
    } as const;
    render(drawCurveFigure([dark, receiver], STAMP));
    expect(curveFigurePng([dark], STAMP).length).toBeGreaterThan(1000);
  });

  it('has styles that differ from one another', () => {
    const styles = Array.from({ length: 35 }, (_, i) => JSON.stringify(lineStyle(i)));
    expect(new Set(styles).size).toBe(35);
    expect(lineStyle(3).dash).not.toBe(lineStyle(4).dash);
  });
});

describe('sweep figures', () => {
  const plot = {
    title: 'slope error',
    subtitle: HOSTILE_NAME,
    xLabel: 'slope error across / mrad',
    yLabel: 'spill fraction',
    x: [1, 2, 3, 4],
    series: [
      { label: HOSTILE_NAME, value: [0.01, 0.03, 0.06, 0.1], halfWidth: [0.001, 0.001, 0.002, 0.002] },
    ],
    requirement: { value: 0.05, label: 'spill at most 5 %', relation: '<=' },
    crossing: { value: 2.67, interval: [2.6, 2.74] },
  } as const;

  it('marks requirement and crossing', () => {
    const figure = drawSweepFigure(plot);
    expect(figure.svg).toContain('holds up to 2.67');
    expect(figure.svg).toContain('95 %: 2.60 to 2.74'.replace('2.60', '2.6'));
    expect(figure.svg).not.toContain('<script');
    const picture = decode(figure);
    // The first series' colour stands at its third point.
    const [red, green, blue] = pixel(picture, ...toPng(figure.areas[0], 3, 0.06));
    expect(`#${[red, green, blue].map((byte) => byte.toString(16).padStart(2, '0')).join('')}`).toBe(
      lineStyle(0).colour,
    );
  });

  it('draws gaps, single points and open intervals', () => {
    render(
      drawSweepFigure({
        ...plot,
        series: [{ label: 'a', value: [0.1, Number.NaN, 0.2, 0.3], halfWidth: [0, Number.NaN, 0, 0] }],
      }),
    );
    render(drawSweepFigure({ ...plot, crossing: { value: 3.9, interval: [3.5, Number.POSITIVE_INFINITY] } }));
    render(
      drawSweepFigure({
        title: '',
        subtitle: '',
        xLabel: 'x',
        yLabel: 'y',
        x: [1],
        series: [{ label: 'a', value: [2], halfWidth: [0] }],
      }),
    );
    expect(() => drawSweepFigure({ ...plot, x: [1] })).toThrow(RangeError);
  });

  it('draws a map with numbers, and one with contours', () => {
    const mapOf = (nx: number, ny: number) => {
      const x = Array.from({ length: nx }, (_, i) => i + 1);
      const y = Array.from({ length: ny }, (_, i) => i + 1);
      return {
        title: 't',
        subtitle: 's',
        xLabel: 'x / mm',
        yLabel: 'y / mm',
        x,
        y,
        value: y.map((b) => x.map((a) => (a === 2 && b === 2 ? Number.NaN : a * b))),
        valueLabel: 'product',
        requirement: { value: 7, label: 'at most 7' },
      };
    };
    const small = drawSweepMapFigure(mapOf(5, 4));
    expect(small.svg).toContain('>none<');
    render(small);
    const large = drawSweepMapFigure(mapOf(40, 30));
    expect(large.svg).toContain('contours at');
    render(large);
    render(drawSweepMapFigure(mapOf(1, 1)));
    expect(() => drawSweepMapFigure({ ...mapOf(3, 3), x: [1] })).toThrow(RangeError);
  });
});

describe('compare figure', () => {
  const panel = (title: string) => ({ title, receiver: receiverOf(CAVITY), grid: cavityGrid() });

  it('puts all maps on one scale of flux and of mm', () => {
    const weak = { ...CAVITY, spot: { peak: 30, centre: [0, 0], sigma: [40, 40] } } as const;
    const figure = drawCompareFigure({
      title: 't',
      subtitle: 's',
      panels: [panel('a'), { title: 'b', receiver: receiverOf(weak), grid: cavityGrid('b', weak.spot) }],
    });
    expect(figure.areas.length).toBe(2);
    expect(figure.areas[0].width).toBe(figure.areas[1].width);
    expect(figure.svg).toContain('all maps to one scale in mm');
    const picture = decode(figure);
    const glow = (area: PlotArea, u: number, v: number): number => pixel(picture, ...toPng(area, u, v))[1];
    expect(glow(figure.areas[0], 25, -7)).toBeGreaterThan(glow(figure.areas[1], 12, 0) + 30);
  });

  it('says so where one scale of mm is impossible', () => {
    const line = { title: 'line', receiver: receiverOf(LINE_PLATE), grid: linePlateGrid() };
    const tube = { title: 'tube', receiver: receiverOf(TUBE), grid: tubeGrid() };
    const figure = drawCompareFigure({
      title: 't',
      subtitle: 's',
      panels: [panel('a'), line, tube, panel(HOSTILE_NAME)],
    });
    expect(figure.svg).toContain('scales in mm differ from map to map');
    expect(figure.svg).not.toContain('<script');
    render(figure);
  });

  it('takes two to four scenes', () => {
    expect(() => compareFigurePng({ title: 't', subtitle: 's', panels: [panel('a')] })).toThrow(RangeError);
  });
});

describe('the synthetic result', () => {
  it('sums its receivers', () => {
    expect(totalOf([receiverOf(CAVITY), receiverOf(CAVITY)]).mirror_area_m2).toBeCloseTo(2.352, 12);
  });
});
