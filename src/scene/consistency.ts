/** Checks that concern several keys of a scene file at once. */
import { apertureBox, convertReceiver, dishLengthAlongRow, instantOf } from './convert.js';
import { MAX_ERRORS, type PathSegment, type Problem, valueText } from './errors.js';
import { nearest } from './nearest.js';
import { plantProblems } from './plant-problems.js';
import { type DishEntry, type FacetEntry, LIMITS, type ReceiverEntry, type SceneFile } from './schema.js';
import { skyProblems } from './sky-problems.js';

type Path = readonly PathSegment[];

/** Plain data of unknown quality: what a file holds before, or without, passing the schema. */
type Data = Readonly<Record<string, unknown>>;

const WEIGHT_TOLERANCE = 1e-6;
/** Aimed strips lean, so a dish is a little shorter along its row than its strips laid flat. */
const OVERLAP_ALLOWANCE = 0.9;

function problem(
  code: Problem['code'],
  at: Problem['at'],
  path: Path,
  message: string,
  hints: { allowed?: string; suggestion?: string | undefined } = {},
): Problem {
  const { allowed, suggestion } = hints;
  return {
    code,
    path,
    at,
    message,
    ...(allowed === undefined ? {} : { allowed }),
    ...(suggestion === undefined ? {} : { suggestion }),
  };
}

function isData(value: unknown): value is Data {
  return value !== null && typeof value === 'object' && !Array.isArray(value);
}

function keysOf(value: unknown): string[] {
  return isData(value) ? Object.keys(value) : [];
}

function itemsOf(value: unknown): readonly unknown[] {
  return Array.isArray(value) ? value : [];
}

function namesIn(list: readonly unknown[]): string[] {
  return list.flatMap((item) => (isData(item) && typeof item.name === 'string' ? [item.name] : []));
}

function reference(path: Path, value: unknown, of: string, known: readonly string[]): Problem[] {
  if (typeof value !== 'string' || known.includes(value)) return [];
  const allowed =
    known.length === 0
      ? `the file defines no ${of}`
      : `a ${of} of this file: ${known.slice(0, 12).join(', ')}`;
  return [
    problem('unknown_name', 'value', path, `There is no ${of} named ${valueText(value)}.`, {
      allowed: known.length > 12 ? `${allowed}, ...` : allowed,
      suggestion: nearest(value, known),
    }),
  ];
}

function duplicates(path: Path, list: readonly unknown[]): Problem[] {
  const seen = new Set<string>();
  return list.flatMap((item, index) => {
    if (!isData(item) || typeof item.name !== 'string') return [];
    if (seen.has(item.name)) {
      return [
        problem(
          'duplicate_name',
          'value',
          [...path, index, 'name'],
          `The name ${valueText(item.name)} is taken by an earlier entry of ${path.join('.')}.`,
        ),
      ];
    }
    seen.add(item.name);
    return [];
  });
}

/** Names used twice, and references to nothing. Works on any data, so that these show beside the schema's errors. */
export function nameProblems(data: Data): Problem[] {
  const films = keysOf(data.films);
  const dishes = keysOf(data.dishes);
  const receivers = namesIn(itemsOf(data.receivers));
  const found: Problem[] = [];
  for (const key of ['rows', 'facets', 'receivers']) found.push(...duplicates([key], itemsOf(data[key])));
  for (const name of dishes) {
    const dish = (data.dishes as Data)[name];
    if (isData(dish)) found.push(...reference(['dishes', name, 'film'], dish.film, 'film', films));
  }
  itemsOf(data.rows).forEach((row, index) => {
    if (!isData(row) || found.length >= MAX_ERRORS) return;
    found.push(...reference(['rows', index, 'dish'], row.dish, 'dish', dishes));
    found.push(...reference(['rows', index, 'receiver'], row.receiver, 'receiver', receivers));
  });
  itemsOf(data.facets).forEach((facet, index) => {
    if (!isData(facet) || found.length >= MAX_ERRORS) return;
    found.push(...reference(['facets', index, 'film'], facet.film, 'film', films));
    found.push(...reference(['facets', index, 'receiver'], facet.receiver, 'receiver', receivers));
  });
  return found;
}

