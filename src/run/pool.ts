/** Where batches and other tasks are done: worker threads (the only place that knows the pool package) or this thread. */
import { createRequire } from 'node:module';
import { setImmediate as nextTurn } from 'node:timers/promises';
import { fileURLToPath, pathToFileURL } from 'node:url';
import type { Piscina } from 'piscina';
import { type BatchReply, type BatchTask, runBatchTask } from './task.js';

export interface TaskPool<Task, Reply> {
  /** Worker threads; 0 for this thread. */
  readonly workers: number;
  /**
   * Does one task. Rejects where the thread died under it; the pool can go on. A task may be submitted again.
   */
  submit(task: Task): Promise<Reply>;
  /** Waits for the tasks in flight, then ends the threads. Nothing can be submitted afterwards. */
  close(): Promise<void>;
}

export type Executor = TaskPool<BatchTask, BatchReply>;

/** A kind of task: how it is done here, and which module of `workers/` does it in a thread. */
export interface TaskKind<Task, Reply> {
  /** Name of the module and of its export. */
  readonly name: string;
  /** Never throws: errors lose their class and fields on their way out of a thread. */
  readonly runTask: (task: Task) => Reply;
  /** The module, where it is not the one of that name. */
  readonly workerFile?: URL | undefined;
  /** Plain messages about a thread that failed while it had no task. */
  readonly onNotice?: ((message: string) => void) | undefined;
}

export interface ExecutorOptions {
  /** Module whose export `trace` the threads call; for tests of what a pool does when a thread dies. */
  readonly workerFile?: URL;
  /** Traces a batch in this thread when there are no workers; for tests without a kernel. */
  readonly runTask?: (task: BatchTask) => BatchReply;
  /** Plain messages about a thread that failed while it had no batch. */
  readonly onNotice?: (message: string) => void;
}

/**
 * @param workers worker threads to keep; 0 traces in this thread
 * @throws RangeError for a count that is not whole or below 0
 */
export function createExecutor(workers: number, options: ExecutorOptions = {}): Executor {
  const { runTask = runBatchTask, workerFile, onNotice } = options;
  return createTaskPool(workers, { name: 'trace', runTask, workerFile, onNotice });
}

/**
 * Threads for tasks of one kind; what a task gives depends on the task alone.
 * @param workers worker threads to keep; 0 does all in this thread
 * @throws RangeError for a count that is not whole or below 0
 */
export function createTaskPool<Task, Reply>(
  workers: number,
  kind: TaskKind<Task, Reply>,
): TaskPool<Task, Reply> {
  if (!Number.isInteger(workers) || workers < 0) {
    throw new RangeError(`the number of workers must be a whole number from 0 on, got ${workers}`);
  }
  return workers === 0 ? poolHere(kind) : poolOfThreads(workers, kind);
}

/** One task at a time; between two the event loop turns, so that a Ctrl-C is seen. */
function poolHere<Task, Reply>({ runTask }: TaskKind<Task, Reply>): TaskPool<Task, Reply> {
  let closed = false;
  let last: Promise<unknown> = Promise.resolve();
  return {
    workers: 0,
    submit(task) {
      if (closed) return Promise.reject(new Error(CLOSED));
      const reply = last.then(() => nextTurn()).then(() => runTask(task));
      last = reply.catch(() => undefined);
      return reply;
    },
    async close() {
      closed = true;
      await last;
    },
  };
}

function poolOfThreads<Task, Reply>(
  workers: number,
  { name, workerFile, onNotice }: TaskKind<Task, Reply>,
): TaskPool<Task, Reply> {
  // Read only where threads are wanted: a short run in this thread starts sooner without it.
  const { Piscina } = createRequire(import.meta.url)('piscina') as typeof import('piscina');
  let pool: Piscina<Task, Reply> | null = openPool();
  let closing: Promise<void> | null = null;
  const inFlight = new Set<Promise<Reply>>();

  function openPool(): Piscina<Task, Reply> {
    const fresh: Piscina<Task, Reply> = new Piscina({
      ...workerModule(name, workerFile),
      name,
      minThreads: workers,
      maxThreads: workers,
      // Threads that live on keep their compiled code.
      idleTimeout: Number.POSITIVE_INFINITY,
      concurrentTasksPerWorker: 1,
      recordTiming: false,
    });
    // Without a listener an error event ends the whole process.
    fresh.on('error', (error: unknown) => {
      const reason = error instanceof Error ? error.message : String(error);
      onNotice?.(`a worker thread stopped unexpectedly between two tasks (${reason})`);
    });
    // The thread is counted until its removal is done, hence the next turn.
    fresh.on('workerDestroy', () => setImmediate(() => giveUpIfEmpty(fresh)));
    return fresh;
  }

  /**
   * Threads that fail while they start are not replaced, and tasks queued in a pool without threads would wait for
   * ever. Ending it rejects them; the next task opens a new one.
   */
  function giveUpIfEmpty(tired: Piscina<Task, Reply>): void {
    if (tired !== pool || tired.threads.length > 0) return;
    pool = null;
    void tired.destroy();
  }

  return {
    workers,
    submit(task) {
      // The pool itself would start new threads after its end.
      if (closing) return Promise.reject(new Error(CLOSED));
      pool ??= openPool();
      const reply = pool.run(task);
      inFlight.add(reply);
      const forget = () => inFlight.delete(reply);
      reply.then(forget, forget);
      return reply;
    },
    close() {
      // The pool's own close() loses tasks in flight: wait for them first.
      closing ??= Promise.allSettled(inFlight).then(() => pool?.destroy());
      return closing;
    },
  };
}

const CLOSED = 'the workers were closed; nothing can be traced any more';

/** The compiled worker beside compiled code; the source, read through tsx, where this file itself runs from source. */
function workerModule(name: string, given: URL | undefined): { filename: string; execArgv?: string[] } {
  const extension = import.meta.url.endsWith('.ts') ? 'ts' : 'js';
  const file = given ?? new URL(`../../workers/${name}.${extension}`, import.meta.url);
  const filename = fileURLToPath(file);
  if (!filename.endsWith('.ts')) return { filename };
  const loader = pathToFileURL(createRequire(import.meta.url).resolve('tsx')).href;
  return { filename, execArgv: ['--import', loader] };
}
