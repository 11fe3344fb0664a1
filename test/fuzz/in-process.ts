/** The program's commands run in this process on given arguments and input: a thousand runs in the time of ten processes. */
import { Readable } from 'node:stream';
import { Command, CommanderError } from 'commander';
import { addCheckCommand } from '../../src/cli/check.js';
import { addCompareCommand } from '../../src/cli/compare.js';
import { type FaultContext, reportFailure } from '../../src/cli/failure.js';
import { addInitCommand } from '../../src/cli/init.js';
import { addSchemaCommand } from '../../src/cli/schema.js';
import { type Channel, EXIT, type Session } from '../../src/cli/session.js';
import { addSweepCommand } from '../../src/cli/sweep.js';
import { addTraceCommand } from '../../src/cli/trace.js';

/** A command that keeps the processor busy for longer than this hangs, seconds (of the processor: a busy machine does not count). */
export const LONGEST_SECONDS = 5;

export interface Ended {
  readonly code: number;
  readonly stdout: string;
  readonly stderr: string;
  /** Processor time. */
  readonly seconds: number;
}

function channel(parts: string[]): Channel {
  const write = (text: string): void => {
    parts.push(text);
  };
  // Progress bars alone write to the stream itself, and only where it is a terminal.
  const stream = { write, isTTY: false, on: () => {} } as unknown as NodeJS.WriteStream;
  return { stream, write, isTerminal: false, colour: false, columns: 100 };
}

/** Runs one command line as `main.ts` does. Throws nothing: what a command throws is told as the program tells it. */
export async function runInProcess(args: readonly string[], input: string | Uint8Array = ''): Promise<Ended> {
  const out: string[] = [];
  const err: string[] = [];
  const session: Session = {
    out: channel(out),
    err: channel(err),
    input: Readable.from([Buffer.from(input as string)]) as unknown as NodeJS.ReadableStream,
    stop: { requested: false },
  };
  let code: number = EXIT.done;
  let known: FaultContext = { seed: null, sceneHash: null };
  const finish = (ended: number): void => {
    code = ended;
  };
  const context = (more: Partial<FaultContext>): void => {
    known = { ...known, ...more };
  };
  const program = new Command('rowfocus')
    .exitOverride()
    .showHelpAfterError('(help)')
    .configureOutput({ writeOut: session.out.write, writeErr: session.err.write });
  addCheckCommand(program, session, context);
  addTraceCommand(program, session, finish, context);
  addSweepCommand(program, session, finish, context);
  addCompareCommand(program, session, finish, context);
  addInitCommand(program, session);
  addSchemaCommand(program, session);
  const before = process.cpuUsage();
  try {
    await program.parseAsync([...args], { from: 'user' });
  } catch (error) {
    if (error instanceof CommanderError) code = error.exitCode === 0 ? EXIT.done : EXIT.usage;
    else {
      const report = reportFailure(error, known);
      code = report.exitCode;
      err.push(`${report.text}\n`);
      if (/fault in rowfocus/.test(report.text) && error instanceof Error) err.push(`${error.stack}\n`);
    }
  }
  const { user, system } = process.cpuUsage(before);
  return { code, stdout: out.join(''), stderr: err.join(''), seconds: (user + system) / 1e6 };
}

/** NaN or an infinity as JavaScript prints them, or a value that is none. */
const NO_NUMBER = /\bNaN\b|\bInfinity\b|\bundefined\b|\[object /;

/**
 * @param given what the user wrote: such words in it may come back in messages
 * @returns what is wrong with how a command ended; null where nothing is
 */
export function faultOf({ code, stdout, stderr, seconds }: Ended, given: string): string | null {
  if (![0, 1, 2, 130].includes(code)) return `exit code ${code}`;
  if (seconds > LONGEST_SECONDS) return `took ${seconds} s`;
  if (/fault in rowfocus|\n\s+at .*:\d+:\d+/.test(stderr)) return `crashed: ${stderr.slice(0, 2000)}`;
  const text = stdout + stderr;
  const odd = NO_NUMBER.exec(text);
  if (odd !== null && !/nan|inf|undefined|object/i.test(given)) {
    return `prints ${odd[0]}: ...${text.slice(Math.max(0, odd.index - 120), odd.index + 40)}`;
  }
  if (code === 0 && stdout === '' && !/rowfocus:|written|Written/.test(text))
    return 'ends with 0 and says nothing';
  if (code !== 0 && stderr.trim() === '') return `ends with ${code} and says nothing`;
  return null;
}

/** @returns what is wrong with the message about a bad scene: it has to name a place; null where it does */
export function placeFault({ code, stderr }: Ended): string | null {
  if (code !== 2) return null;
  const placed =
    /^standard input:\d+:\d+/m.test(stderr) ||
    /cannot read standard input/.test(stderr) ||
    // A weather file that the scene names is a place of its own.
    /the weather file .+: /.test(stderr) ||
    /--set|--vary/.test(stderr);
  return placed ? null : `names no place: ${stderr.slice(0, 500)}`;
}
