import { describe, expect, it } from 'vitest';
import type { PreparedScene } from '../../src/prepare.js';
import { summarize } from '../../src/result/summarize.js';
import type { Run, RunOptions } from '../../src/run/types.js';
import { compare } from '../../src/study/compare.js';
import { parseRequirement } from '../../src/study/requirement.js';
import { type Override, type SweepOptions, sweep } from '../../src/study/sweep.js';
import type { Requirement } from '../../src/study/types.js';
import { type Coverage, countInto, isCalibrated, SEEDS } from '../result/coverage.js';
import { syntheticOutcome, syntheticScene } from '../result/synthetic-run.js';

const SHAPE = { slots: 32, raysPerBatch: 300, cells: 16, peakDisc: 0.05 };

const requirement = (text: string): Requirement => {
  const parsed = parseRequirement(text);
  if (!parsed.ok) throw new Error(parsed.message);
  return parsed.value;
};

const runOptions: RunOptions = { seed: '17', rays: 9600, target: null, maxRays: 1e6, workers: 0 };

/** A scene whose "sigma_mm" and "shaded" can be varied, and a run that draws its spot; seeds are whole numbers. */
function fakes() {
  const settings = new WeakMap<PreparedScene, ReadonlyMap<string, number>>();
  const seeds: string[] = [];
  const prepare = (overrides: readonly Override[]) => {
    const scene = syntheticScene(1, SHAPE);
    settings.set(scene, new Map(overrides.map(({ path, value }) => [path, value])));
    return scene;
  };
  const run: Run = async (prepared, options) => {
    seeds.push(options.seed);
    const set = settings.get(prepared);
    const spot = { sigma: (set?.get('sigma_mm') ?? 40) / 1000, shaded: set?.get('shaded') ?? 0 };
    return syntheticOutcome(prepared, [spot], { ...SHAPE, seed: Number(options.seed) });
  };
  return { prepare, run, seeds };
}

function options(more: Partial<SweepOptions>): SweepOptions {
  const { prepare, run } = fakes();
  return { prepare, run, runOptions, vary: [], requirement: null, version: '1.0.0', ...more };
}

const SIGMAS = [28, 34, 40, 46];

/** Share of a circular Gaussian outside 90 mm: exp(-r^2 / 2 sigma^2), closed form. */
const spill = (sigmaMm: number) => Math.exp(-(90 ** 2) / (2 * sigmaMm ** 2));

