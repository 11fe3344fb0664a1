/** Where batches are traced: worker threads (the only place that knows the pool package) or this thread. */
import { createRequire } from 'node:module';
import { setImmediate as nextTurn } from 'node:timers/promises';
import { fileURLToPath, pathToFileURL } from 'node:url';
import type { Piscina } from 'piscina';
import { type BatchReply, type BatchTask, runBatchTask } from './task.js';

export interface Executor {
  /** Worker threads; 0 for this thread. */
  readonly workers: number;
  /**
   * Traces one batch. Rejects where the thread died under it; the executor can go on. A batch may be submitted again.
   */
  submit(task: BatchTask): Promise<BatchReply>;
  /** Waits for the batches in flight, then ends the threads. Nothing can be submitted afterwards. */
  close(): Promise<void>;
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
  if (!Number.isInteger(workers) || workers < 0) {
    throw new RangeError(`the number of workers must be a whole number from 0 on, got ${workers}`);
  }
  return workers === 0 ? hereExecutor(options) : poolExecutor(workers, options);
}

/** One batch at a time; between two the event loop turns, so that a Ctrl-C is seen. */
function hereExecutor({ runTask = runBatchTask }: ExecutorOptions): Executor {
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

type TracePool = Piscina<BatchTask, BatchReply>;

function poolExecutor(workers: number, { workerFile, onNotice }: ExecutorOptions): Executor {
  // Read only where threads are wanted: a short run in this thread starts sooner without it.
  const { Piscina } = createRequire(import.meta.url)('piscina') as typeof import('piscina');
  let pool: TracePool | null = openPool();
  let closing: Promise<void> | null = null;
  const inFlight = new Set<Promise<BatchReply>>();

  function openPool(): TracePool {
    const fresh: TracePool = new Piscina({
      ...workerModule(workerFile),
      name: 'trace',
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
      onNotice?.(`a worker thread stopped unexpectedly between two batches (${reason})`);
    });
    // The thread is counted until its removal is done, hence the next turn.
    fresh.on('workerDestroy', () => setImmediate(() => giveUpIfEmpty(fresh)));
    return fresh;
  }

  /**
   * Threads that fail while they start are not replaced, and batches queued in a pool without threads would wait for
   * ever. Ending it rejects them; the next batch opens a new one.
   */
  function giveUpIfEmpty(tired: TracePool): void {
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
      // The pool's own close() loses batches in flight: wait for them first.
      closing ??= Promise.allSettled(inFlight).then(() => pool?.destroy());
      return closing;
    },
  };
}

const CLOSED = 'the workers were closed; no batch can be traced any more';

/** The compiled worker beside compiled code; the source, read through tsx, where this file itself runs from source. */
function workerModule(given: URL | undefined): { filename: string; execArgv?: string[] } {
  const extension = import.meta.url.endsWith('.ts') ? 'ts' : 'js';
  const file = given ?? new URL(`../../workers/trace.${extension}`, import.meta.url);
  const filename = fileURLToPath(file);
  if (!filename.endsWith('.ts')) return { filename };
  const loader = pathToFileURL(createRequire(import.meta.url).resolve('tsx')).href;
  return { filename, execArgv: ['--import', loader] };
}
