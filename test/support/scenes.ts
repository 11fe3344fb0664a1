/** Whole scenes built by hand for tests. Invented numbers unless a test states its source. */
import type {
  DishDesign,
  FacetSpec,
  Film,
  ReceiverDesign,
  RowSpec,
  Scene,
  StandingReceiver,
  SunSpec,
} from '../../src/scene/types.js';

/** Parts of a scene to replace; each is laid over the builder's own defaults. */
export interface SceneChanges {
  readonly scene?: Partial<Scene>;
  readonly sun?: Partial<SunSpec>;
  readonly film?: Partial<Film>;
  readonly dish?: Partial<DishDesign>;
  readonly strips?: Partial<DishDesign['strips']>;
  readonly row?: Partial<RowSpec>;
  /** The single facet of the textbook scenes. */
  readonly facet?: Partial<FacetSpec>;
  /** Design of the (only) receiver, wherever it stands. */
  readonly receiver?: Partial<ReceiverDesign>;
  /** Place of a standing receiver. */
  readonly standing?: Partial<StandingReceiver>;
}

export const SUN_HALF_ANGLE = 4.65e-3;

/** Straight up. */
export const ZENITH = { azimuth: Math.PI, elevation: Math.PI / 2 } as const;
/** Straight down. */
export const NADIR = { azimuth: Math.PI, elevation: -Math.PI / 2 } as const;

/** A mirror without any fault. */
export const PERFECT_FILM: Film = {
  name: 'perfect',
  reflectance: { incidence: [0], value: [1] },
  soilingFactor: 1,
  ageingFactor: 1,
  slopeErrorAlong: 0,
  slopeErrorAcross: 0,
  lobes: [{ weight: 1, sigma: 0 }],
};

/** A film as a careful self-builder might get it. */
export const GOOD_FILM: Film = {
  name: 'film',
  reflectance: { incidence: [0], value: [0.84] },
  soilingFactor: 0.95,
  ageingFactor: 1,
  slopeErrorAlong: 0.004,
  slopeErrorAcross: 0.005,
  lobes: [{ weight: 1, sigma: 0.0015 }],
};

/** Tilt of the demo dishes, radians. */
export const DEMO_TILT = 0.6;

const ROUND_OPENING: ReceiverDesign = {
  kind: 'cavity',
  aperture: { shape: 'round', diameter: 0.18 },
  window: { width: 0.4, height: 0.4 },
  cells: [40, 40],
  peakDisc: 0.02,
  body: null,
};

function baseScene(changes: SceneChanges, film: Film, sun: SunSpec): Scene {
  return {
    title: 'test',
    site: null,
    sun: { ...sun, ...changes.sun },
    sky: null,
    plant: null,
    films: [{ ...film, ...changes.film }],
    dishes: [],
    rows: [],
    facets: [],
    receivers: [],
    blockers: [],
    ground: null,
    bounceLimit: 8,
    hash: '0'.repeat(64),
  };
}

const DEMO_SUN: SunSpec = {
  direction: { kind: 'angles', azimuth: Math.PI, elevation: Math.PI / 2 - DEMO_TILT },
  dni: 850,
  sunshape: { kind: 'disc', halfAngle: SUN_HALF_ANGLE },
};

const DEMO_DISH: DishDesign = {
  name: 'seven',
  film: 'film',
  focalLengthAlongRow: 2,
  focalLengthAcrossRow: 2,
  strips: {
    count: 7,
    width: 0.14,
    length: 1.2,
    gap: 0.02,
    direction: 'along_row',
    bend: 'parabola',
    bendFit: 'each_strip',
  },
  rib: 'flat',
  designTilt: DEMO_TILT,
  designSun: null,
  tiltSetting: 0,
  focus: null,
  receiver: { design: ROUND_OPENING, offset: [0, 0, 0], faces: 'dish' },
  blockers: [],
};

const DEMO_ROW: RowSpec = {
  name: 'A',
  dish: 'seven',
  dishes: 1,
  pitch: 1.35,
  heading: Math.PI / 2,
  centre: [0, 0, 1],
  rows: 1,
  rowSpacing: 3.2,
  receiver: null,
};

function dishOf(changes: SceneChanges, film: Film): DishDesign {
  const receiver = {
    ...DEMO_DISH.receiver!,
    design: { ...ROUND_OPENING, ...changes.receiver },
  };
  return {
    ...DEMO_DISH,
    film: changes.film?.name ?? film.name,
    receiver,
    ...changes.dish,
    strips: { ...DEMO_DISH.strips, ...changes.strips },
  };
}

/**
 * One dish of seven bent strips, tilted 0.6 rad to the south on a row that runs east, the sun along its axis;
 * a round opening of 0.18 m at the focus, 2 m away, without a body. More dishes: `row: { dishes, rows }`.
 */
export function sevenStripDish(changes: SceneChanges = {}): Scene {
  const dish = dishOf(changes, GOOD_FILM);
  const row = { ...DEMO_ROW, dish: dish.name, ...changes.row };
  return { ...baseScene(changes, GOOD_FILM, DEMO_SUN), dishes: [dish], rows: [row], ...changes.scene };
}

/**
 * Four such dishes with straight strips, all serving one line plate 0.18 m wide along the row, through the dishes'
 * design foci and facing the dishes.
 */
