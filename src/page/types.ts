/** What a report page is made from. */
import type { PreparedScene } from '../prepare.js';
import type { ReportSection } from '../report/section.js';
import type { MachineRun } from '../report/types.js';
import type { Summary } from '../result/types.js';
import type { BatchPlan } from '../run/plan.js';

/** A scene file as the user wrote it. */
export interface SceneInput {
  /** As the user calls it. */
  readonly file: string;
  readonly text: string;
  readonly title: string;
  readonly hash: string;
}

/** A scene that was traced. */
export interface TracedScene extends SceneInput {
  readonly prepared: PreparedScene;
  readonly summary: Summary;
  /** Of the run, so that its own rays can be drawn. */
  readonly plan: Pick<BatchPlan, 'log2Rays' | 'raysPerBatch'>;
}

export interface PageInput {
  /** Name of the command that wrote it. */
  readonly command: string;
  readonly version: string;
  readonly seed: string;
  /** `--set` options as given. */
  readonly overrides: readonly string[];
  /** Scenes whose light is shown: several stand side by side, all on one colour scale. None where a study has only sections. */
  readonly traced: readonly TracedScene[];
  /** Scene files, where no scene was traced by itself. */
  readonly inputs: readonly SceneInput[];
  /** Handed in by studies, in the order in which they are to stand. */
  readonly sections: readonly ReportSection[];
  /** Plain sentences of a study without a traced scene; the first is the answer. */
  readonly answer: readonly string[];
  readonly cautions: readonly string[];
  readonly warnings: readonly string[];
  readonly machine: MachineRun;
  /** Day of writing, YYYY-MM-DD. */
  readonly written: string;
}
