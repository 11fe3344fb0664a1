import { describe, expect, it } from 'vitest';
import { layOut } from '../../src/field/layout.js';
import { viewPrepared } from '../../src/kernel/layout.js';
import { Fate } from '../../src/kernel/tally.js';
import { PathEvent, recordRays } from '../../src/kernel/trace.js';
import { prepareScene } from '../../src/prepare.js';
import { recordPaths } from '../../src/run/paths.js';
import { planBatches } from '../../src/run/plan.js';
import { batchKey, latticeShifts } from '../../src/run/seeds.js';
import { momentOf } from '../../src/sun/direction.js';
import { pathOf } from '../support/paths.js';
import { randomRow } from '../support/random-scenes.js';

const SEED = 'paths';

function wildRow(seed: string) {
  const scene = randomRow(seed);
  const films = scene.films.map((film) => ({ ...film, slopeErrorAlong: 0.2, slopeErrorAcross: 0.3 }));
  const wild = { ...scene, films };
  const prepared = prepareScene(wild, layOut(wild), momentOf(wild));
  return { prepared, plan: planBatches(prepared, 4000) };
}

describe('rays of a run for pictures', () => {
  it.each(['paths-0', 'paths-1', 'paths-2'])('are the rays that are replayed one by one (%s)', (seed) => {
    const { prepared, plan } = wildRow(seed);
    for (const path of recordPaths(prepared, plan, SEED, 1, 60)) {
      const alone = pathOf(prepared, plan.log2Rays, SEED, path.ray, 1);
      expect(path.fate).toBe(alone.fate);
      expect(path.sun).toEqual(alone.sun);
      const [launch, ...rest] = alone.steps;
      expect(path.sunlight).toBe(launch.watts);
      const shade = rest.find(({ event }) => event === PathEvent.Shaded);
      expect(path.shade).toEqual(shade?.place ?? null);
      const end = rest.find(({ event }) => event === PathEvent.End);
      if (end !== undefined) expect(path.places.slice(-3)).toEqual([...end.place]);
      const bounces = rest.filter(({ event }) => event === PathEvent.Reflected).length;
      if (path.fate !== Fate.Lost && bounces > 0) expect(path.places.length / 3).toBe(bounces + 1);
    }
  });

  it('are picked from every lit facet, about as many as wanted', () => {
    const { prepared, plan } = wildRow('paths-0');
    const paths = recordPaths(prepared, plan, SEED, 0, 50);
    const lit = [...plan.log2Rays].flatMap((k, facet) => (k < 0 ? [] : [facet]));
    expect([...new Set(paths.map(({ facet }) => facet))]).toEqual(lit);
    expect(paths.length).toBeGreaterThan(25);
    expect(paths.length).toBeLessThanOrEqual(100 + lit.length);
  });

  it('refuses rays that the batch has not, or that do not rise', () => {
    const { prepared, plan } = wildRow('paths-0');
    const record = (rays: readonly number[]): void =>
      recordRays(
        viewPrepared(prepared.buffer),
        plan.log2Rays,
        latticeShifts(SEED, 0, plan.log2Rays),
        batchKey(SEED, 0),
        rays,
        { begin: () => {}, step: () => {}, sun: () => {}, end: () => {} },
      );
    expect(() => record([0, 5, plan.raysPerBatch])).toThrow(RangeError);
    expect(() => record([plan.raysPerBatch - 1, 0])).toThrow(RangeError);
    expect(() => record([0, plan.raysPerBatch - 1])).not.toThrow();
  });
});
