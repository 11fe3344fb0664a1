/**
 * Scenes drawn by chance from the scene file's own JSON Schema: every key, kind and range end comes up, whatever is added to the
 * schema later. Most of them are valid; those that the finer checks refuse serve as bad scenes.
 */
import seedrandom from 'seedrandom';
import { type JsonSchema, sceneJsonSchema } from '../../src/scene/json-schema.js';

/** Keeps a scene small enough to be traced in milliseconds. */
const MOST: Readonly<Record<string, number>> = { dishes: 3, rows: 2, count: 6, cells: 24 };
const LONGEST_LIST = 3;

type Draw = () => number;
type Data = Record<string, unknown>;

function pick<T>(draw: Draw, choices: readonly T[]): T {
  return choices[Math.floor(draw() * choices.length)];
}

function drawNumber(schema: JsonSchema, key: string, draw: Draw): number {
  const min = Number(schema.minimum ?? -1e3);
  const max = Math.min(Number(schema.maximum ?? 1e3), MOST[key] ?? Number.POSITIVE_INFINITY);
  const examples = (schema.examples ?? []) as readonly unknown[];
  const usual = typeof examples[0] === 'number' ? examples[0] : (min + max) / 2;
  const kind = draw();
  let value: number;
  if (kind < 0.72) value = usual * (0.6 + 0.8 * draw());
  else if (kind < 0.8) value = pick(draw, [min, max]);
  else if (kind < 0.9) value = min + (max - min) * draw();
  // Over all magnitudes of the range.
  else value = min > 0 ? min * (max / min) ** draw() : usual * 10 ** (4 * draw() - 3);
  value = Math.min(max, Math.max(min, value));
  if (schema.type === 'integer') return Math.round(value);
  return draw() < 0.5 ? Math.min(max, Math.max(min, Number(value.toPrecision(3)))) : value;
}

function drawList(schema: JsonSchema, key: string, draw: Draw): unknown {
  const { items } = schema as { items?: JsonSchema | readonly JsonSchema[] };
  if (Array.isArray(items)) {
    // Places: near one another, mostly.
    return items.map((item) => {
      const { minimum = -3, maximum = 3, examples } = item as Record<string, unknown>;
      // Places and sizes: near one another, mostly.
      if (items.length !== 3 || examples !== undefined) return drawValue(item, key, draw);
      const value = Number((6 * draw() - 3).toFixed(draw() < 0.5 ? 0 : 3));
      return Math.min(Number(maximum), Math.max(Number(minimum), value));
    });
  }
  const least = Number(schema.minItems ?? 0);
  const most = Math.min(Number(schema.maxItems ?? LONGEST_LIST), Math.max(least, LONGEST_LIST));
  const length = least + Math.floor(draw() * (most - least + 1));
  return Array.from({ length }, () => drawValue(items as JsonSchema, key, draw));
}

function drawMap(schema: JsonSchema, draw: Draw): Data {
  const data: Data = {};
  const required = (schema.required ?? []) as readonly string[];
  for (const [key, entry] of Object.entries((schema.properties ?? {}) as Record<string, JsonSchema>)) {
    if (required.includes(key) || draw() < 0.5) data[key] = drawValue(entry, key, draw);
  }
  if (typeof schema.additionalProperties === 'object') {
    const count = 1 + Math.floor(1.5 * draw());
    for (let i = 0; i < count; i++)
      data[`n${i}`] = drawValue(schema.additionalProperties as JsonSchema, '', draw);
  }
  return data;
}

function drawValue(schema: JsonSchema, key: string, draw: Draw): unknown {
  const choices = (schema.oneOf ?? schema.anyOf) as readonly JsonSchema[] | undefined;
  if (choices !== undefined) return drawValue(pick(draw, choices), key, draw);
  if (schema.const !== undefined) return schema.const;
  if (schema.enum !== undefined) return pick(draw, schema.enum as readonly unknown[]);
  switch (schema.type) {
    case 'number':
    case 'integer':
      return drawNumber(schema, key, draw);
    case 'boolean':
      return draw() < 0.5;
    case 'null':
      return null;
    case 'array':
      return drawList(schema, key, draw);
    case 'object':
      return drawMap(schema, draw);
    default:
      return ((schema.examples ?? ['text']) as readonly unknown[])[0];
  }
}

function rising(list: unknown): number[] {
  const values = [...new Set((list as number[]).map((value, i) => (i === 0 ? 0 : Math.abs(value))))];
  return values.sort((a, b) => a - b);
}

function fitTable(table: Data, from: string, to: string): void {
  const angles = rising(table[from]);
  if (angles.length < 2) angles.push(10);
  table[from] = angles;
  const values = table[to] as number[];
  table[to] = angles.map((_, i) => values[i % values.length]);
}

