/** A tube so long and thin that three of its map cells are many times its girth: the averaging disc used to wind round it. */
import { expect, it } from 'vitest';
import { layOut } from '../../src/field/layout.js';
import { loadScene } from '../../src/scene/load.js';

const LONG_THIN_TUBE = `
title: A long thin tube
sun: { azimuth_deg: 180, elevation_deg: 90, dni_w_m2: 1000, sunshape: { kind: disc } }
films:
  plain: { reflectance: 0.9, slope_error_mrad: 1, specularity_mrad: 0 }
facets:
  - name: strip
    film: plain
    shape: { kind: bent, focal_length_m: 1 }
    outline: { kind: rectangle, length_m: 1, width_m: 2 }
    along_azimuth_deg: 0
receivers:
  - name: tube
    kind: tube
    aperture: { diameter_m: 0.09, length_m: 1800 }
    position_m: [0, 0, 1]
`;

it('the averaging disc by default is never wider than the aperture', () => {
  const loaded = loadScene(LONG_THIN_TUBE, { file: 'tube.yaml' });
  if (!loaded.ok) throw new Error(JSON.stringify(loaded.errors));
  const { design } = layOut(loaded.scene).receivers[0];
  expect(1800 / design.cells[0]).toBeGreaterThan(0.09);
  expect(design.peakDisc).toBe(0.09);
});
