/** Heat and cost of a valid scene file in SI units. */
import type { CostSpec, FilmAgeingSpec, HeatSpec, OwnOil, PlantSpec, StoreSpec } from './plant-types.js';
import type { CostEntry, FilmAgeingEntry, HeatEntry, SceneFile, StoreEntry } from './schema.js';

const KELVIN_AT_ZERO_CELSIUS = 273.15;

function kelvin(celsius: number): number {
  return celsius + KELVIN_AT_ZERO_CELSIUS;
}

function kelvinOrNull(celsius: number | undefined): number | null {
  return celsius === undefined ? null : kelvin(celsius);
}

function ownOil(entry: NonNullable<HeatEntry['oil']['data']>): OwnOil {
  return {
    name: entry.name,
    temperature: entry.temperature_c.map(kelvin),
    density: entry.density_kg_m3,
    heatCapacity: entry.heat_capacity_j_kg_k,
    conductivity: entry.conductivity_w_m_k,
    viscosity: entry.viscosity_mpa_s.map((value) => value / 1000),
    vapourPressure: entry.vapour_pressure_kpa?.map((value) => value * 1000) ?? null,
    filmLimit: kelvinOrNull(entry.film_limit_c),
    bulkLimit: kelvinOrNull(entry.bulk_limit_c),
    flashPoint: kelvinOrNull(entry.flash_point_c),
    autoignition: kelvinOrNull(entry.autoignition_c),
  };
}

function convertHeat(entry: HeatEntry): HeatSpec {
  const { surface, cavity, cover, insulation, oil, channel, pipes, uncertainty } = entry;
  const table = surface.emittance_by_temperature;
  return {
    absorptance: surface.absorptance,
    emittance:
      table === undefined
        ? (surface.emittance ?? Number.NaN)
        : { temperature: table.temperature_c.map(kelvin), value: table.emittance },
    emittanceSpread: surface.emittance_spread,
    cavity:
      cavity === undefined
        ? null
        : {
            insideDiameter: cavity.inside_diameter_m,
            depth: cavity.depth_m,
            wallFluxFactor: cavity.wall_flux_factor,
          },
    cover:
      cover === undefined
        ? null
        : {
            transmittance: cover.transmittance,
            absorptance: cover.absorptance,
            emittance: cover.emittance,
            gap: cover.gap_m,
            gas: cover.gas,
          },
    insulation:
      insulation === undefined
        ? null
        : {
            thickness: insulation.thickness_m,
            conductivity: insulation.conductivity_w_m_k,
            area: insulation.area_m2 ?? null,
            outside: insulation.outside_w_m2_k ?? null,
          },
    supports: entry.supports_w_k,
    skyShare: entry.sky_share,
    oil:
      oil.data === undefined
        ? { kind: 'named', name: oil.name ?? 'mineral_oil' }
        : { kind: 'own', oil: ownOil(oil.data) },
    inlet: kelvin(oil.inlet_c),
    outlet: kelvin(oil.outlet_c),
    flow: oil.flow_kg_s,
    pressure: oil.pressure_bar === undefined ? null : oil.pressure_bar * 1e5,
    channel: {
      insideDiameter: channel.inside_diameter_m,
      length: channel.length_m,
      parallel: channel.parallel,
      wallThickness: channel.wall_thickness_m,
      wallConductivity: channel.wall_conductivity_w_m_k,
      fluxRatio: channel.flux_ratio,
    },
    receiversInSeries: entry.receivers_in_series,
    receiverMetal: entry.receiver_metal_kg,
    receiverOil: entry.receiver_oil_kg ?? null,
    pipes: {
      length: pipes?.length_m ?? 0,
      loss: pipes?.loss_w_m_k ?? 0,
      metal: pipes?.metal_kg ?? 0,
      oil: pipes?.oil_kg ?? 0,
    },
    metalHeatCapacity: entry.metal_heat_capacity_j_kg_k,
    leastHeat: entry.least_heat_w,
    filmMargin: entry.film_margin_k,
    greatestFlow: entry.greatest_flow_kg_s,
    ambient: kelvinOrNull(entry.ambient_c),
    wind: entry.wind_m_s,
    uncertainty: {
      weather: uncertainty.weather,
      reflectance: uncertainty.reflectance,
      slopeError: uncertainty.slope_error,
    },
  };
}

