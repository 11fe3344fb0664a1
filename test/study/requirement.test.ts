import { describe, expect, it } from 'vitest';
import type { Figure } from '../../src/result/types.js';
import {
  holds,
  nearestName,
  parseRequirement,
  type TolerancePoint,
  tolerance,
} from '../../src/study/requirement.js';
import type { Requirement } from '../../src/study/types.js';

describe('requirements', () => {
  it.each([
    ['spill_fraction<=0.05', 'spill_fraction', '<=', 0.05],
    ['spill<=5%', 'spill_fraction', '<=', 0.05],
    [' spill < 5 % ', 'spill_fraction', '<', 0.05],
    ['peak_flux>=50', 'peak_flux', '>=', 50],
    ['peak>50', 'peak_flux', '>', 50],
    ['power>=1200', 'intercepted_power', '>=', 1200],
    ['receivers.A2-07.spill_fraction<=0.05', 'receivers.A2-07.spill_fraction', '<=', 0.05],
    ['receivers.A2-07.spill<=5%', 'receivers.A2-07.spill_fraction', '<=', 0.05],
    ['receivers.big.one.spot.holds_90<=150', 'receivers.big.one.spot.holds_90', '<=', 150],
  ])('%s', (text, figure, relation, bound) => {
    expect(parseRequirement(text)).toEqual({
      ok: true,
      value: { text: text.trim(), figure, relation, bound },
    });
  });

  it.each([
    ['spil_fraction<=0.05', 'did you mean spill_fraction?'],
    ['peek<=5', 'did you mean peak?'],
    ['spill=0.05', 'expected a figure'],
    ['spill<=', 'is not a number'],
    ['<=5', 'name of the figure is missing'],
    ['spill<=five', '"five" is not a number'],
    ['spill<=5', 'between 0 and 1'],
    ['spill<=-0.1', 'between 0 and 1'],
    ['peak_flux>=50%', 'is no share'],
    ['receivers.R1.spil_fraction<=0.1', 'nearest figure: spill_fraction'],
    ['constructor<=1', 'unknown figure'],
    ['1<spill<2', 'expected a figure'],
  ])('%s is refused', (text, part) => {
    const parsed = parseRequirement(text);
    expect(parsed.ok).toBe(false);
    if (!parsed.ok) expect(parsed.message).toContain(part);
  });

  it.each([
    ['<=', [true, true, false]],
    ['<', [true, false, false]],
    ['>=', [false, true, true]],
    ['>', [false, false, true]],
  ] as const)('%s', (relation, expected) => {
    const requirement = { text: '', figure: 'spill_fraction', relation, bound: 2 };
    expect([1, 2, 3].map((value) => holds(requirement, value))).toEqual(expected);
  });

  it('finds the nearest name', () => {
    expect(nearestName('A2-7', ['A1-01', 'A2-07', 'B2-07'])).toBe('A2-07');
  });
});

const SPILL: Requirement = { text: 'spill<=5%', figure: 'spill_fraction', relation: '<=', bound: 0.05 };

/** Points with noise that is partly common to all (as common random numbers make it). */
function points(values: readonly number[], figures: readonly number[], noise = 0): TolerancePoint[] {
  return values.map((value, i) => {
    const replicates = Float64Array.from({ length: 8 }, (_, j) => figures[i] + noise * Math.sin(3 * j + 1));
    const figure: Figure = {
      value: figures[i],
      std_err: noise,
      ci95: [figures[i] - 2 * noise, figures[i] + 2 * noise],
      unit: '1',
    };
    return { value, figure, replicates };
  });
}

