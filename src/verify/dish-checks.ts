/** Point focus: paraboloids on their axis, and the limits of concentration. */
import { concentration, interceptFactor, scaled } from './reading.js';
import type { Check, Fault, Source } from './types.js';

const RAYS = 2 ** 17;
const WIDER: Fault = { fault: 'a half angle of 1.02 x', set: ['sun.sunshape.half_angle_mrad=4.743'] };
const steeper = (value: number): Fault => ({
  fault: `a slope error of ${value} mrad, 3 % more`,
  set: [`films.film.slope_error_mrad=${value}`],
});

type Part = Pick<Check, 'name' | 'what' | 'expected' | 'source' | 'sabotage'> & Partial<Check>;

function dish(part: Part): Check {
  return {
    group: 'Point focus',
    scenes: [part.name],
    rays: RAYS,
    judged: 'sampled',
    unit: '1',
    tolerance: 0,
    tolerated: 'nothing',
    read: interceptFactor,
    ...part,
  };
}

const CENTRE: Source = {
  kind: 'closed form',
  text: 'sin^2(rim) / sin^2(half angle): seen from the focus the mirror is as bright as the sun',
};
const ENCIRCLED: Source = {
  kind: 'closed form',
  text: 'integral over the mirror with exact reflection, by quadrature; a trace written apart agrees',
};
const RING: Source = {
  kind: 'closed form',
  text: 'elliptic bells of all rings of the dish, of first order, in a circle, by quadrature; a trace written apart agrees',
};

/** Mean over the central disc of 3 mm radius against its centre: quadrature over the rings of the dish, see below. */
const DISC_OVER_CENTRE = gaussianDiscOverCentre(Math.PI / 4, 3, 10);

/**
 * Each ring at phi throws a spot p sigma / cos(phi) long and p sigma wide, p = 2 / (1 + cos(phi)), f = 1; weight sin(phi) p^2.
 * Mean over a disc of `radius` relative to the centre; lengths in mm at f = 1 m, sigma in mrad.
 */
function gaussianDiscOverCentre(rim: number, radius: number, sigma: number): number {
  const rings = 200;
  const turns = 64;
  let onDisc = 0;
  let atCentre = 0;
  for (let ring = 0; ring < rings; ring++) {
    const phi = (rim * (ring + 0.5)) / rings;
    const path = 2 / (1 + Math.cos(phi));
    const long = (path * sigma) / Math.cos(phi);
    const wide = path * sigma;
    const weight = (Math.sin(phi) * path ** 2) / (2 * Math.PI * long * wide);
    let inside = 0;
    for (let turn = 0; turn < turns; turn++) {
      const angle = (2 * Math.PI * (turn + 0.5)) / turns;
      const narrow = (Math.cos(angle) / long) ** 2 + (Math.sin(angle) / wide) ** 2;
      inside += (1 - Math.exp((-narrow * radius ** 2) / 2)) / narrow;
    }
    onDisc += (weight * 2 * Math.PI * inside) / turns / (Math.PI * radius ** 2);
    atCentre += weight;
  }
  return onDisc / atCentre;
}

