/** What a command may touch of the process: its streams, its interrupts and its exit code. Only `main.ts` makes one. */
import { createColors } from 'picocolors';

/** One output stream, and how it may be written to. */
export interface Channel {
  readonly stream: NodeJS.WriteStream;
  readonly write: (text: string) => void;
  readonly isTerminal: boolean;
  readonly colour: boolean;
  /** Width for text; that of a page where the stream is no terminal. */
  readonly columns: number;
}

export interface Session {
  /** Results. */
  readonly out: Channel;
  /** Progress and messages. */
  readonly err: Channel;
  /** Scene text given as "-". */
  readonly input: NodeJS.ReadableStream;
  /** Set by the first Ctrl-C: a run stops at the end of the batches in hand. */
  readonly stop: { requested: boolean };
}

/** Exit codes, as the help states them. */
export const EXIT = { done: 0, failed: 1, usage: 2, interrupted: 130 } as const;

const PAGE_COLUMNS = 100;
const WIDEST_COLUMNS = 140;

/**
 * A stream with what its kind and the environment allow: no colour where `NO_COLOR` is set, `TERM` is "dumb", or the stream
 * is no terminal.
 */
export function openChannel(stream: NodeJS.WriteStream, environment: NodeJS.ProcessEnv): Channel {
  const isTerminal = stream.isTTY === true;
  const refused = (environment.NO_COLOR ?? '') !== '' || environment.TERM === 'dumb';
  return {
    stream,
    write: (text) => {
      stream.write(text);
    },
    isTerminal,
    colour: isTerminal && !refused,
    columns: isTerminal ? Math.min(stream.columns || PAGE_COLUMNS, WIDEST_COLUMNS) : PAGE_COLUMNS,
  };
}

/** One line for the user on standard error, a word of warning in colour where there is colour. */
export function say(session: Session, text: string): void {
  const { yellow } = createColors(session.err.colour);
  session.err.write(`${yellow('rowfocus:')} ${text}\n`);
}
