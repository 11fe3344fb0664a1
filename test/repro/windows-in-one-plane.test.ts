/**
 * Two receivers in one plane, each within the other's window: whether light caught by one was also on the map of the other hung on
 * which of two equal distances came out shorter by the last digit. It is: a window shows the light that crosses it.
 */
import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { loadScene } from '../../src/scene/load.js';
import { prepareAtMoment } from '../../src/study/trace.js';
import { evenLog2, tallyOfBatch } from '../support/batch.js';

const FILE = new URL('../../scenes-demo/checks/books-of-watts.yaml', import.meta.url);

/** Watts on the two maps and caught, with everything moved along x. */
function lightWith(moved: number): number[] {
  const text = readFileSync(FILE, 'utf8').replace(
    /(position_m: \[|centre_m: \[|from_m: \[|to_m: \[)([-\d.]+)/gu,
    (_, key: string, x: string) => `${key}${Number(x) + moved}`,
  );
  const loaded = loadScene(text, { file: 'moved.yaml' });
  if (!loaded.ok) throw new Error(JSON.stringify(loaded.errors));
  const prepared = prepareAtMoment(loaded.scene);
  const tally = tallyOfBatch(prepared, evenLog2(prepared, 12), 'one plane');
  return prepared.layout.receivers.map(({ moments }) => tally[moments]);
}

it('the maps are the same wherever the scene stands', () => {
  const here = lightWith(0);
  for (const moved of [0.1, 1.7, -2.3, 11.9]) {
    lightWith(moved).forEach((watts, receiver) => {
      expect(Math.abs(watts / here[receiver] - 1)).toBeLessThan(1e-3);
    });
  }
});
