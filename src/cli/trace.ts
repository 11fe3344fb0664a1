/** `rowfocus trace`: where the light of a scene goes. */
import { join } from 'node:path';
import { type Command, InvalidArgumentError } from 'commander';
import { toJsonDocument } from '../report/json.js';
import type { MachineRun, RunStamp, WrittenFile } from '../report/types.js';
import type { Scene } from '../scene/types.js';
import type { Traced } from '../study/trace.js';
import { type FaultContext, InterruptedError, UsageError } from './failure.js';
import {
  addReportOption,
  openPage,
  type PageFlags,
  pageText,
  tracedScene,
  writePage,
} from './page-output.js';
import type { RayWish } from './replay.js';
import { addRunOptions, DEFAULT_MAX_RAYS, flagConflict, type RunFlags, raysWanted } from './run-options.js';
import { type LoadedScene, openScene } from './scene-file.js';
import { EXIT, type Session, say } from './session.js';
import { openRun } from './study-run.js';

interface TraceFlags extends RunFlags, PageFlags {
  readonly replay?: RayWish;
}

/** Adds the command. Its action returns the exit code through `finish`. */
export function addTraceCommand(
  program: Command,
  session: Session,
  finish: (code: number) => void,
  context: (known: Partial<FaultContext>) => void,
): void {
  const command = program
    .command('trace')
    .summary('trace a scene: flux maps, peak flux, spill')
    .description(
      'Traces sunlight through a scene and says whether the spot fits its opening, how hot the hottest place is, how much ' +
        'light misses and why, each figure with its error. Files are written only with --out.',
    )
    .argument('<scene>', 'scene file, or - for standard input');
  addReportOption(addRunOptions(command))
    .option(
      '--replay <ray>',
      'print the path of one ray of this run, hit by hit, and trace nothing else: BATCH:INDEX, or one number counted over all batches',
      parseReplay,
    )
    .addHelpText(
      'after',
      `
Examples:
  rowfocus trace scene.yaml
  rowfocus trace scene.yaml --to 0.5% --out results
  rowfocus trace scene.yaml --set films.roll_a.slope_error_across_mrad=8 --json
  rowfocus trace scene.yaml --replay 3:1200

A receiver's files are its flux figure (-flux.png), the raw map with one pixel a cell (-map.png) and the grid as numbers
(-flux.csv); with more than 12 receivers they go into the folder receivers/ inside the output folder. All maps of a run
share one colour scale. Ctrl-C stops at the end of the batches in hand and reports what is there (exit code 130).`,
    )
    .action(async (path: string, flags: TraceFlags) => {
      context({ seed: flags.seed });
      const conflict = flagConflict(flags);
      if (conflict !== null) throw new UsageError(conflict);
      if (flags.replay !== undefined && flags.out !== undefined) {
        throw new UsageError("option '--replay' prints one path and writes no files; leave '--out' away");
      }
      if (flags.replay !== undefined && flags.deposit === 'footprints') {
        throw new UsageError("option '--replay' follows a ray; leave '--deposit footprints' away");
      }
      if (flags.replay !== undefined && flags.report !== undefined) {
        throw new UsageError("option '--replay' prints one path and writes no page; leave '--report' away");
      }
      const loaded = await openScene(path, flags.set ?? [], session);
      const { scene } = loaded;
      context({ sceneHash: scene.hash });
      if (flags.replay === undefined) finish(await runTrace(loaded, flags, session));
      else finish(await runReplay(scene, flags, flags.replay, session));
    });
}

/** @throws InvalidArgumentError */
function parseReplay(text: string): RayWish {
  const match = /^(\d{1,15})(?::(\d{1,15}))?$/.exec(text.trim());
  if (match === null)
    throw new InvalidArgumentError('Expected BATCH:INDEX such as 3:1200, or one whole number.');
  return match[2] === undefined
    ? { overall: Number(match[1]) }
    : { batch: Number(match[1]), index: Number(match[2]) };
}

async function runReplay(scene: Scene, flags: RunFlags, wish: RayWish, session: Session): Promise<number> {
  const [
    { prepareAtMoment },
    { planBatches, planTargetBatches },
    { findRay, replay, replayText },
    { VERSION },
  ] = await Promise.all([
    import('../study/trace.js'),
    import('../run/plan.js'),
    import('./replay.js'),
    import('../version.js'),
  ]);
  const started = performance.now();
  const prepared = prepareAtMoment(scene);
  const plan =
    flags.to === undefined
      ? planBatches(prepared, raysWanted(flags))
      : planTargetBatches(prepared, flags.maxRays ?? DEFAULT_MAX_RAYS);
  const ray = replay(prepared, plan, flags.seed, findRay(wish, plan));
  if (flags.json !== true) {
    session.out.write(replayText(scene.title, ray));
    return EXIT.done;
  }
  const document = {
    schema_version: 1,
    program: { name: 'rowfocus', version: VERSION },
    kind: 'replay',
    title: scene.title,
    scene_hash: scene.hash,
    ...ray,
  };
  const machine: MachineRun = { wall_time_s: (performance.now() - started) / 1000, workers: 0 };
  session.out.write(toJsonDocument(document, [], machine));
  return EXIT.done;
}

