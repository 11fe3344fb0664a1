import { describe, expect, it } from 'vitest';
import { CURVE_BINS, CURVE_MAX_SCALE, FATES, Fate } from '../../src/kernel/tally.js';
import { summarize } from '../../src/result/summarize.js';
import type { Figure, TraceResult } from '../../src/result/types.js';
import { jackknife, NORMAL_975, wilsonInterval } from '../../src/run/statistics.js';
import {
  DNI,
  INCIDENT,
  MIRROR_AREA,
  REFLECTANCE,
  syntheticOutcome,
  syntheticScene,
} from './synthetic-run.js';

const OPTIONS = { seed: 11, slots: 16, batchesPerSlot: 2, raysPerBatch: 4000, cells: 65 };
const SIGMA = 0.04;

function trace(receivers = 1, overrides: Partial<Parameters<typeof syntheticOutcome>[2]> = {}) {
  const options = { ...OPTIONS, ...overrides };
  const scene = syntheticScene(receivers, options);
  const spots = scene.field.receivers.map((_, i) => ({
    sigma: SIGMA + 0.01 * i,
    shaded: 0.05,
    blocked: 0.03,
  }));
  const outcome = syntheticOutcome(scene, spots, options);
  return { scene, outcome, summary: summarize(scene, outcome, '1.2.3', []) };
}

/** In standard errors. */
function offBy(figure: Figure, truth: number): number {
  return Math.abs(figure.value - truth) / figure.std_err;
}

/** Every number of a result, with the path to it. */
function numbersIn(value: unknown, path = ''): [string, number][] {
  if (typeof value === 'number') return [[path, value]];
  if (value === null || typeof value !== 'object') return [];
  return Object.entries(value).flatMap(([key, entry]) => numbersIn(entry, `${path}.${key}`));
}

