import { readdir, readFile } from 'node:fs/promises';
import { describe, expect, it } from 'vitest';
import { runCli, useScratchFolder } from '../support/cli.js';

const folder = useScratchFolder();
/** Hours of work. */
const LONG = ['--rays', '1e12'];

/** Sends a signal once progress shows that the first batch is done (progress is told after two seconds). */
function signalOnce(signal: NodeJS.Signals, pattern = /rays\/s/) {
  let sent = false;
  return (text: string, child: { kill: (signal: NodeJS.Signals) => boolean }): void => {
    if (sent || !pattern.test(text)) return;
    sent = true;
    child.kill(signal);
  };
}

describe('the first interrupt', () => {
  it.each(['0', '2'])('stops at the batch end with a whole report, %s workers', async (workers) => {
    const out = folder.path(`stopped ${workers}`);
    const args = ['trace', folder.scene(), ...LONG, '--workers', workers, '--json', '--out', out];
    const result = await runCli(args, { onStderr: signalOnce('SIGINT') });
    expect(result.code).toBe(130);
    expect(result.stderr).toMatch(/stopping as soon as what is in hand is finished/);
    const document = JSON.parse(result.stdout);
    expect(document.interrupted).toBe(true);
    expect(document.rays).toBeGreaterThan(0);
    const listed = document.files.map(({ file }: { file: string }) => file);
    expect((await readdir(out)).sort()).toEqual([...listed].sort());
    expect(await readFile(`${out}/result.json`, 'utf8')).toBe(result.stdout);
  });

  it('is said in the text; SIGTERM does the same', async () => {
    const result = await runCli(['trace', folder.scene(), ...LONG], { onStderr: signalOnce('SIGTERM') });
    expect(result.code).toBe(130);
    expect(result.stdout).toMatch(/Interrupted/);
  });

  it('ends a sweep with the points that were finished', async () => {
    const args = [
      'sweep',
      folder.scene(),
      '--vary',
      'sun.elevation_deg=50:70:0.01',
      '--rays',
      '3e5',
      '--json',
    ];
    let sent = false;
    const result = await runCli(args, {
      // Once the second point is under way, however slow the machine is.
      onStderr: (text, child) => {
        if (!sent && /scene ([2-9]|\d\d+) of/.test(text)) sent = child.kill('SIGINT');
      },
    });
    expect(result.code).toBe(130);
    const document = JSON.parse(result.stdout);
    expect(document.interrupted).toBe(true);
    expect(document.points.length).toBeGreaterThan(0);
  });
});

describe('the second interrupt', () => {
  it('ends at once, without a report and without files', async () => {
    const out = folder.path('ended');
    const sets = ['rows.A.dishes=20', 'rows.A.rows=3', 'rows.A.row_spacing_m=3.2'];
    const args = [
      'trace',
      folder.scene(),
      ...LONG,
      '--workers',
      '1',
      '--out',
      out,
      ...sets.flatMap((set) => ['--set', set]),
    ];
    const first = signalOnce('SIGINT');
    const second = signalOnce('SIGINT', /stopping/);
    const result = await runCli(args, {
      onStderr: (text, child) => {
        first(text, child);
        second(text, child);
      },
    });
    expect(result.code).toBe(130);
    expect(result.stdout).toBe('');
    expect(await readdir(out)).toEqual([]);
  });
});

describe('progress', () => {
  it('is silent under --quiet', async () => {
    const args = ['trace', folder.scene(), '--rays', '3e7', '--quiet', '--json'];
    const { code, stderr } = await runCli(args);
    expect({ code, stderr }).toEqual({ code: 0, stderr: '' });
  });
});
