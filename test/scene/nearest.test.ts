import { describe, expect, it } from 'vitest';
import { editDistance, nearest } from '../../src/scene/nearest.js';

describe('the edit distance', () => {
  it.each([
    ['film', 'film', 0],
    ['film', 'flim', 1],
    ['film', 'films', 1],
    ['film', 'fim', 1],
    ['film', 'firm', 1],
    ['kitten', 'sitting', 3],
    ['', 'abc', 3],
  ])('%s to %s is %i', (from, to, distance) => {
    expect(editDistance(from, to, 10)).toBe(distance);
    expect(editDistance(to, from, 10)).toBe(distance);
  });

  it('gives up above a limit', () => {
    expect(editDistance('kitten', 'sitting', 2)).toBe(3);
    expect(editDistance('a', 'abcdefgh', 2)).toBe(3);
  });
});

describe('the nearest word', () => {
  const known = ['reflectance', 'reflectance_by_incidence', 'lobes', 'soiling_factor'];

  it.each([
    ['reflectanse', 'reflectance'],
    ['Reflectance', 'reflectance'],
    ['lobe', 'lobes'],
    ['soling_factor', 'soiling_factor'],
    ['sprocket', undefined],
    ['', undefined],
    ['x'.repeat(100_000), undefined],
  ])('to %s', (word, expected) => {
    expect(nearest(word, known)).toBe(expected);
  });
});
