/** Scene errors as text for people: place, what is wrong, what is allowed, and the lines of the file with a caret. */
import { codeFrameColumns } from '@babel/code-frame';
import { createColors } from 'picocolors';
import { MAX_ERRORS, type SceneError } from './errors.js';

const CONTEXT_LINES = 2;
/** Longer lines are cut around the caret. */
const MAX_LINE_LENGTH = 200;
/** Characters kept before the caret of a line that is cut. */
const KEPT_BEFORE = 80;
/** Errors after these come without the lines of the file. */
const FRAMES = 20;

export interface PrintOptions {
  readonly colour: boolean;
}

/**
 * Makes text harmless to a terminal: control characters become pictures of themselves, text-direction, line-break
 * and invisible characters a replacement mark. One character stays one, so that the caret keeps its place.
 */
export function printable(text: string): string {
  return text
    .replace(/\t/gu, ' ')
    .replace(/\p{Cc}/gu, (character) => {
      const code = character.charCodeAt(0);
      if (code < 0x20) return String.fromCharCode(0x2400 + code);
      return code === 0x7f ? '\u2421' : '\ufffd';
    })
    .replace(/[\u00ad\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff\ufff0-\ufffb]/gu, '\ufffd');
}

/** A line of at most MAX_LINE_LENGTH characters from `start`, with marks where it was cut. */
function cut(line: string, start: number): string {
  const piece = line.slice(start, start + MAX_LINE_LENGTH);
  const before = start > 0 ? '…' : '';
  const after = start + MAX_LINE_LENGTH < line.length ? '…' : '';
  return before + piece + after;
}

/** The lines of the file about an error, the place marked with carets. */
function frame(error: SceneError, lines: readonly string[]): string {
  const { line, column, endColumn } = error;
  if (line === null || column === null || endColumn === null) return '';
  const first = Math.max(1, line - CONTEXT_LINES);
  const last = Math.min(lines.length, line + CONTEXT_LINES);
  const marked = lines[line - 1] ?? '';
  const start = marked.length > MAX_LINE_LENGTH ? Math.max(0, column - 1 - KEPT_BEFORE) : 0;
  const shift = start > 0 ? start - 1 : 0;
  const shown = lines
    .slice(first - 1, last)
    .map((text, index) => printable(cut(text, first + index === line ? start : 0)));
  const caret = column - shift;
  const caretEnd = Math.max(Math.min(endColumn - shift, MAX_LINE_LENGTH + 2), caret + 1);
  // The type package does not know `startLine` yet, hence an object of its own.
  const framing = {
    highlightCode: false,
    linesAbove: CONTEXT_LINES,
    linesBelow: CONTEXT_LINES,
    startLine: first,
  };
  return codeFrameColumns(
    shown.join('\n'),
    { start: { line, column: caret }, end: { line, column: caretEnd } },
    framing,
  );
}

/**
 * @param errors from `loadScene`
 * @param text the file's text, for the lines about each error
 * @param file the file's name
 * @returns all errors in order, each with its place, and a last line that counts them; no trailing newline
 */
export function formatSceneErrors(
  errors: readonly SceneError[],
  text: string,
  file: string,
  options: PrintOptions,
): string {
  const colours = createColors(options.colour);
  const name = printable(file);
  const lines = text.split('\n').map((line) => (line.endsWith('\r') ? line.slice(0, -1) : line));
  const blocks = errors.map((error, index) => {
    const place =
      error.line === null ? `--set ${error.option ?? ''}` : `${name}:${error.line}:${error.column}`;
    const path = error.path === '' ? '' : `  ${error.path}`;
    const parts = [`${colours.bold(printable(place))}${colours.cyan(printable(path))}`];
    parts.push(`  ${colours.red(printable(error.message))}`);
    if (error.allowed !== undefined) parts.push(`  allowed: ${printable(error.allowed)}`);
    if (error.suggestion !== undefined)
      parts.push(`  nearest: ${colours.green(printable(error.suggestion))}`);
    const marked = index < FRAMES ? frame(error, lines) : '';
    if (marked !== '') parts.push('', ...marked.split('\n').map((line) => colourFrame(line, colours)));
    return parts.join('\n');
  });
  const count = errors.length === 1 ? '1 error' : `${errors.length} errors`;
  const more = errors.length >= MAX_ERRORS ? ' or more' : '';
  const where = errors.some((error) => error.line !== null) ? name : 'the options';
  return [...blocks, colours.bold(`${count}${more} in ${where}; nothing was run.`)].join('\n\n');
}

function colourFrame(line: string, colours: ReturnType<typeof createColors>): string {
  return /^\s*\| *\^+$/u.test(line) ? colours.red(line) : /^>/u.test(line) ? line : colours.dim(line);
}
