/**
 * Reference tables that stand beside this file as CSV, one line of headings, numbers only but for first columns of words.
 *
 * buie-csr.csv, buie-profile.csv        quadrature of the sunshape of Buie, Monger & Dey, Solar Energy 74 (2003) 113
 *                                       (formula from memory, cross-checked by its own circumsolar ratio)
 * trough-intercept.csv                  closed form, see trough.test.ts; some rows confirmed by an independent trace
 * trough-universal.csv                  Guven & Bannerot, J. Sol. Energy Eng. 108 (1986) 275 (integral from memory,
 *                                       confirmed by an independent trace)
 * dish-concentration.csv                Rabl 1976 (from memory) and closed form
 * dish-gaussian-intercept.csv           quadrature of an ellipse-in-circle integral, and an independent trace of 4e5 rays
 * offaxis-spots.csv                     exact independent trace on a 161 x 161 pupil grid
 * stationary-dish-offaxis.csv           exact independent trace
 */
import { readFileSync } from 'node:fs';

export type Row = Readonly<Record<string, string>>;

/** Rows of a table of this folder, by heading. */
export function tableRows(name: string): readonly Row[] {
  const text = readFileSync(new URL(name, import.meta.url), 'utf8').trim();
  const [heading, ...lines] = text.split(/\r?\n/u).map((line) => line.split(','));
  return lines.map((cells) => Object.fromEntries(heading.map((key, index) => [key, cells[index]])));
}
