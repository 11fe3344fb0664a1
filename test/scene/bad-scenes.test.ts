import { describe, expect, it } from 'vitest';
import type { SceneErrorCode } from '../../src/scene/errors.js';
import { loadScene } from '../../src/scene/load.js';
import { formatSceneErrors } from '../../src/scene/print.js';

const BASE = `title: Base of the bad scenes
site:
  name: Tarn Hollow (invented)
  latitude_deg: 34.5
  longitude_deg: -5.2
  height_m: 450
sun:
  azimuth_deg: 180
  elevation_deg: 60
  dni_w_m2: 850
  sunshape:
    kind: circumsolar
    circumsolar_ratio: 0.05
films:
  roll_a:
    reflectance: 0.84
    slope_error_along_mrad: 4
    slope_error_across_mrad: 5
    lobes:
      - { weight: 0.8, sigma_mrad: 1.5 }
      - { weight: 0.2, sigma_mrad: 8 }
dishes:
  seven_strip:
    film: roll_a
    focal_length_along_row_m: 2.3
    focal_length_across_row_m: 2.0
    strips:
      count: 7
      width_m: 0.14
      length_m: 1.2
      gap_m: 0.02
      direction: along_row
      bend: circle
    receiver:
      kind: cavity
      aperture: { shape: round, diameter_m: 0.18 }
      window: { width_m: 0.45, height_m: 0.4 }
      cells: 64
      body: { shape: round, diameter_m: 0.24, depth_m: 0.2 }
  bare:
    film: roll_a
    focal_length_along_row_m: 2.1
    focal_length_across_row_m: 2.2
    strips: { count: 5, width_m: 0.2, length_m: 1 }
rows:
  - name: A
    dish: seven_strip
    dishes: 8
    pitch_m: 1.35
    rows: 2
    row_spacing_m: 3.2
  - name: B
    dish: bare
    dishes: 3
    pitch_m: 1.1
    receiver: line
facets:
  - name: bowl
    film: roll_a
    shape: { kind: paraboloid, focal_length_m: 1.5 }
    outline: { kind: round, diameter_m: 1.25, hole_diameter_m: 0.25 }
    position_m: [0, -5, 0]
    facing: { azimuth_deg: 180, elevation_deg: 70 }
receivers:
  - name: line
    kind: line_plate
    aperture: { length_m: 4, width_m: 0.19 }
    position_m: [0, 0, 2]
  - name: pipe
    kind: tube
    aperture: { diameter_m: 0.07, length_m: 4.5 }
    position_m: [0, -5, 1.5]
blockers:
  - { kind: cylinder, name: post, from_m: [0, -2, 0], to_m: [0, -2, 3], diameter_m: 0.1 }
ground: { height_m: -1 }
bounce_limit: 3
`;

interface BadScene {
  readonly what: string;
  /** Replaces the first text by the second, in order. */
  readonly edit: readonly (readonly [string, string])[];
  readonly code: SceneErrorCode;
  readonly path: string;
  /** Text on the line that must be named. */
  readonly line: string;
  /** Text that must be marked by the carets, from its start. */
  readonly mark: string;
  /** Text that the print must hold: the allowed range or the nearest key. */
  readonly says: string;
}

