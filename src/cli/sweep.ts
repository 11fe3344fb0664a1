/** `rowfocus sweep`: the same scene over the values of one or two keys. */
import { basename } from 'node:path';
import { type Command, InvalidArgumentError, Option } from 'commander';
import type { PreparedScene } from '../prepare.js';
import { plainText } from '../report/plain-text.js';
import type { SceneError } from '../scene/errors.js';
import { type Override, overrideAt } from '../scene/override.js';
import type { Scene } from '../scene/types.js';
import type { SweepKey } from '../study/resume.js';
import type { Override as SweepOverride } from '../study/sweep.js';
import type { Requirement, SweepResult, VariedPath } from '../study/types.js';
import {
  BadSceneError,
  CommandFailure,
  type FaultContext,
  InterruptedError,
  reportFailure,
  UsageError,
} from './failure.js';
import { addReportOption, openPage, type PageFlags } from './page-output.js';
import {
  addRunOptions,
  collect,
  DEFAULT_MAX_RAYS,
  flagConflict,
  type RunFlags,
  raysWanted,
} from './run-options.js';
import { badScene, readOverrides, readSceneText, type SceneText, sceneFromText } from './scene-file.js';
import { EXIT, type Session, say } from './session.js';
import { openRun } from './study-run.js';
import type { SweepRecord } from './sweep-record.js';

interface SweepFlags extends RunFlags, PageFlags {
  readonly vary: readonly string[];
  readonly require?: string;
  readonly show?: string;
  readonly resume?: boolean;
}

/** Up to here every point is checked before the first is traced; beyond, the ends of the ranges only. */
const MOST_CHECKED = 100;

export function addSweepCommand(
  program: Command,
  session: Session,
  finish: (code: number) => void,
  context: (known: Partial<FaultContext>) => void,
): void {
  const command = program
    .command('sweep')
    .summary('trace a scene over a range of values; find the build tolerance')
    .description(
      'Traces the same scene, with the same random numbers, over the values of one or two keys. With --require it says up to ' +
        'which value the requirement holds: the build tolerance.',
    )
    .argument('<scene>', 'scene file, or - for standard input')
    .addOption(
      new Option(
        '--vary <path=from:to:step>',
        'key to vary and its values, both ends included; give it twice for a sweep of two',
      )
        .argParser(collect)
        .makeOptionMandatory(),
    )
    .option(
      '--require <condition>',
      "what must hold, e.g. 'spill_fraction<=0.05', 'spill<=5%', 'peak_flux<=40', 'receivers.A-1.spill<=5%'",
    )
    .option(
      '--show <figures>',
      'figures to print and draw, separated by commas (default: the main ones)',
      parseShow,
    );
  addReportOption(addRunOptions(command))
    .option(
      '--resume',
      'with --out: go on from the points that an earlier, broken-off sweep left in the folder',
    )
    .addHelpText(
      'after',
      `
Examples:
  rowfocus sweep scene.yaml --vary films.roll_a.slope_error_across_mrad=2:10:1 --require 'spill<=5%'
  rowfocus sweep scene.yaml --vary dishes.seven_strip.tilt_setting_deg=-3:3:0.5 --show spill_fraction,peak_flux --out results

Figures: spill_fraction, intercept_factor, blocked_fraction, reflected_power, intercepted_power, peak_flux, mean_flux,
concentration_ratio; of one receiver: receivers.NAME.FIGURE. The CSV file and --json hold all of them at every point.

With --out, each finished point is kept in sweep-points.jsonl at once. After a power cut or a kill, the same command with
--resume traces only what is missing and ends with the same bytes as a sweep that ran through.`,
    )
    .action(async (path: string, flags: SweepFlags) => {
      context({ seed: flags.seed });
      finish(await runSweep(path, flags, session, context));
    });
}

/** @throws InvalidArgumentError */
function parseShow(text: string): string {
  if (text.split(',').some((name) => name.trim() === '')) {
    throw new InvalidArgumentError('Expected names separated by commas, e.g. spill_fraction,peak_flux.');
  }
  return text;
}

