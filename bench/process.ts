/** Whole processes, start and report included. Wall-clock time. */
import { spawnSync } from 'node:child_process';
import { repeated, seconds } from './clock.js';
import { demoPath, PROGRAM, ROOT } from './scenes.js';
import type { Recorder } from './table.js';

const REPEATS = 15;
const SWEEP_REPEATS = 3;

function once(args: readonly string[]): void {
  const done = spawnSync(process.execPath, args, { cwd: ROOT, stdio: 'pipe', maxBuffer: 2 ** 28 });
  if (done.status !== 0) throw new Error(`${args.join(' ')}: ${done.stderr}`);
}

export function processTimes(record: Recorder): void {
  const dish = demoPath('one-dish');
  const cases: [string, string[]][] = [
    ['the runtime alone', ['-e', '0']],
    ['--version', [PROGRAM, '--version']],
    ['check one-dish', [PROGRAM, 'check', dish]],
    ['trace one-dish, 1e5 rays', [PROGRAM, 'trace', dish, '--rays', '1e5']],
    ['trace one-dish, default rays', [PROGRAM, 'trace', dish]],
    ['trace one-dish to 0.5 % on spill', [PROGRAM, 'trace', dish, '--to', '0.5%']],
    ['check large-field', [PROGRAM, 'check', demoPath('large-field')]],
  ];
  for (const [name, args] of cases) {
    once(args);
    record(
      `process: ${name}`,
      's',
      repeated(REPEATS, () => seconds(() => once(args))),
    );
  }
}

/** Twenty slope errors by twenty openings of one dish, 65,536 rays each. */
export function sweepTime(record: Recorder): void {
  const vary = [
    'films.roll_a.slope_error_across_mrad=2:11.5:0.5',
    'dishes.seven.receiver.aperture.diameter_m=0.05:0.24:0.01',
  ];
  const args = [PROGRAM, 'sweep', demoPath('one-dish'), ...vary.flatMap((text) => ['--vary', text])];
  args.push('--rays', '65536', '--workers', '2', '--quiet', '--json');
  once(args);
  const times = repeated(SWEEP_REPEATS, () => seconds(() => once(args)));
  record('process: sweep of 400 points, 65,536 rays each', 's', times, '2 workers');
}
