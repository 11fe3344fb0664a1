/** Sizes and areas of receiver openings. */
import type { ReceiverDesign } from '../scene/types.js';
import type { ApertureSize } from './types.js';

/** The opening in millimetres, as results have it. */
export function apertureSize(design: ReceiverDesign): ApertureSize {
  const { aperture } = design;
  if (aperture.shape === 'round') return { shape: 'round', diameter_mm: millimetres(aperture.diameter) };
  if (aperture.shape === 'rectangle') {
    return {
      shape: 'rectangle',
      width_mm: millimetres(aperture.width),
      height_mm: millimetres(aperture.height),
    };
  }
  return {
    shape: 'tube',
    diameter_mm: millimetres(aperture.diameter),
    length_mm: millimetres(aperture.length),
  };
}

/** Metres in millimetres, free of the last binary digits of a length typed in decimals. */
function millimetres(metres: number): number {
  return Number((metres * 1000).toPrecision(12));
}

/**
 * The one size by which an opening is quoted when it is made larger or smaller, mm: the diameter; a rectangle's width; a
 * line plate's width across the line (its v).
 */
export function leadingSize(design: ReceiverDesign): number {
  const size = apertureSize(design);
  if (size.shape !== 'rectangle') return size.diameter_mm;
  return design.kind === 'line_plate' ? size.height_mm : size.width_mm;
}
