/** The report page as commands write it: one HTML file, beside whatever else they leave. */
import { basename, dirname, extname } from 'node:path';
import type { Command } from 'commander';
import type { PageInput, TracedScene } from '../page/types.js';
import { plainText } from '../report/plain-text.js';
import type { ReportSection } from '../report/section.js';
import type { MachineRun } from '../report/types.js';
import type { Traced } from '../study/trace.js';
import { UsageError } from './failure.js';
import { DEFAULT_MAX_RAYS, type RunFlags, raysWanted } from './run-options.js';
import type { LoadedScene } from './scene-file.js';

/** Plain rays that stand for a run of footprints in the view in space. */
const RAYS_BESIDE_FOOTPRINTS = 1e5;

export interface PageFlags {
  readonly report?: string;
}

/** Adds `--report`. */
export function addReportOption(command: Command): Command {
  return command.option(
    '--report <file.html>',
    'also write a report page: one HTML file that loads nothing, to open from disk, mail or print',
  );
}

/**
 * Finds out whether the page can be written, before anything is traced.
 * @throws UsageError, OutputError
 */
export async function openPage(path: string | undefined, option: string): Promise<void> {
  if (path === undefined) return;
  const name = basename(path);
  if (path.trim() === '' || name === '' || name === '.' || name === '..' || /[/\\]$/.test(path)) {
    throw new UsageError(`option '${option}' needs the name of an HTML file`);
  }
  if (!/^\.html?$/i.test(extname(name))) {
    throw new UsageError(
      `option '${option}' needs a name that ends in .html; ${JSON.stringify(plainText(name))} does not`,
    );
  }
  const { probeFolder } = await import('../report/files.js');
  await probeFolder(dirname(path));
}

/** @returns what a page shows of a scene that was traced */
export async function tracedScene(
  { file, text, scene }: LoadedScene,
  { prepared, summary }: Traced,
  flags: RunFlags,
): Promise<TracedScene> {
  const { planBatches, planTargetBatches } = await import('../run/plan.js');
  // Footprints have points, not rays: rays of the same seed are drawn in their place.
  const plan =
    flags.deposit === 'footprints'
      ? planBatches(prepared, RAYS_BESIDE_FOOTPRINTS)
      : flags.to === undefined
        ? planBatches(prepared, raysWanted(flags))
        : planTargetBatches(prepared, flags.maxRays ?? DEFAULT_MAX_RAYS);
  // Folders are nobody's business who gets the page by mail.
  return { file: basename(file), text, title: scene.title, hash: scene.hash, prepared, summary, plan };
}

/** @returns a scene file as it stands on a page whose study traces no scene by itself */
export function pageInput({ file, text, scene }: LoadedScene): PageInput['inputs'][number] {
  // Folders are nobody's business who gets the page by mail.
  return { file: basename(file), text, title: scene.title, hash: scene.hash };
}

/** What a command hands in for its page; what it leaves out is empty. */
export interface PageParts {
  readonly command: string;
  readonly traced?: readonly TracedScene[];
  readonly inputs?: PageInput['inputs'];
  readonly sections?: readonly ReportSection[];
  readonly answer?: readonly string[];
  readonly cautions?: readonly string[];
  readonly warnings?: readonly { readonly message: string }[];
}

/**
 * Writes the page, whole or not at all.
 * @throws OutputError
 */
export async function writePage(
  path: string,
  parts: PageParts,
  flags: Pick<RunFlags, 'seed' | 'set'>,
  machine: MachineRun,
): Promise<void> {
  const [{ reportPage }, { writeFiles }, { cautionsFor }, { VERSION }] = await Promise.all([
    import('../page/page.js'),
    import('../report/files.js'),
    import('../result/cautions.js'),
    import('../version.js'),
  ]);
  const traced = parts.traced ?? [];
  const hottest = Math.max(0, ...traced.map(({ summary }) => summary.result.total.peak_flux.value));
  const own = [...traced.flatMap(({ summary }) => summary.result.warnings), ...(parts.warnings ?? [])].map(
    ({ message }) => message,
  );
  const page = reportPage({
    command: parts.command,
    version: VERSION,
    seed: flags.seed,
    overrides: flags.set ?? [],
    traced,
    inputs: parts.inputs ?? [],
    sections: parts.sections ?? [],
    answer: parts.answer ?? [],
    cautions: parts.cautions ?? cautionsFor(hottest),
    warnings: [...new Set(own)],
    machine,
    written: new Date().toISOString().slice(0, 10),
  });
  await writeFiles(dirname(path), [{ name: basename(path), data: page }]);
}

/** @returns the line that tells where the page is */
export function pageText(path: string): string {
  return `Report page: ${path}\n`;
}