async function runTrace(loaded: LoadedScene, flags: TraceFlags, session: Session): Promise<number> {
  const { scene } = loaded;
  await openPage(flags.report, '--report');
  if (flags.out !== undefined) {
    const { openFolder } = await import('./trace-files.js');
    await openFolder(flags.out);
  }
  const { traceScene } = await import('../study/trace.js');
  const opened = await openRun(flags, session);
  let traced: Traced;
  try {
    traced = await traceScene(scene, opened.run, opened.options);
  } catch (error) {
    if (session.stop.requested && error instanceof RangeError) {
      throw new InterruptedError(
        'Interrupted before the first batch was finished; there is nothing to report.',
      );
    }
    throw error;
  } finally {
    await opened.close();
  }
  return report(loaded, traced, flags, opened.machine(), session);
}

/** Files first, then the result on standard output, so that a reader who closes it early loses no file. */
async function report(
  loaded: LoadedScene,
  traced: Traced,
  flags: TraceFlags,
  machine: MachineRun,
  session: Session,
): Promise<number> {
  const { summary, outcome } = traced;
  const { result } = summary;
  const body = { ...result, target: flags.to ?? null, target_reached: outcome.targetReached };
  const written: WrittenFile[] = [];
  let failure: unknown = null;
  if (flags.out !== undefined) {
    const { MOST_RECEIVERS_FLAT, replaceResults, RESULT_FILE, writeBelow, writeTraceFiles } = await import(
      './trace-files.js'
    );
    if (result.receivers.length > MOST_RECEIVERS_FLAT && flags.quiet !== true) {
      say(session, `writing the maps and pictures of ${result.receivers.length} receivers`);
    }
    const stamp: RunStamp = {
      title: result.title,
      seed: result.seed,
      rays: result.rays,
      ...(result.deposit === undefined ? {} : { points: true }),
      sceneHash: result.scene_hash,
    };
    try {
      // A run that was stopped still leaves its files; Ctrl-C during the writing itself ends the writing.
      const stoppedBefore = session.stop.requested;
      const enough = (): boolean => session.stop.requested && !stoppedBefore;
      await replaceResults(flags.out, written, async (stage) => {
        await writeTraceFiles(stage, summary, stamp, written, enough);
        const document = toJsonDocument(body, [...written, RESULT_FILE], machine);
        await writeBelow(stage, RESULT_FILE.file, document);
        written.push(RESULT_FILE);
      });
    } catch (error) {
      // The figures may have taken an hour: they are printed all the same, and then the failure is told.
      failure = error;
    }
  }
  let page: string | null = null;
  if (flags.report !== undefined) {
    try {
      const shown = await tracedScene(loaded, traced, flags);
      await writePage(flags.report, { command: 'trace', traced: [shown] }, flags, machine);
      page = flags.report;
    } catch (error) {
      failure ??= error;
    }
  }
  if (flags.json === true) session.out.write(toJsonDocument(body, written, machine));
  else {
    await writeText(traced, flags, written, session);
    if (page !== null) session.out.write(`\n${pageText(page)}`);
  }
  if (failure !== null) throw failure;
  return session.stop.requested ? EXIT.interrupted : EXIT.done;
}

async function writeText(
  { summary, outcome }: Traced,
  flags: RunFlags,
  written: readonly WrittenFile[],
  session: Session,
): Promise<void> {
  const { formatTraceText } = await import('../report/tables.js');
  const { colour, columns } = session.out;
  let text = formatTraceText(summary.result, { colour, columns });
  if (flags.to !== undefined && !outcome.targetReached && !outcome.interrupted) {
    text += `\nThe wanted error of ${Number((100 * flags.to).toPrecision(4))} % was not reached within --max-rays; the errors above hold.\n`;
  }
  if (flags.out !== undefined && written.length > 0) {
    const { fileListText } = await import('./trace-files.js');
    text += `\n${fileListText(join(flags.out), written)}`;
  }
  session.out.write(text);
}
