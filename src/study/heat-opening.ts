/** Heat of a year for openings of other sizes: a wider one catches more light and loses more heat. */
import type { Case } from '../plant/band.js';
import type { YearHeat, YearLight } from '../plant/year-heat.js';
import { JOULES_PER_KWH } from './heat-ledger.js';
import { type HeatPlant, withOpening } from './heat-plant.js';
import { withCaught } from './heat-series.js';
import type { OpeningStudy } from './heat-types.js';

/** Sizes that are looked at, relative to the opening of the scene: ends of bins of the intercept curve, 64 to a size of 1. */
export const OPENING_SCALES = Array.from({ length: 19 }, (_, k) => (k + 2) / 8);
export const OPENING_BINS = OPENING_SCALES.map((scale) => 64 * scale * scale);
/** Share of the best that may be lost in the flat range. */
const FLAT_LOSS = 0.01;

export interface OpeningInput {
  readonly plant: HeatPlant;
  readonly light: YearLight;
  /** W per step for each of OPENING_SCALES. */
  readonly byOpening: readonly Float64Array[];
  readonly yearOf: (plant: HeatPlant, light: YearLight) => YearHeat;
}

interface Point {
  readonly size: number;
  readonly value: number;
}

/** Highest place of a curve: the parabola through the best sample and its neighbours. */
export function summitOf(points: readonly Point[]): Point & { readonly atEnd: boolean } {
  const top = points.reduce((best, { value }, i) => (value > points[best].value ? i : best), 0);
  if (top === 0 || top === points.length - 1) return { ...points[top], atEnd: true };
  const [left, middle, right] = points.slice(top - 1, top + 2);
  const [dl, dr] = [middle.size - left.size, right.size - middle.size];
  const [sl, sr] = [(middle.value - left.value) / dl, (right.value - middle.value) / dr];
  const curvature = (sr - sl) / (dl + dr);
  if (!(curvature < 0)) return { ...middle, atEnd: false };
  // Slope of the parabola at the middle sample.
  const slope = (sl * dr + sr * dl) / (dl + dr);
  const shift = Math.min(dr, Math.max(-dl, -slope / (2 * curvature)));
  return {
    size: middle.size + shift,
    value: middle.value + shift * (slope + curvature * shift),
    atEnd: false,
  };
}

/** Sizes on both sides of the summit at which a curve first falls below a level; the curve's end where it never does. */
export function flatRange(points: readonly Point[], summit: Point, level: number): readonly [number, number] {
  const end = (own: readonly Point[]): number => {
    let before = summit;
    for (const point of own) {
      if (point.value < level) {
        const part = (before.value - level) / (before.value - point.value);
        return before.size + part * (point.size - before.size);
      }
      before = point;
    }
    return before.size;
  };
  return [
    end(points.filter(({ size }) => size < summit.size).reverse()),
    end(points.filter(({ size }) => size > summit.size)),
  ];
}

/** Size of the scene's own opening in the measure that is varied, m. */
function presentSize({ design }: HeatPlant): {
  readonly size: number;
  readonly measure: OpeningStudy['measure'];
} {
  const { aperture } = design;
  if (aperture.shape === 'round') return { size: aperture.diameter, measure: 'diameter' };
  if (aperture.shape === 'tube') return { size: aperture.diameter, measure: 'diameter' };
  return design.kind === 'line_plate'
    ? { size: aperture.height, measure: 'width' }
    : { size: aperture.width, measure: 'side' };
}

function fits({ receiver: { shape } }: HeatPlant, scale: number): boolean {
  return shape.kind !== 'cavity' || shape.openingDiameter * scale <= shape.insideDiameter;
}

/** @returns null where fewer than three sizes fit */
export function openingStudy({ plant, light, byOpening, yearOf }: OpeningInput): OpeningStudy | null {
  const { size, measure } = presentSize(plant);
  const tried = OPENING_SCALES.flatMap((scale, i) => {
    if (!fits(plant, scale)) return [];
    const heat = yearOf(withOpening(plant, scale), withCaught(light, byOpening[i]));
    const caught = byOpening[i].reduce((sum, watts) => sum + watts, 0);
    return [{ scale, size: size * scale, caught, heat }];
  });
  if (tried.length < 3) return null;
  const stepJoules = heatStepOf(tried[0].heat, light);
  const curve = (end: Case) =>
    tried.map((point) => ({
      size: point.size,
      value: point.heat.cases[end].books.delivered / JOULES_PER_KWH,
    }));
  const best = summitOf(curve('best'));
  const [flatFrom, flatTo] = flatRange(curve('best'), best, (1 - FLAT_LOSS) * best.value);
  return {
    measure,
    points: tried.map(({ scale, size: own, caught, heat }) => ({
      scale,
      size_mm: 1000 * own,
      caught_kwh: (caught * stepJoules) / JOULES_PER_KWH,
      delivered_kwh: heat.delivered.best / JOULES_PER_KWH,
      delivered_low_kwh: heat.delivered.low / JOULES_PER_KWH,
      delivered_high_kwh: heat.delivered.high / JOULES_PER_KWH,
    })),
    best_mm: 1000 * best.size,
    best_delivered_kwh: best.value,
    flat_from_mm: 1000 * flatFrom,
    flat_to_mm: 1000 * flatTo,
    best_low_loss_mm: 1000 * summitOf(curve('low')).size,
    best_high_loss_mm: 1000 * summitOf(curve('high')).size,
    at_end: best.atEnd,
    present_mm: 1000 * size,
  };
}

/** Seconds of a step, from the books themselves. */
function heatStepOf({ cases }: YearHeat, { onMirrors }: YearLight): number {
  const watts = onMirrors.reduce((sum, value) => sum + value, 0);
  return watts > 0 ? cases.best.books.onMirrors / watts : 0;
}
