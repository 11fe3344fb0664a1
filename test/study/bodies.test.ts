/** Shadows of receivers on recorded light, by hand. */
import { describe, expect, test } from 'vitest';
import type { Frame } from '../../src/field/types.js';
import type { ReceiverDesign, Vec3 } from '../../src/scene/types.js';
import { Bodies } from '../../src/study/bodies.js';
import type { LightGroup } from '../../src/study/light.js';
import { demoScene } from '../season/scenes.js';

const PLAIN = demoScene('one-dish').dishes[0].receiver?.design;
if (PLAIN === undefined) throw new Error('the dish has no receiver');

function design(shape: Pick<ReceiverDesign, 'aperture' | 'body'>): ReceiverDesign {
  return { ...(PLAIN as ReceiverDesign), ...shape };
}

/** 2 m above the mirrors, facing down. */
const FRAME: Frame = { origin: [0, 0, 2], x: [1, 0, 0], y: [0, -1, 0], z: [0, 0, -1] };

/** Part of the light left at a mirror point (x, y, 0); nothing stands in its way but in the sun's. */
function leftAt(receiver: ReceiverDesign, sun: Vec3, [x, y]: readonly [number, number]): number {
  const group: LightGroup = {
    design: receiver,
    rays: new Float64Array(),
    frameAt: () => FRAME,
    sun,
    mirrors: { centre: [0, 0, 0], radius: 2 },
    others: [{ along: 0.5, share: 0.75 }],
  };
  return new Bodies(group, FRAME).kept(x, -y, 2, -x / 2, y / 2, -1, 2);
}

const SHAPES: readonly (readonly [string, ReceiverDesign])[] = [
  [
    'round',
    design({
      aperture: { shape: 'round', diameter: 0.1 },
      body: { shape: 'round', diameter: 0.2, depth: 0.1 },
    }),
  ],
  [
    'with straight sides',
    design({
      aperture: { shape: 'rectangle', width: 0.1, height: 0.1 },
      body: { shape: 'rectangle', width: 0.2, height: 0.2, depth: 0.1 },
    }),
  ],
  ['flat', design({ aperture: { shape: 'round', diameter: 0.2 }, body: null })],
];

describe.each(SHAPES)('the shadow of a receiver, %s', (_, receiver) => {
  // The sun straight above stands on the receiver's axis to the last bit; a hair beside it, it does not.
  test.each([
    ['on its axis', [0, 0, 1]],
    ['a hair beside its axis', [1e-9, -1e-9, 1]],
  ] as const)('with the sun %s', (_where, sun) => {
    expect(leftAt(receiver, sun, [0, 0])).toBe(0);
    expect(leftAt(receiver, sun, [0.099, 0])).toBe(0);
    expect(leftAt(receiver, sun, [0, -0.099])).toBe(0);
    // Three of four dishes have a neighbour whose shadow falls here.
    expect(leftAt(receiver, sun, [0.5, 0])).toBe(0.25);
    // Fault: a body 2 % wider than it is.
    expect(leftAt(receiver, sun, [0.101, 0])).toBe(1);
  });
});

test('a tube with the sun along it', () => {
  const tube = design({ aperture: { shape: 'tube', length: 0.4, diameter: 0.1 }, body: null });
  const bodies = (height: number): number => {
    const group: LightGroup = {
      design: tube,
      rays: new Float64Array(),
      frameAt: () => FRAME,
      sun: [1, 0, 0],
      mirrors: { centre: [-1, 0, 2], radius: 1 },
      others: [],
    };
    return new Bodies(group, FRAME).kept(-1, 0, height, 0, 0, -1, 1);
  };
  expect(bodies(0.049)).toBe(0);
  // Fault: a tube 2 % thicker.
  expect(bodies(0.051)).toBe(1);
});
