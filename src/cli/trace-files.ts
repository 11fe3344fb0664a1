/** The files of a trace: numbers first, then pictures, the whole result last. */
import { join } from 'node:path';
import { fluxCsv, interceptCurveCsv } from '../report/csv.js';
import {
  fileSlugs,
  type OutputFile,
  probeFolder,
  removeLeftovers,
  replaceTogether,
  writeFiles,
} from '../report/files.js';
import { ledgerCsv } from '../report/ledger-csv.js';
import type { RunStamp, WrittenFile } from '../report/types.js';
import type { Summary } from '../result/types.js';
import { UsageError } from './failure.js';

/** With more receivers than this, the files of each go into a folder of their own beside the summary. */
export const MOST_RECEIVERS_FLAT = 12;
export const RECEIVER_FOLDER = 'receivers';

/** Makes the folder and finds out whether it can be written to, before an hour of tracing. @throws OutputError, UsageError */
export async function openFolder(folder: string): Promise<void> {
  if (folder.trim() === '') throw new UsageError("option '--out' needs the name of a folder");
  await probeFolder(folder);
  for (const place of [folder, join(folder, RECEIVER_FOLDER)]) await removeLeftovers(place);
}

interface PlannedFile {
  readonly listed: WrittenFile;
  readonly make: () => string | Uint8Array;
}

/** Everything but `result.json`. Each file is made only when its turn comes, so that one at a time is in memory. */
async function planFiles(summary: Summary, stamp: RunStamp): Promise<readonly PlannedFile[]> {
  // Loaded only where pictures are wanted: fonts and the renderer take longer than a short trace.
  const [{ highestFlux, writeRawMap }, { fluxFigurePng }, { curveFigurePng }] = await Promise.all([
    import('../report/heatmap.js'),
    import('../report/flux-figure.js'),
    import('../report/curve-figure.js'),
  ]);
  const { result, grids } = summary;
  const { receivers } = result;
  const slugs = fileSlugs(receivers.map(({ name }) => name));
  const folder = receivers.length > MOST_RECEIVERS_FLAT ? `${RECEIVER_FOLDER}/` : '';
  // One scale for all, so that the pictures of a row can be laid side by side.
  const scaleMax = highestFlux(grids);
  const whole = (what: string, file: string, make: PlannedFile['make']): PlannedFile => ({
    listed: { what, receiver: null, file },
    make,
  });
  const each = (what: string, ending: string, make: (index: number) => string | Uint8Array): PlannedFile[] =>
    receivers.map(({ name }, index) => ({
      listed: { what, receiver: name, file: `${folder}${slugs[index]}-${ending}` },
      make: () => make(index),
    }));
  return [
    whole('ledger', 'ledger.csv', () => ledgerCsv(result)),
    whole('intercept_curve', 'intercept-curve.csv', () => interceptCurveCsv(result)),
    ...each('flux_grid', 'flux.csv', (index) => fluxCsv(grids[index])),
    ...each('flux_map', 'map.png', (index) => writeRawMap(grids[index], scaleMax)),
    whole('intercept_curve_figure', 'intercept-curve.png', () => curveFigurePng(receivers, stamp)),
    ...each('flux_figure', 'flux.png', (index) =>
      fluxFigurePng(receivers[index], grids[index], stamp, { scaleMax }),
    ),
  ];
}

export const RESULT_FILE: WrittenFile = { what: 'result', receiver: null, file: 'result.json' };

/**
 * Writes one file below the folder.
 * @param file path relative to it, at most one folder deep
 */
export async function writeBelow(folder: string, file: string, data: OutputFile['data']): Promise<void> {
  const parts = file.split('/');
  const name = parts[parts.length - 1];
  await writeFiles(join(folder, ...parts.slice(0, -1)), [{ name, data }]);
}

/**
 * Replaces the results in a folder all together, or none of them.
 * @param written files that `fill` has written; emptied where they could not be put in place
 * @param fill writes them below the folder it is given
 * @throws OutputError
 */
export async function replaceResults(
  folder: string,
  written: WrittenFile[],
  fill: (stage: string) => Promise<void>,
): Promise<void> {
  try {
    await replaceTogether(folder, fill, RESULT_FILE.file);
  } catch (error) {
    written.length = 0;
    throw error;
  }
}

/**
 * Writes everything but `result.json`, which lists the others and therefore comes last.
 * @param written gets each file as soon as it is there, so that the list is right even where a later one fails
 * @param enough asked before each file: true ends the writing there
 * @throws OutputError
 */
export async function writeTraceFiles(
  folder: string,
  summary: Summary,
  stamp: RunStamp,
  written: WrittenFile[],
  enough: () => boolean,
): Promise<void> {
  for (const { listed, make } of await planFiles(summary, stamp)) {
    if (enough()) return;
    await writeBelow(folder, listed.file, make());
    written.push(listed);
  }
}

/** Most files named one by one in the text. */
const MOST_NAMED = 16;

/** @returns what was written and where, for people */
export function fileListText(folder: string, files: readonly WrittenFile[]): string {
  const names = files.map(({ file }) => file);
  const flat = names.filter((name) => !name.includes('/'));
  const below = names.length - flat.length;
  const lines = [`Written to ${folder}:`];
  if (flat.length <= MOST_NAMED) lines.push(...flat.map((name) => `  ${name}`));
  else {
    lines.push(...flat.slice(0, MOST_NAMED - 1).map((name) => `  ${name}`));
    lines.push(`  and ${flat.length - MOST_NAMED + 1} more, listed in result.json`);
  }
  if (below > 0) {
    const receivers = new Set(files.flatMap(({ receiver }) => (receiver === null ? [] : [receiver]))).size;
    lines.push(
      `  ${RECEIVER_FOLDER}/ with ${below} files: for each of ${receivers} receivers its flux figure (-flux.png), raw map (-map.png) and grid (-flux.csv)`,
    );
  }
  return `${lines.join('\n')}\n`;
}
