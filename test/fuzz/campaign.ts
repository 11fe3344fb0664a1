/** How many cases a campaign tries: few in the normal tests, all of them where the full check is asked for. */
export const FULL = process.env.ROWFOCUS_FULL === '1';

/** Long enough for the full campaigns on a busy machine, ms. */
export const CAMPAIGN_TIMEOUT = FULL ? 6 * 3600_000 : 300_000;

/** Seed of the campaigns, so that a failure comes again; another one looks elsewhere. */
export const SEED = Number(process.env.ROWFOCUS_FUZZ_SEED ?? 20260321);

export function cases(full: number, reduced: number): number {
  return FULL ? full : reduced;
}
