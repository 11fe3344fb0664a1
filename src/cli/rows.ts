/** `rowfocus rows`: how far apart rows and dishes should stand, and what they take from one another by hour and month. */
import { type Command, InvalidArgumentError, Option } from 'commander';
import { parseNumber, parseRange } from '../study/range.js';
import type { HourTable } from '../study/rows-hours.js';
import type { PlaceStudy, SpacingAxis, SpacingStudy } from '../study/rows-study.js';
import { type FaultContext, UsageError } from './failure.js';
import { addReportOption, type PageFlags } from './page-output.js';
import { addYearOptions, type OpenYear, type YearFlags } from './season-options.js';
import type { Session } from './session.js';
import { runYear } from './year-command.js';

export interface RowsFlags extends YearFlags, PageFlags {
  readonly spacing?: readonly number[];
  readonly pitch?: readonly number[];
  readonly land: readonly number[];
}

export interface RowsFound {
  /** At the scene's own distances. */
  readonly hours: HourTable;
  /** Null where an interrupt came first. */
  readonly spacing: SpacingStudy | null;
  /** Null where an interrupt came first, or where no dish has a receiver of its own. */
  readonly places: PlaceStudy | null;
  readonly axis: SpacingAxis;
  /** Distances to try. */
  readonly wanted: number;
  /** Whether an interrupt has left something out. */
  readonly interrupted: boolean;
}

const RAYS = 2 ** 14;
const MOST_SPACINGS = 40;

/** @throws InvalidArgumentError */
function parseMetres(text: string): readonly number[] {
  const range = parseRange(text.trim());
  if (!range.ok) throw new InvalidArgumentError(range.message);
  const values = [...range.value].sort((a, b) => a - b);
  if (values[0] <= 0) throw new InvalidArgumentError('All values must be above 0.');
  if (values.length > MOST_SPACINGS) throw new InvalidArgumentError(`At most ${MOST_SPACINGS} values.`);
  return values;
}

/** @throws InvalidArgumentError */
function parseLand(text: string): readonly number[] {
  const prices = text.split(',').map(parseNumber);
  if (prices.length > 6 || prices.some((price) => price === null || price < 0)) {
    throw new InvalidArgumentError(
      'Expected up to six prices from 0 on, kWh a year for each m2 of land: 0,10,30.',
    );
  }
  return prices.filter((price) => price !== null);
}

export function addRowsCommand(
  program: Command,
  session: Session,
  finish: (code: number) => void,
  context: (known: Partial<FaultContext>) => void,
): void {
  const command = program
    .command('rows')
    .summary('how far apart rows and dishes should stand')
    .description(
      'Energy of a year against the distance of rows (or of dishes in a row), weighed against the land it takes; shading and blocking ' +
        'by hour and month; dishes at the ends of rows beside those between.',
    )
    .argument('<scene>', 'scene file, or - for standard input')
    .addOption(
      new Option('--spacing <from:to:step>', 'distances from row to row to try, m: 2:5:0.25').argParser(
        parseMetres,
      ),
    )
    .addOption(
      new Option('--pitch <from:to:step>', 'distances from dish to dish to try, m')
        .argParser(parseMetres)
        .conflicts('spacing'),
    )
    .addOption(
      new Option('--land <prices>', 'prices of land to weigh with, kWh of heat a year for each m2')
        .argParser(parseLand)
        .default([0, 20, 60], '0,20,60'),
    );
  addReportOption(addYearOptions(command, RAYS))
    .addHelpText(
      'after',
      `
Examples:
  rowfocus rows scene.yaml --spacing 2:5:0.25
  rowfocus rows scene.yaml --pitch 1.2:2:0.1 --land 0,40 --out pitch --report pitch.html

Worth of a m2 of mirror = heat it catches in a year (kWh) - price of land (kWh a year for each m2) x land for a m2 of mirror (m2);
land for a m2 of mirror = row spacing x pitch / mirror area of a dish, as in a large field.
Ctrl-C keeps the distances that are finished (exit code 130).`,
    )
    .action(async (path: string, flags: RowsFlags) => {
      context({ seed: flags.seed });
      finish(await runRows(path, flags, session, context));
    });
}

