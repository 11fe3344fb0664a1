import { readdirSync, readFileSync } from 'node:fs';
import { dirname, join, normalize, relative } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { VERSION } from '../src/version.js';

const ROOT = fileURLToPath(new URL('..', import.meta.url));

function filesBelow(folder: string): string[] {
  return readdirSync(join(ROOT, folder), { recursive: true, encoding: 'utf8' })
    .filter((name) => name.endsWith('.ts'))
    .map((name) => join(folder, name));
}

interface Import {
  readonly from: string;
  readonly target: string;
  /** Erased by the compiler: no code crosses. */
  readonly typeOnly: boolean;
}

const IMPORT =
  /(?:import|export)\s+(type\s+)?[^'";]*?from\s+'([^']+)'|import\(\s*'([^']+)'\s*\)|import\s+'([^']+)'/g;

function importsOf(file: string): Import[] {
  const text = readFileSync(join(ROOT, file), 'utf8');
  return Array.from(text.matchAll(IMPORT), (match) => {
    const specifier = match[2] ?? match[3] ?? match[4];
    const target = specifier.startsWith('.') ? normalize(join(dirname(file), specifier)) : specifier;
    return { from: file, target, typeOnly: match[1] !== undefined };
  });
}

const SOURCES = [...filesBelow('src'), ...filesBelow('workers')];
const IMPORTS = SOURCES.flatMap(importsOf);

/** src/scene/x.ts -> scene; src/prepare.ts -> prepare.ts; workers/x.ts -> workers; a package -> its name. */
function roomOf(path: string): string {
  if (!path.startsWith('src/')) return path.split('/')[0];
  const parts = path.split('/');
  return parts.length > 2 ? parts[1] : parts[1].replace(/\.js$/, '.ts');
}

/** Which rooms each room may take code from; types may also come from anywhere but `cli` and `report`. */
const MAY_USE: Record<string, readonly string[]> = {
  kernel: [],
  scene: [],
  sun: ['field', 'kernel'],
  optics: [],
  plant: [],
  field: [],
  'prepare.ts': ['field', 'kernel', 'optics', 'sun'],
  'version.ts': [],
  run: ['kernel'],
  result: ['kernel', 'run', 'field'],
  study: ['field', 'plant', 'prepare.ts', 'result', 'run', 'scene', 'sun', 'version.ts'],
  verify: ['result', 'run', 'scene', 'study'],
  report: ['result'],
  page: ['field', 'report', 'result', 'run'],
  cli: [
    'field',
    'kernel',
    'page',
    'prepare.ts',
    'report',
    'result',
    'run',
    'scene',
    'study',
    'sun',
    'verify',
    'version.ts',
  ],
  workers: ['run', 'study'],
};

/** Packages with one home. */
const HOMES: Record<string, readonly string[]> = {
  yaml: ['scene'],
  zod: ['scene'],
  '@babel/code-frame': ['scene'],
  piscina: ['run', 'workers'],
  seedrandom: ['run'],
  pngjs: ['report'],
  '@resvg/resvg-js': ['report'],
  'd3-scale': ['report'],
  'd3-scale-chromatic': ['report'],
  'csv-stringify': ['report'],
  'csv-parse': ['sun'],
  'cli-table3': ['report'],
  commander: ['cli'],
  'cli-progress': ['cli'],
  'astronomy-engine': ['sun'],
  'gl-matrix': ['field'],
  three: ['page'],
};

describe('import directions', () => {
  it('finds the sources', () => {
    expect(SOURCES.length).toBeGreaterThan(40);
    expect(IMPORTS.length).toBeGreaterThan(200);
  });

  it.each(Object.keys(MAY_USE))('%s takes code only from where it may', (room) => {
    const strays = IMPORTS.filter(({ from, target, typeOnly }) => {
      if (
        roomOf(from) !== room ||
        typeOnly ||
        !(target.startsWith('src/') || target.startsWith('workers/'))
      ) {
        return false;
      }
      return roomOf(target) !== room && !MAY_USE[room].includes(roomOf(target));
    });
    expect(strays.map(({ from, target }) => `${from} -> ${target}`)).toEqual([]);
  });

  it('the kernel imports nothing outside itself, not even types or packages', () => {
    const strays = IMPORTS.filter(
      ({ from, target }) => roomOf(from) === 'kernel' && roomOf(target) !== 'kernel',
    );
    expect(strays).toEqual([]);
  });

  it('packages stay in their homes', () => {
    const strays = IMPORTS.filter(({ from, target }) => {
      const name = Object.keys(HOMES).find((home) => target === home || target.startsWith(`${home}/`));
      return name !== undefined && !HOMES[name].includes(roomOf(from));
    });
    expect(strays.map(({ from, target }) => `${from} -> ${target}`)).toEqual([]);
  });

  it('every room of src is in the table', () => {
    const rooms = new Set(SOURCES.map(roomOf).filter((room) => room !== 'index.ts'));
    expect([...rooms].filter((room) => !(room in MAY_USE))).toEqual([]);
  });
});

describe('house rules', () => {
  it('no default exports, no barrels but src/index.ts', () => {
    for (const file of SOURCES) {
      const text = readFileSync(join(ROOT, file), 'utf8');
      expect(text, file).not.toMatch(/^export default /m);
      if (file !== 'src/index.ts') expect(text, file).not.toMatch(/^export (\*|\{[^}]*\}) from /m);
    }
  });

  it('no mutable module-level bindings', () => {
    for (const file of SOURCES)
      expect(readFileSync(join(ROOT, file), 'utf8'), file).not.toMatch(/^(export )?(let|var) /m);
  });

  it('only cli/ reads arguments or ends the process', () => {
    for (const file of SOURCES.filter((name) => roomOf(name) !== 'cli')) {
      expect(readFileSync(join(ROOT, file), 'utf8'), file).not.toMatch(/process\.(exit|argv)/);
    }
  });

  it('worker adapters stay under 40 lines', () => {
    for (const file of filesBelow('workers')) {
      expect(readFileSync(join(ROOT, file), 'utf8').split('\n').length, file).toBeLessThan(40);
    }
  });

  it('no catch-all folders', () => {
    for (const file of SOURCES)
      expect(relative('src', file)).not.toMatch(/(^|\/)(utils?|helpers?|common)(\/|\.)/);
  });

  it('the version is the package version', () => {
    expect(VERSION).toBe(JSON.parse(readFileSync(join(ROOT, 'package.json'), 'utf8')).version);
  });

  it('no text for users promises safety', () => {
    for (const file of SOURCES) {
      const strings = readFileSync(join(ROOT, file), 'utf8').match(/'[^'\n]*'|`[^`]*`/g) ?? [];
      for (const text of strings) expect(text, file).not.toMatch(/\bsafe(ly|ty)?\b/i);
    }
  });
});
