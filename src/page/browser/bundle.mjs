/** Puts the page's script and what it needs of three.js into one file, with the licence of what it holds of others. */
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { build } from 'esbuild';

const root = fileURLToPath(new URL('../../..', import.meta.url));
// The package's entry is build/three.module.js or .cjs; its licence stands beside that folder.
const three = dirname(dirname(createRequire(import.meta.url).resolve('three')));
const licence = readFileSync(join(three, 'LICENSE'), 'utf8').trim();

await build({
  entryPoints: [join(root, 'src/page/browser/main.ts')],
  outfile: join(root, 'dist/src/page/browser.js'),
  bundle: true,
  minify: true,
  format: 'iife',
  target: 'es2022',
  charset: 'ascii',
  legalComments: 'none',
  banner: { js: `/*! three.js, part of this script:\n\n${licence}\n*/` },
  tsconfig: join(root, 'src/page/browser/tsconfig.json'),
  logLevel: 'warning',
});
