/** Keys of heat and cost of a scene file: receivers as bodies that lose heat, oil, prices, a store, an ageing film. */
import type { SchemaWords } from './schema.js';

const NAME_PATTERN = /^(?=.*\S)[^\p{Cc}\u200b-\u200f\u2028-\u202e\u2066-\u2069\ufeff]{1,64}$/u;

/** What a price or a yearly payment is multiplied by, besides the count. */
export const BASES = ['whole', 'dish', 'receiver', 'mirror_m2', 'receiver_m', 'pipe_m'] as const;

/** Oils that come with the program; their figures are in the plant's own list. */
export const OIL_NAMES = [
  'biphenyl_diphenyl_oxide',
  'hydrogenated_terphenyl',
  'mineral_oil',
  'synthetic_hydrocarbon',
] as const;

/** The sections `heat`, `cost`, `store` and `film_ageing`, all of them optional. */
export function plantSections(z: SchemaWords) {
  function quantity(min: number, max: number, description: string, example: number) {
    return z
      .number()
      .min(min)
      .max(max)
      .meta({ description, examples: [example] });
  }
  function column(min: number, max: number, description: string, example: readonly number[]) {
    return z
      .array(z.number().min(min).max(max))
      .min(2)
      .max(100)
      .meta({ description, examples: [[...example]] });
  }
  function label(description: string, example: string) {
    return z
      .string()
      .regex(NAME_PATTERN)
      .meta({ description, examples: [example] });
  }
  const share = (description: string, example: number) => quantity(0, 1, description, example);
  const celsius = (description: string, example: number) => quantity(-60, 1200, description, example);

  const surface = z
    .strictObject({
      absorptance: share('Absorptance of the wall for sunlight.', 0.93),
      emittance: share(
        'Hemispherical emittance of the wall at working temperature; or give emittance_by_temperature.',
        0.3,
      ).optional(),
      emittance_by_temperature: z
        .strictObject({
          temperature_c: column(-60, 1200, 'Rising wall temperatures.', [100, 300, 500]),
          emittance: column(0, 1, 'Emittance at each, linear between.', [0.1, 0.15, 0.22]),
        })
        .meta({ description: 'Emittance over the temperature, instead of emittance.' })
        .optional(),
      emittance_spread: share(
        'How far the emittance may be off, relative; enters the low and high cases.',
        0.1,
      ).default(0.1),
    })
    .meta({ description: 'The wall that takes up the light.' });

  const oilTable = z
    .strictObject({
      name: label('Name of the oil.', 'own_oil'),
      temperature_c: column(-60, 600, 'Rising temperatures.', [100, 300]),
      density_kg_m3: column(10, 3000, 'Density.', [950, 810]),
      heat_capacity_j_kg_k: column(200, 10_000, 'Specific heat.', [1850, 2550]),
      conductivity_w_m_k: column(0.001, 10, 'Heat conductivity.', [0.114, 0.095]),
      viscosity_mpa_s: column(0.001, 100_000, 'Dynamic viscosity.', [3.6, 0.41]),
      vapour_pressure_kpa: column(0.000001, 10_000, 'Absolute vapour pressure.', [0.05, 30]).optional(),
      film_limit_c: celsius('Highest film temperature by its data sheet.', 375).optional(),
      bulk_limit_c: celsius('Highest bulk temperature by its data sheet.', 345).optional(),
      flash_point_c: celsius('Flash point.', 170).optional(),
      autoignition_c: celsius('Autoignition temperature.', 370).optional(),
    })
    .meta({ description: 'An oil by its own data sheet, instead of a name: rows over temperature.' });

  const oil = z
    .strictObject({
      name: z
        .enum(OIL_NAMES)
        .meta({ description: 'Class of oil that comes with the program; or give data.' })
        .optional(),
      data: oilTable.optional(),
      inlet_c: celsius('Oil temperature that enters a string of receivers.', 180),
      outlet_c: celsius('Wanted oil temperature that leaves it.', 220),
      flow_kg_s: quantity(1e-5, 1000, 'Flow through one string of receivers.', 0.2),
      pressure_bar: quantity(0.01, 200, 'Absolute pressure, to look for boiling.', 2).optional(),
    })
    .meta({ description: 'The oil that carries the heat away.' });

  const channel = z
    .strictObject({
      inside_diameter_m: quantity(0.001, 2, 'Inside diameter of the pipe in the receiver.', 0.016),
      length_m: quantity(0.001, 5000, 'Length of one pipe in one receiver.', 2.5),
      parallel: z
        .int()
        .min(1)
        .max(1000)
        .default(1)
        .meta({ description: 'Pipes side by side in a receiver.', examples: [1] }),
      wall_thickness_m: quantity(0.0001, 0.1, 'Thickness of the wall between light and oil.', 0.002),
      wall_conductivity_w_m_k: quantity(0.1, 500, 'Conductivity of the wall; steel some 50.', 50).default(50),
      flux_ratio: quantity(
        0.2,
        5,
        "Heat flux on the oil's side over that on the lit side at the hot spot (a bare tube: outside over inside diameter).",
        1,
      ).default(1),
    })
    .meta({ description: 'The pipe inside a receiver.' });

  const insulation = z
    .strictObject({
      thickness_m: quantity(0.001, 2, 'Thickness.', 0.08),
      conductivity_w_m_k: quantity(0.001, 5, 'Conductivity at working temperature.', 0.06),
      area_m2: quantity(
        0.0001,
        10_000,
        'Area of one receiver that it covers. Default: by the shape.',
        0.2,
      ).optional(),
      outside_w_m2_k: quantity(
        0.5,
        200,
        'From its skin to the air. Default: 5, 10, 20 (low, best, high).',
        10,
      ).optional(),
    })
    .meta({ description: 'Insulation of one receiver. A tube has none unless area_m2 is given.' });

  const spread = (description: string, example: number, usual: number) =>
    quantity(0, 0.6, description, example).default(usual);

  const heat = z
    .strictObject({
      surface,
      cavity: z
        .strictObject({
          inside_diameter_m: quantity(0.005, 50, 'Inside diameter of the cup.', 0.2),
          depth_m: quantity(0.005, 50, 'Depth of the cup.', 0.22),
          wall_flux_factor: quantity(
            0.01,
            2,
            'Highest flux on the inner wall over the highest in the opening. 1: the wall lies right behind the opening.',
            1,
          ).default(1),
        })
        .meta({ description: 'Inside of a cavity. Needed where the receivers are cavities.' })
        .optional(),
      cover: z
        .strictObject({
          transmittance: share('Transmittance for sunlight.', 0.9),
          absorptance: share('Absorptance for sunlight.', 0.02),
          emittance: quantity(0.01, 1, 'Emittance of the glass.', 0.88),
          gap_m: quantity(0.001, 5, 'From the hot wall (of a cavity: from its bottom) to the glass.', 0.03),
          gas: z.enum(['air', 'vacuum']).default('air').meta({ description: 'What is in the gap.' }),
        })
        .meta({ description: 'One glass in front of the opening or round the tube.' })
        .optional(),
      insulation: insulation.optional(),
      supports_w_k: quantity(0, 1000, 'Through supports, pipe stubs and rim of one receiver.', 0.1).default(
        0,
      ),
      sky_share: share('Share of the sky that the opening sees.', 0).default(0),
      oil,
      channel,
      receivers_in_series: z
        .int()
        .min(1)
        .max(2000)
        .default(1)
        .meta({ description: 'Receivers that the same oil flows through one after another.', examples: [8] }),
      receiver_metal_kg: quantity(0.001, 100_000, 'Metal of one receiver that must warm up.', 4),
      receiver_oil_kg: quantity(
        0,
        100_000,
        'Oil in one receiver. Default: what its pipe holds.',
        0.4,
      ).optional(),
      pipes: z
        .strictObject({
          length_m: quantity(0, 100_000, 'Hot pipes of the whole field, both ways.', 24),
          loss_w_m_k: quantity(0, 50, 'Loss of an insulated pipe per metre and kelvin.', 0.25),
          metal_kg: quantity(0, 1e6, 'Metal of all pipes.', 20).default(0),
          oil_kg: quantity(0, 1e6, 'Oil in all pipes.', 6).default(0),
        })
        .meta({ description: 'Pipes between receivers and user.' })
        .optional(),
      metal_heat_capacity_j_kg_k: quantity(100, 2000, 'Of the metal; steel some 480.', 480).default(480),
      least_heat_w: quantity(
        0,
        1e8,
        'Net heat of the field below which the pump is not started.',
        100,
      ).default(0),
      film_margin_k: quantity(
        0,
        200,
        'Kept between film temperature and film limit by the least flow.',
        20,
      ).default(20),
      greatest_flow_kg_s: quantity(1e-4, 10_000, 'Most that the pump gives to a string.', 1).default(5),
      ambient_c: quantity(
        -60,
        60,
        'Air temperature where no weather tells it. Default: that of the site.',
        18,
      ).optional(),
      wind_m_s: quantity(0, 30, 'Wind at the receivers where no weather tells it.', 2).default(2),
      uncertainty: z
        .strictObject({
          weather: spread("Of a year's beam energy, relative standard deviation.", 0.06, 0.05),
          reflectance: spread('Of the reflectance of the film, relative standard deviation.', 0.02, 0.02),
          slope_error: spread('Of the slope errors, relative standard deviation.', 0.15, 0.15),
        })
        .default({ weather: 0.05, reflectance: 0.02, slope_error: 0.15 })
        .meta({ description: "How well the inputs of the year's heat are known." }),
    })
    .meta({ description: 'What the receivers do with the light: losses, oil, pipes, warming up.' });

  const basis = z.enum(BASES).default('whole').meta({
    description:
      'What the count is per: the whole field, each dish, receiver, m2 of mirror, m of receiver, m of pipe.',
  });

  const money = (description: string, example: number) => quantity(0, 1e9, description, example);

  const cost = z
    .strictObject({
      currency: label('Currency, as it is to be printed.', 'EUR'),
      parts: z
        .array(
          z.strictObject({
            name: label('Name of the part, used once.', 'strips'),
            price: money('Of one, without tax.', 12),
            count: quantity(0, 1e7, 'How many; see per.', 7).default(1),
            per: basis,
            lifetime_years: quantity(0.1, 100, 'Years until it is bought again.', 15),
            crew_hours: quantity(0, 10_000, 'Crew hours to put one in.', 0.3).default(0),
          }),
        )
        .min(1)
        .max(200)
        .meta({ description: 'Everything that is bought.' }),
      upkeep: z
        .array(
          z.strictObject({
            name: label('Name of the work, used once.', 're-setting'),
            price: money('A year.', 20).default(0),
            crew_hours: quantity(0, 100_000, 'A year.', 4).default(0),
            per: basis,
          }),
        )
        .max(200)
        .default([])
        .meta({ description: 'What is paid every year.' }),
      crew_price_per_h: money('Of a crew hour.', 15),
      rate: quantity(0, 0.5, 'Real yearly rate of interest, 0.05 for 5 %.', 0.05),
      years: z
        .int()
        .min(1)
        .max(60)
        .meta({ description: 'Years reckoned over.', examples: [20] }),
      tax: quantity(0, 1, 'Value added tax on everything, 0.19 for 19 %.', 0).default(0),
      residual: z
        .enum(['none', 'straight_line'])
        .default('none')
        .meta({ description: 'What a part is still worth at the end.' }),
      yield_fall: quantity(0, 0.5, 'Share of the heat lost each year after the first.', 0.005).default(0),
      fuel: z
        .strictObject({
          name: label('Name of the fuel.', 'gas'),
          price_per_kwh: quantity(0, 1000, 'Of a kWh in the fuel.', 0.08),
          efficiency: quantity(0.05, 1.1, 'Of the boiler.', 0.85),
        })
        .meta({ description: 'What the heat is held against.' })
        .optional(),
      uncertainty: z
        .strictObject({
          prices: spread('Of all prices of parts together, relative standard deviation.', 0.15, 0.15),
          crew_price: spread('Of the crew price.', 0.2, 0.2),
          upkeep: spread('Of what is paid every year.', 0.3, 0.3),
        })
        .default({ prices: 0.15, crew_price: 0.2, upkeep: 0.3 })
        .meta({ description: 'How well the prices are known.' }),
    })
    .meta({ description: 'Prices, crew and rate: what a kWh of heat costs.' });

  const store = z
    .strictObject({
      material: z
        .strictObject({
          density_kg_m3: quantity(10, 20_000, 'Density.', 2400),
          heat_capacity_j_kg_k: quantity(100, 10_000, 'Specific heat.', 900),
          conductivity_w_m_k: quantity(0.01, 500, 'Heat conductivity.', 1.5),
        })
        .meta({ description: 'What is heated.' }),
      shape: z
        .discriminatedUnion('kind', [
          z.strictObject({
            kind: z.literal('box'),
            length_m: quantity(0.05, 200, 'Inside length.', 2),
            width_m: quantity(0.05, 200, 'Inside width.', 1),
            height_m: quantity(0.05, 200, 'Inside height.', 1),
          }),
          z.strictObject({
            kind: z.literal('cylinder'),
            diameter_m: quantity(0.05, 200, 'Inside diameter.', 1.2),
            height_m: quantity(0.05, 200, 'Inside height.', 2),
          }),
        ])
        .meta({ description: 'Inside of the store.' }),
      fill: quantity(0.05, 1, 'Share of the inside that is material.', 0.95).default(1),
      insulation_thickness_m: quantity(0.005, 5, 'Thickness of the insulation.', 0.3),
      insulation_conductivity_w_m_k: quantity(0.001, 2, 'Its conductivity.', 0.06),
      hot_c: celsius('Charged.', 215),
      cold_c: celsius('Discharged.', 150),
      nights_per_year: quantity(1, 366, 'Nights on which it is emptied.', 220),
      load_w: quantity(1, 1e9, 'Heat taken out while it is emptied.', 1500),
      price: money('Of the whole store.', 2500),
      lifetime_years: quantity(0.1, 100, 'Years until it is built again.', 25),
      crew_hours: quantity(0, 100_000, 'To build it.', 40).default(0),
    })
    .meta({ description: 'A store of sensible heat, for heat at night.' });

  const aged = {
    reflectance_per_year: quantity(-0.3, 0, 'Change of the reflectance a year, below 0.', -0.012),
    spread_per_year_mrad: quantity(0, 10, 'Growth of its specular spread a year.', 0.3).default(0),
  };
  const filmAgeing = z
    .strictObject({
      ...aged,
      price_per_m2: money('Of new film.', 4),
      work_hours_per_m2: quantity(0, 100, 'Crew hours to lay a square metre anew.', 0.3).default(0),
      longest_years: quantity(0.5, 50, 'Longest time between replacements that is looked at.', 15).default(
        15,
      ),
      soiling: z
        .strictObject({
          per_day: quantity(0, 0.2, 'Share of the reflectance lost a day, of what is left.', 0.002),
          floor: share('Least factor that dirt comes to.', 0.6).default(0.6),
          rain_days: z
            .array(z.number().min(0).max(31))
            .min(12)
            .max(12)
            .meta({
              description: 'Days with rain in each month, January first.',
              examples: [[8, 7, 7, 6, 4, 2, 1, 1, 2, 5, 7, 8]],
            }),
          rain_recovery: share('Share of the loss that a rain takes back.', 0.5),
        })
        .meta({ description: 'Dirt on the mirrors.' })
        .optional(),
      washing: z
        .strictObject({
          every_days: quantity(1, 3650, 'Days from one washing to the next.', 30),
          price: money('Of one washing of all mirrors.', 10),
          recovery: share("Share of the dirt's loss that it takes back.", 0.95),
          wear: quantity(
            0,
            0.1,
            'Share of the reflectance that one washing rubs off for good.',
            0.0003,
          ).default(0),
        })
        .meta({ description: 'Washing. Needs soiling.' })
        .optional(),
      better: z
        .strictObject({
          reflectance: share('Reflectance of the better film when new.', 0.92),
          specularity_mrad: quantity(0, 60, 'Its specular spread when new.', 1),
          ...aged,
        })
        .meta({ description: 'Another film: what may it cost?' })
        .optional(),
    })
    .meta({ description: 'How the film ages, and what a new one costs: when to replace it.' });

  return {
    heat: heat.optional(),
    cost: cost.optional(),
    store: store.optional(),
    film_ageing: filmAgeing.optional(),
  };
}
