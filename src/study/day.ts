/** A day of a scene that stands still: sun and sky by the clock, receivers held, following or on a track, each step traced. */
import type { Figure, Ledger, TraceResult, Warning } from '../result/types.js';
import { NothingLitError } from '../run/plan.js';
import { jackknife, studentT975 } from '../run/statistics.js';
import type { Run, RunOptions } from '../run/types.js';
import type { Scene, Vec3 } from '../scene/types.js';
import { dateText } from '../sun/calendar.js';
import type { Clock } from '../sun/clock.js';
import { sunshapeOfDay } from '../sun/distance.js';
import type { Sky } from '../sun/sky.js';
import { describeSunDay } from '../sun/solar-time.js';
import { VERSION } from '../version.js';
import { caughtAt, shareOfPlace } from './catch.js';
import { followFreely } from './day-places.js';
import { DayError, type DayStep, type DaySteps } from './day-steps.js';
import type { DarkStep, DayMode, DayReceiver, DayStepResult, DayStudy, DayView } from './day-types.js';
import { replicatesByName, TOTAL_FIGURES } from './figures.js';
import { type Light, lightOf, smallestOpening } from './light.js';
import { lossFormFrom } from './loss-form.js';
import { NO_OFFSET, type Offset, receiverFromDish, withMoment, withReceiversAt } from './moving.js';
import { rowAngles, tableHeading } from './optics-table-angles.js';
import { pathShape } from './path-shape.js';
import { bestAlong } from './placement.js';
import { type Traced as SceneTrace, traceScene } from './trace.js';
import { bestTracks } from './track-best.js';
import { type TrackKind, trackPath } from './track-shape.js';

export interface DayOptions {
  readonly scene: Scene;
  readonly run: Run;
  readonly runOptions: RunOptions;
  readonly sky: Sky;
  readonly clock: Clock;
  readonly steps: DaySteps;
  readonly mode: DayMode;
  /** Rays of recorded light for each step's search. */
  readonly searchRays: number;
  /** Receiver whose maps are kept, by its place among the laid-out receivers. */
  readonly shown: number;
  /** Called with the whole trace of each step that is kept, which is not held any longer than that. */
  readonly onTraced?: (step: DayStep, traced: SceneTrace) => void;
  /** Called after each step traced. */
  readonly onStep?: (done: number, wanted: number) => void;
}

/** A step's scene, the place of its receivers, and how good that place is. */
interface PlacedStep {
  readonly step: DayStep;
  readonly scene: Scene;
  readonly offset: Offset;
  readonly alongPath: number | null;
  readonly ofBest: Figure | null;
}

/** The scene with the sun of a step. */
export function sceneAtStep(scene: Scene, { moment }: Pick<DayStep, 'moment'>): Scene {
  const { sun } = scene;
  return withMoment(
    { ...scene, sun: { ...sun, sunshape: sunshapeOfDay(sun.sunshape, moment.time) } },
    moment,
  );
}

/** The rays of a search are never those of the trace: else what was chosen for its luck would be reported with it. */
export function searchSeed(seed: string): string {
  return `${seed}, search`;
}

/** A turn of the event loop, so that a Ctrl-C is heard between pieces of work that never wait. */
export function takeBreath(): Promise<void> {
  return new Promise((resolve) => {
    setImmediate(resolve);
  });
}

/**
 * Traces the steps of a day with the same seed, so that steps differ by far less noise than they carry.
 *
 * Ends early, marked as interrupted, when `runOptions.stop` is requested; a step cut short is not kept.
 *
 * @throws DayError where no step has light on the mirrors; what `lightOf`, `fitTrack` and `run` throw
 */
