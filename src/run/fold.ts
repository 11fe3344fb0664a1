/** Sums batch tallies into slots in batch order, so that any number of workers leaves the same bytes. */

/** At this many full slots neighbours are merged, so that memory stays flat however long a run is. */
export const MAX_SLOTS = 64;

/**
 * Slots hold equally many consecutive batches: one each at first, twice as many whenever 64 slots are full. Tallies may
 * come in any order; one that comes too early waits. Every sum is formed in batch order and merged in slot order, so the
 * bytes depend on the number of batches alone.
 */
export class SlotFold {
  readonly #waiting = new Map<number, Float64Array>();
  readonly #onSlotEnd: ((fold: SlotFold) => boolean) | undefined;
  #full: Float64Array[] = [];
  #filling: Float64Array | null = null;
  #inFilling = 0;
  #batchesPerSlot = 1;
  #folded = 0;
  #sealed = false;

  /**
   * @param onSlotEnd called in batch order each time all slots hold equally many batches; true ends the fold: what comes
   *   later is dropped
   */
  constructor(onSlotEnd?: (fold: SlotFold) => boolean) {
    this.#onSlotEnd = onSlotEnd;
  }

  /** Batches added so far, those of an unfinished slot included. */
  get folded(): number {
    return this.#folded;
  }

  get batchesPerSlot(): number {
    return this.#batchesPerSlot;
  }

  /** True once `onSlotEnd` asked to end. */
  get sealed(): boolean {
    return this.#sealed;
  }

  /** Tallies that wait for an earlier batch. */
  get waiting(): number {
    return this.#waiting.size;
  }

  /** The full slots, in batch order. An unfinished slot is not among them. */
  slots(): readonly Float64Array[] {
    return this.#full;
  }

  /**
   * Takes a batch, and with it all later ones that waited for it. The tally belongs to the fold from here on: it becomes
   * a slot's sum.
   * @param batch from 0
   * @throws RangeError for a batch that was taken before or a tally of another length
   */
  accept(batch: number, tally: Float64Array): void {
    if (this.#sealed) return;
    if (batch < this.#folded || this.#waiting.has(batch)) {
      throw new RangeError(`batch ${batch} was counted before`);
    }
    this.#waiting.set(batch, tally);
    for (
      let next = this.#waiting.get(this.#folded);
      next !== undefined && !this.#sealed;
      next = this.#waiting.get(this.#folded)
    ) {
      this.#waiting.delete(this.#folded);
      this.#add(next);
    }
    if (this.#sealed) this.#waiting.clear();
  }

  #add(tally: Float64Array): void {
    if (this.#filling === null) this.#filling = tally;
    else addInto(this.#filling, tally);
    this.#folded++;
    this.#inFilling++;
    if (this.#inFilling < this.#batchesPerSlot) return;

    this.#full.push(this.#filling);
    this.#filling = null;
    this.#inFilling = 0;
    if (this.#full.length === MAX_SLOTS) this.#mergeNeighbours();
    this.#sealed = this.#onSlotEnd?.(this) ?? false;
  }

  #mergeNeighbours(): void {
    const merged: Float64Array[] = [];
    for (let slot = 0; slot < this.#full.length; slot += 2) {
      const sum = this.#full[slot];
      addInto(sum, this.#full[slot + 1]);
      merged.push(sum);
    }
    this.#full = merged;
    this.#batchesPerSlot *= 2;
  }
}

/**
 * Adds a tally to a sum, entry by entry.
 * @throws RangeError for tallies of two lengths: they are of two scenes
 */
export function addInto(sum: Float64Array, tally: Float64Array): void {
  if (sum.length !== tally.length) {
    throw new RangeError(`tallies of ${sum.length} and ${tally.length} entries cannot be added`);
  }
  for (let i = 0; i < sum.length; i++) sum[i] += tally[i];
}
