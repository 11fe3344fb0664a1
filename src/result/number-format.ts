/** How numbers are written for people: no digits beyond the error. */
import type { ApertureSize, Figure } from './types.js';

/** Below this share of the value an error is rounding noise of the arithmetic, not of the sampling. */
const NEGLIGIBLE_RELATIVE_ERROR = 1e-9;
/** Digits of a value that carries no error. */
const EXACT_DIGITS = 6;
/** Digits of a bound. */
const BOUND_DIGITS = 3;
/** Beyond these powers of ten a number is written with an exponent. */
const LARGEST_PLAIN_POWER = 9;
const SMALLEST_PLAIN_POWER = -6;

export interface FigureFormat {
  /** Leave the unit away (it stands in a table's head). */
  readonly bare?: boolean;
  /** Write a pure number as per cent. */
  readonly percent?: boolean;
}

/** @returns the power of ten of the leading digit; 0 for 0 */
function leadingPower(value: number): number {
  if (value === 0) return 0;
  return Number(value.toExponential().split('e')[1]);
}

function roundToPower(value: number, power: number): string {
  if (power < 0) return value.toFixed(Math.min(100, -power));
  // Powers of ten up to 1e22 are exact doubles, so this rounds cleanly.
  const step = 10 ** power;
  return (Math.round(value / step) * step).toFixed(0);
}

function withoutNegativeZero(text: string): string {
  return /^-0(\.0*)?$/.test(text) ? text.slice(1) : text;
}

/**
 * @param value any finite number
 * @param digits significant digits
 * @returns the number with at most that many significant digits, no trailing zeros after the point, and an exponent only
 *   where it is very large or very small
 */
export function formatNumber(value: number, digits: number = EXACT_DIGITS): string {
  if (!Number.isFinite(value)) return 'not a number';
  if (value === 0) return '0';
  const rounded = Number(value.toPrecision(digits));
  const power = leadingPower(rounded);
  if (power > LARGEST_PLAIN_POWER || power < SMALLEST_PLAIN_POWER) return String(rounded.toExponential());
  return rounded
    .toFixed(Math.max(0, Math.min(100, digits - 1 - power)))
    .replace(/(\.\d*?)0+$/, '$1')
    .replace(/\.$/, '');
}

/**
 * @param value finite
 * @param halfWidth half width of its interval, same unit, at least 0
 * @returns "value ± half width", the half width rounded to two digits and the value to the same place; the value alone
 *   where the half width is 0 or below rounding noise
 */
export function formatWithError(value: number, halfWidth: number): string {
  if (!Number.isFinite(value)) return 'not a number';
  if (!Number.isFinite(halfWidth)) return `${formatNumber(value)} ± unknown`;
  if (halfWidth <= Math.abs(value) * NEGLIGIBLE_RELATIVE_ERROR) return formatNumber(value);
  // Rounding first: 0.0996 becomes 0.10 and so moves the place.
  const errorPower = leadingPower(Number(halfWidth.toPrecision(2)));
  const place = errorPower - 1;
  const power = Math.max(leadingPower(value), errorPower);
  if (power > LARGEST_PLAIN_POWER || power < SMALLEST_PLAIN_POWER) {
    const decimals = Math.min(100, power - place);
    const scale = 10 ** -power;
    const mantissa = withoutNegativeZero((value * scale).toFixed(decimals));
    return `(${mantissa} ± ${(halfWidth * scale).toFixed(decimals)})e${power}`;
  }
  return `${withoutNegativeZero(roundToPower(value, place))} ± ${roundToPower(halfWidth, place)}`;
}

/**
 * A value whose error stands elsewhere.
 * @param halfWidth half width of its interval; NaN or 0 where it has none
 * @param digits significant digits at most
 * @returns the value to the place that two digits of its error leave
 */
export function formatToError(value: number, halfWidth: number, digits: number): string {
  const least = Math.abs(value) * 10 ** (2 - digits);
  const half = Number.isFinite(halfWidth) ? Math.max(halfWidth, least) : least;
  return formatWithError(value, half).replace(/ ± [\d.]+/, '');
}

