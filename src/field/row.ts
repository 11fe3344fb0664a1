/** Rows: where each dish of a row stands. */
import type { RowSpec } from '../scene/types.js';
import { levelFrame, pointToParent } from './frame.js';
import type { Frame } from './types.js';

/** One dish's place in a row. */
export interface DishPlace {
  /** "<row>-<number>", or "<row><row number>-<number>" where there are several rows; numbers from 1, padded alike. */
  readonly name: string;
  /** Row frame (x along the heading, z up, y to the left) at the dish's centre. */
  readonly frame: Frame;
}

function padded(index: number, count: number): string {
  return String(index + 1).padStart(String(count).length, '0');
}

/**
 * Places of all dishes of a row, row by row and along the heading in each.
 * The first row's middle is at `centre`; each further row lies `rowSpacing` further to the left of the heading.
 */
export function dishPlaces(row: RowSpec): DishPlace[] {
  const first = levelFrame(row.centre, row.heading);
  const places: DishPlace[] = [];
  for (let rowIndex = 0; rowIndex < row.rows; rowIndex++) {
    const rowName = row.rows > 1 ? row.name + padded(rowIndex, row.rows) : row.name;
    for (let dishIndex = 0; dishIndex < row.dishes; dishIndex++) {
      const along = (dishIndex - (row.dishes - 1) / 2) * row.pitch;
      places.push({
        name: `${rowName}-${padded(dishIndex, row.dishes)}`,
        frame: { ...first, origin: pointToParent(first, [along, rowIndex * row.rowSpacing, 0]) },
      });
    }
  }
  return places;
}
