import { describe, expect, it } from 'vitest';
import { NothingLitError, planBatches, planTargetBatches, tallyBytes } from '../../src/run/plan.js';

const scene = (...watts: number[]) => ({ facetPower: Float64Array.from(watts) });
const total = (plan: { raysPerBatch: number; batches: number }) => plan.raysPerBatch * plan.batches;

describe('planBatches', () => {
  it('makes 32 batches, one a slot, of an ordinary run', () => {
    const plan = planBatches(scene(10, 10, 10, 10), 2 ** 20);
    expect(plan).toMatchObject({
      batches: 32,
      batchesPerSlot: 1,
      raysPerBatch: 2 ** 15,
      floorReached: false,
    });
    expect([...plan.log2Rays]).toEqual([13, 13, 13, 13]);
  });

  it('shares rays by power and gives none to a facet without light', () => {
    const plan = planBatches(scene(8, 0, 4, 2, 2), 2 ** 20);
    expect([...plan.log2Rays]).toEqual([14, -1, 13, 12, 12]);
  });

  it.each([1e4, 1e5, 1e6, 3e6, 1e7, 1e8])(
    'comes within the rounding of seven like strips of %d rays',
    (rays) => {
      const plan = planBatches(scene(...Array(7).fill(120)), rays);
      // Seven equal powers of two can only double together, so the nearest sum is off by sqrt 2 at most.
      expect(Math.abs(Math.log2(total(plan) / rays))).toBeLessThanOrEqual(0.5 + 1e-12);
      expect(plan.raysPerBatch).toBe(plan.log2Rays.reduce((sum, k) => sum + 2 ** k, 0));
    },
  );

  it('comes closer where powers differ', () => {
    const watts = Array.from({ length: 420 }, (_, facet) => 50 + ((facet * 37) % 101));
    for (const rays of [3e6, 1e7, 4.7e7]) {
      expect(Math.abs(total(planBatches(scene(...watts), rays)) / rays - 1)).toBeLessThan(0.1);
    }
  });

  it('rounds up just those facets that bring the sum closest to what is wanted', () => {
    // Both round down: 2048 of 2660. A scale of 2^(1/8) takes the first up, 3072; any larger one both, 4096.
    const watts = [2 ** 10.45, 2 ** 10.3];
    expect([...planBatches(scene(...watts), 32 * (watts[0] + watts[1])).log2Rays]).toEqual([11, 10]);
    // The other way: both round up, 4096 of 3283, and 2^(-1/8) takes the second down.
    const higher = [2 ** 10.8, 2 ** 10.55];
    expect([...planBatches(scene(...higher), 32 * (higher[0] + higher[1])).log2Rays]).toEqual([11, 10]);
  });

  it('cuts long runs into batches of about a million rays that fill 32 to 63 slots', () => {
    for (const rays of [4e7, 6.6e7, 1e8, 1e9, 3.3e10]) {
      const plan = planBatches(scene(1, 1, 1, 1), rays);
      const slots = plan.batches / plan.batchesPerSlot;
      expect(Number.isInteger(slots)).toBe(true);
      expect(slots).toBeGreaterThanOrEqual(32);
      expect(slots).toBeLessThanOrEqual(63);
      expect(Math.log2(plan.batchesPerSlot) % 1).toBe(0);
      expect(plan.raysPerBatch).toBeLessThanOrEqual(2 ** 20.5);
    }
  });

  it('has the same batches for every scene, so that differences can be paired', () => {
    const one = planBatches(scene(1), 1.7e8);
    const many = planBatches(scene(...Array(420).fill(3)), 1.7e8);
    expect(many.batches).toBe(one.batches);
    expect(many.batchesPerSlot).toBe(one.batchesPerSlot);
  });

  it('says when even the smallest lattices are more than wanted', () => {
    const plan = planBatches(scene(1, 1, 1), 100);
    expect(plan.floorReached).toBe(true);
    expect([...plan.log2Rays]).toEqual([3, 3, 3]);
    expect(total(plan)).toBe(3 * 8 * 32);
  });

  it('refuses a scene without light and a count that is none', () => {
    expect(() => planBatches(scene(0, 0), 1e6)).toThrow(NothingLitError);
    expect(() => planBatches(scene(0, 0), 1e6)).toThrow(/no facet faces the sun/i);
    for (const rays of [0, -1, Number.NaN, Number.POSITIVE_INFINITY]) {
      expect(() => planBatches(scene(1), rays)).toThrow(RangeError);
    }
  });
});

describe('planTargetBatches', () => {
  it('starts with small batches and ends with full slots under the cap', () => {
    for (const maxRays of [1e7, 1e8, 1e9]) {
      const plan = planTargetBatches(scene(...Array(7).fill(1)), maxRays);
      expect(Math.log2(plan.raysPerBatch)).toBeGreaterThan(14.4);
      expect(Math.log2(plan.raysPerBatch)).toBeLessThan(16.1);
      expect(total(plan)).toBeLessThanOrEqual(maxRays);
      expect(total(plan)).toBeGreaterThan(maxRays * (1 - 1 / 32));
      expect((plan.batches / plan.batchesPerSlot) % 1).toBe(0);
    }
  });

  it('gives many facets lattices that are worth the name', () => {
    const plan = planTargetBatches(scene(...Array(420).fill(1)), 1e9);
    expect(Math.min(...plan.log2Rays)).toBeGreaterThanOrEqual(7);
  });

  it('keeps 32 batches under a small cap', () => {
    expect(planTargetBatches(scene(1), 1e5).batches).toBe(32);
  });
});

it('states the memory of the tallies: 64 slots, those in flight and those that wait', () => {
  expect(tallyBytes({ length: 1000 }, 2)).toBe((64 + 8) * 8000);
});
