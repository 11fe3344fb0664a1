import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { verifyText } from '../../src/cli/verify-text.js';
import { runScene } from '../../src/run/run.js';
import { chanceBeyond, chanceOfAny } from '../../src/verify/chance.js';
import { CHECKS } from '../../src/verify/checks.js';
import type { Check, VerifyResult } from '../../src/verify/types.js';
import { judge, verify } from '../../src/verify/verify.js';

const FOLDER = fileURLToPath(new URL('../../scenes-demo/checks/', import.meta.url));

function run(
  checks: readonly Check[],
  more: { seed?: string; withFaults?: boolean } = {},
): Promise<VerifyResult> {
  return verify(checks, '0.0.0', {
    seed: 'test',
    sceneText: async (name) => readFileSync(`${FOLDER}${name}.yaml`, 'utf8'),
    run: runScene,
    runOptions: { workers: 0 },
    ...more,
  });
}

function named(...names: readonly string[]): readonly Check[] {
  return CHECKS.filter(({ name }) => names.includes(name));
}

describe('judging a reading', () => {
  const sampled = { judged: 'sampled', expected: 1, tolerance: 0.1 } as const;

  it.each([
    [1.05, 0, 0, true],
    [0.95, 0.01, 0, true],
    [1.13, 0.01, 3, true],
    [0.87, 0.01, 3, true],
    [1.15, 0.01, 5, false],
    [0.85, 0.01, 5, false],
  ])('%d with an error of %d: z = %d', (value, std_err, z, passed) => {
    const verdict = judge(sampled, { value, std_err });
    expect(verdict.z).toBeCloseTo(z, 9);
    expect(verdict.passed).toBe(passed);
  });

  it.each([
    [1.11, 0],
    [1.11, Number.POSITIVE_INFINITY],
    [1.11, Number.NaN],
    [Number.NaN, 0.01],
    [Number.NaN, 0],
  ])('%d with an error of %d fails', (value, std_err) => {
    expect(judge(sampled, { value, std_err }).passed).toBe(false);
  });

  it('exact: no error excuses anything beyond the tolerance', () => {
    const exact = { ...sampled, judged: 'exact' } as const;
    expect(judge(exact, { value: 1.09, std_err: 0 })).toEqual({ z: null, passed: true });
    expect(judge(exact, { value: 1.11, std_err: 1 })).toEqual({ z: null, passed: false });
    expect(judge(exact, { value: Number.NaN, std_err: 0 }).passed).toBe(false);
  });

  it('at most: only above counts', () => {
    const most = { ...sampled, judged: 'at most' } as const;
    expect(judge(most, { value: -5, std_err: 0.01 })).toEqual({ z: 0, passed: true });
    expect(judge(most, { value: 1.12, std_err: 0.01 }).z).toBeCloseTo(2, 9);
    expect(judge(most, { value: 1.15, std_err: 0.01 }).passed).toBe(false);
  });
});

describe('a run of some checks', () => {
  const some = named('sun-azimuth', 'cosine-law', 'coddington-sphere-t');

  it('tells of each and counts them', async () => {
    const result = await run(some);
    expect(result.checks.map(({ name, passed }) => [name, passed])).toEqual(
      some.map(({ name }) => [name, true]),
    );
    expect(result).toMatchObject({ passed: 3, failed: 0, missed: 0, interrupted: false });
    expect(result.checks[2].seed).toBe('test/coddington-sphere-t');
    expect(result.worst_z).toEqual({ z: 0, check: 'coddington-sphere-t' });
  });

  it('a wrong expectation fails', async () => {
    const wrong = some.map((check) => ({ ...check, expected: check.expected * 1.0001 }));
    expect(await run(wrong)).toMatchObject({ passed: 0, failed: 3 });
  });

  it('another seed gives other draws, the same seed the same', async () => {
    const [check] = named('coddington-sphere-t');
    const one = await run([check]);
    expect(await run([check])).toEqual(one);
    expect((await run([check], { seed: 'other' })).checks[0].got).not.toBe(one.checks[0].got);
  });

  it('a refused scene is told', async () => {
    const odd = { ...some[0], sabotage: { fault: 'x', set: ['sun.nothing=1'] } };
    await expect(run([odd], { withFaults: true })).rejects.toThrow(/sun-position is refused/);
  });

  it('stops between two checks', async () => {
    const stop = { requested: false };
    const result = await verify(some, '0.0.0', {
      seed: 'test',
      sceneText: async (name) => readFileSync(`${FOLDER}${name}.yaml`, 'utf8'),
      run: async (prepared, options) => {
        const outcome = await runScene(prepared, options);
        stop.requested = options.seed.endsWith('cosine-law');
        return outcome;
      },
      runOptions: { workers: 0, stop },
    });
    expect(result.checks.map(({ name }) => name)).toEqual(['sun-azimuth']);
    expect(result.interrupted).toBe(true);
  });
});

