/** `rowfocus dish`: a dish's proportions against the energy of a day or a year. */
import { type Command, InvalidArgumentError, Option } from 'commander';
import { createColors } from 'picocolors';
import { type CsvCell, toCsv } from '../report/csv.js';
import { plainText } from '../report/plain-text.js';
import { formatFigure, formatNumber, halfWidth } from '../result/number-format.js';
import { parseRange } from '../study/range.js';
import type { DesignAxis, DesignStudy } from '../study/season-design.js';
import type { CalendarDate } from '../sun/calendar.js';
import { dateOf } from './day.js';
import { type FaultContext, UsageError } from './failure.js';
import {
  addYearOptions,
  type OpenYear,
  openYear,
  type YearFlags,
  yearContext,
  yearFailure,
} from './season-options.js';
import { reportYear, type YearFile } from './season-output.js';
import { noticesText, receiversText } from './season-text.js';
import { EXIT, type Session } from './session.js';
import { textTable } from './text-table.js';

interface Varied {
  readonly axis: DesignAxis;
  readonly values: readonly number[];
}

interface DishFlags extends YearFlags {
  readonly vary: Varied;
  readonly date?: string;
}

/** Rays of each sun position: designs share them, so that differences are known better than values. */
const RAYS = 2 ** 15;
const AXES: readonly DesignAxis[] = ['ratio', 'strips', 'f_over_d', 'receiver'];
const USUAL: Varied = { axis: 'ratio', values: [0.8, 0.9, 1, 1.1, 1.2, 1.3, 1.4, 1.5, 1.6] };
const MOST_DESIGNS = 60;

/** @throws InvalidArgumentError */
function parseDesign(text: string): Varied {
  const equals = text.indexOf('=');
  const axis = AXES.find((name) => name === text.slice(0, equals).trim());
  if (axis === undefined) {
    throw new InvalidArgumentError(
      'Expected one of ratio, strips, f_over_d, receiver, as ratio=0.8:1.6:0.1.',
    );
  }
  const range = parseRange(text.slice(equals + 1).trim());
  if (!range.ok) throw new InvalidArgumentError(range.message);
  const values = [...range.value].sort((a, b) => a - b);
  if (values[0] <= 0) throw new InvalidArgumentError('All values must be above 0.');
  if (axis === 'strips' && values.some((value) => !Number.isInteger(value))) {
    throw new InvalidArgumentError('Strips are counted: take whole numbers.');
  }
  if (values.length > MOST_DESIGNS) throw new InvalidArgumentError(`At most ${MOST_DESIGNS} values.`);
  return { axis, values };
}

export function addDishCommand(
  program: Command,
  session: Session,
  finish: (code: number) => void,
  context: (known: Partial<FaultContext>) => void,
): void {
  const command = program
    .command('dish')
    .summary("a dish's proportions against the energy of a day or a year")
    .description(
      'Traces the scene at sun positions that stand for a year (or all of a day) with one proportion of its dishes changed: which value ' +
        'catches most, how far one may stray from it, and what it gains on the scene as it is, traced anew with fresh rays.',
    )
    .argument('<scene>', 'scene file, or - for standard input')
    .addOption(
      new Option(
        '--vary <what=from:to:step>',
        'ratio (focal length along the row to across it), strips (aperture kept), f_over_d, or receiver (opening, mm)',
      )
        .argParser(parseDesign)
        .default(USUAL, 'ratio=0.8:1.6:0.1'),
    )
    .option('--date <day>', 'one day, YYYY-MM-DD, in place of the year');
  addYearOptions(command, RAYS, 'following', ['to'])
    .addHelpText(
      'after',
      `
Examples:
  rowfocus dish scene.yaml --date 2026-03-20
  rowfocus dish scene.yaml --vary strips=3:15:2 --out strips
  rowfocus dish scene.yaml --vary receiver=120:300:20

A mirror off its axis by the angle i has two foci, at f cos i and f / cos i. A ratio of 1 / cos^2 i brings them together at that angle,
and parts them at noon: how much that is worth over a day depends on the size of the opening.`,
    )
    .action(async (path: string, flags: DishFlags) => {
      context({ seed: flags.seed });
      finish(await runDish(path, flags, session, context));
    });
}

async function runDish(
  path: string,
  flags: DishFlags,
  session: Session,
  context: (known: Partial<FaultContext>) => void,
): Promise<number> {
  const date = flags.date === undefined ? null : await dateOf(flags.date, '--date');
  const opened = await openYear(path, { ...flags, year: date?.year ?? flags.year }, session);
  context({ sceneHash: opened.scene.hash });
  let study: DesignStudy;
  try {
    study = await studyOf(opened, flags, date, session);
  } catch (error) {
    throw yearFailure(error);
  } finally {
    await opened.close();
  }
  await report(study, opened, flags, session);
  return EXIT.done;
}

