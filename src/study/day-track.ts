/** Where receivers that follow their spot stand by half hour and season, traced again there, and the tracks that can be built for it. */
import { directionOf, norm, subtract } from '../field/vector.js';
import type { Figure, Summary } from '../result/types.js';
import type { Run, RunOptions } from '../run/types.js';
import type { Scene, Vec3 } from '../scene/types.js';
import { dateText, dayOfYear } from '../sun/calendar.js';
import type { Clock } from '../sun/clock.js';
import { seenSun } from '../sun/direction.js';
import type { Sky } from '../sun/sky.js';
import { sunDay } from '../sun/solar-time.js';
import { VERSION } from '../version.js';
import { formStep, lossBeside, sceneAtStep, searchLight, takeBreath } from './day.js';
import { followFreely } from './day-places.js';
import { type Season, seasonName } from './day-seasons.js';
import { DayError, type DayStep, daySteps } from './day-steps.js';
import type { BuildableTrack, SeasonNote, TrackResult, TrackTableRow } from './day-track-types.js';
import { compareFigures, replicatesByName } from './figures.js';
import type { Light } from './light.js';
import { type LossForm, lossFormFrom, lossOfOffset } from './loss-form.js';
import {
  dishEnds,
  NO_OFFSET,
  type Offset,
  receiverFromDish,
  tiltSettingOf,
  withNoonTilt,
  withReceiversAt,
} from './moving.js';
import { withoutMaps } from './optics-table-node.js';
import { traceScene } from './trace.js';
import { bestTracks } from './track-best.js';
import type { FittedTrack } from './track-fit.js';
import type { LitPoint } from './track-light.js';
import { trackSummaryRows, trackTermRows, worseClockLoss } from './track-rows.js';
import { TRACK_KINDS, trackPath } from './track-shape.js';

export interface TrackStudyOptions {
  readonly scene: Scene;
  readonly run: Run;
  /** For tracing the places again; its seed is not the search's. */
  readonly runOptions: RunOptions;
  readonly sky: Sky;
  /** Of the site, for what the clock shows. */
  readonly clock: Clock;
  /** True solar time: the table goes by it, as days of one declination share it. */
  readonly solarClock: Clock;
  readonly seasons: readonly Season[];
  readonly year: number;
  /** Seconds between rows. */
  readonly every: number;
  /** Least elevation of the sun, radians. */
  readonly above: number;
  readonly searchRays: number;
  /** Dishes are turned for each season so that at noon their light goes to where the scene has the receivers. */
  readonly retilt: boolean;
  /** Called with the number of rows once it is known, and after each row traced. */
  readonly onRows?: (rows: number) => void;
  readonly onRow?: () => void;
}

/** A row before it is traced. */
interface Found {
  readonly season: number;
  readonly step: DayStep;
  readonly scene: Scene;
  readonly light: Light;
  /** Rounded to whole millimetres. */
  readonly offset: Offset;
  readonly best: Offset;
  readonly most: number;
  readonly form: LossForm;
}

const DEGREES = 180 / Math.PI;

function rounded([x, y, z]: Offset): Offset {
  const mm = (value: number): number => Math.round(1000 * value) / 1000 + 0;
  return [mm(x), mm(y), mm(z)];
}

function inMillimetres([x, y, z]: Vec3): Vec3 {
  return [1000 * x, 1000 * y, 1000 * z];
}

/**
 * Finds the places, fits tracks to them and traces every place of the table again, with other random numbers, beside the best place
 * that the search found.
 *
 * Ends early, marked as interrupted, when `runOptions.stop` is requested: rows that were not traced are left out, and tracks are
 * fitted only once all places are found.
 *
 * @throws DayError where no row has light; what `lightOf`, `fitTracks` and `run` throw
 */