/** One of several groups of keys must be there, whole, and no other. */
function oneGroup(path: Path, entry: object, groups: readonly (readonly string[])[]): Problem[] {
  const given = (key: string) => (entry as Data)[key] !== undefined;
  const touched = groups.filter((group) => group.some(given));
  const choice = groups.map((group) => group.join(' and ')).join(', or ');
  if (touched.length === 0) {
    return [
      problem('missing_key', 'parent', [...path, groups[0][0]], `${groups[0][0]} is missing.`, {
        allowed: choice,
      }),
    ];
  }
  if (touched.length > 1) {
    const second = touched[1].find(given) as string;
    const first = touched[0].find(given) as string;
    return [
      problem('conflict', 'key', [...path, second], `${first} and ${second} exclude each other: give one.`, {
        allowed: choice,
      }),
    ];
  }
  const missing = touched[0].filter((key) => !given(key));
  return missing.map((key) =>
    problem(
      'missing_key',
      'parent',
      [...path, key],
      `${key} is missing: it goes with ${touched[0].find(given)}.`,
      {
        allowed: choice,
      },
    ),
  );
}

/** Keys of which one group must be given. Works on any data, so that these show beside the schema's errors. */
export function alternativeProblems(
  data: Data,
  alternatives: Readonly<
    Record<'sunDirection' | 'reflectance' | 'slopeError' | 'specularity', readonly (readonly string[])[]>
  >,
): Problem[] {
  const found: Problem[] = [];
  if (isData(data.sun)) found.push(...oneGroup(['sun'], data.sun, alternatives.sunDirection));
  for (const name of keysOf(data.films)) {
    const film = (data.films as Data)[name];
    if (!isData(film)) continue;
    const path = ['films', name];
    for (const groups of [alternatives.reflectance, alternatives.slopeError, alternatives.specularity]) {
      found.push(...oneGroup(path, film, groups));
    }
  }
  return found;
}

/** A table's first column: from 0, rising, as long as the second. */
function tableProblems(
  path: Path,
  key: string,
  column: readonly number[],
  otherKey: string,
  otherLength: number,
): Problem[] {
  const found: Problem[] = [];
  if (column[0] !== 0) {
    found.push(
      problem('inconsistent', 'value', [...path, key, 0], `The first of ${key} is ${column[0]}.`, {
        allowed: '0',
      }),
    );
  }
  const step = column.findIndex((value, index) => index > 0 && value <= column[index - 1]);
  if (step > 0) {
    found.push(
      problem(
        'inconsistent',
        'value',
        [...path, key, step],
        `${key} does not rise here: ${column[step]} after ${column[step - 1]}.`,
        {
          allowed: `more than ${column[step - 1]}`,
        },
      ),
    );
  }
  if (column.length !== otherLength) {
    found.push(
      problem(
        'bad_length',
        'value',
        [...path, otherKey],
        `${otherKey} has ${otherLength} entries, ${key} has ${column.length}.`,
        {
          allowed: `${column.length} entries`,
        },
      ),
    );
  }
  return found;
}

function sunProblems(file: SceneFile): Problem[] {
  const { sun, site } = file;
  const found: Problem[] = [];
  if (sun.date_time !== undefined) {
    if (Number.isNaN(instantOf(sun.date_time))) {
      found.push(
        problem(
          'bad_text',
          'value',
          ['sun', 'date_time'],
          `There is no such date and time: ${valueText(sun.date_time)}.`,
          {
            allowed: 'a day of the years 1950 to 2100, e.g. 2026-03-20T12:00:00+01:00',
          },
        ),
      );
    }
    if (site === undefined) {
      found.push(
        problem(
          'missing_key',
          'key',
          ['sun', 'date_time'],
          'date_time needs a site: where the sun stands depends on the place.',
          {
            allowed:
              'site with latitude_deg, longitude_deg and height_m, or azimuth_deg and elevation_deg instead of date_time',
          },
        ),
      );
    }
  }
  if (sun.sunshape.kind === 'table') {
    const { angle_mrad, radiance } = sun.sunshape;
    const path = ['sun', 'sunshape'];
    found.push(...tableProblems(path, 'angle_mrad', angle_mrad, 'radiance', radiance.length));
    if (radiance.every((value) => value === 0)) {
      found.push(problem('inconsistent', 'value', [...path, 'radiance'], 'The radiance is 0 everywhere.'));
    }
  }
  return found;
}

