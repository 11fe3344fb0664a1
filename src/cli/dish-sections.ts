/** A dish's proportions as a part of a report page. */
import { drawYearCurves } from '../report/season-curves.js';
import type { ReportSection } from '../report/section.js';
import { DESIGN_AXES, type DesignStudy } from '../study/season-design.js';
import { type DishWords, dishAnswer, dishCsv, dishCurves, dishRows } from './dish-report.js';

export function dishSection(study: DesignStudy, words: DishWords): ReportSection {
  const { label, unit } = DESIGN_AXES[study.axis];
  const answer = dishAnswer(study);
  return {
    id: 'dish',
    title: `Energy against ${label}`,
    lead: `${words.when}; ${words.site}. Sky: ${words.sky}. Heat that reaches the openings, before losses of the receivers.`,
    figures: [
      {
        drawn: drawYearCurves(dishCurves(study, words)),
        caption: `Energy against ${label}.`,
        description: answer.join(' '),
        csv: 'dish.csv',
      },
    ],
    tables: [
      {
        caption: 'The values tried; ± is the 95 % half width of the rays alone',
        head: [
          `${label}${unit === '1' ? '' : `, ${unit}`}`,
          'caught, % of DNI x area',
          "against the scene's own, %",
        ],
        rows: dishRows(study),
      },
    ],
    csv: [{ name: 'dish.csv', text: dishCsv(study) }],
    methods: [
      'Dish: all values are traced at the same sun positions, which stand for the light of the day or the year, with the same random ' +
        'numbers, so that differences are known better than the values; the best is traced anew with other random numbers beside the ' +
        "scene's own.",
    ],
  };
}
