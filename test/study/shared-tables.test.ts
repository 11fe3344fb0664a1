/** What scenes of a study share must not be seen in any of them. */
import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { SharedTables } from '../../src/prepare.js';
import { loadScene } from '../../src/scene/load.js';
import type { Scene, SunshapeSpec } from '../../src/scene/types.js';
import { prepareAtMoment } from '../../src/study/trace.js';

const SHAPES: readonly SunshapeSpec[] = [
  { kind: 'disc', halfAngle: 0.00465 },
  { kind: 'circumsolar', circumsolarRatio: 0.05 },
  { kind: 'circumsolar', circumsolarRatio: 0.05 },
  { kind: 'circumsolar', circumsolarRatio: 0.1 },
  { kind: 'disc', halfAngle: 0.00465 },
  { kind: 'point' },
];

const file = new URL('../../scenes-demo/one-dish.yaml', import.meta.url);
const loaded = loadScene(readFileSync(file, 'utf8'), { file: 'one-dish.yaml' });
if (!loaded.ok) throw new Error(loaded.errors[0].message);
const { scene } = loaded;
const under = (sunshape: SunshapeSpec): Scene => ({ ...scene, sun: { ...scene.sun, sunshape } });
const bytesOf = (buffer: SharedArrayBuffer) => Buffer.from(buffer).toString('base64');

it('scenes that share their tables have the bytes of scenes prepared alone, whatever sun came before', () => {
  const shared = new SharedTables();
  for (const sunshape of SHAPES) {
    const together = prepareAtMoment(under(sunshape), shared);
    const alone = prepareAtMoment(under(sunshape));
    expect(bytesOf(together.buffer) === bytesOf(alone.buffer)).toBe(true);
    expect(together.spots).toEqual(alone.spots);
  }
});

it('sabotage: a table of another sun shows in the bytes', () => {
  const stuck = new SharedTables();
  const first = stuck.sun(SHAPES[1]);
  stuck.sun = () => first;
  const wrong = prepareAtMoment(under(SHAPES[3]), stuck);
  expect(bytesOf(wrong.buffer) === bytesOf(prepareAtMoment(under(SHAPES[3])).buffer)).toBe(false);
});
