/** The whole public path in one call: scene text in, result out, as a user's trace takes it. */
import type { Summary } from '../../src/result/types.js';
import { runScene } from '../../src/run/run.js';
import { loadScene } from '../../src/scene/load.js';
import { parseOverride } from '../../src/scene/override.js';
import type { Scene } from '../../src/scene/types.js';
import { traceScene } from '../../src/study/trace.js';

export interface TraceTextOptions {
  /** About this many rays in all. */
  readonly rays: number;
  readonly seed: string;
  /** `path=value` texts, as `--set` takes them. */
  readonly overrides?: readonly string[];
  /** 0 traces in this thread. */
  readonly workers?: 0 | 2;
}

/**
 * Scene text to scene.
 * @throws Error that lists what the loader found wrong
 */
export function sceneOf(yaml: string, overrides: readonly string[] = []): Scene {
  const parsed = overrides.map((text) => {
    const outcome = parseOverride(text);
    if (!outcome.ok) throw new Error(`override ${text}: ${outcome.error.message}`);
    return outcome.override;
  });
  const loaded = loadScene(yaml, { file: 'reference.yaml', overrides: parsed });
  if (!loaded.ok) {
    const lines = loaded.errors.map(
      (error) => `${error.line}:${error.column} ${error.path}: ${error.message}`,
    );
    throw new Error(`the scene was refused\n${lines.join('\n')}\n${yaml}`);
  }
  return loaded.scene;
}

/** Scene text -> checked scene -> trace -> figures, maps and replicates. Throws what these steps throw. */
export async function traceText(yaml: string, options: TraceTextOptions): Promise<Summary> {
  const { rays, seed, overrides = [], workers = 0 } = options;
  const traced = await traceScene(sceneOf(yaml, overrides), runScene, {
    rays,
    seed,
    target: null,
    maxRays: rays,
    workers,
  });
  return traced.summary;
}
