/** Where a track's result goes: files, then standard output. */
import { toJsonDocument } from '../report/json.js';
import type { DishBox } from '../report/path-figure.js';
import type { MachineRun, WrittenFile } from '../report/types.js';
import { cautionsFor } from '../result/cautions.js';
import type { TrackResult } from '../study/day-track-types.js';
import { MOVING_CAUTION } from './day-output.js';
import type { RunFlags } from './run-options.js';
import type { Session } from './session.js';
import { fileListText, RESULT_FILE, replaceResults, writeBelow } from './trace-files.js';
import { trackCsv, tracksCsv, trackText } from './track-report.js';

/** A track is for concentrated light, whatever the peak, which was not traced. */
export const ANY_PEAK = Number.POSITIVE_INFINITY;

/**
 * @param dish to draw in the picture of the path
 * @throws OutputError, after the result was printed, where files could not be written
 */
export async function reportTrack(
  result: TrackResult,
  dish: DishBox | null,
  flags: Pick<RunFlags, 'out' | 'json'>,
  machine: MachineRun,
  session: Session,
): Promise<void> {
  const cautions = [...cautionsFor(ANY_PEAK), MOVING_CAUTION];
  const body = { ...result, cautions };
  const written: WrittenFile[] = [];
  let failure: unknown = null;
  if (flags.out !== undefined) {
    try {
      await replaceResults(flags.out, written, async (stage) => {
        await writeTrack(stage, result, dish, written);
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
    session.out.write(trackText(result, cautions, session.out) + files);
  }
  if (failure !== null) throw failure;
}

async function writeTrack(
  folder: string,
  result: TrackResult,
  dish: DishBox | null,
  written: WrittenFile[],
): Promise<void> {
  const [{ pathFigurePng }, { trackSheetPngs }, { sheetOf, trackPathOf }] = await Promise.all([
    import('../report/path-figure.js'),
    import('../report/track-sheet.js'),
    import('./track-pictures.js'),
  ]);
  const put = async (what: string, file: string, data: string | Uint8Array): Promise<void> => {
    await writeBelow(folder, file, data);
    written.push({ what, receiver: null, file });
  };
  await put('track_table', 'track.csv', trackCsv(result));
  if (result.tracks.length > 0) await put('buildable_tracks', 'tracks.csv', tracksCsv(result));
  for (const [page, png] of trackSheetPngs(sheetOf(result)).entries()) {
    await put('track_sheet', `track-sheet-${page + 1}.png`, png);
  }
  await put('track_path_figure', 'track-path.png', pathFigurePng(trackPathOf(result, dish)));
}
