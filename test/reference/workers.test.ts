/** The reference cases run in the test's own thread; one of them shows that threads of a pool give the same numbers. */
import { expect, test } from 'vitest';
import { traceText } from '../support/trace-text.js';
import { onPaper, paperScene, roundAperture } from './paper-scene.js';

test('a case traced by two workers gives the same result as in this thread', async () => {
  const scene = paperScene({
    sunshape: '{ kind: circumsolar, circumsolar_ratio: 0.1 }',
    film: '{ reflectance: 0.9, slope_error_mrad: 3, specularity_mrad: 2 }',
    aperture: roundAperture(onPaper(6)),
    cells: 32,
  });
  const options = { rays: 8192, seed: 'two workers' };
  const here = await traceText(scene, { ...options, workers: 0 });
  const pooled = await traceText(scene, { ...options, workers: 2 });
  expect(pooled.result).toEqual(here.result);
  expect(pooled.grids).toEqual(here.grids);
  const other = await traceText(scene, { ...options, seed: 'another seed' });
  expect(other.result.total.intercept_factor).not.toEqual(here.result.total.intercept_factor);
});