describe('figures of a drawn Gaussian spot (seed 11)', () => {
  const { summary, scene, outcome } = trace();
  const receiver = summary.result.receivers[0];

  /**
   * Encircled energy of a circular Gaussian, 1 - exp(-r^2 / 2 sigma^2), closed form. r / sigma and the shares are
   * tabulated values: 1.17741 holds 0.5, 2.14597 holds 0.9.
   */
  it('spot diameters: 1.17741 sigma holds half, 2.14597 sigma nine tenths', () => {
    expect(offBy(receiver.spot.holds_50, 2000 * SIGMA * 1.17741)).toBeLessThan(3);
    expect(offBy(receiver.spot.holds_90, 2000 * SIGMA * 2.14597)).toBeLessThan(3);
    expect(receiver.spot.holds_90.std_err / receiver.spot.holds_90.value).toBeLessThan(0.005);
    expect(receiver.spot.measure).toBe('diameter');
  });

  it('sabotage: a spot 5 % wider is told from it', () => {
    expect(offBy(receiver.spot.holds_90, 1.05 * 2000 * SIGMA * 2.14597)).toBeGreaterThan(5);
  });

  it('the intercept curve follows 1 - exp(-r^2 / 2 sigma^2) of the light not blocked', () => {
    for (const { scale, size_mm, intercept, std_err } of receiver.intercept_curve) {
      expect(size_mm).toBeCloseTo(180 * scale, 9);
      const truth = 0.97 * (1 - Math.exp(-((0.09 * scale) ** 2) / (2 * SIGMA ** 2)));
      expect(Math.abs(intercept - truth), `at ${scale}`).toBeLessThan(4 * std_err);
    }
    const table = [
      [0.5, 0.117503],
      [1, 0.393469],
      [2, 0.864665],
      [3, 0.988891],
    ];
    for (const [radiusInSigma, share] of table) {
      const scale = (radiusInSigma * SIGMA) / 0.09;
      const after = receiver.intercept_curve.findIndex((point) => point.scale >= scale);
      const [a, b] = [receiver.intercept_curve[after - 1], receiver.intercept_curve[after]];
      const part = (scale - a.scale) / (b.scale - a.scale);
      // Straight lines between points 0.05 of an opening apart: the bend adds up to 0.002.
      const between = a.intercept + part * (b.intercept - a.intercept);
      expect(Math.abs(between - 0.97 * share)).toBeLessThan(4 * b.std_err + 0.002);
    }
  });

  it('the curve runs from 0.1 to the largest scale in about 60 points, rises, and is the intercept factor at 1', () => {
    const curve = receiver.intercept_curve;
    expect(curve.length).toBeGreaterThan(50);
    expect(curve.length).toBeLessThan(70);
    expect(curve[0].scale).toBe(0.1);
    expect(curve.at(-1)?.scale).toBe(CURVE_MAX_SCALE);
    const atOne = curve.find((point) => point.scale === 1);
    expect(atOne?.intercept).toBeCloseTo(receiver.intercept_factor.value, 12);
    expect(atOne?.std_err).toBeCloseTo(receiver.intercept_factor.std_err, 12);
    for (let i = 1; i < curve.length; i++) {
      expect(curve[i].intercept).toBeGreaterThanOrEqual(curve[i - 1].intercept);
    }
  });

  it('the smallest opening for 5 % spill is the circle that holds 95 %', () => {
    const truth = 2000 * SIGMA * Math.sqrt(2 * Math.log(20));
    expect(offBy(receiver.opening_for_5_percent_spill_mm, truth)).toBeLessThan(3);
    expect(receiver.opening_for_5_percent_spill_mm.value).toBeCloseTo(receiver.spot.holds_95.value, 0);
  });

  it('fractions of the reflected light sum to 1', () => {
    const sum =
      receiver.intercept_factor.value + receiver.spill_fraction.value + receiver.blocked_fraction.value;
    expect(sum).toBeCloseTo(1, 12);
  });

  it('powers, mean flux and concentrations hang together', () => {
    const area = (Math.PI / 4) * 0.18 ** 2;
    expect(offBy(receiver.reflected_power, INCIDENT * 0.95 * REFLECTANCE)).toBeLessThan(3);
    expect(receiver.aperture_area_m2).toBeCloseTo(area, 15);
    expect(receiver.mean_flux.value).toBeCloseTo(receiver.intercepted_power.value / area / 1000, 12);
    expect(receiver.concentration_ratio.value).toBeCloseTo((receiver.mean_flux.value * 1000) / DNI, 12);
    expect(receiver.peak_concentration.value).toBeCloseTo((receiver.peak_flux.value * 1000) / DNI, 12);
    expect(receiver.geometric_concentration).toBeCloseTo(MIRROR_AREA / area, 12);
  });

  it('cells of the flux map sum to the light in the window, and their errors to Poisson ones', () => {
    const [grid] = summary.grids;
    const cellArea = (0.4 / 65) ** 2;
    const watts = grid.flux.reduce((sum, flux) => sum + flux * 1000 * cellArea, 0);
    const inWindow =
      outcome.slots.reduce((sum, slot) => sum + slot[scene.layout.receivers[0].moments], 0) / outcome.batches;
    expect(watts / inWindow).toBeCloseTo(1, 12);
    const rayWatts = (INCIDENT * REFLECTANCE) / OPTIONS.raysPerBatch / outcome.batches;
    let ratio = 0;
    let counted = 0;
    grid.flux.forEach((flux, cell) => {
      const rays = (flux * 1000 * cellArea) / rayWatts;
      if (rays < 50) return;
      ratio += (grid.stdErr[cell] * 1000 * cellArea) / rayWatts / Math.sqrt(rays);
      counted++;
    });
    // Mean of some hundred ratios, each good to 1/sqrt(2 x 15): 0.18 / sqrt(300), three times over.
    expect(counted).toBeGreaterThan(300);
    expect(Math.abs(ratio / counted - 1)).toBeLessThan(0.035);
  });

  it('leave-one-out values give the stated standard errors', () => {
    const { replicates } = summary;
    for (const [name, figure] of [
      ['total.spill_fraction', summary.result.total.spill_fraction],
      ['receivers.R1.spot.holds_90', receiver.spot.holds_90],
      ['receivers.R1.intercepted_power', receiver.intercepted_power],
      ['receivers.R1.opening_for_5_percent_spill_mm', receiver.opening_for_5_percent_spill_mm],
    ] as const) {
      expect(replicates[name]).toHaveLength(16);
      // Counts have z/2 rays added in quadrature, which shows in the fourth digit at these ray counts.
      const added = figure.std_err / jackknife(replicates[name], figure.value).std_err;
      expect(added).toBeGreaterThanOrEqual(1);
      expect(added).toBeLessThan(1.001);
    }
  });

  it('holds only finite numbers, and every interval its value', () => {
    for (const [path, number] of numbersIn(summary.result)) expect(Number.isFinite(number), path).toBe(true);
    const check = (value: unknown): void => {
      if (value === null || typeof value !== 'object') return;
      if ('ci95' in value) {
        const figure = value as Figure;
        expect(figure.ci95[0]).toBeLessThanOrEqual(figure.value);
        expect(figure.ci95[1]).toBeGreaterThanOrEqual(figure.value);
      }
      Object.values(value).forEach(check);
    };
    check(summary.result);
  });

  it('states the run and the sun', () => {
    const { result } = summary;
    expect(result.program).toEqual({ name: 'rowfocus', version: '1.2.3' });
    expect(result.groups).toBe(16);
    expect(result.batches).toBe(32);
    expect(result.sun.azimuth_deg).toBeCloseTo(180, 9);
    expect(result.sun.elevation_deg).toBeCloseTo(180 / Math.PI, 9);
    expect(result.warnings).toEqual([]);
    expect(JSON.parse(JSON.stringify(result))).toEqual(result);
  });
});

