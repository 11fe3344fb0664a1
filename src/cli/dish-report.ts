/** A dish's proportions as their command reports them: text, CSV and a picture. */
import { createColors } from 'picocolors';
import { type CsvCell, toCsv } from '../report/csv.js';
import { plainText } from '../report/plain-text.js';
import type { YearCurves } from '../report/season-curves.js';
import { formatFigure, formatNumber, halfWidth } from '../result/number-format.js';
import { DESIGN_AXES, type DesignAxis, type DesignStudy, designCurve } from '../study/season-design.js';
import { yearCautions, yearHead, yearWarnings } from '../study/season-result.js';
import type { DishFlags } from './dish.js';
import { type OpenYear, yearContext } from './season-options.js';
import type { YearReport } from './season-output.js';
import { noticesText, PARTIAL_COLUMN, receiversText } from './season-text.js';
import type { Session } from './session.js';
import { textTable } from './text-table.js';

/** What the study is of, in words. */
export interface DishWords {
  readonly title: string;
  /** The day or the year, and what the receivers do. */
  readonly when: string;
  readonly sky: string;
  readonly site: string;
  readonly seed: string;
}

function withUnit({ axis }: DesignStudy, value: number): string {
  const { unit } = DESIGN_AXES[axis];
  return `${formatNumber(value, 4)}${unit === '1' ? '' : ` ${unit}`}`;
}

/** Heads of a table's first column where the axis is no word for it. */
const COLUMN_HEADS: Partial<Record<DesignAxis, string>> = {
  receiver: 'opening\nmm',
  strip_width: 'strip width\nmm',
};

/** What must be said of an axis beside its numbers. */
const AXIS_NOTES: Partial<Record<DesignAxis, string>> = {
  strip_width:
    'Shares are of the mirrors that each dish has: wider strips are more mirror and may catch more heat with a smaller share of it.',
};

/** Whether the best is better than the scene's own. */
function verdictOf(study: DesignStudy): string {
  const { fresh_gain_fraction: gain, gain_is_sure, own } = study;
  if (study.best === own) return "That is the scene's own.";
  if (gain === null) return 'It was not traced anew with fresh rays.';
  const text = formatFigure(gain, { percent: true });
  const against = `Against the scene's own ${withUnit(study, own)} fresh rays show ${text}`;
  if (gain.ci95[1] < 0) return `${against}: the scene's own is better.`;
  return gain_is_sure
    ? `Traced anew with fresh rays it catches ${text} more than the scene's own ${withUnit(study, own)}.`
    : `${against}: no gain that can be told from noise.`;
}

/** @returns the best of the values and how far one may stray from it, a sentence each */
export function dishAnswer(study: DesignStudy): readonly string[] {
  const { flat, flat_ends_seen: seen } = study;
  const range = `${seen[0] ? '' : 'at most '}${withUnit(study, flat[0])} to ${seen[1] ? '' : 'at least '}${withUnit(study, flat[1])}`;
  return [
    `Best of those tried: ${withUnit(study, study.best)}. ${verdictOf(study)}`,
    `Within 1 % of it: ${range}, on a curve through those tried.`,
  ];
}

/** What an interrupt has left; null where all is there. */
function interruptedText(study: DesignStudy, wanted: number): string | null {
  if (study.fresh_gain_fraction !== null) return null;
  const { length } = study.points;
  return length < wanted
    ? `Interrupted: only the ${length} of ${wanted} values that were finished are given.`
    : 'Interrupted: the best value was not traced anew.';
}

export function dishCsv({ axis, points, fresh_gain_fraction }: DesignStudy): string {
  const partial = fresh_gain_fraction === null ? ['yes'] : [];
  return toCsv(
    [
      DESIGN_AXES[axis].unit === 'mm' ? `${axis}_mm` : axis,
      'caught_fraction',
      'caught_std_err',
      'gain_fraction',
      'gain_std_err',
      ...partial.map(() => PARTIAL_COLUMN),
    ],
    points.map(({ value, caught_fraction, gain_fraction }): CsvCell[] => [
      value,
      caught_fraction.value,
      caught_fraction.std_err,
      gain_fraction.value,
      gain_fraction.std_err,
      ...partial,
    ]),
  );
}

