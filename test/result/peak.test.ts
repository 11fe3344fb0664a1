import { describe, expect, it } from 'vitest';
import {
  type DiscGeometry,
  discKernel,
  discMeans,
  discScale,
  hottestReadings,
  type PeakSearch,
  searchPeak,
} from '../../src/result/peak.js';
import { summarize } from '../../src/result/summarize.js';
import { INCIDENT, REFLECTANCE, syntheticOutcome, syntheticScene } from './synthetic-run.js';

const WINDOW: DiscGeometry = {
  nu: 40,
  nv: 30,
  width: 0.4,
  height: 0.24,
  discDiameter: 0.035,
  wrapsInV: false,
};

describe('the averaging disc', () => {
  it.each([0.002, 0.01, 0.0237, 0.035, 0.1])(
    'a disc of %f m: overlaps with the cells sum to its area',
    (discDiameter) => {
      const kernel = discKernel({ ...WINDOW, discDiameter });
      const area = kernel.area.reduce((sum, part) => sum + part, 0);
      expect(area / ((Math.PI / 4) * discDiameter ** 2)).toBeCloseTo(1, 11);
    },
  );

  it('gives each cell the area that a fine raster of points gives it', () => {
    const kernel = discKernel(WINDOW);
    const cellWidth = 0.01;
    const cellHeight = 0.008;
    const points = 400;
    kernel.area.forEach((area, k) => {
      let inside = 0;
      for (let a = 0; a < points; a++) {
        const x = (kernel.du[k] - 0.5 + (a + 0.5) / points) * cellWidth;
        for (let b = 0; b < points; b++) {
          const y = (kernel.dv[k] - 0.5 + (b + 0.5) / points) * cellHeight;
          if (x * x + y * y <= 0.0175 ** 2) inside++;
        }
      }
      // A raster of 400 x 400 points tells a curved edge to about 1/400 of a cell's side.
      expect(Math.abs(area / (cellWidth * cellHeight) - inside / points ** 2)).toBeLessThan(2e-3);
    });
  });

  it('reads an even map as it is, at the edges too', () => {
    const kernel = discKernel(WINDOW);
    const map = new Float64Array(40 * 30).fill(3 * 0.01 * 0.008);
    for (const mean of discMeans(WINDOW, kernel, discScale(WINDOW, kernel), map, 0)) {
      expect(mean).toBeCloseTo(3, 11);
    }
  });

  it.each([
    ['narrow', 0.02, false],
    ['wide', 0.12, false],
    ['wider than the window', 0.6, false],
    ['round a tube', 0.12, true],
  ] as const)(
    '%s: the means are the sums over the parts inside, cell by cell',
    (_, discDiameter, wrapsInV) => {
      const geometry: DiscGeometry = { ...WINDOW, nu: 9, nv: 7, width: 0.18, discDiameter, wrapsInV };
      const kernel = discKernel(geometry);
      const map = Float64Array.from({ length: 3 + 9 * 7 }, (_, i) => Math.abs(Math.sin(7 * i)));
      const means = discMeans(geometry, kernel, discScale(geometry, kernel), map, 3);
      means.forEach((mean, cell) => {
        let watts = 0;
        let area = 0;
        kernel.area.forEach((part, k) => {
          const iu = (cell % 9) + kernel.du[k];
          let iv = Math.floor(cell / 9) + kernel.dv[k];
          if (wrapsInV) iv = (iv + 7 * kernel.area.length) % 7;
          if (iu < 0 || iu >= 9 || iv < 0 || iv >= 7) return;
          watts += part * map[3 + iv * 9 + iu];
          area += part;
        });
        const cellArea = (0.18 / 9) * (0.24 / 7);
        expect(mean).toBe(watts * (1 / (area * cellArea)));
      });
    },
  );

  it('goes round on a tube: a spot on the seam reads like any other', () => {
    const tube = { ...WINDOW, wrapsInV: true };
    const spotAt = (centre: number) => {
      const map = new Float64Array(40 * 30);
      for (const step of [-1, 0, 1]) map[((centre + step + 30) % 30) * 40 + 20] = step === 0 ? 2 : 1;
      const kernel = discKernel(tube);
      return Math.max(...discMeans(tube, kernel, discScale(tube, kernel), map, 0));
    };
    expect(spotAt(0)).toBeCloseTo(spotAt(15), 11);
    const flat = discKernel(WINDOW);
    const seam = new Float64Array(40 * 30);
    seam[20] = 2;
    seam[40 + 20] = 1;
    seam[29 * 40 + 20] = 1;
    // Sabotage: without going round, the light beyond the seam is missed.
    const cut = discMeans(WINDOW, flat, discScale(tube, discKernel(tube)), seam, 0);
    expect(Math.max(...cut)).toBeLessThan(0.95 * spotAt(15));
  });
});

