/** Distances of rows and dishes as a part of a report page. */
import { drawYearCurves } from '../report/season-curves.js';
import { drawHourMap } from '../report/season-hours.js';
import type { ReportSection, SectionFigure, SectionTable } from '../report/section.js';
import type { RowsFound } from './rows.js';
import {
  hourCells,
  hoursCsv,
  hoursMap,
  overhangText,
  placeCells,
  type RowsWords,
  rowsCurves,
  SAMPLED,
  spacingCells,
  spacingCsv,
} from './rows-text.js';

/** Heads of a terminal's table, for a page. */
function titled(caption: string, { head, rows }: Pick<SectionTable, 'head' | 'rows'>): SectionTable {
  return { caption, head: head.map((text) => text.replace('at\n', 'at ').replace('\n', ', ')), rows };
}

export function rowsSection(found: RowsFound, words: RowsWords): ReportSection {
  const { spacing, places } = found;
  const figures: SectionFigure[] = [];
  const tables: SectionTable[] = [];
  if (spacing !== null) {
    figures.push({
      drawn: drawYearCurves(rowsCurves(spacing, words)),
      caption: 'Heat less the price of land, against the distance.',
      description: words.answer,
      csv: 'rows.csv',
    });
    const { head, rows } = spacingCells(spacing);
    const worthAt = head.length - spacing.land_prices_kwh_m2.length;
    const part = (caption: string, wanted: (column: number) => boolean): SectionTable =>
      titled(caption, {
        head: head.filter((_, column) => wanted(column)),
        rows: rows.map((row) => row.filter((_, column) => wanted(column))),
      });
    // Two tables: with many prices one would be wider than paper.
    tables.push(
      part('The distances tried; ± is the 95 % half width', (column) => column < worthAt),
      part('Worth of a m² of mirror, kWh a year', (column) => column === 0 || column >= worthAt),
    );
  }
  figures.push({
    drawn: drawHourMap(hoursMap(found, words)),
    caption: "Light lost to shading and blocking at the scene's own distances, by hour and month.",
    description: 'The numbers are in the two tables of hours below.',
    csv: 'rows-hours.csv',
  });
  if (places !== null) {
    tables.push(
      titled(
        `Dishes by their place, at the scene's own distances; ± is the 95 % half width. ${overhangText(found)}`,
        placeCells(places),
      ),
    );
  }
  tables.push(
    titled(
      `Shading, that of receivers included, % of DNI x area, by month and hour (${words.clock})`,
      hourCells(found, 'shading'),
    ),
    titled('Blocking, likewise', hourCells(found, 'blocking')),
  );
  return {
    id: 'rows',
    title: 'Distances of rows and dishes',
    lead: `${words.subtitle}. Sky: ${words.sky}. Heat that reaches the openings, before losses of the receivers.`,
    figures,
    tables,
    csv: [
      ...(spacing === null
        ? []
        : [{ name: 'rows.csv', text: spacingCsv(spacing, spacing.points.length < found.wanted) }]),
      { name: 'rows-hours.csv', text: hoursCsv(found) },
    ],
    methods: [
      'Rows: worth of a m² of mirror = heat it catches in a year - price of land x land for it; land = row spacing x pitch / mirror area of a dish, as in a large field.',
      `Rows: ${SAMPLED}`,
    ],
  };
}
