/** The year by an optics table: against full traces hour by hour, its sums, its symmetry, and the same bytes from any threads. */
import { describe, expect, test } from 'vitest';
import { SHARES } from '../../src/result/shares.js';
import { createTaskPool } from '../../src/run/pool.js';
import type { Scene, Vec3 } from '../../src/scene/types.js';
import { withTiltSetting } from '../../src/study/moving.js';
import { buildOpticsTable, type OpticsTable, sumByBucket } from '../../src/study/optics-table.js';
import { sunAtAngles } from '../../src/study/optics-table-angles.js';
import { isMirrored } from '../../src/study/optics-table-mirror.js';
import {
  type NodeReply,
  type NodeTask,
  PARTS,
  type ReceiverMode,
  traceNodes,
} from '../../src/study/optics-table-node.js';
import { studySeason } from '../../src/study/season.js';
import { turnsAsOne } from '../../src/study/season-resetting.js';
import type { SunPoint } from '../../src/study/season-sun.js';
import { DEGREE, demoScene, everyDay, hourlyYear } from './scenes.js';

const FULL = process.env.ROWFOCUS_FULL === '1';
/** Milliseconds. Every hour of a year, traced: the long run takes minutes. */
const WITHIN = FULL ? 1_200_000 : 120_000;
const FOLLOWING: ReceiverMode = { kind: 'following' };
const HELD: ReceiverMode = { kind: 'held' };

function pool(workers = 0) {
  return createTaskPool<NodeTask, NodeReply>(workers, { name: 'optics', runTask: traceNodes });
}

interface Year {
  readonly scene: Scene;
  readonly mode: ReceiverMode;
  readonly points: readonly SunPoint[];
  readonly workers?: number;
  readonly tolerance?: number;
  readonly rays?: number;
}

async function tableOf({
  scene,
  mode,
  points,
  workers = 0,
  tolerance = 0.005,
  rays = 4096,
}: Year): Promise<OpticsTable> {
  const threads = pool(workers);
  try {
    return await buildOpticsTable({
      scene,
      mode,
      suns: points.map(({ sun }) => sun),
      energy: Float64Array.from(points, ({ energy }) => energy),
      mirrored: isMirrored(scene, mode),
      seed: 'test',
      rays,
      searchRays: 2048,
      tolerance,
      mostNodes: 4000,
      pool: threads,
    });
  } finally {
    await threads.close();
  }
}

/** Share caught of all light, by the table. */
function caughtByTable(table: OpticsTable, points: readonly SunPoint[]): number {
  const sums = sumByBucket(table, new Int32Array(points.length), 1);
  let caught = 0;
  for (let part = 0; part < PARTS; part++) caught += sums[part * SHARES.length] / PARTS;
  return caught / points.reduce((sum, { energy }) => sum + energy, 0);
}

function sharesAt(
  scene: Scene,
  mode: ReceiverMode,
  sun: Vec3,
  rays: number,
  seed = 'alone',
): readonly number[] {
  const reply = traceNodes({
    scene,
    mode,
    seed,
    rays,
    searchRays: 8192,
    perReceiver: false,
    nodes: [{ key: sun.join(), sun, near: null }],
  });
  if (!reply.ok) throw new Error(reply.message);
  const mean = new Array<number>(SHARES.length).fill(0);
  reply.nodes[0].shares.forEach((value, i) => {
    mean[i % SHARES.length] += value / PARTS;
  });
  return mean;
}

/** Share caught of all light, each sun position traced by itself, its receivers looked for everywhere. */
function caughtByTraces({ scene, mode, points }: Year, rays = 2 ** 13): number {
  let caught = 0;
  let all = 0;
  for (const { sun, energy } of points) {
    caught += energy * sharesAt(scene, mode, sun, rays)[0];
    all += energy;
  }
  return caught / all;
}

const ONE = demoScene('one-dish');
const LINE = demoScene('line-receiver');

