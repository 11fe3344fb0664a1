import { describe, expect, it } from 'vitest';
import { PARTS, parseOptions } from '../../bench/options.js';

describe('arguments of the bench', () => {
  it('measures every part where none is named', () => {
    expect(parseOptions([])).toEqual({ json: false, parts: PARTS, longRays: null, against: null });
  });

  it('takes parts one by one or in a list', () => {
    expect(parseOptions(['--only', 'pool,sweep', '--only', 'kernel']).parts).toEqual([
      'pool',
      'sweep',
      'kernel',
    ]);
  });

  it('traces 1e9 rays for the memory run, or as many as are named', () => {
    expect(parseOptions(['--long']).longRays).toBe(1e9);
    expect(parseOptions(['--long-rays', '1e8']).longRays).toBe(1e8);
  });

  it.each([
    [['--only', 'engine'], 'there is no part "engine"'],
    [['--only', ''], 'there is no part ""'],
    [['--long-rays', 'many'], 'got "many"'],
    [['--long-rays', '1e400'], 'got "1e400"'],
    [['--against', 'main', '--long'], '--against has cases of its own'],
    [['--fast'], '--fast'],
    [['main'], 'main'],
  ])('refuses %j', (args, message) => {
    expect(() => parseOptions(args)).toThrow(message);
  });
});
