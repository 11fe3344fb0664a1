/** Runs checks through the public path, scene text to figure, and judges what comes out. */
import type { Run, RunOptions } from '../run/types.js';
import { loadScene } from '../scene/load.js';
import { parseOverride } from '../scene/override.js';
import type { Scene } from '../scene/types.js';
import { type Traced, traceScene } from '../study/trace.js';
import { chanceBeyond, chanceOfAny } from './chance.js';
import type { Check, Reading, Verdict, VerifyResult } from './types.js';

/** A check may be off by this many of its standard errors, beside its tolerance. */
export const MOST_STANDARD_ERRORS = 4;

/** The program and its own scene files do not fit together. */
export class CheckSceneError extends Error {
  override readonly name = 'CheckSceneError';
}

export interface VerifyOptions {
  /** The seed of each check is this and its name, so that each has draws of its own. */
  readonly seed: string;
  /** Text of a scene file, by its name without folder and ending. */
  readonly sceneText: (name: string) => Promise<string>;
  /** Put each check's own small fault in: those that have one should then fail. */
  readonly withFaults?: boolean;
  readonly run: Run;
  readonly runOptions: Omit<RunOptions, 'seed' | 'rays' | 'target' | 'maxRays'>;
  /** Called after each scene traced. */
  readonly onTraced?: () => void;
}

/** Whether, and by how many standard errors, a reading is off. */
export function judge(
  check: Pick<Check, 'judged' | 'expected' | 'tolerance'>,
  reading: Reading,
): Pick<Verdict, 'z' | 'passed'> {
  const { judged, expected, tolerance } = check;
  const { value, std_err } = reading;
  const deviation = judged === 'at most' ? value - expected : Math.abs(value - expected);
  const beyond = deviation - tolerance;
  if (judged === 'exact') return { z: null, passed: beyond <= 0 };
  // A figure that is no number is beyond everything.
  if (beyond <= 0) return { z: 0, passed: true };
  if (!(std_err > 0 && Number.isFinite(std_err))) return { z: null, passed: false };
  const z = beyond / std_err;
  return { z, passed: z <= MOST_STANDARD_ERRORS };
}

/**
 * How often luck of the draw fails a check whose expected value is right.
 * @param slots of the trace that has fewest: the standard error has one degree of freedom less
 */
function chanceOfFalseAlarm(check: Check, reading: Reading, slots: number): number {
  if (check.judged === 'exact' || !(reading.std_err > 0) || slots < 2) return 0;
  const sides = check.judged === 'at most' ? 0.5 : 1;
  return sides * chanceBeyond(MOST_STANDARD_ERRORS + check.tolerance / reading.std_err, slots - 1);
}

/** @throws CheckSceneError where the file is refused */
function sceneOf(text: string, name: string, set: readonly string[]): Scene {
  const overrides = set.map((option) => {
    const outcome = parseOverride(option);
    if (!outcome.ok) throw new CheckSceneError(`${name}: ${outcome.error.message}`);
    return outcome.override;
  });
  const loaded = loadScene(text, { file: `${name}.yaml`, overrides });
  if (loaded.ok) return loaded.scene;
  const [first] = loaded.errors;
  throw new CheckSceneError(
    `the scene of the check ${name} is refused: ${first.path}: ${first.message.trim()}`,
  );
}

/**
 * One check.
 * @throws CheckSceneError, and what `traceScene` throws
 */
export async function runCheck(check: Check, options: VerifyOptions): Promise<Verdict> {
  const { sabotage, read, rays, ...told } = check;
  const seed = `${options.seed}/${check.name}`;
  const fault = options.withFaults === true && 'fault' in sabotage ? sabotage : null;
  const traces: Traced[] = [];
  for (const [index, name] of check.scenes.entries()) {
    const set = fault !== null && index === (fault.scene ?? 0) ? fault.set : [];
    const scene = sceneOf(await options.sceneText(name), name, set);
    const runOptions = { ...options.runOptions, seed, rays, target: null, maxRays: rays };
    traces.push(await traceScene(scene, options.run, runOptions));
    options.onTraced?.();
  }
  const reading = read(traces);
  return {
    ...told,
    got: reading.value,
    std_err: check.judged === 'exact' ? 0 : reading.std_err,
    ...judge(check, reading),
    chance_of_false_alarm: chanceOfFalseAlarm(
      check,
      reading,
      Math.min(...traces.map(({ outcome }) => outcome.slots.length)),
    ),
    fault: fault?.fault ?? null,
    seed,
    rays: traces.reduce((sum, { outcome }) => sum + outcome.rays, 0),
  };
}

/**
 * All checks given, in their order. Stops between two checks once `runOptions.stop` asks for it.
 * @throws CheckSceneError, and what `traceScene` throws
 */
export async function verify(
  checks: readonly Check[],
  version: string,
  options: VerifyOptions,
): Promise<VerifyResult> {
  const stopped = (): boolean => options.runOptions.stop?.requested ?? false;
  const verdicts: Verdict[] = [];
  for (const check of checks) {
    if (stopped()) break;
    let verdict: Verdict;
    try {
      verdict = await runCheck(check, options);
    } catch (error) {
      // A run that was stopped before its first batches leaves nothing to judge.
      if (stopped()) break;
      throw error;
    }
    // Stopped halfway it has fewer rays than its tolerance counts on.
    if (stopped()) break;
    verdicts.push(verdict);
  }
  const passed = verdicts.filter((verdict) => verdict.passed).length;
  return {
    schema_version: 1,
    program: { name: 'rowfocus', version },
    kind: 'verify',
    seed: options.seed,
    with_faults: options.withFaults === true,
    rays: verdicts.reduce((sum, { rays }) => sum + rays, 0),
    checks: verdicts,
    passed,
    failed: verdicts.length - passed,
    missed: verdicts.filter((verdict) => verdict.passed && verdict.fault !== null).length,
    worst_z: worstOf(verdicts),
    most_z: MOST_STANDARD_ERRORS,
    chance_of_false_alarm: chanceOfAny(verdicts.map((verdict) => verdict.chance_of_false_alarm)),
    by_source: countedBySource(verdicts),
    interrupted: verdicts.length < checks.length,
  };
}

function countedBySource(verdicts: readonly Verdict[]): VerifyResult['by_source'] {
  const counts = { 'closed form': 0, publication: 0, 'common practice': 0, 'from memory': 0 };
  for (const { source } of verdicts) counts[source.kind]++;
  return counts;
}

function worstOf(verdicts: readonly Verdict[]): VerifyResult['worst_z'] {
  let worst: VerifyResult['worst_z'] = null;
  for (const { z, name } of verdicts) {
    if (z !== null && (worst === null || z > worst.z)) worst = { z, check: name };
  }
  return worst;
}
