/** The list of checks and its scene files: complete, readable, telling the same as the program. */
import { readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { loadScene } from '../../src/scene/load.js';
import { parseOverride } from '../../src/scene/override.js';
import { CHECKS } from '../../src/verify/checks.js';

const FOLDER = fileURLToPath(new URL('../../scenes-demo/checks/', import.meta.url));
const FILES = readdirSync(FOLDER).map((file) => file.replace(/\.yaml$/, ''));
const textOf = (name: string): string => readFileSync(`${FOLDER}${name}.yaml`, 'utf8');
/** Words of the comment lines, whatever the line breaks. */
const headerOf = (name: string): string =>
  textOf(name)
    .split('\n')
    .filter((line) => line.startsWith('#'))
    .map((line) => line.slice(1).trim())
    .join(' ')
    .replace(/\s+/g, ' ');

describe('the list of checks', () => {
  it('has at least 40, each with a name of its own', () => {
    expect(CHECKS.length).toBeGreaterThanOrEqual(40);
    expect(new Set(CHECKS.map(({ name }) => name)).size).toBe(CHECKS.length);
    for (const { name } of CHECKS) expect(name).toMatch(/^[a-z0-9]+(-[a-z0-9]+)*$/);
  });

  it('has a fault for all checks but two, and those say why not', () => {
    const without = CHECKS.filter(({ sabotage }) => 'none' in sabotage);
    expect(without.map(({ name }) => name)).toEqual(['books-of-rays', 'books-of-receivers']);
  });

  it('says of every tolerance why it is there', () => {
    for (const { name, tolerated, source, what } of CHECKS) {
      expect(tolerated, name).not.toBe('');
      expect(source.text, name).not.toBe('');
      expect(what, name).not.toBe('');
    }
  });

  it('keeps the checks of a group together', () => {
    const groups = CHECKS.map(({ group }) => group);
    const changes = groups.filter((group, index) => group !== groups[index - 1]);
    expect(changes).toEqual([...new Set(groups)]);
  });
});

describe('the scene files', () => {
  it('are all used, and none is missing', () => {
    expect([...new Set(CHECKS.flatMap(({ scenes }) => scenes))].sort()).toEqual([...FILES].sort());
  });

  it.each(FILES)('%s is accepted', (name) => {
    const loaded = loadScene(textOf(name), { file: `${name}.yaml` });
    expect(loaded.ok ? [] : loaded.errors).toEqual([]);
  });

  it.each(CHECKS)('say what is checked, expected and why: $name', (check) => {
    for (const scene of check.scenes) {
      const header = headerOf(scene);
      expect(header).toContain(check.what);
      expect(header).toContain(`${check.source.kind}: ${check.source.text}`);
      expect(header).toContain(`${Number(check.expected.toPrecision(9))}`);
    }
  });

  it.each(CHECKS)('take the fault of the check: $name', ({ sabotage, scenes }) => {
    if ('none' in sabotage) return;
    const scene = scenes[sabotage.scene ?? 0];
    const overrides = sabotage.set.map((option) => {
      const outcome = parseOverride(option);
      if (!outcome.ok) throw new Error(outcome.error.message);
      return outcome.override;
    });
    const [plain, faulty] = [[], overrides].map((set) =>
      loadScene(textOf(scene), { file: scene, overrides: set }),
    );
    if (!plain.ok || !faulty.ok) throw new Error('the scene is refused');
    expect(faulty.scene.hash).not.toBe(plain.scene.hash);
  });
});
