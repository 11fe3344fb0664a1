/** `rowfocus season`: the energy of a year, and where the rest of the sunlight goes. */
import { type Command, Option } from 'commander';
import type { SeasonResult } from '../study/season-types.js';
import { type FaultContext, UsageError } from './failure.js';
import { addReportOption, type PageFlags } from './page-output.js';
import { addYearOptions, type OpenYear, type YearFlags, yearContext } from './season-options.js';
import {
  parseReset,
  parseResettings,
  parseSettings,
  type ResettingFlags,
} from './season-resetting-options.js';
import type { Session } from './session.js';
import { runYear } from './year-command.js';

export type SeasonFlags = YearFlags & ResettingFlags & PageFlags;

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
  rowfocus season scene.yaml --resettings 6 --out resettings --report resettings.html
  rowfocus season scene.yaml --move along --resettings 4 --reset tilt,across
  rowfocus season scene.yaml --receivers on-track --path="-900,0,-120 0,0,0 900,0,-120"

The sky comes from the key "sky" of the scene: a clear-sky formula or a weather file. Without it a clear sky is assumed, and said.
Energy is that of light through the openings, before the receivers' own losses of heat.
Ctrl-C under --resettings keeps the settings that are finished (exit code 130).`,
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
  const { resettings } = flags;
  if (resettings !== undefined) {
    const { resettingWork } = await import('./season-resetting.js');
    return runYear(path, flags, session, context, resettingWork(flags, resettings, session));
  }
  return runYear(path, flags, session, context, {
    study: (opened) => yearOf(opened, flags, session),
    report: async (result) => {
      const { seasonReport } = await import('./season-report.js');
      return seasonReport(result, session);
    },
  });
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
