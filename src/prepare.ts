import { isDeepStrictEqual } from 'node:util';
import { facetsByReceiver, idealCrossings } from './field/crossings.js';
import { pointToLocal, pointToParent } from './field/frame.js';
import { BODY_GAP } from './field/receiver.js';
import { outlineArea, surfaceArea, surfaceBounds, surfaceGradient, surfaceHeight } from './field/surface.js';
import type { Field, Frame, PlacedBlocker, PlacedFacet, PlacedReceiver } from './field/types.js';
import { dot, norm, normalise, rejectFrom, subtract } from './field/vector.js';
import { facetBend } from './kernel/bend.js';
import { buildHierarchy } from './kernel/hierarchy.js';
import {
  BlockerKind,
  F_BEND,
  FACET_INTS,
  FACET_REALS,
  FacetKind,
  FI_BLOCK_COUNT,
  FI_BLOCK_START,
  FI_CLEAR,
  FI_SHADE_COUNT,
  FI_SHADE_START,
  FILM_CELLS,
  NODE_REALS,
  OutlineKind,
  packScene,
  ReceiverKind,
  viewPrepared,
} from './kernel/layout.js';
import { buildNormalTable } from './kernel/normal.js';
import {
  BOX_REALS,
  possibleObstacles,
  possibleShaders,
  shadowZone,
  WHOLE_ZONE,
  zoneRound,
} from './kernel/shafts.js';
import { type TallyLayout, tallyLayout } from './kernel/tally.js';
import { buildTurnTable } from './kernel/turn.js';
import { reflectanceByCosine, scatterSigma } from './optics/film.js';
import type { FacetShape, Film, Outline, Scene, SunshapeSpec, Vec3 } from './scene/types.js';
import type { Moment } from './sun/moment.js';
import { type SunshapeProfile, sunshapeProfile, sunshapeTable } from './sun/sunshape.js';

/** A scene at one moment, packed and sealed: nothing changes it any more. */
export interface PreparedScene {
  /** What the kernel reads (`viewPrepared`), shared with the workers without copying. */
  readonly buffer: SharedArrayBuffer;
  readonly scene: Scene;
  readonly field: Field;
  readonly moment: Moment;
  readonly layout: TallyLayout;
  /** Sunlight each facet can receive, W (0: it faces away and is not traced). Rays are shared out by it. */
  readonly facetPower: Float64Array;
  /** True surface area of the mirrors of each group (one group per receiver), m2. */
  readonly mirrorArea: Float64Array;
  /** Per receiver: where the spot histogram is centred (u, v; m), how far it reaches (m), and what it measures. */
  readonly spots: readonly SpotFrame[];
}

export interface SpotFrame {
  readonly centre: readonly [number, number];
  readonly radius: number;
  readonly measure: 'diameter' | 'width';
}

export interface PrepareOptions {
  /** 'none': every query tries every primitive. Slow; it is the yardstick for the lists and the hierarchy. */
  readonly acceleration?: 'lists' | 'none';
  /**
   * 'shares': only counts, watts by fate and intercept curves are wanted, not spots or footprints. 'leaving': the light is only to be
   * recorded as it leaves the mirrors; what may stand in its way after that is not looked for.
   */
  readonly purpose?: 'tracing' | 'shares' | 'leaving';
  /** Given to each scene of a study, it spares finding again what they have in common; the bytes are the same. */
  readonly shared?: SharedTables;
}

/** Tables that scenes prepared one after the other have in common: the same for all, or for those under the same sun. */
export class SharedTables {
  readonly normal = buildNormalTable();
  readonly turn = buildTurnTable();
  #sun: SunTables | null = null;

  /** @throws RangeError as `sunshapeProfile` */
  sun(sunshape: SunshapeSpec): SunTables {
    if (this.#sun === null || !isDeepStrictEqual(this.#sun.sunshape, sunshape)) {
      const profile = sunshapeProfile(sunshape);
      this.#sun = { sunshape, profile, table: sunshapeTable(sunshape, profile) };
    }
    return this.#sun;
  }
}

