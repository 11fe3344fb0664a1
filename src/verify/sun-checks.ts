/**
 * The sun: where it stands, and its shape, seen through a flat mirror chip on a far sheet of paper (a flat mirror shows the
 * sun as it is).
 */
import {
  angularRms,
  concentration,
  interceptFactor,
  lightInRing,
  reflectanceIntoOpening,
  reflectedPower,
  roundRms,
  scaled,
} from './reading.js';
import type { Check, Fault, Source } from './types.js';

const HALF_ANGLE = 4.65;
const DEGREES = Math.PI / 180;
const DISTANCE = 100;
const RAYS = 2 ** 18;
const PRINTED = 1e-5;
/**
 * Light inside a circle is a matter of the sun's radius alone here, so each of 32 batches counts it to the nearest whole ray
 * of its 8192, which the spread of the batches may hide: four times 0.5 / 8192 / sqrt(32).
 */
const GRAIN = (4 * 0.5) / (RAYS / 32) / Math.sqrt(32);
/**
 * The expected values are integrals over a plane, the trace is on the sphere and has the cosine of the receiver: light at an
 * angle counts less by 2/3 of the angle's square, which moves up to 4.4e-5 of an aureole's light inwards.
 */
const PLANE = 4.4e-5;
const GRAIN_WORDS = 'last digit of the expected value, and one ray in a batch';
const PLANE_WORDS = `${GRAIN_WORDS}; integrals over a plane in place of the sphere`;

const WIDER: Fault = { fault: 'a half angle of 1.02 x', set: ['sun.sunshape.half_angle_mrad=4.743'] };
const REDA: Source = {
  kind: 'publication',
  text: 'Reda & Andreas, Solar Energy 76 (2004) 577, worked example of its appendix A.5, as quoted by public tests of it',
};
const BUIE: Source = {
  kind: 'from memory',
  text: 'constants of the profile of Buie, Monger & Dey, Solar Energy 74 (2003) 113; integrated here, and at 0.1 the integral gives back the ratio the formula is named by',
};

function enclosed(
  part: Pick<Check, 'name' | 'what' | 'expected' | 'source'> & Partial<Check>,
  fault: Fault = WIDER,
): Check {
  return {
    group: 'The sun',
    scenes: [part.name],
    rays: RAYS,
    judged: 'sampled',
    unit: '1',
    tolerance: PRINTED + GRAIN,
    tolerated: GRAIN_WORDS,
    read: interceptFactor,
    sabotage: fault,
    ...part,
  };
}

const aureole = (part: Pick<Check, 'name' | 'what' | 'expected'> & Partial<Check>, fault: Fault): Check =>
  enclosed({ tolerance: PRINTED + GRAIN + PLANE, tolerated: PLANE_WORDS, source: BUIE, ...part }, fault);

function ratio(value: number): Fault {
  return { fault: `a circumsolar ratio of ${value}`, set: [`sun.sunshape.circumsolar_ratio=${value}`] };
}

/** The outermost ray of each batch stands for up to all of the square of the angle to the edge; four times over. */
function spreadGrain(expected: number, reach: number): number {
  return reach ** 2 / (RAYS / 32) / Math.sqrt(12 * 32) / expected;
}

function spread(
  part: Pick<Check, 'name' | 'what' | 'expected' | 'source'>,
  reach: number,
  model: number,
  fault: Fault,
): Check {
  return enclosed(
    {
      ...part,
      unit: 'mrad',
      tolerance: model * part.expected + spreadGrain(part.expected, reach),
      tolerated: 'cells of the map, and one ray in a batch',
      read: roundRms(DISTANCE),
    },
    fault,
  );
}