describe('luck of the draw', () => {
  // Two-sided points of Student's t as handbooks print them (from memory); 1 degree: closed form, 1 - (2 / pi) atan t.
  it.each([
    [12.7062, 1, 0.05],
    [2.0423, 30, 0.05],
    [3.646, 30, 0.001],
    [2.7765, 4, 0.05],
  ])('beyond %d with %d degrees of freedom: %d', (t, dof, chance) => {
    expect(chanceBeyond(t, dof) / chance).toBeCloseTo(1, 3);
  });

  it('with many degrees of freedom: that of the normal distribution', () => {
    expect(chanceBeyond(4, 1_000_001) / 6.334248e-5).toBeCloseTo(1, 3);
    expect(chanceBeyond(0, 31)).toBe(1);
    expect(() => chanceBeyond(1, 0)).toThrow(RangeError);
  });

  it('several chances add up, less those that coincide', () => {
    expect(chanceOfAny([])).toBe(0);
    expect(chanceOfAny([0.5, 0.5])).toBeCloseTo(0.75, 12);
    expect(chanceOfAny([1e-18, 1e-18])).toBeCloseTo(2e-18, 30);
  });

  it('none where all is exact; a tolerance beside the 4 errors leaves less; one side leaves half', async () => {
    const [check] = named('mirror-image');
    const wide = { ...check, tolerance: 0.01 };
    const most = { ...check, judged: 'at most' } as const;
    const exact = { ...check, judged: 'exact', tolerance: 1 } as const;
    const chances = (await run([check, wide, most, exact])).checks.map(
      (verdict) => verdict.chance_of_false_alarm,
    );
    expect(chances[0]).toBeCloseTo(chanceBeyond(4, 31), 12);
    expect(chances[1]).toBeLessThan(chances[0] / 100);
    expect(chances[2]).toBeCloseTo(chances[0] / 2, 12);
    expect(chances[3]).toBe(0);
  });
});

describe('the text', () => {
  const look = { colour: false, columns: 80, seconds: 1, threads: 2 };
  const few = named('sun-azimuth', 'cosine-law', 'books-of-rays', 'circumsolar-ring', 'limit-line-focus');

  it.each([80, 120])('keeps within %d columns', async (columns) => {
    const text = verifyText(await run(few), { ...look, columns });
    for (const line of text.split('\n')) expect(line.length, line).toBeLessThanOrEqual(columns);
    expect(text).toMatch(/^ok {4}cosine-law +766\.0444 +766\.0444 +- +7\.7e-10 exact$/m);
    expect(text).toMatch(/publication: Reda & Andreas/);
    expect(text).toMatch(/^5 checks: 5 passed, 0 failed, worst \|z\| \d\.\d of 4 \(\S+\)$/m);
    expect(text).toMatch(/^ {2} 3 closed form +worked out on paper/m);
    expect(text).toMatch(/^ {2} 1 from memory /m);
    expect(text.replaceAll('\n', ' ')).toMatch(
      /luck of the draw fails about one run in \d[\d ]* where nothing is wrong/,
    );
  });

  it('says how to repeat what failed', async () => {
    const wrong = named('cosine-law').map((check) => ({ ...check, expected: 1 }));
    const text = verifyText(await run(wrong), look);
    expect(text).toMatch(/^FAIL {2}cosine-law/m);
    expect(text).toMatch(/rowfocus verify --only cosine-law --seed "test"/);
  });

  it('with faults: seen, missed, or none to see', async () => {
    const [law, books] = named('cosine-law', 'books-of-rays');
    const blind = { ...law, name: 'blind', tolerance: 1e9 };
    const text = verifyText(await run([law, blind, books], { withFaults: true }), look);
    expect(text).toMatch(/^seen {2}cosine-law/m);
    expect(text).toMatch(/^MISS {2}blind/m);
    expect(text).toMatch(/^none {2}books-of-rays/m);
    expect(text).toMatch(/fault: 0\.001 degrees more/);
    expect(text).toMatch(/1 saw it, 1 missed it, 1 without one/);
  });
});
