/** What does not fit together about heat and cost in a scene file that passed the schema. */
import type { PathSegment, Problem } from './errors.js';
import { valueText } from './errors.js';
import type { HeatEntry, SceneFile } from './schema.js';

type Path = readonly PathSegment[];

function inconsistent(path: Path, message: string, allowed: string): Problem {
  return { code: 'inconsistent', at: 'value', path, message, allowed };
}

function missing(path: Path, message: string, allowed: string): Problem {
  return { code: 'missing_key', at: 'key', path, message, allowed };
}

/** Exactly one of two keys. */
function oneOf(path: Path, group: object, first: string, second: string): Problem[] {
  const [one, two] = [Object.hasOwn(group, first), Object.hasOwn(group, second)];
  if (one !== two) return [];
  return one
    ? [
        {
          code: 'conflict',
          at: 'key',
          path: [...path, second],
          message: `${first} and ${second} are both given.`,
          allowed: 'one of them',
        },
      ]
    : [missing(path, `${first} is missing.`, `${first} or ${second}`)];
}

/** Columns beside a first one that must rise. */
function tableProblems(path: Path, first: string, table: Readonly<Record<string, unknown>>): Problem[] {
  const rising = table[first] as readonly number[];
  const found: Problem[] = [];
  const drop = rising.findIndex((value, row) => row > 0 && value <= rising[row - 1]);
  if (drop >= 0) {
    found.push(
      inconsistent(
        [...path, first, drop],
        `${first} does not rise: ${rising[drop]} after ${rising[drop - 1]}.`,
        'rising values',
      ),
    );
  }
  for (const [key, column] of Object.entries(table)) {
    if (key === first || !Array.isArray(column) || column.length === rising.length) continue;
    found.push({
      code: 'bad_length',
      at: 'value',
      path: [...path, key],
      message: `${key} has ${column.length} values, ${first} has ${rising.length}.`,
      allowed: `${rising.length} values`,
    });
  }
  return found;
}

function heatProblems(heat: HeatEntry): Problem[] {
  const { surface, oil, cover } = heat;
  const found = [
    ...oneOf(['heat', 'surface'], surface, 'emittance', 'emittance_by_temperature'),
    ...oneOf(['heat', 'oil'], oil, 'name', 'data'),
  ];
  const emittance = surface.emittance_by_temperature;
  if (emittance !== undefined)
    found.push(...tableProblems(['heat', 'surface', 'emittance_by_temperature'], 'temperature_c', emittance));
  if (oil.data !== undefined)
    found.push(...tableProblems(['heat', 'oil', 'data'], 'temperature_c', oil.data));
  if (oil.outlet_c <= oil.inlet_c) {
    found.push(
      inconsistent(
        ['heat', 'oil', 'outlet_c'],
        'The oil does not get warmer on its way.',
        `more than inlet_c, ${oil.inlet_c}`,
      ),
    );
  }
  if (cover !== undefined && cover.transmittance + cover.absorptance > 1) {
    found.push(
      inconsistent(
        ['heat', 'cover', 'absorptance'],
        'The glass passes and takes up more than there is.',
        'transmittance and absorptance of 1 at most together',
      ),
    );
  }
  if (heat.cavity !== undefined && cover?.gas === 'vacuum') {
    found.push(inconsistent(['heat', 'cover', 'gas'], 'A cavity cannot hold a vacuum here.', 'air'));
  }
  return found;
}

function namesTwice(path: Path, list: readonly { readonly name: string }[]): Problem[] {
  const seen = new Set<string>();
  return list.flatMap(({ name }, index): Problem[] => {
    if (!seen.has(name)) {
      seen.add(name);
      return [];
    }
    return [
      {
        code: 'duplicate_name',
        at: 'value',
        path: [...path, index, 'name'],
        message: `The name ${valueText(name)} is taken by an earlier entry.`,
      },
    ];
  });
}

/** Whether some mirrors have a cavity for their receiver. */
function hasCavity({ dishes, receivers }: SceneFile): boolean {
  return (
    Object.values(dishes).some(({ receiver }) => receiver?.kind === 'cavity') ||
    receivers.some(({ kind }) => kind === 'cavity')
  );
}

/** @returns what does not fit together in a file that passed the schema, about heat and cost */
export function plantProblems(file: SceneFile): Problem[] {
  const { heat, cost, store, film_ageing: film } = file;
  const found: Problem[] = [];
  if (heat !== undefined) {
    found.push(...heatProblems(heat));
    if (heat.cavity === undefined && hasCavity(file)) {
      found.push(
        missing(
          ['heat'],
          'The receivers are cavities, but cavity is missing.',
          'cavity with inside_diameter_m and depth_m',
        ),
      );
    }
    if (heat.cavity !== undefined && !hasCavity(file)) {
      found.push(inconsistent(['heat', 'cavity'], 'No receiver of the file is a cavity.', 'leave it out'));
    }
  }
  if (cost !== undefined) {
    found.push(...namesTwice(['cost', 'parts'], cost.parts), ...namesTwice(['cost', 'upkeep'], cost.upkeep));
    if (heat === undefined) found.push(missing(['cost'], 'A price of heat needs heat.', 'the section heat'));
  }
  if (store !== undefined) {
    if (cost === undefined)
      found.push(missing(['store'], 'A price of stored heat needs prices.', 'the section cost'));
    if (store.hot_c <= store.cold_c) {
      found.push(
        inconsistent(
          ['store', 'cold_c'],
          'The store is not colder when it is empty.',
          `less than hot_c, ${store.hot_c}`,
        ),
      );
    }
  }
  if (film !== undefined) {
    if (cost === undefined)
      found.push(missing(['film_ageing'], 'When to replace film hangs on prices.', 'the section cost'));
    if (film.washing !== undefined && film.soiling === undefined) {
      found.push(missing(['film_ageing'], 'Washing needs dirt to take off.', 'soiling'));
    }
  }
  return found;
}