interface SunTables {
  readonly sunshape: SunshapeSpec;
  readonly profile: SunshapeProfile;
  readonly table: Float64Array;
}

/** Boxes are padded by this much, metres, so that rounding never puts a surface outside its own box. */
const BOX_PADDING = 1e-7;

/**
 * The sun's limit is widened by this share wherever lists are made: the turn table's corners lie 5.0e-5 outside the
 * circle, so sampled sunlight can come from that much farther out.
 */
const SUN_LIMIT_MARGIN = 1e-4;

function facetKind(shape: FacetShape): number {
  switch (shape.kind) {
    case 'flat':
      return FacetKind.Flat;
    case 'bent':
      return shape.curve === 'parabola' ? FacetKind.BentParabola : FacetKind.BentCircle;
    case 'paraboloid':
      return FacetKind.Paraboloid;
    case 'toroid':
      return FacetKind.Toroid;
  }
}

function curvature(shape: FacetShape): [number, number] {
  switch (shape.kind) {
    case 'flat':
      return [0, 0];
    case 'bent':
      return [shape.curve === 'parabola' ? 1 / (4 * shape.focalLength) : 2 * shape.focalLength, 0];
    case 'paraboloid':
      return [1 / (4 * shape.focalLength), 0];
    case 'toroid':
      return [shape.radiusAlong, shape.radiusAcross];
  }
}

function outlineReals(outline: Outline): [number, number, number, number] {
  return outline.kind === 'rectangle'
    ? [outline.length / 2, outline.width / 2, outline.centre[0], outline.centre[1]]
    : [outline.diameter / 2, outline.holeDiameter / 2, 0, 0];
}

function frameReals(frame: Frame): number[] {
  return [...frame.origin, ...frame.x, ...frame.y, ...frame.z];
}

/** Half extents of the aperture along u and v, and of its box along w (a tube's axis lies along u). */
function apertureHalves(receiver: PlacedReceiver): Vec3 {
  const { aperture } = receiver.design;
  switch (aperture.shape) {
    case 'round':
      return [aperture.diameter / 2, aperture.diameter / 2, 0];
    case 'rectangle':
      return [aperture.width / 2, aperture.height / 2, 0];
    case 'tube':
      return [aperture.length / 2, aperture.diameter / 2, aperture.diameter / 2];
  }
}

function receiverKind(receiver: PlacedReceiver): number {
  const { kind, aperture } = receiver.design;
  if (aperture.shape === 'tube') return ReceiverKind.Tube;
  if (kind === 'line_plate') return ReceiverKind.LineStrip;
  return aperture.shape === 'round' ? ReceiverKind.Round : ReceiverKind.Rectangle;
}

/** The eight corners of a box given in a frame, written at `base`. */
function writeCorners(out: Float64Array, base: number, frame: Frame, low: Vec3, high: Vec3): void {
  for (let corner = 0; corner < 8; corner++) {
    const local: Vec3 = [
      corner & 1 ? high[0] : low[0],
      corner & 2 ? high[1] : low[1],
      corner & 4 ? high[2] : low[2],
    ];
    out.set(pointToParent(frame, local), base + 3 * corner);
  }
}

function symmetricCorners(out: Float64Array, base: number, frame: Frame, half: Vec3): void {
  writeCorners(out, base, frame, [-half[0], -half[1], -half[2]], half);
}

function blockerHalves(blocker: PlacedBlocker): Vec3 {
  return blocker.kind === 'box'
    ? [blocker.size[0] / 2, blocker.size[1] / 2, blocker.size[2] / 2]
    : [blocker.radius, blocker.radius, blocker.length / 2];
}