const sunPosition = (
  part: Pick<Check, 'name' | 'what' | 'expected'>,
  key: 'azimuth_deg' | 'elevation_deg',
): Check => ({
  ...part,
  group: 'The sun',
  scenes: ['sun-position'],
  rays: 1024,
  judged: 'exact',
  unit: 'degrees',
  tolerance: 3e-4,
  tolerated: 'what the publication claims of its own algorithm',
  read: ([{ summary }]) => ({ value: summary.result.sun[key], std_err: 0 }),
  source: REDA,
  sabotage: { fault: 'one second later', set: ['sun.date_time="2003-10-17T12:30:31-07:00"'] },
});

/**
 * Light between 0.95 and 1.05 of 10 mrad: brightness there (relative to the centre) x mean over the ring of (t / 10)^gamma,
 * weighted by area, x ring area, over the integral of the profile (57.9608 mrad^2 for the disc, which holds all but the
 * circumsolar ratio).
 */
function ringAt10(brightness: number, gamma: number, circumsolarRatio: number): number {
  const power = gamma + 2;
  const weight = (2 * Math.PI * 10 ** 2 * (1.05 ** power - 0.95 ** power)) / power;
  return (brightness * weight * (1 - circumsolarRatio)) / 57.9608;
}

/** Share inside x half angles of a limb-darkened disc: its even part and its darkened part, over the mean 1 - u/3. */
function limbDarkenedInside(u: number, x: number): number {
  return (x ** 2 * (1 - u + ((2 * u) / 3) * ((1 - (1 - x ** 2) ** 1.5) / x ** 2))) / (1 - u / 3);
}