/** Rounded outwards, so that the statement stays true; fine enough to tell the bound from the value it belongs to. */
function formatBound(bound: number, value: number, side: 'upper' | 'lower'): string {
  if (!Number.isFinite(bound) || bound === 0) return formatNumber(bound);
  const gap = Math.abs(bound - value);
  const own = BOUND_DIGITS - 1 - leadingPower(bound);
  const decimals =
    gap > Math.abs(bound) * NEGLIGIBLE_RELATIVE_ERROR ? Math.max(own, 1 - leadingPower(gap)) : own;
  const steps = bound * 10 ** decimals;
  // A product that is whole but for the last binary digit counts as whole.
  const slack = Math.abs(steps) * 1e-12;
  const outward = side === 'upper' ? Math.ceil(steps - slack) : Math.floor(steps + slack);
  return formatNumber(outward / 10 ** decimals, 15);
}

/** @returns the unit as people write it: superscripts, and nothing for a pure number */
export function formatUnit(unit: string): string {
  if (unit === '' || unit === '1' || unit === '-') return '';
  return unit
    .replace(/m2\b/g, 'm²')
    .replace(/m3\b/g, 'm³')
    .replace(/\bdeg\b/g, '°');
}

/** @returns the larger side of the figure's 95 % interval */
export function halfWidth(figure: Figure): number {
  return Math.max(0, figure.ci95[1] - figure.value, figure.value - figure.ci95[0]);
}

/** Whether a share may be all or nothing, as where no light leaves the mirrors. */
function isShareOfNothing({ limit, unit, ci95 }: Figure): boolean {
  return limit === 'upper' && unit === '1' && ci95[0] === 0 && ci95[1] === 1;
}

/**
 * The one way in which a figure with its error is written for people.
 * @returns "12.34 ± 0.56 kW/m²" (95 % half width, two digits of it), "< 0.0031" or "> 420 mm" for a bound, "no light" for a share
 *   of nothing
 */
export function formatFigure(figure: Figure, format: FigureFormat = {}): string {
  const scale = format.percent ? 100 : 1;
  const unit = format.percent ? '%' : formatUnit(figure.unit);
  const suffix = format.bare || unit === '' ? '' : ` ${unit}`;
  if (isShareOfNothing(figure)) return 'no light';
  if (figure.limit !== undefined) {
    const sign = figure.limit === 'upper' ? '<' : '>';
    // What the sample cannot exclude: nothing seen is less than the interval's far end, not less than nothing.
    const bound = figure.limit === 'upper' ? figure.ci95[1] : figure.ci95[0];
    return `${sign} ${formatBound(bound * scale, figure.value * scale, figure.limit)}${suffix}`;
  }
  return `${formatWithError(figure.value * scale, halfWidth(figure) * scale)}${suffix}`;
}

/** @returns a whole number with thin groups of three, e.g. "2 097 152" */
export function formatCount(count: number): string {
  return Math.round(count)
    .toString()
    .replace(/\B(?=(\d{3})+(?!\d))/g, ' ');
}

/** @returns a number of rays or, where they left footprints, of mirror points */
export function formatSamples(count: number, footprints: boolean): string {
  return `${formatCount(count)} ${footprints ? 'mirror points' : 'rays'}`;
}

/** @returns a length in mm with groups of three from 10 000 on */
function formatLength(millimetres: number): string {
  const text = formatNumber(millimetres);
  return millimetres < 1e4 ? text : text.replace(/\B(?=(\d{3})+(?!\d)(\.|$))/g, ' ');
}

/** @returns an opening in words, e.g. "round, 180 mm" */
export function formatAperture(aperture: ApertureSize): string {
  switch (aperture.shape) {
    case 'round':
      return `round, ${formatLength(aperture.diameter_mm)} mm`;
    case 'rectangle':
      return `${formatLength(aperture.width_mm)} x ${formatLength(aperture.height_mm)} mm`;
    case 'tube':
      return `tube, ${formatLength(aperture.diameter_mm)} mm across, ${formatLength(aperture.length_mm)} mm long`;
  }
}
