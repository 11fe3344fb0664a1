/** Where the result of a study of a year goes: files, then standard output. */
import { toJsonDocument } from '../report/json.js';
import type { MachineRun, WrittenFile } from '../report/types.js';
import type { SeasonResult } from '../study/season-types.js';
import type { YearFlags } from './season-options.js';
import type { Session } from './session.js';
import { fileListText, RESULT_FILE, replaceResults, writeBelow } from './trace-files.js';

export interface YearFile {
  readonly what: string;
  readonly file: string;
  readonly make: () => string | Uint8Array;
}

/**
 * Files first, then the text or the JSON document.
 * @param body the result, as the JSON document has it
 * @param files all but `result.json`
 * @throws OutputError, after the result was printed, where files could not be written
 */
export async function reportYear(
  body: object,
  text: string,
  files: readonly YearFile[],
  flags: Pick<YearFlags, 'out' | 'json'>,
  machine: MachineRun,
  session: Session,
): Promise<void> {
  const written: WrittenFile[] = [];
  let failure: unknown = null;
  const { out } = flags;
  if (out !== undefined) {
    try {
      await replaceResults(out, written, async (stage) => {
        for (const { what, file, make } of files) {
          await writeBelow(stage, file, make());
          written.push({ what, receiver: null, file });
        }
        await writeBelow(stage, RESULT_FILE.file, toJsonDocument(body, [...written, RESULT_FILE], machine));
        written.push(RESULT_FILE);
      });
    } catch (error) {
      failure = error;
    }
  }
  if (flags.json === true) session.out.write(toJsonDocument(body, written, machine));
  else {
    const list = out !== undefined && written.length > 0 ? `\n${fileListText(out, written)}` : '';
    session.out.write(text + list);
  }
  if (failure !== null) throw failure;
}

/** @throws as `reportYear` */
export async function reportSeason(
  result: SeasonResult,
  flags: YearFlags,
  machine: MachineRun,
  session: Session,
): Promise<void> {
  const { monthBars, seasonCsv, seasonText, yearSteps } = await import('./season-text.js');
  // Fonts and the renderer are loaded only where pictures are wanted.
  const bars = flags.out === undefined ? null : await import('../report/season-bars.js');
  const files: YearFile[] = [{ what: 'season_table', file: 'season.csv', make: () => seasonCsv(result) }];
  if (bars !== null) {
    files.push(
      {
        what: 'season_months_figure',
        file: 'season-months.png',
        make: () => bars.stackedBarsPng(monthBars(result)),
      },
      {
        what: 'season_losses_figure',
        file: 'season-losses.png',
        make: () => bars.stepsPng(yearSteps(result)),
      },
    );
  }
  await reportYear(result, seasonText(result, session.out), files, flags, machine, session);
}
