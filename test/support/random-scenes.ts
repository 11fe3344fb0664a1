/** Scenes drawn by chance from a seed: rows with bodies, posts, ground and odd single facets, under low and high suns. */
import seedrandom from 'seedrandom';
import type { BlockerSpec, FacetShape, FacetSpec, ReceiverDesign, Scene } from '../../src/scene/types.js';
import { sevenStripDish } from './scenes.js';

/** A random but buildable scene; the same seed gives the same scene. */
export function randomRow(seed: string): Scene {
  const random = seedrandom.alea(seed);
  const between = (low: number, high: number) => low + (high - low) * random();
  const pick = <T>(choices: readonly T[]): T => choices[Math.floor(random() * choices.length)];
  const body: ReceiverDesign['body'] = pick([
    null,
    { shape: 'round', diameter: 0.26, depth: 0.2 },
    { shape: 'rectangle', width: 0.3, height: 0.24, depth: 0.15 },
  ] as const);
  const centre: [number, number, number] = [between(-3, 3), between(-3, 3), between(0.6, 1.5)];
  const posts: BlockerSpec[] = [
    {
      kind: 'cylinder',
      name: 'post',
      from: [0.66, 0, -0.4],
      to: [0.66, 0, between(0.5, 2.4)],
      diameter: 0.06,
    },
    {
      kind: 'box',
      name: 'beam',
      centre: [0, between(-0.8, 0.8), 1.2],
      size: [1.3, 0.05, 0.08],
      heading: 1.57,
    },
  ];
  const shapes: FacetShape[] = [
    { kind: 'flat' },
    { kind: 'bent', curve: 'circle', focalLength: 1.5 },
    { kind: 'paraboloid', focalLength: 0.4 },
    { kind: 'toroid', radiusAlong: 1.2, radiusAcross: 0.8 },
  ];
  const strays: FacetSpec[] = shapes.map((shape, i) => ({
    name: `stray ${i}`,
    film: 'film',
    shape,
    outline:
      i % 2 === 0
        ? { kind: 'rectangle', length: 0.5, width: 0.3, centre: [0, 0] }
        : { kind: 'round', diameter: 0.5, holeDiameter: 0.1 },
    position: [centre[0] + between(-1, 1), centre[1] + between(-2, 1), centre[2] + between(0.2, 2.5)],
    facing: { azimuth: between(0, 6.2), elevation: between(-1.5, 1.5) },
    alongAzimuth: between(0, 6.2),
    receiver: null,
  }));
  return sevenStripDish({
    sun: {
      direction: { kind: 'angles', azimuth: between(1.6, 4.7), elevation: between(0.15, 1.5) },
      sunshape: pick([
        { kind: 'circumsolar', circumsolarRatio: 0.1 },
        { kind: 'disc', halfAngle: 4.65e-3 },
        { kind: 'point' },
      ] as const),
    },
    strips: {
      bend: pick(['parabola', 'circle', 'straight'] as const),
      direction: pick(['along_row', 'across_row'] as const),
      gap: between(0.001, 0.03),
    },
    dish: {
      rib: pick(['flat', 'parabola'] as const),
      tiltSetting: between(-0.2, 0.2),
      blockers: random() < 0.5 ? posts : [],
      receiver: {
        design: {
          kind: 'cavity',
          aperture: pick([
            { shape: 'round', diameter: 0.18 },
            { shape: 'rectangle', width: 0.2, height: 0.12 },
          ] as const),
          window: { width: 0.5, height: 0.5 },
          cells: [16, 16],
          peakDisc: 0.05,
          body,
        },
        offset: [between(-0.05, 0.05), 0, between(-0.1, 0.1)],
        faces: pick(['dish', 'down'] as const),
      },
    },
    row: {
      centre,
      dishes: 1 + Math.floor(random() * 3),
      rows: 1 + Math.floor(random() * 3),
      rowSpacing: between(1.3, 3.2),
      heading: between(1.2, 1.9),
    },
    scene: {
      ground: random() < 0.7 ? 0 : null,
      facets: random() < 0.6 ? strays : [],
    },
  });
}
