/**
 * Mutation run: small faults are put, one at a time, into the compiled kernel, optics, plant, run and result code of a copy of the
 * project, and the tests of that code are run until one fails. A fault that no test notices is a survivor, to be read.
 *
 *   node test/mutation/run.mjs [--count 150] [--seed text] [--only src/kernel] [--numbers 3,17] [--list]
 *
 * Faults are drawn from all places where an operator below fits, the same number from each of the five folders (or as many as
 * there are). Comparisons are turned round, not moved by their boundary: between doubles the boundary has no width.
 * `--numbers` draws the same faults and tries only those: for the survivors, once they have a test.
 * Needs `npm run build` before it; nothing in the project itself is touched.
 */
import { spawn } from 'node:child_process';
import {
  cpSync,
  existsSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
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

/**
 * Which tests speak for which folder, by stages: one process of the test runner each, its files one after another in this
 * order (but files named after the changed module first). Most faults end in the first stage; slow files stand last. Left out:
 * tests that start the program anew for every case. They are slow, and some hang on what is told after two seconds.
 */
const STAGES = {
  'src/kernel': [
    [
      'test/kernel/bounce.test.ts',
      'test/kernel/ledger.test.ts',
      'test/kernel/intersect.test.ts',
      'test/kernel/replay.test.ts',
      'test/kernel/acceleration.test.ts',
      'test/kernel',
    ],
    [
      'test/optics',
      'test/sun',
      'test/degenerate/geometry.test.ts',
      'test/metamorphic',
      'test/reference',
      'test/demo-scenes.test.ts',
    ],
  ],
  'src/optics': [['test/optics', 'test/reference/film.test.ts']],
  'src/plant': [['test/plant']],
  'src/run': [
    [
      'test/run/plan.test.ts',
      'test/run/fold.test.ts',
      'test/run/statistics.test.ts',
      'test/run/seeds.test.ts',
      'test/run/run.test.ts',
      'test/run',
      'test/result',
    ],
    ['test/demo-scenes.test.ts', 'test/study', 'test/reference/workers.test.ts'],
  ],
  'src/result': [
    ['test/result', 'test/study'],
    ['test/demo-scenes.test.ts', 'test/report', 'test/verify/judge.test.ts', 'test/reference/dish.test.ts'],
  ],
};

/** Modules that only the tests named here go through, in place of those of their folder. */
const FOOTPRINTS = [
  [
    'test/kernel/footprint.test.ts',
    'test/footprints/gaussian-deposit.test.ts',
    'test/footprints/point.test.ts',
    'test/footprints/agreement.test.ts',
  ],
];
const OWN_STAGES = { footprint: FOOTPRINTS, 'gaussian-deposit': FOOTPRINTS };

/**
 * Surviving faults that were read and cannot change any result: [file, part of the line, operator, why].
 * They are tried all the same, and counted apart.
 */
const EQUIVALENT = [
  [
    'src/kernel/trace.js',
    'facet % every === 0',
    'equal to unequal',
    'which facets send their first rays ahead is a matter of speed; every ray is traced once',
  ],
  ['src/plant/oil.js', '(row - from) * sign > 0', 'times to divide', 'the sign is 1 or -1'],
  [
    'src/plant/year-heat.js',
    'own + pipes === 0 ? 1',
    'one to two',
    'where nothing is lost there is nothing to share out',
  ],
  [
    'src/run/plan.js',
    '(wanted * scale) / power',
    'times to divide',
    'scales are tried in pairs of reciprocals, and of two alike in distance neither is nearer than what was kept before',
  ],
];

const { values: options } = parseArgs({
  options: {
    count: { type: 'string', default: '150' },
    seed: { type: 'string', default: 'mutation' },
    only: { type: 'string' },
    numbers: { type: 'string' },
    list: { type: 'boolean', default: false },
  },
});

/** Names of constants that are 0, as the first offset of a record: added or subtracted, they leave every sum as it was. */
const ZEROS = new Set(
  readdirSync(join(ROOT, 'dist', 'src/kernel'))
    .filter((name) => name.endsWith('.js'))
    .flatMap((name) => [
      ...readFileSync(join(ROOT, 'dist/src/kernel', name), 'utf8').matchAll(/^export const ([A-Z_]+) = 0;/gm),
    ])
    .map((match) => match[1]),
);

/** Faults that cannot change any result by what the operator does, wherever they stand: these are not drawn. */
function changesNothing(operator, code, end) {
  const next = /^\w+/.exec(code.slice(end))?.[0];
  return /^(plus|minus) to/.test(operator) && ZEROS.has(next);
}

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
            if (changesNothing(operator, code, match.index + match[0].length)) continue;
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
const folders = Object.keys(STAGES).filter((folder) => options.only === undefined || folder === options.only);
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

const CONFIG = 'mutation.config.mjs';
const OUTCOME = join(copy, 'outcome.json');
writeFileSync(
  join(copy, CONFIG),
  `import base from './vitest.config.ts';
const order = process.env.ROWFOCUS_ORDER.split(',');
const place = (file) => order.findIndex((part) => file.moduleId.includes(part));
class InOrder {
  async shard(files) { return files; }
  async sort(files) { return [...files].sort((a, b) => place(a) - place(b)); }
}
export default { ...base, test: { ...base.test, fileParallelism: false, isolate: false, sequence: { sequencer: InOrder } } };
`,
);

/** Runs one stage until a test fails. @returns the file that failed, `no end` after the time limit, or undefined */
async function failureOf(paths, limit) {
  rmSync(OUTCOME, { force: true });
  const child = spawn(
    process.execPath,
    [
      'node_modules/vitest/vitest.mjs',
      'run',
      '--config',
      CONFIG,
      '--bail=1',
      '--reporter=json',
      `--outputFile=${OUTCOME}`,
      ...paths,
    ],
    {
      cwd: copy,
      stdio: 'ignore',
      // A group of its own: a fault that never ends sits in a child of the test runner.
      detached: true,
      env: { ...process.env, CI: 'true', ROWFOCUS_ORDER: paths.join(',') },
    },
  );
  let ended = true;
  const timer = setTimeout(() => {
    ended = false;
    process.kill(-child.pid, 'SIGKILL');
  }, limit);
  const status = await new Promise((resolve) => child.on('exit', resolve));
  clearTimeout(timer);
  if (!ended) return 'no end';
  if (status === 0) return undefined;
  if (!existsSync(OUTCOME)) return 'the test runner fell';
  const failed = JSON.parse(readFileSync(OUTCOME, 'utf8')).testResults.find(
    (file) => file.status === 'failed',
  );
  return failed === undefined ? 'the test runner' : failed.name.slice(failed.name.indexOf('/test/') + 1);
}

const secondsSince = (start) => (performance.now() - start) / 1000;

/** Time limits, ms, by stage: far more than it takes without a fault, which no test may notice. */
const limits = new Map();

async function limitOf(paths) {
  const known = limits.get(paths);
  if (known !== undefined) return known;
  const start = performance.now();
  const failed = await failureOf(paths, 1_800_000);
  if (failed !== undefined) throw new Error(`without any fault, a test fails: ${failed}`);
  const seconds = secondsSince(start);
  limits.set(paths, 1000 * (30 + 3 * seconds));
  console.log(`without a fault: ${seconds.toFixed(0)} s for ${paths.join(' ')}`);
  return limits.get(paths);
}

/** Puts the fault in, runs the stages until a test fails, takes it out again. @returns as `failureOf` */
async function noticedBy(mutant, original, changed) {
  const module = basename(mutant.file, '.js');
  const path = join(copy, mutant.file);
  for (const paths of OWN_STAGES[module] ?? STAGES[mutant.folder]) {
    const limit = await limitOf(paths);
    const own = paths.filter((path) => path.endsWith(`/${module}.test.ts`));
    writeFileSync(path, changed);
    const failed = await failureOf([...new Set([...own, ...paths])], limit);
    writeFileSync(path, original);
    if (failed !== undefined) return failed;
  }
  return undefined;
}

const numbers = options.numbers?.split(',').map(Number);
const survivors = [];
let tried = 0;
let equivalent = 0;
for (const [index, mutant] of mutants.entries()) {
  if (numbers !== undefined && !numbers.includes(index + 1)) continue;
  tried++;
  const path = join(copy, mutant.file);
  const original = readFileSync(path, 'utf8');
  const lines = original.split('\n');
  const line = lines[mutant.line];
  const changed = line.slice(0, mutant.column) + mutant.put + line.slice(mutant.column + mutant.length);
  lines[mutant.line] = changed;
  const start = performance.now();
  const noticed = await noticedBy(mutant, original, lines.join('\n'));
  const seconds = secondsSince(start).toFixed(0);
  const reason = EQUIVALENT.find(
    ([file, part, operator]) =>
      mutant.file.endsWith(file) && line.includes(part) && mutant.operator === operator,
  )?.[3];
  let verdict = `noticed (${noticed}, ${seconds} s)`;
  if (noticed === undefined && reason !== undefined) {
    equivalent++;
    verdict = `EQUIVALENT (${reason}): ${line.trim()}  ->  ${changed.trim()}`;
  } else if (noticed === undefined) {
    survivors.push({ number: index + 1, ...mutant, was: line.trim(), became: changed.trim() });
    verdict = `SURVIVED (${seconds} s): ${line.trim()}  ->  ${changed.trim()}`;
  }
  console.log(
    `${index + 1}/${mutants.length} ${mutant.file}:${mutant.line + 1} ${mutant.operator}: ${verdict}`,
  );
}
const noticed = tried - equivalent - survivors.length;
const share = (100 * noticed) / (tried - equivalent);
console.log(
  `\n${tried} tried, ${equivalent} equivalent; ${noticed} of the other ${tried - equivalent} noticed (${share.toFixed(1)} %)`,
);
for (const { number, file, line, operator, was, became } of survivors) {
  console.log(`survivor ${number} ${file}:${line + 1} (${operator})\n  was    ${was}\n  became ${became}`);
}