async function runSweep(
  path: string,
  flags: SweepFlags,
  session: Session,
  context: (known: Partial<FaultContext>) => void,
): Promise<number> {
  const [{ parseVary }, { parseRequirement }, { SharedTables }, { sweep }, { prepareAtMoment }, { VERSION }] =
    await Promise.all([
      import('../study/range.js'),
      import('../study/requirement.js'),
      import('../prepare.js'),
      import('../study/sweep.js'),
      import('../study/trace.js'),
      import('../version.js'),
    ]);
  const mistakes: string[] = [];
  const conflict = flagConflict(flags);
  if (conflict !== null) mistakes.push(conflict);
  const vary: VariedPath[] = [];
  for (const text of flags.vary) {
    const parsed = parseVary(text);
    if (parsed.ok) vary.push(parsed.value);
    else mistakes.push(`--vary ${parsed.message}`);
  }
  if (flags.resume === true && flags.out === undefined) {
    mistakes.push("option '--resume' goes with '--out': the finished points are in that folder");
  }
  if (flags.vary.length > 2) mistakes.push('--vary can be given once or twice');
  let requirement: Requirement | null = null;
  if (flags.require !== undefined) {
    const parsed = parseRequirement(flags.require);
    if (parsed.ok) requirement = parsed.value;
    else mistakes.push(`--require ${parsed.message}`);
  }
  if (mistakes.length > 0) throw new UsageError(mistakes.join('\n'));
  await openPage(flags.report, '--report');

  const source = await readSceneText(path, session);
  const sets = flags.set ?? [];
  const base = await sceneFromText(source, sets, session);
  context({ sceneHash: base.hash });
  const { overrides } = readOverrides(sets);
  const sceneAt = await pointLoader(source, overrides, vary, session);
  await checkPoints(vary, sceneAt);
  const shared = new SharedTables();
  const receivers = prepareAtMoment(base, shared).field.receivers.map(({ name }) => name);
  const shown = await figuresToShow(flags.show, requirement, receivers);
  let record: SweepRecord | null = null;
  if (flags.out !== undefined) {
    const [{ openFolder }, { openRecord }] = await Promise.all([
      import('./trace-files.js'),
      import('./sweep-record.js'),
    ]);
    const key: SweepKey = {
      program: VERSION,
      seed: flags.seed,
      rays: raysWanted(flags),
      ...(flags.deposit === 'footprints' ? { deposit: flags.deposit } : {}),
      target: flags.to ?? null,
      max_rays: flags.maxRays ?? DEFAULT_MAX_RAYS,
      vary,
      required_figure: requirement?.figure ?? null,
    };
    const hashAt = async (values: readonly number[]): Promise<string> => {
      const scene = await sceneAt(vary.map(({ path }, i) => ({ path, value: values[i] })));
      return scene.hash;
    };
    record = await openRecord(flags.out, key, flags.resume === true, hashAt, session);
    await openFolder(flags.out);
  }

  const count = vary.reduce((product, { values }) => product * values.length, 1);
  const recorded = record?.points ?? [];
  if (flags.resume === true && flags.quiet !== true) {
    const found =
      recorded.length === 0
        ? 'no finished points in the folder; starting from the beginning'
        : `${recorded.length} of ${count} points were finished before`;
    say(session, found);
  }
  const opened = await openRun(flags, session, Math.max(1, count - recorded.length));
  let result: SweepResult;
  try {
    result = await sweep({
      prepare: async (values): Promise<PreparedScene> => {
        const scene = await sceneAt(values);
        return atPoint(values, () => prepareAtMoment(scene, shared));
      },
      run: opened.run,
      runOptions: opened.options,
      vary,
      requirement,
      version: VERSION,
      // The title is no part of a scene's hash: it may have been changed since.
      recorded: recorded.map((point) => ({ ...point, title: base.title })),
      onRecord: async (point) => {
        await record?.add(point);
        opened.nextScene();
      },
    });
  } finally {
    await opened.close();
  }
  if (result.points.length === 0) {
    throw new InterruptedError(
      'Interrupted before the first point was finished; there is nothing to report.',
    );
  }
  const { reportSweep } = await import('./sweep-output.js');
  const input = { text: source.text, file: basename(source.file), title: base.title, hash: base.hash };
  await reportSweep(result, input, shown, receivers.length === 1, flags, record, opened.machine(), session);
  return session.stop.requested ? EXIT.interrupted : EXIT.done;
}

type SceneAt = (values: readonly SweepOverride[]) => Promise<Scene>;

/**
 * Checks the varied paths (each must hold a number, and the range must lie within what the key allows).
 * @returns what makes the scene of a point
 * @throws UsageError with all that is wrong
 */