export const DISH_CHECKS: readonly Check[] = [
  dish({
    name: 'parabola-focus',
    what: 'a paraboloid of 60 degrees brings a point sun within 0.1 mm of its focus, 1 m away',
    expected: 1,
    judged: 'exact',
    tolerated: 'not one ray may miss',
    source: { kind: 'closed form', text: 'what a parabola is' },
    sabotage: { fault: 'the disc 0.5 mm higher', set: ['receivers.disc.position_m=[0, 0, 1.0005]'] },
  }),
  dish({
    name: 'dish-centre-rim-45',
    what: 'concentration in the centre, rim 45 degrees, even sun',
    expected: 23_124.23,
    tolerance: 1e-4 * 23_124.23,
    tolerated: 'a disc of 2 mm in place of a point, and its own shadow',
    read: concentration,
    source: CENTRE,
    sabotage: WIDER,
  }),
  dish({
    name: 'dish-centre-circumsolar',
    what: 'concentration in the centre, rim 30 degrees, circumsolar sun of true ratio 0.10027: 1.05447 times that of an even sun',
    expected: 11_562.11 * 1.05447,
    // Of the profile's disc 1 - 0.005706 t^2 (t in mrad): its mean over what 1 mm shows, up to 1.1 mrad.
    tolerance: 0.01 * 11_562.11 * 1.05447,
    tolerated: 'a disc of 2 mm in place of a point: the sun is darker beside its middle',
    read: concentration,
    source: {
      kind: 'from memory',
      text: 'constants of the profile of Buie, Monger & Dey, Solar Energy 74 (2003) 113; its centre over its integral, times the closed form for an even sun',
    },
    sabotage: { fault: 'a circumsolar ratio of 0.13', set: ['sun.sunshape.circumsolar_ratio=0.13'] },
  }),
  dish({
    name: 'dish-centre-gaussian',
    what: 'concentration in the centre, rim 45 degrees, film scatter of 10 mrad',
    expected: 2500,
    tolerance: 1e-3 * 2500,
    tolerated: 'the tangent of an angle in place of the angle: the square of some 30 mrad',
    read: scaled(concentration, 1 / DISC_OVER_CENTRE),
    source: {
      kind: 'closed form',
      text: 'sin^2(rim) / (2 sigma^2): seen from the focus the mirror is as bright as the middle of a bell',
    },
    sabotage: { fault: 'scatter of 1.02 x', set: ['films.film.specularity_mrad=10.2'] },
  }),
  dish({
    name: 'dish-full',
    what: 'no light of an even sun farther than 7.74042 mm from the focus, rim 45 degrees, f = 1 m',
    expected: 1,
    judged: 'exact',
    tolerated: 'not one ray may miss',
    source: {
      kind: 'closed form',
      text: 'p sin(half angle) / cos(rim + half angle): where the cone of the sun from the rim, p away, meets the plane; also in Rabl 1976 (from memory)',
    },
    sabotage: WIDER,
  }),
  dish({
    name: 'dish-encircled-rim-30',
    what: 'light of an even sun within 0.8 f x half angle of the focus, rim 30 degrees',
    expected: 0.5571,
    tolerance: 5e-4,
    tolerated: 'stated with the value',
    source: ENCIRCLED,
    sabotage: WIDER,
  }),
  dish({
    name: 'dish-encircled-rim-60',
    what: 'light of an even sun within 1.25 f x half angle of the focus, rim 60 degrees',
    expected: 0.7774,
    tolerance: 5e-4,
    tolerated: 'stated with the value',
    source: ENCIRCLED,
    sabotage: WIDER,
  }),
  dish({
    name: 'dish-gaussian-rim-30',
    what: 'intercept of 10 mm radius, rim 30, sun 2.325, slope error 3, scatter 2 mrad',
    expected: 0.6197,
    tolerance: 2e-3,
    tolerated: 'of first order; stated with the value',
    source: RING,
    sabotage: steeper(3.09),
  }),
  dish({
    name: 'dish-gaussian-rim-60',
    what: 'intercept of 20 mm radius, rim 60, sun 2.325, slope error 3, scatter 2 mrad',
    expected: 0.8728,
    tolerance: 2e-3,
    tolerated: 'of first order; stated with the value',
    source: RING,
    sabotage: steeper(3.09),
  }),
  dish({
    name: 'limit-point-focus',
    group: 'Limits of concentration',
    what: 'a paraboloid of 90 degrees concentrates no more than the second law allows, and nearly that',
    judged: 'at most',
    expected: 46_248.45,
    tolerance: 46_248.45 * 2e-5,
    tolerated: 'last digit of the half angle',
    read: concentration,
    source: {
      kind: 'closed form',
      text: '1 / sin^2(half angle): by the second law nothing gets brighter than the sun',
    },
    sabotage: { fault: 'a half angle of 0.98 x', set: ['sun.sunshape.half_angle_mrad=4.557'] },
  }),
  dish({
    name: 'limit-line-focus',
    group: 'Limits of concentration',
    what: 'no place on the line of a trough of 88 degrees is brighter than allowed',
    judged: 'at most',
    expected: 4 / Math.PI / Math.sin(4.65e-3),
    tolerance: 1e-5 * 273.82,
    tolerated: 'rounding of the half angle',
    read: concentration,
    source: {
      kind: 'closed form',
      text: '1 / sin(half angle) on the mean over a receiver; 4 / pi times that in its middle, under an even disc',
    },
    sabotage: { fault: 'a half angle of 0.95 x', set: ['sun.sunshape.half_angle_mrad=4.4175'] },
  }),
];
