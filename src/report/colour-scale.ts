/** Colours for numbers: perceptually uniform maps as tables of bytes, built once per picture and not per pixel. */
import { interpolateInferno, interpolateViridis } from 'd3-scale-chromatic';

export type Rgb = readonly [number, number, number];

const STEPS = 256;

function hexTable(ramp: (t: number) => string): readonly Rgb[] {
  return Array.from({ length: STEPS }, (_, i): Rgb => {
    const packed = Number.parseInt(ramp(i / (STEPS - 1)).slice(1), 16);
    return [packed >> 16, (packed >> 8) & 0xff, packed & 0xff];
  });
}

/** For flux: black is no light. */
export const FLUX_COLOURS = hexTable(interpolateInferno);
/** For everything else that fills an area. */
export const FIELD_COLOURS = hexTable(interpolateViridis);

/** @returns the colour of `share` (clipped to 0..1) of the scale */
export function colourAt(table: readonly Rgb[], share: number): Rgb {
  const bounded = share > 0 ? Math.min(1, share) : 0;
  return table[Math.round(bounded * (STEPS - 1))];
}

export function cssColour([red, green, blue]: Rgb): string {
  return `#${[red, green, blue].map((byte) => byte.toString(16).padStart(2, '0')).join('')}`;
}

/** @returns whether black letters read better than white ones on this ground (relative luminance, WCAG 2) */
export function isLight(colour: Rgb): boolean {
  const [red, green, blue] = colour.map((byte) => {
    const share = byte / 255;
    return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
  });
  return 0.2126 * red + 0.7152 * green + 0.0722 * blue > 0.18;
}

export interface LineStyle {
  readonly colour: string;
  /** SVG dash array; "none" is a full line. */
  readonly dash: string;
}

// Okabe & Ito's palette for the colour blind (2008) without its yellow, which is too faint on white; from memory.
const LINE_COLOURS = ['#0072b2', '#d55e00', '#009e73', '#000000', '#cc79a7', '#e69f00', '#56b4e9'];
const LINE_DASHES = ['none', '9 4', '3 3', '12 3 3 3', '6 2 2 2 2 2'];

/** @returns a style that differs from its neighbours in colour and in dash; 35 different ones */
export function lineStyle(index: number): LineStyle {
  return { colour: LINE_COLOURS[index % LINE_COLOURS.length], dash: LINE_DASHES[index % LINE_DASHES.length] };
}
