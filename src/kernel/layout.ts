/**
 * The prepared scene as one sealed SharedArrayBuffer: a header of 32-bit words, then all doubles, then all 32-bit
 * integers. `packScene` writes it once; `viewPrepared` lays typed arrays over it without copying, in any thread.
 */

const MAGIC = 0x52464f43;
const LAYOUT_VERSION = 3;
const HEADER_WORDS = 32;

export const FacetKind = { Flat: 0, BentParabola: 1, BentCircle: 2, Paraboloid: 3, Toroid: 4 } as const;
export const OutlineKind = { Rectangle: 0, Round: 1 } as const;
/** LineStrip is a rectangle whose intercept curve and spot are measured across (v) only. */
export const ReceiverKind = { Round: 0, Rectangle: 1, LineStrip: 2, Tube: 3 } as const;
export const BlockerKind = { Box: 0, Cylinder: 1 } as const;

/** Offsets into a record that starts with a frame: origin, then the axes x, y, z in world components. */
export const FRAME_ORIGIN = 0;
export const FRAME_X = 3;
export const FRAME_Y = 6;
export const FRAME_Z = 9;

/** A facet's doubles. */
export const F_CURVE_A = 12; // 1/(4f) for parabola and paraboloid; radius for circle; radiusAlong for toroid
export const F_CURVE_B = 13; // radiusAcross for toroid
export const F_HALF_X = 14; // rectangle: half length; round: outer radius
export const F_HALF_Y = 15; // rectangle: half width; round: hole radius
export const F_CENTRE_X = 16;
export const F_CENTRE_Y = 17;
export const F_Z_LOW = 18; // the patch lies between these heights in its own frame
export const F_Z_HIGH = 19;
export const F_OUTLINE_AREA = 20;
/** Round all zones of its possible shaders; low above high where there are none. */
export const F_SHADOW_LOW_X = 21;
export const F_SHADOW_HIGH_X = 22;
export const F_SHADOW_LOW_Y = 23;
export const F_SHADOW_HIGH_Y = 24;
export const F_BEND = 25; // how bent the way from errors to landing places is: see kernel/bend.ts
export const FACET_REALS = 26;
/** A facet's integers. */
export const FI_KIND = 0;
export const FI_OUTLINE = 1;
export const FI_FILM = 2;
export const FI_HOME = 3;
export const FI_SHADE_START = 4;
export const FI_SHADE_COUNT = 5;
export const FI_BLOCK_START = 6;
export const FI_BLOCK_COUNT = 7;
/**
 * 1 where nothing can stand between the facet and any part of its home receiver's window, or of the front of that receiver's body
 * just behind the window (the body itself aside).
 */
export const FI_CLEAR = 8;
export const FACET_INTS = 9;

/** A film's doubles: then FILM_CELLS + 1 reflectances at equal steps of cos(incidence) from 0 to 1, all factors included. */
export const M_SLOPE_ALONG = 0;
export const M_SLOPE_ACROSS = 1;
export const M_LOBE_SHARE = 2; // share of the first lobe
export const M_SIGMA_1 = 3;
export const M_SIGMA_2 = 4;
export const M_UNIFORM = 5; // 1 where the reflectance is the same at every incidence, else 0
export const M_REFLECTANCE = 6;
export const FILM_CELLS = 1024;
export const FILM_REALS = M_REFLECTANCE + FILM_CELLS + 1;

/** A receiver's doubles. */
export const R_HALF_WINDOW_U = 12; // tube: half length
export const R_HALF_WINDOW_V = 13; // tube: half circumference
export const R_HALF_U = 14; // aperture: half width, or radius; tube: half length
export const R_HALF_V = 15; // aperture: half height; tube: radius
export const R_INVERSE_U = 16; // 1 / (half along u)^2 of the aperture
export const R_INVERSE_V = 17;
export const R_SPOT_U = 18;
export const R_SPOT_V = 19;
export const R_SPOT_INVERSE = 20; // 1 / (reach of the spot histogram)^2
export const RECEIVER_REALS = 21;
/** A receiver's integers. */
export const RI_KIND = 0;
export const RI_CELLS_U = 1;
export const RI_CELLS_V = 2;
/** Index of the blocker that is its body, or -1. A body has the axes of its receiver, its front just behind the window. */
export const RI_BODY = 3;
export const RECEIVER_INTS = 4;