function filmProblems(file: SceneFile): Problem[] {
  return Object.entries(file.films).flatMap(([name, film]) => {
    const found: Problem[] = [];
    const path = ['films', name];
    if (film.reflectance_by_incidence !== undefined) {
      const { incidence_deg, reflectance } = film.reflectance_by_incidence;
      const table = [...path, 'reflectance_by_incidence'];
      found.push(...tableProblems(table, 'incidence_deg', incidence_deg, 'reflectance', reflectance.length));
    }
    if (film.lobes !== undefined) {
      const sum = film.lobes.reduce((total, lobe) => total + lobe.weight, 0);
      if (Math.abs(sum - 1) > WEIGHT_TOLERANCE) {
        const last = film.lobes.length - 1;
        found.push(
          problem(
            'inconsistent',
            'value',
            [...path, 'lobes', last, 'weight'],
            `The weights of the lobes sum to ${Number(sum.toPrecision(7))}.`,
            {
              allowed: 'weights that sum to 1',
            },
          ),
        );
      }
    }
    return found;
  });
}

function receiverProblems(path: Path, entry: ReceiverEntry): Problem[] {
  const found: Problem[] = [];
  const design = convertReceiver(entry);
  const [width, height] = apertureBox(design.aperture);
  const [alongKey, acrossKey] =
    entry.kind === 'line_plate' ? ['length_m', 'width_m'] : ['width_m', 'height_m'];
  const smaller = (part: 'window' | 'body', key: string, value: number, least: number) => {
    if (value >= least) return;
    found.push(
      problem(
        'inconsistent',
        'value',
        [...path, part, key],
        `The ${part} (${value} m) is smaller than the aperture (${least} m).`,
        {
          allowed: `at least ${least} m`,
        },
      ),
    );
  };
  if (entry.kind !== 'tube') {
    smaller('window', alongKey, design.window.width, width);
    smaller('window', acrossKey, design.window.height, height);
    const { body, aperture } = design;
    if (body?.shape === 'rectangle') {
      smaller('body', alongKey, body.width, width);
      smaller('body', acrossKey, body.height, height);
    } else if (body?.shape === 'round') {
      smaller(
        'body',
        'diameter_m',
        body.diameter,
        aperture.shape === 'round' ? width : Math.hypot(width, height),
      );
    }
  }
  const smallSide = Math.min(width, height);
  if (entry.peak_disc_m !== undefined && entry.peak_disc_m > smallSide) {
    found.push(
      problem(
        'inconsistent',
        'value',
        [...path, 'peak_disc_m'],
        `The averaging disc (${entry.peak_disc_m} m) is larger than the aperture.`,
        {
          allowed: `at most ${smallSide} m`,
        },
      ),
    );
  }
  return found;
}

function dishProblems(file: SceneFile): Problem[] {
  return Object.entries(file.dishes).flatMap(([name, dish]) => {
    const path: Path = ['dishes', name];
    const found: Problem[] = [];
    const { strips } = dish;
    const along = strips.direction === 'along_row';
    const focalLength = along ? dish.focal_length_along_row_m : dish.focal_length_across_row_m;
    if (strips.bend === 'circle' && strips.length_m / 2 >= 2 * focalLength) {
      found.push(
        problem(
          'inconsistent',
          'value',
          [...path, 'strips', 'length_m'],
          `A strip of ${strips.length_m} m cannot be bent to a circle of ${2 * focalLength} m radius (twice the focal length).`,
          { allowed: `less than ${4 * focalLength} m` },
        ),
      );
    }
    if (dish.receiver !== null) found.push(...receiverProblems([...path, 'receiver'], dish.receiver));
    dish.blockers.forEach((blocker, index) => {
      found.push(...blockerProblems([...path, 'blockers', index], blocker));
    });
    return found;
  });
}

function blockerProblems(path: Path, blocker: SceneFile['blockers'][number]): Problem[] {
  if (blocker.kind !== 'cylinder' || blocker.from_m.some((value, axis) => value !== blocker.to_m[axis]))
    return [];
  return [
    problem('inconsistent', 'value', [...path, 'to_m'], 'Both ends of the cylinder are the same point.'),
  ];
}

