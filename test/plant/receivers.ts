/** Invented receivers for tests. */

import { grey } from '../../src/plant/radiation.js';
import type { Receiver } from '../../src/plant/receiver.js';
import { DEGREE } from './agrees.js';

export const CUP: Receiver = {
  shape: {
    kind: 'cavity',
    openingDiameter: 0.18,
    insideDiameter: 0.22,
    depth: 0.22,
    facingDown: 60 * DEGREE,
  },
  absorptance: 0.9,
  emittance: grey(0.9, 0.05),
  insulation: [{ area: 0.25, thickness: 0.08, conductivity: 0.06 }],
  supports: 0.02,
};

export const PLATE: Receiver = {
  shape: { kind: 'plate', length: 0.18, width: 0.18, facingDown: 70 * DEGREE },
  absorptance: 0.94,
  emittance: { kind: 'linear', offset: 0.06, slope: 2e-4, uncertainty: 0.2 },
  insulation: [
    {
      area: 0.05,
      thickness: 0.08,
      conductivity: { temperature: [300, 600], value: [0.04, 0.09] },
      outside: 8,
    },
  ],
  skyShare: 0.2,
};

export const TUBE: Receiver = {
  shape: { kind: 'tube', diameter: 0.05, length: 8 },
  absorptance: 0.94,
  emittance: { kind: 'table', temperature: [373, 673], value: [0.08, 0.14], uncertainty: 0.2 },
  insulation: [],
  skyShare: 0.5,
};

const COVER = { transmittance: 0.9, absorptance: 0.03, emittance: 0.88, gap: 0.03 } as const;

export const COVERED: readonly Receiver[] = [
  { ...CUP, cover: { ...COVER, gap: 0.2 } },
  { ...PLATE, cover: COVER },
  { ...TUBE, cover: COVER },
  { ...TUBE, cover: { ...COVER, gas: 'vacuum' } },
];

export const ALL: readonly Receiver[] = [CUP, PLATE, TUBE, ...COVERED];
