/** A simple store of sensible heat, and what it adds to the price of heat. */

import { aboveZero, within } from './inputs.js';
import { rootOf } from './root.js';

export interface StoreMaterial {
  readonly density: number;
  readonly heatCapacity: number;
  readonly conductivity: number;
}

/** Inside measures, m; a cylinder stands upright. */
export type StoreShape =
  | { readonly kind: 'box'; readonly length: number; readonly width: number; readonly height: number }
  | { readonly kind: 'cylinder'; readonly diameter: number; readonly height: number };

export interface Store {
  readonly material: StoreMaterial;
  readonly shape: StoreShape;
  /** Share of the inside that is material; 1 where left out (pipes and gaps take some). */
  readonly fill?: number;
  readonly insulationThickness: number;
  readonly insulationConductivity: number;
  /** W/m2 K from the skin to the air; 10 where left out. */
  readonly outside?: number;
}

/** Charged and discharged temperatures of the store and the air round it, K. */
export interface StoreUse {
  readonly hot: number;
  readonly cold: number;
  readonly ambient: number;
}

export interface StoreFigures {
  readonly volume: number;
  readonly mass: number;
  /** J between cold and hot. */
  readonly capacity: number;
  /** W/K through the insulation. */
  readonly lossConductance: number;
  /** W at the mean of hot and cold. */
  readonly loss: number;
  /** Share of the capacity lost in a day, held at the mean temperature. */
  readonly lossPerDay: number;
  /** s in which an idle store falls to 1/e of its excess over the air. */
  readonly timeConstant: number;
}

/** m3 inside. */
export function storeVolume(shape: StoreShape): number {
  return shape.kind === 'box'
    ? shape.length * shape.width * shape.height
    : (Math.PI / 4) * shape.diameter ** 2 * shape.height;
}

/**
 * W/K through the insulation, floor included as if it stood in air. Box: conduction shape factors of a hollow box, A/t for walls,
 * 0.54 per metre of edge, 0.15 t per corner (textbook, from memory; inside measures of more than t/5). Cylinder: mantle by the logarithm,
 * two ends as discs of the mean of inside and outside diameter. The film outside is taken over the outer skin.
 */
export function storeConductance(store: Store): number {
  const { shape, insulationThickness: t, insulationConductivity: k } = store;
  const outside = store.outside ?? 10;
  if (shape.kind === 'box') {
    const { length: l, width: w, height: h } = shape;
    const walls = 2 * (l * w + l * h + w * h);
    const factor = walls / t + 0.54 * 4 * (l + w + h) + 0.15 * 8 * t;
    const [lo, wo, ho] = [l + 2 * t, w + 2 * t, h + 2 * t];
    const skin = 2 * (lo * wo + lo * ho + wo * ho);
    return 1 / (1 / (k * factor) + 1 / (outside * skin));
  }
  const outer = shape.diameter + 2 * t;
  const mantle =
    1 /
    (Math.log(outer / shape.diameter) / (2 * Math.PI * k * shape.height) +
      1 / (outside * Math.PI * outer * shape.height));
  const disc = (Math.PI / 4) * ((shape.diameter + outer) / 2) ** 2;
  return mantle + (2 * disc) / (t / k + 1 / outside);
}

/** @throws RangeError for figures that cannot be, or a hot end not above the cold one */
export function storeFigures(store: Store, use: StoreUse): StoreFigures {
  const { material, shape } = store;
  for (const [name, value] of Object.entries({ ...material, ...shape })) {
    if (typeof value === 'number') aboveZero(`store ${name}`, value);
  }
  aboveZero('insulation thickness, m,', store.insulationThickness);
  aboveZero('insulation conductivity, W/m K,', store.insulationConductivity);
  aboveZero('coefficient outside the store, W/m2 K,', store.outside ?? 10);
  const fill = within('fill', aboveZero('fill', store.fill ?? 1), 0, 1);
  aboveZero('ambient temperature, K,', use.ambient);
  aboveZero('hot less cold, K,', use.hot - use.cold);
  const volume = storeVolume(shape);
  const mass = volume * fill * material.density;
  const heatPerKelvin = mass * material.heatCapacity;
  const capacity = heatPerKelvin * (use.hot - use.cold);
  const lossConductance = storeConductance(store);
  const loss = lossConductance * ((use.hot + use.cold) / 2 - use.ambient);
  return {
    volume,
    mass,
    capacity,
    lossConductance,
    loss,
    lossPerDay: (loss * 86_400) / capacity,
    timeConstant: heatPerKelvin / lossConductance,
  };
}