export const SUN_CHECKS: readonly Check[] = [
  sunPosition(
    {
      name: 'sun-azimuth',
      what: 'azimuth of the sun on 17 October 2003, 12:30:30 (UTC-7), at 39.742476 N 105.1786 W',
      expected: 194.340241,
    },
    'azimuth_deg',
  ),
  sunPosition(
    {
      name: 'sun-elevation',
      what: 'elevation of the sun then and there (17 October 2003), refraction at 820 hPa and 11 C included',
      expected: 39.888378,
    },
    'elevation_deg',
  ),
  {
    name: 'sun-incidence',
    group: 'The sun',
    what: 'incidence of the sun then and there (17 October 2003) on a plane tilted by 30 degrees, 10 degrees east of south',
    scenes: ['sun-incidence'],
    rays: 1024,
    judged: 'exact',
    expected: 25.187,
    unit: 'degrees',
    // Both angles of the sun may be off by as much as the publication claims.
    tolerance: 3e-4 * Math.SQRT2,
    tolerated: 'what the publication claims of its own algorithm, in both angles of the sun',
    // A perfect mirror of 1 m2 under 800 W/m2.
    read: (traces) => ({ value: Math.acos(reflectedPower(traces).value / 800) / DEGREES, std_err: 0 }),
    source: REDA,
    sabotage: { fault: 'a tilt of 30.001 degrees', set: ['facets.mirror.facing.elevation_deg=59.999'] },
  },
  enclosed({
    name: 'sun-disc-enclosed',
    what: 'an even sun holds a quarter of its light inside half its radius',
    expected: 0.25,
    source: { kind: 'closed form', text: '(t / half angle)^2, the share of the area' },
  }),
  enclosed({
    name: 'sun-disc-band',
    what: 'light of an even sun in a band as wide as its radius, through its middle',
    expected: 0.608998,
    source: {
      kind: 'closed form',
      text: 'area of a band of a disc: (2 / pi)(u sqrt(1 - u^2) + asin u), u = 1/2',
    },
  }),
  spread(
    {
      name: 'sun-disc-rms',
      what: 'spread per axis of an even sun of 4.65 mrad',
      expected: 2.325,
      source: { kind: 'closed form', text: 'half angle / 2, from the second moment of a disc' },
    },
    HALF_ANGLE,
    1e-4,
    WIDER,
  ),
  enclosed({
    name: 'sun-disc-radiance',
    what: 'radiance of an even sun over its irradiance, per steradian',
    expected: 14_721.3,
    unit: '1/sr',
    // A flat sheet shows the disc in tan(angle): 1/(pi tan^2) in place of 1/(pi sin^2), 2e-5 less.
    tolerance: 14_721.3 * (2.2e-5 + GRAIN / 0.185),
    tolerated: 'the sheet is flat; one ray in a batch',
    // The solid angle of the chip as the sheet sees it.
    read: scaled(concentration, DISTANCE ** 2 / (0.0002 ** 2 * Math.cos(Math.PI / 18))),
    source: {
      kind: 'closed form',
      text: '1 / (pi sin^2(half angle)): irradiance is radiance times solid angle, with its cosine',
    },
  }),
  spread(
    {
      name: 'sun-limb-darkened-rms',
      what: 'spread per axis of a limb-darkened sun, u = 0.56',
      expected: 2.21571,
      source: {
        kind: 'closed form',
        text: 'second moment of 1 - u (1 - mu): half angle sqrt(((1 - u)/2 + 4u/15) / (1 - u/3)) / sqrt 2',
      },
    },
    HALF_ANGLE,
    1e-4,
    WIDER,
  ),
  enclosed({
    name: 'sun-limb-darkened-centre',
    what: 'light inside 1 mrad of a limb-darkened sun, u = 0.56',
    expected: limbDarkenedInside(0.56, 1 / HALF_ANGLE),
    source: {
      kind: 'closed form',
      text: 'integral of 1 - u (1 - mu) over the inner circle, over that of the whole disc',
    },
  }),
  enclosed(
    {
      name: 'sun-gaussian-90',
      what: 'a bell-shaped sun holds 90 % of its light inside 2.14597 of its spreads',
      expected: 0.9,
      source: { kind: 'closed form', text: 'integral of a round bell: 1 - exp(-r^2 / (2 sigma^2))' },
    },
    { fault: 'a sun of 1.01 x', set: ['sun.sunshape.sigma_mrad=4.04'] },
  ),
  aureole(
    {
      name: 'circumsolar-ratio-05',
      what: 'light inside 4.65 mrad at a true circumsolar ratio of 0.05',
      expected: 0.95,
      source: { kind: 'closed form', text: '1 - ratio: what the true ratio means' },
    },
    ratio(0.0525),
  ),
  aureole(
    {
      name: 'circumsolar-ratio-40',
      what: 'light inside 4.65 mrad at a true circumsolar ratio of 0.4',
      expected: 0.6,
      source: { kind: 'closed form', text: '1 - ratio: what the true ratio means' },
    },
    ratio(0.404),
  ),
  aureole(
    {
      name: 'circumsolar-10-mrad',
      what: 'light inside 10 mrad of a sun with a true circumsolar ratio of 0.04313 (0.05 in the formula)',
      expected: 0.97513,
    },
    ratio(0.05),
  ),
  aureole(
    {
      name: 'circumsolar-20-mrad',
      what: 'light inside 20 mrad of a sun with a true circumsolar ratio of 0.18714 (0.2 in the formula)',
      expected: 0.9603,
    },
    ratio(0.2),
  ),
  spread(
    {
      name: 'circumsolar-rms',
      what: 'spread per axis of a circumsolar sun of true ratio 0.1, out to 43.6 mrad',
      expected: 4.36946,
      source: BUIE,
    },
    43.6,
    1e-3,
    ratio(0.102),
  ),
  aureole(
    {
      name: 'circumsolar-centre',
      what: 'light inside 1 mrad of a sun with a true circumsolar ratio of 0.18714: its centre is 0.95266 as bright as an even sun of equal irradiance',
      // The disc of the profile falls off as 1 - 0.005706 t^2: half of that on the mean over 1 mrad.
      expected: 0.95266 * (1 / HALF_ANGLE) ** 2 * (1 - 0.002853),
    },
    ratio(0.2),
  ),
  aureole(
    {
      name: 'circumsolar-ring',
      what: 'light between 9.5 and 10.5 mrad of a sun with a true circumsolar ratio of 0.10027 (0.1 in the formula)',
      expected: ringAt10(0.00521746, -2.516586, 0.10027),
      read: lightInRing,
      tolerance: GRAIN * Math.SQRT2,
      tolerated: 'one ray in a batch at both edges of the ring',
    },
    ratio(0.103),
  ),
];

