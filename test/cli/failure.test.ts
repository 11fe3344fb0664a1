import { describe, expect, it } from 'vitest';
import { BadSceneError, CommandFailure, reportFailure, UsageError } from '../../src/cli/failure.js';
import { refuseHugeTallies } from '../../src/cli/guard.js';
import { GeometryError } from '../../src/field/geometry-error.js';
import { tallyLayout } from '../../src/kernel/tally.js';
import type { PreparedScene } from '../../src/prepare.js';
import { OutputError } from '../../src/report/files.js';
import { NothingLitError } from '../../src/run/plan.js';
import { WorkerFailure } from '../../src/run/run.js';
import { SunBelowHorizonError } from '../../src/sun/direction.js';

const NOTHING_KNOWN = { seed: null, sceneHash: null };

describe('what is told of a failure', () => {
  it.each([
    [new UsageError('no'), 2],
    [new BadSceneError('no'), 2],
    [new CommandFailure('no'), 1],
    [new GeometryError('dish a', 'no'), 1],
    [new SunBelowHorizonError(-0.1), 1],
    [new NothingLitError(), 1],
    [new WorkerFailure(3, 'no'), 1],
    [new OutputError('no', null), 1],
  ])('%s: exit code %i, one sentence, no fault of the program', (error, code) => {
    const { exitCode, text } = reportFailure(error, NOTHING_KNOWN);
    expect(exitCode).toBe(code);
    expect(text).not.toMatch(/fault in rowfocus|\n|^\s+at /m);
  });

  it('anything else is a fault of the program, with what is needed to repeat it', () => {
    const { exitCode, text } = reportFailure(new TypeError('x is undefined'), {
      seed: 'a',
      sceneHash: 'ff00',
    });
    expect(exitCode).toBe(1);
    expect(text).toMatch(/fault in rowfocus.*scene ff00, seed "a"/);
    expect(text).not.toMatch(/\n/);
  });

  it('control characters do not reach the terminal', () => {
    const { text } = reportFailure(new CommandFailure('file \u001b[31m\r'), NOTHING_KNOWN);
    expect(text).not.toMatch(/\p{Cc}/u);
  });
});

describe('the guard of memory', () => {
  const sceneWith = (cells: readonly number[]): PreparedScene => {
    const part: Pick<PreparedScene, 'layout'> = { layout: tallyLayout(cells) };
    return part as PreparedScene;
  };

  it('lets ordinary fields through and names the cells of a huge one', () => {
    const ordinary = Array.from({ length: 60 }, () => [64, 64]).flat();
    const huge = Array.from({ length: 60 }, () => [1024, 512]).flat();
    expect(() => refuseHugeTallies(sceneWith(ordinary), 8)).not.toThrow();
    expect(() => refuseHugeTallies(sceneWith(huge), 8)).toThrow(
      /31457280 cells at 60 receivers.*1024 by 512.*"cells"/,
    );
  });
});
