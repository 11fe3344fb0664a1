import { describe, expect, it } from 'vitest';
import {
  bestOpening,
  gaussianBestRadius,
  type InterceptCurve,
  interceptAt,
  netHeatAt,
  type OpeningQuestion,
  openingBand,
} from '../../src/plant/opening.js';
import { near } from './agrees.js';

const SIGMA = 0.03;
/** A circular Gaussian spot: 1 - exp(-d^2 / 8 s^2), sampled as a trace would. */
const spot = (sigma: number, points = 26): InterceptCurve => {
  const size = Array.from({ length: points }, (_, i) => 0.02 + (0.38 * i) / (points - 1));
  return { size, fraction: size.map((d) => 1 - Math.exp((-d * d) / (8 * sigma * sigma))) };
};
const question: OpeningQuestion = {
  opening: { kind: 'round' },
  absorptance: 0.95,
  curve: spot(SIGMA),
  times: [{ duration: 3600, light: 900, lossPerArea: 9000 }],
};

describe('best opening', () => {
  it('the closed form of a Gaussian spot: a^2 = 2 s^2 ln(P rho alpha / (2 pi s^2 q))', () => {
    const radius = gaussianBestRadius(SIGMA, 900 * 0.95, 9000);
    expect(radius).toBeCloseTo(SIGMA * Math.sqrt(2 * Math.log(855 / (2 * Math.PI * SIGMA ** 2 * 9000))), 14);
    // It is a summit of the net heat itself, with the exact curve.
    const net = (a: number) => 855 * (1 - Math.exp((-a * a) / (2 * SIGMA ** 2))) - 9000 * Math.PI * a * a;
    expect(net(radius)).toBeGreaterThan(net(radius * 1.001));
    expect(net(radius)).toBeGreaterThan(net(radius * 0.999));
    expect(gaussianBestRadius(SIGMA, 10, 9000)).toBe(0);
  });

  it('from samples: within 0.5 % of the closed form, net heat within 0.02 %', () => {
    const radius = gaussianBestRadius(SIGMA, 855, 9000);
    const found = bestOpening(question);
    expect(near(found.best / 2, radius, 0.005)).toBe(true);
    const net =
      3600 * (855 * (1 - Math.exp(-(radius ** 2) / (2 * SIGMA ** 2))) - 9000 * Math.PI * radius ** 2);
    expect(near(found.netHeat, net, 2e-4)).toBe(true);
    expect(found.atEnd).toBe(false);
    // Sabotage: a loss of a tenth more (1.7 % of the radius) is seen.
    const hotter = bestOpening({ ...question, times: [{ duration: 3600, light: 900, lossPerArea: 9900 }] });
    expect(near(hotter.best / 2, radius, 0.005)).toBe(false);
  });

  it('flat range: 1 % is lost at both ends, less between', () => {
    const { best, netHeat, flatFrom, flatTo } = bestOpening(question);
    expect(flatFrom).toBeLessThan(best);
    expect(flatTo).toBeGreaterThan(best);
    for (const end of [flatFrom, flatTo])
      expect(near(netHeatAt(question, end), 0.99 * netHeat, 1e-9)).toBe(true);
    expect(netHeatAt(question, (flatFrom + best) / 2)).toBeGreaterThan(0.99 * netHeat);
  });

  it('a year of bins: a second spot and hours without light pull the best', () => {
    const noon = bestOpening(question).best;
    const blurred = bestOpening({
      ...question,
      times: [...question.times, { duration: 3600, light: 500, lossPerArea: 9000, curve: spot(0.05) }],
    });
    expect(blurred.best).toBeGreaterThan(noon);
    const idle = bestOpening({
      ...question,
      times: [...question.times, { duration: 3600, light: 0, lossPerArea: 9000 }],
    });
    expect(idle.best).toBeLessThan(noon);
  });

  it('a slot: its own closed form, erf against width', () => {
    // Light in a slot of width w: erf(w / (2 sqrt(2) s)); best where P alpha exp(-w^2 / 8 s^2) / (sqrt(2 pi) s) = q L.
    const erf = (x: number) => {
      let sum = 0;
      const steps = 2000;
      for (let i = 0; i < steps; i++) sum += Math.exp(-((((i + 0.5) / steps) * x) ** 2));
      return ((2 / Math.sqrt(Math.PI)) * x * sum) / steps;
    };
    const size = Array.from({ length: 30 }, (_, i) => 0.01 + 0.01 * i);
    const curve = { size, fraction: size.map((w) => erf(w / (2 * Math.SQRT2 * SIGMA))) };
    const found = bestOpening({
      ...question,
      opening: { kind: 'slot', length: 2 },
      curve,
      times: [{ duration: 1, light: 3000, lossPerArea: 5000 }],
    });
    const density = (3000 * 0.95) / (Math.sqrt(2 * Math.PI) * SIGMA);
    expect(near(found.best, 2 * SIGMA * Math.sqrt(2 * Math.log(density / (5000 * 2))), 0.005)).toBe(true);
  });

  it('more loss, smaller opening: the band turns round', () => {
    const band = openingBand(question, () => ({ low: 6000, best: 9000, high: 12_000 }));
    expect(band.low).toBeLessThan(band.best);
    expect(band.best).toBeLessThan(band.high);
    expect(band.best).toBeCloseTo(bestOpening(question).best, 9);
  });

  it('loss as a function of size: the same question put the other way, and another answer for a loss that does not grow', () => {
    const own = { duration: 3600, light: 900, lossPerArea: 0 };
    const same = bestOpening({
      ...question,
      times: [{ ...own, lossOf: (d) => 9000 * (Math.PI / 4) * d * d }],
    });
    expect(same.best).toBeCloseTo(bestOpening(question).best, 6);
    expect(bestOpening({ ...question, times: [{ ...own, lossOf: () => 50 }] }).best).toBeGreaterThan(
      same.best,
    );
  });

  it('tells when the best lies at the end of the curve, and refuses what cannot be', () => {
    const cold = bestOpening({ ...question, times: [{ duration: 1, light: 900, lossPerArea: 1e-6 }] });
    expect(cold.best).toBeCloseTo(0.4, 2);
    expect(
      bestOpening({
        ...question,
        times: [{ duration: 1, light: 900, lossPerArea: 0 }],
        curve: {
          size: [0.1, 0.2, 0.3],
          fraction: [0.3, 0.6, 0.9],
        },
      }).atEnd,
    ).toBe(true);
    expect(() => bestOpening({ ...question, times: [{ duration: 1, light: 1, lossPerArea: 1e6 }] })).toThrow(
      /no opening/,
    );
    expect(() => bestOpening({ ...question, curve: { size: [1, 2, 3], fraction: [0.5, 0.4, 0.6] } })).toThrow(
      /row 2/,
    );
    expect(() => bestOpening({ ...question, curve: { size: [1, 2], fraction: [0.5, 0.6] } })).toThrow(
      /3 rows/,
    );
  });
});

