/**
 * A quote that is never closed, over many lines, used as a key: the parser's count of lines left some out, so the error was placed
 * far beyond the end of a short line, and the mark under it had a negative length.
 */
import { expect, it } from 'vitest';
import { loadScene } from '../../src/scene/load.js';
import { formatSceneErrors } from '../../src/scene/print.js';

const OPENED = `sun:
'itle: Toroid and flat
  elevation_deg: 40
  sunshape: { kind: table, angle_mrad: [0, 3, 4.65, 4.7, 40], radiance: [1, 0.9, 0.6, 0.01, 0.0001] }
films:
  roll_a: { reflectance: 0.84, slope_error_along_mrad: 4, slope_error_across_mrad: 5, specularity_mrad: 1.5 }
'itle: Toroid and flat
sun:
  azimuth_deg: 200
  sunshape: { kind: table, angle_mrad: [0, 3, 4.65, 4.7, 40], radiance: [1, 0.9, 0.6, 0.01, 0.0001] }
`;

it.each([OPENED, `  azimuth_deg: 200\n${OPENED}`, OPENED.replaceAll('\n', '\r\n')])(
  'every error lies within its line, and the lines about it can be printed',
  (text) => {
    const loaded = loadScene(text, { file: 'scene.yaml' });
    if (loaded.ok) throw new Error('the scene was read');
    const lines = text.split('\n');
    for (const { line, column } of loaded.errors) {
      expect(line).not.toBeNull();
      expect(column ?? Number.NaN).toBeLessThanOrEqual(lines[(line ?? 0) - 1].length + 1);
    }
    expect(formatSceneErrors(loaded.errors, text, 'scene.yaml', { colour: false })).toContain(
      'nothing was run',
    );
  },
);
