/** Heat and cost of a scene, in SI units and kelvin; money in plain numbers of one currency. */
import type { BASES, OIL_NAMES } from './plant-schema.js';

/** A column over rising temperatures, K. */
export interface OverTemperature {
  readonly temperature: readonly number[];
  readonly value: readonly number[];
}

/** An oil by its own data sheet. */
export interface OwnOil {
  readonly name: string;
  readonly temperature: readonly number[];
  readonly density: readonly number[];
  readonly heatCapacity: readonly number[];
  readonly conductivity: readonly number[];
  readonly viscosity: readonly number[];
  readonly vapourPressure: readonly number[] | null;
  readonly filmLimit: number | null;
  readonly bulkLimit: number | null;
  readonly flashPoint: number | null;
  readonly autoignition: number | null;
}

export interface HeatSpec {
  readonly absorptance: number;
  /** One figure, or over temperature. */
  readonly emittance: number | OverTemperature;
  readonly emittanceSpread: number;
  readonly cavity: {
    readonly insideDiameter: number;
    readonly depth: number;
    readonly wallFluxFactor: number;
  } | null;
  readonly cover: {
    readonly transmittance: number;
    readonly absorptance: number;
    readonly emittance: number;
    readonly gap: number;
    readonly gas: 'air' | 'vacuum';
  } | null;
  /** Of one receiver; area null: by the shape. */
  readonly insulation: {
    readonly thickness: number;
    readonly conductivity: number;
    readonly area: number | null;
    readonly outside: number | null;
  } | null;
  /** W/K of one receiver. */
  readonly supports: number;
  readonly skyShare: number;
  readonly oil:
    | { readonly kind: 'named'; readonly name: (typeof OIL_NAMES)[number] }
    | { readonly kind: 'own'; readonly oil: OwnOil };
  readonly inlet: number;
  readonly outlet: number;
  /** kg/s through one string. */
  readonly flow: number;
  /** Pa absolute. */
  readonly pressure: number | null;
  readonly channel: {
    readonly insideDiameter: number;
    readonly length: number;
    readonly parallel: number;
    readonly wallThickness: number;
    readonly wallConductivity: number;
    readonly fluxRatio: number;
  };
  readonly receiversInSeries: number;
  /** kg of one receiver; oil null: what its pipe holds. */
  readonly receiverMetal: number;
  readonly receiverOil: number | null;
  /** Of the whole field. */
  readonly pipes: {
    readonly length: number;
    readonly loss: number;
    readonly metal: number;
    readonly oil: number;
  };
  readonly metalHeatCapacity: number;
  /** W of the field. */
  readonly leastHeat: number;
  readonly filmMargin: number;
  readonly greatestFlow: number;
  /** K; null: that of the site. */
  readonly ambient: number | null;
  readonly wind: number;
  /** Relative standard deviations. */
  readonly uncertainty: {
    readonly weather: number;
    readonly reflectance: number;
    readonly slopeError: number;
  };
}

export type Basis = (typeof BASES)[number];

export interface CostSpec {
  readonly currency: string;
  readonly parts: readonly {
    readonly name: string;
    readonly price: number;
    readonly count: number;
    readonly per: Basis;
    readonly lifetime: number;
    readonly crewHours: number;
  }[];
  readonly upkeep: readonly {
    readonly name: string;
    readonly price: number;
    readonly crewHours: number;
    readonly per: Basis;
  }[];
  readonly crewPrice: number;
  readonly rate: number;
  readonly years: number;
  readonly tax: number;
  readonly residual: 'none' | 'straight_line';
  readonly yieldFall: number;
  /** Price of a kWh in the fuel. */
  readonly fuel: { readonly name: string; readonly price: number; readonly efficiency: number } | null;
  readonly uncertainty: { readonly prices: number; readonly crewPrice: number; readonly upkeep: number };
}

export interface StoreSpec {
  readonly material: {
    readonly density: number;
    readonly heatCapacity: number;
    readonly conductivity: number;
  };
  readonly shape:
    | { readonly kind: 'box'; readonly length: number; readonly width: number; readonly height: number }
    | { readonly kind: 'cylinder'; readonly diameter: number; readonly height: number };
  readonly fill: number;
  readonly insulationThickness: number;
  readonly insulationConductivity: number;
  readonly hot: number;
  readonly cold: number;
  readonly nights: number;
  readonly load: number;
  readonly price: number;
  readonly lifetime: number;
  readonly crewHours: number;
}

export interface FilmAgeingSpec {
  /** Change of the reflectance a year; of the specular spread, radians a year. */
  readonly reflectancePerYear: number;
  readonly spreadPerYear: number;
  readonly pricePerArea: number;
  /** Crew hours per m2. */
  readonly workPerArea: number;
  readonly longestYears: number;
  readonly soiling: {
    readonly perDay: number;
    readonly floor: number;
    readonly rainDays: readonly number[];
    readonly rainRecovery: number;
  } | null;
  readonly washing: {
    readonly everyDays: number;
    readonly price: number;
    readonly recovery: number;
    readonly wear: number;
  } | null;
  readonly better: {
    readonly reflectance: number;
    readonly spread: number;
    readonly reflectancePerYear: number;
    readonly spreadPerYear: number;
  } | null;
}

/** What a scene says of heat and money; parts that it does not speak of are null. */
export interface PlantSpec {
  readonly heat: HeatSpec | null;
  readonly cost: CostSpec | null;
  readonly store: StoreSpec | null;
  readonly filmAgeing: FilmAgeingSpec | null;
}
