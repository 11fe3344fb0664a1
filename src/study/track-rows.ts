/** Tables of fitted tracks: where the receiver stands when, what that loses, how fast it must go, what a wrong clock costs. */
import { norm, scale } from '../field/vector.js';
import { lossAlong, lossOfOffset, MM } from './loss-form.js';
import { type FittedTrack, lossAtDistance, missOf } from './track-fit.js';
import { tangentAt, trackAt } from './track-shape.js';
import { trackTerms } from './track-terms.js';

/** One line per point, in the order given. */
export interface TrackRow {
  readonly track: string;
  readonly day: number;
  readonly minute: number;
  /** From the start of the track, along it. */
  readonly distance_m: number;
  /** Where the receiver stands, row frame. */
  readonly x_m: number;
  readonly y_m: number;
  readonly z_m: number;
  /** From the best place to the receiver. */
  readonly miss_mm: number;
  readonly miss_x_mm: number;
  readonly miss_y_mm: number;
  readonly miss_z_mm: number;
  /** Of the power that following freely would catch at this moment. */
  readonly loss_pct: number;
  readonly power_w: number;
  readonly energy_kwh: number;
  /** Along the track to the next point of the day; null for the last of a day. */
  readonly speed_to_next_mm_per_min: number | null;
  /** At this moment, from the points before and after; null where the day has one point only. */
  readonly speed_mm_per_min: number | null;
  /** Per mm2 of offset along the track, in per cent. */
  readonly loss_along_pct_per_mm2: number;
  /** Offset along the track that costs 1 % more; null where the loss form puts no end to it. */
  readonly along_for_1_pct_mm: number | null;
  /** Clock error that costs 1 % more, by speed and form; null where the receiver stands still or nothing is lost. */
  readonly clock_for_1_pct_min: number | null;
}

/** Places along the track and the speeds between them. */
interface Motion {
  readonly toNext: number | null;
  readonly here: number | null;
}

function speedBetween(fit: FittedTrack, i: number, j: number): number | null {
  const [a, b] = [fit.ready[i]?.point, fit.ready[j]?.point];
  if (!a || !b || a.day !== b.day || a.minute === b.minute) return null;
  return ((fit.distances[j] - fit.distances[i]) * MM) / (b.minute - a.minute);
}

/** Speeds, mm/min: rising distance counts above 0. Neighbours in the list on the same day belong together. */
function motionOf(fit: FittedTrack, i: number): Motion {
  const sameDay = (j: number) => fit.ready[j]?.point.day === fit.ready[i].point.day;
  const here = speedBetween(fit, sameDay(i - 1) ? i - 1 : i, sameDay(i + 1) ? i + 1 : i);
  return { toNext: speedBetween(fit, i, i + 1), here };
}

/** Offset in mm at which a loss per mm2 makes 1 %. */
function forOnePerCent(lossPerMm2: number): number | null {
  return lossPerMm2 > 0 ? Math.sqrt(0.01 / lossPerMm2) : null;
}

/** One row per point. */
export function trackRows(fit: FittedTrack): TrackRow[] {
  return fit.ready.map(({ point, form, energy }, i) => {
    const distance = fit.distances[i];
    const [x, y, z] = trackAt(fit.track, distance);
    const miss = scale(missOf(fit, i), MM);
    const along = lossAlong(form, tangentAt(fit.track, distance));
    const motion = motionOf(fit, i);
    const reach = forOnePerCent(along);
    const speed = Math.abs(motion.here ?? 0);
    return {
      track: fit.kind,
      day: point.day,
      minute: point.minute,
      distance_m: distance - fit.from,
      x_m: x,
      y_m: y,
      z_m: z,
      miss_mm: norm(miss),
      miss_x_mm: miss[0],
      miss_y_mm: miss[1],
      miss_z_mm: miss[2],
      loss_pct: 100 * fit.losses[i],
      power_w: point.power_w,
      energy_kwh: energy,
      speed_to_next_mm_per_min: motion.toNext,
      speed_mm_per_min: motion.here,
      loss_along_pct_per_mm2: 100 * along,
      along_for_1_pct_mm: reach,
      clock_for_1_pct_min: reach !== null && speed > 0 ? reach / speed : null,
    };
  });
}

/** One line per point and clock error. */
export interface ClockRow {
  readonly track: string;
  readonly day: number;
  readonly minute: number;
  readonly clock_late_min: number;
  /** Along the track, of the receiver from where it should be. */
  readonly offset_mm: number;
  /** More than with the clock right, of the power of following freely. */
  readonly extra_loss_pct: number;
}

/**
 * What a clock that is late (below 0: early) costs at every point that moves: the receiver stands where it should have been so
 * many minutes ago, at its speed of this moment, as if the track went on beyond its ends. By the loss to try where a point has one, else by its form.
 */
export function clockRows(fit: FittedTrack, late_min: readonly number[]): ClockRow[] {
  return fit.ready.flatMap((ready, i) => {
    const { here } = motionOf(fit, i);
    if (here === null) return [];
    return late_min.map((late) => {
      const offset = -here * late;
      const distance = fit.distances[i] + offset / MM;
      return {
        track: fit.kind,
        day: ready.point.day,
        minute: ready.point.minute,
        clock_late_min: late,
        offset_mm: offset,
        extra_loss_pct: 100 * (lossAtDistance(fit.track, distance, ready) - fit.losses[i]),
      };
    });
  });
}

