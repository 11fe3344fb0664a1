/** Names, order, and things that stand where no light goes: all of it bit for bit, or to the rounding of a sum. */
import { describe, expect, it } from 'vitest';
import { Fate } from '../../src/kernel/tally.js';
import { expectAlike, totalOf, unlikeness } from '../support/same-reading.js';
import {
  changed,
  type FacetDraft,
  randomDraft,
  readDraft,
  type SceneDraft,
} from '../support/scene-drafts.js';

const SEEDS = Array.from({ length: 4 }, (_, i) => `order-${i}`);

function reversedKeys<T>(record: Record<string, T>): Record<string, T> {
  return Object.fromEntries(Object.entries(record).reverse());
}

describe('the scenes drawn', () => {
  it('have light, spill, shade, blocked light and second reflections in them', () => {
    const readings = SEEDS.map((seed) => readDraft(randomDraft(seed)));
    const all = (value: Parameters<typeof totalOf>[1]) =>
      readings.reduce((sum, reading) => sum + totalOf(reading, value), 0);
    expect(all((group) => group.watts[Fate.Intercepted])).toBeGreaterThan(
      0.1 * all((group) => group.incident),
    );
    const rays = (fate: number) => all((group) => group.counts[fate]);
    const seen = [
      Fate.Shaded,
      Fate.BlockedByFacet,
      Fate.BlockedByBlocker,
      Fate.BlockedByReceiver,
      Fate.SpilledOnGround,
      Fate.SpilledToSky,
    ];
    for (const fate of seen) expect(rays(fate), `fate ${fate}`).toBeGreaterThan(0);
    // Without further reflections some of the light ends elsewhere.
    const single = SEEDS.map((seed) =>
      readDraft(
        changed(randomDraft(seed), (copy) => {
          copy.bounce_limit = 1;
        }),
      ),
    );
    expect(single.some((reading, i) => unlikeness(reading, readings[i]) > 0)).toBe(true);
  });
});

describe('order', () => {
  it.each(SEEDS)('%s: of films, designs, receivers and blockers: bit for bit', (seed) => {
    const draft = changed(randomDraft(seed), (copy) => {
      copy.receivers.push({ ...copy.receivers[0], name: 'another', position_m: [0, 3, 4] });
    });
    const other = changed(draft, (copy) => {
      copy.films = reversedKeys(copy.films);
      copy.dishes = reversedKeys(copy.dishes);
      copy.receivers.reverse();
      copy.blockers.reverse();
      for (const dish of Object.values(copy.dishes)) dish.blockers.reverse();
    });
    expectAlike(readDraft(draft), readDraft(other), { within: 0 });
  });

  it.each(SEEDS)('%s: of rows and facets: counts equal, watts to the rounding of their sums', (seed) => {
    // One reflection: the random numbers of later ones hang on the place in the list.
    const draft = changed(randomDraft(seed), (copy) => {
      copy.bounce_limit = 1;
    });
    const other = changed(draft, (copy) => {
      copy.rows.reverse();
      copy.facets.reverse();
    });
    expectAlike(readDraft(draft), readDraft(other), { within: 1e-13 });
  });

  it.each(SEEDS)('%s: of keys in the file: the same scene, hash included', (seed) => {
    const draft = randomDraft(seed);
    const deep = (node: unknown): unknown =>
      node === null || typeof node !== 'object'
        ? node
        : Array.isArray(node)
          ? node.map(deep)
          : Object.fromEntries(
              Object.entries(node)
                .reverse()
                .map(([key, value]) => [key, deep(value)]),
            );
    // Named films and designs keep their order: the order of a list is part of it.
    const other = deep(draft) as SceneDraft;
    other.films = reversedKeys(other.films);
    other.dishes = reversedKeys(other.dishes);
    const [one, two] = [readDraft(draft), readDraft(other)];
    expect(two.prepared.scene.hash).toBe(one.prepared.scene.hash);
    expectAlike(one, two, { within: 0 });
  });
});

