/** A dish's proportions against the energy of a day or a year: where the best lies, how flat it is, and whether its gain is real. */
import { bedWidth } from '../field/dish.js';
import { leastWidth } from '../field/receiver.js';
import type { Figure } from '../result/types.js';
import type { DishDesign, DishReceiver, ReceiverDesign, Scene } from '../scene/types.js';
import { type Curve, curveThrough } from './curve.js';
import { StudyStopped } from './pooled.js';
import {
  figureOfParts,
  gainOfParts,
  partsOf,
  type Sampled,
  type SampleOptions,
  sampleFinished,
} from './season-sample.js';

/** ratio: focal length along the row (east-west for a row that runs east) to that across it. */
export const DESIGN_AXES = {
  ratio: { label: 'focal length along the row / across it', unit: '1' },
  strips: { label: 'strips per dish, aperture kept', unit: '1' },
  strip_width: { label: 'strip width, the number of strips kept', unit: 'mm' },
  f_over_d: { label: 'focal length across the row / longer side of the dish', unit: '1' },
  receiver: { label: 'receiver opening', unit: 'mm' },
} as const;

export type DesignAxis = keyof typeof DESIGN_AXES;

/** The longer side of a dish's mirrors, m. */
function longerSide(dish: DishDesign): number {
  return Math.max(dish.strips.length, bedWidth(dish));
}

/** Opening, window and body grow together, so that the body still holds the opening. */
function scaledDesign(design: ReceiverDesign, factor: number): ReceiverDesign {
  const { aperture, window, body } = design;
  const opening: ReceiverDesign['aperture'] =
    aperture.shape === 'rectangle'
      ? { ...aperture, width: aperture.width * factor, height: aperture.height * factor }
      : { ...aperture, diameter: aperture.diameter * factor };
  const grown: ReceiverDesign['body'] =
    body === null
      ? null
      : body.shape === 'round'
        ? { ...body, diameter: body.diameter * factor }
        : { ...body, width: body.width * factor, height: body.height * factor };
  return {
    ...design,
    aperture: opening,
    window: { width: window.width * factor, height: window.height * factor },
    body: grown,
  };
}

function withDish(dish: DishDesign, axis: DesignAxis, value: number): DishDesign {
  switch (axis) {
    case 'ratio':
      return { ...dish, focalLengthAlongRow: value * dish.focalLengthAcrossRow };
    case 'f_over_d': {
      const ratio = dish.focalLengthAlongRow / dish.focalLengthAcrossRow;
      const across = value * longerSide(dish);
      return { ...dish, focalLengthAcrossRow: across, focalLengthAlongRow: ratio * across };
    }
    case 'strips': {
      const width = (bedWidth(dish) - (value - 1) * dish.strips.gap) / value;
      return { ...dish, strips: { ...dish.strips, count: value, width } };
    }
    case 'strip_width':
      return { ...dish, strips: { ...dish.strips, width: value / 1000 } };
    case 'receiver': {
      if (dish.receiver === null) return dish;
      const factor = value / 1000 / leastWidth(dish.receiver.design.aperture);
      const receiver: DishReceiver = {
        ...dish.receiver,
        design: scaledDesign(dish.receiver.design, factor),
      };
      return { ...dish, receiver };
    }
  }
}

/** The scene with all dishes changed along one axis. */
export function withDesign(scene: Scene, axis: DesignAxis, value: number): Scene {
  return { ...scene, dishes: scene.dishes.map((dish) => withDish(dish, axis, value)) };
}

/** Where the scene's first dish stands on an axis. */
export function designValue(scene: Scene, axis: DesignAxis): number {
  const [dish] = scene.dishes;
  switch (axis) {
    case 'ratio':
      return dish.focalLengthAlongRow / dish.focalLengthAcrossRow;
    case 'strips':
      return dish.strips.count;
    case 'strip_width':
      return 1000 * dish.strips.width;
    case 'f_over_d':
      return dish.focalLengthAcrossRow / longerSide(dish);
    case 'receiver':
      return dish.receiver === null ? Number.NaN : 1000 * leastWidth(dish.receiver.design.aperture);
  }
}

export interface DesignPoint {
  readonly value: number;
  /** Share of DNI x mirror area. */
  readonly caught_fraction: Figure;
  /** To the scene's own design, with the same random numbers. */
  readonly gain_fraction: Figure;
}

export interface DesignStudy {
  readonly axis: DesignAxis;
  /** The scene's own. */
  readonly own: number;
  readonly points: readonly DesignPoint[];
  readonly best: number;
  /** Within these the loss against the best is below `flat_loss`. */
  readonly flat: readonly [number, number];
  readonly flat_loss: number;
  /** False where the flat range, or the best, ends with the values tried. */
  readonly flat_ends_seen: readonly [boolean, boolean];
  /** Best against the scene's own, traced anew with other random numbers; null where the study was stopped before. */
  readonly fresh_gain_fraction: Figure | null;
  readonly gain_is_sure: boolean | null;
}

