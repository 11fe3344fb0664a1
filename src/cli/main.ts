#!/usr/bin/env node
/** The command line. The only place that reads the arguments, listens for signals and ends the process. */
import { Command, CommanderError } from 'commander';
import { createColors } from 'picocolors';
import { plainLines } from '../report/plain-text.js';
import { VERSION } from '../version.js';
import { type FaultContext, reportFailure } from './failure.js';
import { EXIT, openChannel, type Session, say } from './session.js';

const SHORT_HELP = `rowfocus traces sunlight through rows of stationary mirror dishes: flux maps, peak flux and spill, each with its error.

  rowfocus init                          write a first scene, commented, ready to run
  rowfocus trace scene.yaml --out results    trace it; numbers and pictures into a folder

Commands: check, trace, sweep, day, track, season, dish, rows, compare, report, init, schema, verify. "rowfocus help" and "rowfocus help trace" say more.
`;

const LONG_HELP = `
Examples:
  rowfocus init
  rowfocus check scene.yaml
  rowfocus trace scene.yaml --out results
  rowfocus sweep scene.yaml --vary films.roll_a.slope_error_across_mrad=2:10:1 --require 'spill_fraction<=0.05'
  rowfocus compare points.yaml line.yaml
  rowfocus verify

Results go to standard output, progress and messages to standard error; --json prints one JSON document in place of text.
Exit codes: 0 done, 1 failed, 2 bad scene or bad usage, 130 interrupted.`;

function openSession(): Session {
  return {
    out: openChannel(process.stdout, process.env),
    err: openChannel(process.stderr, process.env),
    input: process.stdin,
    stop: { requested: false },
  };
}

/** First signal: stop at the end of the batches in hand. Second: end at once. */
function watchSignals(session: Session): void {
  const onSignal = (): void => {
    if (session.stop.requested) process.exit(EXIT.interrupted);
    session.stop.requested = true;
    say(
      session,
      'stopping as soon as what is in hand is finished, with a report of it; once more to end at once',
    );
  };
  process.on('SIGINT', onSignal);
  process.on('SIGTERM', onSignal);
}

/** A reader that has seen enough (`| head`) is no failure; a full disk behind `>` is one, and told. */
function watchPipes(): void {
  const onError = (error: NodeJS.ErrnoException, tell: (reason: string) => void): void => {
    if (error.code === 'EPIPE') process.exit(process.exitCode ?? EXIT.done);
    tell(error.code === 'ENOSPC' ? 'the disk is full' : error.message);
    process.exit(EXIT.failed);
  };
  process.stdout.on('error', (error) => {
    onError(error, (reason) => process.stderr.write(`error: cannot write to standard output: ${reason}.\n`));
  });
  // Of standard error itself nothing can be told.
  process.stderr.on('error', (error) => onError(error, () => {}));
}

interface Surroundings {
  readonly session: Session;
  readonly finish: (code: number) => void;
  readonly context: (known: Partial<FaultContext>) => void;
}

