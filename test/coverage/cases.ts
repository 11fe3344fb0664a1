/** What the campaign runs: unlike scenes, each with the figures that it can go wrong on. */
import {
  type Case,
  compareCase,
  interruptedCase,
  prepareDemo,
  stoppedCase,
  sweepCase,
  traceCase,
} from './campaign.js';

/** Makes a case; scenes are prepared only when it is their turn. */
export interface NamedCase {
  readonly name: string;
  readonly make: () => Promise<Case>;
}

const one = (name: string, make: (name: string) => Promise<Case> | Case): NamedCase => ({
  name,
  make: async () => make(name),
});

const DIAMETER = 'dishes.seven.receiver.aperture.diameter_m';
const SLOPE = 'films.roll_a.slope_error_across_mrad';

/** Fewer map cells: a thousand runs cost less. */
const COARSE = 'dishes.seven.receiver.cells=45';
const COARSE_LINE = 'receivers[0].cells=[90, 15]';

/** Three dishes and a coarser map: a fifth of the cost, the same choice among alike receivers. */
const SHORT_ROW = ['rows[0].dishes=3', 'dishes.seven.receiver.cells=36'];

const swept = (file: string, path: string, values: readonly number[]) =>
  values.map((value) => ({ value, prepared: prepareDemo(file, COARSE, `${path}=${value}`) }));

const openingCase = (name: string, diameters: readonly number[]): Case =>
  sweepCase(
    name,
    DIAMETER,
    swept('one-dish', DIAMETER, diameters),
    swept('one-dish', DIAMETER, [0.14, 0.15, 0.16, 0.17, 0.18]),
    ['spill<=5%', 'mean_flux>=38'],
    2e4,
  );

export const CASES: readonly NamedCase[] = [
  one('one-dish', (name) => traceCase(name, prepareDemo('one-dish', COARSE), 3e4)),
  one('badly-built', (name) => traceCase(name, prepareDemo('badly-built', COARSE), 2e4)),
  one('line-receiver', (name) => traceCase(name, prepareDemo('line-receiver', COARSE_LINE), 4e4)),
  one('paraboloid', (name) => traceCase(name, prepareDemo('paraboloid'), 2e4)),
  one('row-mid-morning', (name) => traceCase(name, prepareDemo('row-mid-morning', ...SHORT_ROW), 2.4e4)),
  one('trough-tube', (name) =>
    traceCase(name, prepareDemo('trough-tube', 'receivers[0].peak_disc_m=0.07'), 3e4),
  ),
  one('one-dish, 3 slots left', (name) => interruptedCase(name, prepareDemo('one-dish', COARSE), 1e5, 3)),
  one('one-dish, run to a target', (name) => stoppedCase(name, prepareDemo('one-dish', COARSE), 6e3, 0.04)),
  one('two films', (name) =>
    compareCase(name, prepareDemo('one-dish', COARSE), prepareDemo('badly-built', COARSE), 2e4),
  ),
  one('line plate, two slope errors', (name) =>
    compareCase(
      name,
      prepareDemo('line-receiver', COARSE_LINE),
      prepareDemo('line-receiver', COARSE_LINE, `${SLOPE}=6`),
      4e4,
    ),
  ),
  one('sweep of the opening', (name) => openingCase(name, [0.144, 0.156, 0.168, 0.18])),
  one('sweep of the opening, three points', (name) => openingCase(name, [0.14, 0.16, 0.18])),
  one('sweep of the slope error', (name) =>
    sweepCase(
      name,
      SLOPE,
      swept('one-dish', SLOPE, [5, 9, 13, 17]),
      swept('one-dish', SLOPE, [5, 7, 9, 11, 13, 15, 17]),
      ['spill<=15%', 'peak>=100'],
      2e4,
    ),
  ),
];

/** Figures whose intervals hold the truth more often than stated, and why that is right. Names are "case: figure". */
export const CONSERVATIVE: readonly { readonly rows: RegExp; readonly reason: string }[] = [
  { rows: /cell, 2 rays/, reason: 'a Poisson count of 2 has no interval that covers 95 % from both sides' },
  {
    rows: /cell, 15 rays|^paraboloid.*: cell/,
    reason:
      'counts of some 10 to 25 are skew: an interval alike to both sides must be as wide as its upper side asks',
  },
  {
    rows: /run to a target: blocked/,
    reason: 'some ten rays are blocked in a run',
  },
  {
    rows: /^line-receiver: peak/,
    reason:
      'the top of the map is level along the line: the two places chosen differ by noise alone, and the place error has that in',
  },
  {
    rows: /^line plate, two slope errors: difference: peak/,
    reason: 'the same, and the place errors of both peaks are added as if independent',
  },
  {
    rows: /^sweep of the opening, three points: tolerance/,
    reason:
      'a parabola through three points: the interval has the whole bend in, of which it misses but a part',
  },
  {
    rows: /3 slots left: (blocked|cell)/,
    reason:
      "what few rays add to an error is known, but is taken times Student's t of two degrees of freedom (4.3)",
  },
  {
    rows: /^((paraboloid).*: spill|(paraboloid|trough-tube|line-receiver).*: blocked) fraction/,
    reason: 'no ray spilled or blocked: an upper limit, and the truth is 0 or nearly 0',
  },
  {
    rows: /^paraboloid.*: intercepted power/,
    reason: 'all rays are caught, but a run can rule out no more than one ray in as many as it traced',
  },
];
