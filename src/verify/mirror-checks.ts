/** Flat mirrors: images, cosine, film reflectance, shade. */

import type { Traced } from '../study/trace.js';
import { interceptFactor, ledgerLine, reflectedPower } from './reading.js';
import type { Check, Reading, Source } from './types.js';

const RAYS = 2 ** 18;
const GRAIN = (4 * 0.5) / (RAYS / 32) / Math.sqrt(32);
const DEGREES = Math.PI / 180;
/** Rounding of a million additions, relative. */
const ROUNDING = 1e-12;
const WIDER = { fault: 'a half angle of 1.02 x', set: ['sun.sunshape.half_angle_mrad=4.743'] };

type Part = Pick<Check, 'name' | 'what' | 'expected' | 'source' | 'sabotage'> & Partial<Check>;

function flat(part: Part): Check {
  return {
    group: 'Flat mirrors',
    scenes: [part.name],
    rays: RAYS,
    judged: 'sampled',
    unit: '1',
    tolerance: 1e-5 + GRAIN,
    tolerated: 'last digit of the expected value, and one ray in a batch',
    read: interceptFactor,
    ...part,
  };
}

/** Nothing may miss. */
function whole(part: Omit<Part, 'expected'>): Check {
  return flat({ judged: 'exact', expected: 1, tolerance: 0, tolerated: 'not one ray may miss', ...part });
}

/** Same for every ray, so that only rounding is left. */
function everyRay(part: Part): Check {
  return flat({
    judged: 'exact',
    rays: 2 ** 17,
    tolerance: ROUNDING * part.expected,
    tolerated: 'rounding',
    ...part,
  });
}

/** The half of the image that holds a quarter of an even image tells how wide the whole is, mm. */
function imageDiameter(traces: readonly Traced[]): Reading {
  const { value, std_err } = interceptFactor(traces);
  const opening = 46.5003 / 2;
  return { value: opening / Math.sqrt(value), std_err: (opening * std_err) / (2 * value ** 1.5) };
}

/** Reflected over what meets the mirrors. */
function reflectance([{ summary }]: readonly Traced[]): Reading {
  const { ledger, reflected_power } = summary.result.total;
  return {
    value: reflected_power.value / (ledger.available_w - ledgerLine(ledger, 'cosine').value),
    std_err: 0,
  };
}

/** Shaded share of the light that would meet the mirrors of the second receiver. */
function shadedShare([{ summary }]: readonly Traced[]): Reading {
  const { ledger } = summary.result.receivers[1];
  const arriving = ledger.available_w - ledgerLine(ledger, 'cosine').value;
  const shaded = ledgerLine(ledger, 'shaded');
  return { value: shaded.value / arriving, std_err: shaded.std_err / arriving };
}

const IMAGE: Source = { kind: 'closed form', text: '2 d tan(half angle), the cone of the sun' };

export const MIRROR_CHECKS: readonly Check[] = [
  whole({
    name: 'flat-image-edge',
    what: 'all light of a point of a flat mirror lies in an image 46.5003 mm wide, 5 m away',
    source: IMAGE,
    sabotage: WIDER,
  }),
  flat({
    name: 'flat-image-diameter',
    what: 'width of the image of a point of a flat mirror 5 m away, from the light in the half of it',
    expected: 46.5003,
    unit: 'mm',
    tolerance: 46.5003 * (1e-5 + 2 * GRAIN),
    tolerated: 'size of the mirror chip, and one ray in a batch',
    read: imageDiameter,
    source: IMAGE,
    sabotage: WIDER,
  }),
  whole({
    name: 'flat-mirror-footprint',
    what: 'a flat mirror 0.1 m wide lights 0.1465 m, 5 m away, and nothing beside it',
    source: { kind: 'closed form', text: 'w + 2 d tan(half angle): the cone of the sun at both edges' },
    sabotage: WIDER,
  }),
  flat({
    name: 'flat-mirror-core',
    what: 'light of a flat mirror 0.1 m wide in the evenly bright core of 0.0535 m, 5 m away',
    expected: 0.535,
    tolerance: 1e-4,
    tolerated: 'width of the core to 0.01 mm',
    source: {
      kind: 'closed form',
      text: '(w - 2 d tan(half angle)) / w: where light of all of the sun comes',
    },
    sabotage: { fault: 'a mirror 0.2 % wider', set: ['facets.chip.outline.length_m=0.1002'] },
  }),
  flat({
    name: 'flat-mirror-edge',
    what: 'light of a flat mirror 0.1 m wide within its own width, 5 m away',
    // Half of the marginal of an even disc lies beyond its middle at each edge: 2 / (3 pi) of its radius.
    expected: 1 - ((0.1465003 - 0.1) * 2) / (3 * Math.PI * 0.1),
    tolerance: 2e-5,
    tolerated: 'length of the mirror',
    source: {
      kind: 'closed form',
      text: '1 - 2 (2 / 3 pi) d tan(half angle) / w: mean reach of half a disc beyond each edge',
    },
    sabotage: WIDER,
  }),
  everyRay({
    name: 'cosine-law',
    what: 'light that 1 m2 of perfect mirror sends on, 40 degrees off a sun of 1000 W/m2',
    expected: 1000 * Math.cos(40 * DEGREES),
    unit: 'W',
    read: reflectedPower,
    source: { kind: 'closed form', text: 'G A cos i' },
    sabotage: { fault: '0.001 degrees more', set: ['sun.elevation_deg=49.999'] },
  }),
  flat({
    name: 'cosine-law-wide-sun',
    what: 'light that 1 m2 of perfect mirror sends on, 60 degrees off a wide, circumsolar sun',
    expected: 500,
    unit: 'W',
    tolerance: 1e-3,
    tolerated: 'one ray in a batch at the rim of the aureole',
    read: reflectedPower,
    source: { kind: 'closed form', text: 'G A cos i: the sun is even about its centre' },
    sabotage: { fault: '0.01 degrees more', set: ['sun.elevation_deg=29.99'] },
  }),
  everyRay({
    name: 'film-factors',
    group: 'Film and slope errors',
    what: 'reflectance 0.84 with soiling 0.95 and ageing 0.97',
    expected: 0.84 * 0.95 * 0.97,
    read: reflectance,
    source: { kind: 'closed form', text: 'product of the three factors' },
    sabotage: { fault: 'soiling 0.9499', set: ['films.film.soiling_factor=0.9499'] },
  }),
  everyRay({
    name: 'film-by-incidence',
    group: 'Film and slope errors',
    what: 'reflectance 0.84 at 30 and 0.78 at 60 degrees of incidence, at 40 degrees',
    expected: 0.82,
    tolerance: 1e-6,
    tolerated: 'steps of the table by angle',
    read: reflectance,
    source: { kind: 'closed form', text: 'linear between the angles given' },
    sabotage: { fault: '0.1 degrees more', set: ['sun.elevation_deg=49.9'] },
  }),
  flat({
    name: 'row-shading',
    what: 'shaded part of a mirror 2 m high, tilt 40, 4 m behind its like, sun 15 degrees high',
    expected: 1 - (4 * Math.sin(15 * DEGREES)) / (2 * Math.sin(55 * DEGREES)),
    tolerance: GRAIN,
    tolerated: 'one ray in a batch',
    read: shadedShare,
    source: {
      kind: 'closed form',
      text: '1 - p sin a / (H sin(b + a)), law of sines; p distance, a height of the sun, H mirror, b tilt',
    },
    sabotage: { fault: 'the rear mirror 1 mm farther', set: ['facets.rear.position_m=[0, 4.001, 0]'] },
  }),
];