/** Points of an outline that reach out farthest, in the facet's x and y, metres. */
function outlineReach(outline: FacetEntry['outline']): readonly (readonly [number, number])[] {
  if (outline.kind === 'round') {
    const turns = Array.from({ length: 33 }, (_, index) => (index / 64) * Math.PI);
    return turns.map((turn) => [
      (outline.diameter_m / 2) * Math.abs(Math.cos(turn)),
      (outline.diameter_m / 2) * Math.sin(turn),
    ]);
  }
  const [x, y] = outline.centre_m;
  return [[Math.abs(x) + outline.length_m / 2, Math.abs(y) + outline.width_m / 2]];
}

/** A circle-bent strip or toroid must not reach as far as its surface turns upright. */
function facetReachProblems(path: Path, facet: FacetEntry): Problem[] {
  const { shape, outline } = facet;
  const reach = outlineReach(outline);
  const key = outline.kind === 'round' ? 'diameter_m' : 'length_m';
  const tooFar = (allowed: string) => [
    problem(
      'inconsistent',
      'value',
      [...path, 'outline', key],
      'The outline reaches beyond the curve of the mirror.',
      {
        allowed,
      },
    ),
  ];
  if (shape.kind === 'bent' && shape.curve === 'circle') {
    const radius = 2 * shape.focal_length_m;
    if (reach.some(([x]) => x >= radius))
      return tooFar(`less than ${radius} m from the vertex (twice the focal length)`);
  }
  if (shape.kind === 'toroid') {
    const { radius_along_m: along, radius_across_m: across } = shape;
    const fits = ([x, y]: readonly [number, number]) => {
      const sag = x < along ? along - Math.sqrt(along * along - x * x) : Number.POSITIVE_INFINITY;
      return y < across - sag;
    };
    if (!reach.every(fits)) return tooFar(`less than the radii, ${along} m along and ${across} m across`);
  }
  return [];
}

function unitVector(azimuthDeg: number, elevationDeg: number): readonly [number, number, number] {
  const azimuth = (azimuthDeg * Math.PI) / 180;
  const elevation = (elevationDeg * Math.PI) / 180;
  const level = Math.cos(elevation);
  return [level * Math.sin(azimuth), level * Math.cos(azimuth), Math.sin(elevation)];
}

/** The along direction is projected perpendicular to the front: it must not point the same way. */
function alongProblems(
  path: Path,
  entry: { facing: { azimuth_deg: number; elevation_deg: number }; along_azimuth_deg: number },
): Problem[] {
  const front = unitVector(entry.facing.azimuth_deg, entry.facing.elevation_deg);
  const along = unitVector(entry.along_azimuth_deg, 0);
  const cosine = front[0] * along[0] + front[1] * along[1];
  // Within a tenth of a degree nothing is left of the direction after projection.
  if (Math.abs(cosine) < Math.cos(0.1 * (Math.PI / 180))) return [];
  return [
    problem(
      'inconsistent',
      'value',
      [...path, 'along_azimuth_deg'],
      `The length (azimuth ${entry.along_azimuth_deg} degrees) points the way the front faces.`,
      { allowed: 'an azimuth across the direction of facing' },
    ),
  ];
}

function facetProblems(file: SceneFile): Problem[] {
  return file.facets.flatMap((facet, index) => {
    const path: Path = ['facets', index];
    const found = [...facetReachProblems(path, facet), ...alongProblems(path, facet)];
    const { outline } = facet;
    if (outline.kind === 'round' && outline.hole_diameter_m >= outline.diameter_m) {
      found.push(
        problem(
          'inconsistent',
          'value',
          [...path, 'outline', 'hole_diameter_m'],
          `The hole (${outline.hole_diameter_m} m) is not smaller than the mirror (${outline.diameter_m} m).`,
          { allowed: `less than ${outline.diameter_m} m` },
        ),
      );
    }
    return found;
  });
}

function standingReceiverProblems(file: SceneFile): Problem[] {
  return file.receivers.flatMap((receiver, index) => {
    const path: Path = ['receivers', index];
    const along = receiver.kind === 'tube' ? [] : alongProblems(path, receiver);
    return [...receiverProblems(path, receiver), ...along];
  });
}

/** `undefined` for a name the file does not define (an inherited property of the object is no dish). */
function dishNamed(file: SceneFile, name: string): DishEntry | undefined {
  return Object.hasOwn(file.dishes, name) ? file.dishes[name] : undefined;
}

