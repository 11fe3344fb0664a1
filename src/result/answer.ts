/** The answer in plain sentences: does the spot fit, by how much, what is lost and where, the smallest opening. */
import type { Figure, Ledger, LedgerLine, ReceiverResult, Spot, TotalResult } from './types.js';

/** Most of the reflected light that may miss where the spot is said to fit. */
export const SPILL_OF_A_FIT = 0.05;

/** Ledger lines that are no loss. */
const CAUGHT = new Set(['intercepted', 'intercepted_elsewhere']);

/** Loss lines named in the answer at most, and the least share of the available sunlight for one to be named. */
const LOSSES_NAMED = 3;
const LEAST_LOSS_NAMED = 0.005;

export type Fit = 'fits' | 'open' | 'does_not_fit' | 'dark';

/** Whether the spot fits: at most 5 % spill, with the whole 95 % interval on one side. */
export function fitOf(spill: Figure, reflected: Figure): Fit {
  if (reflected.value <= 0) return 'dark';
  if (spill.ci95[1] <= SPILL_OF_A_FIT) return 'fits';
  return spill.ci95[0] > SPILL_OF_A_FIT ? 'does_not_fit' : 'open';
}

/**
 * Plain sentences. Numbers after a plus-minus sign are half the 95 % interval.
 * @param receivers in the order of the scene; with several, the worst is named
 */
export function answerOf(total: TotalResult, receivers: readonly ReceiverResult[]): string {
  if (receivers.length === 0) return 'There is no receiver in the scene.';
  const sentences = receivers.length === 1 ? oneReceiver(receivers[0]) : manyReceivers(total, receivers);
  sentences.push(lossSentence(total.ledger));
  sentences.push(
    `The peak flux is ${quoted(total.peak_flux, 1, 'kW/m2')}${receivers.length > 1 ? `, at ${total.peak_receiver}` : ''}, averaged over a disc ${plain(receivers[0].peak_disc_mm)} mm across.`,
  );
  return sentences.join(' ');
}

function oneReceiver(receiver: ReceiverResult): string[] {
  const spill = `${quoted(receiver.spill_fraction, 100, '%')} of the reflected light misses the opening`;
  const sentences: string[] = [];
  switch (fitOf(receiver.spill_fraction, receiver.reflected_power)) {
    case 'dark':
      return ['No light leaves the mirrors, so there is no spot to fit.'];
    case 'fits':
      sentences.push(`The spot fits: ${spill}.`);
      break;
    case 'open':
      sentences.push(`The spot just fits or just does not; this ray count cannot tell: ${spill}.`);
      break;
    case 'does_not_fit':
      sentences.push(`The spot does not fit: ${spill}.`);
  }
  sentences.push(`${spotSentence(receiver.spot)} The opening is ${openingText(receiver)}.`);
  sentences.push(openingSentence(receiver));
  return sentences;
}

function manyReceivers(total: TotalResult, receivers: readonly ReceiverResult[]): string[] {
  const lit = receivers.filter((receiver) => receiver.reflected_power.value > 0);
  if (lit.length === 0) return ['No light leaves the mirrors, so there is no spot to fit.'];
  const fits = lit.map((receiver) => fitOf(receiver.spill_fraction, receiver.reflected_power));
  const count = (fit: Fit) => fits.filter((entry) => entry === fit).length;
  const worst = lit.reduce((a, b) => (b.spill_fraction.value > a.spill_fraction.value ? b : a));
  const sentences: string[] = [];
  const fitting = count('fits');
  const open = count('open');
  if (fitting === lit.length) sentences.push(`The spot fits at all ${lit.length} receivers.`);
  else if (fitting + open === 0) sentences.push(`The spot fits at none of the ${lit.length} receivers.`);
  else {
    const unclear = open > 0 ? `; at ${open} this ray count cannot tell` : '';
    sentences.push(`The spot fits at ${fitting} of ${lit.length} receivers${unclear}.`);
  }
  sentences.push(
    `Over all, ${quoted(total.spill_fraction, 100, '%')} of the reflected light misses its own opening; the worst is ${worst.name} with ${quoted(worst.spill_fraction, 100, '%')}.`,
  );
  sentences.push(
    `At ${worst.name}: ${lowerFirst(spotSentence(worst.spot))} The opening there is ${openingText(worst)}.`,
  );
  sentences.push(openingSentence(worst));
  const dark = receivers.length - lit.length;
  if (dark > 0) sentences.push(`${dark} of ${receivers.length} receivers get no light from their mirrors.`);
  return sentences;
}

