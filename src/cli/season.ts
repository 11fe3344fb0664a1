/** `rowfocus season`: the energy of a year, and where the rest of the sunlight goes. */
import { type Command, Option } from 'commander';
import type { SeasonResult } from '../study/season-types.js';
import { type FaultContext, UsageError } from './failure.js';
import { addReportOption, openPage, type PageFlags, pageText } from './page-output.js';
import {
  addYearOptions,
  type OpenYear,
  openYear,
  type YearFlags,
  yearContext,
  yearFailure,
} from './season-options.js';
import {
  parseReset,
  parseResettings,
  parseSettings,
  type ResettingFlags,
} from './season-resetting-options.js';
import { EXIT, type Session } from './session.js';

type SeasonFlags = YearFlags & ResettingFlags & PageFlags;

/** Rays of each sun position traced. */
const RAYS = 2 ** 13;

export function addSeasonCommand(
  program: Command,
  session: Session,
  finish: (code: number) => void,
  context: (known: Partial<FaultContext>) => void,
): void {
  const command = program
    .command('season')
    .summary('energy caught over a year, month by month, and where the rest goes')
    .description(
      'Traces the scene where the sun goes in a year, at as many positions as the answer needs, and adds up: energy caught per month, ' +
        'and what goes to the cosine, shading, film, blocking and spill.',
    )
    .argument('<scene>', 'scene file, or - for standard input');
  addReportOption(addYearOptions(command, RAYS))
    .addOption(
      new Option(
        '--resettings <number>',
        'plan the days on which the setting is changed: up to so many a year, or on given days: 03-10,10-01',
      ).argParser(parseResettings),
    )
    .addOption(
      new Option(
        '--reset <what>',
        'with --resettings: tilt of the mirrors, receivers across or up; several, separated by commas, are compared',
      ).argParser(parseReset),
    )
    .addOption(
      new Option(
        '--settings <from:to:step>',
        'with --resettings: settings tried, degrees or mm (default: as far as the noon sun of both solstices asks for, in steps that the opening forgives)',
      ).argParser(parseSettings),
    )
    .addHelpText(
      'after',
      `
Examples:
  rowfocus season scene.yaml
  rowfocus season scene.yaml --receivers held --tilt -10 --out held
  rowfocus season scene.yaml --report year.html
  rowfocus season scene.yaml --resettings 6 --out resettings
  rowfocus season scene.yaml --move along --resettings 4 --reset tilt,across
  rowfocus season scene.yaml --receivers on-track --path="-900,0,-120 0,0,0 900,0,-120"

The sky comes from the key "sky" of the scene: a clear-sky formula or a weather file. Without it a clear sky is assumed, and said.
Energy is that of light through the openings, before the receivers' own losses of heat.`,
    )
    .action(async (path: string, flags: SeasonFlags) => {
      context({ seed: flags.seed });
      finish(await runSeason(path, flags, session, context));
    });
}

async function runSeason(
  path: string,
  flags: SeasonFlags,
  session: Session,
  context: (known: Partial<FaultContext>) => void,
): Promise<number> {
  if (flags.resettings === undefined && (flags.reset !== undefined || flags.settings !== undefined)) {
    throw new UsageError("options '--reset' and '--settings' go with '--resettings'");
  }
  if (flags.resettings !== undefined && flags.report !== undefined) {
    throw new UsageError("option '--resettings' writes no page yet; leave '--report' away and use '--out'");
  }
  await openPage(flags.report, '--report');
  const opened = await openYear(path, flags, session);
  context({ sceneHash: opened.scene.hash });
  if (flags.resettings !== undefined) {
    const { runResettings } = await import('./season-resetting.js');
    await runResettings(opened, flags, flags.resettings, session);
    return EXIT.done;
  }
  let result: SeasonResult;
  try {
    result = await yearOf(opened, flags, session);
  } catch (error) {
    throw yearFailure(error);
  } finally {
    await opened.close();
  }
  const { reportSeason } = await import('./season-output.js');
  const machine = opened.machine();
  try {
    await reportSeason(result, flags, machine, session);
  } finally {
    // Files that could not be written are no reason to lose the page too.
    if (flags.report !== undefined) {
      const { writeSeasonPage } = await import('./season-sections.js');
      await writeSeasonPage(flags.report, path, result, flags, machine, session);
      if (flags.json !== true) session.out.write(`\n${pageText(flags.report)}`);
    }
  }
  return EXIT.done;
}

async function yearOf(opened: OpenYear, flags: YearFlags, session: Session): Promise<SeasonResult> {
  const [{ studySeason }, { seasonResult }] = await Promise.all([
    import('../study/season.js'),
    import('../study/season-result.js'),
  ]);
  const { scene, mode, season, pool, progress } = opened;
  const study = await studySeason({
    scene,
    mode,
    season,
    seed: flags.seed,
    rays: flags.rays,
    tolerance: flags.to,
    pool,
    stop: session.stop,
    onNodes: progress.nodes,
  });
  return seasonResult(study, yearContext(opened, flags));
}
