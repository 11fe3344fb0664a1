/** What `rowfocus verify` prints for people. */
import { createColors } from 'picocolors';
import { formatCount, formatNumber, formatUnit } from '../result/number-format.js';
import type { Source, Verdict, VerifyResult } from '../verify/types.js';

export interface VerifyLook {
  readonly colour: boolean;
  readonly columns: number;
  readonly seconds: number;
  readonly threads: number;
}

const DIGITS = 7;
/** Smaller than this is written with an exponent. */
const PLAIN_FROM = 1e-3;
const INDENT = '       ';
/** Name of a column, or of a source, and what it means. */
type Meaning = readonly [string, string];
const COLUMN_MEANINGS: readonly Meaning[] = [
  ['expected', 'what must come out; where that comes from stands below each check'],
  ['got', 'what came out of the trace'],
  ['std err', 'its standard error, from the spread of the batches of rays'],
  ['allowed', 'by how much the expected value itself may be off; --json says why'],
  [
    'z',
    'how far "got" is off beyond that, in standard errors: up to 4 passes; "exact": off by no more than "allowed"',
  ],
];
const SOURCE_MEANINGS: Readonly<Record<Source['kind'], string>> = {
  'closed form': 'worked out on paper; how is said in a few words, so that anyone can do it again',
  publication: 'figure or formula in print; the text says whether read there or as quoted elsewhere',
  'common practice': 'as the trade does it',
  'from memory': 'constants of a publication as remembered, not held against the print',
};
const INTRODUCTION = 'Each check traces a scene whose outcome is known without this program.';
const WITH_FAULTS =
  'Each check gets a small fault put into its scene, and must now fail ("seen"): so it would see such a fault in the program.';
const SCENES =
  'Each scene is in scenes-demo/checks/, to be opened, changed and traced like any other. ' +
  '"rowfocus verify --with-faults" shows that the checks see small faults.';
const WIDTHS = { name: 25, number: 9, small: 8, z: 5 } as const;

function smallNumber(value: number): string {
  if (value === 0) return '0';
  if (Math.abs(value) < PLAIN_FROM) return value.toExponential(1);
  return formatNumber(value, 2);
}

/** As many digits as fit into a cell. */
function number(value: number): string {
  if (value !== 0 && Math.abs(value) < PLAIN_FROM) return value.toExponential(2);
  let text = formatNumber(value, DIGITS);
  for (let digits = DIGITS - 1; digits > 0 && text.length > WIDTHS.number; digits--) {
    text = formatNumber(value, digits);
  }
  return text;
}

/** Lines no longer than `columns` where words allow it, all with the same indent. */
function wrapped(text: string, columns: number, indent = INDENT): string[] {
  const lines: string[] = [];
  let line = '';
  for (const word of text.split(' ')) {
    if (line !== '' && indent.length + line.length + 1 + word.length > columns) {
      lines.push(line);
      line = word;
    } else line = line === '' ? word : `${line} ${word}`;
  }
  return [...lines, line].map((entry) => indent + entry);
}

function row(cells: readonly [string, string, string, string, string, string, string]): string {
  const [mark, name, expected, got, error, tolerance, z] = cells;
  return [
    mark.padEnd(5),
    name.padEnd(WIDTHS.name),
    expected.padStart(WIDTHS.number),
    got.padStart(WIDTHS.number),
    error.padStart(WIDTHS.small),
    tolerance.padStart(WIDTHS.small),
    z.padStart(WIDTHS.z),
  ].join(' ');
}

function zText({ judged, z }: Verdict): string {
  if (judged === 'exact') return 'exact';
  return z === null ? '-' : z.toFixed(1);
}

function markOf({ passed, fault }: Verdict, withFaults: boolean): string {
  if (!withFaults) return passed ? 'ok' : 'FAIL';
  if (fault === null) return 'none';
  return passed ? 'MISS' : 'seen';
}

function verdictLines(verdict: Verdict, look: VerifyLook, withFaults: boolean): string[] {
  const { red, green, dim } = createColors(look.colour);
  const { name, judged, expected, got, std_err, tolerance, what, unit, source, fault } = verdict;
  const mark = markOf(verdict, withFaults);
  const good = mark !== 'FAIL' && mark !== 'MISS';
  const cells = row([
    mark,
    name,
    `${judged === 'at most' ? '<=' : ''}${number(expected)}`,
    number(got),
    judged === 'exact' ? '-' : smallNumber(std_err),
    smallNumber(tolerance),
    zText(verdict),
  ]);
  const head = (good ? green : red)(cells.slice(0, mark.length)) + cells.slice(mark.length);
  const units = formatUnit(unit);
  const second = withFaults
    ? `fault: ${fault ?? 'none that a scene could have'}`
    : `${source.kind}: ${source.text}`;
  return [
    head,
    ...wrapped(`${what}${units === '' ? '' : ` (${units})`}`, look.columns),
    ...wrapped(second, look.columns).map((line) => dim(line)),
  ];
}

