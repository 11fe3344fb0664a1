/** The answer in one sentence: does it fit, what is lost, what to change first. */
import { fitOf, quoted, SPILL_OF_A_FIT } from '../result/answer.js';
import { formatNumber } from '../result/number-format.js';
import type { Ledger, ReceiverResult, TraceResult } from '../result/types.js';

/** A centroid farther from the opening's centre than this part of its size is worth a move of the receiver. */
const OFF_CENTRE = 0.1;
/** Losses below this share of the sunlight are not worth a first change. */
const WORTH_A_CHANGE = 0.01;

interface Lever {
  readonly keys: readonly string[];
  readonly loss: string;
  readonly change: string;
}

/** What a builder can act on, by the lines of the ledger. */
const LEVERS: readonly Lever[] = [
  {
    keys: ['cosine', 'unlit'],
    loss: 'the slant at which the sun meets the mirrors',
    change: 'the tilt setting, or the hours that are counted on',
  },
  { keys: ['film'], loss: 'the film', change: 'the film: its reflectance, and how clean it is kept' },
  {
    keys: ['shaded'],
    loss: 'shade on the mirrors',
    change: 'what stands before the mirrors: pitch, row spacing, receivers',
  },
  {
    keys: ['blocked_by_facet', 'blocked_by_blocker', 'blocked_by_receiver'],
    loss: 'what stands between mirrors and openings',
    change: 'what stands between mirrors and openings',
  },
  {
    keys: ['spilled_on_receiver', 'spilled_on_ground', 'spilled_to_sky'],
    loss: 'light beside the opening',
    change: 'the size of the opening, or the slope error of the build',
  },
  {
    keys: ['lost'],
    loss: 'light lost between mirrors',
    change: 'what lets mirrors throw light at each other',
  },
];

function shareOf(ledger: Ledger, keys: readonly string[]): number {
  return ledger.lines.reduce((sum, { key, share }) => (keys.includes(key) ? sum + share : sum), 0);
}

function percent(share: number): string {
  return `${formatNumber(100 * share, 3)} %`;
}

function fitSentence(receivers: readonly ReceiverResult[]): string {
  const fits = receivers.map(fitOf);
  const count = (fit: string): number => fits.filter((entry) => entry === fit).length;
  const [one] = receivers;
  if (receivers.length === 0) return 'There is no receiver in the scene';
  if (receivers.length === 1) {
    switch (fits[0]) {
      case 'fits':
        return `The spot fits its opening: ${quoted(one.spill_fraction, true)} of the reflected light misses it`;
      case 'open':
        return `Whether the spot fits its opening, this ray count cannot tell: ${quoted(one.spill_fraction, true)} misses it`;
      case 'does_not_fit':
        return `The spot does not fit its opening: ${quoted(one.spill_fraction, true)} of the reflected light misses it`;
      case 'blocked':
        return 'No light arrives at the opening';
      case 'dark':
        return 'No light leaves the mirrors';
    }
  }
  const open = count('open') > 0 ? `, at ${count('open')} this ray count cannot tell` : '';
  return count('fits') === receivers.length
    ? `The spot fits at all ${receivers.length} openings`
    : `The spot fits at ${count('fits')} of ${receivers.length} openings${open}`;
}

/** The largest of a group of losses, by the whole scene's ledger. */
function largestLoss(ledger: Ledger): Lever & { readonly share: number } {
  const levers = LEVERS.map((lever) => ({ ...lever, share: shareOf(ledger, lever.keys) }));
  return levers.reduce((a, b) => (b.share > a.share ? b : a));
}

function offCentre({ kind, aperture, spot }: ReceiverResult): string | null {
  if (kind === 'tube' || aperture.shape === 'tube') return null;
  const across =
    aperture.shape === 'round' ? aperture.diameter_mm : Math.min(aperture.width_mm, aperture.height_mm);
  const u = kind === 'line_plate' ? 0 : spot.centroid_u.value;
  const v = spot.centroid_v.value;
  const known = Math.hypot(kind === 'line_plate' ? 0 : spot.centroid_u.std_err, spot.centroid_v.std_err);
  const away = Math.hypot(u, v);
  if (!(away > OFF_CENTRE * across && away > 4 * known)) return null;
  const parts = [
    Math.abs(u) > 1 ? `${formatNumber(Math.abs(u), 2)} mm towards ${u > 0 ? '+u' : '−u'}` : null,
    Math.abs(v) > 1 ? `${formatNumber(Math.abs(v), 2)} mm towards ${v > 0 ? '+v' : '−v'}` : null,
  ].filter((part) => part !== null);
  return parts.join(' and ');
}

function changeFirst(result: TraceResult): string {
  const { receivers, total } = result;
  const spillers = receivers.filter((receiver) => ['does_not_fit', 'open'].includes(fitOf(receiver)));
  if (spillers.length > 0) {
    const worst = spillers.reduce((a, b) => (b.spill_fraction.value > a.spill_fraction.value ? b : a));
    const where = receivers.length > 1 ? ` of ${worst.name}` : '';
    const move = offCentre(worst);
    if (move !== null) return `change first: move the receiver${where} to where the light is, ${move}`;
    const opening = worst.opening_for_5_percent_spill_mm;
    if (opening.limit === undefined) {
      return `change first: the opening${where} (${quoted(opening)} spills ${100 * SPILL_OF_A_FIT} % of the light not blocked), or the slope error of the build`;
    }
    return `change first: the slope error of the build or its aim, as no opening within the map holds the spot${where}`;
  }
  const loss = largestLoss(total.ledger);
  if (loss.share < WORTH_A_CHANGE) return 'no single loss is worth a change';
  return `change first: ${loss.change}`;
}

/** @returns one sentence; what it names is the largest loss a builder can act on, not a forecast of the gain */
export function verdictOf(result: TraceResult): string {
  const { total, receivers } = result;
  const { ledger, intercepted_power: caught } = total;
  if (!(ledger.available_w > 0) || receivers.length === 0) return `${fitSentence(receivers)}.`;
  const loss = largestLoss(ledger);
  const takes =
    loss.share >= WORTH_A_CHANGE ? `, the largest loss being ${loss.loss} (${percent(loss.share)})` : '';
  return (
    `${fitSentence(receivers)}; of the sunlight on the mirrors' area ${percent(caught.value / ledger.available_w)} ` +
    `is caught${takes}; ${changeFirst(result)}.`
  );
}