const BAD_SCENES: readonly BadScene[] = [
  // Keys.
  {
    what: 'a misspelt key at the top',
    edit: [['bounce_limit: 3', 'bounce_limt: 3']],
    code: 'unknown_key',
    path: 'bounce_limt',
    line: 'bounce_limt: 3',
    mark: 'bounce_limt',
    says: 'nearest: bounce_limit',
  },
  {
    what: 'a misspelt key of a film',
    edit: [['reflectance: 0.84', 'reflectence: 0.84']],
    code: 'unknown_key',
    path: 'films.roll_a.reflectence',
    line: 'reflectence: 0.84',
    mark: 'reflectence',
    says: 'nearest: reflectance',
  },
  {
    what: 'two swapped letters in a key',
    edit: [['    dishes: 8', '    dihses: 8']],
    code: 'unknown_key',
    path: 'rows[0].dihses',
    line: 'dihses: 8',
    mark: 'dihses',
    says: 'nearest: dishes',
  },
  {
    what: 'a key that is like none',
    edit: [['ground:', 'sprocket: 1\nground:']],
    code: 'unknown_key',
    path: 'sprocket',
    line: 'sprocket: 1',
    mark: 'sprocket',
    says: 'allowed: the keys title, site, sun',
  },
  {
    what: 'a key of another kind of sunshape',
    edit: [['circumsolar_ratio: 0.05', 'circumsolar_ratio: 0.05\n    sigma_mrad: 2']],
    code: 'unknown_key',
    path: 'sun.sunshape.sigma_mrad',
    line: 'sigma_mrad: 2',
    mark: 'sigma_mrad',
    says: 'the keys kind, circumsolar_ratio',
  },
  {
    what: 'a window on a tube',
    edit: [
      [
        '    position_m: [0, -5, 1.5]',
        '    position_m: [0, -5, 1.5]\n    window: { width_m: 5, height_m: 1 }',
      ],
    ],
    code: 'unknown_key',
    path: 'receivers[1].window',
    line: 'window: { width_m: 5',
    mark: 'window',
    says: 'the keys kind, aperture, cells',
  },
  {
    what: 'a body on a tube',
    edit: [['    position_m: [0, -5, 1.5]', '    position_m: [0, -5, 1.5]\n    body: { shape: round }']],
    code: 'wrong_type',
    path: 'receivers[1].body',
    line: 'body: { shape: round }',
    mark: '{ shape',
    says: 'allowed: nothing: leave the key out',
  },
  // Units.
  {
    what: 'millimetres for metres',
    edit: [['{ shape: round, diameter_m: 0.18 }', '{ shape: round, diameter_mm: 180 }']],
    code: 'wrong_unit',
    path: 'dishes.seven_strip.receiver.aperture.diameter_mm',
    line: 'diameter_mm: 180',
    mark: 'diameter_mm',
    says: 'wanted in m, as diameter_m. 180 mm are 0.18 m.',
  },
  {
    what: 'degrees for milliradians',
    edit: [['slope_error_along_mrad: 4', 'slope_error_along_deg: 0.2']],
    code: 'wrong_unit',
    path: 'films.roll_a.slope_error_along_deg',
    line: 'slope_error_along_deg',
    mark: 'slope_error_along_deg',
    says: 'nearest: slope_error_along_mrad',
  },
  {
    what: 'a key without its unit',
    edit: [['    pitch_m: 1.35', '    pitch: 1.35']],
    code: 'wrong_unit',
    path: 'rows[0].pitch',
    line: 'pitch: 1.35',
    mark: 'pitch',
    says: 'wanted in m, as pitch_m',
  },
  {
    what: 'a unit on a key that has none',
    edit: [['reflectance: 0.84', 'reflectance_percent: 84']],
    code: 'wrong_unit',
    path: 'films.roll_a.reflectance_percent',
    line: 'reflectance_percent: 84',
    mark: 'reflectance_percent',
    says: 'reflectance has no unit',
  },
  {
    what: 'kilowatts for watts',
    edit: [['dni_w_m2: 850', 'dni_kw_m2: 0.85']],
    code: 'wrong_unit',
    path: 'sun.dni_kw_m2',
    line: 'dni_kw_m2',
    mark: 'dni_kw_m2',
    says: '0.85 kW/m2 are 850 W/m2',
  },
  // Missing keys.
  {
    what: 'no title',
    edit: [['title: Base of the bad scenes\n', '']],
    code: 'missing_key',
    path: 'title',
    line: 'site:',
    mark: 'site',
    says: 'title is missing',
  },
  {
    what: 'no film of a dish',
    edit: [['  seven_strip:\n    film: roll_a', '  seven_strip:']],
    code: 'missing_key',
    path: 'dishes.seven_strip.film',
    line: '  seven_strip:',
    mark: 'seven_strip',
    says: 'film is missing',
  },
  {
    what: 'no height of the site',
    edit: [['  height_m: 450\n', '']],
    code: 'missing_key',
    path: 'site.height_m',
    line: 'site:',
    mark: 'site',
    says: 'allowed: a number, -450 to 9000 m',
  },
  {
    what: 'no kind of a list entry',
    edit: [['    kind: line_plate\n', '']],
    code: 'missing_key',
    path: 'receivers[0].kind',
    line: '- name: line',
    mark: 'name',
    says: 'allowed: cavity, plate, line_plate, tube',
  },
  {
    what: 'no sun direction',
    edit: [['  azimuth_deg: 180\n  elevation_deg: 60\n', '']],
    code: 'missing_key',
    path: 'sun.azimuth_deg',
    line: 'sun:',
    mark: 'sun',
    says: 'azimuth_deg and elevation_deg, or date_time',
  },
  {
    what: 'half a sun direction',
    edit: [['  elevation_deg: 60\n', '']],
    code: 'missing_key',
    path: 'sun.elevation_deg',
    line: 'sun:',
    mark: 'sun',
    says: 'goes with azimuth_deg',
  },
  {
    what: 'one of two slope errors',
    edit: [['    slope_error_across_mrad: 5\n', '']],
    code: 'missing_key',
    path: 'films.roll_a.slope_error_across_mrad',
    line: '  roll_a:',
    mark: 'roll_a',
    says: 'slope_error_mrad, or slope_error_along_mrad and slope_error_across_mrad',
  },
  {
    what: 'no reflectance at all',
    edit: [['    reflectance: 0.84\n', '']],
    code: 'missing_key',
    path: 'films.roll_a.reflectance',
    line: '  roll_a:',
    mark: 'roll_a',
    says: 'reflectance, or reflectance_by_incidence',
  },
  {
    what: 'date and time without a site',
    edit: [
      [
        'site:\n  name: Tarn Hollow (invented)\n  latitude_deg: 34.5\n  longitude_deg: -5.2\n  height_m: 450\n',
        '',
      ],
      ['  azimuth_deg: 180\n  elevation_deg: 60\n', '  date_time: 2026-03-20T12:00:00+01:00\n'],
    ],
    code: 'missing_key',
    path: 'sun.date_time',
    line: 'date_time: 2026',
    mark: 'date_time',
    says: 'site with latitude_deg',
  },
  {
    what: 'a sky without a site',
    edit: [
      [
        'site:\n  name: Tarn Hollow (invented)\n  latitude_deg: 34.5\n  longitude_deg: -5.2\n  height_m: 450\n',
        '',
      ],
      ['films:\n', 'sky: { kind: meinel }\nfilms:\n'],
    ],
    code: 'missing_key',
    path: 'sky',
    line: 'sky:',
    mark: 'sky',
    says: 'site with latitude_deg',
  },
  {
    what: 'a sky without its kind',
    edit: [['films:\n', 'sky: { clearness: 0.9 }\nfilms:\n']],
    code: 'missing_key',
    path: 'sky.kind',
    line: 'sky:',
    mark: 'sky',
    says: 'hottel, meinel, epw, csv',
  },
  {
    what: 'an unknown kind of sky',
    edit: [['films:\n', 'sky: { kind: hotel }\nfilms:\n']],
    code: 'unknown_choice',
    path: 'sky.kind',
    line: 'sky:',
    mark: 'hotel',
    says: 'nearest: hottel',
  },
  {
    what: 'a key of another sky',
    edit: [['films:\n', 'sky: { kind: meinel, climate: tropical }\nfilms:\n']],
    code: 'unknown_key',
    path: 'sky.climate',
    line: 'sky:',
    mark: 'climate',
    says: 'allowed: the keys kind, clearness',
  },
  {
    what: 'a clearness far from 1',
    edit: [['films:\n', 'sky: { kind: meinel, clearness: 80 }\nfilms:\n']],
    code: 'out_of_range',
    path: 'sky.clearness',
    line: 'sky:',
    mark: '80',
    says: '0.01 to 1.3',
  },
  {
    what: 'a site too high for its sky',
    edit: [
      ['  height_m: 450\n', '  height_m: 2800\n'],
      ['films:\n', 'sky: { kind: hottel }\nfilms:\n'],
    ],
    code: 'inconsistent',
    path: 'sky.kind',
    line: 'sky:',
    mark: 'hottel',
    says: 'at most 2500 m, or kind: meinel',
  },
  {
    what: 'a weather table that does not say what its times mark',
    edit: [['films:\n', 'sky: { kind: csv, file: a.csv, columns: { time: t, dni_w_m2: dni } }\nfilms:\n']],
    code: 'missing_key',
    path: 'sky.time_marks',
    line: 'sky:',
    mark: 'sky',
    says: 'start, middle, end',
  },
  {
    what: 'intervals that do not fill an hour',
    edit: [
      [
        'films:\n',
        'sky: { kind: csv, file: a.csv, columns: { time: t, dni_w_m2: dni }, time_marks: end, interval_minutes: 25 }\nfilms:\n',
      ],
    ],
    code: 'inconsistent',
    path: 'sky.interval_minutes',
    line: 'sky:',
    mark: '25',
    says: 'do not fill an hour',
  },
  {
    what: 'an offset that no clock has',
    edit: [
      [
        'films:\n',
        'sky: { kind: csv, file: a.csv, columns: { time: t, dni_w_m2: dni }, time_marks: end, utc_offset: "+19:00" }\nfilms:\n',
      ],
    ],
    code: 'bad_text',
    path: 'sky.utc_offset',
    line: 'sky:',
    mark: '"+19:00"',
    says: '-14:00 to +14:00',
  },
  {
    what: 'one column for two things',
    edit: [
      [
        'films:\n',
        'sky: { kind: csv, file: a.csv, columns: { time: t, dni_w_m2: a, temperature_c: a }, time_marks: end }\nfilms:\n',
      ],
    ],
    code: 'duplicate_name',
    path: 'sky.columns.temperature_c',
    line: 'sky:',
    mark: 'a }',
    says: 'taken by dni_w_m2',
  },
  {
    what: 'a time zone that is not there',
    edit: [['  height_m: 450\n', '  height_m: 450\n  time_zone: Africa/Nowhere\n']],
    code: 'bad_text',
    path: 'site.time_zone',
    line: 'time_zone',
    mark: 'Africa/Nowhere',
    says: 'a name of the time zone list',
  },
  {
    what: 'an offset for a time zone that no clock has',
    edit: [['  height_m: 450\n', '  height_m: 450\n  time_zone: "+02:75"\n']],
    code: 'bad_text',
    path: 'site.time_zone',
    line: 'time_zone',
    mark: '"+02:75"',
    says: 'There is no time zone',
  },
  {
    what: 'a row whose dish has no receiver',
    edit: [['    receiver: line\n', '']],
    code: 'missing_key',
    path: 'rows[1].receiver',
    line: '- name: B',
    mark: 'name',
    says: 'name of a standing receiver',
  },
  {
    what: 'several dishes without a pitch',
    edit: [['    pitch_m: 1.1\n', '']],
    code: 'missing_key',
    path: 'rows[1].pitch_m',
    line: '- name: B',
    mark: 'name',
    says: 'at least the dish, 1 m along the row',
  },
  {
    what: 'several rows without a spacing',
    edit: [['    row_spacing_m: 3.2\n', '']],
    code: 'missing_key',
    path: 'rows[0].row_spacing_m',
    line: '- name: A',
    mark: 'name',
    says: 'row_spacing_m is missing: there are 2 rows',
  },
  {
    what: 'no mirror',
    edit: [[BASE.slice(BASE.indexOf('rows:'), BASE.indexOf('receivers:')), '']],
    code: 'missing_key',
    path: 'rows',
    line: 'title:',
    mark: 'title',
    says: 'at least one entry in rows or facets',
  },
  {
    what: 'a facet and no receiver',
    edit: [
      [BASE.slice(BASE.indexOf('rows:'), BASE.indexOf('facets:')), ''],
      [BASE.slice(BASE.indexOf('receivers:'), BASE.indexOf('blockers:')), ''],
    ],
    code: 'missing_key',
    path: 'receivers',
    line: 'title:',
    mark: 'title',
    says: 'at least one entry in receivers',
  },
  // Types.
  {
    what: 'a word for a number',
    edit: [['dni_w_m2: 850', 'dni_w_m2: bright']],
    code: 'wrong_type',
    path: 'sun.dni_w_m2',
    line: 'dni_w_m2: bright',
    mark: 'bright',
    says: 'allowed: a number, 1 to 1420 W/m2',
  },
  {
    what: 'a number in quotes',
    edit: [['reflectance: 0.84', 'reflectance: "0.84"']],
    code: 'wrong_type',
    path: 'films.roll_a.reflectance',
    line: 'reflectance: "0.84"',
    mark: '"0.84"',
    says: 'allowed: a number, 0 to 1',
  },
  {
    what: 'a key without a value',
    edit: [['    dish: seven_strip', '    dish:']],
    code: 'wrong_type',
    path: 'rows[0].dish',
    line: '    dish:',
    mark: 'dish',
    says: 'rows[0].dish has no value',
  },
  {
    what: 'a broken count',
    edit: [['count: 7', 'count: 7.5']],
    code: 'wrong_type',
    path: 'dishes.seven_strip.strips.count',
    line: 'count: 7.5',
    mark: '7.5',
    says: 'allowed: a whole number, 1 to 200',
  },
  {
    what: 'a map for a list',
    edit: [
      ['rows:\n  - name: A', 'rows:\n    name: A'],
      ['  - name: B\n    dish: bare\n    dishes: 3\n    pitch_m: 1.1\n    receiver: line\n', ''],
    ],
    code: 'wrong_type',
    path: 'rows',
    line: 'rows:',
    mark: 'rows',
    says: 'allowed: a list of up to 500 entries',
  },
  {
    what: 'two coordinates for three',
    edit: [['position_m: [0, 0, 2]', 'position_m: [0, 2]']],
    code: 'bad_length',
    path: 'receivers[0].position_m',
    line: 'position_m: [0, 2]',
    mark: '[0, 2]',
    says: 'allowed: a list of 3',
  },
  {
    what: 'three lobes',
    edit: [
      [
        '      - { weight: 0.2, sigma_mrad: 8 }',
        '      - { weight: 0.1, sigma_mrad: 8 }\n      - { weight: 0.1, sigma_mrad: 9 }',
      ],
    ],
    code: 'bad_length',
    path: 'films.roll_a.lobes',
    line: '    lobes:',
    mark: 'lobes',
    says: 'a list of 1 to 2 entries',
  },
  {
    what: 'cells as a word',
    edit: [['cells: 64', 'cells: many']],
    code: 'wrong_type',
    path: 'dishes.seven_strip.receiver.cells',
    line: 'cells: many',
    mark: 'many',
    says: 'a whole number, 4 to 1024',
  },
  // Ranges.
  {
    what: 'a reflectance in per cent',
    edit: [['reflectance: 0.84', 'reflectance: 84']],
    code: 'out_of_range',
    path: 'films.roll_a.reflectance',
    line: 'reflectance: 84',
    mark: '84',
    says: 'allowed: a number, 0 to 1',
  },
  {
    what: 'a negative gap',
    edit: [['gap_m: 0.02', 'gap_m: -0.02']],
    code: 'out_of_range',
    path: 'dishes.seven_strip.strips.gap_m',
    line: 'gap_m: -0.02',
    mark: '-0.02',
    says: 'allowed: a number, 0 to 10 m',
  },
  {
    what: 'a latitude beyond the pole',
    edit: [['latitude_deg: 34.5', 'latitude_deg: 345']],
    code: 'out_of_range',
    path: 'site.latitude_deg',
    line: 'latitude_deg: 345',
    mark: '345',
    says: 'allowed: a number, -90 to 90 degrees',
  },
  {
    what: 'too many cells along one side',
    edit: [['cells: 64', 'cells: [64, 5000]']],
    code: 'out_of_range',
    path: 'dishes.seven_strip.receiver.cells[1]',
    line: 'cells: [64, 5000]',
    mark: '5000',
    says: 'allowed: a whole number, 4 to 1024',
  },
  {
    what: 'no bounce allowed',
    edit: [['bounce_limit: 3', 'bounce_limit: 0']],
    code: 'out_of_range',
    path: 'bounce_limit',
    line: 'bounce_limit: 0',
    mark: '0',
    says: 'allowed: a whole number, 1 to 20',
  },
  {
    what: 'too many strips',
    edit: [['count: 7', 'count: 201']],
    code: 'out_of_range',
    path: 'dishes.seven_strip.strips.count',
    line: 'count: 201',
    mark: '201',
    says: '1 to 200',
  },
  {
    what: 'a slope error in hundredths of a degree',
    edit: [['slope_error_across_mrad: 5', 'slope_error_across_mrad: 500']],
    code: 'out_of_range',
    path: 'films.roll_a.slope_error_across_mrad',
    line: 'slope_error_across_mrad: 500',
    mark: '500',
    says: '0 to 60 mrad',
  },
  {
    what: 'not a number',
    edit: [['height_m: 450', 'height_m: .nan']],
    code: 'not_finite',
    path: 'site.height_m',
    line: 'height_m: .nan',
    mark: '.nan',
    says: 'not a finite number',
  },
  {
    what: 'an endless length',
    edit: [['length_m: 1.2', 'length_m: .inf']],
    code: 'not_finite',
    path: 'dishes.seven_strip.strips.length_m',
    line: 'length_m: .inf',
    mark: '.inf',
    says: 'not a finite number',
  },
  {
    what: 'a number too large for a double',
    edit: [['height_m: 450', 'height_m: 1e999']],
    code: 'not_finite',
    path: 'site.height_m',
    line: 'height_m: 1e999',
    mark: '1e999',
    says: 'not a finite number',
  },
  // Words.
  {
    what: 'a misspelt sunshape',
    edit: [['kind: circumsolar', 'kind: circumsola']],
    code: 'unknown_choice',
    path: 'sun.sunshape.kind',
    line: 'kind: circumsola',
    mark: 'circumsola',
    says: 'allowed: point, disc, limb_darkened, gaussian, circumsolar, table',
  },
  {
    what: 'a misspelt direction of strips',
    edit: [['direction: along_row', 'direction: along_rows']],
    code: 'unknown_choice',
    path: 'dishes.seven_strip.strips.direction',
    line: 'direction: along_rows',
    mark: 'along_rows',
    says: 'nearest: along_row',
  },
  {
    what: 'an unknown shape of aperture',
    edit: [['{ shape: round, diameter_m: 0.18 }', '{ shape: hexagon, diameter_m: 0.18 }']],
    code: 'unknown_choice',
    path: 'dishes.seven_strip.receiver.aperture.shape',
    line: 'shape: hexagon',
    mark: 'hexagon',
    says: 'allowed: round, rectangle',
  },
  {
    what: 'a date and time without an offset',
    edit: [['  azimuth_deg: 180\n  elevation_deg: 60\n', '  date_time: 2026-03-20T12:00:00\n']],
    code: 'bad_text',
    path: 'sun.date_time',
    line: 'date_time: 2026',
    mark: '2026-03-20T12:00:00',
    says: 'offset from UTC',
  },
  {
    what: 'a day that does not exist',
    edit: [['  azimuth_deg: 180\n  elevation_deg: 60\n', '  date_time: 2026-02-30T12:00:00Z\n']],
    code: 'bad_text',
    path: 'sun.date_time',
    line: 'date_time: 2026',
    mark: '2026-02-30T12:00:00Z',
    says: 'There is no such date and time',
  },
  {
    what: 'a name with a control character',
    edit: [['name: post', 'name: "po\\est"']],
    code: 'bad_text',
    path: 'blockers[0].name',
    line: 'po\\est',
    mark: '"po',
    says: '1 to 64 printable characters',
  },
  {
    what: 'a film name that is too long',
    edit: [
      [
        '  roll_a:',
        `  ${'n'.repeat(65)}: { reflectance: 1, slope_error_mrad: 0, specularity_mrad: 0 }\n  roll_a:`,
      ],
    ],
    code: 'bad_text',
    path: `films.${'n'.repeat(65)}`,
    line: 'nnnnn',
    mark: 'nnnnn',
    says: 'allowed: 1 to 64 printable characters',
  },
  // Names and references.
  {
    what: 'a film that is not there',
    edit: [['  bare:\n    film: roll_a', '  bare:\n    film: rol_a']],
    code: 'unknown_name',
    path: 'dishes.bare.film',
    line: 'film: rol_a',
    mark: 'rol_a',
    says: 'nearest: roll_a',
  },
  {
    what: 'a dish that is not there',
    edit: [['dish: seven_strip', 'dish: seven_stripes']],
    code: 'unknown_name',
    path: 'rows[0].dish',
    line: 'dish: seven_stripes',
    mark: 'seven_stripes',
    says: 'nearest: seven_strip',
  },
  {
    what: 'a dish with the name of an inherited property',
    edit: [['dish: seven_strip', 'dish: toString']],
    code: 'unknown_name',
    path: 'rows[0].dish',
    line: 'dish: toString',
    mark: 'toString',
    says: 'a dish of this file: seven_strip, bare',
  },
  {
    what: 'a receiver that is not there',
    edit: [['receiver: line', 'receiver: lyne']],
    code: 'unknown_name',
    path: 'rows[1].receiver',
    line: 'receiver: lyne',
    mark: 'lyne',
    says: 'nearest: line',
  },
  {
    what: 'two rows of one name',
    edit: [['- name: B', '- name: A']],
    code: 'duplicate_name',
    path: 'rows[1].name',
    line: '- name: A',
    mark: 'A',
    says: 'taken by an earlier entry of rows',
  },
  // What does not fit together.
  {
    what: 'two ways to say the sun direction',
    edit: [['  elevation_deg: 60\n', '  elevation_deg: 60\n  date_time: 2026-03-20T12:00:00Z\n']],
    code: 'conflict',
    path: 'sun.date_time',
    line: 'date_time: 2026',
    mark: 'date_time',
    says: 'azimuth_deg and elevation_deg, or date_time',
  },
  {
    what: 'two ways to say the slope error',
    edit: [['    lobes:', '    slope_error_mrad: 4\n    lobes:']],
    code: 'conflict',
    path: 'films.roll_a.slope_error_along_mrad',
    line: 'slope_error_along_mrad: 4',
    mark: 'slope_error_along_mrad',
    says: 'exclude each other',
  },
  {
    what: 'lobes that do not sum to 1',
    edit: [['weight: 0.2', 'weight: 0.3']],
    code: 'inconsistent',
    path: 'films.roll_a.lobes[1].weight',
    line: 'weight: 0.3',
    mark: '0.3',
    says: 'weights that sum to 1',
  },
  {
    what: 'a table that does not rise',
    edit: [
      [
        '    kind: circumsolar\n    circumsolar_ratio: 0.05',
        '    kind: table\n    angle_mrad: [0, 5, 4]\n    radiance: [1, 1, 0]',
      ],
    ],
    code: 'inconsistent',
    path: 'sun.sunshape.angle_mrad[2]',
    line: 'angle_mrad: [0, 5, 4]',
    mark: '4]',
    says: 'more than 5',
  },
  {
    what: 'a table that does not begin at 0',
    edit: [
      [
        '    kind: circumsolar\n    circumsolar_ratio: 0.05',
        '    kind: table\n    angle_mrad: [1, 5]\n    radiance: [1, 0]',
      ],
    ],
    code: 'inconsistent',
    path: 'sun.sunshape.angle_mrad[0]',
    line: 'angle_mrad: [1, 5]',
    mark: '1, 5',
    says: 'allowed: 0',
  },
  {
    what: 'a table with columns of unequal length',
    edit: [
      [
        'reflectance: 0.84',
        'reflectance_by_incidence: { incidence_deg: [0, 60], reflectance: [0.9, 0.8, 0.7] }',
      ],
    ],
    code: 'bad_length',
    path: 'films.roll_a.reflectance_by_incidence.reflectance',
    line: 'reflectance_by_incidence',
    mark: '[0.9',
    says: 'allowed: 2 entries',
  },
  {
    what: 'a window smaller than the aperture',
    edit: [['height_m: 0.4 }', 'height_m: 0.1 }']],
    code: 'inconsistent',
    path: 'dishes.seven_strip.receiver.window.height_m',
    line: 'height_m: 0.1 }',
    mark: '0.1 }',
    says: 'allowed: at least 0.18 m',
  },
  {
    what: 'a body smaller than the aperture',
    edit: [['diameter_m: 0.24,', 'diameter_m: 0.12,']],
    code: 'inconsistent',
    path: 'dishes.seven_strip.receiver.body.diameter_m',
    line: 'diameter_m: 0.12,',
    mark: '0.12',
    says: 'allowed: at least 0.18 m',
  },
  {
    what: 'an averaging disc larger than the aperture',
    edit: [['cells: 64', 'cells: 64\n      peak_disc_m: 0.2']],
    code: 'inconsistent',
    path: 'dishes.seven_strip.receiver.peak_disc_m',
    line: 'peak_disc_m: 0.2',
    mark: '0.2',
    says: 'allowed: at most 0.18 m',
  },
  {
    what: 'a hole larger than the mirror',
    edit: [['hole_diameter_m: 0.25', 'hole_diameter_m: 1.25']],
    code: 'inconsistent',
    path: 'facets[0].outline.hole_diameter_m',
    line: 'hole_diameter_m: 1.25',
    mark: '1.25 }',
    says: 'allowed: less than 1.25 m',
  },
  {
    what: 'a strip longer than its circle',
    edit: [['length_m: 1.2', 'length_m: 9.2']],
    code: 'inconsistent',
    path: 'dishes.seven_strip.strips.length_m',
    line: 'length_m: 9.2',
    mark: '9.2',
    says: 'allowed: less than 9.2 m',
  },
  {
    what: 'a toroid that reaches beyond its radii',
    edit: [
      [
        '{ kind: paraboloid, focal_length_m: 1.5 }',
        '{ kind: toroid, radius_along_m: 0.5, radius_across_m: 2 }',
      ],
    ],
    code: 'inconsistent',
    path: 'facets[0].outline.diameter_m',
    line: 'diameter_m: 1.25',
    mark: '1.25,',
    says: '0.5 m along and 2 m across',
  },
  {
    what: 'dishes that overlap',
    edit: [['pitch_m: 1.35', 'pitch_m: 0.35']],
    code: 'inconsistent',
    path: 'rows[0].pitch_m',
    line: 'pitch_m: 0.35',
    mark: '0.35',
    says: 'allowed: at least 1.2 m',
  },
  {
    what: 'a length that points the way the front faces',
    edit: [['elevation_deg: 70 }', 'elevation_deg: 0 }\n    along_azimuth_deg: 0']],
    code: 'inconsistent',
    path: 'facets[0].along_azimuth_deg',
    line: 'along_azimuth_deg: 0',
    mark: '0',
    says: 'an azimuth across the direction of facing',
  },
  {
    what: 'a cylinder without length',
    edit: [['to_m: [0, -2, 3]', 'to_m: [0, -2, 0]']],
    code: 'inconsistent',
    path: 'blockers[0].to_m',
    line: 'to_m: [0, -2, 0]',
    mark: '[0, -2, 0], diameter',
    says: 'the same point',
  },
  {
    what: 'too many facets',
    edit: [
      ['    dishes: 8', '    dishes: 2000'],
      ['    rows: 2\n', '    rows: 500\n'],
    ],
    code: 'too_many',
    path: 'rows[0].dishes',
    line: 'dishes: 2000',
    mark: '2000',
    says: 'allowed: at most 100000',
  },
  {
    what: 'too many map cells',
    edit: [
      ['    dishes: 8', '    dishes: 100'],
      ['cells: 64', 'cells: 1024'],
    ],
    code: 'too_many',
    path: 'rows[0].dishes',
    line: 'dishes: 100',
    mark: '100',
    says: 'allowed: at most 16777216 cells',
  },
  // YAML.
  {
    what: 'a key that stands twice',
    edit: [['  dni_w_m2: 850', '  dni_w_m2: 850\n  dni_w_m2: 900']],
    code: 'duplicate_key',
    path: 'sun.dni_w_m2',
    line: 'dni_w_m2: 900',
    mark: 'dni_w_m2',
    says: 'stands twice',
  },
  {
    what: 'an anchor',
    edit: [['dni_w_m2: 850', 'dni_w_m2: &bright 850']],
    code: 'forbidden_yaml',
    path: 'sun.dni_w_m2',
    line: '&bright 850',
    mark: '850',
    says: 'Anchors (&bright) are not used',
  },
  {
    what: 'a tag',
    edit: [['dni_w_m2: 850', 'dni_w_m2: !!float 850']],
    code: 'forbidden_yaml',
    path: 'sun.dni_w_m2',
    line: '!!float 850',
    mark: '850',
    says: 'Tags (tag:yaml.org,2002:float) are not used',
  },
  {
    what: 'a merge key',
    edit: [['  dni_w_m2: 850', '  dni_w_m2: 850\n  <<: { dni_w_m2: 900 }']],
    code: 'forbidden_key',
    path: 'sun.<<',
    line: '<<: {',
    mark: '<<',
    says: 'Merge keys',
  },
  {
    what: 'a directive',
    edit: [['title: Base', '%YAML 1.1\n---\ntitle: Base']],
    code: 'forbidden_yaml',
    path: '',
    line: '%YAML 1.1',
    mark: '%YAML',
    says: 'Directives (%) are not used',
  },
  ...['__proto__', 'constructor', 'prototype'].map(
    (key): BadScene => ({
      what: `the key ${key}`,
      edit: [['  roll_a:\n', `  ${key}: { polluted: 1 }\n  roll_a:\n`]],
      code: 'forbidden_key',
      path: `films.${key}`,
      line: `  ${key}:`,
      mark: key,
      says: `The key ${key} is not allowed`,
    }),
  ),
  {
    what: 'a list as a key',
    edit: [['  roll_a:\n', '  ? [a, b]\n  : 1\n  roll_a:\n']],
    code: 'forbidden_yaml',
    path: 'films',
    line: '? [a, b]',
    mark: '[a, b]',
    says: 'A key must be a plain word',
  },
  {
    what: 'a list that is not closed',
    edit: [['position_m: [0, 0, 2]', 'position_m: [0, 0, 2']],
    code: 'syntax',
    path: '',
    line: '  - name: pipe',
    mark: '- name: pipe',
    says: 'must be sufficiently indented and end with a ]',
  },
  {
    what: 'a tab as indentation',
    edit: [['  dni_w_m2: 850', '\tdni_w_m2: 850']],
    code: 'syntax',
    path: '',
    line: '\tdni_w_m2: 850',
    mark: '\tdni',
    says: 'Tabs are not allowed as indentation',
  },
  {
    what: 'a second document',
    edit: [['blockers:', '---\nblockers:']],
    code: 'several_documents',
    path: '',
    line: '---',
    mark: '---',
    says: 'more than one document',
  },
];