async function pointLoader(
  source: SceneText,
  overrides: readonly Override[],
  vary: readonly VariedPath[],
  session: Session,
): Promise<SceneAt> {
  const { numberAt, parsePath } = await import('../scene/override.js');
  const { sceneSource } = await import('../scene/load.js');
  const { fullSchema } = await import('../scene/json-schema.js');
  const schema = fullSchema();
  const errors: SceneError[] = [];
  const paths = new Map<string, Override['path']>();
  for (const { path, values } of vary) {
    const parsed = parsePath(path);
    if (!parsed.ok) {
      errors.push(parsed.error);
      continue;
    }
    paths.set(path, parsed.path);
    const number = numberAt(source.text, parsed.path, overrides, schema.json);
    if (!number.ok) {
      errors.push(...number.errors);
      continue;
    }
    const { min, max } = number.allowed;
    const outside = values.find((value) => value < min || value > max);
    if (outside !== undefined) {
      errors.push({
        code: 'out_of_range',
        path,
        message: `${path} is to be varied to ${outside}, which the key does not allow.`,
        allowed: `${min} to ${max}`,
        line: null,
        column: null,
        endColumn: null,
        option: `${path}=${outside}`,
      });
    }
  }
  if (errors.length > 0) throw new UsageError(errors.map(varyErrorText).join('\n'));
  const loadWith = sceneSource(source.text, schema);
  return async (values) => {
    const more = values.map(({ path, value }) => overrideAt(paths.get(path) ?? [path], value));
    const outcome = loadWith([...overrides, ...more]);
    if (outcome.ok) return outcome.scene;
    const bad = await badScene(outcome.errors, source, session);
    throw new BadSceneError(pointErrorText(bad.message, values, more));
  };
}

/** Errors of a point's scene: the point first, and values that `--vary` put in told as such, not as those of `--set`. */
function pointErrorText(text: string, values: readonly SweepOverride[], more: readonly Override[]): string {
  const told = more.reduce(
    (done, { option }) => done.replaceAll(`--set ${plainText(option)}`, () => `--vary ${plainText(option)}`),
    text,
  );
  return `At ${plainText(pointName(values))}, from --vary:\n\n${told}`;
}

function pointName(values: readonly SweepOverride[]): string {
  return values.map(({ path, value }) => `${path}=${value}`).join(', ');
}

function varyErrorText({ option, message, allowed, suggestion }: SceneError): string {
  const more = [
    allowed === undefined ? '' : ` Allowed: ${allowed}.`,
    suggestion === undefined ? '' : ` Nearest: ${suggestion}.`,
  ];
  return `--vary ${option ?? ''}: ${message}${more.join('')}`;
}

/** Runs something for a point; where it fails for a reason of the scene, the message names the point. */
function atPoint<T>(values: readonly SweepOverride[], work: () => T): T {
  try {
    return work();
  } catch (error) {
    const { text } = reportFailure(error, { seed: null, sceneHash: null });
    if (text.includes('fault in rowfocus')) throw error;
    throw new CommandFailure(`at ${pointName(values)}: ${text.replace(/^error: /, '')}`);
  }
}

/** Finds points that cannot be built before an hour has gone into those before them. */
async function checkPoints(vary: readonly VariedPath[], sceneAt: SceneAt): Promise<void> {
  const [{ layOut }, { momentOf }] = await Promise.all([
    import('../field/layout.js'),
    import('../sun/direction.js'),
  ]);
  const count = vary.reduce((product, { values }) => product * values.length, 1);
  const lists = vary.map(({ path, values }) => {
    const kept = count <= MOST_CHECKED ? values : [...new Set([values[0], values[values.length - 1]])];
    return kept.map((value) => ({ path, value }));
  });
  const points = lists.reduce<SweepOverride[][]>(
    (done, list) => done.flatMap((head) => list.map((entry) => [...head, entry])),
    [[]],
  );
  for (const point of points) {
    const scene = await sceneAt(point);
    atPoint(point, () => {
      momentOf(scene);
      layOut(scene);
    });
  }
}

const SHOWN_FIRST = ['spill_fraction', 'intercept_factor', 'intercepted_power', 'peak_flux'];

/** @throws UsageError for a figure that a sweep of this scene does not keep */
async function figuresToShow(
  wish: string | undefined,
  requirement: Requirement | null,
  receivers: readonly string[],
): Promise<readonly string[]> {
  const { TOTAL_FIGURES } = await import('../study/figures.js');
  const { nearestName } = await import('../study/requirement.js');
  const own =
    receivers.length === 1
      ? ['spot.holds_90', 'spot.holds_95', 'opening_for_5_percent_spill_mm'].map(
          (figure) => `receivers.${receivers[0]}.${figure}`,
        )
      : [];
  const required = requirement === null ? [] : [requirement.figure];
  const kept: readonly string[] = [...new Set([...TOTAL_FIGURES, ...own, ...required])];
  if (wish === undefined) {
    return [...new Set([...required, ...SHOWN_FIRST, ...own.slice(0, 1)])];
  }
  return wish.split(',').map((written) => {
    const name = written.trim();
    // The start of a name will do where it is that of one figure only.
    const begun = kept.filter((figure) => figure.startsWith(name));
    const found =
      kept.find((figure) => figure === name || (own.includes(figure) && figure.endsWith(`.${name}`))) ??
      (begun.length === 1 ? begun[0] : undefined);
    if (found === undefined) {
      throw new UsageError(
        `--show: there is no figure "${name}" in this sweep; nearest: ${nearestName(name, kept)}. Known: ${kept.join(', ')}`,
      );
    }
    return found;
  });
}
