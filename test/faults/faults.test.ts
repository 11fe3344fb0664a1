import { execFileSync, spawn, spawnSync } from 'node:child_process';
import { mkdir, readdir, readFile, stat, writeFile } from 'node:fs/promises';
import { setTimeout as wait } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import seedrandom from 'seedrandom';
import { beforeAll, describe, expect, it } from 'vitest';
import { useScratchFolder } from '../support/cli.js';

const folder = useScratchFolder();
const MAIN = fileURLToPath(new URL('../../dist/src/cli/main.js', import.meta.url));
const SHORT = ['--rays', '1e4', '--workers', '0', '--quiet'];

interface Ended {
  readonly code: number | null;
  readonly stdout: string;
  readonly stderr: string;
}

/** Through a shell, for what only a shell can do to the streams; `$1` and so on are the further arguments. */
function shell(script: string, ...args: readonly string[]): Ended {
  const rowfocus = `rowfocus() { "${process.execPath}" "${MAIN}" "$@"; }`;
  const { status, stdout, stderr } = spawnSync('bash', ['-c', `${rowfocus}\n${script}`, 'bash', ...args], {
    encoding: 'utf8',
    input: '',
  });
  return { code: status, stdout, stderr };
}

function rowfocus(...args: readonly string[]): Ended {
  return shell('rowfocus "$@"', ...args);
}

/** One plain sentence on standard error and the exit code, no stack trace. */
function expectRefusal({ code, stderr }: Ended, message: RegExp): void {
  expect(stderr).toMatch(message);
  expect(stderr.trim().split('\n').length).toBe(1);
  expect(code).toBe(1);
}

async function bytesOf(path: string): Promise<Record<string, string>> {
  const names = (await readdir(path, { recursive: true })).sort();
  const entries: [string, string][] = [];
  for (const name of names) {
    if ((await stat(`${path}/${name}`)).isFile())
      entries.push([name, await readFile(`${path}/${name}`, 'latin1')]);
  }
  return Object.fromEntries(entries);
}

/** Why no small disk can be made here; null where it can. Only the superuser may mount. */
function noSmallDisk(): string | null {
  if (process.platform !== 'linux') return 'a small disk is mounted as a tmpfs, which only Linux has';
  if (process.getuid?.() !== 0) return 'only the superuser may mount a small disk';
  const probe = spawnSync('unshare', ['--mount', 'mount', '-t', 'tmpfs', 'tmpfs', '/mnt'], {
    encoding: 'utf8',
  });
  return probe.status === 0 ? null : `the system does not let a disk be mounted: ${probe.stderr}`;
}

const whyNoDisk = noSmallDisk();

/**
 * Runs a script with a small disk at `$disk`. The mount is made in a name space of its own and ends with the script, whatever
 * happens.
 */
function onSmallDisk(size: string, script: string, ...args: readonly string[]): Ended {
  const disk = folder.path('disk');
  const whole = `disk="${disk}"; mkdir -p "$disk"; mount -t tmpfs -o size=${size} tmpfs "$disk"\n${script}`;
  const rowfocusWords = `rowfocus() { "${process.execPath}" "${MAIN}" "$@"; }`;
  const { status, stdout, stderr } = spawnSync(
    'unshare',
    ['--mount', 'bash', '-c', `${rowfocusWords}\n${whole}`, 'bash', ...args],
    { encoding: 'utf8', input: '' },
  );
  return { code: status, stdout, stderr };
}

