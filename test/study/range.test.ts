import { describe, expect, it } from 'vitest';
import { MOST_VALUES, parseRange, parseVary } from '../../src/study/range.js';

describe('ranges', () => {
  it.each([
    ['2:8:2', [2, 4, 6, 8]],
    ['0:1:0.1', [0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1]],
    ['8:2:-3', [8, 5, 2]],
    ['0:1:0.4', [0, 0.4, 0.8]],
    ['-1:1:1', [-1, 0, 1]],
    ['5:5:1', [5]],
    ['1e-3:3e-3:1e-3', [0.001, 0.002, 0.003]],
    ['.5:1.5:.5', [0.5, 1, 1.5]],
    ['10:20:30', [10]],
  ])('%s', (text, values) => {
    expect(parseRange(text)).toEqual({ ok: true, value: values });
  });

  it.each([
    ['2:8', 'from:to:step'],
    ['2:8:1:1', 'from:to:step'],
    ['2:x:1', '"x" is not a number'],
    ['2::1', '"" is not a number'],
    ['0x1:2:1', '"0x1" is not a number'],
    ['2:8:NaN', '"NaN" is not a number'],
    ['2:8:1e999', '"1e999" is not a number'],
    ['2:8:0', 'must not be 0'],
    ['2:8:-1', 'must be positive'],
    ['8:2:1', 'must be negative'],
    ['0:1:1e-9', 'more than 10000 values'],
  ])('%s is refused', (text, part) => {
    const parsed = parseRange(text);
    expect(parsed.ok).toBe(false);
    if (!parsed.ok) expect(parsed.message).toContain(part);
  });

  it('takes exactly the most values allowed', () => {
    const parsed = parseRange(`1:${MOST_VALUES}:1`);
    expect(parsed.ok && parsed.value.length).toBe(MOST_VALUES);
    expect(parseRange(`0:${MOST_VALUES}:1`).ok).toBe(false);
  });

  it('reads path=range', () => {
    expect(parseVary('films.good.slope_error_across_mrad=2:4:1')).toEqual({
      ok: true,
      value: { path: 'films.good.slope_error_across_mrad', values: [2, 3, 4] },
    });
    expect(parseVary('2:4:1').ok).toBe(false);
    expect(parseVary('=2:4:1').ok).toBe(false);
  });
});
