import { existsSync, readdirSync, statSync } from 'node:fs';
import { dirname, join, resolve, sep } from 'node:path';
import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vitest/config';

const ROOT = fileURLToPath(new URL('.', import.meta.url));

/** Latest change of any file below a folder with that ending, ms; 0 where there is none. */
function newest(folder: string, ending: string): number {
  if (!existsSync(folder)) return 0;
  return readdirSync(folder, { recursive: true, encoding: 'utf8' })
    .filter((name) => name.endsWith(ending))
    .reduce((latest, name) => Math.max(latest, statSync(join(folder, name)).mtimeMs), 0);
}

const sources = Math.max(newest(join(ROOT, 'src'), '.ts'), newest(join(ROOT, 'workers'), '.ts'));
const compiled = newest(join(ROOT, 'dist'), '.js') >= sources;

/**
 * Tests import `../src/...`; this hands them the compiled modules of `dist/`, as plain modules of the runtime: what is tested is
 * what ships, and the trace loop runs at its own speed (rewritten imports make it several times slower). `npm test` builds
 * first; where `dist/` is older than the sources, the sources are taken instead.
 */
function compiledProgram() {
  const from = join(ROOT, 'src') + sep;
  return {
    name: 'compiled-program',
    enforce: 'pre' as const,
    resolveId(source: string, importer: string | undefined) {
      if (!compiled || importer === undefined || !source.startsWith('.')) return null;
      const path = resolve(dirname(importer), source);
      return path.startsWith(from)
        ? { id: join(ROOT, 'dist', path.slice(ROOT.length)), external: true }
        : null;
    },
  };
}

export default defineConfig({
  plugins: [compiledProgram()],
  test: {
    include: ['test/**/*.test.ts'],
    pool: 'forks',
    testTimeout: 120_000,
    server: { deps: { external: [/\/dist\/src\//] } },
  },
});
