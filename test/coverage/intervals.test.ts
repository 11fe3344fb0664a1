/**
 * Do stated 95 % intervals hold the truth in 95 of 100 runs of the real kernel? 200 seeds of two scenes here; 1,000 seeds of all
 * cases with ROWFOCUS_FULL=1 (`npm run check:full`), which prints its table and writes nothing.
 */
import { describe, expect, it } from 'vitest';
import { coverageOf, coverageTable, type Held, prepareDemo, traceCase } from './campaign.js';
import { CASES, CONSERVATIVE } from './cases.js';

/** What the project promises, as shares of the runs. */
const LEAST = 0.93;
const MOST = 0.97;

const nameOf = (row: Held) => `${row.scene}: ${row.figure}`;
const isConservative = (row: Held) => CONSERVATIVE.some(({ rows }) => rows.test(nameOf(row)));

describe('stated 95 % intervals, 200 seeds', () => {
  const SEEDS = 200;
  /**
   * Two binomial standard deviations of 200 trials at 93 % (1.8 %) below the promise. There is no upper bound: two standard
   * deviations above 97 % is nearly all of them.
   */
  const least = Math.ceil(SEEDS * (LEAST - 2 * Math.sqrt((LEAST * (1 - LEAST)) / SEEDS)));
  const scenes = [
    { name: 'one-dish', set: ['dishes.seven.receiver.cells=36'], rays: 1.2e4 },
    { name: 'paraboloid', set: ['receivers[0].cells=40'], rays: 1e4 },
  ];

  it.each(scenes)('$name: hold the truth, and errors x 0.6 are found out', async ({ name, set, rays }) => {
    const rows = await coverageOf(await traceCase(name, prepareDemo(name, ...set), rays), SEEDS);
    expect(rows.length).toBeGreaterThan(12);
    for (const row of rows) {
      expect(row.held, nameOf(row)).toBeGreaterThanOrEqual(least);
      // Sabotage: standard errors cut to 0.6 of themselves cover some 77 %.
      // At this ray count some ten rays are blocked: Wilson's interval, wider than it need be, hides that.
      const few = row.figure === 'blocked fraction';
      if (!few && !isConservative(row))
        expect(row.sabotaged[0.6], `${nameOf(row)}, sabotaged`).toBeLessThan(least);
    }
  });
});

if (process.env.ROWFOCUS_FULL === '1') {
  describe('stated 95 % intervals, 1,000 seeds', () => {
    const SEEDS = 1000;
    /** None of the seeds that any constant of an estimator was chosen by (1 to 1000, 3001 to 3400, 5001 to 5300, 6001 to 6500). */
    const FIRST = 20001;
    it.each(CASES.map(({ name, make }) => ({ name, make })))(
      '$name: 93 to 97 % hold the truth, and errors x 0.8 are found out',
      async ({ make }) => {
        const rows = await coverageOf(await make(), SEEDS, FIRST);
        console.log(coverageTable(rows));
        for (const row of rows) {
          expect.soft(row.held, nameOf(row)).toBeGreaterThanOrEqual(LEAST * SEEDS);
          if (isConservative(row)) continue;
          expect.soft(row.held, nameOf(row)).toBeLessThanOrEqual(MOST * SEEDS);
          // With three slots Student's t is so wide (4.3) that errors x 0.8 still cover 92 to 94 %: there, x 0.6.
          const factor = /3 slots left/.test(row.scene) ? 0.6 : 0.8;
          expect.soft(row.sabotaged[factor], `${nameOf(row)}, sabotaged`).toBeLessThan(LEAST * SEEDS);
        }
      },
      3_600_000,
    );
  });
}
