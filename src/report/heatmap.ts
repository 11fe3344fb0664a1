/** The flux map as data: one cell one pixel. */
import { PNG } from 'pngjs';
import type { FluxGrid } from '../result/types.js';
import { colourAt, FLUX_COLOURS } from './colour-scale.js';

/** @returns the highest cell of the given maps, kW/m2 (0 for none): the top of a colour scale they share */
export function highestFlux(grids: readonly FluxGrid[]): number {
  let highest = 0;
  for (const grid of grids) for (const value of grid.flux) if (value > highest) highest = value;
  return highest;
}

/**
 * The map as an 8-bit RGB PNG: black (the low end of inferno) is 0, the light end is `scaleMax`; the top row is high v, the
 * left column low u, as seen from the receiver's front.
 * @param scaleMax kW/m2 at the top of the colour scale; the map's own highest cell where left away
 */
export function writeRawMap(grid: FluxGrid, scaleMax: number = highestFlux([grid])): Uint8Array {
  const picture = new PNG({ width: grid.nu, height: grid.nv, colorType: 2 });
  for (let iv = 0; iv < grid.nv; iv++) {
    for (let iu = 0; iu < grid.nu; iu++) {
      const flux = grid.flux[iv * grid.nu + iu];
      const [red, green, blue] = colourAt(FLUX_COLOURS, scaleMax > 0 ? flux / scaleMax : 0);
      const pixel = 4 * ((grid.nv - 1 - iv) * grid.nu + iu);
      picture.data[pixel] = red;
      picture.data[pixel + 1] = green;
      picture.data[pixel + 2] = blue;
      picture.data[pixel + 3] = 255;
    }
  }
  return PNG.sync.write(picture, { colorType: 2, inputHasAlpha: true });
}
