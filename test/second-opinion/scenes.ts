/** Unlike scenes for the second opinion, as texts; all numbers are invented. */
import type { Orders } from './reference.js';

export interface OpinionScene {
  readonly name: string;
  readonly text: string;
  readonly orders: Orders;
  /** Index of the receiver looked at; 0 unless said. */
  readonly receiver?: number;
  /** Only in the full campaign. */
  readonly fullOnly?: true;
}

interface Parts {
  readonly sun: string;
  readonly sunshape?: string;
  readonly film?: string;
  readonly dish?: string;
  readonly receiver?: string;
  readonly row?: string;
  readonly more?: string;
}

const DISC = '{kind: disc, half_angle_mrad: 4.65}';
const FILM =
  '{reflectance: 0.84, slope_error_along_mrad: 4, slope_error_across_mrad: 5, specularity_mrad: 1.5}';
const STRIPS =
  'strips: {count: 7, width_m: 0.14, length_m: 1.2, gap_m: 0.02, direction: along_row, bend: parabola, bend_fit: each_strip}';

function head({ sun, sunshape = DISC, film = FILM }: Parts): string {
  return `title: A scene for a second opinion (invented)
sun: {${sun}, dni_w_m2: 850, sunshape: ${sunshape}}
films:
  foil: ${film}
`;
}

const FOCAL = 'focal_length_along_row_m: 2.0, focal_length_across_row_m: 2.0';

function cavity(diameter: number, window: number, rest = ''): string {
  return `{kind: cavity, aperture: {shape: round, diameter_m: ${diameter}}, window: {width_m: ${window}, height_m: ${window}}, cells: 160${rest}}`;
}

/** A dish in a row of one, axis towards the noon sun of an equinox at 34.6 degrees north unless told otherwise. */
function dishScene(parts: Parts): string {
  const {
    dish = `${FOCAL}, ${STRIPS}, design_tilt_deg: 34.6`,
    receiver = cavity(0.18, 0.8),
    row = 'dishes: 1, centre_m: [0, 0, 1]',
    more = '',
  } = parts;
  return `${head(parts)}dishes:
  seven: {film: foil, ${dish}, receiver: ${receiver}}
rows:
  - {name: A, dish: seven, ${row}}
${more}`;
}

function facetScene(parts: Parts, facet: string, receiver: string): string {
  return `${head(parts)}facets:
  - {name: mirror, film: foil, ${facet}}
receivers:
  - {name: target, ${receiver}}
${parts.more ?? ''}`;
}

const NOON = 'azimuth_deg: 180, elevation_deg: 55.4';
/** 30 degrees west of the dish's axis in the plane that holds the row. */
const AFTERNOON = 'azimuth_deg: 225.47, elevation_deg: 45.47';

const ORDERS: Orders = {
  disc: [7, 11],
  aureole: [7, 14],
  mirror: [10, 16],
  lobes: [
    [1, 11],
    [5, 15],
  ],
  edgeStep: 1,
  cut: 'along',
};
const SLANTED = cavity(0.3, 1.6, ', offset_m: [0.9, 0.2505, -0.363]');

