/** Where a day's result goes: files, then standard output. */
import { toJsonDocument } from '../report/json.js';
import type { DishBox } from '../report/path-figure.js';
import type { MachineRun, WrittenFile } from '../report/types.js';
import { cautionsFor } from '../result/cautions.js';
import type { DayStudy } from '../study/day-types.js';
import { dayCsv, dayText } from './day-report.js';
import type { RunFlags } from './run-options.js';
import type { Session } from './session.js';
import { fileListText, RESULT_FILE, replaceResults, writeBelow } from './trace-files.js';

/** Said with every day, whatever the peak: a lost receiver is worst where the flux is highest. */
export const MOVING_CAUTION =
  "A receiver that is parked, late or lost leaves its spot to whatever stands on the spot's way: it burns, and it sets on fire.";

/**
 * @param dish to draw in the picture of the path
 * @throws OutputError, after the result was printed, where files could not be written
 */
export async function reportDay(
  study: DayStudy,
  shown: string,
  dish: DishBox | null,
  flags: Pick<RunFlags, 'out' | 'json'>,
  machine: MachineRun,
  session: Session,
): Promise<void> {
  const { result } = study;
  const peak = Math.max(...result.steps.map(({ figures }) => figures.peak_flux.value));
  const cautions = cautionsFor(peak);
  const body = { ...result, cautions: cautions.length > 0 ? [...cautions, MOVING_CAUTION] : [] };
  const written: WrittenFile[] = [];
  let failure: unknown = null;
  if (flags.out !== undefined) {
    try {
      await replaceResults(flags.out, written, async (stage) => {
        await writeDay(stage, study, shown, dish, written);
        await writeBelow(stage, RESULT_FILE.file, toJsonDocument(body, [...written, RESULT_FILE], machine));
        written.push(RESULT_FILE);
      });
    } catch (error) {
      failure = error;
    }
  }
  if (flags.json === true) session.out.write(toJsonDocument(body, written, machine));
  else {
    const files =
      flags.out !== undefined && written.length > 0 ? `\n${fileListText(flags.out, written)}` : '';
    session.out.write(dayText(result, shown, body.cautions, session.out) + files);
  }
  if (failure !== null) throw failure;
}

async function writeDay(
  folder: string,
  study: DayStudy,
  shown: string,
  dish: DishBox | null,
  written: WrittenFile[],
): Promise<void> {
  const [{ dayMapsPng }, { dayPowerPng, daySpotPng }, { pathFigurePng }, pictures] = await Promise.all([
    import('../report/day-maps.js'),
    import('../report/day-plots.js'),
    import('../report/path-figure.js'),
    import('./day-pictures.js'),
  ]);
  const put = async (what: string, file: string, data: string | Uint8Array): Promise<void> => {
    await writeBelow(folder, file, data);
    written.push({ what, receiver: null, file });
  };
  await put('day_table', 'day.csv', dayCsv(study.result, shown));
  await put('day_maps_figure', 'day-maps.png', dayMapsPng(pictures.mapsOf(study, shown)));
  await put('day_power_figure', 'day-power.png', dayPowerPng(pictures.powerOf(study.result)));
  await put('day_spot_figure', 'day-spot.png', daySpotPng(pictures.spotOf(study, shown)));
  const path = pictures.pathOf(study.result, dish);
  if (path !== null) await put('day_path_figure', 'day-path.png', pathFigurePng(path));
}