describe('sweep', () => {
  it('gives a point per value, all with the same seed, and sets the key', async () => {
    const { prepare, run, seeds } = fakes();
    const set: (readonly Override[])[] = [];
    const result = await sweep(
      options({
        prepare: (overrides) => {
          set.push(overrides);
          return prepare(overrides);
        },
        run,
        vary: [{ path: 'sigma_mm', values: SIGMAS }],
      }),
    );
    expect(result.points.map((point) => point.values)).toEqual(SIGMAS.map((sigma) => [sigma]));
    expect(set).toEqual(SIGMAS.map((value) => [{ path: 'sigma_mm', value }]));
    expect(new Set(seeds)).toEqual(new Set(['17']));
    expect(result.interrupted).toBe(false);
    expect(result.tolerances).toEqual([]);
    for (const point of result.points) {
      const figure = point.figures.spill_fraction;
      expect(Math.abs(figure.value - spill(point.values[0]))).toBeLessThan(3 * figure.std_err);
      expect(Object.keys(point.figures)).toEqual(result.figures);
    }
    expect(result.figures).toContain('receivers.R1.spot.holds_90');
    expect(JSON.parse(JSON.stringify(result))).toEqual(result);
  });

  it('pairs differences to the first point: sharper than independent ones, and 0 for the first itself', async () => {
    const result = await sweep(options({ vary: [{ path: 'sigma_mm', values: [39, 40] }] }));
    const [first, second] = result.points;
    expect(first.differences.spill_fraction.difference.value).toBe(0);
    const { difference, paired } = second.differences.spill_fraction;
    expect(paired).toBe(true);
    expect(difference.value).toBeCloseTo(
      second.figures.spill_fraction.value - first.figures.spill_fraction.value,
      15,
    );
    const independent = Math.hypot(
      first.figures.spill_fraction.std_err,
      second.figures.spill_fraction.std_err,
    );
    expect(difference.std_err).toBeLessThan(0.4 * independent);
  });

  it('with a requirement finds the tolerance', async () => {
    const result = await sweep(
      options({ vary: [{ path: 'sigma_mm', values: SIGMAS }], requirement: requirement('spill<=5%') }),
    );
    const [found] = result.tolerances;
    expect(found.outcome).toBe('crossing');
    // exp(-90^2 / 2 sigma^2) = 0.05
    const truth = 90 / Math.sqrt(2 * Math.log(20));
    expect(Math.abs(found.limit!.value - truth)).toBeLessThan(3 * found.limit!.std_err);
  });

  it('adds the column of a required receiver figure', async () => {
    const result = await sweep(
      options({
        vary: [{ path: 'sigma_mm', values: [30, 40] }],
        requirement: requirement('receivers.R1.spot.holds_50<=80'),
      }),
    );
    expect(result.figures.at(-1)).toBe('receivers.R1.spot.holds_50');
    expect(result.tolerances[0].outcome).toBe('crossing');
  });

  it('two paths: every combination, the first slowest, a tolerance for each value of the second', async () => {
    const result = await sweep(
      options({
        vary: [
          { path: 'sigma_mm', values: [34, 40] },
          { path: 'shaded', values: [0, 0.1, 0.2] },
        ],
        requirement: requirement('spill<=5%'),
      }),
    );
    expect(result.points.map((point) => point.values)).toEqual([
      [34, 0],
      [34, 0.1],
      [34, 0.2],
      [40, 0],
      [40, 0.1],
      [40, 0.2],
    ]);
    expect(result.tolerances.map((entry) => entry.at)).toEqual(
      [0, 0.1, 0.2].map((value) => ({ path: 'shaded', value })),
    );
    expect(result.tolerances.every((entry) => entry.outcome === 'crossing')).toBe(true);
  });

  it('begins a point once the last batch of the point before is handed out, no earlier, and never a third', async () => {
    const { prepare, run } = fakes();
    const events: string[] = [];
    let begun = 0;
    await sweep(
      options({
        prepare,
        run: async (prepared, wish) => {
          const own = ++begun;
          events.push(`begin ${own}`);
          await new Promise(setImmediate);
          events.push(`handed out ${own}`);
          wish.onHandedOut?.();
          await new Promise(setImmediate);
          await new Promise(setImmediate);
          return run(prepared, wish);
        },
        vary: [{ path: 'sigma_mm', values: SIGMAS.slice(0, 3) }],
        onPoint: (done) => events.push(`point ${done}`),
      }),
    );
    expect(events.filter((event) => !event.startsWith('point'))).toEqual(
      [1, 2, 3].flatMap((own) => [`begin ${own}`, `handed out ${own}`]),
    );
    for (const own of [1, 2]) {
      expect(events.indexOf(`begin ${own + 1}`)).toBeLessThan(events.indexOf(`point ${own}`));
    }
    expect(events.indexOf('begin 3')).toBeGreaterThan(events.indexOf('point 1'));
  });

  it('a point that cannot be traced ends the sweep after the points before it, and what is under way is stopped', async () => {
    const { prepare, run } = fakes();
    const done: number[] = [];
    let begun = 0;
    let stopped = false;
    const failing = sweep(
      options({
        prepare,
        run: async (prepared, wish) => {
          const own = ++begun;
          wish.onHandedOut?.();
          await new Promise(setImmediate);
          if (own === 2) throw new Error('the second point fails');
          if (own === 3) {
            await new Promise(setImmediate);
            stopped = wish.stop?.requested === true;
          }
          return run(prepared, wish);
        },
        vary: [{ path: 'sigma_mm', values: SIGMAS }],
        onPoint: (count) => done.push(count),
      }),
    );
    await expect(failing).rejects.toThrow('the second point fails');
    expect(done).toEqual([1]);
    expect(begun).toBeLessThanOrEqual(3);
    if (begun === 3) expect(stopped).toBe(true);
  });

  it('stops between points and keeps what is whole', async () => {
    const stop = { requested: false };
    const result = await sweep(
      options({
        vary: [{ path: 'sigma_mm', values: SIGMAS }],
        runOptions: { ...runOptions, stop },
        onPoint: (done) => {
          stop.requested = done === 2;
        },
      }),
    );
    expect(result.points).toHaveLength(2);
    expect(result.interrupted).toBe(true);
  });

  it.each([
    ['no path', [], 'vary one or two'],
    ['three paths', ['a', 'b', 'c'].map((path) => ({ path, values: [1] })), 'vary one or two'],
    ['one path twice', ['a', 'a'].map((path) => ({ path, values: [1] })), 'the same'],
    ['no value', [{ path: 'a', values: [] }], 'no value for a'],
    [
      'too many points',
      ['a', 'b'].map((path) => ({ path, values: Array.from({ length: 101 }, (_, i) => i) })),
      '10201 points',
    ],
  ])('%s is refused', async (_, vary, message) => {
    await expect(sweep(options({ vary }))).rejects.toThrow(message);
  });

  it('a receiver that is not there is refused with the nearest name', async () => {
    const asked = sweep(
      options({
        vary: [{ path: 'sigma_mm', values: [30, 40] }],
        requirement: requirement('receivers.R2.spill_fraction<=0.05'),
      }),
    );
    await expect(asked).rejects.toThrow('no receiver "R2"; nearest: "R1"');
  });
});