// Where no disk can be made, the reason stands in the title and what remains is that the reason is one.
describe(`a small disk${whyNoDisk === null ? '' : ` (left out: ${whyNoDisk})`}`, () => {
  const given = whyNoDisk === null;
  it('can be made, or there is a reason why not', () => {
    expect(given || (whyNoDisk ?? '').length > 0).toBe(true);
  });
  if (!given) return;

  it('full during a trace: a plain message, the figures all the same, no file', () => {
    const ended = onSmallDisk(
      '200k',
      'rowfocus "$@" --out "$disk/o"; code=$?; ls -A "$disk/o" >&2; exit $code',
      'trace',
      folder.scene(),
      ...SHORT,
    );
    expectRefusal(ended, /^error: cannot write .*disk\/o\/[^/]*: the disk is full\.$/m);
    expect(ended.stdout).toMatch(/spill/i);
    expect(ended.stdout).not.toMatch(/Written to/);
  });

  it.each([
    ['trace', []],
    ['sweep', ['--vary', 'sun.elevation_deg=59:61:1', '--show', 'spill_fraction']],
  ])('full during a second %s: the old results stay as they were', (command, more) => {
    const script = `
      rowfocus "$@" --seed first --out "$disk/o" > "$disk/../text" || exit 9
      before=$(cd "$disk/o" && ls -A | grep -v sweep-points | xargs md5sum)
      free=$(df --output=avail -k "$disk" | tail -1)
      head -c $(( (free - 100) * 1024 )) /dev/zero > "$disk/ballast"
      rowfocus "$@" --seed second --out "$disk/o" > "$disk/../text"; code=$?
      after=$(cd "$disk/o" && ls -A | grep -v sweep-points | xargs md5sum)
      [ "$before" = "$after" ] && echo same
      exit $code`;
    const ended = onSmallDisk('4m', script, command, folder.scene(), ...more, ...SHORT);
    expectRefusal(ended, /the disk is full\.$/m);
    expect(ended.stdout).toBe('same\n');
  });

  it('full during a sweep: goes on without its record, and can be resumed from what was kept', () => {
    const script = `
      rowfocus "$@" --out "$disk/o" > /dev/null; echo $?
      mount -o remount,size=8m "$disk"
      rowfocus "$@" --out "$disk/o" --resume > /dev/null; echo $?
      rowfocus "$@" --out "$disk/whole" > /dev/null
      cmp "$disk/o/sweep-points.jsonl" "$disk/whole/sweep-points.jsonl" && cmp "$disk/o/sweep.csv" "$disk/whole/sweep.csv" && echo same`;
    const ended = onSmallDisk(
      '20k',
      script,
      'sweep',
      folder.scene(),
      '--vary',
      'sun.elevation_deg=57:63:1',
      '--show',
      'spill_fraction',
      ...SHORT,
    );
    expect(ended.stdout).toBe('1\n0\nsame\n');
    expect(ended.stderr).toMatch(/sweep-points\.jsonl: the disk is full; the sweep goes on/);
    expect(ended.stderr).toMatch(/^error: cannot write .*: the disk is full\.$/m);
  });

  it.each(['trace', 'sweep', 'compare'])('that became read-only: %s says so before it traces', (command) => {
    const scenes = command === 'compare' ? [folder.scene(), folder.scene()] : [folder.scene()];
    const more =
      command === 'sweep' ? ['--vary', 'sun.elevation_deg=59:61:1', '--show', 'spill_fraction'] : [];
    const script = 'mkdir "$disk/o"; mount -o remount,ro "$disk"; rowfocus "$@" --out "$disk/o"';
    const ended = onSmallDisk('1m', script, command, ...scenes, ...more, ...SHORT);
    expectRefusal(ended, /^error: cannot write .*: the file system is read-only\.$/m);
    expect(ended.stdout).toBe('');
  });
});

describe('an output folder that is none', () => {
  beforeAll(() => writeFile(folder.path('taken'), 'kept'));
  it.each<readonly [string, RegExp]>([
    ['taken', /a file of that name is there already, and a folder is needed/],
    ['taken/below', /a part of the path is a file, not a folder/],
    ['taken/far/below', /a part of the path is a file, not a folder/],
  ])('%s', async (out, message) => {
    const ended = rowfocus('trace', folder.scene(), ...SHORT, '--out', folder.path(out));
    expectRefusal(ended, message);
    expect(ended.stdout).toBe('');
    expect(await readFile(folder.path('taken'), 'utf8')).toBe('kept');
  });

  it('where nobody may make one', () => {
    expectRefusal(
      rowfocus('trace', folder.scene(), ...SHORT, '--out', '/proc/rowfocus'),
      /^error: cannot write \/proc/,
    );
  });

  it('a folder stands where a result should: nothing is replaced', async () => {
    const out = folder.path('folder for a file');
    expect(rowfocus('trace', folder.scene(), ...SHORT, '--out', out).code).toBe(0);
    execFileSync('rm', [`${out}/result.json`]);
    await mkdir(`${out}/result.json`);
    const before = await bytesOf(out);
    const ended = rowfocus('trace', folder.scene(), ...SHORT, '--seed', 'b', '--out', out);
    expectRefusal(ended, /result\.json: a folder of that name is there already/);
    expect(await bytesOf(out)).toEqual(before);
  });
});

