import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  formatAperture,
  formatCount,
  formatFigure,
  formatNumber,
  formatToError,
  formatWithError,
} from '../../src/result/number-format.js';
import { figureOf } from '../support/synthetic-result.js';

describe('formatWithError', () => {
  it.each([
    [3.2143, 0.0412, '3.214 ± 0.041'],
    [12.3456, 0.0996, '12.35 ± 0.10'],
    [0.0996, 0.00996, '0.100 ± 0.010'],
    [1234567, 4521, '1234600 ± 4500'],
    [99.96, 0.95, '99.96 ± 0.95'],
    [-7, 0.24, '-7.00 ± 0.24'],
    [-0.001, 0.24, '0.00 ± 0.24'],
    [0, 0.5, '0.00 ± 0.50'],
    [4, 123, '0 ± 120'],
    [60.4, 0, '60.4'],
    [0.84, 1e-16, '0.84'],
    [0, 0, '0'],
    [1e-9, 1e-10, '(1.00 ± 0.10)e-9'],
    [6.02e23, 1.1e21, '(6.020 ± 0.011)e23'],
    [1, Number.POSITIVE_INFINITY, '1 ± unknown'],
    [Number.NaN, 1, 'not a number'],
  ])('%d with half width %d reads %s', (value, half, text) => {
    expect(formatWithError(value, half)).toBe(text);
  });

  it('keeps the value to the place of its error for any pair', () => {
    fc.assert(
      fc.property(
        fc.double({ min: -1e6, max: 1e6, noNaN: true }),
        fc.double({ min: 1e-3, max: 1e5, noNaN: true }),
        (value, half) => {
          const [shownValue, shownHalf] = formatWithError(value, half).split(' ± ');
          const place = 10 ** (Math.floor(Math.log10(Number(shownHalf))) - 1);
          expect(Math.abs(Number(shownValue) - value)).toBeLessThanOrEqual(0.5001 * place);
          expect(Math.abs(Number(shownHalf) - half)).toBeLessThanOrEqual(0.051 * half);
        },
      ),
      { seed: 1 },
    );
  });
});

describe('formatToError', () => {
  it.each([
    [0.7652, 0.2, 3, '0.77'],
    [0.7652, 0.0001, 3, '0.765'],
    [33.49, 0.16, 3, '33.5'],
    [76_669.7, 2200, 4, '76700'],
    [999.96, 0.01, 3, '1000'],
    [-12.345, Number.NaN, 4, '-12.35'],
    [0, 0, 3, '0'],
    [0, 0.03, 3, '0.000'],
    [1.2345e-9, 1e-10, 4, '(1.23)e-9'],
  ])('%d with half width %d to %d digits reads %s', (value, half, digits, text) => {
    expect(formatToError(value, half, digits)).toBe(text);
  });
});

describe('formatFigure', () => {
  it('writes unit, per cent and bounds', () => {
    const flux = { value: 12.3456, std_err: 0.05, ci95: [12.2456, 12.4456], unit: 'kW/m2' } as const;
    expect(formatFigure(flux)).toBe('12.35 ± 0.10 kW/m²');
    expect(formatFigure(flux, { bare: true })).toBe('12.35 ± 0.10');
    const share = { value: 0.0342, std_err: 1e-4, ci95: [0.034, 0.0344], unit: '1' } as const;
    expect(formatFigure(share)).toBe('0.03420 ± 0.00020');
    expect(formatFigure(share, { percent: true })).toBe('3.420 ± 0.020 %');
    expect(formatFigure(figureOf(0.0031234, 0, '1', 'upper'), { percent: true })).toBe('< 0.313 %');
    const unseen = { value: 0, std_err: 0.001, ci95: [0, 0.00417], unit: 'W', limit: 'upper' } as const;
    expect(formatFigure(unseen)).toBe('< 0.00417 W');
    const whole = { value: 1, std_err: 1e-5, ci95: [0.99998, 1], unit: '1', limit: 'lower' } as const;
    expect(formatFigure(whole, { percent: true })).toBe('> 99.998 %');
    expect(formatFigure(figureOf(420, 0, 'mm', 'lower'))).toBe('> 420 mm');
  });

  it('takes the larger side of a lopsided interval', () => {
    expect(formatFigure({ value: 0.01, std_err: 0.001, ci95: [0.009, 0.013], unit: '1' })).toBe(
      '0.0100 ± 0.0030',
    );
  });
});

describe('plain numbers', () => {
  it.each([
    [0, '0'],
    [1234.5678, '1234.57'],
    [0.1 + 0.2, '0.3'],
    [100, '100'],
    [1e12, '1e+12'],
    [1.5e-8, '1.5e-8'],
  ])('%d reads %s', (value, text) => {
    expect(formatNumber(value)).toBe(text);
  });

  it('groups counts and names openings', () => {
    expect(formatCount(2097152)).toBe('2 097 152');
    expect(formatAperture({ shape: 'rectangle', width_mm: 10000, height_mm: 180 })).toBe('10 000 x 180 mm');
    expect(formatAperture({ shape: 'round', diameter_mm: 180 })).toBe('round, 180 mm');
  });
});
