/** What a receiver is, as far as its heat goes, and where the light that reaches it stays. */

import { type CavityShape, cavityWallArea, checkCavity, openingArea } from './cavity.js';
import { checkShape, type PlateShape, shapeArea, type TubeShape } from './convection.js';
import { aboveZero, risingTable, within } from './inputs.js';
import { cavityAbsorptance, checkEmittance, type Emittance } from './radiation.js';

/**
 * One glass in front of the opening or round the tube. Transmittance and absorptance for sunlight; the rest is reflected. It is
 * opaque to the receiver's own radiation.
 */
export interface Cover {
  readonly transmittance: number;
  readonly absorptance: number;
  readonly emittance: number;
  /** m from the hot wall (a cavity: from its bottom). */
  readonly gap: number;
  /** Air where left out. */
  readonly gas?: 'air' | 'vacuum';
}

/** A layer on the body or the back, from the hot wall to the air. */
export interface Insulation {
  readonly area: number;
  readonly thickness: number;
  /** W/m K; a table over the layer's mean temperature, K. */
  readonly conductivity:
    | number
    | { readonly temperature: readonly number[]; readonly value: readonly number[] };
  /** W/m2 K from the layer's skin to the air, radiation included: one figure; 5, 10, 20 (low, best, high: our judgement) where left out. */
  readonly outside?: number;
}

export interface Receiver {
  readonly shape: PlateShape | TubeShape | CavityShape;
  /** Of the wall, for sunlight; the effect of a cavity is added here. */
  readonly absorptance: number;
  readonly emittance: Emittance;
  readonly cover?: Cover;
  readonly insulation: readonly Insulation[];
  /** W/K through supports, pipe stubs and the rim. */
  readonly supports?: number;
  /** Share of sky that the opening sees, 0 where left out: one that looks down sees ground and mirrors. */
  readonly skyShare?: number;
  /** Set to 'none' to leave convection out (a vacuum, a check against closed forms). */
  readonly convection?: 'formulas' | 'none';
}

/** m2 through which the receiver radiates: the plate, the tube's mantle, the cavity's opening. */
export function radiatingArea(receiver: Receiver): number {
  return receiver.shape.kind === 'cavity' ? openingArea(receiver.shape) : shapeArea(receiver.shape);
}

/** Opening over wall area of a cavity; null for others. */
export function areaRatio(receiver: Receiver): number | null {
  return receiver.shape.kind === 'cavity'
    ? openingArea(receiver.shape) / cavityWallArea(receiver.shape)
    : null;
}

/** @throws RangeError naming the first figure that cannot be */
export function checkReceiver(receiver: Receiver): void {
  if (receiver.shape.kind === 'cavity') checkCavity(receiver.shape);
  else checkShape(receiver.shape);
  within('absorptance', receiver.absorptance, 0, 1);
  checkEmittance(receiver.emittance);
  within('supports, W/K,', receiver.supports ?? 0, 0);
  within('share of sky seen', receiver.skyShare ?? 0, 0, 1);
  if (receiver.cover) {
    const { transmittance, absorptance, emittance, gap } = receiver.cover;
    within('cover transmittance', transmittance, 0, 1);
    within('cover absorptance', absorptance, 0, 1 - transmittance);
    within('cover emittance', emittance, 0, 1);
    aboveZero('gap to the cover, m,', gap);
  }
  for (const layer of receiver.insulation) {
    aboveZero('insulated area, m2,', layer.area);
    aboveZero('insulation thickness, m,', layer.thickness);
    if (layer.outside !== undefined) aboveZero('coefficient outside the insulation, W/m2 K,', layer.outside);
    if (typeof layer.conductivity === 'number') {
      aboveZero('insulation conductivity, W/m K,', layer.conductivity);
    } else {
      const { temperature, value } = layer.conductivity;
      risingTable('insulation conductivity', temperature, [value]);
      for (const entry of value) aboveZero('insulation conductivity, W/m K,', entry);
    }
  }
}

/** Where light goes, W; the three add up to the light that came. */
export interface LightShares {
  readonly reflected: number;
  readonly inCover: number;
  readonly absorbed: number;
}

/**
 * Light between wall and cover, thrown to and fro until it is gone. Closed form: with r = 1 - a and the cover's reflectance p the
 * wall receives D = t / (1 - r p) of what comes.
 * @param watts light that reaches the opening
 */
export function lightShares(receiver: Receiver, watts: number): LightShares {
  within('light, W,', watts, 0);
  const ratio = areaRatio(receiver);
  const absorptance = ratio === null ? receiver.absorptance : cavityAbsorptance(receiver.absorptance, ratio);
  if (receiver.cover === undefined) {
    const absorbed = absorptance * watts;
    return { reflected: watts - absorbed, inCover: 0, absorbed };
  }
  const { transmittance, absorptance: glass } = receiver.cover;
  const back = 1 - absorptance;
  const mirror = Math.max(0, 1 - transmittance - glass);
  // A mirror-like wall behind a cover without any loss would hold the light for ever.
  const arriving = back * mirror === 1 ? 0 : transmittance / (1 - back * mirror);
  const absorbed = absorptance * arriving * watts;
  const inCover = glass * (1 + back * arriving) * watts;
  return { reflected: watts - absorbed - inCover, inCover, absorbed };
}
