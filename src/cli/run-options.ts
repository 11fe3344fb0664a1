/** The options that every command with rays shares: how many, how exact, which seed, how many threads. */
import { availableParallelism } from 'node:os';
import { type Command, InvalidArgumentError, Option } from 'commander';
import type { Deposit } from '../run/types.js';

export const DEFAULT_RAYS = 1e6;
/** The default of `--rays` where footprints are laid down: mirror points. Quicker than a million rays, and far finer maps. */
export const DEFAULT_POINTS = 2 ** 16;
/** Work of a point against a ray's, roughly: for the choice of threads and of a time. */
export const RAYS_PER_POINT = 16;
export const DEFAULT_SEED = 'rowfocus';
/** Cap of a run to a target error: minutes, not hours, on one core. */
export const DEFAULT_MAX_RAYS = 1e9;
const MOST_RAYS = 1e12;
const MOST_WORKERS = 256;
const LONGEST_SEED = 200;
const LARGEST_TARGET = 0.5;
const SMALLEST_TARGET = 1e-5;
/** Up to here a bare number is taken for a fraction; above, the per cent sign was most likely forgotten. */
const LARGEST_BARE_TARGET = 0.1;
/**
 * Below this many rays a run in this thread ends sooner: threads take about 0.3 s to start, load the program and warm up
 * (measured with two of them), and each core traces several million rays a second.
 */
const RAYS_WORTH_THREADS = 3e6;
/** A thread pays for its start from about this many rays on. */
const RAYS_PER_THREAD = 1e6;
/** Rays that a run to 0.5 % takes, roughly, and how they grow as the target shrinks (no faster than with its square). */
const RAYS_TO_HALF_PERCENT = 1e6;

const MULTIPLES: Readonly<Record<string, number>> = { k: 1e3, K: 1e3, M: 1e6, G: 1e9 };

/**
 * Reads a number of rays: 1000000, 1e6, 2_000_000, 500k, 3M, 2G.
 * @throws InvalidArgumentError
 */
export function parseRays(text: string): number {
  const match = /^(\d+(?:_\d+)*(?:\.\d+)?(?:[eE]\+?\d{1,2})?)([kKMG]?)$/.exec(text.trim());
  const value =
    match === null ? Number.NaN : Number(match[1].replaceAll('_', '')) * (MULTIPLES[match[2]] ?? 1);
  const whole = Math.round(value);
  // A product such as 1.1 M is whole but for rounding.
  if (!Number.isFinite(value) || Math.abs(value - whole) > 1e-6) {
    throw new InvalidArgumentError('Expected a whole number of rays, e.g. 1e6, 2_000_000, 500k or 3M.');
  }
  if (whole < 1 || whole > MOST_RAYS) throw new InvalidArgumentError('Allowed: 1 to 1e12 rays.');
  return whole;
}

/**
 * Reads a relative error: 0.5% or 0.005.
 * @throws InvalidArgumentError
 */
export function parseTarget(text: string): number {
  const match = /^(\d+\.?\d*|\.\d+)\s*(%?)$/.exec(text.trim());
  const number = match === null ? Number.NaN : Number(match[1]);
  if (!Number.isFinite(number)) {
    throw new InvalidArgumentError('Expected a relative standard error such as 0.5% or 0.005.');
  }
  const bare = match?.[2] === '';
  if (bare && number > LARGEST_BARE_TARGET) {
    throw new InvalidArgumentError(`Write it with a per cent sign if ${text.trim()}% is meant.`);
  }
  const target = bare ? number : number / 100;
  if (target < SMALLEST_TARGET || target > LARGEST_TARGET) {
    throw new InvalidArgumentError('Allowed: 0.001% to 50%.');
  }
  return target;
}

/** @throws InvalidArgumentError */
export function parseWorkers(text: string): number {
  const workers = /^\d{1,6}$/.test(text.trim()) ? Number(text) : Number.NaN;
  if (!(workers <= MOST_WORKERS)) {
    throw new InvalidArgumentError(`Allowed: 0 (no threads, trace in this one) to ${MOST_WORKERS}.`);
  }
  return workers;
}

/** @throws InvalidArgumentError */
export function parseSeed(text: string): string {
  if (text === '' || text.length > LONGEST_SEED) {
    throw new InvalidArgumentError(`Any text of 1 to ${LONGEST_SEED} characters.`);
  }
  return text;
}

/** Gathers an option that may be given several times. */
export function collect(value: string, before: readonly string[] | undefined): readonly string[] {
  return [...(before ?? []), value];
}