/** Corners of every primitive's opaque part, and the same with receivers' whole windows. */
function primitiveCorners(field: Field): { opaque: Float64Array; whole: Float64Array } {
  const count = field.facets.length + field.receivers.length + field.blockers.length;
  const opaque = new Float64Array(count * BOX_REALS);
  field.facets.forEach((facet, i) => {
    const { low, high } = surfaceBounds(facet.shape, facet.outline);
    writeCorners(opaque, i * BOX_REALS, facet.frame, low, high);
  });
  field.receivers.forEach((receiver, i) => {
    symmetricCorners(opaque, (field.facets.length + i) * BOX_REALS, receiver.frame, apertureHalves(receiver));
  });
  field.blockers.forEach((blocker, i) => {
    const base = (field.facets.length + field.receivers.length + i) * BOX_REALS;
    symmetricCorners(opaque, base, blocker.frame, blockerHalves(blocker));
  });
  const whole = opaque.slice();
  field.receivers.forEach((receiver, i) => {
    if (receiver.design.aperture.shape === 'tube') return;
    const { width, height } = receiver.design.window;
    const base = (field.facets.length + i) * BOX_REALS;
    symmetricCorners(whole, base, receiver.frame, [width / 2, height / 2, 0]);
  });
  return { opaque, whole };
}

function boxesOf(corners: Float64Array): Float64Array {
  const count = corners.length / BOX_REALS;
  const boxes = new Float64Array(count * NODE_REALS);
  for (let p = 0; p < count; p++) {
    for (let axis = 0; axis < 3; axis++) {
      let low = Number.POSITIVE_INFINITY;
      let high = Number.NEGATIVE_INFINITY;
      for (let c = 0; c < BOX_REALS; c += 3) {
        low = Math.min(low, corners[p * BOX_REALS + c + axis]);
        high = Math.max(high, corners[p * BOX_REALS + c + axis]);
      }
      boxes[p * NODE_REALS + axis] = low - BOX_PADDING;
      boxes[p * NODE_REALS + 3 + axis] = high + BOX_PADDING;
    }
  }
  return boxes;
}

/** Steepest slope of the surface over its outline (all shapes here are steepest at the corner or rim farthest out). */
function steepest(facet: PlacedFacet): number {
  const { low, high } = surfaceBounds(facet.shape, facet.outline);
  const x = Math.max(-low[0], high[0]);
  const y = Math.max(-low[1], high[1]);
  if (facet.outline.kind === 'round') {
    return Math.max(
      Math.hypot(...surfaceGradient(facet.shape, x, 0)),
      Math.hypot(...surfaceGradient(facet.shape, 0, y)),
    );
  }
  return Math.hypot(...surfaceGradient(facet.shape, x, y));
}

/** Whether some sunlight could meet the facet's own surface before the mirror point: the sun stands lower than its rim is steep. */
function canShadeItself(facet: PlacedFacet, sun: Vec3, sunLimit: number): boolean {
  if (facet.shape.kind === 'flat') return false;
  const fromNormal = Math.atan2(norm(rejectFrom(sun, facet.frame.z)), dot(sun, facet.frame.z));
  return fromNormal + sunLimit >= Math.atan2(1, steepest(facet)) - 1e-9;
}

/**
 * Whether a straight line from the facet to its home aperture could meet the facet again. All shapes are convex, so the
 * room above the surface is a convex body: with the whole aperture in it, no such line leaves it.
 */
function canBlockItself(facet: PlacedFacet, aperture: Float64Array): boolean {
  if (facet.shape.kind === 'flat') return false;
  for (let c = 0; c < BOX_REALS; c += 3) {
    const [x, y, z] = pointToLocal(facet.frame, [aperture[c], aperture[c + 1], aperture[c + 2]]);
    const height = surfaceHeight(facet.shape, x, y);
    if (!(z >= height)) return true;
  }
  return false;
}

/** Rms blur per axis of the light a facet sends out, radians: sun, twice the slope error, film scatter, added in squares. */
function blur(film: Film, sunSigma: number): number {
  const slope = Math.max(film.slopeErrorAlong, film.slopeErrorAcross);
  return Math.hypot(sunSigma, 2 * slope, scatterSigma(film));
}