function edited(edits: BadScene['edit']): string {
  return edits.reduce((text, [from, to]) => {
    expect(text, 'the text to replace').toContain(from);
    return text.replace(from, () => to);
  }, BASE);
}

function errorsOf(text: string) {
  const outcome = loadScene(text, { file: 'bad.yaml' });
  return outcome.ok ? [] : outcome.errors;
}

describe('bad scenes', () => {
  it('start from a scene that loads', () => {
    expect(errorsOf(BASE)).toEqual([]);
  });

  it('are many and of every kind that a file can show', () => {
    expect(BAD_SCENES.length).toBeGreaterThanOrEqual(45);
  });

  it.each(BAD_SCENES)('$what: $code at $path', ({ edit, code, path, line, mark, says }) => {
    const text = edited(edit);
    const errors = errorsOf(text);
    const error = errors.find((candidate) => candidate.code === code && candidate.path === path);
    expect(error, JSON.stringify(errors)).toBeDefined();
    const named = text.split('\n')[(error?.line ?? 0) - 1];
    expect(named).toContain(line);
    expect(named.slice((error?.column ?? 0) - 1).startsWith(mark), `${named} at ${error?.column}`).toBe(true);
    expect(error?.endColumn).toBeGreaterThan(error?.column ?? 0);

    const printed = formatSceneErrors(errors, text, 'bad.yaml', { colour: false });
    expect(printed).toContain(`bad.yaml:${error?.line}:${error?.column}`);
    expect(printed).toContain(says);
    expect(printed).toContain('^');
    expect(printed).not.toMatch(/\n\s+at .*[(/].*:\d+:\d+/u);
    expect(printed).not.toMatch(/undefined|\[object|ZodError|Invalid input/u);
  });

  it.each(BAD_SCENES)('$what: says nothing else', ({ edit, code }) => {
    const others = errorsOf(edited(edit)).filter((error) => error.code !== code);
    expect(others.map((error) => `${error.code} ${error.path}`)).toEqual([]);
  });
});

describe('bad files', () => {
  const only = (text: string) => {
    const errors = errorsOf(text);
    expect(errors).toHaveLength(1);
    return errors[0];
  };

  it.each(['', '\n\n', '# nothing but a comment\n', '---\n', '~', '""'])('an empty file %j', (text) => {
    expect(only(text)).toMatchObject({ code: 'empty', line: 1, column: 1 });
  });

  it.each(['- a\n- b', 'a word', '17', '[1, 2]'])('a file that is no group of keys: %j', (text) => {
    expect(only(text).code).toBe('not_a_map');
  });

  it.each([
    ['flow lists', '['.repeat(100_000), 1],
    ['flow maps', '{a: '.repeat(100_000), 1],
    ['lists on one line', '- '.repeat(100_000), 1],
    ['explicit keys', '? '.repeat(100_000), 1],
    ['indented maps', Array.from({ length: 2000 }, (_, depth) => `${' '.repeat(depth)}a:`).join('\n'), 33],
  ])('a depth bomb of %s', (_what, text, line) => {
    expect(only(text)).toMatchObject({ code: 'too_deep', line });
    expect(only(`a:\n  ${text.replaceAll('\n', '\n  ')}`)).toMatchObject({ code: 'too_deep' });
  });

  it('nesting up to the limit is read', () => {
    const errors = errorsOf(`a: ${'['.repeat(31)}${']'.repeat(31)}`);
    expect(errors.map((error) => error.code)).not.toContain('too_deep');
  });

  it('more than 50 MB', () => {
    const error = only(`# ${'x'.repeat(50_000_000)}`);
    expect(error).toMatchObject({ code: 'too_large', line: 1 });
    expect(error.message).toContain('50 MB');
  });

  it('aliases, each with its place, and no repetition of what could not be read', () => {
    const text = BASE.replace('azimuth_deg: 180', 'azimuth_deg: &south 180').replace(
      'azimuth_deg: 180, elev',
      'azimuth_deg: *south, elev',
    );
    expect(errorsOf(text).map(({ code, path }) => `${code} ${path}`)).toEqual([
      'forbidden_yaml sun.azimuth_deg',
      'forbidden_yaml facets[0].facing.azimuth_deg',
    ]);
  });

  it('does not pollute prototypes', () => {
    errorsOf('__proto__: { polluted: 1 }\nconstructor: { prototype: { polluted: 1 } }');
    expect(({} as Record<string, unknown>).polluted).toBeUndefined();
  });
});

describe('several errors', () => {
  const text = edited([
    ['latitude_deg: 34.5', 'latitude_deg: 95'],
    ['kind: circumsolar', 'kind: disk'],
    ['reflectance: 0.84', 'reflectence: 0.84'],
    ['slope_error_across_mrad: 5', 'slope_error_across_mrad: x'],
    ['dish: bare', 'dish: bear'],
    ['- name: pipe', '- name: line'],
    ['bounce_limit: 3', 'bounce_limit: 3\nbounce_limit: 4'],
  ]);

  it('come in one go, in the order of the text, each once', () => {
    const errors = errorsOf(text);
    expect(errors.map(({ code, path }) => `${code} ${path}`)).toEqual([
      'out_of_range site.latitude_deg',
      'unknown_choice sun.sunshape.kind',
      'unknown_key films.roll_a.reflectence',
      'wrong_type films.roll_a.slope_error_across_mrad',
      'unknown_name rows[1].dish',
      'duplicate_name receivers[1].name',
      'duplicate_key bounce_limit',
    ]);
    const lines = errors.map((error) => error.line ?? 0);
    expect(lines).toEqual([...lines].sort((first, second) => first - second));
  });

  it('are counted at the end of the print', () => {
    const printed = formatSceneErrors(errorsOf(text), text, 'bad.yaml', { colour: false });
    expect(printed.split('\n').at(-1)).toBe('7 errors in bad.yaml; nothing was run.');
  });
});

describe('the print of errors', () => {
  it('marks the place with carets and two lines on each side', () => {
    const text = edited([['reflectance: 0.84', 'reflectence: 0.84']]);
    const printed = formatSceneErrors(errorsOf(text), text, 'bad.yaml', { colour: false });
    expect(printed).toBe(`bad.yaml:16:5  films.roll_a.reflectence
  reflectence is not a key in films.roll_a.
  allowed: the keys reflectance, reflectance_by_incidence, soiling_factor, ageing_factor, slope_error_mrad, slope_error_along_mrad, slope_error_across_mrad, specularity_mrad, lobes
  nearest: reflectance

  14 | films:
  15 |   roll_a:
> 16 |     reflectence: 0.84
     |     ^^^^^^^^^^^
  17 |     slope_error_along_mrad: 4
  18 |     slope_error_across_mrad: 5

1 error in bad.yaml; nothing was run.`);
  });

  it('colours on request only', () => {
    const text = edited([['reflectance: 0.84', 'reflectance: 84']]);
    const esc = String.fromCharCode(27);
    expect(formatSceneErrors(errorsOf(text), text, 'bad.yaml', { colour: true })).toContain(esc);
    expect(formatSceneErrors(errorsOf(text), text, 'bad.yaml', { colour: false })).not.toContain(esc);
  });

  it('cuts long lines around the caret', () => {
    const text = `{ title: "${'x'.repeat(100_000)}", sun: { dni_w_m2: dark } }\n`;
    const errors = errorsOf(text).filter((error) => error.path === 'sun.dni_w_m2');
    const printed = formatSceneErrors(errors, text, 'bad.yaml', { colour: false });
    const frame = printed.split('\n').filter((line) => line.includes('|'));
    expect(Math.max(...frame.map((line) => line.length))).toBeLessThan(220);
    const marked = frame.findIndex((line) => line.startsWith('>'));
    const caret = frame[marked + 1].indexOf('^');
    expect(frame[marked].slice(caret, caret + 4)).toBe('dark');
  });

  it('never passes control characters of the file, its name or an option to the terminal', () => {
    const esc = String.fromCharCode(27);
    const text = edited([
      ['title: Base', `title: ${esc}[2J\u202e\u009b31m`],
      ['bounce_limit: 3', '"bounce\\e[31m": 3'],
    ]);
    const printed = formatSceneErrors(errorsOf(text), text, `a${esc}b.yaml`, { colour: false });
    expect(printed).not.toMatch(/[^\P{Cc}\n]|\u202e/u);
    expect(printed).toContain('\u241b');
  });
});