export async function studyTrack(options: TrackStudyOptions): Promise<TrackResult> {
  const { runOptions, seasons } = options;
  const stopped = (): boolean => runOptions.stop?.requested === true;
  const found: Found[] = [];
  const skipped: string[] = [];
  for (const season of seasons.keys()) {
    if (stopped()) break;
    try {
      found.push(...(await placesOf(options, season, stopped)));
    } catch (error) {
      // A polar winter must not cost the summer's track.
      if (!(error instanceof DayError)) throw error;
      skipped.push(error.message);
    }
  }
  const whole = !stopped();
  if (found.length === 0 && whole) throw new DayError(skipped[0] ?? 'no mirror is lit at any of these times');
  options.onRows?.(found.length);
  const traced: TracedAgain[] = [];
  for (const [index, one] of found.entries()) {
    await takeBreath();
    if (stopped()) break;
    const again = await tracedAgain(one, options);
    if (again === null) break;
    // The smooth run gives away a thousandth by light that knows no bodies of receivers; where those make it more, it is not worth it.
    if (again.replaced !== null) found[index] = again.replaced;
    traced.push(again);
    options.onRow?.();
  }
  const rows = traced.map((again, index) => tableRow(found, index, again, options));
  return resultOf(options, found, rows, whole ? buildable(found, options) : [], skipped);
}

/** The scene with its dishes as they are set in a season. */
function sceneOfSeason({ scene, retilt, seasons, solarClock }: TrackStudyOptions, season: number): Scene {
  const { site } = scene;
  if (!retilt || site === null) return scene;
  const { noon } = sunDay(site, solarClock, seasons[season].dates[0]);
  return withNoonTilt(scene, directionOf(seenSun(site, noon)));
}

async function placesOf(
  options: TrackStudyOptions,
  season: number,
  stopped: () => boolean,
): Promise<Found[]> {
  const { sky, solarClock, every, above, searchRays, runOptions } = options;
  const scene = sceneOfSeason(options, season);
  const { steps } = daySteps(scene, sky, solarClock, options.seasons[season].dates[0], {
    every,
    at: null,
    above,
  });
  const lit: { step: DayStep; scene: Scene; light: Light; time: number }[] = [];
  for (const step of steps) {
    await takeBreath();
    if (stopped()) return [];
    if (!(step.moment.dni > 0)) continue;
    const own = sceneAtStep(scene, step);
    const light = searchLight(own, runOptions.seed, searchRays);
    if (light !== null) lit.push({ step, scene: own, light, time: step.moment.time });
  }
  if (lit.length === 0) return [];
  const following = await followFreely(lit, {
    searchEvery: 3,
    onStep: async () => {
      await takeBreath();
      return !stopped();
    },
  });
  if (following === null) return [];
  return lit.flatMap(({ step, scene: own, light }, i) => {
    const { offset, best, most } = following.places[i];
    if (!(most > 0)) return [];
    const place = rounded(offset);
    return [{ season, step, scene: own, light, offset: place, best, most, form: formAt(light, place, most) }];
  });
}

interface TracedAgain {
  readonly power: Figure;
  readonly ofBest: Figure;
  /** The row at the best place, where the smooth run's was clearly worse. */
  readonly replaced: Found | null;
}

/** Share of the best place's power below which the smooth run's place gives way to it. */
const NOT_WORTH_IT = 0.997;

/** @returns null where it was cut short */
async function tracedAgain(
  found: Found,
  { run, runOptions }: TrackStudyOptions,
): Promise<TracedAgain | null> {
  const { scene, offset, best } = found;
  const at = async (place: Offset): Promise<Summary | null> => {
    try {
      const { summary } = await traceScene(withReceiversAt(withoutMaps(scene), place), run, runOptions);
      return summary.result.interrupted ? null : summary;
    } catch (error) {
      if (runOptions.stop?.requested === true && error instanceof RangeError) return null;
      throw error;
    }
  };
  const here = await at(offset);
  const there = here === null ? null : await at(best);
  if (here === null || there === null) return null;
  const ofBest = ratioOf(here, there);
  if (ofBest.value >= NOT_WORTH_IT) {
    return { power: here.result.total.intercepted_power, ofBest, replaced: null };
  }
  const place = rounded(best);
  const again = await at(place);
  if (again === null) return null;
  return {
    power: again.result.total.intercepted_power,
    ofBest: ratioOf(again, there),
    replaced: { ...found, offset: place, form: formAt(found.light, place, found.most) },
  };
}

