/** Where the sunlight goes: what each step takes away, one under the other, down to what is caught. */
import { formatCount, formatFigure, formatNumber } from '../result/number-format.js';
import type { Figure, Ledger, LedgerLine } from '../result/types.js';
import { FAINT_INK, GRID, heading, INK, MARGIN, straightLine, typeset, words } from './drawing.js';
import { COSINE_COLOUR, FATE_STYLES, FILM_COLOUR } from './fate-style.js';
import { textWidth } from './font.js';
import { plainText } from './plain-text.js';
import { element, group, type Markup, svgDocument } from './svg.js';
import type { DrawnFigure } from './types.js';

const ROW = 41;
const BAR = 13;
/** Losses below this share of the sunlight are told in the table only. */
const LEAST_SHARE = 5e-5;
const LEFT_OVER = '#9fc3dd';
const CAUGHT = '#0072b2';

const BEFORE_REFLECTION = new Set(['cosine', 'unlit', 'shaded', 'film']);

interface Step {
  readonly label: string;
  readonly value: string;
  /** Part of the sunlight, from where to where. */
  readonly from: number;
  readonly to: number;
  readonly colour: string;
  readonly kind: 'level' | 'loss';
}

function colourOf(key: string): string {
  if (key === 'film') return FILM_COLOUR;
  if (key === 'cosine' || key === 'unlit') return COSINE_COLOUR;
  return FATE_STYLES.find(({ ledger }) => ledger.includes(key))?.colour ?? COSINE_COLOUR;
}

function shareOf(power: Figure, available: number): Figure {
  return {
    value: power.value / available,
    std_err: power.std_err / available,
    ci95: [power.ci95[0] / available, power.ci95[1] / available],
    unit: '1',
    ...(power.limit === undefined ? {} : { limit: power.limit }),
  };
}

/** @returns watts with their error, and the share of the sunlight to three digits: the table has its error */
function valueText(power: Figure, available: number): string {
  const share = `${formatNumber((100 * power.value) / available, 3)} %`;
  return power.limit === undefined ? `${formatFigure(power)} · ${share}` : formatFigure(power);
}

/** Lines in the order in which light meets them, what is caught left away. */
function lossLines(ledger: Ledger): readonly LedgerLine[] {
  return ledger.lines.filter(
    ({ key, power }) => key !== 'intercepted' && power.value > LEAST_SHARE * ledger.available_w,
  );
}

function stepsOf(ledger: Ledger): Step[] {
  const { available_w: available } = ledger;
  let level = 1;
  const steps: Step[] = [
    {
      label: 'beam irradiance x mirror area',
      value: `${formatNumber(available, 5)} W · 100 %`,
      from: 0,
      to: 1,
      colour: LEFT_OVER,
      kind: 'level',
    },
  ];
  const lose = (line: LedgerLine): void => {
    const share = line.power.value / available;
    steps.push({
      label: line.label,
      value: valueText(line.power, available),
      from: level - share,
      to: level,
      colour: colourOf(line.key),
      kind: 'loss',
    });
    level -= share;
  };
  const lines = lossLines(ledger);
  for (const line of lines.filter(({ key }) => BEFORE_REFLECTION.has(key))) lose(line);
  steps.push({
    label: 'leaves the mirrors',
    value: `${formatNumber(100 * level, 3)} %`,
    from: 0,
    to: level,
    colour: LEFT_OVER,
    kind: 'level',
  });
  for (const line of lines.filter(({ key }) => !BEFORE_REFLECTION.has(key))) lose(line);
  const caught = ledger.lines.find(({ key }) => key === 'intercepted');
  if (caught !== undefined) {
    steps.push({
      label: caught.label,
      value: valueText(caught.power, available),
      from: 0,
      to: caught.power.value / available,
      colour: CAUGHT,
      kind: 'level',
    });
  }
  return steps;
}

/**
 * Draws the ledger as steps: full bars are what is left, hanging bars what a step takes; watts with their error and per cent of
 * the sunlight on the mirrors' area beside each.
 * @param name of what the ledger is of, e.g. "all receivers"
 * @param width of the whole figure, pixels
 */
export function drawLossFigure(ledger: Ledger, name: string, width = 560): DrawnFigure {
  const top = heading('where the sunlight goes', [name], width);
  const steps = ledger.available_w > 0 ? stepsOf(ledger) : [];
  const left = MARGIN;
  const room = width - 2 * MARGIN;
  const pixel = (share: number): number => left + share * room;
  const parts: Markup[] = [];
  steps.forEach((step, i) => {
    const y = top.bottom + ROW * i;
    const bar = y + 20;
    const value = typeset(plainText(step.value));
    const size = 12;
    parts.push(
      words(left, y + 13, step.label, {
        size,
        weight: step.kind === 'level' ? 'bold' : 'regular',
        room: room - textWidth(value, size) - 14,
      }),
      words(left + room, y + 13, value, {
        size,
        anchor: 'end',
        fill: step.kind === 'level' ? INK : FAINT_INK,
      }),
      element('rect', { x: left, y: bar, width: room, height: BAR, fill: '#f3f3f3' }),
      element('rect', {
        x: pixel(step.from),
        y: bar,
        width: Math.max(1, pixel(step.to) - pixel(step.from)),
        height: BAR,
        fill: step.colour,
      }),
    );
    const next = steps[i + 1];
    // From the edge that is left after this step down to the next one.
    const edge = step.kind === 'loss' ? step.from : step.to;
    if (next !== undefined) {
      parts.push(
        straightLine(pixel(edge), bar + BAR, pixel(edge), bar + ROW, { colour: '#aaaaaa', dash: '2 2' }),
      );
    }
  });
  const bottom = top.bottom + ROW * steps.length + 6;
  const ticks = [0, 0.25, 0.5, 0.75, 1].map((share) =>
    group({}, [
      straightLine(pixel(share), bottom - 6, pixel(share), bottom, { colour: INK }),
      words(pixel(share), bottom + 14, `${100 * share} %`, {
        size: 12,
        anchor: share === 0 ? 'start' : share === 1 ? 'end' : 'middle',
        fill: FAINT_INK,
      }),
    ]),
  );
  const axis = straightLine(left, bottom - 6, left + room, bottom - 6, { colour: GRID });
  const empty = steps.length === 0 ? [words(left, bottom, 'There is no sunlight on the mirrors.')] : [];
  const height = bottom + 28;
  const svg = svgDocument(width, height, [top.markup, ...parts, axis, ...ticks, ...empty]);
  return { svg, width, height, areas: [] };
}

/** @returns rows for a table: line, watts, per cent of the sunlight, rays */
export function lossRows(ledger: Ledger): string[][] {
  const { available_w: available } = ledger;
  const rows = ledger.lines.map((line) => [
    plainText(line.label),
    formatFigure(line.power),
    available > 0 ? formatFigure(shareOf(line.power, available), { percent: true }) : '0 %',
    line.rays === null ? '' : formatCount(line.rays),
  ]);
  rows.push([
    'beam irradiance x mirror area',
    `${formatNumber(available, 5)} W`,
    '100 %',
    formatCount(ledger.rays),
  ]);
  return rows;
}
