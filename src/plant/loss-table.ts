/** Losses of a receiver at one wall temperature, tabulated for many hours of weather. */

import type { Case } from './band.js';
import { within } from './inputs.js';
import type { Receiver } from './receiver.js';
import { lossesAt } from './receiver-loss.js';
import { rowBelow } from './table.js';

/** Losses of one receiver at one wall temperature over ambient (K) and wind (m/s), W; linear in between. */
export interface LossTable {
  readonly ambient: readonly number[];
  readonly wind: readonly number[];
  /** Row by row of ambient. */
  readonly watts: Float64Array;
}

/** K; losses bend little with the air's temperature. */
const AMBIENT_STEP = 6;
export const WIND_MOST = 40;

/** m/s from 0 to at least `most`: close where losses bend most; twice as wide behind a cover, where they bend little. */
function windSteps(most: number, covered: boolean): readonly number[] {
  const steps = [0];
  for (let speed = 0; speed < most || steps.length < 2; ) {
    const width = speed < 0.5 ? 0.1 : speed < 6 ? 0.25 : speed < 12 ? 0.5 : speed < 20 ? 1 : 2.5;
    speed += covered ? 2 * width : width;
    steps.push(speed);
  }
  return steps;
}

/**
 * Wall losses tabulated over the weather's span. A cover's own light is left out here: its warmth gives back at most a few per cent of
 * the loss.
 */
export function lossTable(
  receiver: Receiver,
  wall: number,
  ambientSpan: readonly [number, number],
  windMost: number,
  end: Case,
  pressure?: number,
): LossTable {
  const count = Math.max(1, Math.ceil((ambientSpan[1] - ambientSpan[0]) / AMBIENT_STEP));
  const ambient = Array.from({ length: count + 1 }, (_, i) => ambientSpan[0] + i * AMBIENT_STEP);
  within('strongest wind, m/s,', windMost, 0, WIND_MOST);
  const wind = windSteps(windMost, receiver.cover !== undefined);
  const watts = new Float64Array(ambient.length * wind.length);
  for (const [row, temperature] of ambient.entries()) {
    for (const [column, speed] of wind.entries()) {
      const surroundings = {
        ambient: temperature,
        wind: speed,
        ...(pressure !== undefined && { pressure }),
      };
      watts[row * wind.length + column] = lossesAt(receiver, wall, surroundings, end).wall;
    }
  }
  return { ambient, wind, watts };
}

/** Bilinear reading, end values beyond the table. */
export function lossFromTable(table: LossTable, ambient: number, wind: number): number {
  const { ambient: rows, wind: columns, watts } = table;
  const row = rowBelow(rows, ambient);
  const column = rowBelow(columns, wind);
  const down = Math.min(1, Math.max(0, (ambient - rows[row]) / (rows[row + 1] - rows[row])));
  const along = Math.min(1, Math.max(0, (wind - columns[column]) / (columns[column + 1] - columns[column])));
  const at = row * columns.length + column;
  const upper = watts[at] + along * (watts[at + 1] - watts[at]);
  const under = at + columns.length;
  return upper + down * (watts[under] + along * (watts[under + 1] - watts[under]) - upper);
}