/**
 * Where to centre the spot histogram of a receiver and how far it must reach: the centre of the light that perfect mirrors
 * would send, and three times the reach of that light with its blur, at most one and a half half-diagonals of the window.
 */
function spotFrame(
  scene: Scene,
  receiver: PlacedReceiver,
  facets: readonly PlacedFacet[],
  sun: Vec3,
  sunSigma: number,
): SpotFrame {
  const { aperture, window, kind } = receiver.design;
  const crossings = idealCrossings(receiver, facets, sun);
  const measure = kind === 'line_plate' || kind === 'tube' ? 'width' : 'diameter';
  let spread = 0;
  for (const facet of facets) {
    const distance = norm(subtract(facet.frame.origin, receiver.frame.origin));
    spread = Math.max(spread, 4 * blur(scene.films[facet.film], sunSigma) * distance);
  }
  const least = Math.max(...apertureHalves(receiver).slice(1));
  const most =
    aperture.shape === 'tube' ? 16 * aperture.diameter : 0.75 * Math.hypot(window.width, window.height);
  const reach = measure === 'width' ? crossings.reach[1] : crossings.max;
  const wanted = 1.5 * (reach + spread);
  // A line receiver's spot is measured across only, so its long window must not make the bins coarse.
  const cap = measure === 'width' && aperture.shape !== 'tube' ? 1.5 * window.height : most;
  return {
    centre: crossings.centroid,
    radius: Math.min(Math.max(wanted, 0.1 * least, 1e-6), Math.max(cap, 1e-6)),
    measure,
  };
}

/** Two unit vectors across `direction`. */
function crossAxes(direction: Vec3): [Vec3, Vec3] {
  const helper: Vec3 = Math.abs(direction[2]) < 0.9 ? [0, 0, 1] : [1, 0, 0];
  const a = normalise(rejectFrom(helper, direction));
  const b: Vec3 = [
    direction[1] * a[2] - direction[2] * a[1],
    direction[2] * a[0] - direction[0] * a[2],
    direction[0] * a[1] - direction[1] * a[0],
  ];
  return [a, b];
}

/**
 * Packs a laid-out scene at one moment for the kernel.
 * @param field from `layOut(scene)`
 * @returns the sealed scene; the same input gives the same bytes
 */
