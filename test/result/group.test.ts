/** Shares and ledger of traces at the limits: a film that sends nothing on, mirrors turned from the sun. */
import { describe, expect, it } from 'vitest';
import { sceneTemplate } from '../../src/scene/template.js';
import { traceText } from '../support/trace-text.js';

const OPTIONS = { rays: 2e3, seed: 'shares', workers: 0 } as const;

describe('a black film', () => {
  it('leaves nothing to spill: the shares may be anything, and are written so', async () => {
    const overrides = ['films.roll_a.reflectance=0'];
    const { result } = await traceText(sceneTemplate(), { ...OPTIONS, overrides });
    for (const part of [result.total, result.receivers[0]]) {
      for (const key of ['spill_fraction', 'blocked_fraction', 'intercept_factor'] as const) {
        expect(part[key]).toMatchObject({ value: 0, ci95: [0, 1], limit: 'upper' });
        // That of an even spread from 0 to 1, closed form.
        expect(part[key].std_err).toBeCloseTo(1 / Math.sqrt(12), 12);
      }
    }
    expect(result.answer).toMatch(/^No light leaves the mirrors, so there is no spot to fit\./);
    expect(result.answer).toMatch(/\d+\.\d % absorbed in the film/);
    expect(result.answer).not.toContain('peak');
  });

  it('sabotage: a film that sends a thousandth on gives a narrow bound', async () => {
    const overrides = ['films.roll_a.reflectance=0.001'];
    const { result } = await traceText(sceneTemplate(), { ...OPTIONS, overrides });
    expect(result.total.spill_fraction.ci95[1]).toBeLessThan(0.2);
  });
});

describe('mirrors turned from the sun', () => {
  const cosine = async (...sets: string[]) => {
    const { result } = await traceText(sceneTemplate(), { ...OPTIONS, overrides: sets });
    const { lines } = result.total.ledger;
    const label = (key: string) => lines.find((line) => line.key === key)?.label;
    return { answer: result.answer, cosine: label('cosine'), unlit: label('unlit') };
  };

  it('have their watts under cosine, and the ledger and the answer say so', async () => {
    const low = await cosine('sun.azimuth_deg=0', 'sun.elevation_deg=30');
    expect(low.cosine).toBe('cosine, and mirrors turned from the sun');
    expect(low.unlit).toBe('turned from the sun: watts under cosine');
    expect(low.answer).toContain('to the cosine of the incidence angle and mirrors turned from the sun');
  });

  it('are not spoken of where there are none', async () => {
    const noon = await cosine('sun.azimuth_deg=180', 'sun.elevation_deg=45');
    expect(noon.cosine).toBe('cosine: mirrors not square to the sun');
    expect(noon.answer).toMatch(/to the cosine of the incidence angle[,.]/);
  });
});
