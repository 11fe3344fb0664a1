import { describe, expect, it } from 'vitest';
import {
  chooseWorkers,
  expectedRays,
  parseRays,
  parseTarget,
  parseWorkers,
} from '../../src/cli/run-options.js';

describe('numbers of rays', () => {
  it.each([
    ['1000000', 1e6],
    ['1e6', 1e6],
    ['2.5e6', 2.5e6],
    ['2_000_000', 2e6],
    ['500k', 5e5],
    ['3M', 3e6],
    ['1.1M', 1.1e6],
    ['2G', 2e9],
    ['1', 1],
    ['1e12', 1e12],
  ])('reads %s', (text, rays) => {
    expect(parseRays(text)).toBe(rays);
  });

  it.each([
    '',
    'many',
    '-5',
    '0',
    '1.5',
    '1e13',
    '1e99',
    '0x10',
    '5 M M',
    '3m',
    '1e-3',
    'NaN',
    'Infinity',
    '1__0',
  ])('refuses %j', (text) => {
    expect(() => parseRays(text)).toThrow(/Expected|Allowed/);
  });
});

describe('target errors', () => {
  it.each([
    ['0.5%', 0.005],
    ['0.5 %', 0.005],
    ['0.005', 0.005],
    ['1%', 0.01],
    ['.01', 0.01],
    ['50%', 0.5],
  ])('reads %s', (text, target) => {
    expect(parseTarget(text)).toBeCloseTo(target, 15);
  });

  it.each(['0.5', '1', '0', '0%', '60%', '-1%', 'small', '', '%', '1e-3'])('refuses %j', (text) => {
    expect(() => parseTarget(text)).toThrow(/Expected|Allowed|per cent/);
  });
});

describe('workers', () => {
  it('reads 0 to 256 and nothing else', () => {
    expect(parseWorkers('0')).toBe(0);
    expect(parseWorkers('256')).toBe(256);
    for (const text of ['257', '-1', '1.5', 'all', '']) expect(() => parseWorkers(text)).toThrow(/Allowed/);
  });

  it('takes no threads for a short run and on one core, and never more than are of use', () => {
    expect(chooseWorkers(undefined, 1e6, 8)).toBe(0);
    expect(chooseWorkers(undefined, 5e6, 8)).toBe(5);
    expect(chooseWorkers(undefined, 1e8, 8)).toBe(8);
    expect(chooseWorkers(undefined, expectedRays(0.005), 8)).toBe(0);
    expect(chooseWorkers(undefined, expectedRays(0.0005), 8)).toBe(8);
    expect(chooseWorkers(undefined, 1e8, 1)).toBe(0);
    expect(chooseWorkers(undefined, 1e12, 1000)).toBe(256);
    expect(chooseWorkers(3, 1, 8)).toBe(3);
  });
});
