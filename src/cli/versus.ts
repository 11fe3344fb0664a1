/** `rowfocus versus`: scenes of equal mirror area side by side, up to heat and its price. */
import { basename } from 'node:path';
import type { Command } from 'commander';
import type { PageInput } from '../page/types.js';
import type { CostDocument } from '../study/cost-result.js';
import type { HeatResult } from '../study/heat-result.js';
import type { Compared, VersusResult } from '../study/line-points.js';
import { type FaultContext, UsageError } from './failure.js';
import { heatFailure, heatOfYear, RAYS } from './heat.js';
import { addReportOption, openPage, type PageFlags, pageInput } from './page-output.js';
import { openScene } from './scene-file.js';
import { addYearOptions, type OpenYear, openYear, type YearFlags } from './season-options.js';
import { reportYear } from './season-output.js';
import { EXIT, type Session } from './session.js';

interface VersusFlags extends YearFlags, PageFlags {
  readonly unlike?: boolean;
}

const MOST_SCENES = 8;

export function addVersusCommand(
  program: Command,
  session: Session,
  finish: (code: number) => void,
  context: (known: Partial<FaultContext>) => void,
): void {
  const command = program
    .command('versus')
    .summary('line or points? scenes of equal mirror area side by side: heat of a year, hours, flux, price')
    .description(
      'Works out the year of each scene and sets them side by side: heat delivered, hours at temperature, peak flux and price, each ' +
        'with its error and, where there is one, a closed form.',
    )
    .argument('<scenes...>', 'two scene files or more, with the section "heat" (and "cost" for prices)')
    .option('--unlike', 'compare scenes that differ in mirror area, site, sky, film or temperature, too');
  addReportOption(addYearOptions(command, RAYS))
    .addHelpText(
      'after',
      `
Examples:
  rowfocus versus line.yaml points.yaml
  rowfocus versus line.yaml equal.yaml unequal.yaml --out versus --report versus.html

Scenes must have equal mirror area, the same place, sky, film and oil temperatures, or there is nothing to learn; --unlike lifts that
and tells what differs. Options count for all scenes.`,
    )
    .action(async (paths: string[], flags: VersusFlags) => {
      context({ seed: flags.seed });
      finish(await runVersus(paths, flags, session, context));
    });
}

async function runVersus(
  paths: readonly string[],
  flags: VersusFlags,
  session: Session,
  context: (known: Partial<FaultContext>) => void,
): Promise<number> {
  const started = performance.now();
  if (paths.length < 2) throw new UsageError('a comparison takes two scenes at least');
  if (paths.length > MOST_SCENES) throw new UsageError(`a comparison takes ${MOST_SCENES} scenes at most`);
  const [{ differences, versusAnswer, versusEntry, AREA_TOLERANCE }, { heatPlant }] = await Promise.all([
    import('../study/line-points.js'),
    import('../study/heat-plant.js'),
  ]);
  await openPage(flags.report, '--report');
  if (flags.out !== undefined) {
    const { openFolder } = await import('./trace-files.js');
    await openFolder(flags.out);
  }
  const different = await checkAlike(paths, flags, session, { differences, heatPlant });
  let workers = 0;
  const compared: Compared[] = [];
  const inputs: PageInput['inputs'][number][] = [];
  for (const [index, path] of paths.entries()) {
    // The folder for files is open by now.
    const { out: _out, ...rest } = flags;
    const opened = await openYear(path, rest, session);
    context({ sceneHash: opened.scene.hash });
    ({ workers } = opened.machine());
    opened.progress.stage(`scene ${index + 1} of ${paths.length}`);
    let result: HeatResult | CostDocument;
    try {
      result = await pricedWhereItPays(opened, flags, session);
    } catch (error) {
      throw heatFailure(error);
    } finally {
      await opened.close();
    }
    const { scene, season } = opened;
    inputs.push(pageInput(opened.loaded));
    compared.push({ file: basename(path), scene, plant: heatPlant(scene), season, result });
  }
  const entries = compared.map(versusEntry);
  const areas = entries.map(({ mirror_area_m2 }) => mirror_area_m2);
  const equal = Math.max(...areas) <= (1 + AREA_TOLERANCE) * Math.min(...areas);
  const [{ result: first }] = compared;
  const result: VersusResult = {
    schema_version: 1,
    program: first.program,
    kind: 'versus',
    year: first.year,
    seed: first.seed,
    sky: first.sky,
    site: first.site,
    receivers: first.receivers,
    equal_area: equal,
    differences: different,
    entries,
    answer: versusAnswer(entries, !equal),
    warnings: onceEach(compared.flatMap((entry) => entry.result.warnings)),
    cautions: [...new Set(compared.flatMap((entry) => entry.result.cautions))],
  };
  const { versusReport } = await import('./versus-output.js');
  const machine = { wall_time_s: (performance.now() - started) / 1000, workers };
  await reportYear(versusReport(result, session), flags, { inputs, machine }, session);
  return EXIT.done;
}

/** Heat, and its price where the scene has prices and there is heat to pay for. When to replace film is not asked here. */
async function pricedWhereItPays(
  opened: OpenYear,
  flags: YearFlags,
  session: Session,
): Promise<HeatResult | CostDocument> {
  const { result, study } = await heatOfYear(opened, flags, session);
  const { scene, mode, pool } = opened;
  if ((scene.plant?.cost ?? null) === null || !(study.year.delivered_kwh.best > 0)) return result;
  const [{ studyCost }, { costDocument }] = await Promise.all([
    import('../study/cost-study.js'),
    import('../study/cost-result.js'),
  ]);
  const cost = await studyCost({
    scene: { ...scene, plant: scene.plant && { ...scene.plant, filmAgeing: null } },
    heat: study,
    mode,
    seed: flags.seed,
    rays: flags.rays,
    pool,
    stop: session.stop,
  });
  return costDocument(result, cost);
}

function onceEach(warnings: HeatResult['warnings']): HeatResult['warnings'] {
  return warnings.filter(({ message }, i) => warnings.findIndex((other) => other.message === message) === i);
}

/** All scenes are read before the first is traced. @returns what differs, where that is allowed */
async function checkAlike(
  paths: readonly string[],
  flags: VersusFlags,
  session: Session,
  {
    differences,
    heatPlant,
  }: Pick<typeof import('../study/line-points.js'), 'differences'> &
    Pick<typeof import('../study/heat-plant.js'), 'heatPlant'>,
): Promise<readonly string[]> {
  if (paths.filter((path) => path === '-').length > 0) {
    throw new UsageError('versus reads scenes from files; "-" cannot be read twice');
  }
  const read = [];
  for (const path of paths) {
    const { scene } = await openScene(path, flags.set ?? [], session);
    try {
      read.push({ file: basename(path), scene, plant: heatPlant(scene) });
    } catch (error) {
      const failure = heatFailure(error);
      throw failure instanceof UsageError ? new UsageError(`${path}: ${failure.message}`) : failure;
    }
  }
  const found = differences(read);
  if (found.length > 0 && flags.unlike !== true) {
    throw new UsageError(
      `the scenes differ in more than their mirrors and receivers (${found.join('; ')}); make them alike, or compare them with --unlike`,
    );
  }
  return found;
}
