/** `rowfocus verify`: the program held to closed forms and published values, before the user's eyes. */
import { randomBytes } from 'node:crypto';
import { readFile } from 'node:fs/promises';
import { type Command, Option } from 'commander';
import type { Check, VerifyResult } from '../verify/types.js';
import { CommandFailure, InterruptedError, UsageError } from './failure.js';
import { collect, parseSeed, parseWorkers } from './run-options.js';
import { EXIT, type Session } from './session.js';
import { openRun } from './study-run.js';

const DEFAULT_SEED = 'verify';
/** Bytes of a fresh seed: enough that two runs never share one. */
const FRESH_BYTES = 4;

interface VerifyFlags {
  readonly seed: string;
  readonly fresh?: boolean;
  readonly withFaults?: boolean;
  readonly only?: readonly string[];
  readonly workers?: number;
  readonly json?: boolean;
  readonly quiet?: boolean;
}

/** Adds the command. Its action returns the exit code through `finish`. */
export function addVerifyCommand(program: Command, session: Session, finish: (code: number) => void): void {
  program
    .command('verify')
    .summary('hold the program to closed forms and published values')
    .description(
      'Traces a scene of known outcome for each check, as a user would, and prints what must come out, what came out, its standard ' +
        'error, by how many of them it is off, and where the expected value comes from. Exit code 1 where a check fails.',
    )
    .addOption(
      new Option('--only <name>', 'only the check of this name (may be repeated)').argParser(collect),
    )
    .option('--fresh', 'draw new random numbers; the seed is printed, so that --seed repeats them')
    .addOption(
      new Option('--seed <text>', "seed; each check's own begins with it")
        .argParser(parseSeed)
        .default(DEFAULT_SEED, DEFAULT_SEED)
        .conflicts('fresh'),
    )
    .option(
      '--with-faults',
      'put a small fault into each scene, to see that its check finds it (exit code 1 where one is missed)',
    )
    .addOption(
      new Option(
        '--workers <count>',
        'threads to trace with; 0: none, trace in this one (default: as many as the machine has cores)',
      ).argParser(parseWorkers),
    )
    .option('--json', 'print one JSON document in place of the text')
    .option('--quiet', 'no progress and no notices on standard error')
    .addHelpText(
      'after',
      `
Examples:
  rowfocus verify
  rowfocus verify --fresh
  rowfocus verify --only trough-tube-rim-80
  rowfocus trace scenes-demo/checks/trough-tube-rim-80.yaml

The scenes are those in scenes-demo/checks/, one for each check or two. z is what a figure is off beyond the tolerance that
is printed, in its own standard errors; a check fails above 4. Luck of the draw alone fails a run of all checks about once in
260, the number being printed with every run; what is wrong fails with every seed.`,
    )
    .action(async (flags: VerifyFlags) => finish(await runVerify(flags, session)));
}

/** The checks of these names, in the order of the program. @throws UsageError for a name that there is not */
async function chosen(
  checks: readonly Check[],
  only: readonly string[] | undefined,
): Promise<readonly Check[]> {
  if (only === undefined) return checks;
  const names = checks.map(({ name }) => name);
  for (const name of only) {
    if (names.includes(name)) continue;
    const { nearest } = await import('../scene/nearest.js');
    const near = nearest(name, names);
    const hint = near === undefined ? `They are: ${names.join(', ')}.` : `The nearest is ${near}.`;
    throw new UsageError(`there is no check ${JSON.stringify(name)}. ${hint}`);
  }
  return checks.filter(({ name }) => only.includes(name));
}

/** From the compiled program and from its sources alike, wherever it is started. @throws CommandFailure */
async function sceneText(name: string): Promise<string> {
  const root = import.meta.url.endsWith('.ts') ? '../../' : '../../../';
  const file = new URL(`${root}scenes-demo/checks/${name}.yaml`, import.meta.url);
  try {
    return await readFile(file, 'utf8');
  } catch {
    throw new CommandFailure(`the scene scenes-demo/checks/${name}.yaml is missing from this installation`);
  }
}

async function runVerify(flags: VerifyFlags, session: Session): Promise<number> {
  const [{ CHECKS }, { CheckSceneError, verify }, { VERSION }] = await Promise.all([
    import('../verify/checks.js'),
    import('../verify/verify.js'),
    import('../version.js'),
  ]);
  const seed = flags.fresh === true ? randomBytes(FRESH_BYTES).toString('hex') : flags.seed;
  const checks = await chosen(CHECKS, flags.only);
  const scenes = checks.reduce((sum, check) => sum + check.scenes.length, 0);
  const rays = checks.reduce((sum, check) => sum + check.rays * check.scenes.length, 0);
  // For the choice of threads: rays of a scene on the average.
  const opened = await openRun({ ...flags, seed, rays: rays / scenes }, session, scenes);
  let result: VerifyResult;
  try {
    result = await verify(checks, VERSION, {
      seed,
      sceneText,
      withFaults: flags.withFaults === true,
      run: opened.run,
      runOptions: opened.options,
      onTraced: opened.nextScene,
    });
  } catch (error) {
    if (error instanceof CheckSceneError) throw new CommandFailure(error.message);
    throw error;
  } finally {
    await opened.close();
  }
  if (result.checks.length === 0) {
    throw new InterruptedError(
      'Interrupted before the first check was finished; there is nothing to report.',
    );
  }
  if (flags.json === true) {
    const { toJsonDocument } = await import('../report/json.js');
    session.out.write(toJsonDocument(result, [], opened.machine()));
  } else {
    const { verifyText } = await import('./verify-text.js');
    const { wall_time_s, workers } = opened.machine();
    session.out.write(verifyText(result, { ...session.out, seconds: wall_time_s, threads: workers }));
  }
  if (result.interrupted) return EXIT.interrupted;
  const good = result.with_faults ? result.missed === 0 : result.failed === 0;
  return good ? EXIT.done : EXIT.failed;
}
