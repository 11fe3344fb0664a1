/** The browser's part of the page: bundled when the program is built, put into each page whole. */
import { createHash } from 'node:crypto';
import { existsSync, readFileSync } from 'node:fs';

/** Beside this file where it is compiled; from the sources, in what was built of them. */
const PLACES = ['./browser.js', '../../dist/src/page/browser.js'];

/**
 * @returns the script's text; it holds no end of a script element
 * @throws Error where the program was not built whole
 */
export function browserScript(): string {
  for (const place of PLACES) {
    const file = new URL(place, import.meta.url);
    if (existsSync(file)) return readFileSync(file, 'utf8').replace(/<\/script/gi, '<\\/script');
  }
  throw new Error('the page script is missing: build the program with "npm run build"');
}

/** @returns what a Content-Security-Policy names to let just this text run */
export function contentHash(text: string): string {
  return `'sha256-${createHash('sha256').update(text, 'utf8').digest('base64')}'`;
}