const PETTIT: Source = {
  kind: 'closed form',
  text: 'sum over the lobes of R (1 - exp(-t^2 / (2 s^2))); two lobes as Pettit, Solar Energy 19 (1977) 733, has them (from memory), of an invented film',
};

/** A film's scatter under a point sun, on the same sheet of paper. */
export const SCATTER_CHECKS: readonly Check[] = [
  enclosed(
    {
      name: 'film-two-lobes-narrow',
      group: 'Film and slope errors',
      what: 'reflectance into 3.5 mrad of a film of two lobes: 0.65 in 1.5 mrad, 0.22 in 6 mrad',
      expected: 0.6417,
      read: reflectanceIntoOpening,
      source: PETTIT,
    },
    { fault: 'the narrow lobe of 1.02 x', set: ['films.film.lobes[0].sigma_mrad=1.53'] },
  ),
  enclosed(
    {
      name: 'film-two-lobes-wide',
      group: 'Film and slope errors',
      what: 'reflectance into 12.5 mrad of a film of two lobes: 0.65 in 1.5 mrad, 0.22 in 6 mrad',
      expected: 0.84488,
      read: reflectanceIntoOpening,
      source: PETTIT,
    },
    { fault: 'the wide lobe of 1.02 x', set: ['films.film.lobes[1].sigma_mrad=6.12'] },
  ),
  enclosed(
    {
      name: 'film-one-lobe',
      group: 'Film and slope errors',
      what: 'share of a lobe of 3 mrad inside 7.5 mrad: scatter counts once, never twice',
      expected: 0.95606,
      source: { kind: 'closed form', text: 'integral of a round bell: 1 - exp(-t^2 / (2 s^2))' },
    },
    { fault: 'scatter of 1.02 x', set: ['films.film.specularity_mrad=3.06'] },
  ),
  {
    name: 'errors-in-quadrature',
    group: 'Film and slope errors',
    what: 'beam spread of a sun of 2.8, slope error 5 and scatter 3 mrad, in the plane of incidence',
    scenes: ['errors-in-quadrature'],
    rays: 2 ** 17,
    judged: 'sampled',
    expected: 10.80926,
    unit: 'mrad',
    tolerance: 1e-3 * 10.80926,
    tolerated: 'the tangent of an angle in place of the angle: the square of some 30 mrad',
    read: angularRms('v', DISTANCE),
    source: {
      kind: 'closed form',
      text: 'sqrt(sun^2 + (2 slope)^2 + scatter^2): squares of independent spreads add, a mirror turned by s turns light by 2 s',
    },
    sabotage: { fault: 'a slope error of 1.01 x', set: ['films.film.slope_error_mrad=5.05'] },
  },
  ...(
    [
      ['tangential', 'v', 6, 'in the plane of incidence: twice the slope error, 2 s'],
      ['sagittal', 'u', 3, 'across the plane of incidence: 2 s cos i, not 2 s'],
    ] as const
  ).map(
    ([name, axis, expected, words]): Check => ({
      name: `errors-${name}`,
      group: 'Film and slope errors',
      what: `beam spread by a slope error of 3 mrad, 60 degrees off, ${words}`,
      scenes: ['errors-factor-two'],
      rays: 2 ** 17,
      judged: 'sampled',
      expected,
      unit: 'mrad',
      tolerance: 1e-3 * expected,
      tolerated: 'the tangent of an angle in place of the angle',
      read: angularRms(axis, DISTANCE),
      source: {
        kind: 'closed form',
        text: 'reflection at a normal turned by s in, and across, the plane of incidence',
      },
      sabotage: { fault: 'a slope error of 1.01 x', set: ['films.film.slope_error_mrad=3.03'] },
    }),
  ),
];