/** In the order of the help. Each is loaded where it is asked for, or where all are: a short command starts sooner so. */
const COMMANDS: Readonly<Record<string, () => Promise<(program: Command, given: Surroundings) => void>>> = {
  check: async () => {
    const { addCheckCommand } = await import('./check.js');
    return (program, { session, context }) => addCheckCommand(program, session, context);
  },
  trace: async () => {
    const { addTraceCommand } = await import('./trace.js');
    return (program, { session, finish, context }) => addTraceCommand(program, session, finish, context);
  },
  sweep: async () => {
    const { addSweepCommand } = await import('./sweep.js');
    return (program, { session, finish, context }) => addSweepCommand(program, session, finish, context);
  },
  day: async () => {
    const { addDayCommand } = await import('./day.js');
    return (program, { session, finish, context }) => addDayCommand(program, session, finish, context);
  },
  season: async () => {
    const { addSeasonCommand } = await import('./season.js');
    return (program, { session, finish, context }) => addSeasonCommand(program, session, finish, context);
  },
  heat: async () => {
    const { addHeatCommand } = await import('./heat.js');
    return (program, { session, finish, context }) => addHeatCommand(program, session, finish, context);
  },
  cost: async () => {
    const { addCostCommand } = await import('./cost.js');
    return (program, { session, finish, context }) => addCostCommand(program, session, finish, context);
  },
  versus: async () => {
    const { addVersusCommand } = await import('./versus.js');
    return (program, { session, finish, context }) => addVersusCommand(program, session, finish, context);
  },
  track: async () => {
    const { addTrackCommand } = await import('./track.js');
    return (program, { session, finish, context }) => addTrackCommand(program, session, finish, context);
  },
  dish: async () => {
    const { addDishCommand } = await import('./dish.js');
    return (program, { session, finish, context }) => addDishCommand(program, session, finish, context);
  },
  rows: async () => {
    const { addRowsCommand } = await import('./rows.js');
    return (program, { session, finish, context }) => addRowsCommand(program, session, finish, context);
  },
  compare: async () => {
    const { addCompareCommand } = await import('./compare.js');
    return (program, { session, finish, context }) => addCompareCommand(program, session, finish, context);
  },
  report: async () => {
    const { addReportCommand } = await import('./report.js');
    return (program, { session, finish, context }) => addReportCommand(program, session, finish, context);
  },
  init: async () => {
    const { addInitCommand } = await import('./init.js');
    return (program, { session }) => addInitCommand(program, session);
  },
  schema: async () => {
    const { addSchemaCommand } = await import('./schema.js');
    return (program, { session }) => addSchemaCommand(program, session);
  },
  verify: async () => {
    const { addVerifyCommand } = await import('./verify.js');
    return (program, { session, finish }) => addVerifyCommand(program, session, finish);
  },
};

/** @param first first word of the command line; anything but the name of a command (help, a slip of the pen) wants all of them */
async function buildProgram(
  session: Session,
  context: (known: Partial<FaultContext>) => void,
  first: string,
): Promise<Command> {
  const finish = (code: number): void => {
    process.exitCode = code;
  };
  const wanted = Object.hasOwn(COMMANDS, first) ? [COMMANDS[first]] : Object.values(COMMANDS);
  const additions = await Promise.all(wanted.map((load) => load()));
  const { red } = createColors(session.err.colour);
  const program = new Command('rowfocus')
    .description('Monte Carlo ray tracing for rows of stationary mirror dishes with film mirrors.')
    .version(VERSION, '--version', 'print the version')
    .helpOption('-h, --help', 'print help')
    .helpCommand('help [command]', 'print help for a command')
    .exitOverride()
    .showHelpAfterError('("rowfocus help" lists the commands, "rowfocus help <command>" its options)')
    .configureOutput({
      writeOut: session.out.write,
      writeErr: session.err.write,
      outputError: (text, write) => write(red(plainLines(text))),
    })
    .addHelpText('after', LONG_HELP);
  for (const add of additions) add(program, { session, finish, context });
  return program;
}

async function main(): Promise<void> {
  const session = openSession();
  let known: FaultContext = { seed: null, sceneHash: null };
  watchPipes();
  watchSignals(session);
  const fail = (error: unknown): void => {
    const { red } = createColors(session.err.colour);
    const { exitCode, text } = reportFailure(error, known);
    session.err.write(`${text.startsWith('error: ') ? red(text) : text}\n`);
    process.exitCode = exitCode;
  };
  const failAtOnce = (error: unknown): void => {
    fail(error);
    process.exit();
  };
  process.on('uncaughtException', failAtOnce);
  process.on('unhandledRejection', failAtOnce);

  if (process.argv.length <= 2) {
    session.out.write(SHORT_HELP);
    return;
  }
  const context = (more: Partial<FaultContext>): void => {
    known = { ...known, ...more };
  };
  const program = await buildProgram(session, context, process.argv[2]);
  try {
    await program.parseAsync(process.argv);
  } catch (error) {
    if (error instanceof CommanderError) process.exitCode = error.exitCode === 0 ? EXIT.done : EXIT.usage;
    else fail(error);
  }
}

await main();
