/** Where DNI x mirror area goes, in six shares: the short form of the ledger, for tables over many sun positions. */
import { FATES, Fate, type TallyLayout } from '../kernel/tally.js';
import { BLOCKED_FATES, SPILLED_FATES } from './group.js';

/**
 * Shares of DNI x mirror area, in the order of the light's way; they sum to 1. `cosine` holds mirrors that face away, `blocking`
 * what is lost between mirrors, `spill` what misses the opening of its own receiver less what another receiver catches.
 */
export const SHARES = ['caught', 'cosine', 'shading', 'film', 'blocking', 'spill'] as const;
export type ShareName = (typeof SHARES)[number];

/**
 * @param tally of one batch
 * @param full DNI x mirror area of the groups, W
 * @returns in the order of SHARES
 */
export function sharesOfTally(
  layout: TallyLayout,
  tally: Float64Array,
  groups: readonly number[],
  full: number,
): number[] {
  let incident = 0;
  let absorbed = 0;
  let stray = 0;
  const watts = new Float64Array(FATES);
  for (const group of groups) {
    incident += tally[layout.incident + group];
    absorbed += tally[layout.absorbed + group];
    stray += tally[layout.strayWatts + group];
    for (let fate = 0; fate < FATES; fate++) watts[fate] += tally[layout.watts + group * FATES + fate];
  }
  const sum = (fates: readonly number[]) => fates.reduce((total, fate) => total + watts[fate], 0);
  const shading = watts[Fate.Shaded] / full;
  const film = absorbed / full;
  const blocking = (sum(BLOCKED_FATES) + watts[Fate.Lost]) / full;
  const caught = (watts[Fate.Intercepted] + stray) / full;
  const spill = (sum(SPILLED_FATES) - stray) / full;
  return [caught, 1 - incident / full, shading, film, blocking, spill];
}
