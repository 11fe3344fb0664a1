/** Irradiance, film, sunshape and receiver changed by known factors. */
import { describe, expect, it } from 'vitest';
import { Fate } from '../../src/kernel/tally.js';
import { momentOf } from '../../src/sun/direction.js';
import { expectAlike, totalOf, unlikeness } from '../support/same-reading.js';
import {
  changed,
  draftText,
  type GroupReading,
  type Reading,
  randomDraft,
  readDraft,
  type SceneDraft,
} from '../support/scene-drafts.js';
import { sceneOf, traceText } from '../support/trace-text.js';

const SEEDS = Array.from({ length: 4 }, (_, i) => `light-${i}`);

function everyFilm(draft: SceneDraft, change: (film: SceneDraft['films'][string]) => void): SceneDraft {
  return changed(draft, (copy) => Object.values(copy.films).forEach(change));
}

/** All apertures of dishes and standing receivers times k; windows and cells stay. */
function apertures(draft: SceneDraft, k: number): SceneDraft {
  return changed(draft, (copy) => {
    const all = [...Object.values(copy.dishes).map((dish) => dish.receiver!), ...copy.receivers];
    for (const { aperture } of all) {
      for (const key of ['diameter_m', 'width_m', 'height_m'] as const) {
        if (aperture[key] !== undefined) aperture[key] *= k;
      }
    }
  });
}

describe('irradiance', () => {
  it.each(SEEDS)('%s: doubled, every power is exactly double', (seed) => {
    const draft = randomDraft(seed);
    const double = changed(draft, (copy) => {
      copy.sun.dni_w_m2 /= 2;
    });
    expectAlike(readDraft(double), readDraft(draft), { factor: 2, within: 0 });
  });

  it.each(SEEDS.slice(0, 3))(
    '%s: doubled, every printed power and flux with its error is double, shares stay',
    async (seed) => {
      const draft = randomDraft(seed);
      const half = changed(draft, (copy) => {
        copy.sun.dni_w_m2 /= 2;
      });
      const options = { rays: 20_000, seed: 'pair' };
      const [one, two] = [
        await traceText(draftText(half), options),
        await traceText(draftText(draft), options),
      ];
      const [a, b] = [one.result.total, two.result.total];
      for (const key of ['intercepted_power', 'reflected_power', 'mean_flux', 'peak_flux'] as const) {
        expect(b[key].value).toBe(2 * a[key].value);
        expect(b[key].std_err).toBe(2 * a[key].std_err);
      }
      for (const key of [
        'spill_fraction',
        'intercept_factor',
        'blocked_fraction',
        'concentration_ratio',
      ] as const) {
        expect(b[key]).toEqual(a[key]);
      }
      for (const [i, receiver] of two.result.receivers.entries()) {
        expect(receiver.spot).toEqual(one.result.receivers[i].spot);
        expect(receiver.opening_for_5_percent_spill_mm).toEqual(
          one.result.receivers[i].opening_for_5_percent_spill_mm,
        );
      }
    },
  );
});

