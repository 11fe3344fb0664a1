/** `rowfocus heat`: from light to heat, at a moment and over a year. */
import type { Command } from 'commander';
import type { HeatResult } from '../study/heat-result.js';
import type { HeatStudy } from '../study/heat-year.js';
import { openSky } from './day.js';
import { BadSceneError, type FaultContext, UsageError } from './failure.js';
import { addReportOption, openPage, type PageFlags, pageInput } from './page-output.js';
import { type LoadedScene, openScene } from './scene-file.js';
import {
  addYearOptions,
  type OpenYear,
  receiverMode,
  sunStepOf,
  type YearFlags,
  yearFailure,
} from './season-options.js';
import { reportYear, type YearReport } from './season-output.js';
import { EXIT, type Session } from './session.js';
import { runYear } from './year-command.js';

/** Rays of each sun position traced; of the trace of one moment. */
export const RAYS = 2 ** 13;
export const MOMENT_RAYS = 2 ** 19;

export interface HeatFlags extends YearFlags, PageFlags {
  readonly at?: string;
}

export function addHeatCommand(
  program: Command,
  session: Session,
  finish: (code: number) => void,
  context: (known: Partial<FaultContext>) => void,
): void {
  const command = program
    .command('heat')
    .summary('from light to heat: losses, oil, wall and film temperatures, heat of a year, best opening')
    .description(
      'Works out what the receivers make of the light: at one moment (balance, oil film against its limits, standstill, time from a ' +
        'stopped pump), and over a year (delivered heat by month, where the rest goes, the best opening, how far it may be off).',
    )
    .argument('<scene>', 'scene file with the section "heat", or - for standard input')
    .option('--at <moment>', 'only this moment by the clock of the site, "2026-06-21 12:00"');
  addReportOption(addYearOptions(command, RAYS))
    .addHelpText(
      'after',
      `
Examples:
  rowfocus heat scene.yaml --at "2026-06-21 13:20"
  rowfocus heat scene.yaml --receivers following --out heat
  rowfocus heat scene.yaml --set heat.oil.outlet_c=240

Figures in brackets are the span of the published loss formulas, not an interval of chance.
Caution: concentrated light burns, hot oil burns. Local codes and licensed practice decide what may be built.`,
    )
    .action(async (path: string, flags: HeatFlags) => {
      context({ seed: flags.seed });
      finish(await runHeat(path, flags, session, context));
    });
}

/** What scenes without heat or with heat that cannot be throw, as errors of the command line. */
export function heatFailure(error: unknown): unknown {
  if (error instanceof Error && error.name === 'PlantError') return new UsageError(error.message);
  if (error instanceof Error && error.name === 'NothingLitError') return new UsageError(error.message);
  return yearFailure(error);
}

async function runHeat(
  path: string,
  flags: HeatFlags,
  session: Session,
  context: (known: Partial<FaultContext>) => void,
): Promise<number> {
  const reportOf = async (result: HeatResult): Promise<YearReport> => {
    const { heatReport } = await import('./heat-output.js');
    return heatReport(result, session);
  };
  if (flags.at === undefined) {
    return runYear(path, flags, session, context, {
      study: async (opened) => (await heatOfYear(opened, flags, session)).result,
      failure: heatFailure,
      report: reportOf,
    });
  }
  const started = performance.now();
  await openPage(flags.report, '--report');
  const { result, loaded } = await momentOf(path, flags.at, flags, session, context);
  const machine = { wall_time_s: (performance.now() - started) / 1000, workers: 0 };
  await reportYear(await reportOf(result), flags, { inputs: [pageInput(loaded)], machine }, session);
  return EXIT.done;
}

