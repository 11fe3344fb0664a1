/**
 * How much light each ring of a wide sun gives, against a closed form: a small flat mirror throws an even disc of 100 mrad on a plate square to
 * the reflected ray. A plane that faces the sun gets radiance x cos(theta) from the angle theta, once: weighed twice, the spot shrinks by
 * some 8e-4.
 */
import { expect, it } from 'vitest';
import { traceFigures } from './comparison.js';
import type { OpinionScene } from './scenes.js';

const RIM = 0.1;
const SIDE = 0.02;
const DISTANCE = 1;
const INCIDENCE = Math.PI / 6;

const SCENE: OpinionScene = {
  name: 'a flat mirror and a wide even sun',
  text: `title: A flat mirror and a wide even sun (invented)
sun: {azimuth_deg: 180, elevation_deg: 60, dni_w_m2: 850, sunshape: {kind: table, angle_mrad: [0, 100], radiance: [1, 1]}}
films:
  perfect: {reflectance: 1, slope_error_mrad: 0, specularity_mrad: 0}
facets:
  - {name: mirror, film: perfect, outline: {kind: rectangle, length_m: ${SIDE}, width_m: ${SIDE}}, receiver: plate}
receivers:
  - name: plate
    kind: plate
    aperture: {shape: rectangle, width_m: 0.26, height_m: 0.26}
    window: {width_m: 0.26, height_m: 0.26}
    cells: 260
    position_m: [0, ${DISTANCE * Math.sin(INCIDENCE)}, ${DISTANCE * Math.cos(INCIDENCE)}]
    facing: {azimuth_deg: 180, elevation_deg: -60}
`,
  orders: { disc: [1, 1], aureole: [1, 1], mirror: [1, 1], lobes: [[1, 1]], edgeStep: 1, cut: 'along' },
};

/** Mean square of the place across the plane of incidence, mm2, from the mean of tan^2(theta). */
function across(meanSquareTangent: number): number {
  const spread = (DISTANCE ** 2 + (SIDE ** 2 / 12) * Math.sin(INCIDENCE) ** 2) * (meanSquareTangent / 2);
  return 1e6 * (SIDE ** 2 / 12 + spread);
}

it('rings of a wide sun give light by the cosine, once', async () => {
  const { figures } = await traceFigures(SCENE, 1e6, 'wide sun', 0);
  const got = figures.get('second moment uu mm2')!;
  // Means of tan^2 over sin cos, and over sin cos^2, from 0 to the rim: closed forms.
  const [cosine, sine2] = [Math.cos(RIM), Math.sin(RIM) ** 2];
  const once = (-Math.log(cosine) - sine2 / 2) / (sine2 / 2);
  const twice = (2 / 3 - cosine + cosine ** 3 / 3) / ((1 - cosine ** 3) / 3);
  // The tables of sine and turn follow a circle to 1e-5 or so.
  const allowed = Math.hypot(3 * got.error, 2e-5 * got.value);
  expect(Math.abs(got.value - across(once))).toBeLessThan(allowed);
  // Sabotage: the cosine counted twice.
  expect(Math.abs(got.value - across(twice))).toBeGreaterThan(5 * allowed);
});
