/** Scene text to plain data with places: YAML 1.2 core without aliases, tags, directives or deep nesting. */
import {
  Composer,
  type CST,
  type Document,
  isAlias,
  isCollection,
  isMap,
  isScalar,
  isSeq,
  Lexer,
  LineCounter,
  type Node,
  type Pair,
  Parser,
  type Scalar,
  type YAMLMap,
} from 'yaml';
import {
  MAX_ERRORS,
  type PathSegment,
  type Problem,
  pathText,
  type SceneError,
  startsWith,
  valueText,
} from './errors.js';

/** Largest scene text, in bytes of UTF-8. */
export const MAX_BYTES = 50_000_000;
/** Deepest nesting of lists and maps. */
export const MAX_DEPTH = 32;
/** Lexemes that mark a document, the end of a broken flow collection or a scalar, and have no text of their own. */
const CONTROL_LEXEMES: ReadonlySet<string> = new Set(['\u0002', '\u0018', '\u001f']);

export const FORBIDDEN_KEYS: ReadonlySet<string> = new Set(['__proto__', 'constructor', 'prototype']);

/** What the text holds, and where. */
export interface SceneDocument {
  /** Maps as plain objects, lists as arrays, scalars. */
  readonly data: Record<string, unknown>;
  /** Mistakes that did not keep the text from being read: duplicate keys, forbidden YAML, numbers that are none. */
  readonly problems: readonly SceneError[];
  /** Paths whose values could not be taken over and must not be reported a second time. */
  readonly withheld: readonly (readonly PathSegment[])[];
  readonly locate: (path: readonly PathSegment[], at: Problem['at']) => Place;
}

export interface Place {
  readonly line: number;
  readonly column: number;
  readonly endColumn: number;
}

export type ReadOutcome =
  | { readonly ok: true; readonly document: SceneDocument }
  | { readonly ok: false; readonly errors: readonly SceneError[] };

/** Turns offsets into lines and columns; the end never passes the end of the first line. */
function placeOf(text: string, lines: LineCounter, start: number, end: number): Place {
  const from = Math.max(0, Math.min(start, text.length));
  const { line, col } = lines.linePos(from);
  const lineEnd = text.indexOf('\n', from);
  const stop = Math.min(Math.max(end, from + 1), lineEnd < 0 ? text.length : lineEnd);
  return { line, column: col, endColumn: Math.max(col + stop - from, col + 1) };
}

/** Where the lines start. Counted here: the parser's own count leaves out some of those inside a text in quotes that is never closed. */
function linesOf(text: string): LineCounter {
  const lines = new LineCounter();
  lines.addNewLine(0);
  for (let at = text.indexOf('\n'); at >= 0; at = text.indexOf('\n', at + 1)) lines.addNewLine(at + 1);
  return lines;
}

/**
 * Splits the text into the tokens of its documents, and stops where collections nest too deep: the parser slows down with
 * the square of the depth, and the composer after it recurses.
 * @returns the tokens, or the offset of the first collection below the limit
 */
function tokenize(text: string): readonly CST.Token[] | number {
  const parser = new Parser();
  const tokens: CST.Token[] = [];
  let offset = 0;
  for (const lexeme of new Lexer().lex(text)) {
    tokens.push(...parser.next(lexeme));
    if (parser.stack.length > MAX_DEPTH) {
      const open = parser.stack.filter((token) => 'items' in token).length;
      if (open > MAX_DEPTH) return offset;
    }
    offset += CONTROL_LEXEMES.has(lexeme) ? 0 : lexeme.length;
  }
  tokens.push(...parser.end());
  return tokens;
}

function keyText(pair: Pair<unknown, unknown>): string {
  return isScalar(pair.key) ? String(pair.key.value ?? '') : '';
}

function findPair(map: YAMLMap, key: PathSegment): Pair<unknown, unknown> | undefined {
  return map.items.find((pair) => keyText(pair) === String(key));
}

function rangeOf(node: unknown): readonly [number, number] | undefined {
  const range = (node as Node | null | undefined)?.range;
  return range ? [range[0], range[1]] : undefined;
}