export function prepareScene(
  scene: Scene,
  field: Field,
  moment: Moment,
  options: PrepareOptions = {},
): PreparedScene {
  const sun = moment.sunDirection;
  const { shared = new SharedTables(), purpose = 'tracing' } = options;
  const { profile, table: sunTable } = shared.sun(scene.sun.sunshape);
  const sunLimit = profile.limit * (1 + SUN_LIMIT_MARGIN);
  const [sunA, sunB] = crossAxes(sun);
  const facetsOf = facetsByReceiver(field);
  const spots = field.receivers.map((receiver, i) =>
    spotFrame(scene, receiver, purpose === 'tracing' ? facetsOf[i] : [], sun, profile.axisSigma),
  );
  const { opaque, whole } = primitiveCorners(field);
  const brute = options.acceleration === 'none';
  const flies = purpose !== 'leaving';
  const hierarchy = buildHierarchy(boxesOf(whole), brute ? Number.POSITIVE_INFINITY : undefined);
  const everything = Array.from(hierarchy.primitives);

  const shaders: number[] = [];
  const shaderZones: number[] = [];
  const obstacles: number[] = [];
  const facetInts = new Int32Array(field.facets.length * FACET_INTS);
  const facetReals: number[] = [];
  const facetPower = new Float64Array(field.facets.length);
  const mirrorArea = new Float64Array(field.receivers.length);
  const sunVector = Float64Array.from(sun);
  const apertures = field.receivers.map((receiver) => {
    const corners = new Float64Array(BOX_REALS);
    symmetricCorners(corners, 0, receiver.frame, apertureHalves(receiver));
    return corners;
  });
  // Each with the gap before the body behind it.
  const windows = field.receivers.map((receiver) => {
    const { width, height } = receiver.design.window;
    const corners = new Float64Array(BOX_REALS);
    writeCorners(
      corners,
      0,
      receiver.frame,
      [-width / 2, -height / 2, -1.01 * BODY_GAP],
      [width / 2, height / 2, 0],
    );
    return corners;
  });
  field.facets.forEach((facet, i) => {
    const bounds = surfaceBounds(facet.shape, facet.outline);
    const homePrimitive = field.facets.length + facet.receiver;
    facetInts.set(
      [
        facetKind(facet.shape),
        facet.outline.kind === 'rectangle' ? OutlineKind.Rectangle : OutlineKind.Round,
        facet.film,
        facet.receiver,
      ],
      i * FACET_INTS,
    );
    const area = surfaceArea(facet.shape, facet.outline);
    mirrorArea[facet.receiver] += area;
    facetPower[i] = litPower(facet, sun, sunLimit, area, moment.dni);
    const shading = brute ? everything : facetShaders(i);
    const { blocking, clear } = facetObstacles(i, homePrimitive);
    const frame = frameReals(facet.frame);
    // A surface that stands in its own light, and one tried against everything, may be shaded anywhere.
    const zones = shading.map((primitive) =>
      brute || primitive === i
        ? WHOLE_ZONE
        : shadowZone(opaque, primitive, frame, bounds.low[2], bounds.high[2], sun, sunLimit),
    );
    for (const zone of zones) shaderZones.push(...zone);
    facetReals.push(
      ...frame,
      ...curvature(facet.shape),
      ...outlineReals(facet.outline),
      bounds.low[2],
      bounds.high[2],
      outlineArea(facet.outline),
      ...zoneRound(zones),
      0,
    );
    facetInts[i * FACET_INTS + FI_SHADE_START] = shaders.length;
    facetInts[i * FACET_INTS + FI_SHADE_COUNT] = shading.length;
    for (const primitive of shading) shaders.push(primitive);
    facetInts[i * FACET_INTS + FI_BLOCK_START] = obstacles.length;
    facetInts[i * FACET_INTS + FI_BLOCK_COUNT] = blocking.length;
    for (const primitive of blocking) obstacles.push(primitive);
    facetInts[i * FACET_INTS + FI_CLEAR] = clear ? 1 : 0;
  });

  function isBodyOf(receiver: number, primitive: number): boolean {
    const firstBlocker = field.facets.length + field.receivers.length;
    return primitive >= firstBlocker && field.blockers[primitive - firstBlocker].bodyOf === receiver;
  }

  function facetShaders(i: number): number[] {
    if (facetPower[i] === 0) return [];
    const list = possibleShaders(hierarchy, opaque, i, sunVector, sunLimit);
    if (canShadeItself(field.facets[i], sun, sunLimit)) list.push(i);
    return list;
  }

  /**
   * What may stand between a facet and its home aperture; clear: nothing stands before the whole window, or before the front of the
   * body behind it.
   */
  function facetObstacles(i: number, homePrimitive: number): { blocking: number[]; clear: boolean } {
    if (!flies || facetPower[i] === 0) return { blocking: [], clear: false };
    const { receiver } = field.facets[i];
    const isHome = (p: number): boolean => p === homePrimitive;
    const isHomeOrBody = (p: number): boolean => isHome(p) || isBodyOf(receiver, p);
    const flat = field.receivers[receiver].design.kind !== 'tube';
    const beforeWindow = flat
      ? possibleObstacles(hierarchy, whole, i, windows[receiver], isHomeOrBody)
      : null;
    const clear = beforeWindow?.length === 0 && !canBlockItself(field.facets[i], windows[receiver]);
    if (brute) return { blocking: everything.filter((p) => !isHome(p)), clear };
    // The aperture lies in its window: only the receiver's own body, seen from behind, is not looked at yet.
    const beforeAperture = (isLeftOut: (p: number) => boolean): number[] =>
      possibleObstacles(hierarchy, whole, i, apertures[receiver], isLeftOut);
    const known = clear || purpose === 'shares' ? beforeWindow : null;
    const blocking =
      known === null
        ? beforeAperture(isHome)
        : [...known, ...beforeAperture((p) => !isBodyOf(receiver, p))].sort((p, q) => p - q);
    if (canBlockItself(field.facets[i], apertures[receiver])) blocking.push(i);
    return { blocking, clear };
  }

  const bodies = new Int32Array(field.receivers.length).fill(-1);
  field.blockers.forEach(({ bodyOf }, blocker) => {
    if (bodyOf >= 0) bodies[bodyOf] = blocker;
  });
  const cells = field.receivers.flatMap((receiver) => [...receiver.design.cells]);
  const buffer = packScene({
    bounceLimit: scene.bounceLimit,
    pointSun: scene.sun.sunshape.kind === 'point',
    globals: [...sun, ...sunA, ...sunB, moment.dni, field.ground ?? Number.NEGATIVE_INFINITY],
    facetReals,
    filmReals: scene.films.flatMap((film) => {
      const reflectance = reflectanceByCosine(film, FILM_CELLS);
      return [
        film.slopeErrorAlong,
        film.slopeErrorAcross,
        film.lobes[0].weight,
        film.lobes[0].sigma,
        film.lobes.length > 1 ? film.lobes[1].sigma : film.lobes[0].sigma,
        reflectance.every((value) => value === reflectance[0]) ? 1 : 0,
        ...reflectance,
      ];
    }),
    receiverReals: field.receivers.flatMap((receiver, i) => {
      const [halfU, halfV] = apertureHalves(receiver);
      const tube = receiver.design.aperture.shape === 'tube';
      const halfWindow = tube
        ? [halfU, Math.PI * halfV]
        : [receiver.design.window.width / 2, receiver.design.window.height / 2];
      return [
        ...frameReals(receiver.frame),
        ...halfWindow,
        halfU,
        halfV,
        1 / halfU ** 2,
        1 / halfV ** 2,
        ...spots[i].centre,
        1 / spots[i].radius ** 2,
      ];
    }),
    blockerReals: field.blockers.flatMap((blocker) => [
      ...frameReals(blocker.frame),
      ...blockerHalves(blocker),
    ]),
    sunTable,
    normalTable: shared.normal,
    turnTable: shared.turn,
    nodeBounds: hierarchy.nodeBounds,
    shaderZones,
    facetInts,
    receiverInts: field.receivers.flatMap((receiver, i) => [
      receiverKind(receiver),
      ...receiver.design.cells,
      bodies[i],
    ]),
    blockerInts: field.blockers.flatMap((blocker) => [
      blocker.kind === 'box' ? BlockerKind.Box : BlockerKind.Cylinder,
      blocker.bodyOf,
    ]),
    nodeInts: hierarchy.nodeInts,
    primitives: hierarchy.primitives,
    shaders,
    obstacles,
    cells,
  });
  const view = viewPrepared(buffer);
  for (let i = 0; i < field.facets.length; i++) {
    if (purpose === 'tracing' && facetPower[i] > 0) {
      view.facetReals[i * FACET_REALS + F_BEND] = facetBend(view, i);
    }
  }
  return { buffer, scene, field, moment, layout: tallyLayout(cells), facetPower, mirrorArea, spots };
}

/**
 * Sunlight a facet can receive, W, taking the better of its normal at the vertex and (for a curved facet that turns partly
 * away) a small share of its area; 0 only where no point of it can face any part of the sun.
 */
function litPower(facet: PlacedFacet, sun: Vec3, sunLimit: number, area: number, dni: number): number {
  const cosine = dot(sun, facet.frame.z);
  const steepestAngle = Math.atan(steepest(facet));
  const incidence = Math.acos(Math.min(1, Math.max(-1, cosine)));
  if (incidence - steepestAngle - sunLimit >= Math.PI / 2) return 0;
  return dni * area * Math.max(cosine, 0.02);
}
