/** The waterfall from sunlight on the mirrors to heat: its optical part from a trace or a year, its thermal part from the plant. */
import type { HeatBooks } from '../plant/year-heat.js';
import type { Ledger } from '../result/types.js';
import type { BookLine } from './heat-types.js';

const OPTICAL_LABELS: Readonly<Record<string, string>> = {
  cosine: 'cosine',
  shading: 'shading',
  film: 'film',
  blocking: 'blocking',
  spill: 'spill',
};

/** Fates of a trace's ledger that each optical loss is made of. Light caught by another receiver is caught. */
const FATES_OF_LOSS: readonly (readonly [string, readonly string[]])[] = [
  ['cosine', ['cosine']],
  ['shading', ['shaded']],
  ['film', ['film']],
  ['blocking', ['blocked_by_facet', 'blocked_by_blocker', 'blocked_by_receiver', 'lost']],
  ['spill', ['spilled_on_receiver', 'spilled_on_ground', 'spilled_to_sky']],
];

/** W lost on the way to the receivers; with the light caught they sum to beam irradiance x mirror area. */
export function groupLossLines({ lines }: Ledger): readonly BookLine[] {
  return FATES_OF_LOSS.map(([key, fates]) => ({
    key,
    label: OPTICAL_LABELS[key],
    value: lines.filter((line) => fates.includes(line.key)).reduce((sum, { power }) => sum + power.value, 0),
  }));
}

export const JOULES_PER_KWH = 3.6e6;

/** kWh, the lines after the first sum to it. */
export function yearLines(books: HeatBooks): readonly BookLine[] {
  const lines: readonly (readonly [string, string, number])[] = [
    ['on_mirrors', 'sunlight on the mirrors', books.onMirrors],
    ...books.optical.map(({ name, joules }) => [name, OPTICAL_LABELS[name] ?? name, joules] as const),
    ['reflected', 'reflected by the receivers', books.reflected],
    ['too_little', 'too little to start', books.belowThreshold],
    ['start_up', 'warming up', books.startUp],
    ['receiver_losses', 'lost by hot receivers', books.receiverLoss],
    ['pipes', 'lost by pipes', books.pipeLoss],
    ['delivered', 'delivered', books.delivered],
  ];
  return lines.map(([key, label, joules]) => ({ key, label, value: joules / JOULES_PER_KWH }));
}

/** What is left of a waterfall, relative to its first line: 0 where it closes. */
export function linesGap(lines: readonly BookLine[]): number {
  const [first, ...rest] = lines;
  return (
    (first.value - rest.reduce((sum, { value }) => sum + value, 0)) / Math.max(Math.abs(first.value), 1e-300)
  );
}

/** The waterfall of one unit of sunlight: what is left after each step. The last is delivered. */
export function followOne(lines: readonly BookLine[]): readonly BookLine[] {
  const [first, ...rest] = lines;
  const scale = first.value > 0 ? 1 / first.value : 0;
  let left = first.value * scale;
  const steps: BookLine[] = [{ key: first.key, label: first.label, value: left }];
  for (const { key, label, value } of rest.slice(0, -1)) {
    left -= value * scale;
    steps.push({ key: `after_${key}`, label: `after ${label}`, value: left });
  }
  return steps;
}