describe('a table against traces hour by hour', () => {
  const cases: readonly (readonly [string, Scene, ReceiverMode])[] = [
    ['one dish, its receiver following', ONE, FOLLOWING],
    ['a line receiver that follows', LINE, FOLLOWING],
    [
      'one dish with a wide receiver on a track',
      demoScene('one-dish', [
        'dishes.seven.receiver.aperture.diameter_m=0.4',
        'dishes.seven.receiver.window.width_m=0.6',
        'dishes.seven.receiver.window.height_m=0.6',
        'dishes.seven.receiver.body.diameter_m=0.45',
      ]),
      {
        kind: 'on_track',
        path: [
          [-1.2, 0, -0.2],
          [0, 0, 0],
          [1.2, 0, -0.2],
        ],
      },
    ],
  ];
  test.each(cases)(
    '%s: within 0.5 % and the bound',
    async (_, scene, mode) => {
      // A day a season; the whole year in the long run.
      const season = hourlyYear(scene);
      // A level track serves mirrors as they are set for some weeks about the equinox only.
      const weeks = { ...season, points: season.points.filter(({ day }) => day > 70 && day < 90) };
      const [some, step] = mode.kind === 'on_track' ? [weeks, 7] : [season, 91];
      const points = everyDay(some, FULL ? 1 : step, FULL ? 0 : 2);
      expect(points.length).toBeGreaterThan(30);
      const year = { scene, mode, points };
      const table = await tableOf(year);
      const traced = caughtByTraces(year);
      const off = caughtByTable(table, points) / traced - 1;
      expect(Math.abs(off)).toBeLessThan(0.005);
      expect(table.toleranceReached).toBe(true);
      expect(table.check.bound).toBeLessThanOrEqual(0.005);
      // Sabotage: film that reflects 2 % less.
      const dimmer = caughtByTraces({ ...year, scene: dimmed(scene, 0.98) }, 2 ** 12);
      expect(Math.abs(caughtByTable(table, points) / dimmer - 1)).toBeGreaterThan(0.005);
    },
    WITHIN,
  );

  function dimmed(scene: Scene, factor: number): Scene {
    return {
      ...scene,
      films: scene.films.map((film) => ({ ...film, soilingFactor: film.soilingFactor * factor })),
    };
  }

  test.runIf(FULL)(
    'the whole year of the row of eight, by the hour',
    async () => {
      const scene = demoScene('row-of-eight');
      const points = everyDay(hourlyYear(scene), 1);
      const year = { scene, mode: FOLLOWING, points };
      expect(
        Math.abs(caughtByTable(await tableOf({ ...year, rays: 2 ** 13 }), points) / caughtByTraces(year) - 1),
      ).toBeLessThan(0.005);
    },
    WITHIN,
  );
});

describe('sums of a year', () => {
  test('caught and lost sum to DNI x area in every month, months to the year', async () => {
    const season = hourlyYear(ONE);
    const few = { ...season, points: everyDay(season, 30, 10) };
    const threads = pool();
    const study = await studySeason({
      scene: ONE,
      mode: HELD,
      season: few,
      seed: 'sums',
      rays: 2048,
      tolerance: 0.2,
      mostNodes: 200,
      pool: threads,
    });
    await threads.close();
    expect(study.months.length).toBe(12);
    for (const sums of [...study.months, study.total]) {
      const lost =
        sums.lost_cosine_kwh +
        sums.lost_shading_kwh +
        sums.lost_film_kwh +
        sums.lost_blocking_kwh +
        sums.lost_spill_kwh;
      expect(Math.abs(sums.caught.value + lost - sums.available_kwh)).toBeLessThan(
        1e-9 * study.total.available_kwh,
      );
      expect(sums.available_kwh).toBeCloseTo(sums.dni_kwh_m2 * study.mirrorArea, 9);
      // Sabotage: film counted twice.
      expect(Math.abs(sums.caught.value + lost + sums.lost_film_kwh - sums.available_kwh)).toBeGreaterThan(
        1e-3 * sums.available_kwh,
      );
    }
    const months = study.months.reduce((sum, { caught }) => sum + caught.value, 0);
    expect(months).toBeCloseTo(study.total.caught.value, 9);
  });

  test('the same bytes from no, one and two threads', async () => {
    const points = everyDay(hourlyYear(ONE), 364, 5);
    const tables = [];
    for (const workers of [0, 1, 2]) {
      tables.push(
        await tableOf({ scene: ONE, mode: FOLLOWING, points, workers, tolerance: 0.1, rays: 1024 }),
      );
    }
    const bytes = tables.map((table) =>
      Array.from(sumByBucket(table, new Int32Array(points.length), 1)).join(),
    );
    expect(bytes[1]).toBe(bytes[0]);
    expect(bytes[2]).toBe(bytes[0]);
    expect(tables[2].check).toEqual(tables[0].check);
  });
});