describe('film', () => {
  it.each(SEEDS)('%s: reflectance halved: same fates, light reflected once exactly halved', (seed) => {
    const draft = changed(randomDraft(seed), (copy) => {
      copy.bounce_limit = 1;
    });
    const half = everyFilm(draft, (film) => {
      film.reflectance /= 2;
    });
    const [before, after] = [readDraft(draft), readDraft(half)];
    for (const [name, group] of before.groups) {
      const other = after.groups.get(name)!;
      expect(other.counts).toEqual(group.counts);
      expect(other.incident).toBe(group.incident);
      group.watts.forEach((watts, fate) => {
        // Sunlight that is shaded has met no film, light at the bounce limit has met it twice.
        if (fate === Fate.Shaded) expect(other.watts[fate]).toBe(watts);
        else if (fate !== Fate.Lost) expect(other.watts[fate]).toBe(watts / 2);
      });
      expect(other.map).toEqual(group.map.map((watts) => watts / 2));
    }
  });

  it.each(SEEDS)('%s: light reflected twice is quartered: the watts at the bounce limit', (seed) => {
    const draft = changed(randomDraft(seed), (copy) => {
      copy.bounce_limit = 1;
      // Without scatter no ray is thrown into its own mirror: all that is lost has met two.
      for (const film of Object.values(copy.films)) {
        Object.assign(film, { slope_error_along_mrad: 0, slope_error_across_mrad: 0, specularity_mrad: 0 });
      }
    });
    const half = everyFilm(draft, (film) => {
      film.reflectance /= 2;
    });
    const lost = (reading: Reading) => totalOf(reading, (group) => group.watts[Fate.Lost]);
    const before = lost(readDraft(draft));
    if (seed === SEEDS[0]) expect(before).toBeGreaterThan(0);
    expect(lost(readDraft(half))).toBe(before / 4);
  });

  it.each(SEEDS)('%s: soiling and ageing commute', (seed) => {
    const draft = randomDraft(seed);
    const swapped = everyFilm(draft, (film) => {
      const { soiling_factor, ageing_factor } = film;
      Object.assign(film, { soiling_factor: ageing_factor, ageing_factor: soiling_factor });
    });
    expectAlike(readDraft(draft), readDraft(swapped), { within: 1e-14 });
    // And a factor of one half is the reflectance halved, bit for bit.
    const dirty = everyFilm(draft, (film) => Object.assign(film, { soiling_factor: 0.5, ageing_factor: 1 }));
    const dull = everyFilm(draft, (film) =>
      Object.assign(film, { reflectance: film.reflectance / 2, soiling_factor: 1, ageing_factor: 1 }),
    );
    expectAlike(readDraft(dirty), readDraft(dull), { within: 0 });
  });

  it.each(SEEDS)('%s: slope errors do not change the sunlight on the mirrors, nor its shading', (seed) => {
    const draft = randomDraft(seed);
    const rough = readDraft(
      everyFilm(draft, (film) => {
        film.slope_error_across_mrad = 20;
      }),
    );
    for (const [name, group] of readDraft(draft).groups) {
      const other = rough.groups.get(name)!;
      // The same terms, but rays that miss are added up after those that do not, and others miss now: equal to rounding.
      expect(Math.abs(other.incident - group.incident)).toBeLessThan(1e-13 * group.incident);
      expect(other.watts[Fate.Shaded]).toBe(group.watts[Fate.Shaded]);
      expect(other.counts[Fate.Shaded]).toBe(group.counts[Fate.Shaded]);
    }
  });
});

describe('receivers', () => {
  it.each(SEEDS)(
    '%s: a larger aperture loses no ray but to its own shadow or to what is now in front',
    (seed) => {
      const draft = randomDraft(seed, { bodies: false });
      const options = { log2: 6, rayByRay: true };
      const readings = [0.6, 1, 1.4, 2].map((k) => readDraft(apertures(draft, k), options));
      let gained = 0;
      for (let step = 1; step < readings.length; step++) {
        for (const [facet, fates] of readings[step - 1].fates) {
          readings[step].fates.get(facet)!.forEach((fate, ray) => {
            if (fates[ray] !== Fate.Intercepted) {
              if (fate === Fate.Intercepted) gained++;
              return;
            }
            expect([
              Fate.Intercepted,
              Fate.Shaded,
              Fate.BlockedByReceiver,
              Fate.InterceptedElsewhere,
            ]).toContain(fate);
          });
        }
      }
      expect(gained).toBeGreaterThan(0);
    },
  );

  it.each(SEEDS)('%s: where it casts no shadow, a larger aperture never catches less, to the ray', (seed) => {
    // One dish whose tilt keeps the receiver out of the way of the sun.
    const draft = changed(randomDraft(seed, { bodies: false, strays: false }), (copy) => {
      Object.assign(copy, { rows: [{ ...copy.rows[0], dishes: 1 }], receivers: [], blockers: [] });
      copy.sun.elevation_deg = 60;
      copy.dishes.first.design_tilt_deg = 0;
      copy.dishes.first.tilt_setting_deg = 0;
      copy.dishes.first.design_sun = { azimuth_deg: copy.sun.azimuth_deg!, elevation_deg: 60 };
      copy.dishes.first.blockers = [];
    });
    // Strips may shade one another; that does not hang on the aperture.
    const shaded = new Set<number>();
    const caught = [0.5, 0.75, 1, 1.5, 2].map((k) => {
      const reading = readDraft(apertures(draft, k));
      shaded.add(totalOf(reading, (group) => group.counts[Fate.Shaded]));
      return totalOf(reading, (group) => group.counts[Fate.Intercepted]);
    });
    expect(shaded.size).toBe(1);
    for (let i = 1; i < caught.length; i++) expect(caught[i]).toBeGreaterThanOrEqual(caught[i - 1]);
    expect(caught.at(-1)).toBeGreaterThan(caught[0]);
  });

  it.each(SEEDS)('%s: the map of twice as many cells, summed two by two, is the map', (seed) => {
    const draft = randomDraft(seed);
    const finer = changed(draft, (copy) => {
      for (const dish of Object.values(copy.dishes)) dish.receiver!.cells = [32, 32];
      copy.receivers[0].cells = [32, 32];
    });
    const coarser = changed(finer, (copy) => {
      for (const dish of Object.values(copy.dishes)) dish.receiver!.cells = [16, 16];
      copy.receivers[0].cells = [16, 16];
    });
    const [fine, coarse] = [readDraft(finer), readDraft(coarser)];
    expectAlike(coarse, fine, { within: 0, maps: false });
    for (const [name, group] of coarse.groups) {
      const { map } = fine.groups.get(name)!;
      group.map.forEach((watts, cell) => {
        const [u, v] = [2 * (cell % 16), 2 * Math.floor(cell / 16)];
        const four = [0, 1, 32, 33].reduce((sum, step) => sum + map[v * 32 + u + step], 0);
        expect(Math.abs(four - watts)).toBeLessThanOrEqual(1e-12 * Math.max(watts, four));
      });
    }
  });

  it.each(SEEDS)('%s: the window changes nothing but the map: bit for bit', (seed) => {
    const draft = randomDraft(seed);
    const wider = changed(draft, (copy) => {
      for (const dish of Object.values(copy.dishes)) {
        dish.receiver!.window = { width_m: 1.7, height_m: 1.1 };
        dish.receiver!.cells = [16, 16];
      }
      copy.receivers[0].window = { length_m: 4, width_m: 1 };
    });
    expectAlike(readDraft(draft), readDraft(wider), { within: 0, maps: false });
  });
});

