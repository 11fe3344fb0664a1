/**
 * Geometry at its limits. Each case says what must come out and why; whatever it is, no number is NaN or infinite, shares lie
 * in 0 to 1 and the ledger closes (`soundTrace`).
 */
import { describe, expect, it } from 'vitest';
import { Fate } from '../../src/kernel/tally.js';
import { prepareAtMoment } from '../../src/study/trace.js';
import { evenLog2, tallyOfBatch } from '../support/batch.js';
import {
  codesOf,
  type Loose,
  ledgerPower,
  oneDish,
  onePlate,
  refusal,
  soundTrace,
} from '../support/plain-scene.js';
import { raysOf } from '../support/readings.js';
import { sceneOf } from '../support/trace-text.js';

/** Reflected by the whole mirror: 1000 W/m2 x pi/4 m2 x 0.8. */
const FULL = 1000 * (Math.PI / 4) * 0.8;

const flat = (scene: Loose) => {
  scene.facets[0].shape = { kind: 'flat' };
};

describe('facets', () => {
  it('no area: refused', () => {
    const outline = (length: number) => (scene: Loose) => {
      scene.facets[0].outline = { kind: 'rectangle', length_m: length, width_m: 1 };
    };
    expect(refusal(onePlate(outline(0)))).toMatch(
      /facets\[0\]\.outline\.length_m.*too small.*0\.0001 to 500 m/,
    );
    expect(refusal(onePlate(outline(-1)))).toMatch(/too small/);
  });

  it('a tenth of a millimetre square: its 10 microwatts are all there', async () => {
    const summary = await soundTrace(
      onePlate((scene) => {
        scene.facets[0].outline = { kind: 'rectangle', length_m: 1e-4, width_m: 1e-4 };
        scene.facets[0].position_m = [0.3, 0, 0];
        scene.facets[0].facing = {
          azimuth_deg: 270,
          elevation_deg: 90 - (Math.atan(0.3 / 2) * 90) / Math.PI,
        };
      }),
    );
    const { reflected_power, intercept_factor } = summary.result.total;
    expect(reflected_power.value).toBeCloseTo(8e-6 * Math.cos(Math.atan(0.3 / 2) / 2), 10);
    expect(intercept_factor.value).toBe(1);
  });

  it('a hole as large as the mirror: refused; one a hair smaller leaves a ring with the light of its area', async () => {
    const hole = (diameter: number) =>
      onePlate((scene) => {
        scene.facets[0].outline = { kind: 'round', diameter_m: 1, hole_diameter_m: diameter };
      });
    expect(refusal(hole(1))).toMatch(/hole_diameter_m: The hole \(1 m\) is not smaller than the mirror/);
    for (const gap of [1e-3, 1e-10]) {
      const summary = await soundTrace(hole(1 - gap));
      // pi/4 (1 - (1 - g)^2); the difference of squares itself keeps 1e-16 / 1e-10.
      const area = (Math.PI / 4) * gap * (2 - gap);
      expect(Math.abs(summary.result.total.reflected_power.value / (800 * area) - 1)).toBeLessThan(1e-3);
    }
    await soundTrace(hole(1 - 2 ** -53));
  });

  it('edge-on to a point sun, or the sun exactly in its plane: no light, said plainly', async () => {
    const edge = (kind: string) =>
      onePlate((scene) => {
        flat(scene);
        scene.sun.sunshape = { kind };
        scene.sun.elevation_deg = 30;
        scene.facets[0].facing = { azimuth_deg: 0, elevation_deg: 60 };
      });
    // cos 90 degrees is 6e-17 in doubles: the direction may fall on either side, but carries nothing to speak of.
    await soundTrace(edge('point')).then(
      (summary) => expect(summary.result.total.reflected_power.value).toBeLessThan(1e-10),
      (error: Error) => expect(error.message).toMatch(/^No facet faces the sun/),
    );
    // Half of a disc of 4.65 mrad is in front, at a mean sine of 4 a / 3 pi: A DNI rho x half of it.
    const summary = await soundTrace(edge('disc'));
    const expected = FULL * ((4 * 4.65e-3) / (3 * Math.PI)) * 0.5;
    expect(Math.abs(summary.result.total.reflected_power.value / expected - 1)).toBeLessThan(0.01);
    expect(codesOf(summary)).toContain('sun_behind_all_facets');
  });

  it('edge-on to its receiver: grazing light only, none of it within the aperture', async () => {
    const summary = await soundTrace(
      onePlate((scene) => {
        flat(scene);
        Object.assign(scene.receivers[0], {
          position_m: [2, 0, 0],
          facing: { azimuth_deg: 270, elevation_deg: 0 },
          along_azimuth_deg: 0,
        });
      }),
    );
    expect(summary.result.total.intercepted_power.value).toBe(0);
    expect(summary.result.total.spill_fraction.value).toBe(1);
  });

  it('a receiver edge-on to its facet catches only what comes from its front', async () => {
    const summary = await soundTrace(
      onePlate((scene) => {
        scene.receivers[0].facing = { azimuth_deg: 0, elevation_deg: 0 };
      }),
    );
    const { intercepted_power, reflected_power } = summary.result.total;
    // By symmetry front and back get the same: less than half each.
    const back = ledgerPower(summary, 'blocked_by_receiver');
    const error = 4 * Math.SQRT2 * intercepted_power.std_err;
    expect(Math.abs(intercepted_power.value - back)).toBeLessThan(error);
    expect(intercepted_power.value).toBeLessThan(reflected_power.value / 2);
  });

  it.each([
    ['flat, level', { kind: 'flat' }, undefined],
    ['flat, leaning', { kind: 'flat' }, { azimuth_deg: 33, elevation_deg: 77.7 }],
    ['paraboloids', { kind: 'paraboloid', focal_length_m: 2 }, undefined],
    ['toroids', { kind: 'toroid', radius_along_m: 4, radius_across_m: 4.1 }, undefined],
  ])(
    'two in one place (%s): neither hides the other, both count, as nothing is thinner than a surface',
    async (_name, shape, facing) => {
      const scene = (copies: number) =>
        onePlate((draft) => {
          const mirror = { ...draft.facets[0], shape, ...(facing ? { facing } : {}) };
          draft.facets = Array.from({ length: copies }, (_, i) => ({ ...mirror, name: `mirror ${i}` }));
        });
      const [one, two] = [await soundTrace(scene(1)), await soundTrace(scene(2))];
      const ratio = two.result.total.reflected_power.value / one.result.total.reflected_power.value;
      expect(Math.abs(ratio - 2)).toBeLessThan(0.01);
      expect(ledgerPower(two, 'blocked_by_facet')).toBe(0);
    },
  );

  it('two back to back: the upper is lit, the lower is not, neither takes from the other', async () => {
    const summary = await soundTrace(
      onePlate((scene) => {
        flat(scene);
        scene.facets.push({ ...scene.facets[0], name: 'back', facing: { elevation_deg: -90 } });
        scene.receivers[0].aperture.diameter_m = 0.001;
      }),
    );
    const { reflected_power } = summary.result.total;
    expect(Math.abs(reflected_power.value / FULL - 1)).toBeLessThan(1e-3);
  });

  it('two half over one another, a micrometre apart or crossing: the ledger closes, the shaded part is in it', async () => {
    const pair = (second: Loose) =>
      onePlate((scene) => {
        flat(scene);
        scene.facets[0].outline = { kind: 'rectangle', length_m: 1, width_m: 1 };
        scene.facets.push({ ...scene.facets[0], name: 'second', ...second });
        scene.receivers[0].aperture.diameter_m = 0.001;
      });
    // 10 micrometres above the first one's eastern half: that half gets no sun.
    const above = await soundTrace(pair({ position_m: [0.5, 0, 1e-5] }));
    expect(Math.abs(ledgerPower(above, 'shaded') / 500 - 1)).toBeLessThan(0.01);
    // Closer than the least distance of a hit (1 micrometre): as if in one plane.
    const touching = await soundTrace(pair({ position_m: [0.5, 0, 1e-9] }));
    expect(ledgerPower(touching, 'shaded')).toBeLessThan(5);
    // Crossing at 30 degrees: the leaning one shades cos 30 / 2 of the level one, which shades half of it.
    const crossing = await soundTrace(pair({ facing: { azimuth_deg: 90, elevation_deg: 60 } }));
    const halves = 1000 * 0.5 * Math.cos(Math.PI / 6);
    expect(Math.abs(ledgerPower(crossing, 'shaded') / (2 * halves) - 1)).toBeLessThan(0.02);
  });

  it('curved as far as it goes: to 100 nanometres from upright', async () => {
    const square = { kind: 'rectangle', length_m: 1, width_m: 1 };
    const circle = await soundTrace(
      onePlate((scene) => {
        scene.facets[0].outline = square;
        scene.facets[0].shape = { kind: 'bent', curve: 'circle', focal_length_m: 0.25000005 };
      }),
    );
    // A half cylinder of radius r cut at x = 1/2: 2 r asin(1 / 2r), closed form.
    const area = 2 * 0.5000001 * Math.asin(1 / 1.0000002);
    expect(Math.abs(circle.result.total.mirror_area_m2 / area - 1)).toBeLessThan(1e-12);
    // The same with the slightest bend across: the area must not jump.
    const toroid = await soundTrace(
      onePlate((scene) => {
        scene.facets[0].outline = square;
        scene.facets[0].shape = { kind: 'toroid', radius_along_m: 0.5000001, radius_across_m: 2000 };
      }),
    );
    expect(Math.abs(toroid.result.total.mirror_area_m2 / area - 1)).toBeLessThan(1e-6);
    for (const shape of [
      { kind: 'bent', curve: 'circle', focal_length_m: 0.25 },
      { kind: 'toroid', radius_along_m: 0.5, radius_across_m: 2000 },
    ]) {
      const upright = onePlate((scene) => Object.assign(scene.facets[0], { outline: square, shape }));
      expect(refusal(upright)).toMatch(/The outline reaches beyond the curve of the mirror/);
    }
  });

  it('focal lengths of a centimetre and a kilometre; beyond them refused', async () => {
    const focal = (length: number, change: (scene: Loose) => void = () => {}) =>
      onePlate((scene) => {
        scene.facets[0].shape.focal_length_m = length;
        change(scene);
      });
    // A mirror 50 focal lengths wide: sunlight falls into it as into a well, and its area is that of the walls.
    const deep = await soundTrace(focal(0.01));
    // Closed form of a paraboloid's area: (8 pi f^2 / 3) ((1 + (r / 2f)^2)^(3/2) - 1).
    const area = ((8 * Math.PI * 1e-4) / 3) * ((1 + 625) ** 1.5 - 1);
    expect(Math.abs(deep.result.total.mirror_area_m2 / area - 1)).toBeLessThan(1e-12);
    // A kilometre away the sun alone makes a spot of 9.3 m, the film's 2 x 2 and 1 mrad per axis somewhat more.
    const far = await soundTrace(
      focal(1000, (scene) => {
        scene.receivers[0].position_m = [500, 0, 1000];
        scene.receivers[0].aperture.diameter_m = 30;
        scene.facets[0].facing = { azimuth_deg: 90, elevation_deg: 90 - (Math.atan(0.5) * 90) / Math.PI };
      }),
    );
    expect(far.result.total.intercept_factor.value).toBeGreaterThan(0.8);
    expect(refusal(focal(0.009))).toMatch(/focal_length_m is 0\.009: too small.*0\.01 to 1000 m/);
    expect(refusal(focal(1e4))).toMatch(/focal_length_m is 10000: too large/);
  });
});

