/** Scene texts broken by chance: by the byte, as a bad disk or editor would, and by the token, as a hasty person would. */
import { readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import fc from 'fast-check';
import { sceneTemplate } from '../../src/scene/template.js';

function textsOf(folder: string): readonly string[] {
  const path = fileURLToPath(new URL(folder, import.meta.url));
  return readdirSync(path)
    .filter((name) => name.endsWith('.yaml'))
    .sort()
    .map((name) => readFileSync(`${path}/${name}`, 'utf8'));
}

/** Comments say nothing to the program and take most of a demo scene's bytes. */
function withoutComments(text: string): string {
  return text.replace(/^\s*#.*\n/gm, '').replace(/ +#.*$/gm, '');
}

/** All scenes that there are, without their comments, and the template with its own. */
export const BASE_TEXTS: readonly string[] = [
  ...textsOf('../../scenes-demo').map(withoutComments),
  ...textsOf('../scene/examples').map(withoutComments),
  sceneTemplate(),
];

const TOKEN = /[A-Za-z_][\w-]*|-?\d+(?:\.\d+)?(?:e[+-]?\d+)?|\n *|[^\S\n]+|./gu;
const WORDS: readonly string[] = [
  ...new Set(BASE_TEXTS.flatMap((text) => text.match(/[A-Za-z_][\w-]*/g) ?? [])),
];

const ODD_VALUES: readonly string[] = [
  ...[
    '0',
    '-0',
    '-1',
    '1',
    '2',
    '0.5',
    '90',
    '-90',
    '180',
    '360',
    '1e-300',
    '5e-324',
    '1e308',
    '1e400',
    '-1e400',
  ],
  ...['.nan', '.inf', '-.inf', 'NaN', 'Infinity', '0x10', '0o17', '1_000', '12:30', '1e', '1.2.3', '00012'],
  ...[
    '9007199254740993',
    '99999999999999999999999',
    '0.00010000001',
    '1e-4',
    '2000',
    '20000',
    '1024',
    '16777216',
  ],
  ...[
    'null',
    '~',
    'true',
    'no',
    '""',
    "'",
    '"',
    '[]',
    '{}',
    '[1, 2]',
    '{a: 1}',
    '- 1',
    '? a',
    ': ',
    '&a 1',
    '*a',
    '<<: *a',
  ],
  ...[
    '!!float 1',
    '!!js/function x',
    '%YAML 1.1',
    '---',
    '...',
    '|',
    '>-',
    '\t',
    '#',
    '@',
    '`',
    '\u0000',
    '\u0007',
    '\u001b[31m',
  ],
  ...[
    '\u2028',
    '\ufeff',
    '\ud800',
    '\u202e',
    '日本',
    '__proto__',
    'constructor',
    'toString',
    '2026-02-30T25:61:00Z',
    '2026-06-21T12:00:00Z',
  ],
];

interface Change {
  readonly kind:
    | 'byte'
    | 'cut'
    | 'repeat'
    | 'insert'
    | 'number'
    | 'word'
    | 'token'
    | 'line'
    | 'line_twice'
    | 'indent'
    | 'swap';
  /** Place as a share of the text. */
  readonly at: number;
  readonly length: number;
  readonly word: string;
}

function changeArbitrary(): fc.Arbitrary<Change> {
  return fc.record({
    kind: fc.constantFrom<Change['kind'][]>(
      ...([
        'byte',
        'cut',
        'repeat',
        'insert',
        'number',
        'number',
        'number',
        'word',
        'token',
        'line',
        'line_twice',
        'indent',
        'swap',
      ] as const),
    ),
    at: fc.double({ min: 0, max: 0.999999, noNaN: true }),
    length: fc.integer({ min: 1, max: 12 }),
    word: fc.oneof(
      { weight: 4, arbitrary: fc.constantFrom(...ODD_VALUES) },
      {
        weight: 3,
        arbitrary: fc.double({ noDefaultInfinity: true, noNaN: true, min: -400, max: 400 }).map(String),
      },
      { weight: 2, arbitrary: fc.constantFrom(...WORDS) },
      { weight: 1, arbitrary: fc.string({ unit: 'binary', maxLength: 6 }) },
    ),
  });
}

/** Replaces the token of a kind that stands nearest after a place. */
function replaceToken(text: string, at: number, like: RegExp, word: string): string {
  const tokens = text.match(TOKEN) ?? [];
  const places = tokens.flatMap((token, i) => (like.test(token) ? [i] : []));
  if (places.length === 0) return text + word;
  tokens[places[Math.floor(at * places.length)]] = word;
  return tokens.join('');
}

function changeLines(text: string, at: number, change: (lines: string[], i: number) => void): string {
  const lines = text.split('\n');
  change(lines, Math.floor(at * lines.length));
  return lines.join('\n');
}

function applyChange(text: string, { kind, at, length, word }: Change): string {
  const offset = Math.floor(at * text.length);
  switch (kind) {
    case 'byte':
      return text.slice(0, offset) + String.fromCharCode(word.charCodeAt(0) & 0xff) + text.slice(offset + 1);
    case 'cut':
      return text.slice(0, offset) + text.slice(offset + length ** 2);
    case 'repeat':
      return text.slice(0, offset + length ** 2) + text.slice(offset);
    case 'insert':
      return text.slice(0, offset) + word + text.slice(offset);
    case 'number':
      return replaceToken(text, at, /^-?\d/, word);
    case 'word':
      return replaceToken(text, at, /^[A-Za-z_]/, word);
    case 'token':
      return replaceToken(text, at, /^\S/, '');
    case 'line':
      return changeLines(text, at, (lines, i) => lines.splice(i, 1 + (length % 3)));
    case 'line_twice':
      return changeLines(text, at, (lines, i) => lines.splice(i, 0, ...lines.slice(i, i + length)));
    case 'indent':
      return changeLines(text, at, (lines, i) => {
        lines[i] = length % 2 === 0 ? ` ${lines[i]}` : lines[i].replace(/^ /, '');
      });
    case 'swap':
      return changeLines(text, at, (lines, i) => {
        const j = Math.min(i + length, lines.length - 1);
        [lines[i], lines[j]] = [lines[j], lines[i]];
      });
  }
}

/** A scene text with one to six changes, as bytes; one in twenty with a byte that is no UTF-8. */
export function mutatedScene(): fc.Arbitrary<Buffer> {
  return fc
    .record({
      base: fc.constantFrom(...BASE_TEXTS),
      changes: fc.array(changeArbitrary(), { minLength: 1, maxLength: 6 }),
      badByte: fc.option(fc.record({ at: fc.nat(4000), value: fc.integer({ min: 0x80, max: 0xff }) }), {
        freq: 20,
      }),
    })
    .map(({ base, changes, badByte }) => {
      const bytes = Buffer.from(changes.reduce(applyChange, base), 'utf8');
      if (badByte !== null && badByte.at < bytes.length) bytes[badByte.at] = badByte.value;
      return bytes;
    });
}
