/** What ends a command early, and how it is told: a sentence and an exit code, never a stack trace. */
import { plainLines, plainText } from '../report/plain-text.js';
import { EXIT } from './session.js';

/** The command line asks for something that does not exist or does not fit together. */
export class UsageError extends Error {
  override readonly name = 'UsageError';
}

/** The scene cannot be read or is wrong; the message is the whole text to print, over several lines where need be. */
export class BadSceneError extends Error {
  override readonly name = 'BadSceneError';
}

/** The work could not be done; the message is one plain sentence. */
export class CommandFailure extends Error {
  override readonly name = 'CommandFailure';
}

/** The user stopped the command before it had anything to report. */
export class InterruptedError extends Error {
  override readonly name = 'InterruptedError';
}

export interface FailureReport {
  readonly exitCode: number;
  readonly text: string;
}

/**
 * Errors of the inner parts whose message is written for the user. Known by name, so that telling them apart loads none of
 * the parts.
 */
const PLAIN_FAILURES = new Set([
  'CommandFailure',
  'GeometryError',
  'SunBelowHorizonError',
  'NothingLitError',
  'WorkerFailure',
  'OutputError',
]);

/** What happened, for a message about a fault of the program itself. */
export interface FaultContext {
  readonly seed: string | null;
  readonly sceneHash: string | null;
}

function asSentence(message: string): string {
  const text = plainText(message.trim());
  return /[.!?]$/.test(text) ? text : `${text}.`;
}

/** @returns exit code and text (no trailing newline) for anything a command may throw */
export function reportFailure(error: unknown, context: FaultContext): FailureReport {
  const name = error instanceof Error ? error.name : '';
  const message = error instanceof Error ? error.message : String(error);
  if (error instanceof BadSceneError) return { exitCode: EXIT.usage, text: message };
  if (error instanceof UsageError || name === 'SweepError')
    return { exitCode: EXIT.usage, text: `error: ${plainLines(message)}` };
  if (error instanceof InterruptedError) return { exitCode: EXIT.interrupted, text: asSentence(message) };
  if (PLAIN_FAILURES.has(name)) return { exitCode: EXIT.failed, text: `error: ${asSentence(message)}` };
  if (isOutOfMemory(message)) {
    return {
      exitCode: EXIT.failed,
      text: 'error: The memory does not suffice for this scene; use fewer map cells or fewer workers.',
    };
  }
  const known = [
    context.sceneHash === null ? null : `scene ${context.sceneHash}`,
    context.seed === null ? null : `seed ${JSON.stringify(context.seed)}`,
  ].filter((part) => part !== null);
  const repeat = known.length > 0 ? ` To repeat it: ${known.join(', ')}.` : '';
  return {
    exitCode: EXIT.failed,
    text: `error: ${asSentence(message)} This is a fault in rowfocus, not in the scene.${plainText(repeat)}`,
  };
}

function isOutOfMemory(message: string): boolean {
  return /allocation failed|invalid (typed array|array buffer|array) length/i.test(message);
}
