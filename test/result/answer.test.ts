import { describe, expect, it } from 'vitest';
import { answerOf, fitOf, quoted } from '../../src/result/answer.js';
import { CAUTION_FLUX, cautionsFor } from '../../src/result/cautions.js';
import { summarize } from '../../src/result/summarize.js';
import type { Figure } from '../../src/result/types.js';
import { type SyntheticSpot, syntheticOutcome, syntheticScene } from './synthetic-run.js';

const OPTIONS = { seed: 5, slots: 16, raysPerBatch: 1500 };

function answer(spots: readonly SyntheticSpot[], overrides: Partial<typeof OPTIONS & { kind: 'tube' }> = {}) {
  const options = { ...OPTIONS, ...overrides };
  const scene = syntheticScene(spots.length, options);
  return summarize(scene, syntheticOutcome(scene, spots, options), '0', []).result;
}

const figure = (value: number, half: number, more: Partial<Figure> = {}): Figure => ({
  value,
  std_err: half / 2,
  ci95: [value - half, value + half],
  unit: '1',
  ...more,
});

describe('does the spot fit?', () => {
  it('yes, with figures: 3 cm sigma on an opening of 18 cm', () => {
    const text = answer([{ sigma: 0.03 }]).answer;
    expect(text).toMatch(
      /^The spot fits \(to fit, at most 5 % of the reflected light may miss the opening\): 1\.\d+ ± 0\.\d+ % misses it\./,
    );
    expect(text).toMatch(/A circle 14\d\.\d ± \d\.\d mm across holds 95 %/);
    expect(text).toContain('The opening is 180 mm across.');
    expect(text).toMatch(/smallest opening that spills no more than 5 % of that light is 14\d\.\d ±/);
    expect(text).toMatch(
      /losses are: 16\.0 % to the cosine of the incidence angle, 13\.4 % absorbed in the film\./,
    );
    expect(text).toMatch(/The peak flux is \d+\.\d ± \d\.\d kW\/m², averaged over a disc 25 mm across\.$/);
  });

  it('no: 5 cm sigma', () => {
    expect(answer([{ sigma: 0.05 }]).answer).toMatch(/^The spot does not fit \(.*\): (19|20)\./);
  });

  it('cannot be told where the interval reaches across 5 %', () => {
    // exp(-r^2 / 2 sigma^2) = 0.05
    const sigma = 0.09 / Math.sqrt(2 * Math.log(20));
    expect(answer([{ sigma }], { raysPerBatch: 100 }).answer).toMatch(/this ray count cannot tell/);
  });

  it('decides by the whole interval, not by the value', () => {
    const verdict = (spill: Figure, reflected = figure(800, 1), intercept = figure(0.9, 0.01)) =>
      fitOf({ spill_fraction: spill, reflected_power: reflected, intercept_factor: intercept });
    expect(verdict(figure(0.04, 0.005))).toBe('fits');
    expect(verdict(figure(0.04, 0.02))).toBe('open');
    expect(verdict(figure(0.06, 0.02))).toBe('open');
    expect(verdict(figure(0.06, 0.005))).toBe('does_not_fit');
    expect(verdict(figure(0, 0), figure(0, 0))).toBe('dark');
    const none = figure(0, 0.001, { limit: 'upper' });
    expect(verdict(none, figure(800, 1), none)).toBe('blocked');
    expect(verdict(figure(0.5, 0.1), figure(800, 1), none)).toBe('does_not_fit');
  });

  it('where all light is blocked: none arrives, and why', () => {
    const one = answer([{ sigma: 0.03, blocked: 1 }]).answer;
    expect(one).toMatch(
      /^No light arrives at the opening, so there is no spot to fit: 100\.0 % of the reflected light is blocked by another mirror\. Of /,
    );
    const two = answer([
      { sigma: 0.03, blocked: 1 },
      { sigma: 0.03, blocked: 1 },
    ]).answer;
    expect(two).toMatch(/^No light arrives at any opening, .* is blocked by another mirror\./);
    for (const text of [one, two]) expect(text).not.toMatch(/spot fits|circle/);
    const some = answer([{ sigma: 0.03 }, { sigma: 0.03, blocked: 1 }]).answer;
    expect(some).toMatch(/^The spot fits at 1 of 2 receivers/);
    expect(some).toContain('At 1 of 2 receivers no light arrives');
    expect(some).toContain('the worst is R1');
  });

  it('where most light is blocked but the rest fits, both are said', () => {
    const text = answer([{ sigma: 0.02, blocked: 0.7 }]).answer;
    expect(text).toMatch(
      /^The spot fits .* But (69|70|71)[\d.]+ ± 0\.\d+ % of the reflected light is blocked/,
    );
  });

  it('names no worst receiver where nothing is spilled, but the widest spot', () => {
    const text = answer([{ sigma: 0.005 }, { sigma: 0.006 }]).answer;
    expect(text).not.toContain('worst');
    expect(text).toMatch(/less than 0\.\d+ % of the reflected light misses its own opening\./);
    expect(text).toContain('The widest spot is that at R2: a circle');
  });

  it('for many receivers: how many fit, and the worst by name', () => {
    const text = answer([{ sigma: 0.03 }, { sigma: 0.05 }, { sigma: 0.028 }]).answer;
    expect(text).toMatch(/^The spot fits at 2 of 3 receivers \(to fit, at most 5 % /);
    expect(text).toContain('the worst is R2 with ');
    expect(text).toContain('At R2: a circle');
    expect(text).toMatch(/kW\/m², at R3, averaged/);
    expect(answer([{ sigma: 0.03 }, { sigma: 0.03 }]).answer).toMatch(/^The spot fits at all 2 receivers/);
    expect(answer([{ sigma: 0.05 }, { sigma: 0.06 }]).answer).toMatch(/^The spot fits at none of the 2/);
  });

  it('a tube: a strip, and its diameter', () => {
    const text = answer([{ sigma: 0.03 }], { kind: 'tube' }).answer;
    expect(text).toMatch(/A strip \d+\.\d ± \d\.\d mm wide holds 95 %/);
    expect(text).toContain('a tube 180 mm in diameter');
  });

  it('says so without a receiver', () => {
    expect(answerOf(answer([{ sigma: 0.03 }]).total, [])).toBe('There is no receiver in the scene.');
  });
});

describe('figures as people write them', () => {
  it.each([
    [figure(0.0234, 0.0012), true, '2.34 ± 0.12 %'],
    [figure(0.0234, 0.004), true, '2.34 ± 0.40 %'],
    [figure(1234.5, 37, { unit: 'W' }), false, '1235 ± 37 W'],
    [figure(16_761, 13_995, { unit: 'kW/m2' }), false, '17000 ± 14000 kW/m²'],
    [figure(152.46, 0.96, { unit: 'mm' }), false, '152.46 ± 0.96 mm'],
    [figure(180, 0, { unit: 'mm' }), false, '180 mm'],
    [figure(0, 0, { ci95: [0, 0.0031], limit: 'upper' }), true, 'less than 0.31 %'],
    [figure(1, 0, { ci95: [0.9969, 1], limit: 'lower' }), true, 'more than 99.69 %'],
  ] as const)('%#', (given, inPercent, text) => {
    expect(quoted(given, inPercent)).toBe(text);
  });
});

describe('cautions', () => {
  it('are given above 4 kW/m2 and not below', () => {
    expect(cautionsFor(CAUTION_FLUX)).toEqual([]);
    expect(cautionsFor(3.9)).toEqual([]);
    const lines = cautionsFor(4.1).join(' ');
    for (const word of [
      'burns',
      'eyes',
      'fire',
      'Never look',
      '15 degrees',
      'Cover',
      'Local codes',
      'licensed',
    ]) {
      expect(lines).toContain(word);
    }
  });

  it('never promise that anything is without danger', () => {
    expect(cautionsFor(100).join(' ')).not.toMatch(/\bsafe/i);
    expect(answer([{ sigma: 0.03 }]).answer).not.toMatch(/\bsafe/i);
  });

  it('reach the result', () => {
    expect(answer([{ sigma: 0.03 }]).cautions.length).toBeGreaterThan(3);
  });
});
