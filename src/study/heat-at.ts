/** A scene traced at one moment of its sky, its receivers where they stand then, with receivers and oil worked out from it. */
import { runScene } from '../run/run.js';
import type { Scene } from '../scene/types.js';
import type { Clock } from '../sun/clock.js';
import { momentAt, type Sky } from '../sun/sky.js';
import { searchSeed } from './day.js';
import { heatMoment } from './heat-moment.js';
import { type HeatPlant, PlantError } from './heat-plant.js';
import type { HeatMoment } from './heat-types.js';
import { lightOf } from './light.js';
import { type Offset, withMoment, withReceiversAt } from './moving.js';
import type { ReceiverMode } from './optics-table-node.js';
import { bestAlong, bestPlace } from './placement.js';
import { traceScene } from './trace.js';

export interface HeatAtOptions {
  readonly scene: Scene;
  readonly plant: HeatPlant;
  readonly mode: ReceiverMode;
  readonly sky: Sky;
  readonly clock: Clock;
  /** Milliseconds since 1970 UTC. */
  readonly time: number;
  readonly seed: string;
  readonly rays: number;
  readonly stop?: { requested: boolean };
}

const SEARCH_RAYS = 2 ** 15;
/** Below it nothing is worth tracing, W/m2. */
const LEAST_DNI = 1;

function placeOf(scene: Scene, mode: ReceiverMode, seed: string): Offset {
  if (mode.kind === 'held') return [0, 0, 0];
  const light = lightOf(scene, searchSeed(seed), SEARCH_RAYS);
  const found =
    mode.kind === 'on_track'
      ? bestAlong(light, mode.path)
      : bestPlace(light, mode.free === undefined ? {} : { free: mode.free });
  return found?.offset ?? [0, 0, 0];
}

/**
 * @throws PlantError where there is no beam; what `traceScene` throws
 */
export async function heatAt(options: HeatAtOptions): Promise<HeatMoment> {
  const { scene, plant, mode, sky, clock, time, seed, rays, stop } = options;
  const moment = momentAt(scene, sky, time);
  if (!(moment.dni > LEAST_DNI)) {
    throw new PlantError(
      moment.known
        ? `there is no beam irradiance at ${clock.text(time)}`
        : `the weather file has nothing for ${clock.text(time)}`,
    );
  }
  const own = withMoment(scene, moment);
  const placed = withReceiversAt(own, placeOf(own, mode, seed));
  const { summary } = await traceScene(placed, runScene, {
    seed,
    rays,
    target: null,
    maxRays: rays,
    workers: 0,
    ...(stop === undefined ? {} : { stop }),
  });
  const { ambient, wind } = plant.spec;
  return heatMoment({
    plant,
    trace: summary.result,
    air: { ambient: ambient ?? moment.ambient, wind: Math.min(40, moment.wind ?? wind) },
    time: clock.text(time),
    sun: { azimuth: moment.azimuth, elevation: moment.elevation, dni: moment.dni },
  });
}
