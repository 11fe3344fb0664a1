/** `rowfocus cost`: the price of a kWh of heat, and what to do about it. */
import type { Command } from 'commander';
import type { CostDocument } from '../study/cost-result.js';
import type { FaultContext } from './failure.js';
import { heatFailure, heatOfYear, RAYS } from './heat.js';
import { addReportOption, type PageFlags } from './page-output.js';
import { addYearOptions, type OpenYear, type YearFlags } from './season-options.js';
import type { Session } from './session.js';
import { runYear, type YearWork } from './year-command.js';

export function addCostCommand(
  program: Command,
  session: Session,
  finish: (code: number) => void,
  context: (known: Partial<FaultContext>) => void,
): void {
  const command = program
    .command('cost')
    .summary('price of a kWh of heat: parts, levers, fuel, heat at night, when to replace film')
    .description(
      "Works out a scene's year of heat and reckons what a kWh of it costs: parts and upkeep, how wide the price is, what moves it most, " +
        'where it breaks even with a fuel, what heat at night costs beside it, and when to replace the film.',
    )
    .argument('<scene>', 'scene file with the sections "heat" and "cost", or - for standard input');
  addReportOption(addYearOptions(command, RAYS))
    .addHelpText(
      'after',
      `
Examples:
  rowfocus cost scene.yaml
  rowfocus cost scene.yaml --set cost.rate=0.08 --out cost

Prices are those of the scene; nothing is looked up. Caution: figures tell nothing about whether a plant may be built;
local codes and licensed practice do.`,
    )
    .action(async (path: string, flags: YearFlags & PageFlags) => {
      context({ seed: flags.seed });
      const work: YearWork<CostDocument> = {
        study: (opened) => costOfYear(opened, flags, session),
        failure: heatFailure,
        report: async (result) => {
          const { costReport } = await import('./cost-output.js');
          return costReport(result, session);
        },
      };
      finish(await runYear(path, flags, session, context, work));
    });
}

/** @throws what the studies throw */
export async function costOfYear(
  opened: OpenYear,
  flags: YearFlags,
  session: Session,
): Promise<CostDocument> {
  const [{ studyCost }, { costDocument }, { costSpec }] = await Promise.all([
    import('../study/cost-study.js'),
    import('../study/cost-result.js'),
    import('../study/cost-plan.js'),
  ]);
  const { scene, mode, pool, progress } = opened;
  // Before minutes of tracing, not after.
  costSpec(scene);
  const heat = await heatOfYear(opened, flags, session);
  const cost = await studyCost({
    scene,
    heat: heat.study,
    mode,
    seed: flags.seed,
    rays: flags.rays,
    pool,
    stop: session.stop,
    onStage: progress.stage,
  });
  return costDocument(heat.result, cost);
}
