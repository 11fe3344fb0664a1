/**
 * Mutation run: small faults are put, one at a time, into the compiled kernel, optics, run and result code of a copy of the
 * project, and the tests of that code are run until one fails. A fault that no test notices is a survivor, to be read.
 *
 *   node test/mutation/run.mjs [--count 150] [--seed text] [--only src/kernel] [--list]
 *
 * Faults are drawn from all places where an operator below fits, the same number from each of the four folders (or as many as
 * there are). Comparisons are turned round, not moved by their boundary: between doubles the boundary has no width.
 * Needs `npm run build` before it; nothing in the project itself is touched.
 */
import { spawnSync } from 'node:child_process';
import { cpSync, mkdtempSync, readdirSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import seedrandom from 'seedrandom';

const ROOT = fileURLToPath(new URL('../..', import.meta.url));

/** [name, what to find, what to put in its place]. */
const OPERATORS = [
  ['plus to minus', / \+ /g, ' - '],
  ['minus to plus', / - /g, ' + '],
  ['times to divide', / \* /g, ' / '],
  ['divide to times', / \/ /g, ' * '],
  ['add to subtract', / \+= /g, ' -= '],
  ['less to not less', / < /g, ' >= '],
  ['at most to more', / <= /g, ' > '],
  ['more to not more', / > /g, ' <= '],
  ['at least to less', / >= /g, ' < '],
  ['equal to unequal', / === /g, ' !== '],
  ['unequal to equal', / !== /g, ' === '],
  ['and to or', / && /g, ' || '],
  ['or to and', / \|\| /g, ' && '],
  ['true to false', /\btrue\b/g, 'false'],
  ['false to true', /\bfalse\b/g, 'true'],
  ['max to min', /Math\.max\(/g, 'Math.min('],
  ['min to max', /Math\.min\(/g, 'Math.max('],
  ['drop square root', /Math\.sqrt\(/g, '('],
  ['drop continue', /^\s*continue;$/g, ''],
  ['one to two', /(?<![\w.])1(?![\w.])/g, '2'],
  ['half to 0.6', /(?<![\w.])0\.5(?!\d)/g, '0.6'],
];

/** Which tests speak for which folder, quickest and closest first. */
const TESTS = {
  'src/kernel': [
    ['test/kernel', 'test/optics'],
    ['test/sun'],
    ['test/reference', 'test/demo-scenes.test.ts'],
  ],
  'src/optics': [['test/optics'], ['test/kernel'], ['test/reference']],
  'src/run': [['test/run'], ['test/demo-scenes.test.ts', 'test/cli']],
  'src/result': [['test/result', 'test/study'], ['test/reference', 'test/demo-scenes.test.ts'], ['test/cli']],
};

const { values: options } = parseArgs({
  options: {
    count: { type: 'string', default: '150' },
    seed: { type: 'string', default: 'mutation' },
    only: { type: 'string' },
    list: { type: 'boolean', default: false },
  },
});

function placesIn(folder) {
  const places = [];
  const files = readdirSync(join(ROOT, 'dist', folder)).filter(
    (name) => name.endsWith('.js') && name !== 'types.js',
  );
  for (const name of files) {
    const file = join('dist', folder, name);
    let comment = false;
    readFileSync(join(ROOT, file), 'utf8')
      .split('\n')
      .forEach((line, index) => {
        if (/^\s*\/\*/.test(line)) comment = true;
        const skip = comment || /^\s*(\/\/|import |export \{|throw )|sourceMappingURL/.test(line);
        if (/\*\/\s*$/.test(line)) comment = false;
        if (skip) return;
        // Text in quotes is for people, not for the computation.
        const code = line
          .replace(/'[^']*'|`[^`]*`|"[^"]*"/g, (text) => ' '.repeat(text.length))
          .replace(/\/\/.*$/, '');
        for (const [operator, find, put] of OPERATORS) {
          for (const match of code.matchAll(find)) {
            places.push({
              folder,
              file,
              line: index,
              column: match.index,
              length: match[0].length,
              operator,
              put,
            });
          }
        }
      });
  }
  return places;
}

const random = seedrandom.alea(options.seed);
const folders = Object.keys(TESTS).filter((folder) => options.only === undefined || folder === options.only);
const mutants = folders.flatMap((folder) => {
  const places = placesIn(folder);
  const wanted = Math.min(places.length, Math.ceil(Number(options.count) / folders.length));
  for (let i = 0; i < wanted; i++) {
    const other = i + Math.floor(random() * (places.length - i));
    [places[i], places[other]] = [places[other], places[i]];
  }
  console.log(`${folder}: ${wanted} of ${places.length} places`);
  return places.slice(0, wanted);
});
if (options.list) process.exit(0);

const copy = mkdtempSync(join(tmpdir(), 'rowfocus-mutation-'));
process.on('exit', () => rmSync(copy, { recursive: true, force: true }));
process.on('SIGINT', () => process.exit(130));
for (const name of [
  'src',
  'workers',
  'test',
  'scenes-demo',
  'bench',
  'package.json',
  'tsconfig.json',
  'vitest.config.ts',
]) {
  cpSync(join(ROOT, name), join(copy, name), { recursive: true, preserveTimestamps: true });
}
cpSync(join(ROOT, 'dist'), join(copy, 'dist'), { recursive: true, preserveTimestamps: true });
symlinkSync(join(ROOT, 'node_modules'), join(copy, 'node_modules'));

/** @returns whether all tests pass; a run that does not end counts as noticed */
function passes(paths) {
  const done = spawnSync('npx', ['vitest', 'run', '--bail=1', '--reporter=dot', ...paths], {
    cwd: copy,
    stdio: 'ignore',
    timeout: 240_000,
    killSignal: 'SIGKILL',
    env: { ...process.env, CI: 'true' },
  });
  return done.status === 0;
}

const survivors = [];
let killed = 0;
mutants.forEach((mutant, index) => {
  const path = join(copy, mutant.file);
  const original = readFileSync(path, 'utf8');
  const lines = original.split('\n');
  const line = lines[mutant.line];
  const changed = line.slice(0, mutant.column) + mutant.put + line.slice(mutant.column + mutant.length);
  lines[mutant.line] = changed;
  writeFileSync(path, lines.join('\n'));
  const noticed = !TESTS[mutant.folder].every(passes);
  writeFileSync(path, original);
  if (noticed) killed++;
  else survivors.push({ ...mutant, line: mutant.line + 1, was: line.trim(), became: changed.trim() });
  const verdict = noticed ? 'noticed' : `SURVIVED: ${line.trim()}  ->  ${changed.trim()}`;
  console.log(
    `${index + 1}/${mutants.length} ${mutant.file}:${mutant.line + 1} ${mutant.operator}: ${verdict}`,
  );
});
console.log(`\n${killed} of ${mutants.length} noticed (${((100 * killed) / mutants.length).toFixed(1)} %)`);
for (const { file, line, operator, was, became } of survivors) {
  console.log(`survivor ${file}:${line} (${operator})\n  was    ${was}\n  became ${became}`);
}