describe('the peak of an even, noisy disc of light (seeds 1 to 20)', () => {
  const truth = (1e-3 * INCIDENT * REFLECTANCE) / (Math.PI * 0.12 ** 2);
  const geometry = { nu: 64, nv: 64, width: 0.4, height: 0.4, discDiameter: 0.02, wrapsInV: false };
  /** Mean distance from the truth in standard errors: 0 for an unbiased estimate, but for 1 / sqrt(20). */
  let quoted = 0;
  let plain = 0;
  for (let seed = 1; seed <= 20; seed++) {
    const options = { seed, slots: 32, raysPerBatch: 1000, cells: 64, peakDisc: 0.02 };
    const scene = syntheticScene(1, options);
    const outcome = syntheticOutcome(scene, [{ sigma: 0, flatRadius: 0.12 }], options);
    const { value, std_err } = summarize(scene, outcome, '0.0.0', []).result.receivers[0].peak_flux;
    const sum = new Float64Array(scene.layout.length);
    for (const slot of outcome.slots) for (let i = 0; i < sum.length; i++) sum[i] += slot[i];
    const search = searchPeak(geometry, sum, outcome.slots, 1, scene.layout.receivers[0].map);
    quoted += (value - truth) / std_err / 20;
    plain += (1e-3 * search.plainMaximum - truth) / std_err / 20;
  }
  const within = 3 / Math.sqrt(20);

  it('is told without bias', () => {
    expect(Math.abs(quoted)).toBeLessThan(within);
  });

  it('sabotage: the plain maximum fails the same check, by far', () => {
    expect(Math.abs(plain)).toBeGreaterThan(3 * within);
  });
});

describe('the highest peak of twenty alike receivers (seed 3)', () => {
  const options = { seed: 3, slots: 32, raysPerBatch: 400, cells: 41, peakDisc: 0.03 };
  const scene = syntheticScene(20, options);
  const outcome = syntheticOutcome(
    scene,
    scene.field.receivers.map(() => ({ sigma: 0.04 })),
    options,
  );
  const { result } = summarize(scene, outcome, '0.0.0', []);
  const truth =
    (1e-3 * INCIDENT * REFLECTANCE * (1 - Math.exp(-(0.015 ** 2) / (2 * 0.04 ** 2)))) /
    (Math.PI * 0.015 ** 2);

  it('is told within 3 standard errors, though chosen among twenty', () => {
    const { value, std_err } = result.total.peak_flux;
    expect(Math.abs(value - truth)).toBeLessThan(3 * std_err);
  });

  it('sabotage: the highest of the twenty quoted peaks is above it by more than the error', () => {
    const highest = Math.max(...result.receivers.map((receiver) => receiver.peak_flux.value));
    expect(highest - truth).toBeGreaterThan(result.total.peak_flux.std_err);
    expect(
      result.receivers.find((receiver) => receiver.name === result.total.peak_receiver)?.peak_flux.value,
    ).toBe(highest);
    expect(result.total.peak_flux.value).toBeLessThan(highest);
  });

  it('is the receiver itself where there is one', () => {
    const one = summarize(
      syntheticScene(1, options),
      syntheticOutcome(syntheticScene(1, options), [{ sigma: 0.04 }], options),
      '0.0.0',
      [],
    );
    expect(one.result.total.peak_flux).toEqual(one.result.receivers[0].peak_flux);
    expect(one.replicates['total.peak_flux']).toEqual(one.replicates['receivers.R1.peak_flux']);
  });
});

describe('the hottest of several receivers', () => {
  /** A search whose even slots read one number at the place chosen, and whose odd slots read another. */
  const search = (even: number, odd: number): PeakSearch => ({
    readings: Float64Array.of(even, odd, even, odd),
    halves: [
      { cell: 0, flux: even, wholeFlux: (even + odd) / 2 },
      { cell: 0, flux: odd, wholeFlux: (even + odd) / 2 },
    ],
    placeError: 0,
    plainMaximum: Math.max(even, odd),
    cell: 0,
  });

  it('is chosen by one half and read on the other; the place error tells what the choice leaves open', () => {
    // Even slots choose the first, odd slots the second; both choose badly: the third reads highest on the whole.
    const { readings, placeError } = hottestReadings([search(110, 80), search(84, 112), search(109, 111)]);
    // Even slots read the second, odd ones the first: 82 on average.
    expect([...readings]).toEqual([84, 80, 84, 80]);
    // Half the difference of the two chosen, (95 - 98) / 2, and a quarter of the way up to the mean of the third, 110.
    expect(placeError).toBeCloseTo(Math.hypot(1.5, (110 - 82) / 4), 12);
  });

  it('that reads highest itself leaves nothing open', () => {
    expect(hottestReadings([search(100, 100), search(90, 90)]).placeError).toBe(0);
  });
});

describe('what each half of the slots finds', () => {
  it('is the flux on its own slots, and that on all, W/m2', () => {
    const geometry = { nu: 3, nv: 3, width: 0.3, height: 0.3, discDiameter: 0.02, wrapsInV: false };
    // The disc lies within a cell of 0.01 m2. Two batches a slot: 6 W in an even slot are 300 W/m2.
    const slots = [6, 4, 6, 4].map((watts) => Float64Array.of(0, 0, 0, 0, watts, 0, 0, 0, 0));
    const sum = Float64Array.of(0, 0, 0, 0, 20, 0, 0, 0, 0);
    const { halves, plainMaximum, readings } = searchPeak(geometry, sum, slots, 2, 0);
    expect(halves?.map(({ cell }) => cell)).toEqual([4, 4]);
    expect(halves?.[0].flux).toBeCloseTo(300, 9);
    expect(halves?.[1].flux).toBeCloseTo(200, 9);
    for (const half of halves ?? []) expect(half.wholeFlux).toBeCloseTo(250, 9);
    expect(plainMaximum).toBeCloseTo(250, 9);
    [300, 200, 300, 200].forEach((flux, j) => {
      expect(readings[j]).toBeCloseTo(flux, 9);
    });
  });
});