/** A blocker's doubles: half sizes along x, y, z; a cylinder: radius, radius, half length. */
export const B_HALF_X = 12;
export const B_HALF_Y = 13;
export const B_HALF_Z = 14;
export const BLOCKER_REALS = 15;
/** A blocker's integers. */
export const BI_KIND = 0;
/** Index of the receiver whose body it is, or -1. */
export const BI_BODY_OF = 1;
export const BLOCKER_INTS = 2;

/** Globals. */
export const G_SUN = 0; // towards the sun, then two axes across it
export const G_SUN_A = 3;
export const G_SUN_B = 6;
export const G_BEAM = 9; // beam irradiance: on a plane that faces the sun's centre
export const G_GROUND = 10; // -Infinity: none
export const GLOBAL_REALS = 11;

/** A zone is a rectangle in a facet's own x and y: low x, high x, low y, high y. */
export const ZONE_REALS = 4;

/** Bounds are xlo, ylo, zlo, xhi, yhi, zhi. */
export const NODE_REALS = 6;
/** Leaf: first primitive (into `primitives`), count > 0. Inner: index of the right child, -(axis + 1); the left one follows. */
export const NODE_INTS = 2;

type Reals =
  | 'globals'
  | 'facetReals'
  | 'filmReals'
  | 'receiverReals'
  | 'blockerReals'
  | 'sunTable'
  | 'normalTable'
  | 'turnTable'
  | 'nodeBounds'
  | 'shaderZones';
type Ints =
  | 'facetInts'
  | 'receiverInts'
  | 'blockerInts'
  | 'nodeInts'
  | 'primitives'
  | 'shaders'
  | 'obstacles'
  | 'cells';

/** What `packScene` copies into the buffer: the view's arrays as ordinary ones. */
export type PackInput = {
  readonly bounceLimit: number;
  readonly pointSun: boolean;
} & { readonly [K in Reals | Ints]: ArrayLike<number> };

const REALS: readonly Reals[] = [
  'globals',
  'facetReals',
  'filmReals',
  'receiverReals',
  'blockerReals',
  'sunTable',
  'normalTable',
  'turnTable',
  'nodeBounds',
  'shaderZones',
];
const INTS: readonly Ints[] = [
  'facetInts',
  'receiverInts',
  'blockerInts',
  'nodeInts',
  'primitives',
  'shaders',
  'obstacles',
  'cells',
];
/** Header words: magic, version, bounce limit, point sun, then the length of every array in the order above. */
const FIRST_LENGTH = 4;

/** Copies all arrays into one fresh SharedArrayBuffer. */
export function packScene(input: PackInput): SharedArrayBuffer {
  const lengths = [...REALS, ...INTS].map((name) => input[name].length);
  const reals = lengths.slice(0, REALS.length).reduce((a, b) => a + b, 0);
  const ints = lengths.slice(REALS.length).reduce((a, b) => a + b, 0);
  const buffer = new SharedArrayBuffer(HEADER_WORDS * 4 + reals * 8 + ints * 4);
  const header = new Int32Array(buffer, 0, HEADER_WORDS);
  header.set([MAGIC, LAYOUT_VERSION, input.bounceLimit, input.pointSun ? 1 : 0, ...lengths]);
  let offset = HEADER_WORDS * 4;
  for (const name of REALS) {
    new Float64Array(buffer, offset, input[name].length).set(input[name]);
    offset += input[name].length * 8;
  }
  for (const name of INTS) {
    new Int32Array(buffer, offset, input[name].length).set(input[name]);
    offset += input[name].length * 4;
  }
  return buffer;
}

