/** `rowfocus compare`: scenes side by side, with the errors of their differences. */
import { basename } from 'node:path';
import type { Command } from 'commander';
import type { TracedScene } from '../page/types.js';
import type { ComparePanel, MachineRun, WrittenFile } from '../report/types.js';
import { cautionsFor } from '../result/cautions.js';
import type { CompareInput } from '../study/compare.js';
import type { CompareResult } from '../study/types.js';
import { type FaultContext, InterruptedError, UsageError } from './failure.js';
import { highestPeak } from './figure-words.js';
import {
  addReportOption,
  openPage,
  type PageFlags,
  pageText,
  tracedScene,
  writePage,
} from './page-output.js';
import { addRunOptions, flagConflict, type RunFlags } from './run-options.js';
import { openScenes } from './scene-file.js';
import { EXIT, type Session } from './session.js';
import { openRun } from './study-run.js';

/** Panels of one picture: the base and up to three others. */
const OTHERS_PER_FIGURE = 3;

type CompareFlags = RunFlags & PageFlags;

export function addCompareCommand(
  program: Command,
  session: Session,
  finish: (code: number) => void,
  context: (known: Partial<FaultContext>) => void,
): void {
  const command = program
    .command('compare')
    .summary('trace several scenes and compare them')
    .description(
      'Traces two or more scenes with the same random numbers and gives their figures side by side, with the difference of ' +
        'each to the first and the error of that difference.',
    )
    .argument('<scenes...>', 'scene files; the first is the one to compare with');
  addReportOption(addRunOptions(command))
    .addHelpText(
      'after',
      `
Examples:
  rowfocus compare points.yaml line.yaml
  rowfocus compare good-film.yaml bad-film.yaml --rays 4e6 --out results

The picture (compare.png) shows the hottest receiver of each scene, all on one colour scale.`,
    )
    .action(async (paths: readonly string[], flags: CompareFlags) => {
      context({ seed: flags.seed });
      finish(await runCompare(paths, flags, session, context));
    });
}

async function runCompare(
  paths: readonly string[],
  flags: CompareFlags,
  session: Session,
  context: (known: Partial<FaultContext>) => void,
): Promise<number> {
  const conflict = flagConflict(flags);
  if (conflict !== null) throw new UsageError(conflict);
  if (paths.length < 2) throw new UsageError('compare needs at least two scene files');
  if (paths.filter((path) => path === '-').length > 1) {
    throw new UsageError('only one of the scenes can come from standard input');
  }
  const scenes = await openScenes(paths, flags.set ?? [], session);
  await openPage(flags.report, '--report');
  if (flags.out !== undefined) {
    const { openFolder } = await import('./trace-files.js');
    await openFolder(flags.out);
  }
  const [{ comparePanel }, { traceScene, prepareAtMoment }, { compare }, { VERSION }] = await Promise.all([
    import('./compare-report.js'),
    import('../study/trace.js'),
    import('../study/compare.js'),
    import('../version.js'),
  ]);
  // A scene that cannot be built is told before the others are traced.
  for (const { scene } of scenes) {
    context({ sceneHash: scene.hash });
    prepareAtMoment(scene);
  }
  const opened = await openRun(flags, session, scenes.length);
  const inputs: CompareInput[] = [];
  const panels: ComparePanel[] = [];
  const kept: TracedScene[] = [];
  try {
    for (const loaded of scenes) {
      const { file, scene } = loaded;
      context({ sceneHash: scene.hash });
      if (session.stop.requested) break;
      const traced = await traceScene(scene, opened.run, opened.options).catch((error: unknown) => {
        if (session.stop.requested && error instanceof RangeError) return null;
        throw error;
      });
      // One cut short has fewer groups than the others and cannot be paired with them.
      if (traced === null || traced.outcome.interrupted) break;
      const { summary } = traced;
      // Pages hold maps and rays; without one they need not stay in memory.
      if (flags.report !== undefined) kept.push(await tracedScene(loaded, traced, flags));
      opened.nextScene();
      inputs.push({ name: file, summary: { result: summary.result, replicates: summary.replicates } });
      const panel = comparePanel(basename(file), summary);
      if (panel !== null) panels.push(panel);
    }
  } finally {
    await opened.close();
  }
  if (inputs.length < 2) {
    throw new InterruptedError('Interrupted before two scenes were finished; there is nothing to compare.');
  }
  const result = compare(inputs, VERSION);
  await report(result, inputs.length < scenes.length, panels, kept, flags, opened.machine(), session);
  return session.stop.requested ? EXIT.interrupted : EXIT.done;
}

