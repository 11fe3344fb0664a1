/** Distances of rows and how far receivers go along them: against traces moment by moment, and a flat range by hand. */
import { describe, expect, test } from 'vitest';
import { SHARES } from '../../src/result/shares.js';
import type { Figure } from '../../src/result/types.js';
import { createTaskPool } from '../../src/run/pool.js';
import { type NodeReply, type NodeTask, PARTS, traceNodes } from '../../src/study/optics-table-node.js';
import { reachAlong, studyHours } from '../../src/study/rows-hours.js';
import { studySpacing } from '../../src/study/rows-study.js';
import { studySeason } from '../../src/study/season.js';
import { samplePlaces } from '../../src/study/season-sample.js';
import { DEGREE, demoScene, everyDay, hourlyYear } from './scenes.js';

const DISH = demoScene('one-dish');
const YEAR = hourlyYear(DISH);
const FEW = { ...YEAR, points: everyDay(YEAR, 30, 10) };

async function withPool<T>(use: (pool: ReturnType<typeof poolHere>) => Promise<T>): Promise<T> {
  const pool = poolHere();
  try {
    return await use(pool);
  } finally {
    await pool.close();
  }
}

function poolHere() {
  return createTaskPool<NodeTask, NodeReply>(0, { name: 'optics', runTask: traceNodes });
}

describe('how far receivers go along the row', () => {
  test('as traces of every moment have it, each with its receivers looked for everywhere', async () => {
    const reply = traceNodes({
      scene: DISH,
      mode: { kind: 'following' },
      seed: 'reach',
      rays: 2 ** 12,
      searchRays: 2 ** 12,
      perReceiver: false,
      nodes: FEW.points.map(({ sun, time }) => ({ key: `${time}`, sun, near: null })),
    });
    if (!reply.ok) throw new Error(reply.message);
    const moments = reply.nodes.map(({ shares, offset }, i) => {
      let caught = 0;
      for (let part = 0; part < PARTS; part++) caught += shares[part * SHARES.length];
      return { along: Math.abs(offset[0]), energy: caught * FEW.points[i].energy };
    });
    moments.sort((a, b) => a.along - b.along);
    const all = moments.reduce((sum, { energy }) => sum + energy, 0);
    const traced = (share: number): number => {
      let passed = 0;
      for (const { along, energy } of moments) {
        passed += energy;
        if (passed >= share * all) return along;
      }
      throw new Error('no light');
    };
    const options = {
      scene: DISH,
      mode: { kind: 'following' },
      season: FEW,
      seed: 'reach',
      rays: 2 ** 12,
    } as const;
    const { table } = await withPool((pool) => studySeason({ ...options, pool }));
    for (const share of [0.5, 0.9, 0.99]) {
      expect(Math.abs(reachAlong(table, share) / traced(share) - 1)).toBeLessThan(0.05);
    }
    // Fault: all moments alike, whatever they catch, reach much farther.
    const plain = moments[Math.floor(0.99 * moments.length)].along;
    expect(plain).toBeGreaterThan(1.05 * traced(0.99));
  });

  test('receivers that stand go nowhere; a row of one dish has its ends half a dish away', async () => {
    const hourOf = (time: number) => new Date(time).getUTCHours();
    const options = { scene: DISH, season: FEW, seed: 'reach', rays: 1024, tolerance: 0.2, hourOf };
    const { reach } = await withPool((pool) => studyHours({ ...options, mode: { kind: 'held' }, pool }));
    expect(reach).toMatchObject({ along_m: 0, overhang_m: 0 });
    const going = await withPool((pool) => studyHours({ ...options, mode: { kind: 'following' }, pool }));
    const half = DISH.dishes[0].strips.length / 2;
    expect(going.reach?.overhang_m).toBeCloseTo((going.reach?.along_m ?? 0) - half, 12);
    expect(going.reach?.overhang_m).toBeGreaterThan(0);
  });
});

test('the flat range of distances is told in heat, for land at any price', async () => {
  const row = demoScene('row-of-eight', ['rows.A.dishes=2']);
  const year: Figure = { value: 900, std_err: 3, ci95: [894, 906], unit: 'kWh/m2' };
  const study = await withPool((pool) =>
    studySpacing(row, 'pitch', [1.25, 1.5, 1.75, 2], [0, 50, 5000], year, {
      mode: { kind: 'following' },
      places: samplePlaces(everyDay(hourlyYear(row), 366, 80), 90 * DEGREE),
      seed: 'flat',
      rays: 2 ** 12,
      pool,
    }),
  );
  if (study === null) throw new Error('nothing was studied');
  const [heat, land, dear] = study.best;
  expect(heat.flat_m[0]).toBeLessThanOrEqual(heat.value_m);
  expect(heat.flat_m[1]).toBeGreaterThanOrEqual(heat.value_m);
  // Land decides: the closest stand best, and the flat range is 1 % of the heat over price x land for a metre.
  const [close, next] = study.points;
  for (const [best, price] of [
    [land, 50],
    [dear, 5000],
  ] as const) {
    expect(best).toMatchObject({ value_m: 1.25, inside: false, flat_ends_seen: [false, true] });
    const perMetre = (price * (next.land_m2_per_m2 - close.land_m2_per_m2)) / 0.25;
    const lost = close.caught_per_m2.value - next.caught_per_m2.value;
    const reach = (0.01 * close.caught_per_m2.value) / (perMetre + lost / 0.25);
    expect(Math.abs((best.flat_m[1] - 1.25) / reach - 1)).toBeLessThan(0.3);
  }
  // Fault: 1 % of a worth below nothing would be no range at all.
  expect(dear.flat_m[1]).toBeGreaterThan(1.25);
  expect(close.worth_kwh_m2[2]).toBeLessThan(0);
});
