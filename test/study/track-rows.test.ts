import { describe, expect, it } from 'vitest';
import type { Vec3 } from '../../src/scene/types.js';
import type { LossForm } from '../../src/study/loss-form.js';
import { fitTrack, fitTracks } from '../../src/study/track-fit.js';
import type { TrackPoint } from '../../src/study/track-points.js';
import {
  clockRows,
  lossPerMm,
  meanClockLoss,
  overhangOf,
  trackRows,
  trackSummaryRows,
  trackTermRows,
  worseClockLoss,
} from '../../src/study/track-rows.js';
import { trackTerms } from '../../src/study/track-terms.js';

/** 1 % lost 20 mm off along the row, 40 mm across it, 30 mm up. */
const FORM: LossForm = [
  [0.01 / 400, 0, 0],
  [0, 0.01 / 1600, 0],
  [0, 0, 0.01 / 900],
];

const FOCAL = 1.5;
const HOUR = Math.PI / 12;

/** At the equinox the sun is as far out of the north-south plane as its hour angle: from 8 to 16 o'clock, every 20 minutes. */
const MINUTES = Array.from({ length: 25 }, (_, i) => 480 + 20 * i);

function anglesAt(minute: number): number {
  return (minute / 60 - 12) * HOUR;
}

function equinox(place: (angle: number) => Vec3, day = 80): TrackPoint[] {
  return MINUTES.map((minute) => ({
    day,
    minute,
    position: place(anglesAt(minute)),
    power_w: 1000,
    hours: 20,
    lossPerMm2: FORM,
  }));
}

const onPlane = (angle: number): Vec3 => [FOCAL * Math.tan(angle), 0, FOCAL];
const onArc = (angle: number): Vec3 => [FOCAL * Math.sin(angle), 0, FOCAL * Math.cos(angle)];

describe("the image of the sun in a mirror's middle (closed form: the ray through the vertex)", () => {
  // Times the focal length, at hour angles of 15, 30, 45 and 60 degrees.
  const TRAVEL = [0.26795, 0.57735, 1, 1.73205];

  it('on a plane track it travels f tan(angle)', () => {
    const fit = fitTrack('level', equinox(onPlane));
    const rows = trackRows(fit);
    const noon = rows[12].distance_m;
    TRAVEL.forEach((travel, i) => {
      const found = (rows[15 + 3 * i].distance_m - noon) / FOCAL;
      expect(Math.abs(found - travel)).toBeLessThan(1e-5);
      // Sabotage: the arc's distance is another.
      expect(Math.abs(found - (i + 1) * HOUR)).toBeGreaterThan(1e-3);
    });
    expect(rows[0].distance_m).toBe(0);
    expect(rows.every((row) => row.miss_mm < 1e-6)).toBe(true);
  });

  it('on the arc of radius f the chord from noon is 2 f sin(angle/2), the travel f x angle', () => {
    const fit = fitTrack('arc', equinox(onArc));
    const rows = trackRows(fit);
    expect(trackTerms(fit).radius_m.value).toBeCloseTo(FOCAL, 6);
    expect(trackTerms(fit).bulge_from_up_deg.value).toBeCloseTo(0, 4);
    const noon = rows[12];
    TRAVEL.forEach((_, i) => {
      const row = rows[15 + 3 * i];
      const angle = (i + 1) * HOUR;
      const chord = Math.hypot(row.x_m - noon.x_m, row.y_m - noon.y_m, row.z_m - noon.z_m);
      expect(Math.abs(chord / FOCAL - 2 * Math.sin(angle / 2))).toBeLessThan(1e-5);
      expect(Math.abs((row.distance_m - noon.distance_m) / FOCAL - angle)).toBeLessThan(1e-5);
    });
  });

  it('a level track for places on an arc misses in height, and says where', () => {
    const fit = fitTrack('level', equinox(onArc));
    const rows = trackRows(fit);
    const height = trackTerms(fit).start_z_m.value;
    rows.forEach((row, i) => {
      const up = height - onArc(anglesAt(MINUTES[i]))[2];
      expect(row.miss_z_mm).toBeCloseTo(1000 * up, 4);
      expect(row.miss_mm).toBeCloseTo(Math.abs(1000 * up), 4);
      expect(row.loss_pct).toBeCloseTo((1000 * up) ** 2 / 900, 5);
    });
    // Closed form: equal weights, so the mean height, and the mean of squares about it.
    const heights = MINUTES.map((minute) => FOCAL * Math.cos(anglesAt(minute)));
    expect(height).toBeCloseTo(heights.reduce((sum, z) => sum + z, 0) / heights.length, 8);
  });
});

