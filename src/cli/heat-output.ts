/** A result of heat as its command reports it. */
import type { HeatResult } from '../study/heat-result.js';
import { heatText, monthsCsv, openingCsv } from './heat-text.js';
import type { YearFile, YearReport } from './season-output.js';
import type { Session } from './session.js';

export function heatReport(result: HeatResult, { out }: Session): YearReport {
  return {
    command: 'heat',
    body: result,
    interrupted: null,
    text: heatText(result, out),
    files: () => heatFiles(result),
    sections: async () => {
      const { heatSection } = await import('./heat-sections.js');
      return [heatSection(result)];
    },
  };
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