function failureLine({ name, passed }: Verdict, seed: string): string[] {
  return passed ? [] : [`  rowfocus verify --only ${name} --seed ${JSON.stringify(seed)}`];
}

function plural(count: number, one: string, many: string): string {
  return `${formatCount(count)} ${count === 1 ? one : many}`;
}

/** Names and meanings, those longer than a line under themselves. */
function meaningLines(meanings: readonly Meaning[], columns: number): string[] {
  const width = 4 + Math.max(...meanings.map(([name]) => name.length));
  const indent = ' '.repeat(width);
  return meanings.flatMap(([name, meaning]) => {
    const [first, ...rest] = wrapped(meaning, columns, indent);
    return [`  ${name.padEnd(width - 2)}${first.slice(width)}`, ...rest];
  });
}

function sourceMeanings({ by_source }: VerifyResult): readonly Meaning[] {
  return (Object.keys(SOURCE_MEANINGS) as Source['kind'][])
    .filter((kind) => by_source[kind] > 0)
    .map((kind) => [`${by_source[kind].toString().padStart(2)} ${kind}`, SOURCE_MEANINGS[kind]]);
}

/** What a failure by luck is about, for people. */
function luckText({ chance_of_false_alarm: chance, seed }: VerifyResult): string {
  if (chance === 0) return 'Nothing here is left to luck of the draw.';
  const once = chance < 1e-6 ? 'more than a million' : formatCount(Number((1 / chance).toPrecision(2)));
  return (
    `One seed always gives the same figures. With other seeds, luck of the draw fails about one run in ${once} where nothing ` +
    `is wrong; what is wrong fails with every seed. This seed: ${JSON.stringify(seed)}.`
  );
}

/** @returns the text, with a trailing newline */
export function verifyText(result: VerifyResult, look: VerifyLook): string {
  const { bold, red } = createColors(look.colour);
  const { checks, passed, failed, worst_z, seed } = result;
  const lines: string[] = [
    ...wrapped(result.with_faults ? WITH_FAULTS : INTRODUCTION, look.columns, ''),
    ...meaningLines(COLUMN_MEANINGS, look.columns),
  ];
  let group = '';
  for (const verdict of checks) {
    if (verdict.group !== group) {
      group = verdict.group;
      lines.push('', bold(row(['', group, 'expected', 'got', 'std err', 'allowed', 'z'])));
    }
    lines.push(...verdictLines(verdict, look, result.with_faults));
  }
  const worst =
    worst_z === null ? '' : `, worst |z| ${worst_z.z.toFixed(1)} of ${result.most_z} (${worst_z.check})`;
  const bad = result.with_faults ? result.missed : failed;
  const counted = plural(checks.length, 'check', 'checks');
  const summary = result.with_faults
    ? `${counted} with a fault put in: ${failed} saw it, ${result.missed} missed it, ${passed - result.missed} without one`
    : `${counted}: ${passed} passed, ${failed} failed${worst}`;
  const threads = look.threads === 0 ? 'this thread' : plural(look.threads, 'thread', 'threads');
  lines.push(
    '',
    bold(bad > 0 ? red(summary) : summary),
    `${formatCount(result.rays)} rays in ${look.seconds.toFixed(1)} s, ${threads}; seed ${JSON.stringify(seed)}`,
  );
  if (result.interrupted) lines.push('Interrupted: the other checks were not made.');
  if (result.with_faults) return `${lines.join('\n')}\n`;
  if (failed > 0) {
    lines.push(
      '',
      'To repeat what failed ("--fresh" in place of "--seed ...": with other draws):',
      ...checks.flatMap((verdict) => failureLine(verdict, seed)),
    );
  }
  lines.push(
    '',
    'Where the expected values come from:',
    ...meaningLines(sourceMeanings(result), look.columns),
    '',
    ...wrapped(luckText(result), look.columns, ''),
    ...wrapped(SCENES, look.columns, ''),
  );
  return `${lines.join('\n')}\n`;
}
