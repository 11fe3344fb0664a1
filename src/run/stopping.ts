/**
 * When a run to a target error may stop. Asked only where all slots hold equally many batches, in batch order, so the
 * answer does not depend on the number of workers.
 */
import { FATES, Fate, type TallyLayout } from '../kernel/tally.js';
import { DEFAULT_BATCHES } from './plan.js';
import { type Estimate, meanEstimate, ratioEstimate } from './statistics.js';

/** A spill fraction known to this is known well enough, however small it is. */
export const SPILL_FLOOR = 1e-4;

type Sums = Pick<TallyLayout, 'groups' | 'watts' | 'incident' | 'absorbed'>;

const SPILLED = [Fate.SpilledOnReceiver, Fate.SpilledOnGround, Fate.SpilledToSky, Fate.InterceptedElsewhere];

/**
 * Spill fraction of all groups together: what met nothing but ground, sky, a receiver's front or another receiver, over
 * the light that left the mirrors (sunlight that would reach them, less what is shaded, less what the film takes).
 * @param slots tallies over equally many batches
 */
export function summedSpill(slots: readonly Float64Array[], layout: Sums): Estimate {
  const spilled = slots.map((tally) => sumOfFates(tally, layout, SPILLED));
  const reflected = slots.map((tally) => {
    let watts = -sumOfFates(tally, layout, [Fate.Shaded]);
    for (let group = 0; group < layout.groups; group++) {
      watts += tally[layout.incident + group] - tally[layout.absorbed + group];
    }
    return watts;
  });
  return ratioEstimate(spilled, reflected);
}

/** Light through all apertures together, watts per slot's batches: summed, not averaged, so only relative errors count. */
export function summedIntercept(slots: readonly Float64Array[], layout: Sums): Estimate {
  return meanEstimate(
    slots.map((tally) => sumOfFates(tally, layout, [Fate.Intercepted, Fate.InterceptedElsewhere])),
  );
}

/**
 * True once the standard error of the summed spill fraction is at most `target` times its value (or SPILL_FLOOR outright) and
 * the relative standard error of the intercepted power is at most `target`. Never before 32 slots are full.
 * @param slots tallies over equally many batches
 * @param target relative standard error, e.g. 0.005
 */
export function reachesTarget(slots: readonly Float64Array[], layout: Sums, target: number): boolean {
  if (slots.length < DEFAULT_BATCHES) return false;
  const spill = summedSpill(slots, layout);
  const intercept = summedIntercept(slots, layout);
  return (
    spill.std_err <= Math.max(target * spill.value, SPILL_FLOOR) &&
    intercept.std_err <= target * intercept.value
  );
}

function sumOfFates(tally: Float64Array, layout: Sums, fates: readonly number[]): number {
  let watts = 0;
  for (let group = 0; group < layout.groups; group++) {
    for (const fate of fates) watts += tally[layout.watts + group * FATES + fate];
  }
  return watts;
}