function spotSentence(spot: Spot): string {
  const [share, size] = spot.holds_95.limit === 'lower' ? ['90', spot.holds_90] : ['95', spot.holds_95];
  const shape = spot.measure === 'diameter' ? 'A circle' : 'A strip';
  const across = spot.measure === 'diameter' ? 'across' : 'wide';
  if (size.limit === 'lower') {
    return `${shape} ${plain(size.value)} mm ${across} does not yet hold 90 % of the light that is not blocked.`;
  }
  return `${shape} ${quoted(size, 1, 'mm')} ${across} holds ${share} % of the light that is not blocked.`;
}

function openingText(receiver: ReceiverResult): string {
  const { aperture } = receiver;
  if (aperture.shape === 'rectangle') {
    return `${plain(aperture.width_mm)} by ${plain(aperture.height_mm)} mm`;
  }
  if (aperture.shape === 'round') return `${plain(aperture.diameter_mm)} mm across`;
  return `a tube ${plain(aperture.diameter_mm)} mm thick`;
}

/** How the leading size of an opening is called. */
function sizeName(receiver: ReceiverResult): string {
  if (receiver.aperture.shape === 'round') return 'in diameter';
  if (receiver.aperture.shape === 'tube') return 'in tube diameter';
  return receiver.kind === 'line_plate' ? 'across the line' : 'in width, its height in proportion';
}

function openingSentence(receiver: ReceiverResult): string {
  const opening = receiver.opening_for_5_percent_spill_mm;
  const size = sizeName(receiver);
  if (opening.limit === 'lower') {
    return `Even an opening of ${plain(opening.value)} mm ${size} would spill more than 5 % of that light.`;
  }
  return `The smallest opening that spills no more than 5 % of that light is ${quoted(opening, 1, 'mm')} ${size}.`;
}

function lossSentence(ledger: Ledger): string {
  const available = ledger.available_w;
  const caught = ledger.lines.filter((line) => CAUGHT.has(line.key));
  const caughtPower = caught.reduce((sum, line) => sum + line.power.value, 0);
  const head = `Of ${power(available)} of sunlight on the mirrors' area, ${power(caughtPower)} (${percent(available > 0 ? caughtPower / available : 0)}) goes through receiver openings`;
  const losses = ledger.lines
    .filter((line) => !CAUGHT.has(line.key) && line.share >= LEAST_LOSS_NAMED)
    .sort((a, b) => b.share - a.share)
    .slice(0, LOSSES_NAMED);
  if (losses.length === 0) return `${head}.`;
  const named = losses.map((line) => `${percent(line.share)} ${lossName(line)}`);
  return `${head}; the largest losses are: ${named.join(', ')}.`;
}

function lossName(line: LedgerLine): string {
  return line.key === 'cosine' ? 'to the cosine of the incidence angle' : line.label.replace(/:.*/, '');
}

function lowerFirst(sentence: string): string {
  return sentence.charAt(0).toLowerCase() + sentence.slice(1);
}

function percent(share: number): string {
  return `${(100 * share).toFixed(1)} %`;
}

function power(watts: number): string {
  if (watts >= 10_000) return `${(watts / 1000).toFixed(1)} kW`;
  return `${watts.toFixed(watts >= 100 ? 0 : 1)} W`;
}

/** A number as people write it: four digits at most, no trailing zeros. */
function plain(value: number): string {
  return String(Number(value.toPrecision(4)));
}

/**
 * A figure as people write it: the half width of its 95 % interval to one digit (two where the first is 1), the value to
 * the same place. Bounds read "less than" or "more than".
 * @param factor from the figure's unit to the one written, e.g. 100 for per cent
 */
export function quoted(figure: Figure, factor: number, unit: string): string {
  const value = figure.value * factor;
  const [low, high] = figure.ci95;
  if (figure.limit === 'upper') return `less than ${plain(high * factor)} ${unit}`;
  if (figure.limit === 'lower') return `more than ${plain(low * factor)} ${unit}`;
  const half = ((high - low) / 2) * factor;
  // Below a millionth of the value an error is rounding of binary numbers, not noise.
  if (!(half > 1e-6 * Math.abs(value))) return `${plain(value)} ${unit}`;
  const places = decimalPlaces(half);
  return `${value.toFixed(places)} ± ${half.toFixed(places)} ${unit}`;
}

function decimalPlaces(half: number): number {
  const exponent = Math.floor(Math.log10(half));
  const leading = half / 10 ** exponent;
  const digits = leading < 1.95 ? 2 : 1;
  return Math.min(12, Math.max(0, digits - 1 - exponent));
}
