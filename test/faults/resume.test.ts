import { spawn } from 'node:child_process';
import { cp, mkdir, readdir, readFile, writeFile } from 'node:fs/promises';
import { setTimeout as wait } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import seedrandom from 'seedrandom';
import { beforeAll, describe, expect, it } from 'vitest';
import {
  headLine,
  type PointRecord,
  pointLine,
  RecordError,
  readRecord,
  type SweepKey,
} from '../../src/study/resume.js';
import { runCli, useScratchFolder, withoutRun } from '../support/cli.js';

const folder = useScratchFolder();
const MAIN = fileURLToPath(new URL('../../dist/src/cli/main.js', import.meta.url));
const POINTS = 'sweep-points.jsonl';

function sweepArgs(out: string, ...more: readonly string[]): string[] {
  const vary = 'dishes.seven_strip.receiver.aperture.diameter_m=0.12:0.24:0.02';
  const shown = ['--show', 'spill_fraction', '--require', 'spill<=5%', '--rays', '2e4', '--workers', '0'];
  return ['sweep', folder.scene(), '--vary', vary, ...shown, '--quiet', '--out', out, ...more];
}

/** @returns every file of a folder by name, result.json without what depends on the machine */
async function contents(path: string): Promise<Record<string, string>> {
  const names = (await readdir(path)).sort();
  const texts = await Promise.all(names.map((name) => readFile(`${path}/${name}`, 'latin1')));
  return Object.fromEntries(
    names.map((name, i) => [name, name === 'result.json' ? withoutRun(texts[i]) : texts[i]]),
  );
}

/** Starts a sweep and kills it as a power cut would. @returns whether it was still running then */
async function killAfter(milliseconds: number, args: readonly string[]): Promise<boolean> {
  const child = spawn(process.execPath, [MAIN, ...args], { stdio: 'ignore' });
  const ended = new Promise<boolean>((resolve) => {
    child.on('close', (_code, signal) => resolve(signal === 'SIGKILL'));
  });
  await wait(milliseconds);
  child.kill('SIGKILL');
  return ended;
}

let whole: Record<string, string> = {};
let seconds = 0;
beforeAll(async () => {
  const started = performance.now();
  const { code, stderr } = await runCli(sweepArgs(folder.path('whole')));
  seconds = (performance.now() - started) / 1000;
  expect({ code, stderr }).toEqual({ code: 0, stderr: '' });
  whole = await contents(folder.path('whole'));
}, 120_000);

describe('a sweep that was killed and resumed', () => {
  it('leaves its finished points and the results, listed, and no other file', () => {
    const { files } = JSON.parse(`${whole['result.json'].replace(/,\s*$/, '')}}`) as {
      files: { file: string }[];
    };
    expect(files.map(({ file }) => file).sort()).toEqual(Object.keys(whole));
    expect(Object.keys(whole)).toContain(POINTS);
  });

  it('ends byte-identical to an unbroken one, killed at ten random moments (seed faults)', async () => {
    const random = seedrandom.alea('faults');
    for (let kill = 0; kill < 10; kill++) {
      const out = folder.path(`killed ${kill}`);
      // From after the start of the runtime to the end of the writing.
      await killAfter(1000 * seconds * (0.25 + 0.75 * random()), sweepArgs(out));
      // Twice in a row for every third: a resumed sweep can be killed as well.
      if (kill % 3 === 0) await killAfter(500 * seconds * (0.5 + random()), sweepArgs(out, '--resume'));
      const { code } = await runCli(sweepArgs(out, '--resume'));
      expect(code).toBe(0);
      expect(await contents(out)).toEqual(whole);
    }
  }, 600_000);

  it('takes the points from the record, and traces only the others', async () => {
    const out = folder.path('shortened');
    await mkdir(out);
    const lines = whole[POINTS].split('\n');
    // Whole lines and a torn one.
    await writeFile(`${out}/${POINTS}`, `${lines.slice(0, 6).join('\n')}\n${lines[6].slice(0, 99)}`);
    const args = sweepArgs(out, '--resume').filter((word) => word !== '--quiet');
    const { code, stderr } = await runCli(args);
    expect(code).toBe(0);
    expect(stderr).toMatch(/^rowfocus: 5 of 7 points were finished before\n/);
    expect(await contents(out)).toEqual(whole);
  });

  it('repeats the results from a whole record, on other threads and for another bound', async () => {
    const out = folder.path('again');
    await cp(folder.path('whole'), out, { recursive: true });
    const again = await runCli([...sweepArgs(out, '--resume'), '--workers', '2']);
    expect(again.code).toBe(0);
    expect(await contents(out)).toEqual(whole);
    const other = await runCli([...sweepArgs(out, '--resume'), '--require', 'spill<=6%']);
    expect(other.stdout).toMatch(/spill<=6% holds/);
  });

  it('without --resume starts afresh and replaces the record', async () => {
    const out = folder.path('afresh');
    await mkdir(out);
    await writeFile(`${out}/${POINTS}`, 'of no use\n');
    expect((await runCli(sweepArgs(out))).code).toBe(0);
    expect(await contents(out)).toEqual(whole);
  });
});