/** Typed arrays over a packed scene. */
export class PreparedView {
  declare readonly facets: number;
  declare readonly receivers: number;
  declare readonly blockers: number;
  declare readonly nodes: number;
  declare readonly bounceLimit: number;
  /** All sunlight comes from one direction. */
  declare readonly pointSun: boolean;
  declare readonly globals: Float64Array;
  declare readonly facetReals: Float64Array;
  declare readonly filmReals: Float64Array;
  declare readonly receiverReals: Float64Array;
  declare readonly blockerReals: Float64Array;
  declare readonly sunTable: Float64Array;
  declare readonly normalTable: Float64Array;
  declare readonly turnTable: Float64Array;
  declare readonly nodeBounds: Float64Array;
  /** Per entry of `shaders`, where on the facet it can stand before the sun: ZONE_REALS doubles. */
  declare readonly shaderZones: Float64Array;
  declare readonly facetInts: Int32Array;
  declare readonly receiverInts: Int32Array;
  declare readonly blockerInts: Int32Array;
  declare readonly nodeInts: Int32Array;
  /** Primitive ids in leaf order: facets, then receivers, then blockers. */
  declare readonly primitives: Int32Array;
  /** Per facet, what can stand between it and the sun. */
  declare readonly shaders: Int32Array;
  /** Per facet, what can stand between it and its home aperture. */
  declare readonly obstacles: Int32Array;
  /** Map cells (nu, nv) of each receiver, flat. */
  declare readonly cells: Int32Array;

  /** @throws RangeError where the buffer was not written by this version of `packScene` */
  constructor(buffer: SharedArrayBuffer) {
    const header = new Int32Array(buffer, 0, HEADER_WORDS);
    if (header[0] !== MAGIC || header[1] !== LAYOUT_VERSION) {
      throw new RangeError('this buffer does not hold a prepared scene of this version');
    }
    let offset = HEADER_WORDS * 4;
    let next = FIRST_LENGTH;
    const reals = {} as Record<Reals, Float64Array>;
    for (const name of REALS) {
      const length = header[next++];
      reals[name] = new Float64Array(buffer, offset, length);
      offset += length * 8;
    }
    const ints = {} as Record<Ints, Int32Array>;
    for (const name of INTS) {
      const length = header[next++];
      ints[name] = new Int32Array(buffer, offset, length);
      offset += length * 4;
    }
    this.facets = ints.facetInts.length / FACET_INTS;
    this.receivers = ints.receiverInts.length / RECEIVER_INTS;
    this.blockers = ints.blockerInts.length / BLOCKER_INTS;
    this.nodes = ints.nodeInts.length / NODE_INTS;
    this.bounceLimit = header[2];
    this.pointSun = header[3] === 1;
    this.globals = reals.globals;
    this.facetReals = reals.facetReals;
    this.filmReals = reals.filmReals;
    this.receiverReals = reals.receiverReals;
    this.blockerReals = reals.blockerReals;
    this.sunTable = reals.sunTable;
    this.normalTable = reals.normalTable;
    this.turnTable = reals.turnTable;
    this.nodeBounds = reals.nodeBounds;
    this.shaderZones = reals.shaderZones;
    this.facetInts = ints.facetInts;
    this.receiverInts = ints.receiverInts;
    this.blockerInts = ints.blockerInts;
    this.nodeInts = ints.nodeInts;
    this.primitives = ints.primitives;
    this.shaders = ints.shaders;
    this.obstacles = ints.obstacles;
    this.cells = ints.cells;
  }
}

/**
 * Typed arrays over a packed scene, without copying.
 * @throws RangeError where the buffer was not written by this version of `packScene`
 */
export function viewPrepared(buffer: SharedArrayBuffer): PreparedView {
  return new PreparedView(buffer);
}
