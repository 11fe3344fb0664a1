import { readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { FATES } from '../src/kernel/tally.js';
import type { Figure, TraceResult } from '../src/result/types.js';
import { runScene } from '../src/run/run.js';
import { loadScene } from '../src/scene/load.js';
import type { Scene } from '../src/scene/types.js';
import { type Traced, traceScene } from '../src/study/trace.js';

const FOLDER = fileURLToPath(new URL('../scenes-demo/', import.meta.url));
const FILES = readdirSync(FOLDER).filter((name) => name.endsWith('.yaml'));
const CLAIM = /^#\s{3}(\S+)\s+(\S+) \+- (\S+)/;

interface Claim {
  readonly path: string;
  readonly value: number;
  readonly tolerance: number;
}

function claimsOf(text: string): Claim[] {
  return text.split('\n').flatMap((line) => {
    const match = CLAIM.exec(line);
    return match === null ? [] : [{ path: match[1], value: Number(match[2]), tolerance: Number(match[3]) }];
  });
}

function figureAt(result: TraceResult, path: string): Figure {
  let at: unknown = result;
  for (const key of path.split(/[.[\]]+/).filter((part) => part !== ''))
    at = (at as Record<string, unknown>)[key];
  return at as Figure;
}

function sceneOf(text: string, file: string): Scene {
  const loaded = loadScene(text, { file });
  if (!loaded.ok) throw new Error(JSON.stringify(loaded.errors));
  return loaded.scene;
}

function trace(scene: Scene, rays = 1e6): Promise<Traced> {
  return traceScene(scene, runScene, { seed: 'demo', rays, target: null, maxRays: rays, workers: 0 });
}

/** Claims of a text that a result does not keep. */
function broken(result: TraceResult, text: string): Claim[] {
  return claimsOf(text).filter(
    (claim) => !(Math.abs(figureAt(result, claim.path).value - claim.value) <= claim.tolerance),
  );
}

describe('demo scenes', () => {
  it('all fourteen are here', () => {
    expect(FILES).toHaveLength(14);
  });

  it.each(FILES)('%s: keeps the claims of its header, and its books close', async (file) => {
    const text = readFileSync(FOLDER + file, 'utf8');
    expect(claimsOf(text).length).toBeGreaterThanOrEqual(4);
    const { summary, outcome, prepared } = await trace(sceneOf(text, file));
    expect(broken(summary.result, text)).toEqual([]);
    expect(summary.result.warnings.filter(({ code }) => code !== 'cells_finer_than_rays')).toEqual([]);

    const { ledger } = summary.result.total;
    const rays = ledger.lines.reduce((sum, line) => sum + (line.rays ?? 0), 0);
    expect(rays).toBe(outcome.rays);
    const watts = ledger.lines.reduce((sum, line) => sum + line.power.value, 0);
    expect(Math.abs(watts / ledger.available_w - 1)).toBeLessThan(1e-12);

    // The cosine line is a remainder; what the kernel books itself must close without it.
    const { layout } = prepared;
    for (const slot of outcome.slots) {
      let booked = 0;
      let incident = 0;
      for (let group = 0; group < layout.groups; group++) {
        incident += slot[layout.incident + group];
        booked += slot[layout.absorbed + group];
        for (let fate = 0; fate < FATES; fate++) booked += slot[layout.watts + group * FATES + fate];
      }
      expect(Math.abs(booked / incident - 1)).toBeLessThan(1e-12);
    }
  });

  it('sabotage: a slope error 5 % larger breaks a claim of the one dish', async () => {
    const text = readFileSync(`${FOLDER}one-dish.yaml`, 'utf8');
    const worse = text
      .replace('slope_error_along_mrad: 4', 'slope_error_along_mrad: 4.2')
      .replace('slope_error_across_mrad: 5', 'slope_error_across_mrad: 5.25');
    expect(worse).not.toBe(text);
    const { summary } = await trace(sceneOf(worse, 'one-dish.yaml'));
    expect(broken(summary.result, text)).not.toEqual([]);
  });

  it('every demo says that its numbers are invented', () => {
    for (const file of FILES) expect(readFileSync(FOLDER + file, 'utf8')).toMatch(/^# .*invented/m);
  });
});
