/** What the commands that look at a whole year share: options, sun and sky, threads. */
import { type Command, InvalidArgumentError, Option } from 'commander';
import type { TaskPool } from '../run/pool.js';
import type { Scene } from '../scene/types.js';
import type { Offset } from '../study/moving.js';
import type { NodeReply, NodeTask, ReceiverMode } from '../study/optics-table-node.js';
import type { Free } from '../study/placement.js';
import type { SeasonContext } from '../study/season-result.js';
import type { SunSeason } from '../study/season-sun.js';
import type { Clock } from '../sun/clock.js';
import type { Sky } from '../sun/sky.js';
import { openSky } from './day.js';
import { parsePath } from './day-options.js';
import { BadSceneError, InterruptedError, UsageError } from './failure.js';
import {
  addSetOption,
  chooseWorkers,
  DEFAULT_SEED,
  parseRays,
  parseSeed,
  parseTarget,
  parseWorkers,
} from './run-options.js';
import { type LoadedScene, openScene } from './scene-file.js';
import { openYearProgress, type YearProgress } from './season-progress.js';
import type { Session } from './session.js';

export interface YearFlags {
  readonly year: number;
  readonly zone?: string;
  readonly sunStep?: number;
  readonly receivers: 'held' | 'following' | 'on-track';
  readonly path?: readonly Offset[];
  readonly move?: Free;
  readonly tilt?: number;
  readonly rays: number;
  readonly to: number;
  readonly seed: string;
  readonly workers?: number;
  readonly out?: string;
  readonly json?: boolean;
  readonly quiet?: boolean;
  readonly set?: readonly string[];
}

/** A common year of 365 days. */
export const USUAL_YEAR = 2026;
const DEGREE = Math.PI / 180;
/** Rays of a table's work, roughly: for the choice of threads. */
const RAYS_OF_A_YEAR = 3e7;

/** @throws InvalidArgumentError */
export function parseYear(text: string): number {
  const year = /^\d{4}$/.test(text.trim()) ? Number(text) : Number.NaN;
  if (!(year >= 1950 && year <= 2100)) throw new InvalidArgumentError('Expected a year from 1950 to 2100.');
  return year;
}

function parseSunStep(text: string): number {
  const minutes = Number(text);
  if (!(minutes >= 1 && minutes <= 60)) throw new InvalidArgumentError('Allowed: 1 to 60 minutes.');
  return minutes;
}

/** @returns radians */
export function parseTilt(text: string): number {
  const tilt = text.trim() === '' ? Number.NaN : Number(text);
  if (!(Math.abs(tilt) <= 90)) throw new InvalidArgumentError('Expected degrees from -90 to 90.');
  return tilt * DEGREE;
}

const WAYS = ['along', 'across', 'up'];

/** @throws InvalidArgumentError */
export function parseMove(text: string): Free {
  const ways = text.split(',').map((way) => way.trim());
  if (ways.some((way) => !WAYS.includes(way))) {
    throw new InvalidArgumentError('Expected one or more of along, across, up, separated by commas.');
  }
  return [ways.includes('along'), ways.includes('across'), ways.includes('up')];
}

/**
 * @param rays of a node, where not told otherwise
 * @param without options that mean nothing to the command
 */
export function addYearOptions(
  command: Command,
  rays: number,
  receivers: YearFlags['receivers'] = 'following',
  without: readonly 'to'[] = [],
): Command {
  command
    .addOption(new Option('--year <year>', 'the year').argParser(parseYear).default(USUAL_YEAR))
    .option(
      '--zone <clock>',
      "clock of days and months in place of the site's: a name, +02:00, solar, mean_solar",
    )
    .addOption(
      new Option(
        '--sun-step <minutes>',
        "minutes between positions of the sun (default: 20; 5 where receivers are held in their own dish's light, which passes them in minutes)",
      ).argParser(parseSunStep),
    )
    .addOption(
      new Option(
        '--receivers <how>',
        'held where the scene has them, following to the best place at every hour, or on-track (--path)',
      )
        .choices(['held', 'following', 'on-track'])
        .default(receivers),
    )
    .addOption(
      new Option(
        '--path <points>',
        'with on-track: the track, "ALONG,ACROSS,UP ALONG,ACROSS,UP ..." in mm from where the scene has the receivers',
      ).argParser(parsePath),
    )
    .addOption(
      new Option(
        '--move <ways>',
        'with following: ways the receivers can go: along the row, across, up, separated by commas (default: all)',
      ).argParser(parseMove),
    )
    .addOption(
      new Option('--tilt <degrees>', 'tilt setting of all dishes in place of the scene').argParser(parseTilt),
    )
    .addOption(
      new Option('--rays <count>', 'about this many rays for each sun position traced')
        .argParser(parseRays)
        .default(rays),
    )
    .addOption(
      new Option('--seed <text>', 'seed of the random numbers; the same seed gives the same result')
        .argParser(parseSeed)
        .default(DEFAULT_SEED, DEFAULT_SEED),
    )
    .addOption(
      new Option(
        '--workers <count>',
        'threads to trace with; 0: none (default: as many as the machine has cores)',
      ).argParser(parseWorkers),
    )
    .option('--out <folder>', 'write the numbers and pictures into this folder (made if it is not there)')
    .option('--json', 'print one JSON document in place of the text')
    .option('--quiet', 'no progress and no notices on standard error');
  if (!without.includes('to')) {
    command.addOption(
      new Option('--to <error>', "wanted error of the year's energy, e.g. 0.5%")
        .argParser(parseTarget)
        .default(0.005, '0.5%'),
    );
  }
  return addSetOption(command);
}

