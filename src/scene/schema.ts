/**
 * The scene file's schema, in the builder's words and units (the unit is in the key). It only says what may be written;
 * `convert.ts` turns a valid file into the SI `Scene` and checks what concerns several keys at once.
 *
 * It is written down once and read in two ways: by the schema package, which explains what is wrong and writes the JSON Schema,
 * and by `plain-reader.ts`, which only takes in what is right. Loading and warming up the package takes longer than
 * all else that `check` does, so a scene without mistakes goes without it.
 *
 * The ranges are wide: they catch a slipped decimal point or unit, not an unusual design.
 */
import type { z as SchemaPackage } from 'zod';
import { plantSections } from './plant-schema.js';

/** Limits that are not the range of one key. */
export const LIMITS = {
  dishesPerRow: 2000,
  stripsPerDish: 200,
  facets: 100_000,
  /** Cells of all flux maps together: each worker holds them as doubles (16.8 million are 134 MB). */
  mapCells: 2 ** 24,
  cellsMin: 4,
  cellsMax: 1024,
  /** Most cells along the long side when only a number for the short side is given. */
  cellsLongSide: 512,
} as const;

/** Keys of which a file gives one group only. `--set` on a key of one group removes the other. */
export const ALTERNATIVES = {
  sunDirection: [['azimuth_deg', 'elevation_deg'], ['date_time']],
  reflectance: [['reflectance'], ['reflectance_by_incidence']],
  slopeError: [['slope_error_mrad'], ['slope_error_along_mrad', 'slope_error_across_mrad']],
  specularity: [['specularity_mrad'], ['lobes']],
} as const;

/** Sunshape taken where the file names none. */
const DEFAULT_SUNSHAPE = { kind: 'circumsolar', circumsolar_ratio: 0.05 } as const;
const DEFAULT_HALF_ANGLE_MRAD = 4.65;
const UP = { azimuth_deg: 0, elevation_deg: 90 };
const DOWN = { azimuth_deg: 0, elevation_deg: -90 };

/** Up to 64 characters, at least one of them to be seen; no control, line-break or text-direction characters. */
const NAME_PATTERN = /^(?=.*\S)[^\p{Cc}\u200b-\u200f\u2028-\u202e\u2066-\u2069\ufeff]{1,64}$/u;

/** As for names, but long enough for a path. */
const PATH_PATTERN = /^(?=.*\S)[^\p{Cc}\u200b-\u200f\u2028-\u202e\u2066-\u2069\ufeff]{1,400}$/u;
const OFFSET_PATTERN = /^[+-]\d{2}:\d{2}$/u;
const TIME_ZONE_PATTERN = /^(?=.{1,64}$)(?:[+-]\d{2}:\d{2}|[A-Za-z][\w+-]*(?:\/[A-Za-z][\w+-]*){0,3})$/u;

/** The words of the schema package that the schema is written in. */
export type SchemaWords = Pick<
  typeof SchemaPackage,
  | 'array'
  | 'discriminatedUnion'
  | 'enum'
  | 'int'
  | 'literal'
  | 'null'
  | 'number'
  | 'record'
  | 'strictObject'
  | 'string'
  | 'tuple'
  | 'union'
>;

/**
 * The scene file. Strict: a key that is not listed is an error.
 * @param z words to write it in: the schema package's, or those of the plain reader
 */
