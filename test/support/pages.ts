/** Report pages made in this thread. */
import { readFileSync } from 'node:fs';
import type { PageInput, TracedScene } from '../../src/page/types.js';
import { planBatches } from '../../src/run/plan.js';
import { runScene } from '../../src/run/run.js';
import { loadScene } from '../../src/scene/load.js';
import type { Scene } from '../../src/scene/types.js';
import { traceScene } from '../../src/study/trace.js';

export const PAGE_SEED = 'page';

/** The text of a scene file of `scenes-demo/`. */
export function demoText(name: string): string {
  return readFileSync(new URL(`../../scenes-demo/${name}`, import.meta.url), 'utf8');
}

/** @throws Error where the text is no scene */
export function sceneOf(text: string): Scene {
  const outcome = loadScene(text, { file: 'scene.yaml' });
  if (!outcome.ok) throw new Error(outcome.errors.map(({ message }) => message).join('\n'));
  return outcome.scene;
}

/** A scene traced with a fixed seed. */
export async function tracedOf(
  scene: Scene,
  rays = 2e5,
  text = '',
  file = 'scene.yaml',
): Promise<TracedScene> {
  const options = { seed: PAGE_SEED, rays, target: null, maxRays: 1e9, workers: 0 };
  const { prepared, summary } = await traceScene(scene, runScene, options);
  return {
    file,
    text,
    title: scene.title,
    hash: scene.hash,
    prepared,
    summary,
    plan: planBatches(prepared, rays),
  };
}

export async function tracedDemo(name: string, rays = 2e5): Promise<TracedScene> {
  const text = demoText(name);
  return tracedOf(sceneOf(text), rays, text, name);
}

export function pageInput(traced: readonly TracedScene[], more: Partial<PageInput> = {}): PageInput {
  return {
    command: 'report',
    version: '0.0.0',
    seed: PAGE_SEED,
    overrides: [],
    traced,
    inputs: [],
    sections: [],
    answer: [],
    cautions: [],
    warnings: [],
    machine: { wall_time_s: 1.5, workers: 2 },
    written: '2031-05-04',
    ...more,
  };
}