/** Loss that nobody will notice. */
export const FLAT_LOSS = 0.01;

/**
 * Ends early when `stop` is requested: the designs that were finished are kept.
 * @param values rising
 * @throws StudyStopped where the first design was not finished, and what `sampleFinished` throws
 */
export async function studyDesign(
  scene: Scene,
  axis: DesignAxis,
  values: readonly number[],
  options: SampleOptions,
): Promise<DesignStudy> {
  const scenes = [scene, ...values.map((value) => withDesign(scene, axis, value))];
  const [own, ...sampled] = await sampleFinished(scenes, options);
  const points = sampled.flatMap((one, i) => {
    if (own === null || one === null) return [];
    const caught = figureOfParts(partsOf(one, 'caught'), '1');
    return [{ value: values[i], caught_fraction: caught, gain_fraction: gainOf(one, own) }];
  });
  if (points.length === 0) throw new StudyStopped('the study was stopped');
  const best = points.reduce((a, b) => (b.caught_fraction.value > a.caught_fraction.value ? b : a));
  const [freshOwn, freshBest] = await sampleFinished([scene, withDesign(scene, axis, best.value)], {
    ...options,
    seed: `${options.seed}/fresh`,
  });
  const fresh = freshOwn === null || freshBest === null ? null : gainOf(freshBest, freshOwn);
  const { flat, seen } = flatRange(points);
  return {
    axis,
    own: designValue(scene, axis),
    points,
    best: best.value,
    flat,
    flat_loss: FLAT_LOSS,
    flat_ends_seen: seen,
    fresh_gain_fraction: fresh,
    gain_is_sure: fresh === null ? null : fresh.ci95[0] > 0,
  };
}

function gainOf(one: Sampled, base: Sampled): Figure {
  return gainOfParts(partsOf(one, 'caught'), partsOf(base, 'caught'));
}

/** A value that was tried, and what it gave. */
type Tried = Pick<DesignPoint, 'value' | 'caught_fraction'>;

/** The curve through the designs tried, as sweeps have it. */
function curveOf(points: readonly Tried[]): Curve {
  const replicates = new Float64Array();
  return curveThrough(
    points.map(({ value, caught_fraction }) => ({ value, figure: caught_fraction, replicates })),
  );
}

/** Places looked at between two designs. */
const FINE = 64;

/**
 * The curve through the designs tried, for drawing: at them and between them.
 * @returns share caught against the value, rising in it
 */
export function designCurve(points: readonly DesignPoint[]): readonly (readonly [number, number])[] {
  const last = points[points.length - 1];
  if (points.length < 2) return points.map(({ value, caught_fraction }) => [value, caught_fraction.value]);
  const { at } = curveOf(points);
  return [
    ...points.slice(0, -1).flatMap(({ value: from }, segment) =>
      Array.from({ length: FINE }, (_, i): readonly [number, number] => {
        const value = from + (i / FINE) * (points[segment + 1].value - from);
        return [value, at(segment, value).value];
      }),
    ),
    [last.value, last.caught_fraction.value],
  ];
}

/**
 * The stretch about the best of those tried in which the curve through them stays above it less the loss.
 * @param loss in the unit of the figures; FLAT_LOSS of the best where not given
 */
export function flatRange(
  points: readonly Tried[],
  loss?: number,
): {
  readonly flat: readonly [number, number];
  readonly seen: readonly [boolean, boolean];
} {
  const figures = points.map(({ caught_fraction }) => caught_fraction.value);
  const most = Math.max(...figures);
  const limit = most - (loss ?? FLAT_LOSS * most);
  const middle = figures.indexOf(most);
  const end = (step: 1 | -1): { value: number; seen: boolean } => {
    let i = middle;
    while (figures[i + step] !== undefined && figures[i + step] >= limit) i += step;
    if (points[i + step] === undefined) return { value: points[i].value, seen: false };
    const { at } = curveOf(points);
    const segment = Math.min(i, i + step);
    const [from, to] = [points[i].value, points[i + step].value];
    const above = (part: number) => at(segment, from + part * (to - from)).value - limit;
    // Looked for from the best outwards: the first place at which the curve goes below.
    let low = 0;
    while (above(low + 1 / FINE) >= 0 && low + 2 / FINE <= 1) low += 1 / FINE;
    let high = low + 1 / FINE;
    for (let n = 0; n < 40; n++) {
      const half = (low + high) / 2;
      if (above(half) >= 0) low = half;
      else high = half;
    }
    return { value: from + low * (to - from), seen: true };
  };
  const [down, up] = [end(-1), end(1)];
  return { flat: [down.value, up.value], seen: [down.seen, up.seen] };
}