async function report(
  result: CompareResult,
  interrupted: boolean,
  panels: readonly ComparePanel[],
  traced: readonly TracedScene[],
  flags: CompareFlags,
  machine: MachineRun,
  session: Session,
): Promise<void> {
  const { toJsonDocument } = await import('../report/json.js');
  const { compareText } = await import('./compare-report.js');
  const { fileListText, replaceResults, RESULT_FILE, writeBelow } = await import('./trace-files.js');
  const cautions = cautionsFor(highestPeak(result.scenes.map(({ figures }) => figures)));
  const body = { ...result, interrupted, cautions };
  const written: WrittenFile[] = [];
  let failure: unknown = null;
  if (flags.out !== undefined) {
    try {
      await replaceResults(flags.out, written, async (stage) => {
        await writeCompare(stage, result, panels, written);
        await writeBelow(stage, RESULT_FILE.file, toJsonDocument(body, [...written, RESULT_FILE], machine));
        written.push(RESULT_FILE);
      });
    } catch (error) {
      failure = error;
    }
  }
  let page = '';
  if (flags.report !== undefined) {
    try {
      await writeComparePage(flags.report, result, interrupted, traced, flags, machine);
      page = `\n${pageText(flags.report)}`;
    } catch (error) {
      failure ??= error;
    }
  }
  if (flags.json === true) session.out.write(toJsonDocument(body, written, machine));
  else {
    const files =
      flags.out !== undefined && written.length > 0 ? `\n${fileListText(flags.out, written)}` : '';
    session.out.write(compareText(result, interrupted, session.out) + files + page);
  }
  if (failure !== null) throw failure;
}

async function writeComparePage(
  path: string,
  result: CompareResult,
  interrupted: boolean,
  traced: readonly TracedScene[],
  flags: CompareFlags,
  machine: MachineRun,
): Promise<void> {
  const { compareAnswer, compareSection } = await import('./page-sections.js');
  const cut = interrupted ? ['Interrupted: only the scenes that were finished are compared.'] : [];
  const parts = {
    command: 'compare',
    traced,
    sections: [compareSection(result)],
    answer: [...compareAnswer(result), ...cut],
    warnings: result.warnings,
  };
  await writePage(path, parts, flags, machine);
}

async function writeCompare(
  folder: string,
  result: CompareResult,
  panels: readonly ComparePanel[],
  written: WrittenFile[],
): Promise<void> {
  const { compareCsv, letterOf } = await import('./compare-report.js');
  const { compareFigurePng } = await import('../report/compare-figure.js');
  const { formatCount } = await import('../result/number-format.js');
  const { writeBelow } = await import('./trace-files.js');
  const put = async (what: string, file: string, data: string | Uint8Array): Promise<void> => {
    await writeBelow(folder, file, data);
    written.push({ what, receiver: null, file });
  };
  await put('compare_table', 'compare.csv', compareCsv(result));
  const [base, ...others] = panels.map((panel, index) => ({
    ...panel,
    title: `${letterOf(index)}  ${panel.title}`,
  }));
  const { seed, rays } = result.scenes[0];
  for (let start = 0; start < others.length; start += OTHERS_PER_FIGURE) {
    const picture = compareFigurePng({
      title: `${result.scenes.length} scenes compared`,
      subtitle: `seed ${seed} · some ${formatCount(rays)} rays each · the hottest receiver of each scene`,
      panels: [base, ...others.slice(start, start + OTHERS_PER_FIGURE)],
    });
    await put(
      'compare_figure',
      start === 0 ? 'compare.png' : `compare-${start / OTHERS_PER_FIGURE + 1}.png`,
      picture,
    );
  }
}
