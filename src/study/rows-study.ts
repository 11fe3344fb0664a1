/** How far apart rows and dishes should stand: light against land. */
import { depthInPlan, dishSize } from '../field/dish.js';
import { dishOfRow, layOut } from '../field/layout.js';
import type { Figure } from '../result/types.js';
import type { RowSpec, Scene } from '../scene/types.js';
import { mirrorArea } from './season.js';
import { FLAT_LOSS, flatRange } from './season-design.js';
import {
  figureOfParts,
  gainOfParts,
  partsOf,
  type Sampled,
  type SampleOptions,
  sampleFinished,
} from './season-sample.js';

/** From row to row, or from dish to dish in a row; metres. */
export type SpacingAxis = 'spacing' | 'pitch';

export function withSpacing(scene: Scene, axis: SpacingAxis, value: number): Scene {
  const change = (row: RowSpec): RowSpec =>
    axis === 'spacing' ? { ...row, rowSpacing: value } : { ...row, pitch: value };
  return { ...scene, rows: scene.rows.map(change) };
}

/** The scene's own. */
export function ownSpacing(scene: Scene, axis: SpacingAxis): number {
  const [row] = scene.rows;
  return axis === 'spacing' ? row.rowSpacing : row.pitch;
}

/**
 * Land under a large field of such rows, m2 for each m2 of mirror: row spacing x pitch over the mirror area of a dish. A single row
 * has no spacing of its own: the width that its mirrors take up across stands in for it.
 */
export function landPerMirror(scene: Scene): number {
  const [row] = scene.rows;
  const area = mirrorArea({ ...scene, rows: [{ ...row, dishes: 1, rows: 1 }] });
  const across = row.rows > 1 ? row.rowSpacing : dishSize(dishOfRow(scene, row)).across;
  return (across * row.pitch) / area;
}

export interface SpacingPoint {
  readonly value_m: number;
  /** Of the year, per m2 of mirror: what the scene's own distance gives, and the gain on it. */
  readonly caught_per_m2: Figure;
  /** To the scene's own distance, with the same random numbers. */
  readonly gain_fraction: Figure;
  readonly shading_fraction: number;
  readonly blocking_fraction: number;
  readonly land_m2_per_m2: number;
  /** Heat less land, one for each price. */
  readonly worth_kwh_m2: readonly number[];
}

export interface SpacingStudy {
  readonly axis: SpacingAxis;
  readonly own_m: number;
  /** Prices of land, kWh a year for each m2. */
  readonly land_prices_kwh_m2: readonly number[];
  readonly points: readonly SpacingPoint[];
  /** For each price: the best of those tried. */
  readonly best: readonly BestSpacing[];
}

export interface BestSpacing {
  readonly value_m: number;
  /** Whether it lies inside the range of those tried. */
  readonly inside: boolean;
  /** Within these the worth is less than FLAT_LOSS of the heat below the best, on a curve through those tried. */
  readonly flat_m: readonly [number, number];
  /** False where the flat range ends with the distances tried. */
  readonly flat_ends_seen: readonly [boolean, boolean];
}

/** A figure whose relative gain on another is known; the errors of the two are independent. */
function gained(base: Figure, gain: Figure): Figure {
  const value = base.value * (1 + gain.value);
  const half = (figure: Figure): number => (figure.ci95[1] - figure.ci95[0]) / 2;
  const both = (own: number, more: number): number => Math.hypot(own * (1 + gain.value), base.value * more);
  const width = both(half(base), half(gain));
  const std_err = both(base.std_err, gain.std_err);
  return { value, std_err, ci95: [value - width, value + width], unit: base.unit };
}

/**
 * Ends early when `stop` is requested: the distances that were finished are kept.
 * Worth of a m2 of mirror = heat that it catches in a year (kWh) - price of land (kWh a year for each m2) x land for a m2 of mirror.
 * @param own caught in the year at the scene's own distance, kWh per m2 of mirror, from an optics table: a sample of sun positions
 *   knows the gains on it better than the year itself
 * @returns null where no distance was finished
 * @throws what `sampleFinished` throws
 */
export async function studySpacing(
  scene: Scene,
  axis: SpacingAxis,
  values: readonly number[],
  prices: readonly number[],
  own: Figure,
  options: SampleOptions,
): Promise<SpacingStudy | null> {
  const scenes = values.map((value) => withSpacing(scene, axis, value));
  const [base, ...sampled] = await sampleFinished([scene, ...scenes], options);
  const points = sampled.flatMap((one, i): SpacingPoint[] => {
    if (base === null || one === null) return [];
    const gain = gainOfParts(partsOf(one, 'caught'), partsOf(base, 'caught'));
    const caught = gained(own, gain);
    const land = landPerMirror(scenes[i]);
    const point: SpacingPoint = {
      value_m: values[i],
      caught_per_m2: caught,
      gain_fraction: gain,
      shading_fraction: meanOf(one, 'shading'),
      blocking_fraction: meanOf(one, 'blocking'),
      land_m2_per_m2: land,
      worth_kwh_m2: prices.map((price) => caught.value - price * land),
    };
    return [point];
  });
  if (points.length === 0) return null;
  const best = prices.map((_, p) => {
    const at = points.reduce(
      (most, point, i) => (point.worth_kwh_m2[p] > points[most].worth_kwh_m2[p] ? i : most),
      0,
    );
    const worths = points.map(({ value_m, caught_per_m2, worth_kwh_m2 }) => ({
      value: value_m,
      caught_fraction: { ...caught_per_m2, value: worth_kwh_m2[p] },
    }));
    // Of the heat, not of the worth: that may be nothing, or less.
    const { flat, seen } = flatRange(worths, FLAT_LOSS * points[at].caught_per_m2.value);
    return {
      value_m: points[at].value_m,
      inside: at > 0 && at < points.length - 1,
      flat_m: flat,
      flat_ends_seen: seen,
    };
  });
  return { axis, own_m: ownSpacing(scene, axis), land_prices_kwh_m2: prices, points, best };
}

