/** The answer in plain sentences: does the spot fit, by how much, what is lost and where, the smallest opening. */
import { COSINE_AND_TURNED } from './group.js';
import { formatFigure, formatNumber, formatWithError, halfWidth } from './number-format.js';
import type { Figure, Ledger, LedgerLine, ReceiverResult, Spot, TotalResult } from './types.js';

/** Most of the reflected light that may miss where the spot is said to fit. */
export const SPILL_OF_A_FIT = 0.05;

const CRITERION = 'to fit, at most 5 % of the reflected light may miss the opening';

/** Ledger lines that are no loss. */
const CAUGHT = new Set(['intercepted', 'intercepted_elsewhere']);

/** Ledger lines of light that never left a mirror. */
const BEFORE_REFLECTION = new Set(['cosine', 'unlit', 'shaded', 'film']);

/** Loss lines named in the answer at most, and the least share of the available sunlight for one to be named. */
const LOSSES_NAMED = 3;
const LEAST_LOSS_NAMED = 0.005;

/** From this share of the reflected light on, what is blocked is told in the first lines, whether the rest fits or not. */
const MUCH_BLOCKED = 0.5;

/** `dark`: no light leaves the mirrors; `blocked`: none of it comes through the opening, though little of it is spilled. */
export type Fit = 'fits' | 'open' | 'does_not_fit' | 'blocked' | 'dark';

/** Whether the spot fits: at most 5 % spill, with the whole 95 % interval on one side, and some light that arrives. */
export function fitOf(
  receiver: Pick<ReceiverResult, 'spill_fraction' | 'reflected_power' | 'intercept_factor'>,
): Fit {
  const { spill_fraction: spill, reflected_power: reflected, intercept_factor: intercept } = receiver;
  if (reflected.value <= 0) return 'dark';
  if (spill.ci95[0] > SPILL_OF_A_FIT) return 'does_not_fit';
  if (intercept.limit === 'upper') return 'blocked';
  return spill.ci95[1] <= SPILL_OF_A_FIT ? 'fits' : 'open';
}

/**
 * Plain sentences. Numbers after a plus-minus sign are half the 95 % interval.
 * @param receivers in the order of the scene; with several, the worst is named
 */
export function answerOf(total: TotalResult, receivers: readonly ReceiverResult[]): string {
  if (receivers.length === 0) return 'There is no receiver in the scene.';
  const sentences = receivers.length === 1 ? oneReceiver(receivers[0]) : manyReceivers(total, receivers);
  sentences.push(lossSentence(total));
  if (receivers.some((receiver) => receiver.reflected_power.value > 0)) {
    sentences.push(
      `The peak flux is ${quoted(total.peak_flux)}${receivers.length > 1 ? `, at ${total.peak_receiver}` : ''}, averaged over a disc ${formatNumber(receivers[0].peak_disc_mm, 4)} mm across.`,
    );
  }
  return sentences.join(' ');
}

function oneReceiver(receiver: ReceiverResult): string[] {
  const misses = `${share(receiver.spill_fraction)} misses it`;
  const sentences: string[] = [];
  switch (fitOf(receiver)) {
    case 'dark':
      return ['No light leaves the mirrors, so there is no spot to fit.'];
    case 'blocked':
      return [
        `No light arrives at the opening, so there is no spot to fit: ${whereItWent(receiver.ledger)}.`,
      ];
    case 'fits':
      sentences.push(`The spot fits (${CRITERION}): ${misses}.`);
      break;
    case 'open':
      sentences.push(
        `The spot just fits or just does not (${CRITERION}); this ray count cannot tell: ${misses}.`,
      );
      break;
    case 'does_not_fit':
      sentences.push(`The spot does not fit (${CRITERION}): ${misses}.`);
  }
  sentences.push(...blockedSentence(receiver.blocked_fraction, ''));
  sentences.push(`${spotSentence(receiver.spot)} The opening is ${openingText(receiver)}.`);
  sentences.push(openingSentence(receiver));
  return sentences;
}

function manyReceivers(total: TotalResult, receivers: readonly ReceiverResult[]): string[] {
  const lit = receivers.filter((receiver) => receiver.reflected_power.value > 0);
  if (lit.length === 0) return ['No light leaves the mirrors, so there is no spot to fit.'];
  const reached = lit.filter((receiver) => fitOf(receiver) !== 'blocked');
  const sentences: string[] = [];
  if (reached.length === 0) {
    sentences.push(
      `No light arrives at any opening, so there is no spot to fit: ${whereItWent(total.ledger)}.`,
    );
  } else {
    sentences.push(fitSentence(reached, receivers.length));
    sentences.push(...worstSentences(total, reached));
    const blocked = lit.length - reached.length;
    if (blocked > 0) {
      sentences.push(
        `At ${blocked} of ${receivers.length} receivers no light arrives, as it is stopped on its way.`,
      );
    }
  }
  const dark = receivers.length - lit.length;
  if (dark > 0) sentences.push(`${dark} of ${receivers.length} receivers get no light from their mirrors.`);
  return sentences;
}

/** @param receivers that light arrives at; `all` counts the others too */
function fitSentence(receivers: readonly ReceiverResult[], all: number): string {
  const fits = receivers.map(fitOf);
  const count = (fit: Fit) => fits.filter((entry) => entry === fit).length;
  const fitting = count('fits');
  const open = count('open');
  if (fitting === all) return `The spot fits at all ${all} receivers (${CRITERION}).`;
  if (fitting + open === 0) return `The spot fits at none of the ${all} receivers (${CRITERION}).`;
  const unclear = open > 0 ? `; at ${open} this ray count cannot tell` : '';
  return `The spot fits at ${fitting} of ${all} receivers${unclear} (${CRITERION}).`;
}

