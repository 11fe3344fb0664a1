/** `rowfocus check`: what was understood of a scene, before any ray is traced. */
import { availableParallelism } from 'node:os';
import { type Command, Option } from 'commander';
import type { FaultContext } from './failure.js';
import { addSetOption, chooseWorkers, DEFAULT_RAYS, parseRays } from './run-options.js';
import { openScene } from './scene-file.js';
import type { Session } from './session.js';

interface CheckFlags {
  readonly rays: number;
  readonly json?: boolean;
  readonly set?: readonly string[];
}

export function addCheckCommand(
  program: Command,
  session: Session,
  context: (known: Partial<FaultContext>) => void,
): void {
  const command = program
    .command('check')
    .summary('check a scene and say what was understood')
    .description(
      'Checks a scene file and says what was understood: sizes, focal lengths, rim angles, concentration, where the receivers ' +
        'stand, what a trace will need, and what looks wrong. Traces nothing.',
    )
    .argument('<scene>', 'scene file, or - for standard input')
    .addOption(
      new Option('--rays <count>', 'rays of the trace whose memory and time are estimated')
        .argParser(parseRays)
        .default(DEFAULT_RAYS, '1e6'),
    )
    .option('--json', 'print one JSON document in place of the text');
  addSetOption(command)
    .addHelpText(
      'after',
      `
Examples:
  rowfocus check scene.yaml
  rowfocus check scene.yaml --set rows.A.pitch_m=1.5 --rays 1e8`,
    )
    .action(async (path: string, flags: CheckFlags) => {
      const started = performance.now();
      const { scene } = await openScene(path, flags.set ?? [], session);
      context({ sceneHash: scene.hash });
      const { describeScene } = await import('./check-report.js');
      // The weather itself is no part of a trace, but a file that is wrong or far away is as wrong as a key.
      const sky =
        scene.sky === null || scene.site === null
          ? null
          : (await (await import('./day.js')).openSky(scene, path, undefined)).sky;
      const cores = availableParallelism();
      const workers = chooseWorkers(undefined, flags.rays, cores);
      const found = describeScene(scene, flags.rays, workers, sky?.notices);
      if (flags.json === true) {
        const { toJsonDocument } = await import('../report/json.js');
        const machine = { wall_time_s: (performance.now() - started) / 1000, workers: 0 };
        session.out.write(toJsonDocument(found, [], machine));
      } else {
        const { checkText } = await import('./check-text.js');
        session.out.write(checkText(found, path === '-' ? 'standard input' : path, session.out));
      }
    });
}