describe('compare', () => {
  const scene = syntheticScene(1, SHAPE);
  const traced = (sigma: number, seed = 3, slots = 32) =>
    summarize(scene, syntheticOutcome(scene, [{ sigma }], { ...SHAPE, slots, seed }), '1.0.0', []);

  it('pairs scenes of the same seed: differences and ratios to the first', () => {
    const [a, b, c] = [0.04, 0.041, 0.045].map((sigma) => traced(sigma));
    const result = compare(
      [
        { name: 'a.yaml', summary: a },
        { name: 'b.yaml', summary: b },
        { name: 'c.yaml', summary: c },
      ],
      '1.0.0',
    );
    expect(result.scenes.map((entry) => entry.name)).toEqual(['a.yaml', 'b.yaml', 'c.yaml']);
    expect(result.differences.map((entry) => [entry.scene, entry.base])).toEqual([
      ['b.yaml', 'a.yaml'],
      ['c.yaml', 'a.yaml'],
    ]);
    const spot = result.differences[0].figures['receivers.R1.spot.holds_90'];
    expect(spot.paired).toBe(true);
    // Diameters scale with sigma: the same draws give the ratio 1.025 almost without noise.
    expect(spot.ratio?.value).toBeCloseTo(1.025, 3);
    expect(spot.ratio?.std_err).toBeLessThan(0.001);
    expect(result.warnings).toEqual([]);
    expect(JSON.parse(JSON.stringify(result))).toEqual(result);
  });

  it.each([
    ['seed', traced(0.041, 4)],
    ['number of groups', traced(0.041, 3, 16)],
  ])('another %s: errors as if independent, and a warning', (_, other) => {
    const base = traced(0.04);
    const result = compare(
      [
        { name: 'a', summary: base },
        { name: 'b', summary: other },
      ],
      '1.0.0',
    );
    const { difference, paired } = result.differences[0].figures.spill_fraction;
    expect(paired).toBe(false);
    expect(difference.std_err).toBeCloseTo(
      Math.hypot(base.result.total.spill_fraction.std_err, other.result.total.spill_fraction.std_err),
      12,
    );
    expect(result.warnings.map((warning) => warning.code)).toEqual(['not_paired']);
  });

  it('bounds are not subtracted as if they were sharp', () => {
    const result = compare(
      [
        { name: 'a', summary: traced(0.005) },
        { name: 'b', summary: traced(0.006) },
      ],
      '1.0.0',
    );
    const { difference, ratio, paired } = result.differences[0].figures.spill_fraction;
    expect([difference.value, ratio, paired]).toEqual([0, null, false]);
    expect(difference.std_err).toBeGreaterThan(0);
  });

  it('needs two', () => {
    expect(() => compare([{ name: 'a', summary: traced(0.04) }], '1.0.0')).toThrow(RangeError);
  });
});

describe('stated 95 % intervals of differences and tolerances over 300 seeds (1 to 300)', async () => {
  const coverage = new Map<string, Coverage>();
  const part = (0.05 - spill(34)) / (spill(40) - spill(34));
  for (let seed = 1; seed <= SEEDS; seed++) {
    const result = await sweep(
      options({
        vary: [{ path: 'sigma_mm', values: [34, 40] }],
        requirement: requirement('spill<=5%'),
        runOptions: { ...runOptions, seed: String(seed) },
      }),
    );
    const { spill_fraction } = result.points[1].differences;
    countInto(coverage, 'paired difference', spill_fraction.difference, spill(40) - spill(34));
    countInto(coverage, 'paired ratio', spill_fraction.ratio!, spill(40) / spill(34));
    countInto(coverage, 'tolerance', result.tolerances[0].limit!, 34 + 6 * part);
  }

  it.each(['paired difference', 'paired ratio', 'tolerance'])(
    '%s: the truth is held as often as stated',
    (name) => {
      const { held } = coverage.get(name)!;
      expect(isCalibrated(held), `${held} of ${SEEDS}`).toBe(true);
    },
  );

  it.each(['paired difference', 'paired ratio', 'tolerance'])(
    '%s: sabotage, errors x 0.7 are found out',
    (name) => {
      const { heldSabotaged } = coverage.get(name)!;
      expect(isCalibrated(heldSabotaged), `${heldSabotaged} of ${SEEDS}`).toBe(false);
    },
  );
});
