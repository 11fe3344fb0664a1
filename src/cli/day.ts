/** `rowfocus day`: a scene through a day, with its receivers held, following or on a track. */
import { type Command, Option } from 'commander';
import type { RunOptions } from '../run/types.js';
import type { Scene, TimeZoneSpec } from '../scene/types.js';
import type { DayMode, DayStudy } from '../study/day-types.js';
import type { Offset } from '../study/moving.js';
import type { Traced } from '../study/trace.js';
import { TRACK_KINDS, type TrackKind } from '../study/track-shape.js';
import type { CalendarDate } from '../sun/calendar.js';
import type { Clock } from '../sun/clock.js';
import type { Sky } from '../sun/sky.js';
import { parseAbove, parseAt, parseEvery, parsePath } from './day-options.js';
import { BadSceneError, type FaultContext, InterruptedError, UsageError } from './failure.js';
import { addReportOption, openPage, type PageFlags, pageText } from './page-output.js';
import { addRunOptions, type RunDefaults, type RunFlags, raysWanted } from './run-options.js';
import { openScene } from './scene-file.js';
import { EXIT, type Session } from './session.js';
import { openRun } from './study-run.js';

export interface DayFlags extends RunFlags, PageFlags {
  readonly date: string;
  readonly zone?: string;
  readonly every: number;
  readonly at?: readonly number[];
  readonly above: number;
  readonly receivers: 'held' | 'following' | 'on-track';
  readonly track?: TrackKind;
  readonly path?: readonly Offset[];
  readonly of?: string;
}

/** A step is one of many: fewer points than a single trace takes. */
const DEFAULTS: RunDefaults = { deposit: 'footprints', rays: 2 ** 18, points: 2 ** 14 };
/** Rays of recorded light for the search of a step. */
const SEARCH_RAYS = 2 ** 14;
const DEGREE = Math.PI / 180;

export function addDayCommand(
  program: Command,
  session: Session,
  finish: (code: number) => void,
  context: (known: Partial<FaultContext>) => void,
): void {
  const command = program
    .command('day')
    .summary('trace a scene through a day; move its receivers')
    .description(
      'Steps through a day by the clock of the site: sun, beam irradiance of the sky, and at each step power, peak flux, spill and ' +
        'spot, with the receivers held, following their spot, or on a track.',
    )
    .argument('<scene>', 'scene file, or - for standard input')
    .requiredOption('--date <day>', 'the day, YYYY-MM-DD')
    .option(
      '--zone <clock>',
      "clock to use in place of the site's: a time zone name, +02:00, solar, mean_solar",
    )
    .addOption(
      new Option('--every <minutes>', 'minutes between steps').argParser(parseEvery).default(30 * 60, '30'),
    )
    .addOption(new Option('--at <times>', 'steps at these clock times: 9:00,10:30,12:00').argParser(parseAt))
    .addOption(
      new Option('--above <degrees>', 'leave out steps with the sun lower than this')
        .argParser(parseAbove)
        .default(5 * DEGREE, '5'),
    )
    .addOption(
      new Option(
        '--receivers <how>',
        'held where the scene has them, following to the best place of each step, or on-track',
      )
        .choices(['held', 'following', 'on-track'])
        .default('held'),
    )
    .addOption(
      new Option(
        '--track <kind>',
        "with on-track: kind of track, fitted to the day's best places (default: arc)",
      ).choices(TRACK_KINDS),
    )
    .addOption(
      new Option(
        '--path <points>',
        'with on-track: the track itself, "ALONG,ACROSS,UP ALONG,ACROSS,UP ..." in mm from where the scene has the receivers',
      )
        .argParser(parsePath)
        .conflicts('track'),
    )
    .option('--of <receiver>', 'receiver whose spot and maps are shown (default: the middle one)');
  addReportOption(addRunOptions(command, DEFAULTS))
    .addHelpText(
      'after',
      `
Examples:
  rowfocus day scene.yaml --date 2026-03-20
  rowfocus day scene.yaml --date 2026-06-21 --receivers following --every 10 --out june
  rowfocus day scene.yaml --date 2026-06-21 --receivers following --report june.html
  rowfocus day scene.yaml --date 2026-12-21 --receivers on-track --track tilted --at 9:00,10:30,12:00
  rowfocus day scene.yaml --date 2026-03-20 --receivers on-track --path="-900,0,-120 0,0,0 900,0,-120"

Receivers of all dishes move alike. Places are looked for with other random numbers than the figures are traced with. Where the
catch is flat, the place nearest to its neighbours within 0.1 % of the best is taken, so that the run is smooth.
Ctrl-C keeps the steps that are finished (exit code 130).

Caution: the spot of a still mirror moves on its own, about 15 degrees of sun an hour. A receiver that is parked, late or lost leaves
it to whatever stands on the spot's way: it burns, and it sets on fire.`,
    )
    .action(async (path: string, flags: DayFlags) => {
      context({ seed: flags.seed });
      finish(await runDay(path, flags, session, context));
    });
}

function modeOf({ receivers, track, path }: DayFlags): DayMode {
  if (receivers !== 'on-track') {
    if (track !== undefined || path !== undefined) {
      throw new UsageError("options '--track' and '--path' go with '--receivers on-track'");
    }
    return { kind: receivers };
  }
  if (path !== undefined) return { kind: 'on_track', path };
  return { kind: 'fitted', track: track ?? 'arc' };
}

/** Sun, clock and sky of a day or of seasons. */
export interface OpenSky {
  readonly clock: Clock;
  readonly sky: Sky;
}

/**
 * @param clouds false: the sky without clouds in place of the scene's weather file, which is not read
 * @throws UsageError, BadSceneError
 */
