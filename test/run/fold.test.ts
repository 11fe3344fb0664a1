import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { addInto, SlotFold } from '../../src/run/fold.js';

/** Numbers whose sum depends on the order of adding. */
const tallyOf = (batch: number) => Float64Array.of(1, Math.sin(batch + 1) * 10 ** (batch % 7), batch);

function folded(order: readonly number[], onSlotEnd?: (fold: SlotFold) => boolean): SlotFold {
  const fold = new SlotFold(onSlotEnd);
  for (const batch of order) fold.accept(batch, tallyOf(batch));
  return fold;
}

const upTo = (count: number) => Array.from({ length: count }, (_, batch) => batch);
const bytes = (slots: readonly Float64Array[]) =>
  slots.map((slot) => Buffer.from(slot.buffer).toString('hex'));

describe('slots', () => {
  it.each([
    [1, 1, 1],
    [32, 32, 1],
    [63, 63, 1],
    [64, 32, 2],
    [65, 32, 2],
    [126, 63, 2],
    [128, 32, 4],
    [200, 50, 4],
    [1000, 62, 16],
  ])('%d batches make %d full slots of %d', (batches, slots, batchesPerSlot) => {
    const fold = folded(upTo(batches));
    expect(fold.slots()).toHaveLength(slots);
    expect(fold.batchesPerSlot).toBe(batchesPerSlot);
    expect(fold.slots().every((slot) => slot[0] === batchesPerSlot)).toBe(true);
    expect(fold.folded).toBe(batches);
  });

  it('hold consecutive batches', () => {
    const fold = folded(upTo(200));
    fold.slots().forEach((slot, index) => {
      expect(slot[2]).toBe(4 * (4 * index) + 6);
    });
  });

  it('have the same bytes in any order of arrival', () => {
    const reference = bytes(folded(upTo(150)).slots());
    fc.assert(
      fc.property(fc.shuffledSubarray(upTo(150), { minLength: 150 }), (order) => {
        expect(bytes(folded(order).slots())).toEqual(reference);
      }),
      { seed: 11, numRuns: 50 },
    );
  });

  it('sabotage: sums in order of arrival do not', () => {
    const inOrder = Float64Array.of(0, 0, 0);
    const reversed = Float64Array.of(0, 0, 0);
    for (const batch of upTo(150)) addInto(inOrder, tallyOf(batch));
    for (const batch of upTo(150).reverse()) addInto(reversed, tallyOf(batch));
    expect(bytes([reversed])).not.toEqual(bytes([inOrder]));
    expect(reversed[0]).toBe(inOrder[0]);
  });

  it('wait for a missing batch and ignore an unfinished slot', () => {
    const fold = folded([1, 2, 3]);
    expect(fold.folded).toBe(0);
    expect(fold.waiting).toBe(3);
    fold.accept(0, tallyOf(0));
    expect(fold.slots()).toHaveLength(4);
    expect(fold.waiting).toBe(0);
  });
});

describe('the end of a slot', () => {
  it('is told in order, only with equal slots, and can end the fold whatever came early', () => {
    for (const order of [upTo(100), upTo(100).reverse()]) {
      const seen: number[] = [];
      const fold = folded(order, (full) => {
        seen.push(full.slots().length * full.batchesPerSlot);
        return full.folded === 70;
      });
      expect(seen.slice(-4)).toEqual([64, 66, 68, 70]);
      expect(fold.sealed).toBe(true);
      expect(fold.folded).toBe(70);
      expect(fold.slots()).toHaveLength(35);
      expect(fold.waiting).toBe(0);
      fold.accept(70, tallyOf(70));
      expect(fold.folded).toBe(70);
    }
  });
});

it('refuses a batch counted before and a tally of another scene', () => {
  const fold = folded([0, 2]);
  expect(() => fold.accept(0, tallyOf(0))).toThrow(/batch 0 was counted before/);
  expect(() => fold.accept(2, tallyOf(2))).toThrow(/batch 2 was counted before/);
  expect(() => addInto(new Float64Array(2), new Float64Array(3))).toThrow(RangeError);
});