describe('symmetry is seen, not assumed', () => {
  const row = demoScene('row-of-eight');
  const lopsided: readonly (readonly [string, Scene])[] = [
    [
      'aimed at a morning sun',
      {
        ...ONE,
        dishes: ONE.dishes.map((dish) => ({
          ...dish,
          designSun: { azimuth: 140 * DEGREE, elevation: 50 * DEGREE },
        })),
      },
    ],
    [
      'its receiver set aside',
      {
        ...ONE,
        dishes: ONE.dishes.map((dish) => ({
          ...dish,
          receiver: dish.receiver && { ...dish.receiver, offset: [0.1, 0, 0] },
        })),
      },
    ],
    [
      'with a post on one side',
      {
        ...ONE,
        blockers: [{ kind: 'cylinder', name: 'post', from: [2, 0, 0], to: [2, 0, 4], diameter: 0.2 }],
      },
    ],
    [
      'with a second row of another heading',
      { ...row, rows: [...row.rows, { ...row.rows[0], name: 'B', heading: 1, centre: [0, 30, 1] }] },
    ],
  ];
  test.each([
    ['the row of eight', row],
    ['one dish', ONE],
    ['the line receiver', LINE],
  ] as const)('%s', (_, scene) => {
    expect(isMirrored(scene, FOLLOWING)).toBe(true);
    const at = (longitudinal: number) =>
      sharesAt(scene, HELD, sunAtAngles(Math.PI / 2, { longitudinal, profile: 1 }), 2 ** 16);
    const [morning, afternoon] = [at(0.3), at(-0.3)];
    morning.forEach((share, i) => {
      expect(Math.abs(share - afternoon[i])).toBeLessThan(2e-3);
    });
  });
  test.each(lopsided)('not a dish %s', (_, scene) => {
    expect(isMirrored(scene, FOLLOWING)).toBe(false);
  });
  test('a track must be mirrored too', () => {
    expect(
      isMirrored(ONE, {
        kind: 'on_track',
        path: [
          [-1, 0, 0],
          [0, 0, 0.1],
          [1, 0, 0],
        ],
      }),
    ).toBe(true);
    expect(
      isMirrored(ONE, {
        kind: 'on_track',
        path: [
          [-1, 0, 0],
          [0, 0, 0.1],
          [1.1, 0, 0],
        ],
      }),
    ).toBe(false);
  });
});

describe('the other side of the world', () => {
  test('a row that leans north under a mirrored sun catches the same', async () => {
    const north = everyDay(hourlyYear(ONE), 182, 100);
    const south = north.map((point) => ({
      ...point,
      sun: [point.sun[0], -point.sun[1], point.sun[2]] as const,
    }));
    const turned = { ...ONE, rows: ONE.rows.map((one) => ({ ...one, heading: one.heading + Math.PI })) };
    const [here, there, wrong] = [
      caughtByTable(await tableOf({ scene: ONE, mode: FOLLOWING, points: north, tolerance: 0.02 }), north),
      caughtByTable(await tableOf({ scene: turned, mode: FOLLOWING, points: south, tolerance: 0.02 }), south),
      // Sabotage: the row not turned round.
      caughtByTable(await tableOf({ scene: ONE, mode: FOLLOWING, points: south, tolerance: 0.02 }), south),
    ];
    expect(Math.abs(there / here - 1)).toBeLessThan(0.005);
    expect(Math.abs(wrong / here - 1)).toBeGreaterThan(0.1);
  });
});

describe('one table for all tilts', () => {
  test('a tilt is the sun turned the other way', () => {
    const scene = demoScene('row-of-eight', ['rows.A.dishes=3']);
    expect(turnsAsOne(scene, FOLLOWING)).toBe(true);
    for (const [longitudinal, profile, tilt] of [
      [20, 40, 15],
      [-40, 70, -20],
    ]) {
      const at = (set: number, up: number) =>
        sharesAt(
          withTiltSetting(scene, set * DEGREE),
          FOLLOWING,
          sunAtAngles(Math.PI / 2, { longitudinal: longitudinal * DEGREE, profile: up * DEGREE }),
          2 ** 16,
        )[0];
      const truth = at(tilt, profile);
      expect(Math.abs(at(0, profile + tilt) - truth)).toBeLessThan(0.004);
      // Sabotage: turned the wrong way.
      expect(Math.abs(at(0, profile - tilt) - truth)).toBeGreaterThan(0.02);
    }
  });
  test('not where receivers are held, cannot go all ways, or rows stand behind one another', () => {
    const scene = demoScene('row-of-eight');
    expect(turnsAsOne(scene, HELD)).toBe(false);
    expect(turnsAsOne(scene, { kind: 'following', free: [true, false, false] })).toBe(false);
    expect(turnsAsOne(demoScene('large-field'), FOLLOWING)).toBe(false);
  });
});
