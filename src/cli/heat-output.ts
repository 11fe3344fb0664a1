/** Where a result of heat goes: files, then standard output. */
import type { MachineRun } from '../report/types.js';
import type { HeatResult } from '../study/heat-result.js';
import type { HeatFlags } from './heat.js';
import { heatText, monthsCsv, openingCsv } from './heat-text.js';
import { reportYear, type YearFile } from './season-output.js';
import type { Session } from './session.js';

/** @throws as `reportYear` */
export async function reportHeat(
  result: HeatResult,
  flags: Pick<HeatFlags, 'out' | 'json'>,
  machine: MachineRun,
  session: Session,
): Promise<void> {
  const files = flags.out === undefined ? [] : await heatFiles(result);
  await reportYear(result, heatText(result, session.out), files, flags, machine, session);
}

export async function heatFiles(result: HeatResult): Promise<readonly YearFile[]> {
  // Fonts and the renderer are loaded only where pictures are wanted.
  const [{ rowBarsPng }, { stackedBarsPng }, { openingFigurePng }, pictures] = await Promise.all([
    import('../report/heat-rows.js'),
    import('../report/season-bars.js'),
    import('../report/heat-opening.js'),
    import('./heat-pictures.js'),
  ]);
  const files: YearFile[] = [
    {
      what: 'heat_moment_figure',
      file: 'heat-moment.png',
      make: () => rowBarsPng(pictures.momentRows(result)),
    },
  ];
  const { heat } = result;
  if (heat === null) return files;
  files.push(
    { what: 'heat_months_table', file: 'heat-months.csv', make: () => monthsCsv(heat) },
    {
      what: 'heat_year_figure',
      file: 'heat-year.png',
      make: () => rowBarsPng(pictures.yearRows(result, heat)),
    },
    {
      what: 'heat_months_figure',
      file: 'heat-months.png',
      make: () => stackedBarsPng(pictures.heatBars(result, heat)),
    },
  );
  const { opening } = heat;
  if (opening !== null) {
    files.push(
      { what: 'heat_opening_table', file: 'heat-opening.csv', make: () => openingCsv(opening) },
      {
        what: 'heat_opening_figure',
        file: 'heat-opening.png',
        make: () => openingFigurePng(pictures.openingCurve(result, opening)),
      },
    );
  }
  return files;
}
