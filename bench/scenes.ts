/** The scenes that are measured. */
import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import type { PreparedScene } from '../src/prepare.js';
import { loadScene, sceneSource } from '../src/scene/load.js';
import { overrideAt } from '../src/scene/override.js';
import { prepareAtMoment } from '../src/study/trace.js';

// Compiled, this file stands in dist/bench/.
export const ROOT = fileURLToPath(new URL('../..', import.meta.url));
export const PROGRAM = 'dist/src/cli/main.js';

export const DEMOS = [
  'one-dish',
  'row-of-eight',
  'row-mid-morning',
  'line-receiver',
  'flat-strips',
  'badly-built',
  'large-field',
  'paraboloid',
  'trough-tube',
];

export function demoPath(name: string): string {
  return `scenes-demo/${name}.yaml`;
}

export function demo(name: string): PreparedScene {
  const file = ROOT + demoPath(name);
  const loaded = loadScene(readFileSync(file, 'utf8'), { file });
  if (!loaded.ok) throw new Error(`${name}: ${loaded.errors[0].message}`);
  return prepareAtMoment(loaded.scene);
}

/**
 * The demo dish in rows, one behind the other; small maps, so that tallies stay in memory.
 * @returns what reads, checks and prepares that field
 */
export function fieldOf(dishes: number, rows: number): () => PreparedScene {
  const source = sceneSource(readFileSync(ROOT + demoPath('one-dish'), 'utf8'));
  const overrides = [
    overrideAt(['rows', 0, 'dishes'], dishes),
    overrideAt(['rows', 0, 'rows'], rows),
    overrideAt(['rows', 0, 'row_spacing_m'], 3.2),
    overrideAt(['dishes', 'seven', 'receiver', 'cells'], 24),
  ];
  return () => {
    const loaded = source(overrides);
    if (!loaded.ok) throw new Error(`${dishes} x ${rows} dishes: ${loaded.errors[0].message}`);
    return prepareAtMoment(loaded.scene);
  };
}
