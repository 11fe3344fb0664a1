/** A price of heat as its command reports it. */
import type { CostDocument } from '../study/cost-result.js';
import { costCsv, costText, filmCsv } from './cost-text.js';
import { heatFiles } from './heat-output.js';
import type { YearFile, YearReport } from './season-output.js';
import type { Session } from './session.js';

export function costReport(result: CostDocument, { out }: Session): YearReport {
  return {
    command: 'cost',
    body: result,
    interrupted: null,
    text: costText(result, out),
    files: () => costFiles(result),
    sections: async () => {
      const { costSection, heatSection } = await import('./heat-sections.js');
      return [costSection(result), heatSection(result)];
    },
  };
}

async function costFiles(result: CostDocument): Promise<readonly YearFile[]> {
  const [{ rowBarsPng }, { curveOfIntervalsPng }, { splitRows, leverRows, filmCurve }] = await Promise.all([
    import('../report/heat-rows.js'),
    import('../report/cost-film.js'),
    import('./cost-pictures.js'),
  ]);
  const files: YearFile[] = [
    ...(await heatFiles({ ...result, kind: 'heat' })),
    { what: 'cost_table', file: 'cost.csv', make: () => costCsv(result) },
    { what: 'cost_split_figure', file: 'cost-split.png', make: () => rowBarsPng(splitRows(result)) },
    { what: 'cost_levers_figure', file: 'cost-levers.png', make: () => rowBarsPng(leverRows(result)) },
  ];
  const { film } = result.cost;
  if (film !== null) {
    files.push(
      { what: 'film_table', file: 'film.csv', make: () => filmCsv(film) },
      { what: 'film_figure', file: 'film.png', make: () => curveOfIntervalsPng(filmCurve(result, film)) },
    );
  }
  return files;
}
