/** Scenes and suns for tests of the year. */
import { readFileSync } from 'node:fs';
import { loadScene } from '../../src/scene/load.js';
import { parseOverride } from '../../src/scene/override.js';
import type { Scene } from '../../src/scene/types.js';
import { type SunPoint, type SunSeason, sunYear } from '../../src/study/season-sun.js';
import { clockOf } from '../../src/sun/clock.js';
import { skyOf } from '../../src/sun/sky.js';

export const DEGREE = Math.PI / 180;

/** A demo scene with values put into it, as `--set` does. */
export function demoScene(name: string, sets: readonly string[] = []): Scene {
  const text = readFileSync(new URL(`../../scenes-demo/${name}.yaml`, import.meta.url), 'utf8');
  const overrides = sets.map((option) => {
    const parsed = parseOverride(option);
    if (!parsed.ok) throw new Error(option);
    return parsed.override;
  });
  const outcome = loadScene(text, { file: name, overrides });
  if (!outcome.ok) throw new Error(JSON.stringify(outcome.errors));
  return outcome.scene;
}

export function sceneFrom(text: string): Scene {
  const outcome = loadScene(text, { file: 'test' });
  if (!outcome.ok) throw new Error(JSON.stringify(outcome.errors));
  return outcome.scene;
}

/** Hourly suns of 2026 under the scene's own sky. */
export function hourlyYear(scene: Scene): SunSeason {
  if (scene.site === null) throw new Error('the scene has no site');
  return sunYear(scene.site, clockOf(scene.site), skyOf(scene, null), 2026, 3_600_000);
}

/** Each so-many-eth day. */
export function everyDay(season: SunSeason, step: number, first = 0): SunPoint[] {
  return season.points.filter(({ day, energy }) => day % step === first && energy > 0);
}