describe('names', () => {
  it.each(SEEDS)('%s: every name changed: bit for bit', (seed) => {
    const draft = randomDraft(seed);
    const named = (name: string) => `${name}'`;
    const entries = <T>(record: Record<string, T>) =>
      Object.fromEntries(Object.entries(record).map(([name, value]) => [named(name), value]));
    const other = changed(draft, (copy) => {
      copy.title = 'another';
      copy.films = entries(copy.films);
      copy.dishes = entries(copy.dishes);
      for (const dish of Object.values(copy.dishes)) dish.film = named(dish.film);
      for (const row of copy.rows) Object.assign(row, { name: named(row.name), dish: named(row.dish) });
      for (const facet of copy.facets)
        Object.assign(facet, { name: named(facet.name), film: named(facet.film) });
      for (const thing of [...copy.receivers, ...copy.blockers]) thing.name = named(thing.name);
    });
    const key = (facet: string) => facet.replace(/'/g, '');
    expectAlike(readDraft(draft), readDraft(other, { key }), {
      within: 0,
      named: (name) => (name === 'line' ? "line'" : name.replace('-', "'-")),
    });
  });

  it.each(SEEDS)('%s: one film, or two equal ones: bit for bit', (seed) => {
    const draft = changed(randomDraft(seed), (copy) => {
      copy.films.two = { ...copy.films.one };
    });
    const one = changed(draft, (copy) => {
      copy.films = { one: copy.films.one };
      for (const user of [...Object.values(copy.dishes), ...copy.facets]) user.film = 'one';
    });
    expectAlike(readDraft(draft), readDraft(one), { within: 0 });
  });
});

/** A mirror, a receiver and a post that have nothing to do with the rest. */
function withDistant(draft: SceneDraft, facing: FacetDraft['facing'], east: number): SceneDraft {
  return changed(draft, (copy) => {
    copy.facets.push({
      name: 'distant',
      film: 'one',
      shape: { kind: 'flat' },
      outline: { kind: 'rectangle', length_m: 1, width_m: 1, centre_m: [0, 0] },
      position_m: [east, 1500, 1],
      facing,
      along_azimuth_deg: 90,
      receiver: 'distant',
    });
    copy.receivers.push({ ...copy.receivers[0], name: 'distant', position_m: [east, 1498, 3] });
    copy.blockers.push({
      kind: 'cylinder',
      name: 'distant',
      from_m: [east + 3, 1500, 0],
      to_m: [east + 3, 1500, 2],
      diameter_m: 0.1,
    });
  });
}

describe('things without a part in it', () => {
  it.each(SEEDS)('%s: a lit mirror with its receiver and a post 2 km away: bit for bit', (seed) => {
    const draft = randomDraft(seed);
    const more = readDraft(withDistant(draft, { azimuth_deg: 180, elevation_deg: 70 }, 1500));
    expectAlike(readDraft(draft), more, { within: 0 });
    expect(more.groups.get('distant')!.incident).toBeGreaterThan(100);
  });

  it.each(SEEDS)(
    '%s: a mirror that faces away, behind everything: bit for bit, and nothing itself',
    (seed) => {
      const draft = randomDraft(seed);
      const more = readDraft(withDistant(draft, { azimuth_deg: 0, elevation_deg: -60 }, 0));
      expectAlike(readDraft(draft), more, { within: 0 });
      const distant = more.groups.get('distant')!;
      expect([distant.incident, ...distant.watts, ...distant.counts].every((value) => value === 0)).toBe(
        true,
      );
    },
  );

  it.each(SEEDS)('%s: a receiver out of all light gets exactly nothing and takes nothing', (seed) => {
    const draft = randomDraft(seed);
    const more = changed(draft, (copy) => {
      copy.receivers.push({ ...copy.receivers[0], name: 'dark', position_m: [0, 900, 3] });
    });
    const reading = readDraft(more);
    expectAlike(readDraft(draft), reading, { within: 0 });
    const dark = reading.groups.get('dark')!;
    expect(dark.strayRays).toBe(0);
    expect(dark.map.every((value) => value === 0)).toBe(true);
  });

  it.each(SEEDS)('%s: a bounce limit beyond need: bit for bit', (seed) => {
    const at = (limit: number) =>
      readDraft(
        changed(randomDraft(seed), (copy) => {
          copy.bounce_limit = limit;
        }),
      );
    expectAlike(at(12), at(20), { within: 0 });
  });
});

describe('obstacles', () => {
  it.each(SEEDS)('%s: a blocker more: each ray ends as before or is stopped by it', (seed) => {
    const draft = randomDraft(seed);
    const [x, y, z] = draft.rows[0].centre_m;
    const more = changed(draft, (copy) => {
      copy.blockers.push({
        kind: 'box',
        name: 'board',
        centre_m: [x, y - 0.3, z + 0.9],
        size_m: [2, 0.6, 0.3],
        heading_deg: 70,
      });
    });
    const [before, after] = [
      readDraft(draft, { log2: 6, rayByRay: true }),
      readDraft(more, { log2: 6, rayByRay: true }),
    ];
    let stopped = 0;
    for (const [facet, fates] of before.fates) {
      after.fates.get(facet)!.forEach((fate, ray) => {
        if (fate === fates[ray]) return;
        stopped++;
        expect([Fate.Shaded, Fate.BlockedByBlocker]).toContain(fate);
      });
    }
    expect(stopped).toBeGreaterThan(0);
    for (const [name, group] of before.groups) {
      const other = after.groups.get(name)!;
      for (const fate of [Fate.Intercepted, Fate.InterceptedElsewhere]) {
        expect(other.counts[fate]).toBeLessThanOrEqual(group.counts[fate]);
        expect(other.watts[fate]).toBeLessThanOrEqual(group.watts[fate]);
      }
      expect(other.strayRays).toBeLessThanOrEqual(group.strayRays);
    }
  });

  it.each(SEEDS)('%s: a blocker moved 10 km away: bit for bit as if it were not there', (seed) => {
    const draft = randomDraft(seed);
    const gone = changed(draft, (copy) => {
      copy.blockers = [];
    });
    const away = changed(draft, (copy) => {
      for (const blocker of copy.blockers) {
        if (blocker.kind === 'box') blocker.centre_m[1] += 1e4;
        else {
          blocker.from_m[1] += 1e4;
          blocker.to_m[1] += 1e4;
        }
      }
    });
    expectAlike(readDraft(gone), readDraft(away), { within: 0 });
  });
});
