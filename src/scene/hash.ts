/** Identity of a scene by its meaning. */
import { createHash } from 'node:crypto';
import type { Scene, Site } from './types.js';

/** JSON with the keys of every object in code-unit order. */
function canonicalJson(value: unknown): string {
  if (Array.isArray(value)) return `[${value.map(canonicalJson).join(',')}]`;
  if (value !== null && typeof value === 'object') {
    const entries = Object.entries(value).sort(([first], [second]) => (first < second ? -1 : 1));
    return `{${entries.map(([key, entry]) => `${JSON.stringify(key)}:${canonicalJson(entry)}`).join(',')}}`;
  }
  return JSON.stringify(value);
}

function byName<Named extends { readonly name: string }>(list: readonly Named[]): readonly Named[] {
  return [...list].sort((first, second) => (first.name < second.name ? -1 : 1));
}

function withoutAbsentZone(site: Site): object {
  const { timeZone, ...place } = site;
  return timeZone === null ? place : site;
}

/**
 * SHA-256 over the canonical JSON of the converted scene (SI, defaults filled in) without its title and hash.
 * Films and dishes are maps in the file, so they enter by name: their order, comments and the order of keys do not matter,
 * nor whether a default is written out. The order of rows, facets, receivers and blockers does matter: it numbers the
 * facets, and with them the random shifts of a trace.
 * A sky, a time zone, heat and cost that are not given do not enter: scenes older than these keys keep their hash.
 * @returns 64 hex digits
 */
export function sceneHash(scene: Omit<Scene, 'hash'>): string {
  const { title: _title, sky, site, plant, ...rest } = scene;
  const meaning = {
    ...rest,
    ...(sky === null ? {} : { sky }),
    ...(plant === null ? {} : { plant }),
    site: site && withoutAbsentZone(site),
  };
  const canonical = canonicalJson({ ...meaning, films: byName(scene.films), dishes: byName(scene.dishes) });
  return createHash('sha256').update(canonical).digest('hex');
}