function convertCost(entry: CostEntry): CostSpec {
  return {
    currency: entry.currency,
    parts: entry.parts.map((part) => ({
      name: part.name,
      price: part.price,
      count: part.count,
      per: part.per,
      lifetime: part.lifetime_years,
      crewHours: part.crew_hours,
    })),
    upkeep: entry.upkeep.map((work) => ({
      name: work.name,
      price: work.price,
      crewHours: work.crew_hours,
      per: work.per,
    })),
    crewPrice: entry.crew_price_per_h,
    rate: entry.rate,
    years: entry.years,
    tax: entry.tax,
    residual: entry.residual,
    yieldFall: entry.yield_fall,
    fuel:
      entry.fuel === undefined
        ? null
        : { name: entry.fuel.name, price: entry.fuel.price_per_kwh, efficiency: entry.fuel.efficiency },
    uncertainty: {
      prices: entry.uncertainty.prices,
      crewPrice: entry.uncertainty.crew_price,
      upkeep: entry.uncertainty.upkeep,
    },
  };
}

function convertStore(entry: StoreEntry): StoreSpec {
  const { material, shape } = entry;
  return {
    material: {
      density: material.density_kg_m3,
      heatCapacity: material.heat_capacity_j_kg_k,
      conductivity: material.conductivity_w_m_k,
    },
    shape:
      shape.kind === 'box'
        ? { kind: 'box', length: shape.length_m, width: shape.width_m, height: shape.height_m }
        : { kind: 'cylinder', diameter: shape.diameter_m, height: shape.height_m },
    fill: entry.fill,
    insulationThickness: entry.insulation_thickness_m,
    insulationConductivity: entry.insulation_conductivity_w_m_k,
    hot: kelvin(entry.hot_c),
    cold: kelvin(entry.cold_c),
    nights: entry.nights_per_year,
    load: entry.load_w,
    price: entry.price,
    lifetime: entry.lifetime_years,
    crewHours: entry.crew_hours,
  };
}

function convertFilmAgeing(entry: FilmAgeingEntry): FilmAgeingSpec {
  const { soiling, washing, better } = entry;
  return {
    reflectancePerYear: entry.reflectance_per_year,
    spreadPerYear: entry.spread_per_year_mrad / 1000,
    pricePerArea: entry.price_per_m2,
    workPerArea: entry.work_hours_per_m2,
    longestYears: entry.longest_years,
    soiling:
      soiling === undefined
        ? null
        : {
            perDay: soiling.per_day,
            floor: soiling.floor,
            rainDays: soiling.rain_days,
            rainRecovery: soiling.rain_recovery,
          },
    washing:
      washing === undefined
        ? null
        : {
            everyDays: washing.every_days,
            price: washing.price,
            recovery: washing.recovery,
            wear: washing.wear,
          },
    better:
      better === undefined
        ? null
        : {
            reflectance: better.reflectance,
            spread: better.specularity_mrad / 1000,
            reflectancePerYear: better.reflectance_per_year,
            spreadPerYear: better.spread_per_year_mrad / 1000,
          },
  };
}

/** @returns null where the file has none of the sections, so that such scenes are what they were before there were any */
export function convertPlant({ heat, cost, store, film_ageing }: SceneFile): PlantSpec | null {
  if (heat === undefined && cost === undefined && store === undefined && film_ageing === undefined)
    return null;
  return {
    heat: heat === undefined ? null : convertHeat(heat),
    cost: cost === undefined ? null : convertCost(cost),
    store: store === undefined ? null : convertStore(store),
    filmAgeing: film_ageing === undefined ? null : convertFilmAgeing(film_ageing),
  };
}
