/** The only place that calls the SVG renderer, so that another one could take its place. */
import { Resvg } from '@resvg/resvg-js';
import { FONT_FAMILY, FONT_FILES } from './font.js';
import type { DrawnFigure } from './types.js';

/** PNG pixels per SVG pixel. */
export const FIGURE_SCALE = 2;

/** @returns the figure as a PNG file, FIGURE_SCALE times the SVG's size; the same bytes on every machine */
export function renderFigure(figure: DrawnFigure): Uint8Array {
  const renderer = new Resvg(figure.svg, {
    fitTo: { mode: 'zoom', value: FIGURE_SCALE },
    // System fonts would make the picture depend on the machine.
    font: {
      loadSystemFonts: false,
      fontFiles: [...Object.values(FONT_FILES)],
      defaultFontFamily: FONT_FAMILY,
    },
  });
  return renderer.render().asPng();
}