export function lineRow(changes: SceneChanges = {}): Scene {
  const dish: DishDesign = {
    ...dishOf({ ...changes, strips: { bend: 'straight', ...changes.strips } }, GOOD_FILM),
    receiver: null,
    ...changes.dish,
  };
  const row = { ...DEMO_ROW, dish: dish.name, dishes: 4, receiver: 'line', ...changes.row };
  const reach = dish.focalLengthAcrossRow;
  const line: StandingReceiver = {
    name: 'line',
    design: {
      kind: 'line_plate',
      aperture: { shape: 'rectangle', width: 6, height: 0.18 },
      window: { width: 6.4, height: 0.4 },
      cells: [64, 40],
      peakDisc: 0.02,
      body: null,
      ...changes.receiver,
    },
    position: [
      row.centre[0],
      row.centre[1] - reach * Math.sin(DEMO_TILT),
      row.centre[2] + reach * Math.cos(DEMO_TILT),
    ],
    facing: { azimuth: 0, elevation: DEMO_TILT - Math.PI / 2 },
    alongAzimuth: Math.PI / 2,
    ...changes.standing,
  };
  return {
    ...baseScene(changes, GOOD_FILM, DEMO_SUN),
    dishes: [dish],
    rows: [row],
    receivers: [line],
    ...changes.scene,
  };
}

const OVERHEAD_SUN: SunSpec = {
  direction: { kind: 'angles', ...ZENITH },
  dni: 1000,
  sunshape: { kind: 'disc', halfAngle: SUN_HALF_ANGLE },
};

/** Sizes of a textbook concentrator. */
export interface TextbookSizes {
  readonly focalLength?: number;
  /** Rim angle, radians: aperture = 4 f tan(rim / 2). */
  readonly rimAngle?: number;
  /** Diameter of the plate or the tube. */
  readonly opening?: number;
}

/**
 * A round, perfect paraboloid at the origin that looks straight up at the sun, and a round plate at its focus that
 * looks down. Default: f = 1 m, rim 45 degrees, plate 40 mm in a window of 80 mm. The plate's back shades the
 * mirror's middle as in life.
 */
export function textbookParaboloid(sizes: TextbookSizes = {}, changes: SceneChanges = {}): Scene {
  const focalLength = sizes.focalLength ?? 1;
  const opening = sizes.opening ?? 0.04;
  const facet: FacetSpec = {
    name: 'paraboloid',
    film: changes.film?.name ?? PERFECT_FILM.name,
    shape: { kind: 'paraboloid', focalLength },
    outline: {
      kind: 'round',
      diameter: 4 * focalLength * Math.tan((sizes.rimAngle ?? Math.PI / 4) / 2),
      holeDiameter: 0,
    },
    position: [0, 0, 0],
    facing: ZENITH,
    alongAzimuth: Math.PI / 2,
    receiver: 'focus',
    ...changes.facet,
  };
  const receiver: StandingReceiver = {
    name: 'focus',
    design: {
      kind: 'plate',
      aperture: { shape: 'round', diameter: opening },
      window: { width: 2 * opening, height: 2 * opening },
      cells: [40, 40],
      peakDisc: opening / 10,
      body: null,
      ...changes.receiver,
    },
    position: [0, 0, focalLength],
    facing: NADIR,
    alongAzimuth: Math.PI / 2,
    ...changes.standing,
  };
  return {
    ...baseScene(changes, PERFECT_FILM, OVERHEAD_SUN),
    facets: [facet],
    receivers: [receiver],
    ...changes.scene,
  };
}

/**
 * A perfect parabolic trough 4 m long whose axis runs east-west, looking straight up at the sun, with a tube along
 * its focal line that is 1 m longer at each end. Default: f = 1.47 m, rim 80 degrees, tube 70 mm.
 */
export function textbookTrough(sizes: TextbookSizes = {}, changes: SceneChanges = {}): Scene {
  const focalLength = sizes.focalLength ?? 1.47;
  const opening = sizes.opening ?? 0.07;
  const facet: FacetSpec = {
    name: 'trough',
    film: changes.film?.name ?? PERFECT_FILM.name,
    shape: { kind: 'bent', curve: 'parabola', focalLength },
    // The facet's x axis is the bent one, so its "length" is the trough's opening and its "width" runs along the tube.
    outline: {
      kind: 'rectangle',
      length: 4 * focalLength * Math.tan((sizes.rimAngle ?? (80 * Math.PI) / 180) / 2),
      width: 4,
      centre: [0, 0],
    },
    position: [0, 0, 0],
    facing: ZENITH,
    alongAzimuth: 0,
    receiver: 'tube',
    ...changes.facet,
  };
  const receiver: StandingReceiver = {
    name: 'tube',
    design: {
      kind: 'tube',
      aperture: { shape: 'tube', diameter: opening, length: 6 },
      window: { width: 6, height: Math.PI * opening },
      cells: [60, 36],
      peakDisc: opening / 10,
      body: null,
      ...changes.receiver,
    },
    position: [0, 0, focalLength],
    facing: NADIR,
    alongAzimuth: Math.PI / 2,
    ...changes.standing,
  };
  return {
    ...baseScene(changes, PERFECT_FILM, OVERHEAD_SUN),
    facets: [facet],
    receivers: [receiver],
    ...changes.scene,
  };
}