export async function openSky(
  scene: Scene,
  scenePath: string,
  zone: string | undefined,
  clouds = true,
): Promise<OpenSky> {
  const [{ timeZoneOf }, { clockOf }, { cloudlessSkyOf, skyOf }, { readWeather }] = await Promise.all([
    import('../scene/time-zone.js'),
    import('../sun/clock.js'),
    import('../sun/sky.js'),
    import('./weather-file.js'),
  ]);
  const { site } = scene;
  if (site === null) {
    throw new BadSceneError(
      'error: The scene has no site; a day needs its latitude and longitude (keys site.latitude_deg, site.longitude_deg, ...).',
    );
  }
  let spec: TimeZoneSpec | null = site.timeZone;
  if (zone !== undefined) {
    spec = timeZoneOf(zone);
    if (spec === null) {
      throw new UsageError(
        `--zone ${zone}: there is no such clock; use a time zone name, +02:00, solar or mean_solar`,
      );
    }
  }
  const sky = clouds ? skyOf(scene, await readWeather(scene, scenePath)) : cloudlessSkyOf(scene);
  return { clock: clockOf(site, spec), sky };
}

/** @throws UsageError */
export async function dateOf(text: string, option: string): Promise<CalendarDate> {
  const { calendarDate } = await import('../sun/calendar.js');
  try {
    return calendarDate(text.trim());
  } catch (error) {
    if (!(error instanceof RangeError)) throw error;
    throw new UsageError(`${option}: ${error.message}`);
  }
}

/** What a day or track that cannot be done throws, as an error of usage. */
export function dayFailure(error: unknown): unknown {
  const name = error instanceof Error ? error.name : '';
  if (name === 'DayError') return new UsageError((error as Error).message);
  if (name === 'NoLeavingLightError') {
    return new UsageError(
      'places cannot be looked for with toroid facets, whose light cannot be recorded; use --receivers held',
    );
  }
  return error;
}

/** Many scenes, one notice: what is said of the first step is not said again of each. */
export function noticesOnce(options: RunOptions): RunOptions {
  const told = new Set<string>();
  return {
    ...options,
    onNotice: (message) => {
      if (told.has(message)) return;
      told.add(message);
      options.onNotice?.(message);
    },
  };
}

interface HighestStep {
  readonly clock: string;
  readonly elevation: number;
  readonly traced: Traced;
}

async function runDay(
  path: string,
  flags: DayFlags,
  session: Session,
  context: (known: Partial<FaultContext>) => void,
): Promise<number> {
  const mode = modeOf(flags);
  const date = await dateOf(flags.date, '--date');
  await openPage(flags.report, '--report');
  const loaded = await openScene(path, flags.set ?? [], session);
  const { scene } = loaded;
  context({ sceneHash: scene.hash });
  const { clock, sky } = await openSky(scene, path, flags.zone);
  const [{ daySteps }, { studyDay }, { layOut }] = await Promise.all([
    import('../study/day-steps.js'),
    import('../study/day.js'),
    import('../field/layout.js'),
  ]);
  const names = layOut(scene).receivers.map(({ name }) => name);
  const shown = flags.of === undefined ? names.length >> 1 : names.indexOf(flags.of);
  if (shown < 0) {
    const { nearestName } = await import('../study/requirement.js');
    throw new UsageError(
      `--of: there is no receiver "${flags.of}"; nearest: ${nearestName(flags.of ?? '', names)}`,
    );
  }
  if (flags.out !== undefined) {
    const { openFolder } = await import('./trace-files.js');
    await openFolder(flags.out);
  }
  let study: DayStudy;
  let machine: { wall_time_s: number; workers: number };
  const sized = flags.to === undefined ? { ...flags, rays: raysWanted(flags, DEFAULTS) } : flags;
  let highest: HighestStep | undefined;
  try {
    const { every, above } = flags;
    const steps = daySteps(scene, sky, clock, date, { every, at: flags.at ?? null, above });
    const opened = await openRun(sized, session, steps.steps.length);
    try {
      study = await studyDay({
        scene,
        run: opened.run,
        runOptions: noticesOnce(opened.options),
        sky,
        clock,
        steps,
        mode,
        searchRays: SEARCH_RAYS,
        shown,
        // A trace holds the maps of all receivers: one is kept, and only where a page shows it.
        onTraced: ({ clock: time, moment: { elevation } }, traced) => {
          if (flags.report !== undefined && !(elevation <= (highest?.elevation ?? Number.NEGATIVE_INFINITY)))
            highest = { clock: time, elevation, traced };
        },
        onStep: () => opened.nextScene(),
      });
    } finally {
      await opened.close();
    }
    machine = opened.machine();
  } catch (error) {
    throw dayFailure(error);
  }
  if (study.result.steps.length === 0) {
    throw new InterruptedError('Interrupted before the first step was finished; there is nothing to report.');
  }
  const [{ reportDay }, { dishBoxOf }] = await Promise.all([
    import('./day-output.js'),
    import('./day-pictures.js'),
  ]);
  const dish = dishBoxOf(scene);
  try {
    await reportDay(study, names[shown], dish, flags, machine, session);
  } finally {
    // Files that could not be written are no reason to lose the page too.
    if (flags.report !== undefined && highest !== undefined) {
      const { writeDayPage } = await import('./day-sections.js');
      const day = { study, shown: names[shown], dish, step: highest };
      await writeDayPage(flags.report, loaded, day, sized, machine);
      if (flags.json !== true) session.out.write(`\n${pageText(flags.report)}`);
    }
  }
  return study.result.interrupted ? EXIT.interrupted : EXIT.done;
}
