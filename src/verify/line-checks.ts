/**
 * Line focus: troughs with a tube or a flat strip, transverse errors, end loss.
 *
 * The textbook integrals leave out the receiver's own shadow. So in most scenes the sun leans along the trough by 45 degrees:
 * in the transverse plane nothing changes by that, but the receiver, which begins one focal length farther on, throws its
 * shadow beyond the short mirror, and is long enough that no light passes its end.
 */
import { angularRms, concentration, interceptFactor } from './reading.js';
import type { Check, Fault, Source } from './types.js';

const RAYS = 2 ** 17;
const HEIGHT = 50;
const DEGREES = Math.PI / 180;

type Part = Pick<Check, 'name' | 'what' | 'expected' | 'source' | 'sabotage'> & Partial<Check>;

function line(part: Part): Check {
  return {
    group: 'Line focus',
    scenes: [part.name],
    rays: RAYS,
    judged: 'sampled',
    unit: '1',
    tolerance: 1e-6,
    tolerated: 'last digit of the expected value',
    read: interceptFactor,
    ...part,
  };
}

const TUBE: Source = {
  kind: 'closed form',
  text: '(2 / W) integral over half the width of erf(asin(D / 2p) / (sqrt 2 sigma)): at the path p the tube is seen within asin(D / 2p)',
};
const STRIP: Source = {
  kind: 'closed form',
  text: 'mean over the width of the share of a bell between the angles at which the edges of the strip are seen',
};
const UNIVERSAL: Source = {
  kind: 'publication',
  text: 'Guven & Bannerot, J. Sol. Energy Eng. 108 (1986) 275: its three parameters read in the abstract, its integral as quoted in a public notebook',
};
const slope = (value: number): Fault => ({
  fault: `a slope error of ${value} mrad, 1 % more`,
  set: [`films.film.slope_error_along_mrad=${value}`],
});
const universal = (part: Pick<Check, 'name' | 'what' | 'expected' | 'sabotage'>): Check =>
  line({
    ...part,
    tolerance: 5e-4,
    tolerated: 'the form is of first order; stated with it',
    source: UNIVERSAL,
  });

/** Mean path from a parabola of width W to its focal line: f (1 + W^2 / (48 f^2)). */
const MEAN_PATH = 1.71 * (1 + 5.77 ** 2 / (48 * 1.71 ** 2));