export async function studyDay(options: DayOptions): Promise<DayStudy> {
  const { runOptions, scene, steps, onStep } = options;
  const dark: DarkStep[] = [];
  const lit: { readonly step: DayStep; readonly scene: Scene; readonly light: Light | null }[] = [];
  const stopped = (): boolean => runOptions.stop?.requested === true;
  const search = options.mode.kind !== 'held';
  for (const step of steps.steps) {
    await takeBreath();
    if (stopped()) break;
    if (!(step.moment.dni > 0)) {
      dark.push(
        darkStep(step, step.moment.known ? 'no beam irradiance' : 'the weather file has nothing for it'),
      );
      continue;
    }
    const own = sceneAtStep(scene, step);
    const light = search ? searchLight(own, runOptions.seed, options.searchRays) : null;
    if (search && light === null) dark.push(darkStep(step, NO_LIGHT));
    else lit.push({ step, scene: own, light });
  }
  const placing = stopped() ? null : await place(options, lit, stopped);
  const done: Traced[] = [];
  for (const placed of placing?.steps ?? []) {
    if (stopped()) break;
    const traced = await trace(placed, options);
    if (traced === null) break;
    if (traced === 'dark') dark.push(darkStep(placed.step, NO_LIGHT));
    else done.push(traced);
    onStep?.(done.length + dark.length, steps.steps.length);
  }
  const interrupted = stopped() && done.length + dark.length < steps.steps.length;
  if (done.length === 0 && !interrupted) {
    throw new DayError(
      `no step of ${dateText(steps.day.date)} has light on the mirrors (${dark[0]?.reason ?? ''})`,
    );
  }
  return studyOf(options, placing, done, dark, interrupted);
}

const NO_LIGHT = 'no mirror is lit';

function darkStep({ clock, moment }: DayStep, reason: string): DarkStep {
  return { clock, time_utc: new Date(moment.time).toISOString(), reason };
}

/** Light to look for places in, of a row cut short; null where none leaves the mirrors. */
export function searchLight(scene: Scene, seed: string, rays: number): Light | null {
  try {
    const light = lightOf(scene, searchSeed(seed), rays);
    return light.power > 0 ? light : null;
  } catch (error) {
    if (error instanceof NothingLitError) return null;
    throw error;
  }
}

interface Placing {
  readonly steps: readonly PlacedStep[];
  readonly path: readonly Offset[] | null;
  readonly track: TrackKind | null;
  readonly searched: number;
}

/** @returns null where the work was stopped */
async function place(
  { mode, steps }: DayOptions,
  lit: readonly { readonly step: DayStep; readonly scene: Scene; readonly light: Light | null }[],
  stopped: () => boolean,
): Promise<Placing | null> {
  if (mode.kind === 'held') {
    const held = lit.map(({ step, scene }) => ({
      step,
      scene,
      offset: NO_OFFSET,
      alongPath: null,
      ofBest: null,
    }));
    return { steps: held, path: null, track: null, searched: 0 };
  }
  const lights = lit.flatMap(({ step, light }) =>
    light === null ? [] : [{ time: step.moment.time, light }],
  );
  const onStep = async (): Promise<boolean> => {
    await takeBreath();
    return !stopped();
  };
  if (mode.kind === 'on_track') {
    const placed = lit.map(({ step, scene, light }) => onPath(step, scene, light as Light, mode.path, null));
    return { steps: placed, path: mode.path, track: null, searched: 0 };
  }
  if (lights.length === 0) return { steps: [], path: null, track: null, searched: 0 };
  const free = mode.kind === 'following' && mode.free !== undefined ? { free: mode.free } : {};
  const following = await followFreely(lights, { ...free, onStep });
  if (following === null) return null;
  if (mode.kind === 'following') {
    const placed = lit.map(({ step, scene, light }, i) => {
      const { offset, best } = following.places[i];
      return { step, scene, offset, alongPath: null, ofBest: shareOfPlace(light as Light, offset, best) };
    });
    return { steps: placed, path: null, track: null, searched: following.searched };
  }
  const path = fittedPath(mode.track, lights, following.places, steps.day.start);
  const placed = lit.map(({ step, scene, light }, i) =>
    onPath(step, scene, light as Light, path, following.places[i].best),
  );
  return { steps: placed, path, track: mode.track, searched: following.searched };
}

/** Straight pieces that an arc is followed in, metres. */
const PATH_PIECE = 0.02;

/** @throws DayError where the kind cannot be fitted to so few places */
function fittedPath(
  kind: TrackKind,
  lights: readonly { readonly time: number; readonly light: Light }[],
  places: readonly { readonly offset: Offset; readonly most: number }[],
  start: number,
): readonly Offset[] {
  const points = lights.map(({ time, light }, i) => {
    const { offset, most } = places[i];
    return {
      day: 0,
      minute: (time - start) / 60_000,
      position: offset,
      power_w: most,
      hours: hoursOf(lights, i),
      light,
      lossPerMm2: lossFormFrom((beside) => lossBeside(light, offset, most, beside), formStep(light)),
      lossAt: (beside: Vec3) => lossBeside(light, offset, most, beside),
    };
  });
  try {
    const [fit] = bestTracks([kind], points);
    if (fit === undefined) throw new RangeError(`too few places for a track of kind ${kind}`);
    const { track, from, to } = fit;
    if (!(to > from)) throw new RangeError('all places are in one');
    return kind === 'arc' ? trackPath(track, from, to, PATH_PIECE) : trackPath(track, from, to, to - from);
  } catch (error) {
    if (!(error instanceof RangeError)) throw error;
    throw new DayError(`no track can be fitted to these steps: ${error.message}`);
  }
}