/** Mean extra loss of a clock error over the year, by energy, per cent; null where nothing moves. */
export function meanClockLoss(fit: FittedTrack, late_min: number): number | null {
  const rows = clockRows(fit, [late_min]);
  const moving = fit.ready.filter((_, i) => motionOf(fit, i).here !== null);
  const energy = moving.reduce((sum, one) => sum + one.energy, 0);
  if (energy === 0) return null;
  return rows.reduce((sum, row, i) => sum + row.extra_loss_pct * moving[i].energy, 0) / energy;
}

/** The worse of a clock so many minutes late and as many early; null where nothing moves. */
export function worseClockLoss(fit: FittedTrack, minutes: number): number | null {
  const [late, early] = [meanClockLoss(fit, minutes), meanClockLoss(fit, -minutes)];
  return late === null || early === null ? null : Math.max(late, early);
}

/** Share lost for 1 mm, 2 mm, ... off the best place in one direction: what a misplaced bracket costs. */
export function lossPerMm(
  fit: FittedTrack,
  index: number,
  direction: readonly [number, number, number],
  off_mm: number,
): number {
  const length = norm(direction);
  if (!(length > 0)) throw new RangeError('a direction must not be of length 0');
  return lossOfOffset(fit.ready[index].form, scale(direction, off_mm / MM / length));
}

/** One line per kind of track. */
export interface TrackSummaryRow {
  readonly track: string;
  readonly length_m: number;
  readonly mean_loss_pct: number;
  readonly worst_loss_pct: number;
  /** Day and minute of the worst loss. */
  readonly worst_day: number;
  readonly worst_minute: number;
  /** By energy, root mean square. */
  readonly rms_miss_mm: number;
  readonly worst_miss_mm: number;
  readonly fastest_mm_per_min: number | null;
  /** Beyond the row's ends; 0 where the track ends inside; null where no ends were given. */
  readonly overhang_low_m: number | null;
  readonly overhang_high_m: number | null;
  readonly lost_kwh: number;
  readonly converged: 'yes' | 'no';
}

/** Ends of the row by x in the row frame, m. */
export interface RowEnds {
  readonly from_m: number;
  readonly to_m: number;
}

/** How far a track reaches beyond the ends of its row, m. */
export function overhangOf(
  fit: FittedTrack,
  { from_m, to_m }: RowEnds,
): { readonly low_m: number; readonly high_m: number } {
  const ends = [trackAt(fit.track, fit.from)[0], trackAt(fit.track, fit.to)[0]];
  return { low_m: Math.max(0, from_m - Math.min(...ends)), high_m: Math.max(0, Math.max(...ends) - to_m) };
}

/** One row per track; worst values are over points with weight. */
export function trackSummaryRows(
  fits: readonly FittedTrack[],
  rowEnds: RowEnds | null = null,
): TrackSummaryRow[] {
  return fits.map((fit) => {
    const rows = trackRows(fit);
    const used = rows.filter((row) => row.energy_kwh > 0);
    const worst = used.reduce((a, b) => (b.loss_pct > a.loss_pct ? b : a));
    const energy = used.reduce((sum, row) => sum + row.energy_kwh, 0);
    const squares = used.reduce((sum, row) => sum + row.energy_kwh * row.miss_mm ** 2, 0);
    const speeds = rows.flatMap(({ speed_to_next_mm_per_min: speed }) =>
      speed === null ? [] : [Math.abs(speed)],
    );
    const overhang = rowEnds && overhangOf(fit, rowEnds);
    return {
      track: fit.kind,
      length_m: fit.to - fit.from,
      mean_loss_pct: 100 * fit.meanLoss,
      worst_loss_pct: worst.loss_pct,
      worst_day: worst.day,
      worst_minute: worst.minute,
      rms_miss_mm: Math.sqrt(squares / energy),
      worst_miss_mm: Math.max(...used.map((row) => row.miss_mm)),
      fastest_mm_per_min: speeds.length > 0 ? Math.max(...speeds) : null,
      overhang_low_m: overhang?.low_m ?? null,
      overhang_high_m: overhang?.high_m ?? null,
      lost_kwh: fit.meanLoss * energy,
      converged: fit.converged ? 'yes' : 'no',
    };
  });
}

/** One line per term of a track. */
export interface TrackTermRow {
  readonly track: string;
  readonly term: string;
  readonly value: number;
  /** Null where the points are too few to tell. */
  readonly std_err: number | null;
  readonly unit: string;
}

/** The builder's terms of tracks, one row each. */
export function trackTermRows(fits: readonly FittedTrack[]): TrackTermRow[] {
  return fits.flatMap((fit) =>
    Object.entries(trackTerms(fit)).map(([term, { value, std_err, unit }]) => ({
      track: fit.kind,
      term,
      value,
      std_err: Number.isFinite(std_err) ? std_err : null,
      unit,
    })),
  );
}