describe('sun', () => {
  it.each(SEEDS)(
    '%s: given by date and time or by the angles these make: counts equal, watts to rounding',
    (seed) => {
      const minutes = 10 + 5 * SEEDS.indexOf(seed);
      const dated = changed(randomDraft(seed), (copy) => {
        copy.site = {
          name: 'Tarn Hollow (invented)',
          latitude_deg: 34.5,
          longitude_deg: -5.2,
          height_m: 450,
        };
        copy.sun = { ...copy.sun, date_time: `2026-03-20T12:${minutes}:00Z` };
        delete copy.sun.azimuth_deg;
        delete copy.sun.elevation_deg;
      });
      const [x, y, z] = momentOf(sceneOf(draftText(dated))).sunDirection;
      const angled = changed(dated, (copy) => {
        delete copy.sun.date_time;
        copy.sun.azimuth_deg = (Math.atan2(x, y) * 180) / Math.PI;
        copy.sun.elevation_deg = (Math.asin(z) * 180) / Math.PI;
      });
      const before = readDraft(dated);
      expect(totalOf(before, (group) => group.incident)).toBeGreaterThan(100);
      expectAlike(before, readDraft(angled), { within: 1e-11 });
      const later = changed(angled, (copy) => {
        copy.sun.azimuth_deg! += 0.01;
      });
      expect(unlikeness(before, readDraft(later))).toBeGreaterThan(1e-8);
    },
  );
});

/** Spilled watts of light that nothing stopped, over all receivers. */
function spilled(group: GroupReading): number {
  return (
    group.watts[Fate.InterceptedElsewhere] +
    group.watts[Fate.SpilledOnReceiver] +
    group.watts[Fate.SpilledOnGround] +
    group.watts[Fate.SpilledToSky]
  );
}

describe('spread', () => {
  /** The spot in the middle of the aperture: beside it, a wider spread could send more light in. */
  const centred = (seed: string) =>
    changed(randomDraft(seed, { bodies: false, strays: false }), (copy) => {
      Object.assign(copy, { receivers: [], blockers: [] });
      copy.sun = { ...copy.sun, azimuth_deg: 180, sunshape: { kind: 'gaussian', sigma_mrad: 2 } };
      for (const row of copy.rows) row.heading_deg = 90;
      for (const dish of Object.values(copy.dishes)) {
        Object.assign(dish, {
          design_tilt_deg: 90 - copy.sun.elevation_deg!,
          tilt_setting_deg: 0,
          blockers: [],
        });
        delete dish.design_sun;
        dish.focal_length_across_row_m = dish.focal_length_along_row_m;
        dish.strips.bend = 'parabola';
        Object.assign(dish.receiver!, { offset_m: [0, 0, 0], faces: 'dish' });
      }
    });

  it.each(SEEDS)('%s: a wider sun, a rougher film, a wider lobe spill more past a tight aperture', (seed) => {
    const draft = centred(seed);
    const spill = (scene: SceneDraft) => totalOf(readDraft(scene, { log2: 9 }), spilled);
    const before = spill(draft);
    const wider = [
      changed(draft, (copy) => {
        copy.sun.sunshape = { kind: 'gaussian', sigma_mrad: 15 };
      }),
      everyFilm(draft, (film) => {
        film.slope_error_across_mrad += 10;
      }),
      everyFilm(draft, (film) => {
        film.specularity_mrad += 20;
      }),
    ];
    for (const scene of wider) expect(spill(scene)).toBeGreaterThan(1.02 * before);
  });
});