/** Hours that a step stands for in the day's energy: half way to its neighbours, as `energyOf` has it; 1 where it is alone. */
function hoursOf(steps: readonly { readonly time: number }[], index: number): number {
  const before = steps[index - 1] ?? steps[index];
  const after = steps[index + 1] ?? steps[index];
  return steps.length > 1 ? (after.time - before.time) / 7.2e6 : 1;
}

/** Step of a loss form, mm: a tenth of the opening, which is about how far a track that can be built misses. */
export function formStep(light: Light): number {
  return 100 * smallestOpening(light);
}

/** Share of the power lost beside a place. */
export function lossBeside(light: Light, place: Offset, most: number, beside: Vec3): number {
  return 1 - caughtAt(light, [place[0] + beside[0], place[1] + beside[1], place[2] + beside[2]]) / most;
}

/** @param best the best place of all; null where it was not looked for */
function onPath(
  step: DayStep,
  scene: Scene,
  light: Light,
  path: readonly Offset[],
  best: Offset | null,
): PlacedStep {
  const found = bestAlong(light, path);
  const { offset, along } = found ?? { offset: path[0], along: 0 };
  const ofBest = best === null ? null : shareOfPlace(light, offset, best);
  return { step, scene, offset, alongPath: along, ofBest };
}

interface Traced {
  readonly row: DayStepResult;
  readonly view: DayView;
  readonly time: number;
  readonly powerReplicates: Float64Array;
  readonly warnings: readonly Warning[];
}

/** @returns null where it was cut short */
async function trace(
  placed: PlacedStep,
  { run, runOptions, shown, onTraced }: DayOptions,
): Promise<Traced | 'dark' | null> {
  const { step, offset } = placed;
  const scene = withReceiversAt(placed.scene, offset);
  let traced: SceneTrace;
  try {
    traced = await traceScene(scene, run, runOptions);
  } catch (error) {
    if (error instanceof NothingLitError) return 'dark';
    // No batch group was finished before the stop.
    if (runOptions.stop?.requested === true && error instanceof RangeError) return null;
    throw error;
  }
  if (traced.outcome.interrupted) return null;
  onTraced?.(step, traced);
  const { result, grids, replicates } = traced.summary;
  return {
    row: rowOf(placed, result, receiverFromDish(scene)),
    view: { receiver: result.receivers[shown], grid: grids[shown] },
    time: step.moment.time,
    powerReplicates: replicatesByName(replicates, 'intercepted_power'),
    warnings: result.warnings,
  };
}

const DEGREES = 180 / Math.PI;

function millimetres([x, y, z]: Vec3): Vec3 {
  return [1000 * x, 1000 * y, 1000 * z];
}

function rowOf(
  { step, scene, offset, alongPath, ofBest }: PlacedStep,
  result: TraceResult,
  fromDish: Vec3 | null,
): DayStepResult {
  const { moment, clock, solar } = step;
  const { longitudinal, profile } = rowAngles(tableHeading(scene), moment.sunDirection);
  const figures: Record<string, Figure> = {};
  for (const name of TOTAL_FIGURES) figures[name] = result.total[name];
  figures.shaded_fraction = shadedFraction(result.total.ledger);
  return {
    clock,
    solar_time_h: solar / 3600,
    time_utc: new Date(moment.time).toISOString(),
    sun: {
      azimuth_deg: moment.azimuth * DEGREES,
      elevation_deg: moment.elevation * DEGREES,
      longitudinal_deg: longitudinal * DEGREES,
      profile_deg: profile * DEGREES,
    },
    dni_w_m2: moment.dni,
    offset_mm: millimetres(offset),
    from_dish_mm: fromDish === null ? null : millimetres(fromDish),
    along_path_mm: alongPath === null ? null : 1000 * alongPath,
    of_best: ofBest,
    rays: result.rays,
    batches: result.batches,
    groups: result.groups,
    figures,
    receivers: result.receivers.map(
      ({ name, intercepted_power, peak_flux, spill_fraction, blocked_fraction, spot }): DayReceiver => ({
        name,
        intercepted_power,
        peak_flux,
        spill_fraction,
        blocked_fraction,
        spot: { holds_50: spot.holds_50, holds_90: spot.holds_90, holds_95: spot.holds_95 },
      }),
    ),
  };
}

