/** A scene's prices and its year of heat as the plan that a price of heat is reckoned from. */
import { layOut } from '../field/layout.js';
import type { CostPlan, Part, Upkeep } from '../plant/cost.js';
import type { Basis, CostSpec } from '../scene/plant-types.js';
import type { Scene } from '../scene/types.js';
import { type HeatPlant, PlantError } from './heat-plant.js';
import { mirrorArea } from './season.js';

/** How many of each basis the scene has. */
export type Counts = Readonly<Record<Basis, number>>;

function receiverLength(scene: Scene): number {
  return layOut(scene).receivers.reduce((sum, { design: { aperture } }) => {
    if (aperture.shape === 'round') return sum + aperture.diameter;
    return sum + (aperture.shape === 'tube' ? aperture.length : aperture.width);
  }, 0);
}

export function countsOf(scene: Scene, plant: HeatPlant): Counts {
  return {
    whole: 1,
    dish: scene.rows.reduce((sum, { dishes, rows }) => sum + dishes * rows, 0),
    receiver: plant.receivers,
    mirror_m2: mirrorArea(scene),
    receiver_m: receiverLength(scene),
    pipe_m: plant.spec.pipes.length,
  };
}

/** @throws PlantError where the scene has no prices */
export function costSpec(scene: Scene): CostSpec {
  const spec = scene.plant?.cost ?? null;
  if (spec === null) {
    throw new PlantError(
      'the scene says nothing of prices: give it the section "cost" (see the README, Cost)',
    );
  }
  return spec;
}

/** @param heat kWh of the first year */
export function costPlan(spec: CostSpec, counts: Counts, heat: number): CostPlan {
  const parts = spec.parts.map(
    (part): Part => ({
      name: part.name,
      price: part.price,
      count: part.count * counts[part.per],
      lifetime: part.lifetime,
      crewHours: part.crewHours,
    }),
  );
  const upkeep = spec.upkeep.map(
    (work): Upkeep => ({
      name: work.name,
      money: work.price * counts[work.per],
      crewHours: work.crewHours * counts[work.per],
    }),
  );
  return {
    parts,
    upkeep,
    crewRate: spec.crewPrice,
    years: spec.years,
    heat,
    yieldFall: spec.yieldFall,
    convention: { rate: spec.rate, tax: spec.tax, residual: spec.residual },
  };
}