describe('the ledger', () => {
  const { summary } = trace(3);
  const ledgers = [
    summary.result.total.ledger,
    ...summary.result.receivers.map((receiver) => receiver.ledger),
  ];
  /** Relative gap between the lines' sum and the sunlight available. */
  const gap = (ledger: TraceResult['total']['ledger'], dropped?: string) => {
    const lines = ledger.lines.filter((line) => line.key !== dropped);
    return Math.abs(lines.reduce((sum, line) => sum + line.power.value, 0) / ledger.available_w - 1);
  };

  it('sums to beam irradiance x mirror area within 1e-12', () => {
    for (const ledger of ledgers) expect(gap(ledger)).toBeLessThan(1e-12);
    expect(summary.result.total.ledger.available_w).toBeCloseTo(3 * DNI * MIRROR_AREA, 9);
  });

  it('sabotage: a line left out shows', () => {
    expect(gap(ledgers[0], 'spilled_on_ground')).toBeGreaterThan(1e-3);
  });

  it('accounts for every ray exactly once', () => {
    for (const ledger of ledgers) {
      const rays = ledger.lines.reduce((sum, line) => sum + (line.rays ?? 0), 0);
      expect(rays).toBe(ledger.rays);
    }
    expect(ledgers[0].rays).toBe(3 * 32 * OPTIONS.raysPerBatch);
  });

  it('has a line for every place light can go, none with a zero error that is only a small sample', () => {
    const keys = ledgers[0].lines.map((line) => line.key);
    expect(new Set(keys).size).toBe(keys.length);
    expect(keys).toEqual([
      'cosine',
      'unlit',
      'shaded',
      'film',
      'blocked_by_facet',
      'blocked_by_blocker',
      'blocked_by_receiver',
      'intercepted',
      'intercepted_elsewhere',
      'spilled_on_receiver',
      'spilled_on_ground',
      'spilled_to_sky',
      'lost',
    ]);
    const line = (key: string) => ledgers[0].lines.find((entry) => entry.key === key)!;
    expect(line('lost').power.limit).toBe('upper');
    expect(line('lost').power.ci95[1]).toBeGreaterThan(0);
    // There is no blocker in the scene: a fact, no estimate.
    expect(line('blocked_by_blocker').power).toEqual({ value: 0, std_err: 0, ci95: [0, 0], unit: 'W' });
  });
});