/**
 * Excess temperature of an idle store after a time: exponential fall towards the air. Closed form.
 * @returns K
 */
export function storeTemperatureAfter(start: number, ambient: number, timeConstant: number, seconds: number) {
  return ambient + (start - ambient) * Math.exp(-seconds / aboveZero('time constant, s,', timeConstant));
}

/**
 * Seconds that a full store serves a steady load, its own loss counted: C dT/dt = -load - UA (T - ambient) from hot to cold.
 * Closed form.
 * @param load W, 0 or more
 * @returns null where nothing ever draws it down (no load and ambient not below cold)
 */
export function supplySeconds(figures: StoreFigures, use: StoreUse, load: number): number | null {
  within('load, W,', load, 0);
  const { lossConductance: ua } = figures;
  const after = load + ua * (use.cold - use.ambient);
  if (!(after > 0)) return null;
  // log1p: a store that hardly loses anything keeps its digits.
  return figures.timeConstant * Math.log1p((ua * (use.hot - use.cold)) / after);
}

/** The shape with every inside measure times a factor. */
function scaled(shape: StoreShape, factor: number): StoreShape {
  return shape.kind === 'box'
    ? {
        ...shape,
        length: shape.length * factor,
        width: shape.width * factor,
        height: shape.height * factor,
      }
    : { ...shape, diameter: shape.diameter * factor, height: shape.height * factor };
}

/**
 * The store of the same proportions and insulation that serves a load for a time, its loss counted.
 * @returns null where a hundred times the size would not do it
 * @throws RangeError for figures that cannot be, or a load and time that are not above 0
 */
export function storeForSupply(store: Store, use: StoreUse, load: number, seconds: number): Store | null {
  aboveZero('load, W,', load);
  aboveZero('time, s,', seconds);
  const of = (log: number): Store => ({ ...store, shape: scaled(store.shape, Math.exp(log)) });
  const short = (log: number) => {
    const supply = supplySeconds(storeFigures(of(log), use), use, load);
    return supply === null ? 1 : supply / seconds - 1;
  };
  const [least, most] = [Math.log(1e-3), Math.log(100)];
  if (short(most) < 0) return null;
  if (short(least) > 0) return of(least);
  return of(rootOf(short, least, most));
}

/** Share of the stored capacity that a load receives when the store is emptied in one go. */
export function deliveredShare(figures: StoreFigures, use: StoreUse, load: number): number {
  const seconds = supplySeconds(figures, use, load);
  return seconds === null ? 0 : (load * seconds) / figures.capacity;
}

/**
 * Depth to which heat gets in a time, m: sqrt(alpha t), the length scale of the heat equation (Carslaw & Jaeger, Conduction of Heat in
 * Solids, 1959, from memory): a step at the face is felt to 48 % there.
 */
export function diffusionDepth(material: StoreMaterial, seconds: number): number {
  const diffusivity = material.conductivity / (material.density * material.heatCapacity);
  return Math.sqrt(aboveZero('diffusivity', diffusivity) * aboveZero('time, s,', seconds));
}

/** Widest spacing of pipes in a solid store, m: two depths, one from each side; common practice, not a standard. */
export function pipeSpacing(material: StoreMaterial, seconds: number): number {
  return 2 * diffusionDepth(material, seconds);
}

export interface NightPrice {
  readonly day: number;
  /** Share of the day's heat that is lost in the store, at the day's price. */
  readonly losses: number;
  /** Yearly cost of the store over the heat that leaves it. */
  readonly store: number;
  readonly night: number;
}

/**
 * Price of heat out of the store beside the price by day, money per J (or any unit of heat, the same throughout).
 * @param dayPrice of heat straight from the field
 * @param share of the heat put in that comes out, above 0 up to 1
 * @param storeYearly yearly cost of the store (capital recovery and upkeep)
 * @param heatOut per year from the store
 */
export function nightPrice(
  dayPrice: number,
  share: number,
  storeYearly: number,
  heatOut: number,
): NightPrice {
  within('price by day', dayPrice, 0);
  within('share that comes out', aboveZero('share that comes out', share), 0, 1);
  within('yearly cost of the store', storeYearly, 0);
  const losses = dayPrice / share - dayPrice;
  const store = storeYearly / aboveZero('heat out of the store', heatOut);
  return { day: dayPrice, losses, store, night: dayPrice + losses + store };
}