describe('tolerance', () => {
  it('is interpolated between the last value that holds and the next', () => {
    const found = tolerance(SPILL, 'slope', null, points([2, 4, 6, 8], [0.01, 0.03, 0.07, 0.2], 0.001));
    expect(found.outcome).toBe('crossing');
    expect(found.holds).toBe('up_to_limit');
    expect(found.limit?.value).toBeCloseTo(5, 12);
    expect(found.crossings).toEqual([5].map((value) => expect.closeTo(value, 12)));
    expect(found.message).toContain('holds up to slope = 5');
  });

  it('carries common noise at the slope of the figure: jackknife error / slope', () => {
    const noise = 0.001;
    const found = tolerance(SPILL, 'slope', null, points([2, 4, 6, 8], [0.01, 0.03, 0.07, 0.2], noise));
    const shifts = Array.from({ length: 8 }, (_, j) => noise * Math.sin(3 * j + 1));
    const centre = shifts.reduce((a, b) => a + b) / 8;
    const error = Math.sqrt((7 / 8) * shifts.reduce((sum, shift) => sum + (shift - centre) ** 2, 0)) / 0.02;
    expect(found.limit?.std_err).toBeCloseTo(error, 12);
    // Student's t, 7 degrees of freedom: 2.365 (any table).
    expect(found.limit!.ci95[1] - found.limit!.value).toBeCloseTo(2.3646 * error, 5);
  });

  it('holds from a value on: the first value is the limit', () => {
    const found = tolerance(SPILL, 'diameter', null, points([120, 180, 240], [0.2, 0.1, 0.025]));
    expect(found.holds).toBe('from_limit');
    expect(found.limit?.value).toBeCloseTo(220, 10);
    expect(found.message).toContain('holds from diameter = 220');
  });

  it('runs in sweep order, downwards too', () => {
    const found = tolerance(SPILL, 'diameter', null, points([240, 180, 120], [0.025, 0.1, 0.2]));
    expect(found.holds).toBe('up_to_limit');
    expect(found.limit?.value).toBeCloseTo(220, 10);
  });

  it('says so when the whole range holds, or none of it', () => {
    const all = tolerance(SPILL, 'slope', null, points([2, 4], [0.01, 0.02]));
    expect([all.outcome, all.limit]).toEqual(['whole_range', null]);
    expect(all.message).toContain('holds over the whole range of slope, 2 to 4');
    const none = tolerance(SPILL, 'slope', null, points([2, 4], [0.06, 0.09]));
    expect([none.outcome, none.limit]).toEqual(['none', null]);
    expect(none.message).toContain('holds nowhere');
    const close = tolerance(SPILL, 'slope', null, points([2, 4], [0.01, 0.049], 0.002));
    expect(close.message).toContain('at slope = 4 the 95 % interval reaches across the bound');
  });

  it('says so when it crosses several times, and takes the last value that holds', () => {
    const found = tolerance(SPILL, 'tilt', null, points([0, 1, 2, 3, 4], [0.1, 0.02, 0.1, 0.02, 0.1]));
    expect(found.outcome).toBe('several_crossings');
    expect(found.crossings).toHaveLength(4);
    expect(found.limit?.value).toBeCloseTo(3.375, 12);
    expect(found.message).toMatch(/changes 4 times.*fails at 0, holds from 0\.625, fails from 1\.375/);
  });

  it('says where the curve is bent beyond the noise between the points', () => {
    // spill = 0.0012 slope^2 reaches 5 % at 6.455; a straight line from 2 to 10 does at 5.139.
    const curve = (slope: number): number => 0.0012 * slope ** 2;
    const bent = tolerance(SPILL, 'slope', null, points([2, 10, 18], [2, 10, 18].map(curve)));
    expect(bent.limit?.value).toBeCloseTo(5.1389, 4);
    expect(bent.message).toContain('a parabola puts the limit at 6.41');
    const straight = tolerance(SPILL, 'slope', null, points([2, 4, 6], [0.02, 0.04, 0.06]));
    expect(straight.message).not.toContain('parabola');
  });

  it('one point, and no point', () => {
    expect(tolerance(SPILL, 'slope', null, points([2], [0.01])).outcome).toBe('whole_range');
    expect(() => tolerance(SPILL, 'slope', null, [])).toThrow(RangeError);
  });

  it("without replicates carries the figures' own errors", () => {
    const bare = points([2, 4, 6], [0.01, 0.03, 0.07], 0.001).map((point) => ({
      ...point,
      replicates: new Float64Array(0),
    }));
    expect(tolerance(SPILL, 'slope', null, bare).limit?.std_err).toBeCloseTo(0.001 / 0.02, 12);
  });
});
