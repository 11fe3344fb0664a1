/** How far a study of a year is, on standard error: one line that is written over on a terminal, a plain line now and then elsewhere. */
import { plainText } from '../report/plain-text.js';
import { type Session, say } from './session.js';

const FIRST_AFTER_MS = 2000;
const PLAIN_EVERY_MS = 10_000;
const TERMINAL_EVERY_MS = 150;

export interface YearProgress {
  /** What is being done, e.g. "tilt setting 4 of 30". */
  readonly stage: (text: string) => void;
  readonly nodes: (traced: number) => void;
  readonly notice: (message: string) => void;
  /** Takes the line away. */
  readonly end: () => void;
}

export function openYearProgress(session: Session, quiet: boolean): YearProgress {
  const { err } = session;
  let stage = '';
  let next = performance.now() + (err.isTerminal ? TERMINAL_EVERY_MS : FIRST_AFTER_MS);
  let drawn = false;
  const end = (): void => {
    if (drawn) err.write('\r\u001b[K');
    drawn = false;
  };
  return {
    stage: (text) => {
      stage = text;
    },
    nodes: (traced) => {
      const now = performance.now();
      if (quiet || now < next) return;
      next = now + (err.isTerminal ? TERMINAL_EVERY_MS : PLAIN_EVERY_MS);
      const line = `${stage === '' ? '' : `${stage}: `}${traced} sun positions traced`;
      drawn = err.isTerminal;
      err.write(err.isTerminal ? `\r\u001b[K${line}` : `${line}\n`);
    },
    notice: (message) => {
      if (quiet) return;
      end();
      say(session, plainText(message));
    },
    end,
  };
}