function rowProblems(file: SceneFile): Problem[] {
  return file.rows.flatMap((row, index) => {
    const path: Path = ['rows', index];
    const found: Problem[] = [];
    const dish = dishNamed(file, row.dish);
    if (dish === undefined) return found;
    if (dish.receiver === null && row.receiver === null) {
      found.push(
        problem(
          'missing_key',
          'parent',
          [...path, 'receiver'],
          `Dish ${valueText(row.dish)} has no receiver of its own, so the row must name one.`,
          {
            allowed: 'receiver: with the name of a standing receiver, or a receiver in the dish design',
          },
        ),
      );
    }
    if (row.dishes > 1) {
      const length = dishLengthAlongRow(dish);
      if (row.pitch_m === undefined) {
        found.push(
          problem(
            'missing_key',
            'parent',
            [...path, 'pitch_m'],
            `pitch_m is missing: the row has ${row.dishes} dishes.`,
            {
              allowed: `at least the dish, ${Number(length.toPrecision(6))} m along the row`,
            },
          ),
        );
      } else if (row.pitch_m < length * OVERLAP_ALLOWANCE) {
        found.push(
          problem(
            'inconsistent',
            'value',
            [...path, 'pitch_m'],
            `Dishes ${Number(length.toPrecision(6))} m long along the row overlap at a pitch of ${row.pitch_m} m.`,
            { allowed: `at least ${Number(length.toPrecision(6))} m` },
          ),
        );
      }
    }
    if (row.rows > 1 && row.row_spacing_m === undefined) {
      found.push(
        problem(
          'missing_key',
          'parent',
          [...path, 'row_spacing_m'],
          `row_spacing_m is missing: there are ${row.rows} rows.`,
        ),
      );
    }
    return found;
  });
}

/** Totals: facets, map cells, and that there is a mirror and a receiver at all. */
function totalProblems(file: SceneFile): Problem[] {
  const found: Problem[] = [];
  if (file.rows.length === 0 && file.facets.length === 0) {
    found.push(
      problem('missing_key', 'parent', ['rows'], 'The scene has no mirror.', {
        allowed: 'at least one entry in rows or facets',
      }),
    );
  }
  let facets = file.facets.length;
  let cells = file.receivers.reduce((sum, receiver) => sum + cellsOf(receiver), 0);
  let receivers = file.receivers.length;
  file.rows.forEach((row, index) => {
    const dish = dishNamed(file, row.dish);
    if (dish === undefined) return;
    const dishes = row.dishes * row.rows;
    const before = facets;
    facets += dishes * dish.strips.count;
    if (before <= LIMITS.facets && facets > LIMITS.facets) {
      found.push(
        problem(
          'too_many',
          'value',
          ['rows', index, 'dishes'],
          `The scene has ${facets} facets up to this row.`,
          {
            allowed: `at most ${LIMITS.facets}`,
          },
        ),
      );
    }
    if (dish.receiver === null || row.receiver !== null) return;
    receivers += dishes;
    const cellsBefore = cells;
    cells += dishes * cellsOf(dish.receiver);
    if (cellsBefore <= LIMITS.mapCells && cells > LIMITS.mapCells) {
      found.push(
        problem(
          'too_many',
          'value',
          ['rows', index, 'dishes'],
          `The flux maps have ${cells} cells up to this row: give the receiver of dish ${valueText(row.dish)} fewer cells.`,
          { allowed: `at most ${LIMITS.mapCells} cells in all maps` },
        ),
      );
    }
  });
  if (file.facets.length > 0 && receivers === 0) {
    found.push(
      problem(
        'missing_key',
        'parent',
        ['receivers'],
        'The scene has no receiver that its facets could serve.',
        {
          allowed: 'at least one entry in receivers, or a receiver in a dish design',
        },
      ),
    );
  }
  return found;
}

function cellsOf(entry: ReceiverEntry): number {
  const [along, across] = convertReceiver(entry).cells;
  return along * across;
}

/** @returns what does not fit together in a file that passed the schema */
export function consistencyProblems(file: SceneFile): Problem[] {
  return [
    ...sunProblems(file),
    ...skyProblems(file),
    ...plantProblems(file),
    ...filmProblems(file),
    ...dishProblems(file),
    ...rowProblems(file),
    ...facetProblems(file),
    ...standingReceiverProblems(file),
    ...file.blockers.flatMap((blocker, index) => blockerProblems(['blockers', index], blocker)),
    ...totalProblems(file),
  ];
}
