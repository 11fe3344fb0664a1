/** Where a price of heat goes: files, then standard output. */
import type { MachineRun } from '../report/types.js';
import type { CostDocument } from '../study/cost-result.js';
import { costCsv, costText, filmCsv } from './cost-text.js';
import { heatFiles } from './heat-output.js';
import type { YearFlags } from './season-options.js';
import { reportYear, type YearFile } from './season-output.js';
import type { Session } from './session.js';

/** @throws as `reportYear` */
export async function reportCost(
  result: CostDocument,
  flags: Pick<YearFlags, 'out' | 'json'>,
  machine: MachineRun,
  session: Session,
): Promise<void> {
  const files: YearFile[] = [];
  if (flags.out !== undefined) {
    const [{ rowBarsPng }, { curveOfIntervalsPng }, { splitRows, leverRows, filmCurve }] = await Promise.all([
      import('../report/heat-rows.js'),
      import('../report/cost-film.js'),
      import('./cost-pictures.js'),
    ]);
    files.push(
      ...(await heatFiles({ ...result, kind: 'heat' })),
      { what: 'cost_table', file: 'cost.csv', make: () => costCsv(result) },
      { what: 'cost_split_figure', file: 'cost-split.png', make: () => rowBarsPng(splitRows(result)) },
      { what: 'cost_levers_figure', file: 'cost-levers.png', make: () => rowBarsPng(leverRows(result)) },
    );
    const { film } = result.cost;
    if (film !== null) {
      files.push(
        { what: 'film_table', file: 'film.csv', make: () => filmCsv(film) },
        { what: 'film_figure', file: 'film.png', make: () => curveOfIntervalsPng(filmCurve(result, film)) },
      );
    }
  }
  await reportYear(result, costText(result, session.out), files, flags, machine, session);
}