/** First thing to see of a node: of a block map its first key. */
function headRange(node: unknown): readonly [number, number] | undefined {
  if (isMap(node) && !node.flow && node.items.length > 0) return rangeOf(node.items[0].key);
  if (isSeq(node) && !node.flow && node.items.length > 0) return headRange(node.items[0]);
  return rangeOf(node);
}

function locateRange(
  root: unknown,
  path: readonly PathSegment[],
  at: Problem['at'],
): readonly [number, number] {
  const target = at === 'parent' ? path.slice(0, -1) : path;
  let node: unknown = root;
  let key: unknown = null;
  let found = true;
  for (const segment of target) {
    if (isMap(node)) {
      const pair = findPair(node, segment);
      if (pair === undefined) {
        found = false;
        break;
      }
      key = pair.key;
      node = pair.value;
    } else if (isSeq(node) && typeof segment === 'number' && segment < node.items.length) {
      key = null;
      node = node.items[segment];
    } else {
      found = false;
      break;
    }
  }
  const showsOnItsOwn =
    found && at === 'value' && node !== null && (!isCollection(node) || node.flow === true) && hasText(node);
  const range = showsOnItsOwn ? rangeOf(node) : key === null ? headRange(node) : rangeOf(key);
  return range ?? [0, 0];
}

function hasText(node: unknown): boolean {
  const range = rangeOf(node);
  return range !== undefined && range[1] > range[0];
}

/** Copies nodes into plain data and notes what is refused. The depth is bounded by `tokenize`. */
function collect(
  root: Node | null,
  report: (code: SceneError['code'], path: readonly PathSegment[], message: string, node: unknown) => void,
  withhold: (path: readonly PathSegment[]) => void,
): unknown {
  function visit(node: unknown, path: readonly PathSegment[]): unknown {
    if (isAlias(node)) {
      report(
        'forbidden_yaml',
        path,
        `Aliases (*${node.source}) are not used in scene files: write the value out.`,
        node,
      );
      withhold(path);
      return null;
    }
    if (isScalar(node) || isCollection(node)) {
      if (node.anchor !== undefined) {
        report(
          'forbidden_yaml',
          path,
          `Anchors (&${node.anchor}) are not used in scene files: leave it out.`,
          node,
        );
      }
      if (node.tag !== undefined) {
        report('forbidden_yaml', path, `Tags (${node.tag}) are not used in scene files: leave it out.`, node);
        withhold(path);
      }
    }
    if (isMap(node)) return visitMap(node, path);
    if (isSeq(node)) return node.items.map((item, index) => visit(item, [...path, index]));
    if (isScalar(node)) return visitScalar(node, path);
    return null;
  }

  function visitScalar(node: Scalar, path: readonly PathSegment[]): unknown {
    if (typeof node.value !== 'number' || Number.isFinite(node.value)) return node.value;
    report('not_finite', path, `${node.source ?? valueText(node.value)} is not a finite number.`, node);
    withhold(path);
    return null;
  }

  function visitMap(map: YAMLMap, path: readonly PathSegment[]): Record<string, unknown> {
    const data: Record<string, unknown> = {};
    const seen = new Set<string>();
    for (const pair of map.items) {
      const key = keyText(pair);
      const at = [...path, key];
      if (isAlias(pair.key)) {
        report('forbidden_yaml', path, 'Aliases are not used in scene files: write the key out.', pair.key);
      } else if (!isScalar(pair.key)) {
        report('forbidden_yaml', path, 'A key must be a plain word.', pair.key);
      } else if (FORBIDDEN_KEYS.has(key)) {
        report('forbidden_key', at, `The key ${key} is not allowed anywhere in a scene file.`, pair.key);
      } else if (key === '<<') {
        report(
          'forbidden_key',
          at,
          'Merge keys (<<) are not used in scene files: write the keys out.',
          pair.key,
        );
      } else if (seen.has(key)) {
        report('duplicate_key', at, `The key ${key} stands twice in the same group.`, pair.key);
        visit(pair.value, at);
      } else {
        seen.add(key);
        if (pair.key.anchor !== undefined || pair.key.tag !== undefined) {
          report(
            'forbidden_yaml',
            at,
            'Anchors and tags are not used in scene files: leave them out.',
            pair.key,
          );
        }
        data[key] = visit(pair.value, at);
      }
    }
    return data;
  }

  return visit(root, []);
}