export const OPINION_SCENES: readonly OpinionScene[] = [
  { name: 'on axis', text: dishScene({ sun: NOON }), orders: ORDERS },
  {
    name: 'off axis east-west 30 degrees',
    text: dishScene({ sun: AFTERNOON, receiver: SLANTED }),
    orders: { ...ORDERS, mirror: [32, 16] },
  },
  {
    name: 'off axis north-south 20 degrees',
    fullOnly: true,
    text: dishScene({
      sun: 'azimuth_deg: 180, elevation_deg: 75.4',
      receiver: cavity(0.2, 1.2, ', offset_m: [0, -0.576, -0.4295]'),
    }),
    orders: { ...ORDERS, mirror: [16, 16] },
  },
  {
    name: 'tilt setting 10 degrees',
    fullOnly: true,
    text: dishScene({
      sun: NOON,
      dish: `${FOCAL}, ${STRIPS}, design_tilt_deg: 34.6, tilt_setting_deg: 10`,
      receiver: cavity(0.2, 2.4, ', offset_m: [0, -0.5353, -0.4584], faces: down'),
    }),
    orders: { ...ORDERS, mirror: [14, 16] },
  },
  {
    name: 'unequal focal lengths, off axis 15 degrees, parabolic rib',
    fullOnly: true,
    text: dishScene({
      sun: 'azimuth_deg: 205.26, elevation_deg: 52.66',
      dish: `focal_length_along_row_m: 2.3, focal_length_across_row_m: 2.0, ${STRIPS}, design_tilt_deg: 34.6, rib: parabola`,
      receiver: cavity(0.24, 1.2, ', offset_m: [0.5047, 0.0663, -0.0957]'),
    }),
    orders: { ...ORDERS, mirror: [20, 16] },
  },
  {
    name: 'strips across the row',
    fullOnly: true,
    text: dishScene({
      sun: NOON,
      dish:
        'focal_length_along_row_m: 2.66, focal_length_across_row_m: 2.0, strips: {count: 7, width_m: 0.14, length_m: 1.1, ' +
        'gap_m: 0.02, direction: across_row, bend: parabola, bend_fit: each_strip}, design_tilt_deg: 34.6',
      receiver: cavity(0.26, 1.0),
    }),
    orders: ORDERS,
  },
  {
    name: 'strips bent to one circle',
    fullOnly: true,
    text: dishScene({
      sun: NOON,
      dish: `${FOCAL}, ${STRIPS.replace('parabola', 'circle').replace('each_strip', 'common')}, design_tilt_deg: 34.6`,
    }),
    orders: ORDERS,
  },
  {
    name: 'straight strips on a line plate',
    text: `${head({ sun: 'azimuth_deg: 195, elevation_deg: 54' })}dishes:
  seven: {film: foil, ${FOCAL}, ${STRIPS.replace('parabola', 'straight')}, design_tilt_deg: 34.6}
rows:
  - {name: A, dish: seven, dishes: 1, centre_m: [0, 0, 1], receiver: line}
receivers:
  - name: line
    kind: line_plate
    aperture: {length_m: 6, width_m: 0.25}
    window: {length_m: 6, width_m: 0.8}
    cells: [400, 100]
    position_m: [0, -1.1357, 2.6463]
    facing: {azimuth_deg: 0, elevation_deg: -55.4}
`,
    orders: { ...ORDERS, mirror: [7, 18], cut: 'across' },
  },
  {
    name: 'trough with a tube',
    text: facetScene(
      {
        sun: 'azimuth_deg: 180, elevation_deg: 75',
        film: '{reflectance: 0.9, slope_error_mrad: 5, specularity_mrad: 2}',
      },
      'shape: {kind: bent, focal_length_m: 1}, outline: {kind: rectangle, length_m: 3, width_m: 3}',
      'kind: tube, aperture: {diameter_m: 0.06, length_m: 9}, position_m: [0, 0, 1], along_azimuth_deg: 0',
    ),
    orders: { ...ORDERS, mirror: [26, 5], cut: 'along' },
  },
  {
    name: 'round paraboloid, its receiver in the light',
    text: facetScene(
      {
        sun: 'azimuth_deg: 135, elevation_deg: 89.4',
        film: '{reflectance: 0.9, slope_error_mrad: 3, specularity_mrad: 1}',
      },
      'shape: {kind: paraboloid, focal_length_m: 2}, outline: {kind: round, diameter_m: 2.4}',
      'kind: plate, aperture: {shape: round, diameter_m: 0.1}, window: {width_m: 0.5, height_m: 0.5}, cells: 160, position_m: [0, 0, 2]',
    ),
    orders: { ...ORDERS, mirror: [16, 12] },
  },
  {
    name: 'toroid at 25 degrees',
    text: facetScene(
      { sun: 'azimuth_deg: 90, elevation_deg: 65' },
      'shape: {kind: toroid, radius_along_m: 4, radius_across_m: 4.6}, outline: {kind: rectangle, length_m: 1, width_m: 0.8}',
      'kind: plate, aperture: {shape: round, diameter_m: 0.16}, window: {width_m: 0.8, height_m: 0.8}, cells: 160, ' +
        'position_m: [-0.845, 0, 1.8126], facing: {azimuth_deg: 90, elevation_deg: -65}, along_azimuth_deg: 0',
    ),
    orders: { ...ORDERS, mirror: [26, 22] },
  },
  {
    name: 'film with two lobes',
    fullOnly: true,
    text: dishScene({
      sun: NOON,
      film:
        '{reflectance: 0.84, soiling_factor: 0.93, slope_error_along_mrad: 4, slope_error_across_mrad: 5, ' +
        'lobes: [{weight: 0.7, sigma_mrad: 2}, {weight: 0.3, sigma_mrad: 9}]}',
      receiver: cavity(0.18, 1.0),
    }),
    orders: ORDERS,
  },
  {
    name: 'circumsolar sun',
    fullOnly: true,
    text: dishScene({
      sun: NOON,
      sunshape: '{kind: circumsolar, circumsolar_ratio: 0.15}',
      film: '{reflectance: 0.84, slope_error_mrad: 3, specularity_mrad: 1}',
      receiver: cavity(0.18, 1.0),
    }),
    orders: { ...ORDERS, mirror: [10, 20] },
  },
  {
    name: 'limb-darkened sun',
    fullOnly: true,
    text: dishScene({
      sun: NOON,
      sunshape: '{kind: limb_darkened, half_angle_mrad: 4.65, darkening: 0.7}',
      film: '{reflectance: 0.84, slope_error_mrad: 3, specularity_mrad: 1}',
    }),
    orders: { ...ORDERS, mirror: [10, 20] },
  },
  {
    name: 'wide sun from a table',
    fullOnly: true,
    text: dishScene({
      sun: NOON,
      sunshape: '{kind: table, angle_mrad: [0, 5, 60], radiance: [1, 0.03, 0]}',
      receiver: cavity(0.2, 1.2),
    }),
    orders: { ...ORDERS, aureole: [13, 26] },
  },
  {
    name: 'receiver body in the light',
    fullOnly: true,
    text: dishScene({
      sun: NOON,
      receiver: cavity(0.18, 0.8, ', body: {shape: round, diameter_m: 0.4, depth_m: 0.25}'),
    }),
    orders: { ...ORDERS, disc: [8, 14], mirror: [10, 24] },
  },
  {
    name: 'shaded by the row in front, low sun',
    // The front row is one wide strip, so that no light slips through or past its ends, and black, so that none of its light
    // crosses the map of the row behind. The sun stands beside the axis, and so the receiver's own shadow falls past the dish.
    text: `${head({ sun: 'azimuth_deg: 205, elevation_deg: 30' })}  black: {reflectance: 0, slope_error_mrad: 4, specularity_mrad: 1.5}
dishes:
  one: {film: black, ${FOCAL}, ${STRIPS.replace('count: 7, width_m: 0.14, length_m: 1.2', 'count: 1, width_m: 1.12, length_m: 3.2')}, design_tilt_deg: 60, receiver: ${cavity(0.18, 0.8)}}
  seven: {film: foil, ${FOCAL}, ${STRIPS}, design_tilt_deg: 56, receiver: ${cavity(0.24, 1, ', offset_m: [0.681, 0.25, -0.114]')}}
rows:
  - {name: A, dish: one, dishes: 1, centre_m: [0, 0, 1]}
  - {name: B, dish: seven, dishes: 1, centre_m: [0, 1.4, 1]}
`,
    orders: { ...ORDERS, disc: [8, 14], mirror: [18, 16], cut: 'across' },
    receiver: 1,
  },
  {
    name: 'a post in the way',
    text: dishScene({
      sun: NOON,
      film: '{reflectance: 0.84, slope_error_mrad: 6, specularity_mrad: 1.5}',
      dish: `${FOCAL}, ${STRIPS.replace('count: 7', 'count: 3').replace('length_m: 1.2', 'length_m: 0.6')}, design_tilt_deg: 34.6`,
      more: 'blockers:\n  - {kind: cylinder, name: post, from_m: [0.03, -0.8, 0], to_m: [0.03, -0.8, 6], diameter_m: 0.06}\n',
    }),
    orders: { ...ORDERS, disc: [8, 14], mirror: [46, 12] },
  },
  {
    name: 'rectangular aperture, off axis',
    fullOnly: true,
    text: dishScene({
      sun: AFTERNOON,
      film: '{reflectance: 0.84, slope_error_along_mrad: 3, slope_error_across_mrad: 6, specularity_mrad: 1.5}',
      receiver:
        '{kind: plate, aperture: {shape: rectangle, width_m: 0.2, height_m: 0.24}, window: {width_m: 1.6, height_m: 1.6}, ' +
        'cells: 160, offset_m: [0.9, 0.2505, -0.363]}',
    }),
    orders: { ...ORDERS, mirror: [36, 16] },
  },
  {
    name: 'reflectance by incidence',
    text: dishScene({
      sun: AFTERNOON,
      film:
        '{reflectance_by_incidence: {incidence_deg: [0, 10, 50, 90], reflectance: [0.86, 0.86, 0.6, 0.2]}, ' +
        'slope_error_along_mrad: 4, slope_error_across_mrad: 5, specularity_mrad: 1.5}',
      receiver: SLANTED,
    }),
    orders: { ...ORDERS, mirror: [32, 16] },
  },
];