function meanOf(one: Sampled, share: 'shading' | 'blocking' | 'spill', group = 0): number {
  return figureOfParts(partsOf(one, share, group), '1').value;
}

/** Dishes alike by their place. */
export interface PlaceClass {
  readonly place: string;
  readonly dishes: number;
  /** Of the year: what all mirrors of the scene give, and the gain on it. */
  readonly caught_per_m2: Figure;
  /** To all mirrors of the scene, in the same light. */
  readonly gain_fraction: Figure;
  readonly shading_fraction: number;
  readonly blocking_fraction: number;
}

export interface PlaceStudy {
  readonly classes: readonly PlaceClass[];
}

/**
 * Dishes at the ends of a row and between them, in outer rows and inner ones; of the first rows entry whose dishes have receivers
 * of their own.
 * @param year as `own` of `studySpacing`
 * @returns null where `stop` was requested before it was finished
 * @throws what `sampleFinished` throws, RangeError where there is no such row
 */
export async function studyPlaces(
  scene: Scene,
  year: Figure,
  options: SampleOptions,
): Promise<PlaceStudy | null> {
  const index = scene.rows.findIndex(({ receiver }) => receiver === null);
  if (index < 0) throw new RangeError('no row has dishes with receivers of their own');
  const row = scene.rows[index];
  const [one] = await sampleFinished([scene], { ...options, perReceiver: true });
  if (one === null) return null;
  const before = scene.rows
    .slice(0, index)
    .reduce((sum, { receiver, dishes, rows }) => sum + (receiver === null ? dishes * rows : 0), 0);
  const first = scene.receivers.length + before;
  const classes = new Map<string, number[]>();
  for (let r = 0; r < row.rows; r++) {
    for (let d = 0; d < row.dishes; d++) {
      const end = d === 0 || d === row.dishes - 1 ? 'end of the row' : 'middle of the row';
      const outer =
        row.rows < 2 ? '' : r === 0 ? ', first row' : r === row.rows - 1 ? ', last row' : ', inner rows';
      const name = `${end}${outer}`;
      classes.set(name, [...(classes.get(name) ?? []), first + r * row.dishes + d]);
    }
  }
  return {
    classes: [...classes].map(([place, members]): PlaceClass => {
      const mean = (share: 'shading' | 'blocking') =>
        members.reduce((sum, member) => sum + meanOf(one, share, member + 1), 0) / members.length;
      const parts = partsOf(one, 'caught', members[0] + 1).map((_, part) =>
        members.reduce((sum, member) => sum + partsOf(one, 'caught', member + 1)[part] / members.length, 0),
      );
      const gain = gainOfParts(parts, partsOf(one, 'caught'));
      return {
        place,
        dishes: members.length,
        caught_per_m2: gained(year, gain),
        gain_fraction: gain,
        shading_fraction: mean('shading'),
        blocking_fraction: mean('blocking'),
      };
    }),
  };
}

/** Dishes that touch do not overlap: metres that rounding may put between. */
const GRAIN = 1e-9;

/**
 * Least distance at which no dish stands in another, nor above it, m: the longest dish of rows with several, or the deepest of rows
 * behind one another. The same that `check` warns of.
 */
export function leastDistance(scene: Scene, axis: SpacingAxis): number {
  const rooms = scene.rows
    .filter(({ dishes, rows }) => (axis === 'pitch' ? dishes : rows) > 1)
    .map((row) => dishOfRow(scene, row))
    .map((design) => (axis === 'pitch' ? dishSize(design).along : depthInPlan(design)));
  return Math.max(0, ...rooms);
}

/** Whether no dish of a row stands in its neighbour, in the row or behind it. */
export function standsFree(scene: Scene): boolean {
  return scene.rows.every((row) => {
    const design = dishOfRow(scene, row);
    const { dishes, rows, pitch, rowSpacing } = row;
    return (
      (dishes < 2 || dishSize(design).along <= pitch + GRAIN) &&
      (rows < 2 || depthInPlan(design) <= rowSpacing + GRAIN)
    );
  });
}

/** @throws GeometryError where a scene cannot be built at one of the distances */
export function checkSpacings(scene: Scene, axis: SpacingAxis, values: readonly number[]): void {
  for (const value of values) layOut(withSpacing(scene, axis, value));
}