export interface RunFlags {
  /** Not given: see `raysWanted`. */
  readonly rays?: number;
  readonly deposit?: Deposit;
  readonly to?: number;
  readonly maxRays?: number;
  readonly seed: string;
  readonly workers?: number;
  readonly quiet?: boolean;
  readonly json?: boolean;
  readonly out?: string;
  readonly set?: readonly string[];
}

/** `--set`, for every command that reads a scene. */
export function addSetOption(command: Command): Command {
  return command.addOption(
    new Option(
      '--set <path=value>',
      'put another value into the scene before it is checked, e.g. films.roll_a.reflectance=0.9 (may be repeated)',
    ).argParser(collect),
  );
}

/** What a command with rays takes where the command line does not say. */
export interface RunDefaults {
  readonly deposit: Deposit;
  readonly rays: number;
  readonly points: number;
}

export const USUAL_DEFAULTS: RunDefaults = { deposit: 'rays', rays: DEFAULT_RAYS, points: DEFAULT_POINTS };

/** Where most commands leave what they found. */
function folderOptions(): Option[] {
  return [
    new Option('--out <folder>', 'write the numbers and pictures into this folder (made if it is not there)'),
    new Option('--json', 'print one JSON document in place of the text'),
  ];
}

/**
 * Adds the options that every command with rays shares.
 * @param outputs of the command, in place of the usual folder and JSON document
 */
export function addRunOptions(
  command: Command,
  defaults: RunDefaults = USUAL_DEFAULTS,
  outputs: readonly Option[] = folderOptions(),
): Command {
  command
    .addOption(
      new Option(
        '--rays <count>',
        `about this many rays (with footprints: mirror points) for each scene: 1e6, 2_000_000, 500k, 3M (default: ${raysText(defaults.rays)}; with footprints ${defaults.points})`,
      ).argParser(parseRays),
    )
    .addOption(
      new Option(
        '--deposit <way>',
        'how light gets onto the maps: rays, or footprints, the patch that slope error and film make of the light of each mirror point',
      )
        .choices(['rays', 'footprints'])
        .default(defaults.deposit),
    )
    .addOption(
      new Option(
        '--to <error>',
        'trace until spill and intercepted power are known to this relative standard error, e.g. 0.5%',
      )
        .argParser(parseTarget)
        .conflicts('rays'),
    )
    .addOption(
      new Option('--max-rays <count>', 'with --to: give up after this many rays (default: 1e9)').argParser(
        parseRays,
      ),
    )
    .addOption(
      new Option('--seed <text>', 'seed of the random numbers; the same seed gives the same result')
        .argParser(parseSeed)
        .default(DEFAULT_SEED, DEFAULT_SEED),
    )
    .addOption(
      new Option(
        '--workers <count>',
        'threads to trace with; 0: none, trace in this one (default: as many as the machine has cores, none for a short run)',
      ).argParser(parseWorkers),
    );
  for (const output of outputs) command.addOption(output);
  command.option('--quiet', 'no progress and no notices on standard error');
  return addSetOption(command);
}

function raysText(rays: number): string {
  return rays === 1e6 ? '1e6' : String(rays);
}

/** Rays, or points, of a run of a fixed size. */
export function raysWanted(
  flags: Pick<RunFlags, 'rays' | 'deposit'>,
  defaults: RunDefaults = USUAL_DEFAULTS,
): number {
  return flags.rays ?? (flags.deposit === 'footprints' ? defaults.points : defaults.rays);
}

/** @returns what does not fit together among the options, in words; null where all is well */
export function flagConflict(flags: RunFlags): string | null {
  if (flags.maxRays !== undefined && flags.to === undefined) {
    return "option '--max-rays' goes with '--to'; use '--rays' for a fixed number of rays";
  }
  return null;
}

/** @returns about how many rays a run to a target error will take, for the choice of threads */
export function expectedRays(target: number): number {
  return RAYS_TO_HALF_PERCENT * Math.max(1, (0.005 / target) ** 2);
}

/**
 * Threads for a run of that many rays (all scenes of a study together): none where starting them would take longer than
 * the run. The result does not depend on it.
 */
export function chooseWorkers(
  wanted: number | undefined,
  rays: number,
  cores = availableParallelism(),
): number {
  if (wanted !== undefined) return wanted;
  if (cores < 2 || rays < RAYS_WORTH_THREADS) return 0;
  return Math.min(cores, Math.floor(rays / RAYS_PER_THREAD), MOST_WORKERS);
}