describe('few rays', () => {
  const options = { ...OPTIONS, raysPerBatch: 50, slots: 8, batchesPerSlot: 1 };
  const scene = syntheticScene(1, options);

  it('no ray spilled: an upper limit by Wilson, not 0 with an error of 0', () => {
    const outcome = syntheticOutcome(scene, [{ sigma: 0.01 }], options);
    const { spill_fraction, intercept_factor } = summarize(scene, outcome, '0', []).result.total;
    expect(spill_fraction.value).toBe(0);
    expect(spill_fraction.limit).toBe('upper');
    expect(spill_fraction.ci95).toEqual([0, wilsonInterval(0, 400)[1]]);
    expect(spill_fraction.std_err).toBeGreaterThan(0);
    expect(intercept_factor.value).toBeCloseTo(1, 14);
    expect(intercept_factor.limit).toBe('lower');
    expect(intercept_factor.ci95[0]).toBeCloseTo(wilsonInterval(400, 400)[0], 14);
  });

  it("fewer than ten: the interval is Wilson's", () => {
    const outcome = syntheticOutcome(scene, [{ sigma: 0.032 }], options);
    const { layout } = scene;
    const count = (fate: number) => outcome.slots.reduce((sum, slot) => sum + slot[layout.counts + fate], 0);
    const spilled = count(Fate.SpilledOnGround) + count(Fate.SpilledToSky);
    expect(spilled).toBeGreaterThan(0);
    expect(spilled).toBeLessThan(10);
    const { spill_fraction } = summarize(scene, outcome, '0', []).result.total;
    const [low, high] = wilsonInterval(spilled, 400);
    expect(spill_fraction.ci95[0]).toBeCloseTo(low, 14);
    expect(spill_fraction.ci95[1]).toBeCloseTo(high, 14);
    expect(spill_fraction.limit).toBeUndefined();
  });

  it('a single slot: errors from ray counts, near those of many slots, and a warning', () => {
    const many = trace(1, { slots: 32, batchesPerSlot: 1, raysPerBatch: 2000 });
    const single = trace(1, { slots: 1, batchesPerSlot: 32, raysPerBatch: 2000 });
    expect(single.summary.result.warnings.map((warning) => warning.code)).toContain('errors_from_ray_counts');
    const [a] = single.summary.result.receivers;
    const [b] = many.summary.result.receivers;
    for (const [one, other] of [
      [a.spill_fraction, b.spill_fraction],
      [a.intercepted_power, b.intercepted_power],
      [a.peak_flux, b.peak_flux],
      [a.spot.holds_90, b.spot.holds_90],
      [a.opening_for_5_percent_spill_mm, b.opening_for_5_percent_spill_mm],
    ]) {
      // The error of an error from 32 slots is 1/sqrt(62) = 13 %; three times that and some for the formula.
      expect(one.std_err / other.std_err).toBeGreaterThan(0.55);
      expect(one.std_err / other.std_err).toBeLessThan(1.7);
    }
    for (const line of a.ledger.lines) {
      if (line.power.value > 0) expect(line.power.std_err, line.key).toBeGreaterThan(0);
    }
  });

  it.each([
    ['inside', 1],
    ['outside', 99],
  ])(
    'nine of 900 %s an opening, one in every slot: the curve has the error of the count',
    (_side, inside) => {
      const { layout } = scene;
      const { curve } = layout.receivers[0];
      const slots = Array.from({ length: 9 }, () => {
        const tally = new Float64Array(layout.length);
        tally[layout.incident] = 100;
        for (const base of [layout.counts, layout.watts]) {
          tally[base + Fate.Intercepted] = inside;
          tally[base + Fate.SpilledToSky] = 100 - inside;
        }
        tally[curve] = inside;
        tally[curve + CURVE_BINS] = 100 - inside;
        return tally;
      });
      const outcome = { ...syntheticOutcome(scene, [{ sigma: 0.03 }], options), slots, batchesPerSlot: 1 };
      const [low, high] = wilsonInterval(9 * inside, 900);
      for (const point of summarize(scene, outcome, '0', []).result.receivers[0].intercept_curve) {
        if (point.scale < 0.5) continue;
        expect(point.intercept).toBeCloseTo(inside / 100, 12);
        // The slots agree to the ray, so that their spread is 0.
        expect(point.std_err).toBeCloseTo((high - low) / (2 * NORMAL_975), 12);
      }
    },
  );

  it('a single ray: its place is known no better than evenly over the window', () => {
    const { layout } = scene;
    const place = layout.receivers[0];
    const tally = new Float64Array(layout.length);
    tally[layout.incident] = 1;
    for (const base of [layout.counts, layout.watts]) tally[base + Fate.Intercepted] = 1;
    for (const at of [place.curve, place.spot, place.map, place.moments]) tally[at] = 1;
    const outcome = {
      ...syntheticOutcome(scene, [{ sigma: 0.03 }], options),
      slots: [tally],
      batchesPerSlot: 1,
    };
    const { spot } = summarize(scene, outcome, '0', []).result.receivers[0];
    // Half of 400 mm over the root of 3, once for the single slot and once for the few rays.
    for (const centroid of [spot.centroid_u, spot.centroid_v]) {
      expect(centroid.std_err).toBeCloseTo(200 * Math.sqrt(2 / 3), 9);
    }
  });

  it('no light at all: nothing is made up and nothing is not a number', () => {
    const outcome = syntheticOutcome(scene, [{ sigma: 0.03, shaded: 1 }], options);
    const { result } = summarize(scene, outcome, '0', []);
    for (const [path, number] of numbersIn(result)) expect(Number.isFinite(number), path).toBe(true);
    expect(result.warnings.map((warning) => warning.code)).toContain('no_light');
    expect(result.answer).toContain('No light');
    expect(result.total.spill_fraction.ci95).toEqual([0, 1]);
  });

  it('no slot at all is refused', () => {
    const outcome = { ...syntheticOutcome(scene, [{ sigma: 0.03 }], options), slots: [] };
    expect(() => summarize(scene, outcome, '0', [])).toThrow(RangeError);
  });

  it('a tally of another scene is refused', () => {
    const outcome = syntheticOutcome(scene, [{ sigma: 0.03 }], options);
    expect(() => summarize(syntheticScene(2, options), outcome, '0', [])).toThrow(/does not fit/);
  });
});

