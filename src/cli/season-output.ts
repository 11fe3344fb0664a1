/** Where the result of a study of a year goes: files and page, then standard output. */
import type { PageInput } from '../page/types.js';
import { toJsonDocument } from '../report/json.js';
import type { ReportSection } from '../report/section.js';
import type { MachineRun, WrittenFile } from '../report/types.js';
import type { SeasonResult } from '../study/season-types.js';
import { type PageFlags, pageText, writePage } from './page-output.js';
import type { YearFlags } from './season-options.js';
import type { Session } from './session.js';
import { fileListText, RESULT_FILE, replaceResults, writeBelow } from './trace-files.js';

export interface YearFile {
  readonly what: string;
  readonly file: string;
  readonly make: () => string | Uint8Array;
}

/** What a study of a year has to tell. */
export interface YearReport {
  /** Its command, for the page. */
  readonly command: string;
  /** The result, as the JSON document has it. */
  readonly body: Pick<SeasonResult, 'warnings' | 'cautions'>;
  /** What an interrupt has left, a sentence; null where all is there. */
  readonly interrupted: string | null;
  /** What stands at the top of the page, a sentence each; where it is not given, the leads of its parts. */
  readonly answer?: readonly string[];
  readonly text: string;
  /** All but `result.json`; asked for where they are wanted, so that fonts and the renderer are loaded only then. */
  readonly files: () => Promise<readonly YearFile[]>;
  /** Parts of the page; asked for where it is wanted. */
  readonly sections: () => Promise<readonly ReportSection[]>;
}

/** What was read, and the work it took. */
export interface YearRun {
  readonly inputs: PageInput['inputs'];
  readonly machine: MachineRun;
}

/**
 * Files and page first, then the text or the JSON document. What cannot be written is no reason to lose the rest.
 * @throws OutputError, after the result was printed, where files or page could not be written
 */
export async function reportYear(
  report: YearReport,
  flags: Pick<YearFlags, 'out' | 'json' | 'seed' | 'set'> & PageFlags,
  { inputs, machine }: YearRun,
  session: Session,
): Promise<void> {
  const { body, interrupted } = report;
  const written: WrittenFile[] = [];
  const failures: unknown[] = [];
  const { out } = flags;
  if (out !== undefined) {
    try {
      const files = await report.files();
      await replaceResults(out, written, async (stage) => {
        for (const { what, file, make } of files) {
          await writeBelow(stage, file, make());
          written.push({ what, receiver: null, file });
        }
        await writeBelow(stage, RESULT_FILE.file, toJsonDocument(body, [...written, RESULT_FILE], machine));
        written.push(RESULT_FILE);
      });
    } catch (error) {
      failures.push(error);
    }
  }
  let page = '';
  if (flags.report !== undefined) {
    try {
      const sections = await report.sections();
      const found = report.answer ?? sections.map(({ lead }) => lead);
      const answer = [...found, ...(interrupted === null ? [] : [interrupted])];
      const { cautions, warnings } = body;
      await writePage(
        flags.report,
        { command: report.command, inputs, sections, answer, cautions, warnings },
        flags,
        machine,
      );
      page = `\n${pageText(flags.report)}`;
    } catch (error) {
      failures.push(error);
    }
  }
  if (flags.json === true) session.out.write(toJsonDocument(body, written, machine));
  else {
    const list = out !== undefined && written.length > 0 ? `\n${fileListText(out, written)}` : '';
    session.out.write(report.text + list + page);
  }
  if (failures.length > 0) throw failures[0];
}
