import { createRequire } from 'node:module';

/** The almanac package. Read only where a date asks for it: most scenes give angles, and start sooner without it. */
export function almanac(): typeof import('astronomy-engine') {
  return createRequire(import.meta.url)('astronomy-engine') as typeof import('astronomy-engine');
}