describe('a record that does not belong to the sweep is refused and left as it is', () => {
  it.each<readonly [string, readonly string[], RegExp]>([
    ['another seed', ['--seed', 'other'], /another sweep, with another seed/],
    ['another number of rays', ['--rays', '4e4'], /another number of rays/],
    ['another scene', ['--set', 'films.roll_a.soiling_factor=0.5'], /another scene/],
    ['a figure of its own', ['--require', 'receivers.A-1.peak_flux<=30'], /another required figure/],
  ])('%s', async (_what, more, message) => {
    const before = await contents(folder.path('whole'));
    const { code, stdout, stderr } = await runCli([...sweepArgs(folder.path('whole'), '--resume'), ...more]);
    expect({ code, stdout }).toEqual({ code: 2, stdout: '' });
    expect(stderr).toMatch(message);
    expect(stderr).toMatch(/It was left as it is/);
    expect(await contents(folder.path('whole'))).toEqual(before);
  });

  it('other values', async () => {
    const args = sweepArgs(folder.path('whole'), '--resume').map((word) =>
      word.replace('0.24:0.02', '0.22:0.02'),
    );
    const { code, stderr } = await runCli(args);
    expect(code).toBe(2);
    expect(stderr).toMatch(/another varied keys or values/);
  });

  it('--resume without a folder', async () => {
    const args = sweepArgs('x', '--resume').filter((word) => word !== '--out' && word !== 'x');
    const { code, stderr } = await runCli(args);
    expect(code).toBe(2);
    expect(stderr).toMatch(/'--resume' goes with '--out'/);
  });
});

const KEY: SweepKey = {
  program: '0.0.0',
  seed: 's',
  rays: 1,
  target: null,
  max_rays: 1,
  vary: [{ path: 'a.b', values: [1, 2.5, 4] }],
  required_figure: null,
};

function invented(value: number): PointRecord {
  const random = seedrandom.alea(String(value));
  const figure = {
    value: random() / 3,
    std_err: Number.MIN_VALUE,
    ci95: [-1e-300, 1e300] as const,
    unit: 'W',
  };
  return {
    values: [value],
    scene_hash: 'f',
    title: 'line\nfeed "quoted" \u2028 µ',
    rays: 2 ** 53 - 1,
    batches: 32,
    groups: 32,
    figures: { 'receivers.__proto__.spill': figure, spill: { ...figure, limit: 'upper' } },
    replicates: new Map([['spill', Float64Array.of(0.1, -0, Number.NaN, Number.MIN_VALUE, 1 / 3)]]),
    warnings: [{ code: 'c', message: 'm' }],
  };
}

describe('the record of finished points', () => {
  const points = KEY.vary[0].values.map(invented);
  const text = headLine(KEY) + points.map(pointLine).join('');

  it('gives back every number to the last bit', () => {
    const read = readRecord(text, KEY);
    expect(read).toEqual(points);
    expect(headLine(KEY) + read.map(pointLine).join('')).toBe(text);
  });

  it('cut anywhere after its head, gives the points before the cut', () => {
    const ends = Array.from(text.matchAll(/\n/g), ({ index }) => index + 1);
    for (let length = ends[0]; length <= text.length; length++) {
      const left = ends.filter((end) => end <= length).length - 1;
      expect(readRecord(text.slice(0, length), KEY)).toEqual(points.slice(0, left));
    }
  });

  it('cut within its head, or no record at all, is refused', () => {
    for (const bad of [
      '',
      '\n',
      '{}',
      'null\n',
      '[]\n',
      text.slice(0, 20),
      text.slice(text.indexOf('\n') + 1),
    ]) {
      expect(() => readRecord(bad, KEY)).toThrow(/no record of a sweep/);
    }
  });

  it('changed in any one character, is refused or gives the points before the change', () => {
    const random = seedrandom.alea('change');
    let refused = 0;
    for (let change = 0; change < 300; change++) {
      const at = Math.floor(random() * text.length);
      const changed = text.slice(0, at) + (text[at] === '7' ? '8' : '7') + text.slice(at + 1);
      try {
        // A last digit beyond the precision of a double, or a change of the last line, which counts as torn.
        expect(points).toEqual(expect.arrayContaining([...readRecord(changed, KEY)]));
      } catch (error) {
        expect(error).toBeInstanceOf(RecordError);
        refused++;
      }
    }
    expect(refused).toBeGreaterThan(150);
  });

  it('with its points in another order, is refused', () => {
    const mixed = headLine(KEY) + [points[1], points[0]].map(pointLine).join('');
    expect(() => readRecord(mixed, KEY)).toThrow(/line 2 is not the point/);
  });
});
