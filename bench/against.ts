/**
 * This commit beside another: both are run as programs, in turns, on the scenes they have in common. Processor time of the whole
 * process, so that what else the machine does hardly counts.
 */
import { spawnSync } from 'node:child_process';
import { cpSync, existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setImmediate as nextTurn } from 'node:timers/promises';
import { DEMOS, demoPath, PROGRAM, ROOT } from './scenes.js';
import { median, type Recorder } from './table.js';

const PAIRS = 7;
const TRACED_RAYS = '2e6';

/** Scenes that are also read and prepared alone: a small one and a large one. */
const CHECKED = ['one-dish', 'large-field'];

/** Runs a command and gives what it prints; an error holds what it complained of. */
function output(command: string, args: readonly string[], cwd: string): string {
  const { NODE_PATH: _notOurs, ...env } = process.env;
  const done = spawnSync(command, args, { cwd, env, encoding: 'utf8', maxBuffer: 2 ** 28 });
  if (done.status !== 0) {
    const reason = done.error?.message ?? (done.stderr.trim() || done.stdout.trim());
    throw new Error(`${command} ${args.join(' ')}: ${reason}`);
  }
  return done.stdout.trim();
}

function commitOf(revision: string): string {
  const args = ['rev-parse', '--verify', '--quiet', '--end-of-options', `${revision}^{commit}`];
  try {
    return output('git', args, ROOT);
  } catch {
    throw new Error(`there is no commit "${revision}" here`);
  }
}

function refuseChanges(): void {
  const changes = output('git', ['status', '--porcelain'], ROOT);
  if (changes === '') return;
  const lines = changes.split('\n');
  const more = lines.length > 3 ? `\n  and ${lines.length - 3} more` : '';
  throw new Error(
    `two commits are compared, but this tree has changes that are in neither:\n  ${lines.slice(0, 3).join('\n  ')}${more}\nCommit them first.`,
  );
}

/** Lays the commit out in a folder and builds it there with packages of its own. */
function buildIn(folder: string, commit: string): void {
  output('git', ['clone', '--quiet', '--shared', '--no-checkout', ROOT, folder], ROOT);
  output('git', ['checkout', '--quiet', '--detach', commit], folder);
  const lock = (root: string) => readFileSync(join(root, 'package-lock.json'), 'utf8');
  if (lock(ROOT) === lock(folder)) {
    cpSync(join(ROOT, 'node_modules'), join(folder, 'node_modules'), {
      recursive: true,
      verbatimSymlinks: true,
    });
  } else {
    output('npm', ['ci', '--ignore-scripts', '--no-audit', '--no-fund'], folder);
  }
  output('npm', ['run', 'build', '--silent'], folder);
}

/** Tells the processor time of the process that loads it, in microseconds, on its way out. */
const TELL_TIME = `data:text/javascript,${encodeURIComponent(
  `import { writeSync } from 'node:fs';
   process.on('exit', () => { const { user, system } = process.cpuUsage(); writeSync(3, String(user + system)); });`,
)}`;

function processSeconds(root: string, args: readonly string[]): number {
  const done = spawnSync(process.execPath, ['--import', TELL_TIME, join(root, PROGRAM), ...args], {
    cwd: root,
    stdio: ['ignore', 'pipe', 'pipe', 'pipe'],
    maxBuffer: 2 ** 28,
  });
  if (done.status !== 0) throw new Error(String(done.stderr).trim());
  return Number(String(done.output[3])) / 1e6;
}

function casesOf(other: string): readonly (readonly [name: string, args: readonly string[]])[] {
  const shared = DEMOS.filter((name) => {
    const theirs = join(other, demoPath(name));
    return (
      existsSync(theirs) && readFileSync(theirs, 'utf8') === readFileSync(join(ROOT, demoPath(name)), 'utf8')
    );
  });
  const options = ['--rays', TRACED_RAYS, '--workers', '0', '--quiet', '--json'];
  return [
    ['--version', ['--version']],
    ...shared
      .filter((name) => CHECKED.includes(name))
      .map((name) => [`check ${name}`, ['check', demoPath(name)]] as const),
    ...shared.map(
      (name) => [`trace ${name}, ${TRACED_RAYS} rays`, ['trace', demoPath(name), ...options]] as const,
    ),
  ];
}

/**
 * Records, for each case, the time of this commit over that of another: below 1, this one is faster.
 * @param revision anything that names a commit
 * @returns both commits
 * @throws Error where the tree has changes, the commit is not known, or it cannot be built
 */
export async function compareWith(
  revision: string,
  record: Recorder,
): Promise<{ readonly commit: string; readonly against: string }> {
  const against = commitOf(revision);
  refuseChanges();
  const folder = mkdtempSync(join(tmpdir(), 'rowfocus-bench-'));
  const tidy = () => rmSync(folder, { recursive: true, force: true });
  const stop = () => {
    tidy();
    process.exit(130);
  };
  for (const signal of ['SIGINT', 'SIGTERM'] as const) process.once(signal, stop);
  try {
    buildIn(folder, against);
    for (const [name, args] of casesOf(folder)) {
      // A signal is heard between cases only: all else here waits for other processes.
      await nextTurn();
      compareCase(name, args, folder, record);
    }
  } finally {
    tidy();
  }
  return { commit: commitOf('HEAD'), against };
}

function compareCase(name: string, args: readonly string[], other: string, record: Recorder): void {
  const ours: number[] = [];
  const theirs: number[] = [];
  const measureOurs = () => ours.push(processSeconds(ROOT, args));
  const measureTheirs = () => theirs.push(processSeconds(other, args));
  try {
    processSeconds(ROOT, args);
    processSeconds(other, args);
    for (let pair = 0; pair < PAIRS; pair++) {
      // Neither is always the second one, on a machine that the first one has warmed.
      for (const measure of pair % 2 === 0 ? [measureOurs, measureTheirs] : [measureTheirs, measureOurs])
        measure();
    }
  } catch (error) {
    console.error(`left out, one of the two cannot do it: ${name} (${String(error).split('\n')[0]})`);
    return;
  }
  const ratios = ours.map((time, pair) => time / theirs[pair]);
  const note = `${median(ours).toPrecision(3)} s over ${median(theirs).toPrecision(3)} s`;
  record(`this over other: ${name}`, 'x', ratios, note);
}
