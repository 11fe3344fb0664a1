/** Where receivers that follow the sun freely stand over a day: the best place of each step, and of the best the smoothest run. */
import { add, addScaled, dot, norm, scale, subtract } from '../field/vector.js';
import { caughtAt } from './catch.js';
import type { Light } from './light.js';
import type { Offset } from './moving.js';
import { bestPlace, type Free } from './placement.js';

/** A step with the light of its sun. */
export interface LitStep {
  /** Milliseconds. */
  readonly time: number;
  readonly light: Light;
}

export interface FollowedPlace {
  readonly offset: Offset;
  /** The best place found, before the run was smoothed. */
  readonly best: Offset;
  /** Watts that recorded light brings to both. */
  readonly caught: number;
  readonly most: number;
}

export interface Following {
  /** One per step. */
  readonly places: readonly FollowedPlace[];
  /** Steps at which the best place was also looked for from nothing. */
  readonly searched: number;
}

export interface FollowOptions {
  readonly free?: Free;
  /** From each so-many-eth step the best place is looked for everywhere, not only near that of the step before. */
  readonly searchEvery?: number;
  /** Called between steps, so that a Ctrl-C is heard. False ends the work. */
  readonly onStep?: () => Promise<boolean>;
}

/**
 * Of the power caught, what is given away for a smooth run. Where an optimum is flat, the best place by some thousand rays jumps by
 * centimetres from step to step, for nothing.
 */
const GIVEN_AWAY = 0.001;
/** A search from nothing must find this much more before it takes the place of the neighbour's. */
const CLEARLY_MORE = 0.0003;
const SMOOTHING_ROUNDS = 12;
/** Farther from the next step's place than so many times the usual distance: the next step's place is tried here as well. */
const JUMP = 2.5;

/** A step that catches less than this part of what the step before did has lost its spot. */
const LOST = 0.7;

/** Where less than this part of the light is caught, there are several tops, and the best changes from step to step. */
const SPARSE = 0.5;

/** A place of one step's light carried over to another's: as far along the new beam, and as far beside it. */
function carriedOver(place: Offset, { beam: from }: Light, { beam: to }: Light): Offset {
  const way = subtract(place, from.from);
  const along = dot(way, from.along);
  return add(addScaled(to.from, to.along, along), addScaled(way, from.along, -along));
}

interface Found {
  offset: Offset;
  most: number;
}

/**
 * Best places of neighbouring steps, each found from the one before and, at some steps, from nothing, so that a better place
 * elsewhere is not missed; then the smoothest run among the places that catch within 0.1 % of the best.
 *
 * @param steps in order of time; each with light
 * @returns null where `onStep` ended the work
 */
export async function followFreely(
  steps: readonly LitStep[],
  { free, searchEvery = 4, onStep = async () => true }: FollowOptions = {},
): Promise<Following | null> {
  const ways = free === undefined ? {} : { free };
  const found: Found[] = [];
  let searched = 0;
  const shareAt = (index: number): number => (found[index]?.most ?? 0) / steps[index].light.power;
  const lookEverywhere = (index: number): void => {
    const cold = bestPlace(steps[index].light, ways);
    searched++;
    if (cold !== null && cold.caught > (1 + CLEARLY_MORE) * (found[index]?.most ?? 0)) {
      found[index] = { offset: cold.offset, most: cold.caught };
    }
  };
  for (const [index, { light }] of steps.entries()) {
    if (!(await onStep())) return null;
    if (index > 0) {
      const near = bestPlace(light, {
        near: carriedOver(found[index - 1].offset, steps[index - 1].light, light),
        ...ways,
      });
      if (near !== null) found[index] = { offset: near.offset, most: near.caught };
    }
    const lost = index > 0 && shareAt(index) < LOST * shareAt(index - 1);
    const sparse = shareAt(index) < SPARSE;
    if (index % searchEvery === 0 || index === steps.length - 1 || lost || sparse) lookEverywhere(index);
  }
  // Backwards where places lie far apart: the better of two optima may have been met only after the change.
  const gaps = found.slice(1).map(({ offset }, i) => norm(subtract(offset, found[i].offset)));
  const usual = [...gaps].sort((a, b) => a - b)[gaps.length >> 1] ?? 0;
  for (let index = steps.length - 2; index >= 0; index--) {
    if (!(norm(subtract(found[index + 1].offset, found[index].offset)) > JUMP * usual)) continue;
    if (!(await onStep())) return null;
    const { light } = steps[index];
    const near = bestPlace(light, {
      near: carriedOver(found[index + 1].offset, steps[index + 1].light, light),
      ...ways,
    });
    if (near !== null && near.caught > (1 + CLEARLY_MORE) * found[index].most) {
      found[index] = { offset: near.offset, most: near.caught };
    }
  }
  return { places: smoothed(steps, found), searched };
}

/** Where the straight line between a step's neighbours runs at its time; at the ends, the line of the two next to it. */
function betweenNeighbours(
  steps: readonly LitStep[],
  places: readonly Offset[],
  index: number,
): Offset | null {
  const last = steps.length - 1;
  if (last < 2) return null;
  const [a, b] = index === 0 ? [1, 2] : index === last ? [last - 2, last - 1] : [index - 1, index + 1];
  const share = (steps[index].time - steps[a].time) / (steps[b].time - steps[a].time);
  return addScaled(places[a], subtract(places[b], places[a]), share);
}

/** Each place in turn moves towards the line between its neighbours, as far as it still catches within GIVEN_AWAY of its best. */
function smoothed(steps: readonly LitStep[], found: readonly Found[]): FollowedPlace[] {
  const places = found.map(({ offset }) => offset);
  for (let round = 0; round < SMOOTHING_ROUNDS; round++) {
    let farthest = 0;
    for (const [index, { light }] of steps.entries()) {
      const wanted = betweenNeighbours(steps, places, index);
      if (wanted === null) continue;
      const way = subtract(wanted, places[index]);
      const enough = (1 - GIVEN_AWAY) * found[index].most;
      for (const part of [1, 0.5, 0.25, 0.1]) {
        const trial = add(places[index], scale(way, part));
        if (caughtAt(light, trial) < enough) continue;
        farthest = Math.max(farthest, part * norm(way));
        places[index] = trial;
        break;
      }
    }
    if (farthest < 5e-4) break;
  }
  return places.map((offset, index) => ({
    offset,
    best: found[index].offset,
    caught: caughtAt(steps[index].light, offset),
    most: found[index].most,
  }));
}