function ratioOf(here: Summary, there: Summary): Figure {
  const compared = ({ result, replicates }: Summary) => ({
    figure: result.total.intercepted_power,
    replicates: replicatesByName(replicates, 'intercepted_power'),
  });
  const { ratio } = compareFigures(compared(here), compared(there), true);
  return ratio ?? { value: 1, std_err: 0, ci95: [0, 1], unit: '1', limit: 'upper' };
}

function formAt(light: Light, place: Offset, most: number): LossForm {
  return lossFormFrom((beside) => lossBeside(light, place, most, beside), formStep(light));
}

function tableRow(
  found: readonly Found[],
  index: number,
  { power, ofBest }: Pick<TracedAgain, 'power' | 'ofBest'>,
  { scene, clock, solarClock, seasons }: TrackStudyOptions,
): TrackTableRow {
  const { season, step, offset, form, light, most } = found[index];
  const sameDay = (i: number): Found | null => (found[i]?.season === season ? found[i] : null);
  const before = sameDay(index - 1) ?? found[index];
  const after = sameDay(index + 1) ?? found[index];
  const minutes = (after.step.moment.time - before.step.moment.time) / 60_000;
  const move = subtract(after.offset, before.offset);
  let path = 0;
  for (let i = index; sameDay(i - 1) !== null; i--)
    path += norm(subtract(found[i].offset, found[i - 1].offset));
  const fromDish = receiverFromDish(withReceiversAt(scene, offset));
  const ends = dishEnds(scene);
  const loss = (beside: Vec3): number => 100 * lossOfOffset(form, beside);
  // A clock may be slow or fast; mornings and evenings tell the two apart.
  const wrongBy = (late_min: number): number => {
    const beside = move.map((way) => (-late_min * way) / minutes) as unknown as Vec3;
    return 100 * (lossBeside(light, offset, most, beside) - lossBeside(light, offset, most, NO_OFFSET));
  };
  return {
    season,
    solar_time: step.clock,
    clock: clock.text(step.moment.time).slice(11),
    clock_on_dates: seasons[season].dates.map((date) =>
      clock.text(solarClock.instantOf(date, step.solar).time).slice(11),
    ),
    sun: { azimuth_deg: step.moment.azimuth * DEGREES, elevation_deg: step.moment.elevation * DEGREES },
    dni_w_m2: step.moment.dni,
    offset_mm: inMillimetres(offset).map(Math.round) as unknown as Vec3,
    from_dish_mm: fromDish === null ? null : inMillimetres(fromDish),
    along_path_mm: 1000 * path,
    speed_mm_per_min: minutes > 0 ? (1000 * norm(move)) / minutes : null,
    overhang_mm:
      fromDish === null || ends === null
        ? null
        : 1000 * Math.max(0, ends[0] - fromDish[0], fromDish[0] - ends[1]),
    loss_at_10_mm_pct: [loss([0.01, 0, 0]), loss([0, 0.01, 0]), loss([0, 0, 0.01])],
    loss_at_5_min_pct: minutes > 0 ? Math.max(wrongBy(5), wrongBy(-5)) : null,
    intercepted_power: power,
    of_best: ofBest,
  };
}

/** Straight pieces that an arc is printed in, metres: it strays from them by less than a millimetre. */
const PRINTED_PIECE = 0.1;

