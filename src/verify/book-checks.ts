/** Books that must close, and changes of a scene that must change nothing, or all alike. */
import type { Ledger } from '../result/types.js';
import type { Traced } from '../study/trace.js';
import { ledgerLine } from './reading.js';
import type { Check, Reading } from './types.js';

const DEGREES = Math.PI / 180;
/** Rounding of a million additions, relative. */
const ROUNDING = 1e-12;
/** Of rows of dishes. */
const RAYS = 2 ** 16;

type Part = Pick<Check, 'name' | 'what' | 'scenes' | 'expected' | 'read' | 'source' | 'sabotage'> &
  Partial<Check>;

function book(part: Part): Check {
  return {
    group: 'Conservation and symmetry',
    rays: RAYS,
    judged: 'exact',
    unit: '1',
    tolerance: ROUNDING,
    tolerated: 'rounding',
    ...part,
  };
}

function exactly(value: number): Reading {
  return { value, std_err: 0 };
}

function watts(ledger: Ledger): number {
  return ledger.lines.reduce((sum, { power }) => sum + power.value, 0);
}

/** Largest difference of a line of the total to the sum over the receivers, over all that is available. */
function largestDifference([{ summary }]: readonly Traced[]): Reading {
  const { total, receivers } = summary.result;
  const differences = total.ledger.lines.map(({ key, power }) => {
    const sum = receivers.reduce((watt, { ledger }) => watt + ledgerLine(ledger, key).value, 0);
    return Math.abs(sum - power.value) / total.ledger.available_w;
  });
  return exactly(Math.max(...differences));
}

const caught = ({ summary }: Traced) => summary.result.total.intercepted_power;

/** Light caught in the second scene over the first, independent draws. */
function caughtRatio([first, second]: readonly Traced[]): Reading {
  const [a, b] = [caught(first), caught(second)];
  const value = b.value / a.value;
  return { value, std_err: value * Math.hypot(a.std_err / a.value, b.std_err / b.value) };
}

/** The same, same draws. */
function sameDrawsRatio(traces: readonly Traced[]): Reading {
  return exactly(caughtRatio(traces).value);
}

const MOVED = (what: string) => ({
  fault: `${what} 0.5 degrees off`,
  set: ['dishes.five.tilt_setting_deg=0.5'],
  scene: 1,
});

/** f = 1 m, rim 45 degrees: (8 pi / 3) f^2 ((1 + R^2 / 4 f^2)^(3/2) - 1), where 1 + R^2 / 4 f^2 is 1 / cos^2(rim / 2). */
const PARABOLOID_AREA = ((8 * Math.PI) / 3) * (Math.cos(22.5 * DEGREES) ** -3 - 1);

export const BOOK_CHECKS: readonly Check[] = [
  book({
    name: 'books-of-rays',
    what: 'rays launched less rays in all lines of the ledger, three dishes in the morning',
    scenes: ['row-morning'],
    expected: 0,
    tolerance: 0,
    tolerated: 'whole numbers',
    read: ([{ summary }]) => {
      const { rays, total } = summary.result;
      return exactly(rays - total.ledger.lines.reduce((sum, line) => sum + (line.rays ?? 0), 0));
    },
    source: { kind: 'closed form', text: 'every ray ends in exactly one place' },
    sabotage: { none: 'no scene may break it' },
  }),
  book({
    name: 'books-of-watts',
    what: 'shaded, absorbed, blocked, caught and spilled light of two mirrors 25 degrees off, together',
    scenes: ['books-of-watts'],
    expected: 2000 * Math.cos(25 * DEGREES),
    unit: 'W',
    tolerance: ROUNDING * 2000,
    read: ([{ summary }]) => {
      const { ledger } = summary.result.total;
      return exactly(watts(ledger) - ledgerLine(ledger, 'cosine').value);
    },
    source: { kind: 'closed form', text: 'G A cos i: no watt is lost or made' },
    sabotage: { fault: 'the sun 0.0001 degrees lower', set: ['sun.elevation_deg=64.9999'] },
  }),
  book({
    name: 'books-of-receivers',
    what: 'largest difference of the total to the sum over the receivers, over all sunlight',
    scenes: ['row-morning'],
    expected: 0,
    read: largestDifference,
    source: { kind: 'closed form', text: 'each mirror serves one receiver' },
    sabotage: { none: 'no scene may break it' },
  }),
  book({
    name: 'mirror-area-paraboloid',
    what: 'surface of a paraboloid, f = 1 m, rim 45 degrees, that the ledger counts with',
    scenes: ['mirror-area-paraboloid'],
    rays: 2 ** 14,
    expected: PARABOLOID_AREA,
    unit: 'm2',
    tolerance: 1e-9,
    tolerated: 'diameter to 12 digits',
    read: ([{ summary }]) => exactly(summary.result.total.mirror_area_m2),
    source: { kind: 'closed form', text: '(8 pi / 3) f^2 ((1 + R^2 / 4f^2)^(3/2) - 1)' },
    sabotage: { fault: 'a diameter of 1.00001 x', set: ['facets.dish.outline.diameter_m=1.65687082'] },
  }),
  book({
    name: 'mirror-image',
    what: 'light caught in the afternoon over that in the morning, the scene being its mirror image',
    scenes: ['row-morning', 'row-afternoon'],
    rays: 2 ** 18,
    judged: 'sampled',
    expected: 1,
    tolerance: 0,
    tolerated: 'nothing',
    read: caughtRatio,
    source: { kind: 'closed form', text: 'east and west are alike' },
    sabotage: MOVED('the afternoon dishes'),
  }),
  book({
    name: 'turned-world',
    what: 'light caught with dishes and sun turned by 37 degrees over that before',
    scenes: ['row-morning', 'row-turned'],
    expected: 1,
    tolerance: 1e-5,
    tolerated: 'same draws; a few rays at an edge may fall to its other side',
    read: sameDrawsRatio,
    source: { kind: 'closed form', text: 'north is a convention' },
    sabotage: MOVED('the turned dishes'),
  }),
  book({
    name: 'scaled-world',
    what: 'light caught at ten times all lengths over a hundred times that before',
    scenes: ['row-morning', 'row-scaled'],
    expected: 1,
    tolerance: 1e-4,
    tolerated: 'same draws, but a body stands 0.1 mm behind its opening at any size',
    read: (traces) => exactly(sameDrawsRatio(traces).value / 100),
    source: { kind: 'closed form', text: 'angles know no lengths' },
    sabotage: MOVED('the larger dishes'),
  }),
  book({
    name: 'half-sun',
    what: 'light caught under half the irradiance over that before',
    scenes: ['row-morning', 'row-half-sun'],
    expected: 0.5,
    read: sameDrawsRatio,
    source: { kind: 'closed form', text: 'light adds up' },
    sabotage: { fault: 'irradiance of 0.50005 x', set: ['sun.dni_w_m2=400.04'], scene: 1 },
  }),
];