function fitFilm(film: Data, draw: Draw): void {
  const keepOne = (...groups: readonly (readonly string[])[]): void => {
    const kept = pick(draw, groups);
    for (const group of groups) {
      if (group !== kept) for (const key of group) delete film[key];
      else for (const key of group) film[key] ??= Number((8 * draw()).toFixed(2));
    }
  };
  if (film.reflectance_by_incidence !== undefined) {
    delete film.reflectance;
    fitTable(film.reflectance_by_incidence as Data, 'incidence_deg', 'reflectance');
  } else film.reflectance ??= draw();
  keepOne(['slope_error_mrad'], ['slope_error_along_mrad', 'slope_error_across_mrad']);
  if (film.lobes !== undefined) {
    delete film.specularity_mrad;
    const lobes = film.lobes as Data[];
    if (lobes.length === 1) lobes[0].weight = 1;
    else lobes[1].weight = 1 - (lobes[0].weight as number);
  } else film.specularity_mrad ??= 3 * draw();
}

function fitSun(sun: Data, scene: Data, draw: Draw): void {
  if (scene.site !== undefined && draw() < 0.3) {
    sun.date_time = `20${10 + Math.floor(80 * draw())}-0${1 + Math.floor(9 * draw())}-1${Math.floor(10 * draw())}T1${Math.floor(10 * draw())}:00:00Z`;
    delete sun.azimuth_deg;
    delete sun.elevation_deg;
  } else {
    delete sun.date_time;
    sun.azimuth_deg ??= 90 + 180 * draw();
    sun.elevation_deg ??= pick(draw, [0, 0.01, 5, 45, 60, 89.9, 90, 90 * draw()]);
  }
  const shape = sun.sunshape as Data | undefined;
  if (shape?.kind === 'table') fitTable(shape, 'angle_mrad', 'radiance');
}

/** A sky needs a site, and intervals that fill an hour. */
function fitSky(scene: Data, draw: Draw): void {
  const sky = scene.sky as Data | undefined;
  if (sky === undefined) return;
  if (scene.site === undefined && draw() < 0.97) delete scene.sky;
  if (sky.interval_minutes !== undefined && draw() < 0.97) sky.interval_minutes = pick(draw, [10, 30, 60]);
}

const PLANT_SECTIONS = ['heat', 'cost', 'store', 'film_ageing'] as const;

/** No ray feels heat and prices, and drawn at random they seldom fit together: each stays in few scenes only. */
function thinPlant(scene: Data, draw: Draw): void {
  for (const section of PLANT_SECTIONS) if (draw() < 0.97) delete scene[section];
}

function plainReceiver(): Data {
  return { kind: 'plate', aperture: { shape: 'round', diameter_m: 0.2 }, cells: 16 };
}

/** Names that refer to something that is there, mostly, and names that are used once. */
function fitNames(scene: Data, draw: Draw): void {
  const films = Object.keys(scene.films as Data);
  const dishes = scene.dishes as Record<string, Data>;
  const receivers = scene.receivers as Data[];
  const stray = (name: string | null) => (draw() < 0.02 ? 'nobody' : name);
  receivers.forEach((receiver, i) => {
    receiver.name = `R${i}`;
  });
  const standing = (): string | null =>
    receivers.length === 0 ? null : `R${Math.floor(draw() * receivers.length)}`;
  for (const dish of Object.values(dishes)) dish.film = stray(pick(draw, films));
  const rows = (Object.keys(dishes).length === 0 ? [] : (scene.rows ?? [])) as Data[];
  rows.forEach((row, i) => {
    row.name = `A${i}`;
    row.dish = stray(pick(draw, Object.keys(dishes)));
    const own = dishes[String(row.dish)]?.receiver ?? null;
    if (own === null && receivers.length === 0)
      dishes[String(row.dish)] = { ...dishes[String(row.dish)], receiver: plainReceiver() };
    row.receiver = own === null || draw() < 0.2 ? standing() : null;
    row.pitch_m = 1.3 + draw();
    row.row_spacing_m = 2 + 2 * draw();
  });
  scene.rows = rows;
  ((scene.facets ?? []) as Data[]).forEach((facet, i) => {
    facet.name = `F${i}`;
    facet.film = stray(pick(draw, films));
    facet.receiver = draw() < 0.8 ? standing() : null;
    if (draw() < 0.6) facet.facing = { azimuth_deg: 180 * draw(), elevation_deg: 60 + 30 * draw() };
  });
  for (const list of [scene.blockers, ...Object.values(dishes).map((dish) => dish.blockers)]) {
    ((list ?? []) as Data[]).forEach((blocker, i) => {
      if ('name' in blocker) blocker.name = `B${i}`;
    });
  }
}

/** @returns the text of a scene file; the same seed gives the same text */
export function drawnScene(seed: string): string {
  const draw = seedrandom.alea(seed);
  const schema = sceneJsonSchema();
  const scene = drawMap(schema, draw);
  // A mirror and a receiver at least, mostly.
  for (const [key, entry] of Object.entries(schema.properties as Record<string, JsonSchema>)) {
    if (['dishes', 'rows', 'facets', 'receivers'].includes(key) && draw() < 0.85)
      scene[key] = drawValue(entry, key, draw);
  }
  scene.dishes ??= {};
  scene.receivers ??= [];
  for (const film of Object.values(scene.films as Record<string, Data>)) fitFilm(film, draw);
  fitSun(scene.sun as Data, scene, draw);
  fitSky(scene, draw);
  thinPlant(scene, draw);
  fitNames(scene, draw);
  return `${JSON.stringify(scene, null, 1)}\n`;
}