describe('receivers', () => {
  it('nearly no size: nearly all light spills, and the bound on the flux is wide, not wrong', async () => {
    for (const aperture of [
      { kind: 'plate', aperture: { shape: 'round', diameter_m: 1e-4 } },
      {
        kind: 'plate',
        aperture: { shape: 'round', diameter_m: 1e-4 },
        window: { width_m: 1e-4, height_m: 1e-4 },
      },
      { kind: 'plate', aperture: { shape: 'rectangle', width_m: 1e-4, height_m: 50 } },
      { kind: 'tube', aperture: { diameter_m: 1e-4, length_m: 1e-4 } },
      { kind: 'line_plate', aperture: { length_m: 1e-4, width_m: 1e-4 } },
    ]) {
      const summary = await soundTrace(
        onePlate((scene) => {
          scene.receivers = [{ name: 'small', position_m: [0, 0, 2], ...aperture }];
        }),
      );
      const { spill_fraction, peak_flux } = summary.result.total;
      expect(spill_fraction.value).toBeGreaterThan(0.95);
      // The true peak lies near 1 MW/m2; where the map's cells are that small the bound must reach it.
      if (aperture.aperture.shape === 'round') expect(peak_flux.ci95[1]).toBeGreaterThan(500);
    }
    expect(
      refusal(
        onePlate((scene) => {
          scene.receivers[0].aperture.diameter_m = 0;
        }),
      ),
    ).toMatch(/diameter_m is 0: too small/);
  });

  it('one that shades the whole mirror, by its aperture or its body: no light, said so, nothing else', async () => {
    for (const part of [
      { aperture: { shape: 'round', diameter_m: 1.2 } },
      { body: { shape: 'round', diameter_m: 1.3, depth_m: 0.2 } },
    ]) {
      const summary = await soundTrace(onePlate((scene) => Object.assign(scene.receivers[0], part)));
      expect(ledgerPower(summary, 'shaded')).toBeCloseTo(1000 * (Math.PI / 4), 0);
      expect(codesOf(summary)).toContain('no_light');
      expect(summary.result.answer).toMatch(/^No light leaves the mirrors, so there is no spot to fit\./);
      // Nothing was measured: the shares may be anything.
      expect(summary.result.total.spill_fraction.ci95).toEqual([0, 1]);
      expect(summary.result.total.intercept_factor.ci95).toEqual([0, 1]);
    }
  });

  it('in the plane of the mirror, either way up: warned, nothing caught', async () => {
    for (const elevation of [-90, 90]) {
      const summary = await soundTrace(
        onePlate((scene) => {
          flat(scene);
          scene.receivers[0].position_m = [0, 0, 0];
          scene.receivers[0].facing = { elevation_deg: elevation };
        }),
      );
      expect(codesOf(summary)).toContain('receiver_behind_mirror');
      expect(summary.result.total.intercepted_power.value).toBe(0);
    }
  });

  it('behind the mirror: warned, nothing caught', async () => {
    for (const elevation of [-90, 90]) {
      const summary = await soundTrace(
        onePlate((scene) => {
          scene.receivers[0].position_m = [0, 0, -2];
          scene.receivers[0].facing = { elevation_deg: elevation };
        }),
      );
      expect(codesOf(summary)).toContain('receiver_behind_mirror');
      expect(summary.result.total.intercepted_power.value).toBe(0);
      expect(summary.result.total.spill_fraction.value).toBe(1);
    }
  });

  it('a tube through the mirror, or round all of it', async () => {
    const tube = (diameter: number) =>
      onePlate((scene) => {
        scene.receivers = [
          {
            name: 'tube',
            kind: 'tube',
            aperture: { diameter_m: diameter, length_m: 20 },
            position_m: [0, 0, 0],
          },
        ];
      });
    expect(codesOf(await soundTrace(tube(0.2)))).toContain('receiver_behind_mirror');
    // It is opaque from within as well.
    expect(codesOf(await soundTrace(tube(10)))).toContain('no_light');
  });

  it('maps at the limits of cells, and one row of cells refused', async () => {
    const cells = (u: number, v: number) =>
      onePlate((scene) => {
        scene.receivers[0].cells = [u, v];
      });
    const coarse = await soundTrace(cells(4, 4));
    const wide = await soundTrace(cells(4, 1024));
    const high = await soundTrace(cells(1024, 4));
    for (const summary of [coarse, wide, high]) {
      const [{ flux, nu, nv, width, height }] = summary.grids;
      const power = (flux.reduce((sum, value) => sum + value, 0) * 1000 * width * height) / (nu * nv);
      const { intercepted_power } = summary.result.total;
      expect(Math.abs(power / intercepted_power.value - 1)).toBeLessThan(1e-9);
    }
    expect(refusal(cells(64, 1))).toMatch(/cells\[1\] is 1: too small.*4 to 1024/);
    expect(refusal(cells(64, 1025))).toMatch(/too large/);
  });

  it('a dish receiver shifted onto the dish or onto its axis: refused in one sentence', async () => {
    const at = (offset: number[]) =>
      oneDish((scene) => {
        scene.dishes.seven.design_tilt_deg = 0;
        scene.dishes.seven.receiver.offset_m = offset;
      });
    await expect(soundTrace(at([0, 0, -2]))).rejects.toThrow(
      /^receiver A-1: it stands on the dish's centre$/,
    );
    await expect(soundTrace(at([1, 0, -2]))).rejects.toThrow(/^receiver A-1: it looks along the row's axis/);
  });
});

describe('place and sun', () => {
  it.each([1000, 19_990])('a dish %d m from the origin is the dish at the origin', async (metres) => {
    const away = (by: number) =>
      oneDish((scene) => {
        scene.rows[0].centre_m = [by, -by, 1];
      });
    const [here, there] = [await soundTrace(away(0)), await soundTrace(away(metres))];
    for (const key of ['intercepted_power', 'reflected_power'] as const) {
      const [a, b] = [here.result.total[key].value, there.result.total[key].value];
      expect(Math.abs(b / a - 1)).toBeLessThan(1e-8);
    }
    expect(there.result.total.ledger.lines.map(({ rays }) => rays)).toEqual(
      here.result.total.ledger.lines.map(({ rays }) => rays),
    );
  });

  it('more than 20 km from the origin: refused', () => {
    const far = oneDish((scene) => {
      scene.rows[0].centre_m = [20_001, 0, 1];
    });
    expect(refusal(far)).toMatch(/centre_m\[0\] is 20001: too large/);
  });

  it('sun on the horizon: a mirror that looks at it works as any other, with a warning', async () => {
    const summary = await soundTrace(
      onePlate((scene) => {
        scene.sun.elevation_deg = 0;
        scene.facets[0].facing = { azimuth_deg: 180, elevation_deg: 0 };
        Object.assign(scene.receivers[0], {
          position_m: [0, -2, 0],
          facing: { azimuth_deg: 0, elevation_deg: 0 },
        });
        scene.ground = { height_m: -1 };
      }),
    );
    expect(Math.abs(summary.result.total.reflected_power.value / (FULL * 0.99) - 1)).toBeLessThan(2e-3);
    expect(codesOf(summary)).toContain('sun_below_horizon');
  });

  it('sun below the horizon: refused, by angle and by date', async () => {
    const low = onePlate((scene) => {
      scene.sun.elevation_deg = -0.1;
    });
    expect(refusal(low)).toMatch(/sun\.elevation_deg is -0\.1: too small.*0 to 90 degrees/);
    const night = onePlate((scene) => {
      scene.sun = { date_time: '2026-03-20T00:00:00Z', dni_w_m2: 900 };
      scene.site = { name: 'Tarn Hollow (invented)', latitude_deg: 0, longitude_deg: 0, height_m: 0 };
    });
    await expect(soundTrace(night)).rejects.toThrow(/^the sun stands 8\d\.\d\d degrees below the horizon/);
  });

  it('sun exactly overhead: whatever its azimuth, the same light', async () => {
    const from = (azimuth: number) =>
      soundTrace(
        onePlate((scene) => {
          scene.sun.azimuth_deg = azimuth;
        }),
      );
    const [one, two] = [await from(0), await from(137)];
    const [a, b] = [one.result.total.intercepted_power.value, two.result.total.intercepted_power.value];
    expect(Math.abs(b / a - 1)).toBeLessThan(1e-9);
  });

  it('a table of sunshape with a single spike is a point; a ring of light has nothing in its middle', async () => {
    const table = (angle: number[], radiance: number[]) =>
      soundTrace(
        onePlate((scene) => {
          scene.sun.sunshape = { kind: 'table', angle_mrad: angle, radiance };
        }),
      );
    expect((await table([0, 1e-9], [1, 0])).result.total.intercept_factor.value).toBe(1);
    expect((await table([0, 4, 5], [1e-300, 1e-300, 0])).result.total.intercept_factor.value).toBe(1);
    expect((await table([0, 99, 100], [0, 0, 1e9])).result.total.intercepted_power.value).toBe(0);
  });
});

describe('ground and blockers', () => {
  it('ground through the dish, or above everything: warned; sunlight is not stopped by it', async () => {
    const ground = (height: number) =>
      oneDish((scene) => {
        scene.ground = { height_m: height };
      });
    const through = await soundTrace(ground(1));
    const above = await soundTrace(ground(10));
    const none = await soundTrace(oneDish());
    expect(codesOf(through)).toContain('mirror_below_ground');
    expect(codesOf(above)).toEqual(expect.arrayContaining(['mirror_below_ground', 'receiver_below_ground']));
    for (const summary of [through, above]) {
      // The same rays are caught; near the ground they go the long way, where their watts are added in another order.
      const share = summary.result.total.intercepted_power.value / none.result.total.intercepted_power.value;
      expect(Math.abs(share - 1)).toBeLessThan(1e-13);
    }
  });

  it.each([
    ['box', { kind: 'box', centre_m: [0, 0, 0], size_m: [2, 2, 1] }],
    ['cylinder', { kind: 'cylinder', from_m: [0, 0, -1], to_m: [0, 0, 1], diameter_m: 3 }],
    ['box round everything', { kind: 'box', centre_m: [0, 0, 0], size_m: [20, 20, 20] }],
  ])('a blocker that encloses the mirror (%s): all shaded, warned', async (_name, blocker) => {
    const summary = await soundTrace(
      onePlate((scene) => {
        scene.blockers = [blocker];
      }),
    );
    expect(codesOf(summary)).toEqual(expect.arrayContaining(['blocker_on_mirror', 'no_light']));
    expect(ledgerPower(summary, 'shaded')).toBeCloseTo(1000 * (Math.PI / 4), 0);
  });

  it('a blocker that encloses the receiver: all light that is reflected is blocked', async () => {
    const summary = await soundTrace(
      onePlate((scene) => {
        scene.blockers = [{ kind: 'box', centre_m: [0, 0, 2], size_m: [0.5, 0.5, 0.5] }];
      }),
    );
    const { blocked_fraction, intercepted_power } = summary.result.total;
    expect(blocked_fraction.value).toBe(1);
    expect(intercepted_power.value).toBe(0);
    // Light that only the box's shadow keeps from the mirror: 0.25 m2 of it.
    expect(Math.abs(ledgerPower(summary, 'shaded') / 250 - 1)).toBeLessThan(0.02);
  });

  it('a blocker without length: refused', () => {
    const post = onePlate((scene) => {
      scene.blockers = [{ kind: 'cylinder', from_m: [0, 0, 1], to_m: [0, 0, 1], diameter_m: 1 }];
    });
    expect(refusal(post)).toMatch(/blockers\[0\]\.to_m: Both ends of the cylinder are the same point/);
  });
});

describe('film', () => {
  it('reflectance 0: no light leaves, shares are 0 over 0 and still numbers', async () => {
    for (const film of [{ reflectance: 0 }, { soiling_factor: 0 }, { ageing_factor: 0 }]) {
      const summary = await soundTrace(onePlate((scene) => Object.assign(scene.films.film, film)));
      expect(summary.result.total.reflected_power.value).toBe(0);
      expect(codesOf(summary)).toContain('no_light');
      expect(summary.result.answer).toMatch(/^No light leaves the mirrors/);
    }
  });

  it('slope error and scatter at their limits: most light misses, none is lost from the books', async () => {
    const rough = onePlate((scene) => {
      scene.films.film = { reflectance: 1, slope_error_mrad: 60, specularity_mrad: 60 };
    });
    const { spill_fraction } = (await soundTrace(rough)).result.total;
    expect(spill_fraction.value).toBeGreaterThan(0.95);
    const beyond = onePlate((scene) => {
      scene.films.film.slope_error_mrad = 61;
    });
    expect(refusal(beyond)).toMatch(/slope_error_mrad is 61: too large.*0 to 60 mrad/);
  });

  it('a lobe of no weight has no part in it', async () => {
    const lobes = (weights: Loose) =>
      onePlate((scene) => {
        scene.films.film = { reflectance: 0.8, slope_error_mrad: 2, ...weights };
      });
    const one = await soundTrace(lobes({ specularity_mrad: 1 }));
    const two = await soundTrace(
      lobes({
        lobes: [
          { weight: 0, sigma_mrad: 60 },
          { weight: 1, sigma_mrad: 1 },
        ],
      }),
    );
    expect(two.result.total.intercepted_power).toEqual(one.result.total.intercepted_power);
  });
});

describe('many dishes and rows in one place', () => {
  it('two rows on top of one another: each counts, neither hides the other', async () => {
    const rows = (count: number) =>
      oneDish((scene) => {
        scene.rows = ['A', 'B'].slice(0, count).map((name) => ({ ...scene.rows[0], name }));
      });
    const [one, two] = [await soundTrace(rows(1)), await soundTrace(rows(2))];
    const ratio = two.result.total.intercepted_power.value / one.result.total.intercepted_power.value;
    expect(Math.abs(ratio - 2)).toBeLessThan(0.01);
  });

  it('a row a tenth of a millimetre behind another: the front one shades it, and the overlap is warned of', async () => {
    const summary = await soundTrace(
      oneDish((scene) => {
        scene.rows[0].rows = 2;
        scene.rows[0].row_spacing_m = 1e-4;
      }),
    );
    expect(codesOf(summary)).toContain('rows_overlap');
    const { available_w } = summary.result.total.ledger;
    expect(ledgerPower(summary, 'shaded')).toBeGreaterThan(0.4 * available_w);
  });

  it('a tilt that turns the mirrors up on edge: warned', async () => {
    const summary = await soundTrace(
      oneDish((scene) => {
        scene.dishes.seven.tilt_setting_deg = 90;
      }),
    );
    expect(codesOf(summary)).toContain('receiver_behind_mirror');
  });

  it('a focus on a strip, or behind the dish: refused in one sentence', async () => {
    const focus = (point: number[], change: (scene: Loose) => void = () => {}) =>
      oneDish((scene) => {
        scene.dishes.seven.focus_m = point;
        scene.dishes.seven.receiver.offset_m = [0, 0, 1];
        change(scene);
      });
    await expect(soundTrace(focus([0, 0, 0]))).rejects.toThrow(
      /^dish seven, strip 4: the focus lies on the strip$/,
    );
    await expect(soundTrace(focus([0, 0, -1]))).rejects.toThrow(
      /^dish seven, strip 4: the design sun and the focus lie on opposite sides of it$/,
    );
  });

  it('2000 dishes in a row: loaded, laid out, traced; 2001 refused', () => {
    const row = (dishes: number) =>
      oneDish((scene) => {
        Object.assign(scene.rows[0], { dishes, pitch_m: 1.35 });
        scene.dishes.seven.strips = { count: 1, width_m: 1, length_m: 1.2 };
        scene.dishes.seven.receiver.cells = 4;
      });
    expect(refusal(row(2001))).toMatch(/dishes is 2001: too large.*1 to 2000/);
    // One batch: figures of so many receivers take longer than their light.
    const scene = sceneOf(row(2000));
    const prepared = prepareAtMoment(scene);
    expect(prepared.field.receivers).toHaveLength(2000);
    const tally = tallyOfBatch(prepared, evenLog2(prepared, 5), 'degenerate');
    expect(tally.every(Number.isFinite)).toBe(true);
    expect(raysOf(prepared, tally, Fate.Intercepted)).toBeGreaterThan(2000);
  });
});