/** Tracks for each season by itself, then one for all. */
function buildable(found: readonly Found[], options: TrackStudyOptions): BuildableTrack[] {
  const each = options.seasons.flatMap((_, season) =>
    tracksFor(
      found.filter((one) => one.season === season),
      season,
      options,
    ),
  );
  return options.seasons.length > 1 ? [...each, ...tracksFor(found, null, options)] : each;
}

function tracksFor(
  found: readonly Found[],
  season: number | null,
  { scene, seasons, every }: TrackStudyOptions,
): BuildableTrack[] {
  const points = found.map(({ season: own, step, offset, most, light, form }): LitPoint => {
    return {
      day: dayOfYear(seasons[own].dates[0]),
      minute: step.solar / 60,
      position: offset,
      power_w: most,
      hours: (seasons[own].days * every) / 3600,
      light,
      lossPerMm2: form,
      lossAt: (beside) => lossBeside(light, offset, most, beside),
    };
  });
  let fits: readonly FittedTrack[];
  try {
    fits = bestTracks(TRACK_KINDS, points);
  } catch (error) {
    // All places in one: receivers that need no track.
    if (error instanceof RangeError) return [];
    throw error;
  }
  const ends = dishEnds(scene);
  // The track is in offsets; the row's ends are told from the dish's centre.
  const origin = receiverFromDish(scene)?.[0] ?? 0;
  const rowEnds = ends === null ? null : { from_m: ends[0] - origin, to_m: ends[1] - origin };
  const summaries = trackSummaryRows(fits, rowEnds);
  return fits.map((fit, i) => ({
    season,
    summary: summaries[i],
    terms: trackTermRows([fit]),
    loss_at_5_min_pct: worseClockLoss(fit, 5),
    path_mm: pathOf(fit).map((place) => inMillimetres(rounded(place)).map(Math.round) as unknown as Vec3),
  }));
}

function pathOf({ kind, track, from, to }: FittedTrack): readonly Offset[] {
  if (!(to > from)) return [];
  return trackPath(track, from, to, kind === 'arc' ? PRINTED_PIECE : to - from);
}

function resultOf(
  options: TrackStudyOptions,
  found: readonly Found[],
  rows: readonly TrackTableRow[],
  tracks: readonly BuildableTrack[],
  skipped: readonly string[],
): TrackResult {
  const { scene, runOptions, clock, sky, seasons, year } = options;
  let worst: TrackResult['worst'] = null;
  for (const [row, { of_best }] of rows.entries()) {
    if (worst === null || of_best.value < worst.of_best.value) worst = { row, of_best };
  }
  const ends = dishEnds(scene);
  return {
    schema_version: 1,
    program: { name: 'rowfocus', version: VERSION },
    kind: 'track',
    title: scene.title,
    scene_hash: scene.hash,
    seed: runOptions.seed,
    year,
    clock: clock.name,
    sky: sky.describe(),
    seasons: seasons.map((season, index) => noteOf(season, index, options)),
    rows,
    tracks,
    worst,
    dish_ends_mm: ends === null ? null : [1000 * ends[0], 1000 * ends[1]],
    interrupted: runOptions.stop?.requested === true && (rows.length < found.length || tracks.length === 0),
    warnings: [
      ...skipped.map((message) => ({ code: 'season_left_out', message: `Left out: ${message}.` })),
      ...sky.notices.map((message) => ({ code: 'sky', message })),
    ],
  };
}

function noteOf(season: Season, index: number, options: TrackStudyOptions): SeasonNote {
  const { scene, clock } = options;
  const { site } = scene;
  return {
    name: seasonName(season),
    dates: season.dates.map(dateText),
    declination_deg: season.declination * DEGREES,
    days: season.days,
    tilt_setting_deg: tiltSettingOf(sceneOfSeason(options, index)) * DEGREES,
    clock_at_solar_noon:
      site === null ? [] : season.dates.map((date) => clock.text(sunDay(site, clock, date).noon).slice(11)),
  };
}