describe('a trace that is killed', () => {
  it('leaves each file as it was or whole, at five random moments (seed kill), and the next run clears up', async () => {
    const out = folder.path('killed');
    const args = ['trace', folder.scene(), ...SHORT, '--out', out];
    const started = performance.now();
    expect(rowfocus(...args, '--seed', 'a').code).toBe(0);
    const duration = performance.now() - started;
    const old = await bytesOf(out);
    expect(rowfocus(...args.slice(0, -1), folder.path('new'), '--seed', 'b').code).toBe(0);
    const fresh = await bytesOf(folder.path('new'));
    const random = seedrandom.alea('kill');
    for (let kill = 0; kill < 5; kill++) {
      const child = spawn(process.execPath, [MAIN, ...args, '--seed', 'b'], { stdio: 'ignore' });
      const closed = new Promise((resolve) => child.on('close', resolve));
      await wait(duration * (0.4 + 0.6 * random()));
      child.kill('SIGKILL');
      await closed;
      const now = await bytesOf(out);
      const visible = Object.keys(now).filter((name) => !name.startsWith('.rowfocus-part-'));
      expect(visible).toEqual(Object.keys(old));
      for (const name of visible) {
        // The machine's part of result.json differs from run to run; that it ends shows that it is whole.
        if (name === 'result.json') expect(() => JSON.parse(now[name])).not.toThrow();
        else expect([old[name], fresh[name]]).toContain(now[name]);
      }
    }
    expect(rowfocus(...args, '--seed', 'b').code).toBe(0);
    expect((await readdir(out)).sort()).toEqual(Object.keys(old));
  }, 600_000);
});

describe('streams', () => {
  it.each([
    ['trace', ['trace', '@', ...SHORT]],
    ['JSON', ['trace', '@', ...SHORT, '--json']],
    ['sweep', ['sweep', '@', '--vary', 'sun.elevation_deg=59:61:1', '--show', 'spill_fraction', ...SHORT]],
    ['schema', ['schema']],
    ['help', ['help', 'trace']],
  ])('a reader that takes one line only of %s: quiet, 0', (_what, args) => {
    const given = args.map((arg) => (arg === '@' ? folder.scene() : arg));
    const { code, stdout, stderr } = shell('rowfocus "$@" | head -1; exit $PIPESTATUS', ...given);
    expect({ code, lines: stdout.split('\n').length, stderr }).toEqual({ code: 0, lines: 2, stderr: '' });
  });

  it('a reader that is gone: the files are whole', async () => {
    const out = folder.path('reader gone');
    const { code, stderr } = shell(
      'rowfocus "$@" | true; exit $PIPESTATUS',
      'trace',
      folder.scene(),
      ...SHORT,
      '--out',
      out,
    );
    expect({ code, stderr }).toEqual({ code: 0, stderr: '' });
    expect(await readdir(out)).toContain('result.json');
  });

  it('standard input closed: no scene, 2; not asked for: no matter', () => {
    const { code, stderr } = shell('rowfocus trace - <&-');
    expect(code).toBe(2);
    expect(stderr).toMatch(/holds no scene/);
    expect(shell('rowfocus "$@" <&-', 'trace', folder.scene(), ...SHORT).code).toBe(0);
  });

  it('standard output closed: the files are written', async () => {
    const out = folder.path('output closed');
    const { code, stderr } = shell('rowfocus "$@" >&-', 'trace', folder.scene(), ...SHORT, '--out', out);
    expect({ code, stderr }).toEqual({ code: 0, stderr: '' });
    expect(await readdir(out)).toContain('result.json');
  });

  it('standard error closed: results and exit codes as ever', () => {
    expect(shell('rowfocus "$@" 2>&-', 'trace', folder.scene(), ...SHORT).stdout).toMatch(/spill/i);
    expect(shell('rowfocus trace nowhere.yaml 2>&-').code).toBe(2);
    expect(shell('rowfocus "$@" <&- >&- 2>&-', 'trace', folder.scene(), ...SHORT).code).toBe(0);
  });

  it('standard output on a full disk: 1, and why', () => {
    expectRefusal(
      shell('rowfocus "$@" > /dev/full', 'trace', folder.scene(), ...SHORT),
      /^error: cannot write to standard output: the disk is full\.$/m,
    );
  });
});

describe('a worker thread', () => {
  it('that runs out of memory: told as such, twice, and the program lives on', () => {
    // As much memory as a thread may take is set for the whole process, hence one of its own.
    const script = fileURLToPath(new URL('hungry-run.mjs', import.meta.url));
    const { stdout, status } = spawnSync(
      process.execPath,
      ['--max-old-space-size=48', script, './hungry-worker.mjs'],
      { encoding: 'utf8' },
    );
    const message = 'Worker terminated due to reaching memory limit: JS heap out of memory';
    expect({ status, stdout }).toEqual({ status: 0, stdout: `${message}\n${message}\nclosed\n` });
  });
});
