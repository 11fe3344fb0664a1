/** Axes that carry the hours of a day. */
import { type Axis, linearAxis } from './drawing.js';
import { textWidth } from './font.js';

/** Hours between ticks. */
const SPACINGS = [0.25, 0.5, 1, 2, 3, 4, 6];

/** @returns H:MM of an hour of the day */
export function clockText(hours: number): string {
  const minutes = Math.round(hours * 60);
  return `${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, '0')}`;
}

/**
 * @param domain hours of the day
 * @param range pixels of the two ends
 */
export function timeAxis(domain: readonly [number, number], range: readonly [number, number]): Axis {
  const { pixel } = linearAxis(domain, range, 80);
  const room = textWidth('00:00', 12) + 18;
  const perHour = Math.abs(range[1] - range[0]) / Math.max(1e-9, domain[1] - domain[0]);
  const spacing = SPACINGS.find((hours) => hours * perHour >= room) ?? 6;
  const ticks: { value: number; label: string }[] = [];
  for (let k = Math.ceil(domain[0] / spacing - 1e-9); k * spacing <= domain[1] + 1e-9; k++) {
    ticks.push({ value: k * spacing, label: clockText(k * spacing) });
  }
  return { pixel, ticks };
}
