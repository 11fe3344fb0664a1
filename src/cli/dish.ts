/** `rowfocus dish`: a dish's proportions against the energy of a day or a year. */
import { type Command, InvalidArgumentError, Option } from 'commander';
import { parseRange } from '../study/range.js';
import type { DesignAxis, DesignStudy } from '../study/season-design.js';
import type { CalendarDate } from '../sun/calendar.js';
import { dateOf } from './day.js';
import { type FaultContext, InterruptedError, UsageError } from './failure.js';
import { addReportOption, type PageFlags } from './page-output.js';
import { addYearOptions, type OpenYear, type YearFlags, yearFailure } from './season-options.js';
import type { Session } from './session.js';
import { runYear } from './year-command.js';

interface Varied {
  readonly axis: DesignAxis;
  readonly values: readonly number[];
}

export interface DishFlags extends YearFlags, PageFlags {
  readonly vary: Varied;
  readonly date?: string;
}

/** Rays of each sun position: designs share them, so that differences are known better than values. */
const RAYS = 2 ** 15;
const AXES: readonly DesignAxis[] = ['ratio', 'strips', 'strip_width', 'f_over_d', 'receiver'];
const USUAL: Varied = { axis: 'ratio', values: [0.8, 0.9, 1, 1.1, 1.2, 1.3, 1.4, 1.5, 1.6] };
const MOST_DESIGNS = 60;

/** @throws InvalidArgumentError */
function parseDesign(text: string): Varied {
  const equals = text.indexOf('=');
  const axis = AXES.find((name) => name === text.slice(0, equals).trim());
  if (axis === undefined) {
    throw new InvalidArgumentError(`Expected one of ${AXES.join(', ')}, as ratio=0.8:1.6:0.1.`);
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
        'ratio (focal length along the row to across it), strips (aperture kept), strip_width (mm, the number of strips kept), f_over_d, or receiver (opening, mm)',
      )
        .argParser(parseDesign)
        .default(USUAL, 'ratio=0.8:1.6:0.1'),
    )
    .option('--date <day>', 'one day, YYYY-MM-DD, in place of the year');
  addReportOption(addYearOptions(command, RAYS, 'following', ['to']))
    .addHelpText(
      'after',
      `
Examples:
  rowfocus dish scene.yaml --date 2026-03-20
  rowfocus dish scene.yaml --vary strips=3:15:2 --out strips
  rowfocus dish scene.yaml --vary strip_width=60:200:20
  rowfocus dish scene.yaml --vary receiver=120:300:20 --report opening.html

A mirror off its axis by the angle i has two foci, at f cos i and f / cos i. A ratio of 1 / cos^2 i brings them together at that angle,
and parts them at noon: how much that is worth over a day depends on the size of the opening.
Ctrl-C keeps the values that are finished (exit code 130).`,
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
  const year = date?.year ?? flags.year;
  return runYear(path, { ...flags, year }, session, context, {
    study: (opened) => studyOf(opened, flags, date, session),
    failure: (error) =>
      error instanceof Error && error.name === 'StudyStopped'
        ? new InterruptedError('Interrupted before the first value was finished; there is nothing to report.')
        : yearFailure(error),
    report: async (study, opened) => {
      const { dishReport } = await import('./dish-report.js');
      return dishReport(study, opened, { ...flags, year }, session);
    },
  });
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
  const [
    { studyDesign, withDesign },
    { samplePlaces },
    { tableHeading },
    { dayOfYear },
    { layOut },
    { standsFree },
  ] = await Promise.all([
    import('../study/season-design.js'),
    import('../study/season-sample.js'),
    import('../study/optics-table-angles.js'),
    import('../sun/calendar.js'),
    import('../field/layout.js'),
    import('../study/rows-study.js'),
  ]);
  // What cannot be built is told before anything is traced.
  for (const value of flags.vary.values) {
    const changed = withDesign(scene, flags.vary.axis, value);
    if (changed.dishes.some(({ strips }) => !(strips.width > 0))) {
      throw new UsageError(`--vary: ${value} strips leave no width between their gaps`);
    }
    if (standsFree(scene) && !standsFree(changed)) {
      throw new UsageError(
        `--vary: at ${value} mm dishes would stand in their neighbours; widen pitch or row spacing`,
      );
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
