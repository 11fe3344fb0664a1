/** The built program with `--deposit footprints`. */
import { describe, expect, it } from 'vitest';
import type { TraceResult } from '../../src/result/types.js';
import { runCli } from '../support/cli.js';

const SCENE = 'scenes-demo/one-dish.yaml';
const FOOTPRINTS = ['--deposit', 'footprints', '--rays', '4000', '--quiet'];

/** The document without its `run` object, which holds time and threads. */
function document(stdout: string): TraceResult & { readonly run?: unknown } {
  const { run, ...rest } = JSON.parse(stdout);
  expect(run).toBeDefined();
  return rest;
}

describe('--deposit footprints', () => {
  it('trace says how it was done, and threads change nothing', async () => {
    const [here, two] = await Promise.all(
      ['0', '2'].map((workers) => runCli(['trace', SCENE, ...FOOTPRINTS, '--json', '--workers', workers])),
    );
    expect([here.code, two.code]).toEqual([0, 0]);
    const result = document(here.stdout);
    expect(result).toEqual(document(two.stdout));
    expect(result.deposit).toEqual({ kind: 'footprints', rays_per_point: 8, by_rays_fraction: 0 });
    expect(result.rays).toBeLessThan(8000);
    const { ledger } = result.total;
    expect(ledger.lines.reduce((sum, line) => sum + (line.rays ?? 0), 0)).toBe(ledger.rays);
    expect(ledger.rays).toBe(result.rays);
    expect(result.warnings.map(({ code }) => code)).not.toContain('cell_noise');
  });

  it('trace without it has no word of it', async () => {
    const { stdout } = await runCli([
      'trace',
      SCENE,
      '--rays',
      '4000',
      '--quiet',
      '--json',
      '--workers',
      '0',
    ]);
    expect(document(stdout).deposit).toBeUndefined();
  });

  it('the text speaks of mirror points', async () => {
    const { code, stdout } = await runCli(['trace', SCENE, ...FOOTPRINTS]);
    expect(code).toBe(0);
    expect(stdout).toMatch(/mirror points with footprints \(8 rays each/);
  });

  it('a scene whose errors are all 0 and a tube are left to rays, and the text says so', async () => {
    const { stdout } = await runCli(['trace', 'scenes-demo/trough-tube.yaml', ...FOOTPRINTS]);
    expect(stdout).toMatch(/100 % of\s+the\s+light\s+left\s+to\s+rays/);
  });

  it('runs to a target', async () => {
    const { code, stdout } = await runCli([
      'trace',
      SCENE,
      '--deposit',
      'footprints',
      '--to',
      '2%',
      '--json',
      '--quiet',
    ]);
    expect(code).toBe(0);
    expect(JSON.parse(stdout).target_reached).toBe(true);
  });

  it('sweep and compare take it', async () => {
    const vary = ['--vary', 'films.roll_a.slope_error_across_mrad=3:7:2', '--require', 'spill<=5%'];
    const sweep = await runCli(['sweep', SCENE, ...vary, ...FOOTPRINTS, '--json']);
    expect(sweep.code).toBe(0);
    expect(JSON.parse(sweep.stdout).deposit).toBe('footprints');
    const compare = await runCli(['compare', SCENE, 'scenes-demo/badly-built.yaml', ...FOOTPRINTS, '--json']);
    expect(compare.code).toBe(0);
    expect(JSON.parse(compare.stdout).deposit).toBe('footprints');
  });

  it.each([
    ['another word', ['trace', SCENE, '--deposit', 'stamps']],
    ['a path to follow', ['trace', SCENE, '--deposit', 'footprints', '--replay', '3']],
  ])('%s is bad usage', async (_, args) => {
    const { code, stderr } = await runCli(args);
    expect(code).toBe(2);
    expect(stderr).toContain('--deposit');
  });
});