/**
 * Reads the text of a scene file.
 * @returns plain data with a way back to the places in the text, or every syntax error. Never throws on bad text.
 */
export function readDocument(text: string): ReadOutcome {
  const lines = linesOf(text);
  const errors: SceneError[] = [];
  const report = (
    code: SceneError['code'],
    path: readonly PathSegment[],
    message: string,
    range: readonly [number, number],
  ) => {
    if (errors.length >= MAX_ERRORS) return;
    errors.push({ code, path: pathText(path), message, ...placeOf(text, lines, range[0], range[1]) });
  };
  const failed = (): ReadOutcome => ({ ok: false, errors });

  if (text.length > MAX_BYTES || Buffer.byteLength(text, 'utf8') > MAX_BYTES) {
    const size = (Buffer.byteLength(text, 'utf8') / 1e6).toFixed(1);
    report(
      'too_large',
      [],
      `The file is ${size} MB long; a scene file has at most ${MAX_BYTES / 1e6} MB.`,
      [0, 0],
    );
    return failed();
  }

  const tokens = tokenize(text);
  if (typeof tokens === 'number') {
    report('too_deep', [], `Lists and groups are nested more than ${MAX_DEPTH} deep.`, [tokens, tokens + 1]);
    return failed();
  }
  // Unique keys are checked in `collect`: the composer's own check takes the square of the number of keys.
  const composer = new Composer({
    version: '1.2',
    schema: 'core',
    merge: false,
    strict: true,
    stringKeys: true,
    uniqueKeys: false,
    prettyErrors: false,
    logLevel: 'silent',
    keepSourceTokens: false,
  });
  const documents: Document.Parsed[] = [...composer.compose(tokens, true, text.length)];
  let stranded = false;
  for (const document of documents) {
    for (const error of document.errors) {
      // Keys that are no plain words are reported by `collect`, in the scene file's terms.
      if (error.code === 'NON_STRING_KEY') continue;
      // Once the reader has lost the thread, every word that follows is unexpected: one place to look at is enough.
      if (error.code === 'UNEXPECTED_TOKEN' && stranded) continue;
      if (error.code === 'UNEXPECTED_TOKEN') stranded = true;
      report('syntax', [], syntaxMessage(error.message), error.pos);
    }
  }
  if (errors.length > 0) return failed();
  for (const token of tokens) {
    if (token.type !== 'directive') continue;
    report('forbidden_yaml', [], 'Directives (%) are not used in scene files.', [
      token.offset,
      token.offset + token.source.length,
    ]);
  }
  if (documents.length > 1) {
    const second = documents[1].range[0];
    report('several_documents', [], 'The file holds more than one document; a scene file is one.', [
      second,
      second + 3,
    ]);
    return failed();
  }
  const root = documents[0].contents;
  if (root === null || (isScalar(root) && (root.value === null || root.value === ''))) {
    report('empty', [], 'The file holds no scene. `rowfocus init` writes one to begin with.', [0, 0]);
    return failed();
  }
  if (!isMap(root)) {
    report(
      'not_a_map',
      [],
      'A scene file is a group of keys (title:, sun:, films: ...).',
      headRange(root) ?? [0, 0],
    );
    return failed();
  }
  const withheld: (readonly PathSegment[])[] = [];
  const data = collect(
    root,
    (code, path, message, node) => report(code, path, message, rangeOf(node) ?? [0, 0]),
    (path) => withheld.push(path),
  ) as Record<string, unknown>;
  return {
    ok: true,
    document: {
      data,
      problems: errors,
      withheld,
      locate: (path, at) => placeOf(text, lines, ...locateRange(root, path, at)),
    },
  };
}

/** @returns whether a problem only repeats what was said of a value that could not be read */
export function isWithheld(
  withheld: readonly (readonly PathSegment[])[],
  path: readonly PathSegment[],
): boolean {
  return withheld.some((start) => startsWith(path, start));
}

/** The YAML package's messages end without a stop and may run over lines. */
function syntaxMessage(message: string): string {
  const line = message.split('\n')[0].trim();
  return /[.!?]$/u.test(line) ? line : `${line}.`;
}
