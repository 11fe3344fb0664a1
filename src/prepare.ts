import type { Field } from './field/types.js';
import type { TallyLayout } from './kernel/tally.js';
import type { Scene } from './scene/types.js';
import type { Moment } from './sun/moment.js';

/** A scene at one moment, packed and sealed: nothing changes it any more. */
export interface PreparedScene {
  /** What the kernel reads (`viewPrepared`), shared with the workers without copying. */
  readonly buffer: SharedArrayBuffer;
  readonly scene: Scene;
  readonly field: Field;
  readonly moment: Moment;
  readonly layout: TallyLayout;
  /** Sunlight each facet can receive, W (0: it faces away and is not traced). Rays are shared out by it. */
  readonly facetPower: Float64Array;
  /** True surface area of the mirrors of each group (one group per receiver), m2. */
  readonly mirrorArea: Float64Array;
  /** Per receiver: where the spot histogram is centred (u, v; m), how far it reaches (m), and what it measures. */
  readonly spots: readonly {
    readonly centre: readonly [number, number];
    readonly radius: number;
    readonly measure: 'diameter' | 'width';
  }[];
}