export const LINE_CHECKS: readonly Check[] = [
  line({
    name: 'line-sun-wider',
    what: 'spread of an even sun across a line mirror that it meets 45 degrees along the line',
    // 2.325 mrad over cos 45 degrees.
    expected: 2.325 * Math.SQRT2,
    unit: 'mrad',
    tolerance: 3e-4 * 2.325 * Math.SQRT2,
    tolerated: 'cells of the map, one ray in a batch',
    read: angularRms('u', HEIGHT),
    source: {
      kind: 'closed form',
      text: 'half angle / (2 cos(angle along the line)): seen across, the sun is wider by that cosine',
    },
    sabotage: { fault: 'a half angle of 1.01 x', set: ['sun.sunshape.half_angle_mrad=4.6965'] },
  }),
  line({
    name: 'line-errors-apart',
    what: 'spread across the line by slope errors of 3 mrad along it, sun square to the line: none',
    expected: 0,
    unit: 'mrad',
    tolerance: 0.01,
    tolerated: 'of second order, and the cells of the map',
    read: angularRms('u', HEIGHT),
    source: {
      kind: 'closed form',
      text: 'reflection at a normal turned by s along the line: of second order in s across it',
    },
    sabotage: {
      fault: 'the sun leaning 1 degree, the screen where its light goes',
      set: ['sun.elevation_deg=89', 'receivers.screen.position_m=[38.302222, 0.872753, 32.139380]'],
    },
  }),
  line({
    name: 'line-errors-leak',
    what: 'spread across the line by slope errors of 3 mrad along it, mirror turned by 25 degrees, sun 45 degrees along the line',
    expected: 6 * Math.sin(25 * DEGREES),
    unit: 'mrad',
    tolerance: 5e-3 * 6 * Math.sin(25 * DEGREES),
    tolerated: 'of first order in the error',
    read: angularRms('u', HEIGHT),
    source: {
      kind: 'closed form',
      text: '2 s sin(turn) tan(angle along the line), from reflection at a turned normal',
    },
    sabotage: { fault: 'a slope error of 1.02 x', set: ['films.film.slope_error_across_mrad=3.06'] },
  }),
  line({
    name: 'trough-tube-rim-45',
    what: 'intercept of a tube of 70 mm, width 5.77 m, rim 45 degrees, beam error 15 mrad',
    expected: 0.474534,
    source: TUBE,
    sabotage: slope(7.575),
  }),
  line({
    name: 'trough-tube-rim-80',
    what: 'intercept of a tube of 70 mm, width 5.77 m, rim 80 degrees, beam error 10 mrad (5 mrad of slope error)',
    expected: 0.897958,
    source: TUBE,
    sabotage: slope(5.05),
  }),
  line({
    name: 'trough-tube-rim-120',
    what: 'intercept of a tube of 70 mm, width 5.77 m, rim 120 degrees, beam error 10 mrad',
    expected: 0.933462,
    source: TUBE,
    sabotage: slope(5.05),
  }),
  line({
    name: 'trough-tube-by-scatter',
    what: 'intercept of a tube of 70 mm, width 5.77 m, rim 80 degrees, 10 mrad by film scatter in place of slope error',
    expected: 0.897958,
    tolerance: 6e-5,
    tolerated: "the film's Gaussian lies in the tangent of the angle",
    source: TUBE,
    sabotage: { fault: 'scatter of 1.01 x', set: ['films.film.specularity_mrad=7.14178'] },
  }),
  line({
    name: 'trough-strip-rim-45',
    what: 'intercept of a flat strip of 0.1 m, rim 45 degrees, beam error 10 mrad',
    expected: 0.772435,
    source: STRIP,
    sabotage: slope(5.05),
  }),
  line({
    name: 'trough-strip-rim-80',
    what: 'intercept of a flat strip of 0.1 m, rim 80 degrees, beam error 6 mrad',
    expected: 0.899907,
    source: STRIP,
    sabotage: slope(3.03),
  }),
  universal({
    name: 'trough-mispointed',
    what: 'intercept of a tube, rim 90 degrees, beam error 5.72 mrad, mirror pointing 7.62 mrad beside the sun',
    expected: 0.949396,
    sabotage: { fault: 'the sun in its place', set: ['sun.azimuth_deg=180', 'sun.elevation_deg=45'] },
  }),
  universal({
    name: 'trough-displaced',
    what: 'intercept of a tube 0.2 diameters above or below the focus (mean of both), rim 90 degrees, beam error 5.72 mrad',
    expected: 0.973804,
    sabotage: {
      fault: 'one tube 10 mm higher',
      set: ['receivers."line too high".position_m=[0, 3.5965, 1.4665]'],
    },
  }),
  universal({
    name: 'trough-both-errors',
    what: 'intercept of a tube 0.1 diameters above or below the focus (mean of both), mirror pointing 3.81 mrad beside the sun',
    expected: 0.978735,
    sabotage: { fault: 'the sun in its place', set: ['sun.azimuth_deg=180', 'sun.elevation_deg=45'] },
  }),
  universal({
    name: 'trough-both-errors-adding',
    what: 'intercept of a tube 0.1 diameters above the focus, mirror pointing 3.81 mrad beside the sun, on the half where both add',
    expected: 0.963268,
    sabotage: { fault: 'the other half in shade', set: ['blockers[0].centre_m=[3.053358, -14, 14]'] },
  }),
  line({
    name: 'trough-tube-full',
    what: 'a tube at 68.454 times geometric concentration, rim 90, misses nothing of an even sun',
    expected: 1,
    judged: 'exact',
    tolerance: 0,
    tolerated: 'not one ray may miss',
    source: {
      kind: 'closed form',
      text: 'sin(rim) / (pi sin(half angle)): the cone of the sun from the rim, W / (2 sin(rim)) away, just touches the tube; also in Rabl 1976 (from memory)',
    },
    sabotage: { fault: 'a half angle of 1.02 x', set: ['sun.sunshape.half_angle_mrad=4.743'] },
  }),
  line({
    name: 'trough-strip-full',
    what: 'a flat strip at 107.026 times, rim 45, misses nothing of an even sun',
    expected: 1,
    judged: 'exact',
    tolerance: 0,
    tolerated: 'not one ray may miss',
    source: {
      kind: 'closed form',
      text: 'sin(rim) cos(rim + half angle) / sin(half angle): where the cone of the sun from the rim meets the plane of the strip; also in Rabl 1976 (from memory)',
    },
    sabotage: { fault: 'a half angle of 1.02 x', set: ['sun.sunshape.half_angle_mrad=4.743'] },
  }),
  line({
    name: 'trough-centre',
    what: 'concentration in the middle of the line of a trough of rim 80',
    expected: 269.66,
    tolerance: 0.003 * 269.66,
    tolerated: 'strip of 2 mm in place of a line, and its own shadow',
    read: concentration,
    source: {
      kind: 'closed form',
      text: '(4 / pi) sin(rim) / sin(half angle): middle line of an even disc, from all of the rim',
    },
    sabotage: { fault: 'a half angle of 1.04 x', set: ['sun.sunshape.half_angle_mrad=4.836'] },
  }),
  line({
    name: 'trough-end-loss',
    what: 'light past the end of a tube as long as its trough (30 m), sun 30 degrees off',
    expected: (MEAN_PATH * Math.tan(30 * DEGREES)) / 30,
    tolerance: 2e-5,
    tolerated: 'shadow of the wire',
    read: (traces) => {
      const { value, std_err } = interceptFactor(traces);
      return { value: 1 - value, std_err };
    },
    source: {
      kind: 'closed form',
      text: 'mean path f (1 + W^2 / (48 f^2)) times tan(angle), over the length',
    },
    sabotage: { fault: '0.3 degrees more', set: ['sun.elevation_deg=59.7'] },
  }),
];
