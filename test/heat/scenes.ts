/** A small field with heat and prices, and its year, for the tests of this folder. */
import { readFileSync } from 'node:fs';
import { createTaskPool } from '../../src/run/pool.js';
import { loadScene } from '../../src/scene/load.js';
import { parseOverride } from '../../src/scene/override.js';
import type { Scene } from '../../src/scene/types.js';
import { heatPlant } from '../../src/study/heat-plant.js';
import { type HeatStudy, type HeatYearOptions, heatStep, studyHeat } from '../../src/study/heat-year.js';
import { type NodeReply, type NodeTask, traceNodes } from '../../src/study/optics-table-node.js';
import { type SunSeason, sunYear } from '../../src/study/season-sun.js';
import { clockOf } from '../../src/sun/clock.js';
import { skyOf } from '../../src/sun/sky.js';

export function demoText(name: string): string {
  return readFileSync(new URL(`../../scenes-demo/${name}.yaml`, import.meta.url), 'utf8');
}

export function demoScene(name: string, sets: readonly string[] = []): Scene {
  const overrides = sets.map((option) => {
    const parsed = parseOverride(option);
    if (!parsed.ok) throw new Error(option);
    return parsed.override;
  });
  const outcome = loadScene(demoText(name), { file: name, overrides });
  if (!outcome.ok) throw new Error(JSON.stringify(outcome.errors));
  return outcome.scene;
}

/** One dish of the demo row with its share of the pipes. */
export const SMALL = [
  'rows.A.dishes=1',
  'heat.receivers_in_series=1',
  'heat.pipes.length_m=2.5',
  'heat.pipes.metal_kg=2',
  'heat.pipes.oil_kg=0.4',
  'heat.least_heat_w=20',
  'heat.oil.flow_kg_s=0.06',
] as const;

export function smallScene(sets: readonly string[] = []): Scene {
  return demoScene('heat-points', [...SMALL, ...sets]);
}

export function taskPool(workers = 0) {
  return createTaskPool<NodeTask, NodeReply>(workers, { name: 'optics', runTask: traceNodes });
}

export interface Wish {
  readonly workers?: number;
  readonly rays?: number;
  readonly tolerance?: number;
  /** Seconds of the balance; those of the suns where left out. */
  readonly step?: number;
  /** Minutes. */
  readonly sunStep?: number;
}

export function yearSuns(scene: Scene, minutes = 20): SunSeason {
  if (scene.site === null) throw new Error('the scene has no site');
  return sunYear(scene.site, clockOf(scene.site), skyOf(scene, null), 2026, minutes * 60_000);
}

export async function heatOf(scene: Scene, wish: Wish = {}): Promise<HeatStudy> {
  if (scene.site === null) throw new Error('the scene has no site');
  const pool = taskPool(wish.workers);
  const options: HeatYearOptions = {
    scene,
    plant: heatPlant(scene),
    mode: { kind: 'following' },
    season: yearSuns(scene, wish.sunStep),
    sky: skyOf(scene, null),
    clock: clockOf(scene.site),
    year: 2026,
    seed: 'test',
    rays: wish.rays ?? 2048,
    tolerance: wish.tolerance ?? 0.01,
    step: wish.step ?? heatStep(wish.sunStep ?? 20),
    pool,
  };
  try {
    return await studyHeat(options);
  } finally {
    await pool.close();
  }
}
