/** Sections of heat and cost: units, hashes, and what does not fit together. */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { loadScene } from '../../src/scene/load.js';
import type { Scene } from '../../src/scene/types.js';

const TEXT = readFileSync(new URL('./examples/heat-cost.yaml', import.meta.url), 'utf8');

function sceneOf(text: string): Scene {
  const loaded = loadScene(text, { file: 'test' });
  if (!loaded.ok) throw new Error(JSON.stringify(loaded.errors));
  return loaded.scene;
}

function pathsOf(text: string): string[] {
  const loaded = loadScene(text, { file: 'test' });
  return loaded.ok ? [] : loaded.errors.map(({ path }) => path);
}

describe('heat and cost in a scene', () => {
  it('are kelvin, pascal, metres and plain numbers', () => {
    const { plant } = sceneOf(TEXT);
    expect(plant?.heat).toMatchObject({
      inlet: 413.15,
      pressure: 2e5,
      emittance: { temperature: [373.15, 573.15], value: [0.1, 0.16] },
      oil: { kind: 'own', oil: { viscosity: [0.012, 0.86 / 1000, 0.41 / 1000], filmLimit: 623.15 } },
      ambient: 293.15,
    });
    expect(plant?.heat?.oil.kind === 'own' && plant.heat.oil.oil.vapourPressure).toEqual([10, 2200, 31_000]);
    expect(plant?.store).toMatchObject({ hot: 423.15, cold: 373.15 });
    expect(plant?.filmAgeing).toMatchObject({ spreadPerYear: 0.2 / 1000, better: { spread: 0.001 } });
  });

  it('enter the hash where they are given, and only there', () => {
    const without = TEXT.slice(0, TEXT.indexOf('heat:\n'));
    const bare = sceneOf(without);
    expect(bare.plant).toBeNull();
    // Of the same scene before there were such sections.
    expect(sceneOf(TEXT).hash).not.toBe(bare.hash);
    expect(sceneOf(TEXT.replace('rate: 0.05', 'rate: 0.06')).hash).not.toBe(sceneOf(TEXT).hash);
  });

  it.each([
    ['outlet_c: 160', 'outlet_c: 130', 'heat.oil.outlet_c'],
    [
      'temperature_c: [100, 300]',
      'temperature_c: [300, 100]',
      'heat.surface.emittance_by_temperature.temperature_c[1]',
    ],
    ['density_kg_m3: [980, 880, 810]', 'density_kg_m3: [980, 880]', 'heat.oil.data.density_kg_m3'],
    [
      '    emittance_spread',
      '    emittance: 0.2\n    emittance_spread',
      'heat.surface.emittance_by_temperature',
    ],
    ['absorptance: 0.02, emittance: 0.88', 'absorptance: 0.2, emittance: 0.88', 'heat.cover.absorptance'],
    ['  supports_w_k', '  cavity: { inside_diameter_m: 0.3, depth_m: 0.2 }\n  supports_w_k', 'heat.cavity'],
    ['name: receiver, price', 'name: mirror, price', 'cost.parts[1].name'],
    ['cold_c: 100', 'cold_c: 150', 'store.cold_c'],
  ])('%s -> %s is told at its place', (from, to, path) => {
    expect(TEXT).toContain(from);
    expect(pathsOf(TEXT.replace(from, to))).toContain(path);
  });

  it('prices need heat, stores and film need prices, washing needs dirt: all at once', () => {
    const lone = `${TEXT.slice(0, TEXT.indexOf('heat:\n'))}${TEXT.slice(TEXT.indexOf('store:\n'))}`.replace(
      /^ {2}soiling:.*\n/m,
      '',
    );
    expect(pathsOf(lone)).toEqual(expect.arrayContaining(['store', 'film_ageing']));
  });
});
