import { describe, expect, it } from 'vitest';
import { headLine, lineOf, median, rowOf, shortNumber } from '../../bench/table.js';

describe('table of the bench', () => {
  it('finds the middle of odd and even numbers of values, in any order', () => {
    expect(median([3, 1, 20])).toBe(3);
    expect(median([4, 1, 20, 2])).toBe(3);
    expect(median([7])).toBe(7);
  });

  it('keeps median, lowest and highest, and a note where there is one', () => {
    expect(rowOf('a', 's', [2, 9, 1])).toEqual({ name: 'a', unit: 's', median: 2, lowest: 1, highest: 9 });
    expect(rowOf('a', 's', [2], 'quiet')).toMatchObject({ median: 2, note: 'quiet' });
  });

  it('writes numbers short', () => {
    expect([0, 0.0123456, 12.3456, 999.6, 1234.5, 1.5e6, 0.00012].map(shortNumber)).toEqual([
      '0.00',
      '0.0123',
      '12.3',
      '1.00e+3',
      '1235',
      '1.50e+6',
      '1.20e-4',
    ]);
  });

  it('puts numbers below their heads', () => {
    const line = lineOf(rowOf('pool', 'Mrays/s', [5, 4, 6.25], '2 threads'));
    expect(line).toMatch(/^pool +5\.00 +4\.00 +6\.25 {2}Mrays\/s {2}\(2 threads\)$/);
    expect(line.indexOf('6.25') + 4).toBe(headLine().length);
  });
});