async function studyOf(
  opened: OpenYear,
  flags: DishFlags,
  date: CalendarDate | null,
  session: Session,
): Promise<DesignStudy> {
  const { scene, mode, pool, progress, season } = opened;
  if (scene.dishes.length === 0) throw new UsageError('the scene has no dishes, only facets placed by hand');
  if (flags.vary.axis === 'receiver' && scene.dishes.some(({ receiver }) => receiver === null)) {
    throw new UsageError('the dishes have no receivers of their own, so their opening cannot be varied here');
  }
  const [{ studyDesign, withDesign }, { samplePlaces }, { tableHeading }, { dayOfYear }, { layOut }] =
    await Promise.all([
      import('../study/season-design.js'),
      import('../study/season-sample.js'),
      import('../study/optics-table-angles.js'),
      import('../sun/calendar.js'),
      import('../field/layout.js'),
    ]);
  // What cannot be built is told before anything is traced.
  for (const value of flags.vary.values) {
    const changed = withDesign(scene, flags.vary.axis, value);
    if (changed.dishes.some(({ strips }) => !(strips.width > 0))) {
      throw new UsageError(`--vary: ${value} strips leave no width between their gaps`);
    }
    layOut(changed);
  }
  const day = date === null ? null : dayOfYear(date) - 1;
  const points = season.points.filter((point) => day === null || point.day === day);
  const places = samplePlaces(points, tableHeading(scene));
  if (places.length === 0)
    throw new UsageError('the sun is not up on that day, or the sky knows nothing of it');
  return studyDesign(scene, flags.vary.axis, flags.vary.values, {
    mode,
    places,
    seed: flags.seed,
    rays: flags.rays,
    pool,
    stop: session.stop,
    onNodes: progress.nodes,
  });
}

async function report(
  study: DesignStudy,
  opened: OpenYear,
  flags: DishFlags,
  session: Session,
): Promise<void> {
  const [{ DESIGN_AXES, designCurve }, { yearCautions, yearHead, yearWarnings }] = await Promise.all([
    import('../study/season-design.js'),
    import('../study/season-result.js'),
  ]);
  const { scene, mode, sky } = opened;
  const { label, unit } = DESIGN_AXES[study.axis];
  const head = yearHead(yearContext(opened, flags));
  const when = flags.date ?? String(flags.year);
  const body = {
    ...head,
    kind: 'dish',
    date: flags.date ?? null,
    unit,
    study,
    warnings: yearWarnings(sky, null),
    cautions: yearCautions(),
  };
  const suffix = unit === '1' ? '' : ` ${unit}`;
  const number = (value: number): string => `${formatNumber(value, 4)}${suffix}`;
  const { bold } = createColors(session.out.colour);
  const gain = formatFigure(study.fresh_gain_fraction, { percent: true });
  const verdict = study.gain_is_sure
    ? `Traced anew with fresh rays it catches ${gain} more than the scene's own ${number(study.own)}.`
    : `Against the scene's own ${number(study.own)} fresh rays show ${gain}: no gain that can be told from noise.`;
  const rangeText = `${study.flat_ends_seen[0] ? '' : 'at most '}${number(study.flat[0])} to ${study.flat_ends_seen[1] ? '' : 'at least '}${number(study.flat[1])}`;
  const text = [
    bold(plainText(`${scene.title}: ${label}`)),
    plainText(`${when}, ${receiversText(mode.kind)}; ${head.site.name}.`),
    plainText(`Sky: ${head.sky}.`),
    '',
    `Best of those tried: ${number(study.best)}. ${verdict}`,
    `Within 1 % of it: ${rangeText}, on a curve through those tried.`,
    '',
    textTable(
      [
        study.axis === 'receiver' ? 'opening\nmm' : study.axis,
        'caught\n% of DNI x area',
        'against the own\n%',
      ],
      study.points.map(({ value, caught_fraction, gain_fraction }) => [
        formatNumber(value, 4),
        `${(100 * caught_fraction.value).toFixed(2)} ± ${(100 * halfWidth(caught_fraction)).toFixed(2)}`,
        `${(100 * gain_fraction.value).toFixed(2)} ± ${(100 * halfWidth(gain_fraction)).toFixed(2)}`,
      ]),
      session.out.colour,
    ),
    '',
    '± is the 95 % half width of the rays alone. All values are traced at the same sun positions with the same random numbers.',
    noticesText(body, session.out),
  ].join('\n');
  const figure = flags.out === undefined ? null : await import('../report/season-curves.js');
  const files: YearFile[] = [{ what: 'dish_table', file: 'dish.csv', make: () => csvOf(study) }];
  if (figure !== null) {
    files.push({
      what: 'dish_figure',
      file: 'dish.png',
      make: () =>
        figure.yearCurvesPng({
          title: `Energy against ${label}`,
          subtitles: [
            scene.title,
            `${when}, ${receiversText(mode.kind)} · ${head.site.name} · seed ${flags.seed}`,
            `sky: ${head.sky}`,
          ],
          xLabel: `${label}${unit === '1' ? '' : ` / ${unit}`}`,
          yLabel: 'caught / (% of DNI x mirror area)',
          curves: [
            {
              label: 'caught, error bars 95 %',
              x: study.points.map(({ value }) => value),
              y: study.points.map(({ caught_fraction }) => 100 * caught_fraction.value),
              halfWidth: study.points.map(({ caught_fraction }) => 100 * halfWidth(caught_fraction)),
              line: designCurve(study.points).map(([value, share]) => [value, 100 * share]),
            },
          ],
          flat: { from: study.flat[0], to: study.flat[1], label: 'within 1 % of the best, on the curve' },
          best: { x: study.best, label: `best of those tried: ${number(study.best)}` },
          fromZero: false,
          notes: [verdict],
        }),
    });
  }
  await reportYear(body, text, files, flags, opened.machine(), session);
}

function csvOf({ axis, points }: DesignStudy): string {
  return toCsv(
    [
      axis === 'receiver' ? 'receiver_mm' : axis,
      'caught_fraction',
      'caught_std_err',
      'gain_fraction',
      'gain_std_err',
    ],
    points.map(({ value, caught_fraction, gain_fraction }): CsvCell[] => [
      value,
      caught_fraction.value,
      caught_fraction.std_err,
      gain_fraction.value,
      gain_fraction.std_err,
    ]),
  );
}