/** @throws UsageError */
export function receiverMode({
  receivers,
  path,
  move,
}: Pick<YearFlags, 'receivers' | 'path' | 'move'>): ReceiverMode {
  if (move !== undefined && receivers !== 'following') {
    throw new UsageError("option '--move' goes with '--receivers following'");
  }
  if (receivers !== 'on-track') {
    if (path !== undefined) throw new UsageError("option '--path' goes with '--receivers on-track'");
    return move === undefined || receivers === 'held'
      ? { kind: receivers }
      : { kind: 'following', free: move };
  }
  if (path === undefined)
    throw new UsageError("'--receivers on-track' needs the track: give it with '--path'");
  return { kind: 'on_track', path };
}

export interface OpenYear {
  /** As the file has it. */
  readonly loaded: LoadedScene;
  /** With the options' tilt. */
  readonly scene: Scene;
  readonly mode: ReceiverMode;
  readonly clock: Clock;
  readonly sky: Sky;
  readonly season: SunSeason;
  readonly pool: TaskPool<NodeTask, NodeReply>;
  readonly progress: YearProgress;
  readonly machine: () => { readonly wall_time_s: number; readonly workers: number };
  readonly close: () => Promise<void>;
}

const USUAL_SUN_STEP = 20;
/** The spot of a dish passes a held receiver of its own in some 20 minutes, on some days of the year. */
const SUN_STEP_OF_SPOTS = 5;

/** Minutes between positions of the sun. */
export function sunStepOf(scene: Scene, mode: ReceiverMode, { sunStep }: Pick<YearFlags, 'sunStep'>): number {
  if (sunStep !== undefined) return sunStep;
  const ownReceivers = scene.rows.some(({ receiver }) => receiver === null);
  return mode.kind === 'held' && ownReceivers ? SUN_STEP_OF_SPOTS : USUAL_SUN_STEP;
}

/** What the head of a year's result tells. */
export function yearContext({ scene, mode, sky, clock }: OpenYear, flags: YearFlags): SeasonContext {
  const { seed, year } = flags;
  return { scene, mode, sky, clock, seed, year, sunStep: sunStepOf(scene, mode, flags) };
}

/** Scene, sun and sky of a year, and threads to trace with. @throws UsageError, BadSceneError, GeometryError */
export async function openYear(path: string, flags: YearFlags, session: Session): Promise<OpenYear> {
  const started = performance.now();
  const mode = receiverMode(flags);
  const loaded = await openScene(path, flags.set ?? [], session);
  const [{ withTiltSetting }, { layOut }, { sunYear }, { createTaskPool }, { traceNodes }] =
    await Promise.all([
      import('../study/moving.js'),
      import('../field/layout.js'),
      import('../study/season-sun.js'),
      import('../run/pool.js'),
      import('../study/optics-table-node.js'),
    ]);
  const scene = flags.tilt === undefined ? loaded.scene : withTiltSetting(loaded.scene, flags.tilt);
  if (flags.tilt !== undefined && scene.rows.length === 0) {
    throw new UsageError("option '--tilt' turns dishes in rows; the scene has none");
  }
  layOut(scene);
  const { clock, sky } = await openSky(scene, path, flags.zone);
  if (scene.site === null) throw new BadSceneError('error: The scene has no site.');
  if (flags.out !== undefined) {
    const { openFolder } = await import('./trace-files.js');
    await openFolder(flags.out);
  }
  const progress = openYearProgress(session, flags.quiet === true);
  const workers = chooseWorkers(flags.workers, RAYS_OF_A_YEAR);
  const pool = createTaskPool<NodeTask, NodeReply>(workers, {
    name: 'optics',
    runTask: traceNodes,
    onNotice: progress.notice,
  });
  const { site } = scene;
  let season: SunSeason | null = null;
  return {
    loaded,
    scene,
    mode,
    clock,
    sky,
    // Thousands of sun positions: only where nothing else is wrong.
    get season() {
      if (season !== null) return season;
      season = sunYear(site, clock, sky, flags.year, sunStepOf(scene, mode, flags) * 60_000);
      if (!season.points.some(({ energy }) => energy > 0)) {
        throw new UsageError(
          `there is no beam irradiance in ${flags.year} (${sky.describe()}); try another --year`,
        );
      }
      return season;
    },
    pool,
    progress,
    machine: () => ({ wall_time_s: (performance.now() - started) / 1000, workers }),
    close: async () => {
      progress.end();
      await pool.close();
    },
  };
}

/** What a study of years throws, as an error of the command line. */
export function yearFailure(error: unknown): unknown {
  if (!(error instanceof Error)) return error;
  if (error.name === 'StudyStopped') {
    return new InterruptedError('Interrupted before the year was finished; there is nothing to report.');
  }
  const reason = (error as { reason?: unknown }).reason;
  if (reason === 'NoLeavingLightError' || error.name === 'NoLeavingLightError') {
    return new UsageError(
      'places cannot be looked for with toroid facets, whose light cannot be recorded; use --receivers held',
    );
  }
  if (reason === 'GeometryError') return new UsageError(error.message);
  return error;
}