/** The values as people read them: value, share caught, and what sets it apart from the scene's own; per cent. */
export function dishRows({ points }: DesignStudy): string[][] {
  return points.map(({ value, caught_fraction, gain_fraction }) => [
    formatNumber(value, 4),
    `${(100 * caught_fraction.value).toFixed(2)} ± ${(100 * halfWidth(caught_fraction)).toFixed(2)}`,
    `${(100 * gain_fraction.value).toFixed(2).replace(/^-0\.00$/, '0.00')} ± ${(100 * halfWidth(gain_fraction)).toFixed(2)}`,
  ]);
}

function axisNote({ axis }: DesignStudy): readonly string[] {
  const note = AXIS_NOTES[axis];
  return note === undefined ? [] : [note];
}

export function dishCurves(study: DesignStudy, { title, when, site, seed, sky }: DishWords): YearCurves {
  const { points, flat, best } = study;
  const { label, unit } = DESIGN_AXES[study.axis];
  return {
    title: `Energy against ${label}`,
    subtitles: [title, `${when} · ${site} · seed ${seed}`, `sky: ${sky}`],
    xLabel: `${label}${unit === '1' ? '' : ` / ${unit}`}`,
    yLabel: 'caught / (% of DNI x mirror area)',
    curves: [
      {
        label: 'caught, error bars 95 %',
        x: points.map(({ value }) => value),
        y: points.map(({ caught_fraction }) => 100 * caught_fraction.value),
        halfWidth: points.map(({ caught_fraction }) => 100 * halfWidth(caught_fraction)),
        line: designCurve(points).map(([value, share]) => [value, 100 * share]),
      },
    ],
    flat: { from: flat[0], to: flat[1], label: 'within 1 % of the best, on the curve' },
    best: { x: best, label: `best of those tried: ${withUnit(study, best)}` },
    fromZero: false,
    notes: [verdictOf(study), ...axisNote(study)],
  };
}

export function dishReport(
  study: DesignStudy,
  opened: OpenYear,
  flags: DishFlags,
  { out }: Session,
): YearReport {
  const { scene, mode, sky } = opened;
  const { label, unit } = DESIGN_AXES[study.axis];
  const head = yearHead(yearContext(opened, flags));
  const interrupted = interruptedText(study, flags.vary.values.length);
  const body = {
    ...head,
    kind: 'dish',
    date: flags.date ?? null,
    unit,
    study,
    interrupted: interrupted !== null,
    warnings: yearWarnings(sky, null),
    cautions: yearCautions(),
  };
  const words: DishWords = {
    title: scene.title,
    when: `${flags.date ?? String(flags.year)}, ${receiversText(mode.kind)}`,
    sky: head.sky,
    site: head.site.name,
    seed: flags.seed,
  };
  const { bold, yellow } = createColors(out.colour);
  const text = [
    bold(plainText(`${scene.title}: ${label}`)),
    plainText(`${words.when}; ${words.site}.`),
    plainText(`Sky: ${words.sky}.`),
    ...(interrupted === null ? [] : [yellow(interrupted)]),
    '',
    ...dishAnswer(study),
    '',
    textTable(
      [COLUMN_HEADS[study.axis] ?? study.axis, 'caught\n% of DNI x area', 'against the own\n%'],
      dishRows(study),
      out.colour,
    ),
    '',
    ...axisNote(study),
    '± is the 95 % half width of the rays alone. All values are traced at the same sun positions with the same random numbers.',
    noticesText(body, out),
  ].join('\n');
  return {
    command: 'dish',
    body,
    interrupted,
    answer: dishAnswer(study),
    text,
    files: async () => {
      const { yearCurvesPng } = await import('../report/season-curves.js');
      return [
        { what: 'dish_table', file: 'dish.csv', make: () => dishCsv(study) },
        { what: 'dish_figure', file: 'dish.png', make: () => yearCurvesPng(dishCurves(study, words)) },
      ];
    },
    sections: async () => {
      const { dishSection } = await import('./dish-sections.js');
      return [dishSection(study, words)];
    },
  };
}
