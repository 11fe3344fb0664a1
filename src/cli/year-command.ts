/** What the commands that look at a whole year do about their study: open, work, close, report. */
import type { FaultContext } from './failure.js';
import { openPage, type PageFlags, pageInput } from './page-output.js';
import { type OpenYear, openYear, type YearFlags, yearFailure } from './season-options.js';
import { reportYear, type YearReport } from './season-output.js';
import { EXIT, type Session } from './session.js';

export interface YearWork<Found> {
  readonly study: (opened: OpenYear) => Promise<Found>;
  readonly report: (found: Found, opened: OpenYear) => Promise<YearReport>;
  /** What the study throws, as an error of the command line. */
  readonly failure?: (error: unknown) => unknown;
}

/**
 * @returns the exit code
 * @throws UsageError, BadSceneError, InterruptedError, OutputError, and what study and report throw
 */
export async function runYear<Found>(
  path: string,
  flags: YearFlags & PageFlags,
  session: Session,
  context: (known: Partial<FaultContext>) => void,
  { study, report, failure = yearFailure }: YearWork<Found>,
): Promise<number> {
  await openPage(flags.report, '--report');
  const opened = await openYear(path, flags, session);
  context({ sceneHash: opened.scene.hash });
  let found: Found;
  try {
    found = await study(opened);
  } catch (error) {
    throw failure(error);
  } finally {
    await opened.close();
  }
  const made = await report(found, opened);
  const run = { inputs: [pageInput(opened.loaded)], machine: opened.machine() };
  await reportYear(made, flags, run, session);
  return made.interrupted === null ? EXIT.done : EXIT.interrupted;
}