/** @returns milliseconds since 1970 UTC */
async function instantOf(text: string, clock: OpenYear['clock']): Promise<number> {
  const match = /^(\d{4}-\d{2}-\d{2})[ T](\d{1,2}):(\d{2})$/.exec(text.trim());
  const hours = Number(match?.[2]);
  const minutes = Number(match?.[3]);
  if (match === null || hours > 23 || minutes > 59) {
    throw new UsageError('--at: expected a date and a clock time, e.g. "2026-06-21 12:00"');
  }
  const { calendarDate } = await import('../sun/calendar.js');
  try {
    const { time, fit } = clock.instantOf(calendarDate(match[1]), 3600 * hours + 60 * minutes);
    if (fit === 'skipped') throw new UsageError(`--at: the clock of ${clock.name} leaves out that time`);
    return time;
  } catch (error) {
    if (error instanceof RangeError) throw new UsageError(`--at: ${error.message}`);
    throw error;
  }
}

async function momentOf(
  path: string,
  at: string,
  flags: HeatFlags,
  session: Session,
  context: (known: Partial<FaultContext>) => void,
): Promise<{ readonly result: HeatResult; readonly loaded: LoadedScene }> {
  const mode = receiverMode(flags);
  const loaded = await openScene(path, flags.set ?? [], session);
  const [{ withTiltSetting }, { heatPlant }, { heatAt }, { heatResult }] = await Promise.all([
    import('../study/moving.js'),
    import('../study/heat-plant.js'),
    import('../study/heat-at.js'),
    import('../study/heat-result.js'),
  ]);
  const scene = flags.tilt === undefined ? loaded.scene : withTiltSetting(loaded.scene, flags.tilt);
  context({ sceneHash: scene.hash });
  if (scene.site === null) throw new BadSceneError('error: The scene has no site.');
  const { clock, sky } = await openSky(scene, path, flags.zone);
  const time = await instantOf(at, clock);
  if (flags.out !== undefined) {
    const { openFolder } = await import('./trace-files.js');
    await openFolder(flags.out);
  }
  try {
    const plant = heatPlant(scene);
    const moment = await heatAt({
      scene,
      plant,
      mode,
      sky,
      clock,
      time,
      seed: flags.seed,
      rays: MOMENT_RAYS,
      stop: session.stop,
    });
    const { seed } = flags;
    const sunStep = sunStepOf(scene, mode, flags);
    const year = Number(at.trim().slice(0, 4));
    const result = heatResult(plant, moment, null, { scene, mode, sky, clock, seed, year, sunStep });
    return { result, loaded };
  } catch (error) {
    throw heatFailure(error);
  }
}

/** Heat of a year and of its brightest hour. @throws what the studies throw */
export async function heatOfYear(
  opened: OpenYear,
  flags: YearFlags,
  session: Session,
): Promise<{ readonly result: HeatResult; readonly study: HeatStudy }> {
  const [{ heatPlant }, { heatStep, studyHeat }, { heatAt }, { heatResult }] = await Promise.all([
    import('../study/heat-plant.js'),
    import('../study/heat-year.js'),
    import('../study/heat-at.js'),
    import('../study/heat-result.js'),
  ]);
  const { scene, mode, season, pool, progress, clock, sky } = opened;
  const plant = heatPlant(scene);
  const study = await studyHeat({
    scene,
    plant,
    mode,
    season,
    sky,
    clock,
    year: flags.year,
    seed: flags.seed,
    rays: flags.rays,
    tolerance: flags.to,
    step: heatStep(sunStepOf(scene, mode, flags)),
    pool,
    stop: session.stop,
    onNodes: progress.nodes,
    onStage: progress.stage,
  });
  const moment = await heatAt({
    scene,
    plant,
    mode,
    sky,
    clock,
    time: study.brightest,
    seed: flags.seed,
    rays: MOMENT_RAYS,
    stop: session.stop,
  });
  const { seed, year } = flags;
  const sunStep = sunStepOf(scene, mode, flags);
  return {
    result: heatResult(plant, moment, study.year, { scene, mode, sky, clock, seed, year, sunStep }),
    study,
  };
}
