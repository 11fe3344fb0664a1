/**
 * Reference tables that stand beside this file as CSV: a line beginning with # that tells the source and how far it was read,
 * a line of headings, then rows of numbers (first columns may be words).
 */
import { readFileSync } from 'node:fs';

export type Row = Readonly<Record<string, string>>;

/** Rows of a table of this folder, by heading. */
export function tableRows(name: string): readonly Row[] {
  const text = readFileSync(new URL(name, import.meta.url), 'utf8').trim();
  const [heading, ...lines] = text
    .split(/\r?\n/u)
    .filter((line) => !line.startsWith('#'))
    .map((line) => line.split(','));
  return lines.map((cells) => Object.fromEntries(heading.map((key, index) => [key, cells[index]])));
}