async function runRows(
  path: string,
  flags: RowsFlags,
  session: Session,
  context: (known: Partial<FaultContext>) => void,
): Promise<number> {
  const [axis, values]: readonly [SpacingAxis, readonly number[] | undefined] =
    flags.pitch === undefined ? ['spacing', flags.spacing] : ['pitch', flags.pitch];
  if (values === undefined) {
    throw new UsageError(
      'give the distances to try: --spacing from:to:step for rows, or --pitch from:to:step for dishes',
    );
  }
  return runYear(path, flags, session, context, {
    study: (opened) => study(opened, flags, axis, values, session),
    report: async (found, opened) => {
      const { rowsReport } = await import('./rows-text.js');
      return rowsReport(found, opened, flags, session);
    },
  });
}

/** @throws UsageError */
function refuseScene({ scene }: OpenYear, axis: SpacingAxis): void {
  if (scene.rows.length === 0) throw new UsageError('the scene has no rows');
  if (axis === 'spacing' && scene.rows.every(({ rows }) => rows < 2)) {
    throw new UsageError(
      `the scene has single rows only; --spacing needs some behind one another, e.g. --set rows.${scene.rows[0].name}.rows=3 ` +
        `--set rows.${scene.rows[0].name}.row_spacing_m=3, or try --pitch`,
    );
  }
  if (axis === 'pitch' && scene.rows.every(({ dishes }) => dishes < 2)) {
    throw new UsageError('the rows have one dish each: there is no pitch to vary');
  }
}

/** A range of 1.2:2:0.1 may begin a rounding error below a dish of 1.2 m. */
const ROUNDING_M = 1e-9;

/** @throws UsageError where mirrors would stand in one another: what they catch would be counted twice */
function refuseOverlap(axis: SpacingAxis, values: readonly number[], least: number): void {
  if (!(values[0] < least - ROUNDING_M)) return;
  const from = Math.ceil(1000 * least - 1000 * ROUNDING_M) / 1000;
  const [option, what] =
    axis === 'pitch'
      ? ['--pitch', `the dishes are ${from} m long`]
      : ['--spacing', `the dishes are ${from} m deep, seen from above`];
  throw new UsageError(
    `${option}: at ${Number(values[0].toPrecision(4))} m mirrors would overlap: ${what}; begin at ${from} or more`,
  );
}

async function study(
  opened: OpenYear,
  flags: RowsFlags,
  axis: SpacingAxis,
  values: readonly number[],
  session: Session,
): Promise<RowsFound> {
  refuseScene(opened, axis);
  const [
    { checkSpacings, leastDistance, studyPlaces, studySpacing },
    { samplePlaces },
    { tableHeading },
    { studyHours },
  ] = await Promise.all([
    import('../study/rows-study.js'),
    import('../study/season-sample.js'),
    import('../study/optics-table-angles.js'),
    import('../study/rows-hours.js'),
  ]);
  const { scene, mode, pool, progress, clock } = opened;
  refuseOverlap(axis, values, leastDistance(scene, axis));
  checkSpacings(scene, axis, values);
  const { season } = opened;
  const places = samplePlaces(season.points, tableHeading(scene));
  const options = {
    mode,
    places,
    seed: flags.seed,
    rays: flags.rays,
    pool,
    stop: session.stop,
    onNodes: progress.nodes,
  };
  progress.stage('hours and months');
  const hours = await studyHours({
    scene,
    mode,
    season,
    seed: flags.seed,
    rays: flags.rays,
    tolerance: flags.to,
    pool,
    stop: session.stop,
    onNodes: progress.nodes,
    hourOf: (time) => Math.floor(clock.read(time).seconds / 3600),
  });
  const year = hours.total.caught_per_m2;
  progress.stage('distances');
  const spacing = await studySpacing(scene, axis, values, flags.land, year, options);
  progress.stage('places in the row');
  const own = scene.rows.some(({ receiver }) => receiver === null);
  const ends = own ? await studyPlaces(scene, year, options) : null;
  const whole = spacing?.points.length === values.length && (ends !== null || !own);
  return { hours, spacing, places: ends, axis, wanted: values.length, interrupted: !whole };
}
