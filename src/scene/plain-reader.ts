/**
 * Reads data by the scene file's schema without the schema package: it takes in what is right, with the defaults filled in, and
 * says nothing of what is not. What it refuses is read again by the package, which knows what to say. It may refuse too much,
 * never too little; a test holds both to the same answers.
 */
import type { SceneFile, SchemaWords } from './schema.js';

/** What is not as the schema says. */
const REFUSED = Symbol('refused');
/** A key that is not there and need not be. */
const ABSENT = Symbol('absent');

/** Takes a value (undefined for a key that is not there) and gives it back as it is meant, or REFUSED. */
type Read = (value: unknown) => unknown;

/** One place of the schema. Its methods are those of the schema package that the scene file's schema uses. */
class Plain {
  constructor(
    readonly read: Read,
    /** Of a group of keys. */
    readonly shape: Readonly<Record<string, Plain>> = {},
    /** The only value that is right, where there is but one. */
    readonly only: unknown = undefined,
  ) {}

  /** Descriptions are for the schema package. */
  meta(): Plain {
    return this;
  }

  optional(): Plain {
    return new Plain((value) => (value === undefined ? ABSENT : this.read(value)));
  }

  nullable(): Plain {
    return new Plain((value) => (value === null ? null : this.read(value)));
  }

  default(given: unknown): Plain {
    return new Plain((value) => (value === undefined ? structuredClone(given) : this.read(value)));
  }

  prefault(given: unknown): Plain {
    return new Plain((value) => this.read(value === undefined ? given : value));
  }

  #where(holds: (value: never) => boolean): Plain {
    return new Plain((value) => {
      const taken = this.read(value);
      return taken === REFUSED || !holds(taken as never) ? REFUSED : taken;
    });
  }

  regex(pattern: RegExp): Plain {
    return this.#where((text: string) => pattern.test(text));
  }

  min(least: number): Plain {
    return this.#where((value: number | readonly unknown[]) => sizeOf(value) >= least);
  }

  max(most: number): Plain {
    return this.#where((value: number | readonly unknown[]) => sizeOf(value) <= most);
  }
}

function sizeOf(value: number | readonly unknown[]): number {
  return typeof value === 'number' ? value : value.length;
}

function isGroup(value: unknown): value is Readonly<Record<string, unknown>> {
  return value !== null && typeof value === 'object' && Object.getPrototypeOf(value) === Object.prototype;
}

function where(holds: (value: unknown) => boolean): Plain {
  return new Plain((value) => (holds(value) ? value : REFUSED));
}

function readGroup(shape: Readonly<Record<string, Plain>>, value: unknown): unknown {
  if (!isGroup(value)) return REFUSED;
  for (const key of Object.keys(value)) if (!Object.hasOwn(shape, key)) return REFUSED;
  const taken: Record<string, unknown> = {};
  for (const [key, place] of Object.entries(shape)) {
    const part = place.read(Object.hasOwn(value, key) ? value[key] : undefined);
    if (part === REFUSED) return REFUSED;
    if (part !== ABSENT) taken[key] = part;
  }
  return taken;
}

function readEach(values: readonly unknown[], placeOf: (index: number) => Plain): unknown {
  const taken: unknown[] = [];
  for (let index = 0; index < values.length; index++) {
    const part = placeOf(index).read(values[index]);
    if (part === REFUSED) return REFUSED;
    taken.push(part);
  }
  return taken;
}

function readRecord(name: Plain, entry: Plain, value: unknown): unknown {
  if (!isGroup(value)) return REFUSED;
  const taken: Record<string, unknown> = {};
  for (const [key, given] of Object.entries(value)) {
    const part = name.read(key) === REFUSED ? REFUSED : entry.read(given);
    if (part === REFUSED) return REFUSED;
    taken[key] = part;
  }
  return taken;
}

const WORDS = {
  string: () => where((value) => typeof value === 'string'),
  number: () => where((value) => Number.isFinite(value)),
  int: () => where((value) => Number.isSafeInteger(value)),
  null: () => where((value) => value === null),
  literal: (only: unknown) => new Plain((value) => (value === only ? value : REFUSED), {}, only),
  enum: (choices: readonly unknown[]) => where((value) => choices.includes(value)),
  tuple: (places: readonly Plain[]) =>
    new Plain((value) =>
      Array.isArray(value) && value.length === places.length
        ? readEach(value, (index) => places[index])
        : REFUSED,
    ),
  array: (each: Plain) =>
    new Plain((value) => (Array.isArray(value) ? readEach(value, () => each) : REFUSED)),
  record: (name: Plain, entry: Plain) => new Plain((value) => readRecord(name, entry, value)),
  strictObject: (shape: Readonly<Record<string, Plain>>) =>
    new Plain((value) => readGroup(shape, value), shape),
  union: (branches: readonly Plain[]) =>
    new Plain((value) => {
      for (const branch of branches) {
        const taken = branch.read(value);
        if (taken !== REFUSED) return taken;
      }
      return REFUSED;
    }),
  discriminatedUnion: (key: string, branches: readonly Plain[]) =>
    new Plain((value) => {
      if (!isGroup(value) || !Object.hasOwn(value, key)) return REFUSED;
      const branch = branches.find(({ shape }) => shape[key].only === value[key]);
      return branch === undefined ? REFUSED : branch.read(value);
    }),
};

/**
 * @param schema the scene file's schema (`sceneFileSchema`)
 * @returns what reads plain data by it: the file with its defaults filled in, or null where anything is not as the schema says
 */
export function plainReader(schema: (words: SchemaWords) => unknown): (data: unknown) => SceneFile | null {
  // The schema is typed by the package's words, of which these have the part it uses.
  const place = schema(WORDS as unknown as SchemaWords) as Plain;
  return (data) => {
    const taken = place.read(data);
    return taken === REFUSED ? null : (taken as SceneFile);
  };
}
