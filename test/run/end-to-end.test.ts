import { expect, it, vi } from 'vitest';
import { layOut } from '../../src/field/layout.js';
import { FATES } from '../../src/kernel/tally.js';
import { prepareScene } from '../../src/prepare.js';
import { runScene } from '../../src/run/run.js';
import type { RunOptions, RunOutcome } from '../../src/run/types.js';
import { momentOf } from '../../src/sun/direction.js';
import { sevenStripDish } from '../support/scenes.js';

// Fourteen threads each compile the sources for themselves, which a busy machine does slowly.
vi.setConfig({ testTimeout: 400_000 });

const wish = (changes: Partial<RunOptions>): RunOptions => ({
  seed: 'whole',
  rays: 3e5,
  target: null,
  maxRays: 1e7,
  workers: 0,
  ...changes,
});

function preparedRow() {
  const scene = sevenStripDish({ row: { dishes: 3 } });
  return prepareScene(scene, layOut(scene), momentOf(scene));
}

function sameBytes(one: RunOutcome, other: RunOutcome): boolean {
  return (
    one.slots.length === other.slots.length &&
    one.slots.every((slot, index) => Buffer.from(slot.buffer).equals(Buffer.from(other.slots[index].buffer)))
  );
}

it('three dishes leave the same bytes on the real kernel for 0, 1, 2, 3 and 8 workers', async () => {
  const prepared = preparedRow();
  const reference = await runScene(prepared, wish({}));
  expect(reference.slots).toHaveLength(32);
  const { layout } = prepared;
  const launched = reference.slots.reduce(
    (sum, slot) =>
      sum + slot.subarray(layout.counts, layout.counts + layout.groups * FATES).reduce((a, b) => a + b),
    0,
  );
  expect(launched).toBe(reference.rays);
  for (const workers of [1, 2, 3, 8]) {
    const outcome = await runScene(prepared, wish({ workers }));
    expect(sameBytes(outcome, reference)).toBe(true);
  }
  // Sabotage: another seed does not.
  expect(sameBytes(await runScene(prepared, wish({ seed: 'hole' })), reference)).toBe(false);
});

it('a run to a target stops at the same batch with and without workers', async () => {
  const prepared = preparedRow();
  const here = await runScene(prepared, wish({ target: 0.001 }));
  const threads = await runScene(prepared, wish({ target: 0.001, workers: 2 }));
  expect(here.targetReached).toBe(true);
  expect(threads.batches).toBe(here.batches);
  expect(sameBytes(threads, here)).toBe(true);
});
