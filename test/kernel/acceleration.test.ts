import { describe, expect, it } from 'vitest';
import { layOut } from '../../src/field/layout.js';
import { FACET_INTS, FI_BLOCK_COUNT, FI_SHADE_COUNT, viewPrepared } from '../../src/kernel/layout.js';
import { FATES, Fate } from '../../src/kernel/tally.js';
import { type PreparedScene, prepareScene } from '../../src/prepare.js';
import { momentOf } from '../../src/sun/direction.js';
import { evenLog2, tallyOfBatch } from '../support/batch.js';
import { randomRow } from '../support/random-scenes.js';

const SCENES = 60;
const LOG2_RAYS = 8;

function preparedBothWays(seed: string): { fast: PreparedScene; slow: PreparedScene } {
  const scene = randomRow(seed);
  const field = layOut(scene);
  const moment = momentOf(scene);
  return {
    fast: prepareScene(scene, field, moment),
    slow: prepareScene(scene, field, moment, { acceleration: 'none' }),
  };
}

function raysByFate(prepared: PreparedScene, tally: Float64Array): number[] {
  const { groups, counts } = prepared.layout;
  return Array.from({ length: FATES }, (_, fate) => {
    let rays = 0;
    for (let group = 0; group < groups; group++) rays += tally[counts + group * FATES + fate];
    return rays;
  });
}

describe('lists and hierarchy change no answer', () => {
  const seen = new Array<number>(FATES).fill(0);
  for (let i = 0; i < SCENES; i++) {
    const seed = `row-${i}`;
    it(`seed ${seed}: same tally, bit for bit, as trying everything`, () => {
      const { fast, slow } = preparedBothWays(seed);
      const log2Rays = evenLog2(fast, LOG2_RAYS);
      const quick = tallyOfBatch(fast, log2Rays, seed);
      const thorough = tallyOfBatch(slow, log2Rays, seed);
      raysByFate(fast, thorough).forEach((rays, fate) => {
        seen[fate] += rays;
      });
      expect(Buffer.from(quick.buffer).equals(Buffer.from(thorough.buffer))).toBe(true);
    });
  }

  it('the scenes together have met every fate', () => {
    for (let fate = 0; fate < FATES; fate++) expect(seen[fate], `fate ${fate}`).toBeGreaterThan(0);
  });

  it('sabotage: with the lists emptied the tallies differ', () => {
    const tried = 8;
    let differing = 0;
    for (let i = 0; i < tried; i++) {
      const { fast, slow } = preparedBothWays(`row-${i}`);
      const { facetInts } = viewPrepared(fast.buffer);
      for (let facet = 0; facet < facetInts.length; facet += FACET_INTS) {
        facetInts[facet + FI_SHADE_COUNT] = 0;
        facetInts[facet + FI_BLOCK_COUNT] = 0;
      }
      const log2Rays = evenLog2(fast, LOG2_RAYS);
      const quick = tallyOfBatch(fast, log2Rays, `row-${i}`);
      const thorough = tallyOfBatch(slow, log2Rays, `row-${i}`);
      if (raysByFate(fast, quick)[Fate.Shaded] !== raysByFate(slow, thorough)[Fate.Shaded]) differing++;
    }
    expect(differing).toBeGreaterThan(tried / 2);
  });
});
