/** How the figures of sweeps and comparisons are called and written. */
import { formatFigure, formatUnit, halfWidth } from '../result/number-format.js';
import type { Figure } from '../result/types.js';
import { SHARES, splitReceiverFigure } from '../study/figures.js';

const WORDS: Readonly<Record<string, string>> = {
  spill_fraction: 'spill',
  intercept_factor: 'intercept factor',
  blocked_fraction: 'blocked',
  reflected_power: 'reflected power',
  intercepted_power: 'intercepted power',
  peak_flux: 'peak flux',
  mean_flux: 'mean flux',
  concentration_ratio: 'concentration',
  peak_concentration: 'peak concentration',
  opening_for_5_percent_spill_mm: 'opening for 5 % spill',
  'spot.holds_50': 'spot holding 50 %',
  'spot.holds_90': 'spot holding 90 %',
  'spot.holds_95': 'spot holding 95 %',
  'spot.centroid_u': 'centroid u',
  'spot.centroid_v': 'centroid v',
};

/** A figure's own name, without its receiver. */
function bareName(name: string): string {
  return splitReceiverFigure(name)?.figure ?? name;
}

/** Shares are written in per cent. */
export function isShare(name: string): boolean {
  return SHARES.has(bareName(name));
}

/** @returns 100 for figures written in per cent, else 1 */
export function scaleOf(name: string): number {
  return isShare(name) ? 100 : 1;
}

/**
 * @param naming whether to name the receiver of a receiver's figure
 * @returns e.g. "peak flux at A-1"
 */
export function figureWords(name: string, naming: boolean): string {
  const split = splitReceiverFigure(name);
  const words = WORDS[bareName(name)] ?? bareName(name);
  return naming && split !== null ? `${words} at ${split.receiver}` : words;
}

/** @returns "%", "kW/m²", or nothing for a pure number */
export function unitWords(name: string, figure: Figure): string {
  return isShare(name) ? '%' : formatUnit(figure.unit);
}

/** @returns the value with its 95 % half width, without the unit */
export function figureCell(name: string, figure: Figure | undefined): string {
  return figure === undefined ? '' : formatFigure(figure, { bare: true, percent: isShare(name) });
}

/** 95 % half width in the unit written. */
export function writtenHalfWidth(name: string, figure: Figure): number {
  return halfWidth(figure) * scaleOf(name);
}

/** @returns the highest peak flux of several traces, kW/m2; 0 where none has one */
export function highestPeak(traces: readonly Readonly<Record<string, Figure>>[]): number {
  return Math.max(0, ...traces.map((figures) => figures.peak_flux?.value ?? 0));
}