/** The receiver that spills most; where none spills anything, the one with the widest spot. */
function worstSentences(total: TotalResult, receivers: readonly ReceiverResult[]): string[] {
  const most = (value: (receiver: ReceiverResult) => number) =>
    receivers.reduce((a, b) => (value(b) > value(a) ? b : a));
  const spiller = most((receiver) => receiver.spill_fraction.value);
  const spills = spiller.spill_fraction.value > 0;
  const shown = spills ? spiller : most((receiver) => receiver.opening_for_5_percent_spill_mm.value);
  const named = spills ? `; the worst is ${spiller.name} with ${share(spiller.spill_fraction)}` : '';
  const spot = lowerFirst(spotSentence(shown.spot));
  return [
    `Over all, ${share(total.spill_fraction)} of the reflected light misses its own opening${named}.`,
    ...blockedSentence(total.blocked_fraction, 'over all '),
    `${spills ? `At ${shown.name}` : `The widest spot is that at ${shown.name}`}: ${spot} The opening there is ${openingText(shown)}.`,
    openingSentence(shown),
  ];
}

function blockedSentence(blocked: Figure, where: string): string[] {
  return blocked.value >= MUCH_BLOCKED
    ? [`But ${where}${share(blocked)} of the reflected light is blocked on its way.`]
    : [];
}

/** Where the reflected light ends that does not come through an opening, e.g. "98.0 % of the reflected light is blocked by ...". */
function whereItWent(ledger: Ledger): string {
  const lines = ledger.lines.filter((line) => !BEFORE_REFLECTION.has(line.key));
  const reflected = lines.reduce((sum, line) => sum + line.power.value, 0);
  const named = lines
    .filter((line) => !CAUGHT.has(line.key) && line.power.value >= LEAST_LOSS_NAMED * reflected)
    .sort((a, b) => b.power.value - a.power.value)
    .slice(0, LOSSES_NAMED)
    .map((line, index) => {
      const part = percent(line.power.value / reflected, halfWidth(line.power) / reflected);
      return index === 0 ? `${part} of the reflected light is ${line.label}` : `${part} ${line.label}`;
    });
  return named.join(', ');
}

function spotSentence(spot: Spot): string {
  const [share, size] = spot.holds_95.limit === 'lower' ? ['90', spot.holds_90] : ['95', spot.holds_95];
  const shape = spot.measure === 'diameter' ? 'A circle' : 'A strip';
  const across = spot.measure === 'diameter' ? 'across' : 'wide';
  if (size.limit === 'lower') {
    return `${shape} ${formatNumber(size.value, 4)} mm ${across} does not yet hold 90 % of the light that is not blocked.`;
  }
  return `${shape} ${quoted(size)} ${across} holds ${share} % of the light that is not blocked.`;
}

function openingText(receiver: ReceiverResult): string {
  const { aperture } = receiver;
  if (aperture.shape === 'rectangle') {
    return `${formatNumber(aperture.width_mm, 4)} by ${formatNumber(aperture.height_mm, 4)} mm`;
  }
  if (aperture.shape === 'round') return `${formatNumber(aperture.diameter_mm, 4)} mm across`;
  return `a tube ${formatNumber(aperture.diameter_mm, 4)} mm in diameter`;
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
    return `Even an opening of ${formatNumber(opening.value, 4)} mm ${size} would spill more than 5 % of that light.`;
  }
  return `The smallest opening that spills no more than 5 % of that light is ${quoted(opening)} ${size}.`;
}

function lossSentence({ ledger, intercepted_power: caught }: TotalResult): string {
  const available = ledger.available_w;
  const part = (power: Figure) =>
    available > 0 ? percent(power.value / available, halfWidth(power) / available) : percent(0, 0);
  const head = `Of ${watts(available, 0)} of sunlight on the mirrors' area, ${watts(caught.value, halfWidth(caught))} (${part(caught)}) goes through receiver openings`;
  const losses = ledger.lines
    .filter((line) => !CAUGHT.has(line.key) && line.share >= LEAST_LOSS_NAMED)
    .sort((a, b) => b.share - a.share)
    .slice(0, LOSSES_NAMED);
  if (losses.length === 0) return `${head}.`;
  const named = losses.map((line) => `${part(line.power)} ${lossName(line)}`);
  return `${head}; the largest losses are: ${named.join(', ')}.`;
}

function lossName({ key, label }: LedgerLine): string {
  if (key !== 'cosine') return label;
  return `to the cosine of the incidence angle${label === COSINE_AND_TURNED ? ' and mirrors turned from the sun' : ''}`;
}

function lowerFirst(sentence: string): string {
  return sentence.charAt(0).toLowerCase() + sentence.slice(1);
}

/** A number to the place that two digits of its error leave, and no finer than two digits of `least`. */
function rounded(value: number, half: number, least: number): string {
  return formatWithError(value, Math.max(half, least)).split(' ± ')[0];
}

function percent(part: number, half: number): string {
  return `${rounded(100 * part, 100 * half, 1)} %`;
}

function watts(power: number, half: number): string {
  if (power >= 10_000) return `${rounded(power / 1000, half / 1000, 1)} kW`;
  return `${rounded(power, half, power >= 100 ? 10 : 1)} W`;
}

function share(figure: Figure): string {
  return quoted(figure, true);
}

/**
 * A figure as in the tables, but for bounds, which read "less than" or "more than".
 * @param inPercent whether to write a pure number as per cent
 */
export function quoted(figure: Figure, inPercent = false): string {
  return formatFigure(figure, { percent: inPercent })
    .replace(/^< /, 'less than ')
    .replace(/^> /, 'more than ');
}
