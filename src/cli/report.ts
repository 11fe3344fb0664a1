/** `rowfocus report`: scenes as one page that an engineer opens from disk, mails or prints. */
import { type Command, Option } from 'commander';
import type { TracedScene } from '../page/types.js';
import type { CompareInput } from '../study/compare.js';
import { type FaultContext, InterruptedError, UsageError } from './failure.js';
import { openPage, type PageParts, pageText, tracedScene, writePage } from './page-output.js';
import { addRunOptions, flagConflict, type RunFlags } from './run-options.js';
import { openScenes } from './scene-file.js';
import { EXIT, type Session } from './session.js';
import { openRun } from './study-run.js';

const DEFAULT_FILE = 'report.html';
/** Columns that can be told apart side by side. */
const MOST_SCENES = 4;

interface ReportFlags extends Omit<RunFlags, 'out' | 'json'> {
  readonly out: string;
}

export function addReportCommand(
  program: Command,
  session: Session,
  finish: (code: number) => void,
  context: (known: Partial<FaultContext>) => void,
): void {
  const command = program
    .command('report')
    .summary('trace scenes and write a report page: one HTML file')
    .description(
      'Traces a scene, or up to four side by side, and writes one HTML file that holds all it shows and loads nothing: the answer, ' +
        'flux maps that can be read with the pointer, losses, rays in space, inputs and methods. It opens from disk, and prints.',
    )
    .argument('<scenes...>', 'scene files, or - for standard input');
  addRunOptions(command, undefined, [
    new Option('--out <file.html>', 'the file to write').default(DEFAULT_FILE, DEFAULT_FILE),
  ])
    .addHelpText(
      'after',
      `
Examples:
  rowfocus report scene.yaml
  rowfocus report points.yaml line.yaml --out points-or-line.html

Commands with figures of their own write such a page with --report FILE.html.`,
    )
    .action(async (paths: readonly string[], flags: ReportFlags) => {
      context({ seed: flags.seed });
      finish(await runReport(paths, flags, session, context));
    });
}

async function runReport(
  paths: readonly string[],
  flags: ReportFlags,
  session: Session,
  context: (known: Partial<FaultContext>) => void,
): Promise<number> {
  const { out, ...run } = flags;
  const conflict = flagConflict(run);
  if (conflict !== null) throw new UsageError(conflict);
  if (paths.length > MOST_SCENES) throw new UsageError(`a report page holds up to ${MOST_SCENES} scenes`);
  if (paths.filter((path) => path === '-').length > 1) {
    throw new UsageError('only one of the scenes can come from standard input');
  }
  const scenes = await openScenes(paths, flags.set ?? [], session);
  await openPage(out, '--out');
  const { traceScene, prepareAtMoment } = await import('../study/trace.js');
  // A scene that cannot be built is told before the others are traced.
  if (scenes.length > 1) {
    for (const { scene } of scenes) {
      context({ sceneHash: scene.hash });
      prepareAtMoment(scene);
    }
  }
  const opened = await openRun(run, session, scenes.length);
  const traced: TracedScene[] = [];
  try {
    for (const loaded of scenes) {
      context({ sceneHash: loaded.scene.hash });
      if (session.stop.requested) break;
      const one = await traceScene(loaded.scene, opened.run, opened.options).catch((error: unknown) => {
        if (session.stop.requested && error instanceof RangeError) return null;
        throw error;
      });
      // One cut short cannot be paired with the others; alone it is told as cut short.
      if (one === null || (one.outcome.interrupted && scenes.length > 1)) break;
      opened.nextScene();
      traced.push(await tracedScene(loaded, one, run));
    }
  } finally {
    await opened.close();
  }
  if (traced.length === 0) {
    throw new InterruptedError(
      'Interrupted before the first scene was finished; there is nothing to report.',
    );
  }
  const parts = await partsOf(traced, scenes.length);
  await writePage(out, parts, run, opened.machine());
  session.out.write(
    `${traced.map(({ summary }) => `${summary.result.answer}\n`).join('\n')}\n${pageText(out)}`,
  );
  return session.stop.requested ? EXIT.interrupted : EXIT.done;
}

async function partsOf(traced: readonly TracedScene[], wanted: number): Promise<PageParts> {
  if (traced.length < 2) return { command: 'report', traced };
  const [{ compare }, { compareAnswer, compareSection }, { VERSION }] = await Promise.all([
    import('../study/compare.js'),
    import('./page-sections.js'),
    import('../version.js'),
  ]);
  const inputs = traced.map(({ file, summary }): CompareInput => ({ name: file, summary }));
  const result = compare(inputs, VERSION);
  const cut = traced.length < wanted ? ['Interrupted: only the scenes that were finished are compared.'] : [];
  return {
    command: 'report',
    traced,
    sections: [compareSection(result)],
    answer: [...compareAnswer(result), ...cut],
    warnings: result.warnings,
  };
}