describe('a spot wider than measured', () => {
  it('gives lower bounds and says so', () => {
    const options = { ...OPTIONS, spotRadius: 0.05 };
    const scene = syntheticScene(1, options);
    const { result } = summarize(scene, syntheticOutcome(scene, [{ sigma: 0.5 }], options), '0', []);
    const [receiver] = result.receivers;
    expect(receiver.spot.holds_90).toEqual({
      value: 100,
      std_err: 0,
      ci95: [100, 100],
      unit: 'mm',
      limit: 'lower',
    });
    expect(receiver.opening_for_5_percent_spill_mm.limit).toBe('lower');
    expect(receiver.opening_for_5_percent_spill_mm.value).toBe(CURVE_MAX_SCALE * 180);
    expect(result.warnings.map((warning) => warning.code)).toContain('spot_wider_than_measured');
  });
});

describe('a spot on few map cells', () => {
  const codes = (cells: number, sigma: number) => {
    const given = { ...OPTIONS, cells };
    const scene = syntheticScene(2, given);
    const outcome = syntheticOutcome(scene, [{ sigma }, { sigma: 0.03 }], given);
    return summarize(scene, outcome, '0', []).result.warnings;
  };

  it('is told with its size and what to do', () => {
    // Above a tenth of the top: 2 sqrt(2 ln 10) = 4.29 sigma = 26 mm; a cell is 6.25 mm (closed form).
    const [warning] = codes(64, 0.006);
    expect(warning.code).toBe('spot_on_few_cells');
    expect(warning.message).toMatch(
      /^The spot on R1 covers about [45] by [45] cells of its map, .* more cells or a smaller window/,
    );
  });

  it('is not told where the spot covers eight cells (sabotage: half as many cells)', () => {
    expect(codes(64, 0.012)).toEqual([]);
    expect(codes(32, 0.012).map(({ code }) => code)).toEqual(['spot_on_few_cells']);
  });

  it('is told where it is coarse one way only', () => {
    const given = { ...OPTIONS, cells: 64 };
    const square = syntheticScene(1, given);
    const receivers = square.field.receivers.map((receiver) => ({
      ...receiver,
      design: { ...receiver.design, window: { width: 0.4, height: 4 } },
    }));
    const scene = { ...square, field: { ...square.field, receivers } };
    const warnings = summarize(scene, syntheticOutcome(scene, [{ sigma: 0.03 }], given), '0', []).result
      .warnings;
    // 4.29 sigma = 129 mm on cells of 6.25 by 62.5 mm (closed form).
    expect(warnings.map(({ code }) => code)).toEqual(['spot_on_few_cells']);
    expect(warnings[0].message).toMatch(/covers about (19|2\d) by [2-4] cells/);
  });
});

