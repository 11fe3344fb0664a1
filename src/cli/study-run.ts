/** What all commands with rays do around their runs: threads, progress, stopping, the machine's part of the result. */
import type { MachineRun } from '../report/types.js';
import type { Run, RunOptions } from '../run/types.js';
import { UsageError } from './failure.js';
import { guarded } from './guard.js';
import { startProgress } from './progress.js';
import {
  chooseWorkers,
  DEFAULT_MAX_RAYS,
  expectedRays,
  flagConflict,
  RAYS_PER_POINT,
  type RunFlags,
  raysWanted,
} from './run-options.js';
import type { Session } from './session.js';

export interface OpenRun {
  readonly run: Run;
  readonly options: RunOptions;
  /** For the `run` object of the JSON document. */
  readonly machine: () => MachineRun;
  /** To be called after each scene of a study, for the progress. */
  readonly nextScene: () => void;
  /** Ends the threads and the progress. */
  readonly close: () => Promise<void>;
}

/**
 * Opens threads (kept for all scenes of a study) and progress.
 * @param scenes how many scenes will be traced, for the choice of threads
 * @throws UsageError where the options do not fit together
 */
export async function openRun(flags: RunFlags, session: Session, scenes = 1): Promise<OpenRun> {
  const conflict = flagConflict(flags);
  if (conflict !== null) throw new UsageError(conflict);
  const { createExecutor } = await import('../run/pool.js');
  const { createRun } = await import('../run/run.js');
  const started = performance.now();
  const target = flags.to ?? null;
  const footprints = flags.deposit === 'footprints';
  const rays = target === null ? raysWanted(flags) * (footprints ? RAYS_PER_POINT : 1) : expectedRays(target);
  const workers = chooseWorkers(flags.workers, rays * scenes);
  const progress = await startProgress(session, flags.quiet === true, scenes, flags.deposit);
  const executor = createExecutor(workers, { onNotice: progress.onNotice });
  return {
    run: guarded(createRun(executor), workers),
    options: {
      seed: flags.seed,
      rays: raysWanted(flags),
      ...(footprints ? { deposit: 'footprints' as const } : {}),
      target,
      maxRays: flags.maxRays ?? DEFAULT_MAX_RAYS,
      workers,
      onProgress: progress.onProgress,
      onNotice: progress.onNotice,
      stop: session.stop,
    },
    machine: () => ({ wall_time_s: (performance.now() - started) / 1000, workers }),
    nextScene: progress.nextScene,
    close: async () => {
      progress.end();
      await executor.close();
    },
  };
}
