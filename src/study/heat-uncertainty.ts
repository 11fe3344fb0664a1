/**
 * How far a year's heat may be off for what is not known well: weather, reflectance, slope errors. Heat answers to the light caught by
 * a short table of whole years, the light to the slope errors by paired traces; draws then cost nothing (JCGM 101).
 */
import type { Band } from '../plant/band.js';
import { propagate } from '../plant/cost-uncertainty.js';
import { linearBetween } from '../plant/table.js';
import type { YearHeat, YearLight } from '../plant/year-heat.js';
import type { TaskPool } from '../run/pool.js';
import { uniformStream } from '../run/seeds.js';
import type { Scene } from '../scene/types.js';
import { JOULES_PER_KWH } from './heat-ledger.js';
import type { HeatPlant } from './heat-plant.js';
import { caughtRatios, withSlopeErrors } from './heat-response.js';
import { scaledLight } from './heat-series.js';
import type { HeatUncertainty, Span } from './heat-types.js';
import type { OpticsTable } from './optics-table.js';
import type { NodeReply, NodeTask, ReceiverMode } from './optics-table-node.js';

/** Factors on the light caught at which whole years are worked out. */
const LIGHT_FACTORS = [0.2, 0.4, 0.55, 0.7, 0.8, 0.9, 1, 1.1, 1.2, 1.35, 1.6];
const TRIALS = 4000;
/** Multiples of its standard deviation at which the slope error's factor is traced. */
const SLOPE_STEPS = [-2, -1, 1, 2];

export interface UncertaintyInput {
  readonly scene: Scene;
  readonly mode: ReceiverMode;
  readonly plant: HeatPlant;
  readonly table: OpticsTable;
  readonly light: YearLight;
  readonly yearOf: (light: YearLight) => YearHeat;
  readonly caughtRelativeError: number;
  readonly formulaSpan: Span;
  readonly seed: string;
  readonly rays: number;
  readonly searchRays: number;
  readonly pool: TaskPool<NodeTask, NodeReply>;
  readonly stop?: { readonly requested: boolean };
  readonly onNodes?: (traced: number) => void;
}

export interface UncertaintyStudy {
  readonly uncertainty: HeatUncertainty;
  /** Heat of the year with the light caught times a factor, J. */
  readonly heatAtFactor: (factor: number) => Band;
}

/** @throws StudyStopped, NodeFailure */
export async function heatUncertainty(input: UncertaintyInput): Promise<UncertaintyStudy> {
  const { light, yearOf, plant, scene } = input;
  const years = LIGHT_FACTORS.map((factor) => yearOf(scaledLight(light, factor)).delivered);
  const read = (end: keyof Band) => {
    const values = years.map((year) => year[end]);
    return (factor: number) => linearBetween(LIGHT_FACTORS, values, factor);
  };
  const [low, best, high] = [read('low'), read('best'), read('high')];
  const heatAtFactor = (factor: number): Band => ({
    low: low(factor),
    best: best(factor),
    high: high(factor),
  });

  const { weather, reflectance, slopeError } = plant.spec.uncertainty;
  const factors = slopeError > 0 ? SLOPE_STEPS.map((step) => Math.max(0.05, 1 + step * slopeError)) : [];
  const ratios =
    factors.length === 0
      ? []
      : (
          await caughtRatios({ ...input, scenes: [scene, ...factors.map((f) => withSlopeErrors(scene, f))] })
        ).slice(1);
  const slopeResponse = [
    { factor: 1, caught_ratio: 1, std_err: 0 },
    ...factors.map((factor, i) => ({ factor, caught_ratio: ratios[i].value, std_err: ratios[i].std_err })),
  ].sort((one, other) => one.factor - other.factor);
  const caughtAt = (factor: number) =>
    linearBetween(
      slopeResponse.map((entry) => entry.factor),
      slopeResponse.map((entry) => entry.caught_ratio),
      factor,
    );
  const model = ([sun, mirror, slope]: readonly number[]) => {
    if (sun < 0 || mirror < 0 || slope < 0) throw new RangeError('a factor below 0');
    return best(sun * mirror * caughtAt(slope));
  };
  const spreads = [
    ['weather', weather],
    ['reflectance', reflectance],
    ['slope error', slopeError],
  ] as const;
  const drawn = propagate(
    model,
    spreads.map(([name, sigma]) => ({
      name,
      distribution:
        sigma > 0 ? { kind: 'normal', mean: 1, sigma } : { kind: 'uniform', from: 1, to: 1 + 1e-12 },
    })),
    uniformStream(`${input.seed}/heat`),
    TRIALS,
  );
  const present = best(1);
  const step = 0.05;
  const elasticity = (index: number) => {
    const at = (factor: number) => model([0, 1, 2].map((i) => (i === index ? factor : 1)));
    return present > 0 ? (at(1 + step) - at(1 - step)) / (2 * step) / present : 0;
  };
  const perLight = (best(1.1) - best(0.9)) / 0.2;
  const kwh = (joules: number) => joules / JOULES_PER_KWH;
  return {
    heatAtFactor,
    uncertainty: {
      inputs: spreads.map(([name, sigma], index) => ({
        name,
        relative_sd: sigma,
        elasticity: elasticity(index),
      })),
      trials: TRIALS,
      mean_kwh: kwh(drawn.mean),
      sd_kwh: kwh(drawn.standardDeviation),
      ci95_kwh: [kwh(drawn.interval95[0]), kwh(drawn.interval95[1])],
      ray_std_err_kwh: kwh(perLight * input.caughtRelativeError),
      formula_span_kwh: input.formulaSpan,
      slope_response: slopeResponse,
    },
  };
}