it('the curve goes through its samples and never turns back', () => {
  const curve = { size: [0.05, 0.1, 0.12, 0.3, 0.5], fraction: [0.2, 0.7, 0.72, 0.99, 0.99] };
  for (const [i, size] of curve.size.entries())
    expect(interceptAt(curve, size)).toBeCloseTo(curve.fraction[i], 12);
  let last = 0;
  for (let size = 0; size < 0.6; size += 1e-3) {
    const share = interceptAt(curve, size);
    expect(share).toBeGreaterThanOrEqual(last - 1e-12);
    last = share;
  }
  expect(last).toBe(0.99);
});

it('a parabola through uneven samples is met exactly, at the ends too', () => {
  const of = (x: number) => 0.95 - 0.5 * (1.2 - x) ** 2;
  const size = [0.1, 0.25, 0.3, 0.55, 0.7, 0.98];
  const curve = { size, fraction: size.map(of) };
  for (let x = 0.1; x <= 0.98; x += 0.0137) expect(interceptAt(curve, x)).toBeCloseTo(of(x), 12);
  // Below the first sample in proportion to the area.
  expect(interceptAt(curve, 0.05)).toBeCloseTo(of(0.1) / 4, 12);
  const two = { size: [1, 3], fraction: [0.2, 0.6] };
  expect(interceptAt(two, 2)).toBeCloseTo(0.4, 12);
});