/** Of the sunlight on the mirrors, the part that something else had stopped before. */
function shadedFraction({ available_w, lines }: Ledger): Figure {
  const of = (key: string) => lines.find((line) => line.key === key)?.power;
  const shaded = of('shaded');
  const onMirrors = available_w - (of('cosine')?.value ?? 0);
  if (shaded === undefined || !(onMirrors > 0)) return { value: 0, std_err: 0, ci95: [0, 0], unit: '1' };
  const { value, std_err, ci95, limit } = shaded;
  return {
    value: value / onMirrors,
    std_err: std_err / onMirrors,
    ci95: [ci95[0] / onMirrors, ci95[1] / onMirrors],
    unit: '1',
    ...(limit === undefined ? {} : { limit }),
  };
}

function studyOf(
  { scene, clock, sky, steps, mode, runOptions }: DayOptions,
  placing: Placing | null,
  done: readonly Traced[],
  dark: readonly DarkStep[],
  interrupted: boolean,
): DayStudy {
  const path = placing?.path?.map(millimetres) ?? null;
  const warnings = new Map<string, Warning>();
  const say = (code: string, message: string) => {
    if (!warnings.has(code)) warnings.set(code, { code, message });
  };
  for (const [i, message] of steps.notices.entries()) say(`clock_${i}`, message);
  for (const [i, message] of sky.notices.entries()) say(`sky_${i}`, message);
  for (const { row, warnings: own } of done) {
    for (const { code, message } of own) say(code, `From ${row.clock} on: ${message}`);
  }
  return {
    result: {
      schema_version: 1,
      program: { name: 'rowfocus', version: VERSION },
      kind: 'day',
      ...(runOptions.deposit === 'footprints' ? { deposit: runOptions.deposit } : {}),
      title: scene.title,
      scene_hash: scene.hash,
      seed: runOptions.seed,
      date: dateText(steps.day.date),
      clock: clock.name,
      sky: sky.describe(),
      sun_day: describeSunDay(steps.day, clock),
      mode: mode.kind === 'fitted' ? 'on_track' : mode.kind,
      path_mm: path,
      path: path === null ? null : pathShape(path, placing?.track ?? null),
      fitted_track: placing?.track ?? null,
      searched_steps: placing?.searched ?? 0,
      steps: done.map(({ row }) => row),
      dark_steps: dark,
      energy: energyOf(done, dark),
      interrupted,
      warnings: [...warnings.values()],
    },
    views: done.map(({ view }) => view),
  };
}

/** Trapezoids between steps, dark ones counting as nothing; the error from the slots that all steps share. */
function energyOf(done: readonly Traced[], dark: readonly DarkStep[]): Figure | null {
  const points = [
    ...done.map(({ time, row, powerReplicates }) => ({
      time,
      power: row.figures.intercepted_power.value,
      replicates: powerReplicates,
    })),
    ...dark.map(({ time_utc }) => ({ time: Date.parse(time_utc), power: 0, replicates: null })),
  ].sort((a, b) => a.time - b.time);
  if (points.length < 2 || done.length === 0) return null;
  // kWh per watt at each step.
  const weight = points.map(({ time }, i) => {
    const before = points[i - 1]?.time ?? time;
    const after = points[i + 1]?.time ?? time;
    return (after - before) / 2 / 3.6e9;
  });
  const value = points.reduce((sum, { power }, i) => sum + weight[i] * power, 0);
  const groups = done[0].powerReplicates.length;
  const paired = groups >= 2 && done.every(({ powerReplicates }) => powerReplicates.length === groups);
  const error = paired
    ? jackknife(
        Float64Array.from({ length: groups }, (_, j) =>
          points.reduce((sum, { replicates }, i) => sum + weight[i] * (replicates?.[j] ?? 0), 0),
        ),
        value,
      ).std_err
    : done.reduce((sum, { row }) => sum + row.figures.intercepted_power.std_err, 0) * Math.max(...weight);
  const t = studentT975(Math.max(1, groups - 1));
  return { value, std_err: error, ci95: [value - t * error, value + t * error], unit: 'kWh' };
}