describe('speed and clock', () => {
  const fit = fitTrack('arc', equinox(onArc));
  const rows = trackRows(fit);
  /** A circle of radius f at the sun's hour angle: 15 degrees an hour. */
  const SPEED = (FOCAL * 1000 * HOUR) / 60;

  it('the speed on the arc is f x 15 degrees an hour', () => {
    rows.forEach((row, i) => {
      expect(row.speed_mm_per_min).toBeCloseTo(SPEED, 5);
      if (i + 1 < rows.length) expect(row.speed_to_next_mm_per_min).toBeCloseTo(SPEED, 5);
    });
    expect(rows[24].speed_to_next_mm_per_min).toBeNull();
    expect(trackSummaryRows([fit])[0].fastest_mm_per_min).toBeCloseTo(SPEED, 5);
  });

  it('days do not run into each other', () => {
    const two = trackRows(fitTrack('arc', [...equinox(onArc, 80), ...equinox(onArc, 266)]));
    expect(two[24].speed_to_next_mm_per_min).toBeNull();
    expect(two[25].speed_mm_per_min).toBeCloseTo(SPEED, 5);
    expect(two[24].speed_mm_per_min).toBeCloseTo(SPEED, 5);
  });

  it('a late clock costs what an offset along the track costs', () => {
    // At noon the track runs along the row: 1 % for 20 mm.
    expect(rows[12].along_for_1_pct_mm).toBeCloseTo(20, 5);
    expect(rows[12].loss_along_pct_per_mm2).toBeCloseTo(1 / 400, 8);
    expect(rows[12].clock_for_1_pct_min).toBeCloseTo(20 / SPEED, 5);
    const noon = clockRows(fit, [-2, 1, 2, 4]).filter((row) => row.minute === 720);
    expect(noon.map((row) => row.offset_mm)).toEqual(
      [2, -1, -2, -4].map((n) => expect.closeTo(n * SPEED, 5)),
    );
    noon.forEach((row) => {
      // Closed form on the circle: offsets f sin and f (1 - cos).
      const turn = Math.abs(row.clock_late_min) * (HOUR / 60);
      const along = 1000 * FOCAL * Math.sin(turn);
      const down = 1000 * FOCAL * (1 - Math.cos(turn));
      expect(row.extra_loss_pct).toBeCloseTo(along ** 2 / 400 + down ** 2 / 900, 5);
    });
    // Twice as late costs four times as much; a loss in proportion to time would not.
    expect(noon[2].extra_loss_pct / noon[1].extra_loss_pct).toBeCloseTo(4, 2);
    expect(meanClockLoss(fit, 0)).toBeCloseTo(0, 9);
    expect(meanClockLoss(fit, 2)).toBeGreaterThan(0);
  });

  it('over a day that is alike before and after noon, late and early cost the same', () => {
    expect(meanClockLoss(fit, 3)).toBeCloseTo(meanClockLoss(fit, -3) as number, 6);
    // More is lost to one side: the worse of late and early is told, not always late.
    for (const side of [1, -1]) {
      const lossAt = ([x]: readonly [number, number, number]) => (side * x > 0 ? 3 : 1) * x * x;
      const uneven = fitTrack(
        'arc',
        equinox(onArc).map((point) => ({ ...point, lossAt })),
      );
      const both = [3, -3].map((late) => meanClockLoss(uneven, late) as number);
      expect(Math.max(...both)).toBeGreaterThan(1.5 * Math.min(...both));
      expect(worseClockLoss(uneven, 3)).toBe(Math.max(...both));
    }
  });

  it('points that stand still have no clock to mind', () => {
    const single = fitTrack('level', [{ ...equinox(onArc)[3], minute: 600 }]);
    expect(trackRows(single)[0]).toMatchObject({ speed_mm_per_min: null, clock_for_1_pct_min: null });
    expect(clockRows(single, [1])).toEqual([]);
    expect(meanClockLoss(single, 1)).toBeNull();
    expect(worseClockLoss(single, 1)).toBeNull();
  });

  it('a misplaced bracket', () => {
    expect(lossPerMm(fit, 12, [0, 2, 0], 40)).toBeCloseTo(0.01, 10);
    expect(lossPerMm(fit, 12, [0, 0, 1], 15)).toBeCloseTo(0.0025, 10);
    expect(() => lossPerMm(fit, 0, [0, 0, 0], 1)).toThrow(/length 0/);
  });
});

describe('summaries', () => {
  const fits = fitTracks(equinox(onArc));

  it('one row per track: worst, mean, overhang', () => {
    const rows = trackSummaryRows(fits, { from_m: -1, to_m: 2 });
    expect(rows.map((row) => row.track)).toEqual(['level', 'tilted', 'arc', 'knee']);
    const [level, , arc] = rows;
    expect(arc.mean_loss_pct).toBeLessThan(1e-6);
    expect(level.mean_loss_pct).toBeGreaterThan(rows[3].mean_loss_pct);
    expect(level.worst_minute === 480 || level.worst_minute === 960).toBe(true);
    const reach = FOCAL * Math.sin(4 * HOUR);
    expect(level.overhang_low_m).toBeCloseTo(reach - 1, 6);
    expect(level.overhang_high_m).toBe(0);
    expect(level.lost_kwh).toBeCloseTo((level.mean_loss_pct / 100) * 25 * 20, 8);
    expect(trackSummaryRows(fits)[0].overhang_low_m).toBeNull();
    expect(overhangOf(fits[0], { from_m: -5, to_m: 5 })).toEqual({ low_m: 0, high_m: 0 });
    expect(level.worst_loss_pct).toBe(Math.max(...trackRows(fits[0]).map((row) => row.loss_pct)));
  });

  it('terms as rows, with units; nothing that JSON cannot hold', () => {
    const rows = trackTermRows(fits);
    expect(rows.find((row) => row.track === 'arc' && row.term === 'radius_m')).toMatchObject({ unit: 'm' });
    for (const row of rows) {
      expect(Number.isFinite(row.value)).toBe(true);
      expect(row.term.endsWith(row.unit === '1/m' ? 'per_m' : `_${row.unit}`)).toBe(true);
    }
    for (const fit of fits)
      for (const value of Object.values(trackRows(fit)[5]))
        expect(JSON.parse(JSON.stringify(value))).toEqual(value);
  });
});
