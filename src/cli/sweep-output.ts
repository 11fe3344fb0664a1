/** Where a sweep's result goes: files, then standard output. */
import type { SceneInput } from '../page/types.js';
import { fileSlugs } from '../report/files.js';
import { toJsonDocument } from '../report/json.js';
import type { MachineRun, WrittenFile } from '../report/types.js';
import { cautionsFor } from '../result/cautions.js';
import type { SweepResult } from '../study/types.js';
import { highestPeak } from './figure-words.js';
import { type PageFlags, pageText, writePage } from './page-output.js';
import type { RunFlags } from './run-options.js';
import type { Session } from './session.js';
import { POINTS_FILE, type SweepRecord } from './sweep-record.js';
import { sweepMap, sweepPlot, sweepTableCsv, sweepText } from './sweep-report.js';
import { fileListText, RESULT_FILE, replaceResults, writeBelow } from './trace-files.js';

/**
 * @param input the scene as written, for the page
 * @param record of the finished points; null without an output folder
 * @throws OutputError, after the result was printed, where files could not be written
 */
export async function reportSweep(
  result: SweepResult,
  input: SceneInput,
  shown: readonly string[],
  single: boolean,
  flags: RunFlags & PageFlags,
  record: SweepRecord | null,
  machine: MachineRun,
  session: Session,
): Promise<void> {
  const body = { ...result, cautions: cautionsFor(highestPeak(result.points.map(({ figures }) => figures))) };
  const written: WrittenFile[] = [];
  let failure: unknown = record?.failure() ?? null;
  if (flags.out !== undefined) {
    try {
      await replaceResults(flags.out, written, async (stage) => {
        if (record !== null && failure === null) written.push(POINTS_FILE);
        await writeSweep(stage, result, shown, single, written);
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
      const { sweepAnswer, sweepSection } = await import('./page-sections.js');
      const parts = {
        command: 'sweep',
        inputs: [input],
        sections: [sweepSection(result, shown, single)],
        answer: sweepAnswer(result),
        cautions: body.cautions,
        warnings: result.warnings,
      };
      await writePage(flags.report, parts, flags, machine);
      page = `\n${pageText(flags.report)}`;
    } catch (error) {
      failure ??= error;
    }
  }
  if (flags.json === true) session.out.write(toJsonDocument(body, written, machine));
  else {
    const files =
      flags.out !== undefined && written.length > 0 ? `\n${fileListText(flags.out, written)}` : '';
    session.out.write(sweepText(result, shown, single, session.out) + files + page);
  }
  if (failure !== null) throw failure;
}

async function writeSweep(
  folder: string,
  result: SweepResult,
  shown: readonly string[],
  single: boolean,
  written: WrittenFile[],
): Promise<void> {
  const { sweepFigurePng, sweepMapFigurePng } = await import('../report/sweep-figure.js');
  const put = async (what: string, file: string, data: string | Uint8Array): Promise<void> => {
    await writeBelow(folder, file, data);
    written.push({ what, receiver: null, file });
  };
  await put('sweep_table', 'sweep.csv', sweepTableCsv(result));
  const slugs = fileSlugs(shown);
  for (const [index, name] of shown.entries()) {
    const picture =
      result.vary.length === 1
        ? sweepFigurePng(sweepPlot(result, name, single))
        : sweepMapFigurePng(sweepMap(result, name, single));
    await put('sweep_figure', `sweep-${slugs[index]}.png`, picture);
  }
}
