/** The energy of a year as its command reports it. */
import type { SeasonResult } from '../study/season-types.js';
import type { YearReport } from './season-output.js';
import { monthBars, seasonCsv, seasonText, yearSteps } from './season-text.js';
import type { Session } from './session.js';

export function seasonReport(result: SeasonResult, { out }: Session): YearReport {
  return {
    command: 'season',
    body: result,
    interrupted: null,
    text: seasonText(result, out),
    files: async () => {
      const { stackedBarsPng, stepsPng } = await import('../report/season-bars.js');
      return [
        { what: 'season_table', file: 'season.csv', make: () => seasonCsv(result) },
        {
          what: 'season_months_figure',
          file: 'season-months.png',
          make: () => stackedBarsPng(monthBars(result)),
        },
        { what: 'season_losses_figure', file: 'season-losses.png', make: () => stepsPng(yearSteps(result)) },
      ];
    },
    sections: async () => {
      const { seasonSection } = await import('./season-sections.js');
      return [seasonSection(result)];
    },
  };
}
