/** `rowfocus track`: where the receivers stand by half hour and season, and the tracks that can be built for it. */
import { type Command, InvalidArgumentError, Option } from 'commander';
import type { TrackResult } from '../study/day-track-types.js';
import { dateOf, dayFailure, noticesOnce, openSky } from './day.js';
import { parseAbove, parseEvery } from './day-options.js';
import { type FaultContext, InterruptedError, UsageError } from './failure.js';
import { addReportOption, openPage, type PageFlags, pageText } from './page-output.js';
import { addRunOptions, type RunDefaults, type RunFlags, raysWanted } from './run-options.js';
import { openScene } from './scene-file.js';
import { EXIT, type Session, say } from './session.js';
import { openRun } from './study-run.js';

interface TrackFlags extends RunFlags, PageFlags {
  readonly year: number;
  readonly dates?: string;
  readonly zone?: string;
  readonly every: number;
  readonly above: number;
  readonly retilt?: boolean;
}

/** No maps are kept, so rays do: powers alone are compared. */
const DEFAULTS: RunDefaults = { deposit: 'rays', rays: 2 ** 16, points: 2 ** 13 };
const SEARCH_RAYS = 2 ** 14;
const DEGREE = Math.PI / 180;
/** Where no year is asked for: the sun's way on a date differs by a few hundredths of a degree between years. */
const USUAL_YEAR = 2026;
const MOST_DATES = 24;

export function addTrackCommand(
  program: Command,
  session: Session,
  finish: (code: number) => void,
  context: (known: Partial<FaultContext>) => void,
): void {
  const command = program
    .command('track')
    .summary('where the receivers stand by half hour and season; tracks to build')
    .description(
      'Finds the best place of the receivers by half hour and season, traces the scene again at each place of the table, and fits ' +
        'tracks that can be built: level, tilted, an arc, two straight pieces; each with what it loses.',
    )
    .argument('<scene>', 'scene file, or - for standard input')
    .addOption(
      new Option(
        '--dates <days>',
        'days in place of the solstices, an equinox and the 21st between: 2026-03-20,2026-06-21; days with the sun on one way are merged',
      ).conflicts('year'),
    )
    .addOption(
      new Option('--year <year>', 'year of the usual days')
        .argParser(parseYear)
        .default(USUAL_YEAR, String(USUAL_YEAR)),
    )
    .option(
      '--zone <clock>',
      "clock to give beside sun time in place of the site's: a time zone name, +02:00, solar, mean_solar",
    )
    .addOption(
      new Option('--every <minutes>', 'minutes between rows').argParser(parseEvery).default(30 * 60, '30'),
    )
    .addOption(
      new Option('--above <degrees>', 'leave out times with the sun lower than this')
        .argParser(parseAbove)
        .default(15 * DEGREE, '15'),
    );
  command.option(
    '--retilt',
    'turn the dishes for each season so that at noon their light goes to where the scene has the receivers (else they stay as set)',
  );
  addReportOption(addRunOptions(command, DEFAULTS))
    .addHelpText(
      'after',
      `
Examples:
  rowfocus track scene.yaml --out track
  rowfocus track scene.yaml --report track.html
  rowfocus track scene.yaml --retilt --out retilted
  rowfocus track scene.yaml --dates 2026-03-20,2026-06-21 --every 60 --json

The table goes by true solar time, as days with the sun on the same way share it; the clock of the site stands beside it. The sky
is taken without clouds: where the scene has a weather file, a clear-sky formula stands in for it. With --out: track.csv,
tracks.csv (tracks to build), track-sheet-1.png ... (to print, A4), track-path.png and result.json. The line "path" of each
track can be given to "rowfocus day --receivers on-track --path". Ctrl-C keeps the rows that are finished.

Caution: the spot of a still mirror moves on its own, about 15 degrees of sun an hour. A receiver that is parked, late or lost leaves
it to whatever stands on the spot's way: it burns, and it sets on fire.`,
    )
    .action(async (path: string, flags: TrackFlags) => {
      context({ seed: flags.seed });
      finish(await runTrack(path, flags, session, context));
    });
}

/** @throws InvalidArgumentError */
function parseYear(text: string): number {
  const year = /^\d{4}$/.test(text.trim()) ? Number(text) : Number.NaN;
  if (!(year >= 1950 && year <= 2099)) throw new InvalidArgumentError('Allowed: 1950 to 2099.');
  return year;
}

async function runTrack(
  path: string,
  flags: TrackFlags,
  session: Session,
  context: (known: Partial<FaultContext>) => void,
): Promise<number> {
  const texts = flags.dates?.split(',') ?? [];
  if (texts.length > MOST_DATES) throw new UsageError(`--dates takes up to ${MOST_DATES} days`);
  const dates = [];
  for (const text of texts) dates.push(await dateOf(text, '--dates'));
  await openPage(flags.report, '--report');
  const loaded = await openScene(path, flags.set ?? [], session);
  const { scene } = loaded;
  context({ sceneHash: scene.hash });
  // A date stands for some 50 days: its clouds in a weather file would leave times out of the table.
  const { clock, sky } = await openSky(scene, path, flags.zone, false);
  const [{ seasonsOfDates, usualSeasons }, { studyTrack }, { clockOf }] = await Promise.all([
    import('../study/day-seasons.js'),
    import('../study/day-track.js'),
    import('../sun/clock.js'),
  ]);
  if (flags.out !== undefined) {
    const { openFolder } = await import('./trace-files.js');
    await openFolder(flags.out);
  }
  const { site } = scene;
  if (site === null) throw new UsageError('the scene has no site');
  let result: TrackResult;
  let machine: { wall_time_s: number; workers: number };
  try {
    const seasons = dates.length > 0 ? seasonsOfDates(site, dates) : usualSeasons(site, flags.year);
    const { every, above } = flags;
    const perSeason = Math.ceil((12 * 3600) / every);
    const sized = flags.to === undefined ? { ...flags, rays: raysWanted(flags, DEFAULTS) } : flags;
    const opened = await openRun(sized, session, 2 * seasons.length * perSeason);
    if (flags.quiet !== true && session.err.isTerminal)
      say(session, `looking for places on ${seasons.length} days`);
    try {
      result = await studyTrack({
        scene,
        run: opened.run,
        runOptions: noticesOnce(opened.options),
        sky,
        clock,
        solarClock: clockOf(site, { kind: 'solar' }),
        seasons,
        year: dates[0]?.year ?? flags.year,
        every,
        above,
        searchRays: SEARCH_RAYS,
        retilt: flags.retilt === true,
        onRow: () => {
          opened.nextScene();
          opened.nextScene();
        },
      });
    } finally {
      await opened.close();
    }
    machine = opened.machine();
  } catch (error) {
    throw dayFailure(error);
  }
  if (result.rows.length === 0) {
    throw new InterruptedError('Interrupted before the first place was traced; there is nothing to report.');
  }
  const [{ reportTrack }, { dishBoxOf }] = await Promise.all([
    import('./track-output.js'),
    import('./day-pictures.js'),
  ]);
  try {
    await reportTrack(result, dishBoxOf(scene), flags, machine, session);
  } finally {
    // Files that could not be written are no reason to lose the page too.
    if (flags.report !== undefined) {
      const { writeTrackPage } = await import('./track-sections.js');
      await writeTrackPage(flags.report, loaded, result, flags, machine);
      if (flags.json !== true) session.out.write(`\n${pageText(flags.report)}`);
    }
  }
  return result.interrupted ? EXIT.interrupted : EXIT.done;
}