export function sceneFileSchema(z: SchemaWords) {
  function text(pattern: RegExp, description: string, example: string) {
    return z
      .string()
      .regex(pattern)
      .meta({ description, examples: [example] });
  }

  function name(of: string, example: string) {
    return text(
      NAME_PATTERN,
      `Name of the ${of}: 1 to 64 printable characters, used once in its list.`,
      example,
    );
  }

  /** The name of another entry, or null. */
  function reference(description: string, example: string) {
    return z
      .string()
      .regex(NAME_PATTERN)
      .nullable()
      .default(null)
      .meta({ description, examples: [example] });
  }

  function quantity(min: number, max: number, description: string, example: number) {
    return z
      .number()
      .min(min)
      .max(max)
      .meta({ description, examples: [example] });
  }

  /** A length that must not be zero: a tenth of a millimetre at least. */
  function size(max: number, description: string, example: number) {
    return quantity(0.0001, max, description, example);
  }

  function count(min: number, max: number, description: string, example: number) {
    return z
      .int()
      .min(min)
      .max(max)
      .meta({ description, examples: [example] });
  }

  function azimuth(description: string, example: number) {
    return quantity(-180, 360, `${description} From north, clockwise: east is 90.`, example);
  }

  const coordinate = z.number().min(-20_000).max(20_000);

  function point(description: string, example: [number, number, number]) {
    return z.tuple([coordinate, coordinate, coordinate]).meta({ description, examples: [example] });
  }

  const facing = z.strictObject({
    azimuth_deg: azimuth('Azimuth it faces.', 180).default(0),
    elevation_deg: quantity(-90, 90, 'Elevation it faces: 90 straight up, 0 level, -90 straight down.', 90),
  });

  const site = z
    .strictObject({
      name: text(NAME_PATTERN, 'Name of the site: 1 to 64 printable characters.', 'Tarn Hollow (invented)'),
      latitude_deg: quantity(-90, 90, 'Latitude, north positive.', 34.5),
      longitude_deg: quantity(-180, 180, 'Longitude, east positive.', -5.2),
      height_m: quantity(-450, 9000, 'Height above the sea.', 450),
      pressure_hpa: quantity(
        300,
        1100,
        'Air pressure, for the refraction of sunlight. Default: standard atmosphere at the height.',
        960,
      ).optional(),
      temperature_c: quantity(
        -60,
        60,
        'Air temperature, for the refraction of sunlight. Default: standard atmosphere at the height.',
        25,
      ).optional(),
      time_zone: text(
        TIME_ZONE_PATTERN,
        'Clock of the site, for studies of days: a name of the time zone list, an offset from UTC as +02:00, solar ' +
          '(true solar time) or mean_solar (mean solar time of the longitude). Default: solar.',
        'Africa/Casablanca',
      ).optional(),
    })
    .meta({ description: 'Where the dishes stand. Needed when the sun is given by date and time.' });

  const halfAngle = quantity(0.1, 50, 'Angle from the centre of the sun to its rim.', 4.65).default(
    DEFAULT_HALF_ANGLE_MRAD,
  );

  const sunshape = z
    .discriminatedUnion('kind', [
      z
        .strictObject({ kind: z.literal('point') })
        .meta({ description: 'All light from one direction: for comparing with geometry by hand.' }),
      z
        .strictObject({ kind: z.literal('disc'), half_angle_mrad: halfAngle })
        .meta({ description: 'A disc of even radiance.' }),
      z
        .strictObject({
          kind: z.literal('limb_darkened'),
          half_angle_mrad: halfAngle,
          darkening: quantity(
            0,
            1,
            'u in radiance 1 - u (1 - mu), mu = sqrt(1 - (angle / half angle)^2); 0 is an even disc.',
            0.56,
          ).default(0.56),
        })
        .meta({ description: 'A disc that is darker towards its rim.' }),
      z
        .strictObject({
          kind: z.literal('gaussian'),
          sigma_mrad: quantity(0.01, 50, 'Standard deviation per axis.', 2.73),
        })
        .meta({ description: 'A bell-shaped sun.' }),
      z
        .strictObject({
          kind: z.literal('circumsolar'),
          circumsolar_ratio: quantity(
            0,
            0.6,
            'Share of the beam irradiance that comes from outside the solar disc (the true ratio).',
            0.05,
          ).default(DEFAULT_SUNSHAPE.circumsolar_ratio),
        })
        .meta({ description: 'Solar disc with a bright ring of forward-scattered light (Buie 2003).' }),
      z
        .strictObject({
          kind: z.literal('table'),
          angle_mrad: z
            .array(z.number().min(0).max(100))
            .min(2)
            .max(2000)
            .meta({
              description: 'Rising angles from the centre; the first is 0.',
              examples: [[0, 4, 4.65, 5]],
            }),
          radiance: z
            .array(z.number().min(0).max(1e9))
            .min(2)
            .max(2000)
            .meta({
              description: 'Relative radiance at each angle, linear between, none beyond the last.',
              examples: [[1, 0.9, 0.5, 0]],
            }),
        })
        .meta({ description: 'A measured radial profile.' }),
    ])
    .prefault(DEFAULT_SUNSHAPE)
    .meta({ description: 'How the light spreads about the centre of the sun.' });

  const sun = z
    .strictObject({
      azimuth_deg: azimuth('Azimuth of the sun; with elevation_deg, instead of date_time.', 180).optional(),
      elevation_deg: quantity(
        0,
        90,
        'Elevation of the sun; with azimuth_deg, instead of date_time.',
        60,
      ).optional(),
      date_time: text(
        /^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}(?::\d{2}(?:\.\d{1,3})?)?(?:Z|[+-]\d{2}:\d{2})$/u,
        'Date and time with the offset from UTC, instead of azimuth_deg and elevation_deg; needs a site.',
        '2026-03-20T12:00:00+01:00',
      ).optional(),
      dni_w_m2: quantity(
        1,
        1420,
        'Beam (direct normal) irradiance; outside the air it is at most some 1410.',
        850,
      ),
      sunshape,
    })
    .meta({ description: 'Where the sun stands and how its light arrives.' });

  const clearness = quantity(
    0.01,
    1.3,
    "Factor on the model's irradiance, for haze or clear air that the model does not know.",
    0.9,
  ).default(1);

  const weatherFile = text(
    PATH_PATTERN,
    'Weather file; a relative path starts at the folder of the scene file.',
    'weather/tarn-hollow.csv',
  );

  function heading(of: string, example: string) {
    return text(NAME_PATTERN, `Heading of the column that holds ${of}.`, example);
  }

  const sky = z
    .discriminatedUnion('kind', [
      z
        .strictObject({
          kind: z.literal('hottel'),
          climate: z
            .enum(['tropical', 'midlatitude_summer', 'subarctic_summer', 'midlatitude_winter'])
            .default('midlatitude_summer')
            .meta({ description: 'Climate factors of the model.' }),
          visibility: z
            .enum(['23_km', '5_km'])
            .default('23_km')
            .meta({ description: 'Haze of the model, by how far one sees.' }),
          clearness,
        })
        .meta({ description: 'Clear sky by Hottel (1976), for heights up to 2500 m.' }),
      z
        .strictObject({ kind: z.literal('meinel'), clearness })
        .meta({ description: 'Clear sky by Meinel and Meinel (1976), with the height of the site.' }),
      z
        .strictObject({ kind: z.literal('epw'), file: weatherFile })
        .meta({ description: 'Hourly weather of a year in the EPW layout.' }),
      z
        .strictObject({
          kind: z.literal('csv'),
          file: weatherFile,
          columns: z
            .strictObject({
              time: heading('date and time, ISO 8601 or YYYYMMDD:HHMM', 'time'),
              dni_w_m2: heading('the mean beam (direct normal) irradiance of the interval, W/m2', 'dni_w_m2'),
              temperature_c: heading('the air temperature, degrees Celsius', 'temperature_c').optional(),
              wind_m_s: heading('the wind speed, m/s', 'wind_m_s').optional(),
              pressure_hpa: heading('the air pressure at the site, hPa', 'pressure_hpa').optional(),
            })
            .meta({ description: 'Headings of the columns to read.' }),
          time_marks: z
            .enum(['start', 'middle', 'end'])
            .meta({ description: 'Which instant of its interval the time in the file is.' }),
          utc_offset: text(
            OFFSET_PATTERN,
            'Offset from UTC of times that carry none themselves.',
            '+01:00',
          ).optional(),
          interval_minutes: count(1, 60, 'Length of an interval; divides 60.', 60).default(60),
          heading_line: count(1, 1000, 'Line of the file that holds the headings, from 1.', 1).default(1),
          delimiter: z
            .enum(['comma', 'semicolon', 'tab'])
            .default('comma')
            .meta({ description: 'What stands between the columns.' }),
          missing: z
            .array(z.number().min(-1e9).max(1e9))
            .max(20)
            .default([])
            .meta({
              description: 'Numbers that stand for a missing value; empty cells always do.',
              examples: [[-9999]],
            }),
        })
        .meta({ description: 'Weather in a table of columns.' }),
    ])
    .meta({
      description:
        'Beam irradiance and air over days and years, for studies of days; a trace of one moment takes sun.dni_w_m2. ' +
        'Needs a site. Default: Hottel, midlatitude summer, 23 km.',
    });

  const film = z
    .strictObject({
      reflectance: quantity(
        0,
        1,
        'Reflectance of the clean, new film at every incidence angle; or give reflectance_by_incidence.',
        0.84,
      ).optional(),
      reflectance_by_incidence: z
        .strictObject({
          incidence_deg: z
            .array(z.number().min(0).max(90))
            .min(2)
            .max(200)
            .meta({ description: 'Rising incidence angles; the first is 0.', examples: [[0, 30, 60, 90]] }),
          reflectance: z
            .array(z.number().min(0).max(1))
            .min(2)
            .max(200)
            .meta({
              description: 'Reflectance at each angle, linear between, constant beyond the last.',
              examples: [[0.84, 0.84, 0.82, 0.8]],
            }),
        })
        .meta({ description: 'Reflectance over the incidence angle, instead of reflectance.' })
        .optional(),
      soiling_factor: quantity(0, 1, 'Share of the reflectance that dirt leaves.', 0.95).default(1),
      ageing_factor: quantity(0, 1, 'Share of the reflectance that age leaves.', 0.97).default(1),
      slope_error_mrad: quantity(
        0,
        60,
        'Rms tilt of the surface about its design shape, the same in both directions; or give the along and across keys.',
        4,
      ).optional(),
      slope_error_along_mrad: quantity(
        0,
        60,
        'Rms tilt in the plane along the strip; with slope_error_across_mrad.',
        4,
      ).optional(),
      slope_error_across_mrad: quantity(
        0,
        60,
        'Rms tilt in the plane across the strip; with slope_error_along_mrad.',
        5,
      ).optional(),
      specularity_mrad: quantity(
        0,
        60,
        'Rms scatter of the reflected ray per axis (one lobe; 0 for a perfect mirror); or give lobes.',
        1.5,
      ).optional(),
      lobes: z
        .array(
          z.strictObject({
            weight: quantity(0, 1, 'Share of the reflected light in this lobe.', 0.8),
            sigma_mrad: quantity(0, 60, 'Rms scatter of the reflected ray per axis.', 1.5),
          }),
        )
        .min(1)
        .max(2)
        .meta({
          description: 'One or two lobes of scatter whose weights sum to 1, instead of specularity_mrad.',
          examples: [
            [
              { weight: 0.8, sigma_mrad: 1.5 },
              { weight: 0.2, sigma_mrad: 8 },
            ],
          ],
        })
        .optional(),
    })
    .meta({ description: 'A mirror film as it lies on the facets.' });

  const cellCount = z.int().min(LIMITS.cellsMin).max(LIMITS.cellsMax);

  const receiverMap = {
    cells: z
      .union([cellCount, z.tuple([cellCount, cellCount])])
      .default(64)
      .meta({
        description:
          'Flux map cells along the short side of the window (the long side gets as many as keep the cells square, ' +
          'at most 512), or [along u, along v].',
        examples: [64, [128, 64]],
      }),
    peak_disc_m: size(
      10,
      'Diameter of the disc over which the peak flux is averaged. Default: a tenth of the small side of the ' +
        'aperture, but at least three map cells and at most that small side.',
      0.018,
    ).optional(),
  };

  const window = z
    .strictObject({
      width_m: size(500, 'Width of the flux map window (along u).', 0.45),
      height_m: size(500, 'Height of the flux map window (along v).', 0.45),
    })
    .meta({
      description:
        'Part of the receiver plane that the flux map shows; at least the aperture. Default: 2.5 x the aperture.',
    })
    .optional();

  const body = z
    .discriminatedUnion('shape', [
      z.strictObject({
        shape: z.literal('round'),
        diameter_m: size(50, 'Diameter of the body.', 0.26),
        depth_m: size(50, 'Depth of the body behind the aperture.', 0.3),
      }),
      z.strictObject({
        shape: z.literal('rectangle'),
        width_m: size(500, 'Width of the body (along u).', 0.26),
        height_m: size(500, 'Height of the body (along v).', 0.26),
        depth_m: size(50, 'Depth of the body behind the aperture.', 0.3),
      }),
    ])
    .nullable()
    .default(null)
    .meta({
      description: 'Opaque body behind the aperture: it shades the mirrors and stops light from behind.',
    });

  const openAperture = z
    .discriminatedUnion('shape', [
      z.strictObject({
        shape: z.literal('round'),
        diameter_m: size(50, 'Diameter of the aperture.', 0.18),
      }),
      z.strictObject({
        shape: z.literal('rectangle'),
        width_m: size(50, 'Width of the aperture (along u).', 0.18),
        height_m: size(50, 'Height of the aperture (along v).', 0.18),
      }),
    ])
    .meta({ description: 'Part of the receiver that takes up light.' });

  const plateKeys = {
    kind: z.literal('plate').meta({ description: 'A flat plate.' }),
    aperture: openAperture,
    window,
    ...receiverMap,
    body,
  };

  const cavityKeys = {
    ...plateKeys,
    kind: z.literal('cavity').meta({ description: 'The opening of a cavity.' }),
  };

  const linePlateKeys = {
    kind: z.literal('line_plate').meta({ description: 'A long flat plate, for a whole row.' }),
    aperture: z
      .strictObject({
        length_m: size(2000, 'Length of the plate (along u).', 10),
        width_m: size(50, 'Width of the plate (along v).', 0.18),
      })
      .meta({ description: 'Part of the receiver that takes up light.' }),
    window: z
      .strictObject({
        length_m: size(4000, 'Length of the flux map window (along u).', 11),
        width_m: size(500, 'Width of the flux map window (along v).', 0.45),
      })
      .meta({
        description:
          'Part of the receiver plane that the flux map shows; at least the aperture. ' +
          'Default: the length and a tenth, and 2.5 x the width.',
      })
      .optional(),
    ...receiverMap,
    body: z
      .strictObject({
        length_m: size(4000, 'Length of the body (along u).', 10),
        width_m: size(50, 'Width of the body (along v).', 0.26),
        depth_m: size(50, 'Depth of the body behind the aperture.', 0.2),
      })
      .nullable()
      .default(null)
      .meta({
        description: 'Opaque body behind the aperture: it shades the mirrors and stops light from behind.',
      }),
  };

  const tubeKeys = {
    kind: z.literal('tube').meta({ description: 'A round tube; its map is the surface unrolled.' }),
    aperture: z
      .strictObject({
        diameter_m: size(50, 'Outer diameter of the tube.', 0.07),
        length_m: size(2000, 'Length of the tube (along u).', 4),
      })
      .meta({ description: 'The tube itself.' }),
    ...receiverMap,
    body: z
      .null()
      .default(null)
      .meta({ description: 'A tube takes up light all round and has no body: leave this key out.' }),
  };

  const dishKeys = {
    offset_m: point(
      'Shift of the receiver from the design focus: along the row, across it to the left, up.',
      [0, 0, 0],
    ).default([0, 0, 0]),
    faces: z
      .enum(['dish', 'down'])
      .default('dish')
      .meta({ description: "dish: the front looks at the dish's centre; down: straight down." }),
  };

  const dishReceiver = z
    .discriminatedUnion('kind', [
      z.strictObject({ ...cavityKeys, ...dishKeys }),
      z.strictObject({ ...plateKeys, ...dishKeys }),
      z.strictObject({ ...linePlateKeys, ...dishKeys }),
      z.strictObject({ ...tubeKeys, ...dishKeys }),
    ])
    .nullable()
    .default(null)
    .meta({ description: 'Receiver that each dish of this design has for itself, at its focus.' });

  const standingKeys = {
    name: name('receiver', 'line'),
    position_m: point('Middle of the aperture (of a tube: of its axis): east, north, up.', [0, 0, 2]),
    facing: facing.default(DOWN).meta({
      description: 'Direction the front faces; default straight down. Of no effect for a tube.',
    }),
    along_azimuth_deg: azimuth('Azimuth of u (of a line plate or tube: of its length).', 90).default(90),
  };

  const standingReceiver = z.discriminatedUnion('kind', [
    z.strictObject({ ...cavityKeys, ...standingKeys }),
    z.strictObject({ ...plateKeys, ...standingKeys }),
    z.strictObject({ ...linePlateKeys, ...standingKeys }),
    z.strictObject({ ...tubeKeys, ...standingKeys }),
  ]);

  const blockerName = name('blocker', 'post').optional();

  const side = z.number().min(0.0001).max(2000);

  const blocker = z.discriminatedUnion('kind', [
    z
      .strictObject({
        kind: z.literal('box'),
        name: blockerName,
        centre_m: point('Middle of the box.', [0, 0.8, 0.5]),
        size_m: z
          .tuple([side, side, side])
          .meta({ description: 'Size along the heading, across it, and up.', examples: [[1.2, 0.05, 0.05]] }),
        heading_deg: azimuth('Azimuth along which the first size lies.', 90).default(90),
      })
      .meta({ description: 'A beam, wall or other box with level top and bottom.' }),
    z
      .strictObject({
        kind: z.literal('cylinder'),
        name: blockerName,
        from_m: point('Middle of one end.', [0, 0.8, 0]),
        to_m: point('Middle of the other end.', [0, 0.8, 2]),
        diameter_m: size(100, 'Diameter.', 0.05),
      })
      .meta({ description: 'A post, pipe or other closed cylinder.' }),
  ]);

  const focalLength = (description: string) => quantity(0.01, 1000, description, 2);

  const strips = z
    .strictObject({
      count: count(1, LIMITS.stripsPerDish, 'Strips in the dish.', 7),
      width_m: size(20, 'Width of a strip, measured straight across.', 0.14),
      length_m: size(100, 'Length of a strip, measured straight from end to end.', 1.2),
      gap_m: quantity(0, 10, 'Gap between strips.', 0.02).default(0),
      direction: z
        .enum(['along_row', 'across_row'])
        .default('along_row')
        .meta({ description: 'Whether the strips lie along the row or across it.' }),
      bend: z
        .enum(['parabola', 'circle', 'straight'])
        .default('parabola')
        .meta({ description: 'Curve to which a strip is bent along its length.' }),
      bend_fit: z.enum(['each_strip', 'common']).default('each_strip').meta({
        description:
          'each_strip: bent to suit its own distance from the focus; common: all alike, to the focal length itself.',
      }),
    })
    .meta({ description: 'The mirror strips of a dish.' });

  const dish = z
    .strictObject({
      film: text(NAME_PATTERN, 'Film on the strips: one of films.', 'roll_a'),
      focal_length_along_row_m: focalLength(
        'Focal length in the plane that holds the row (east-west for a row that runs east).',
      ),
      focal_length_across_row_m: focalLength(
        'Focal length in the plane across the row (north-south for a row that runs east); the focus lies this far away.',
      ),
      strips,
      rib: z.enum(['flat', 'parabola']).default('flat').meta({
        description: "Where the strips' centres lie: on a flat bed, or on ribs of parabolic profile.",
      }),
      design_tilt_deg: quantity(
        -90,
        90,
        "Lean of the dish's axis from straight up towards the right of the row's heading (south for a row that runs east).",
        0,
      ).default(0),
      design_sun: facing
        .nullable()
        .default(null)
        .meta({
          description:
            "Sun direction for which the strips are aimed at the focus. Default: along the dish's axis.",
          examples: [{ azimuth_deg: 180, elevation_deg: 70 }],
        }),
      tilt_setting_deg: quantity(
        -90,
        90,
        "Turn of the mirrors about the row's axis after building, same sense as the tilt; the receiver stays.",
        0,
      ).default(0),
      focus_m: z
        .tuple([coordinate, coordinate, coordinate])
        .nullable()
        .default(null)
        .meta({
          description: 'Focus in the frame of the dish. Default: on its axis at focal_length_across_row_m.',
          examples: [[0, 0, 2]],
        }),
      receiver: dishReceiver,
      blockers: z.array(blocker).max(100).default([]).meta({
        description:
          "Posts and beams of each dish, about the dish's centre: along the row, across it to the left, up.",
      }),
    })
    .meta({ description: 'A dish design: strips on ribs, aimed at one focus.' });

  const row = z
    .strictObject({
      name: name('row', 'A'),
      dish: text(NAME_PATTERN, 'Dish design of the row: one of dishes.', 'seven_strip'),
      dishes: count(1, LIMITS.dishesPerRow, 'Dishes in a row.', 8),
      pitch_m: size(200, 'Distance from dish to dish. Needed with more than one dish.', 1.35).optional(),
      heading_deg: azimuth("Azimuth of the row's axis.", 90).default(90),
      centre_m: point('Middle of the first row: east, north, up.', [0, 0, 1]).default([0, 0, 0]),
      rows: count(1, 500, 'Rows of this kind, one behind the other.', 3).default(1),
      row_spacing_m: size(
        1000,
        'Distance from row to row, towards the left of the heading (north for rows that run east). Needed with more than one row.',
        3.2,
      ).optional(),
      receiver: reference(
        'Standing receiver that all dishes of the row serve. Default: each dish its own.',
        'line',
      ),
    })
    .meta({ description: 'One or more equal rows of dishes.' });

  const facetShape = z
    .discriminatedUnion('kind', [
      z.strictObject({ kind: z.literal('flat') }).meta({ description: 'A flat mirror.' }),
      z
        .strictObject({
          kind: z.literal('bent'),
          curve: z.enum(['parabola', 'circle']).default('parabola').meta({
            description: 'Curve to which it is bent; a circle has a radius of twice the focal length.',
          }),
          focal_length_m: focalLength('Focal length of the bend.'),
        })
        .meta({ description: 'A strip bent along its length only.' }),
      z
        .strictObject({
          kind: z.literal('paraboloid'),
          focal_length_m: focalLength('Focal length of the paraboloid.'),
        })
        .meta({ description: 'A patch of a paraboloid of revolution, about its vertex.' }),
      z
        .strictObject({
          kind: z.literal('toroid'),
          radius_along_m: quantity(0.01, 2000, 'Radius of curvature along the length.', 4),
          radius_across_m: quantity(0.01, 2000, 'Radius of curvature across it.', 4.6),
        })
        .meta({ description: 'A surface with two radii of curvature.' }),
    ])
    .default({ kind: 'flat' })
    .meta({ description: 'Shape of the mirror surface.' });

  const outline = z
    .discriminatedUnion('kind', [
      z.strictObject({
        kind: z.literal('rectangle'),
        length_m: size(500, 'Length (along the strip).', 1.2),
        width_m: size(500, 'Width (across the strip).', 0.14),
        centre_m: z
          .tuple([z.number().min(-500).max(500), z.number().min(-500).max(500)])
          .default([0, 0])
          .meta({
            description: 'Middle of the rectangle from the vertex: along, across.',
            examples: [[0, 0.5]],
          }),
      }),
      z.strictObject({
        kind: z.literal('round'),
        diameter_m: size(500, 'Outer diameter.', 1.2),
        hole_diameter_m: quantity(0, 500, 'Diameter of a hole in the middle.', 0.2).default(0),
      }),
    ])
    .meta({ description: 'Outline of the mirror, seen along the normal at its vertex.' });

  const facet = z
    .strictObject({
      name: name('facet', 'dish'),
      film: text(NAME_PATTERN, 'Film on the facet: one of films.', 'roll_a'),
      shape: facetShape,
      outline,
      position_m: point('Vertex of the facet: east, north, up.', [0, 0, 0]).default([0, 0, 0]),
      facing: facing
        .default(UP)
        .meta({ description: 'Direction of the normal at the vertex; default straight up.' }),
      along_azimuth_deg: azimuth('Azimuth of the length of the strip.', 90).default(90),
      receiver: reference('Standing receiver that the facet serves. Default: the nearest one.', 'focus'),
    })
    .meta({ description: 'A single mirror placed by hand.' });

  return z
    .strictObject({
      title: text(
        /^(?=.*\S)[^\p{Cc}\u2028-\u202e\u2066-\u2069]{1,200}$/u,
        'What the scene shows, in one line of up to 200 characters.',
        'Row of eight seven-strip dishes',
      ),
      site: site.optional(),
      sun,
      sky: sky.optional(),
      films: z.record(name('film', 'roll_a'), film).meta({ description: 'Mirror films by name.' }),
      dishes: z
        .record(name('dish design', 'seven_strip'), dish)
        .default({})
        .meta({ description: 'Dish designs by name.' }),
      rows: z.array(row).max(500).default([]).meta({ description: 'Rows of dishes.' }),
      facets: z
        .array(facet)
        .max(LIMITS.facets)
        .default([])
        .meta({ description: 'Mirrors placed one by one, besides the rows.' }),
      receivers: z
        .array(standingReceiver)
        .max(2000)
        .default([])
        .meta({ description: 'Receivers that stand by themselves.' }),
      blockers: z
        .array(blocker)
        .max(10_000)
        .default([])
        .meta({ description: 'Posts, beams and walls: east, north, up.' }),
      ground: z
        .strictObject({
          height_m: quantity(-1000, 1000, 'Height of the ground in the coordinates of the scene.', 0),
        })
        .meta({ description: 'A level ground that stops light. Default: none.' })
        .optional(),
      bounce_limit: count(
        1,
        20,
        'How often one ray may meet the front of a mirror before it counts as lost.',
        4,
      ).default(4),
      ...plantSections(z),
    })
    .meta({
      title: 'rowfocus scene',
      description: 'A row of stationary mirror dishes (or single mirrors), their receivers and the sun.',
    });
}

/** A valid scene file with its defaults filled in. */
export type SceneFile = SchemaPackage.output<ReturnType<typeof sceneFileSchema>>;
export type FilmEntry = SceneFile['films'][string];
export type DishEntry = SceneFile['dishes'][string];
export type RowEntry = SceneFile['rows'][number];
export type FacetEntry = SceneFile['facets'][number];
export type StandingReceiverEntry = SceneFile['receivers'][number];
export type ReceiverEntry = NonNullable<DishEntry['receiver']> | StandingReceiverEntry;
export type BlockerEntry = SceneFile['blockers'][number];
export type SunEntry = SceneFile['sun'];
export type SiteEntry = NonNullable<SceneFile['site']>;
export type SkyEntry = NonNullable<SceneFile['sky']>;
export type HeatEntry = NonNullable<SceneFile['heat']>;
export type CostEntry = NonNullable<SceneFile['cost']>;
export type StoreEntry = NonNullable<SceneFile['store']>;
export type FilmAgeingEntry = NonNullable<SceneFile['film_ageing']>;