describe('line receivers and tubes', () => {
  it.each(['line_plate', 'tube'] as const)(
    'a %s: the spot is a width across, the opening its short side',
    (kind) => {
      const { summary } = trace(1, { kind });
      const [receiver] = summary.result.receivers;
      expect(receiver.spot.measure).toBe('width');
      // Two-sided normal points: 0.6745 sigma holds half, 1.6449 sigma nine tenths.
      expect(offBy(receiver.spot.holds_50, 2000 * SIGMA * 0.67449)).toBeLessThan(3);
      expect(offBy(receiver.spot.holds_90, 2000 * SIGMA * 1.644854)).toBeLessThan(3);
      expect(receiver.intercept_curve.find((point) => point.scale === 1)?.size_mm).toBe(180);
      expect(receiver.aperture_area_m2).toBeCloseTo(kind === 'tube' ? Math.PI * 0.36 : 0.36, 12);
    },
  );
});

describe('several receivers', () => {
  it('light that another receiver caught counts as power there, and as spill where it came from', () => {
    const { scene, outcome } = trace(2);
    const moved = outcome.slots.map((slot) => {
      const copy = Float64Array.from(slot);
      const { counts, watts } = scene.layout;
      for (const base of [counts, watts]) {
        copy[base + Fate.InterceptedElsewhere] = copy[base + Fate.SpilledToSky];
        copy[base + Fate.SpilledToSky] = 0;
      }
      // The second receiver has caught it.
      copy[scene.layout.strayRays + 1] = copy[counts + Fate.InterceptedElsewhere];
      copy[scene.layout.strayWatts + 1] = copy[watts + Fate.InterceptedElsewhere];
      return copy;
    });
    const { result } = summarize(scene, { ...outcome, slots: moved }, '0', []);
    const [first, second] = result.receivers;
    const elsewhere = first.ledger.lines.find((line) => line.key === 'intercepted_elsewhere')!.power.value;
    expect(elsewhere).toBeGreaterThan(0);
    const own = second.ledger.lines.find((line) => line.key === 'intercepted')!.power.value;
    expect(second.intercepted_power.value).toBeCloseTo(own + elsewhere, 9);
    expect(result.total.intercepted_power.value).toBeCloseTo(
      first.intercepted_power.value + second.intercepted_power.value,
      9,
    );
    expect(result.total.spill_fraction.value).toBeCloseTo(
      (first.spill_fraction.value * first.reflected_power.value +
        second.spill_fraction.value * second.reflected_power.value) /
        result.total.reflected_power.value,
      12,
    );
    expect(scene.layout.counts + 2 * FATES).toBe(scene.layout.watts);
  });
});
