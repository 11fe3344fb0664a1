import seedrandom from 'seedrandom';
import { describe, expect, it } from 'vitest';
import { addScaled, dot, norm, normalise, rejectFrom, subtract } from '../../src/field/vector.js';
import type { Vec3 } from '../../src/scene/types.js';
import type { LossForm } from '../../src/study/loss-form.js';
import { type FittedTrack, fitTrack, fitTracks } from '../../src/study/track-fit.js';
import type { TrackPoint } from '../../src/study/track-points.js';
import { arcThrough, type Track, trackAt, trackPath } from '../../src/study/track-shape.js';
import { trackTerms } from '../../src/study/track-terms.js';

/** 1 % lost 30 mm off, alike in all directions. */
const EVEN: LossForm = [
  [0.01 / 900, 0, 0],
  [0, 0.01 / 900, 0],
  [0, 0, 0.01 / 900],
];

function normalOf(seed: string): () => number {
  const random = seedrandom(seed);
  return () => Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
}

/** A form of random axes: forgiving in one direction, strict in another. */
function randomForm(normal: () => number): LossForm {
  const rows = [0, 1, 2].map((): Vec3 => [normal(), normal(), normal()]);
  const entry = (i: number, j: number) =>
    rows.reduce((sum, row) => sum + row[i] * row[j], 0) * 1e-5 + (i === j ? 1e-6 : 0);
  return [0, 1, 2].map((i) => [entry(i, 0), entry(i, 1), entry(i, 2)]) as unknown as LossForm;
}

function pointAt(position: Vec3, form: LossForm, i = 0, power_w = 1000): TrackPoint {
  return { day: 80, minute: 480 + 20 * i, position, power_w, hours: 100, lossPerMm2: form };
}

/** Points at distances of a track, each with its own form and weight, moved by noise (m) in all directions. */
function pointsOn(track: Track, distances: readonly number[], seed: string, noise = 0): TrackPoint[] {
  const normal = normalOf(seed);
  return distances.map((s, i) => {
    const form = randomForm(normal);
    const power = 500 + 500 * Math.abs(normal());
    const moved = trackAt(track, s).map((value) => value + noise * normal()) as unknown as Vec3;
    return pointAt(moved, noise > 0 ? EVEN : form, i, noise > 0 ? 1000 : power);
  });
}

function spread(from: number, to: number, count: number): number[] {
  return Array.from({ length: count }, (_, i) => from + ((to - from) * i) / (count - 1));
}

const TILTED: Track = { kind: 'tilted', origin: [1, 0.4, 2.1], direction: normalise([1, 0.05, -0.08]) };
const LEVEL: Track = { kind: 'level', origin: [1, 0.4, 2.1], direction: [1, 0, 0] };
/** Radius 1.7 m in a plane that leans 20 degrees from upright, bulging up at its middle. */
const LEAN = (20 * Math.PI) / 180;
const ARC: Track = {
  kind: 'arc',
  origin: [0.3, 0.1, 2.4],
  direction: [1, 0, 0],
  bend: [0, -Math.sin(LEAN) / 1.7, -Math.cos(LEAN) / 1.7],
};
const KNEE: Track = {
  kind: 'knee',
  origin: [0.25, 0.1, 2.2],
  before: normalise([1, 0.02, 0.15]),
  direction: normalise([1, -0.04, -0.22]),
};

function worstMiss(fit: FittedTrack): number {
  return Math.max(
    ...fit.ready.map(({ point }, i) => norm(subtract(trackAt(fit.track, fit.distances[i]), point.position))),
  );
}

const EXACT: readonly [Track, number[]][] = [
  [LEVEL, spread(-1.5, 1.8, 9)],
  [TILTED, spread(-1.5, 1.8, 9)],
  [ARC, spread(-1.6, 1.7, 13)],
  [KNEE, spread(-1.4, 1.9, 12)],
];

describe('points on a track give it back', () => {
  it.each(EXACT)('$kind, whatever the loss forms', (track, distances) => {
    for (let seed = 0; seed < 8; seed++) {
      const fit = fitTrack(track.kind, pointsOn(track, distances, `exact-${seed}`));
      expect(worstMiss(fit)).toBeLessThan(1e-7);
      expect(fit.meanLoss).toBeLessThan(1e-9);
      expect(fit.to - fit.from).toBeCloseTo(distances[distances.length - 1] - distances[0], 6);
      // Sabotage: one point moved by 1 mm is seen.
      const points = pointsOn(track, distances, `exact-${seed}`);
      const [x, y, z] = points[3].position;
      points[3] = { ...points[3], position: [x, y + 0.001, z] };
      expect(worstMiss(fitTrack(track.kind, points))).toBeGreaterThan(1e-5);
    }
  });

  it('terms of the arc: radius, sag, chord, bulge', () => {
    const terms = trackTerms(fitTrack('arc', pointsOn(ARC, spread(-1.6, 1.7, 13), 'arc')));
    expect(terms.radius_m.value).toBeCloseTo(1.7, 6);
    // Closed form: angle 3.3/1.7; sag R (1 - cos(angle/2)), chord 2 R sin(angle/2).
    expect(terms.sag_mm.value).toBeCloseTo(1700 * (1 - Math.cos(3.3 / 3.4)), 3);
    expect(terms.chord_m.value).toBeCloseTo(3.4 * Math.sin(3.3 / 3.4), 6);
    expect(terms.bulge_from_up_deg.value).toBeCloseTo(20, 2);
    expect(terms.length_m.value).toBeCloseTo(3.3, 6);
    expect(terms.middle_x_m.value).toBeCloseTo(trackAt(ARC, 0.05)[0], 6);
  });

  it('terms of the straight track', () => {
    const terms = trackTerms(fitTrack('tilted', pointsOn(TILTED, spread(-1.5, 1.8, 9), 'tilted')));
    expect(terms.tilt_deg.value).toBeCloseTo((Math.atan2(-0.08, Math.hypot(1, 0.05)) * 180) / Math.PI, 5);
    expect(terms.turn_deg.value).toBeCloseTo((Math.atan2(0.05, 1) * 180) / Math.PI, 5);
    const end = trackAt(TILTED, 1.8);
    expect([terms.end_x_m.value, terms.end_y_m.value, terms.end_z_m.value]).toEqual(
      end.map((v) => expect.closeTo(v, 6)),
    );
    expect(terms.end_x_m.unit).toBe('m');
    expect(terms.tilt_deg.unit).toBe('deg');
  });

  it('terms of the knee', () => {
    const terms = trackTerms(fitTrack('knee', pointsOn(KNEE, spread(-1.4, 1.9, 12), 'knee')));
    expect(terms.knee_x_m.value).toBeCloseTo(0.25, 6);
    expect(terms.knee_z_m.value).toBeCloseTo(2.2, 6);
    expect(terms.knee_from_start_m.value).toBeCloseTo(1.4, 6);
    expect(terms.first_tilt_deg.value).toBeCloseTo(
      (Math.atan2(0.15, Math.hypot(1, 0.02)) * 180) / Math.PI,
      5,
    );
    const bend = Math.acos(dot(normalise([1, 0.02, 0.15]), normalise([1, -0.04, -0.22])));
    expect(terms.knee_bend_deg.value).toBeCloseTo((bend * 180) / Math.PI, 5);
  });

  it('an arc through points in line is straight, without a radius', () => {
    const fit = fitTrack('arc', pointsOn(TILTED, spread(-1.5, 1.8, 9), 'straight'));
    const terms = trackTerms(fit);
    expect(worstMiss(fit)).toBeLessThan(1e-6);
    expect(terms.sag_mm.value).toBeLessThan(1e-3);
    expect(terms.radius_m).toBeUndefined();
  });

  it('a track across the row, or upright, is found too', () => {
    for (const direction of [
      [0, 1, 0],
      [0, 0, 1],
      [0.01, -1, 0.2],
    ] as const) {
      const track: Track = { kind: 'tilted', origin: [1, 2, 3], direction: normalise(direction) };
      expect(worstMiss(fitTrack('tilted', pointsOn(track, spread(-1, 1, 7), 'across')))).toBeLessThan(1e-7);
    }
  });

  it('the arc through three places', () => {
    const places = [-0.9, 0.2, 1.1].map((s) => trackAt(ARC, s));
    const arc = arcThrough(places[0], places[1], places[2]);
    if (arc.kind !== 'arc') throw new Error('no arc');
    expect(1 / norm(arc.bend)).toBeCloseTo(1.7, 10);
    expect(norm(subtract(trackAt(arc, 0.9), places[2]))).toBeLessThan(1e-12);
    expect(norm(subtract(trackAt(arc, -1.1), places[0]))).toBeLessThan(1e-12);
  });
});

describe('noise of 2 mm', () => {
  const SEEDS = 40;
  const cases: [Track, number[], string[]][] = [
    [LEVEL, spread(-1.5, 1.8, 25), ['start_z_m', 'start_x_m', 'length_m']],
    [TILTED, spread(-1.5, 1.8, 25), ['tilt_deg', 'turn_deg', 'start_x_m', 'end_z_m', 'length_m']],
    [
      ARC,
      spread(-1.6, 1.7, 25),
      ['radius_m', 'sag_mm', 'chord_m', 'start_z_m', 'chord_tilt_deg', 'bulge_from_up_deg'],
    ],
    [
      KNEE,
      spread(-1.4, 1.9, 25),
      ['knee_x_m', 'knee_z_m', 'knee_from_start_m', 'first_tilt_deg', 'length_m'],
    ],
  ];
  it.each(cases)('$kind: the errors of its terms hold the truth', (track, distances, terms) => {
    const even = (noise: number, seed: string) => pointsOn(track, distances, seed, noise);
    const truth = trackTerms(fitTrack(track.kind, even(1e-12, 'truth')));
    const inside = new Map(terms.map((term) => [term, 0]));
    let inThird = 0;
    for (let seed = 0; seed < SEEDS; seed++) {
      const found = trackTerms(fitTrack(track.kind, even(0.002, `noise-${seed}`)));
      for (const term of terms) {
        const { value, std_err, ci95 } = found[term];
        const off = Math.abs(value - truth[term].value);
        expect(off, term).toBeLessThan(5 * std_err);
        if (off <= ci95[1] - value) inside.set(term, (inside.get(term) ?? 0) + 1);
        if (off <= (ci95[1] - value) / 3) inThird++;
      }
    }
    // 38 of 40 are expected; fewer than 33 have a chance of 0.1 % (binomial), and seeds are fixed.
    for (const [term, count] of inside) expect(count, term).toBeGreaterThanOrEqual(33);
    // Sabotage: errors of a third hold it in half the cases.
    expect(inThird / terms.length).toBeLessThan(30);
  });
});

describe('weights', () => {
  const distances = spread(-1.6, 1.7, 13);

  it('a point that catches nothing does not matter', () => {
    const points = pointsOn(ARC, distances, 'weights', 0.002);
    const stray = pointAt([4, 3, 9], EVEN, 20, 0);
    for (const kind of ['level', 'tilted', 'arc', 'knee'] as const) {
      const without = fitTrack(kind, points);
      const withStray = fitTrack(kind, [stray, ...points]);
      expect(withStray.track).toEqual(without.track);
      expect([withStray.from, withStray.to, withStray.meanLoss]).toEqual([
        without.from,
        without.to,
        without.meanLoss,
      ]);
      expect(withStray.distances.slice(1)).toEqual(without.distances);
      // Sabotage: with a little power it does.
      expect(fitTrack(kind, [{ ...stray, power_w: 10 }, ...points]).track).not.toEqual(without.track);
    }
  });

  it('a level track between two heights lies at the mean weighted by power x hours and by the loss forms', () => {
    const stricter = EVEN.map((row) => row.map((value) => 3 * value)) as unknown as LossForm;
    const points = [
      { ...pointAt([0, 0, 2], EVEN), power_w: 2000, hours: 50 },
      { ...pointAt([1, 0, 2.01], stricter), power_w: 500, hours: 200 },
    ];
    // Worked by hand: weights 100 and 300; 10 mm apart: 7.5 mm up, losses (7.5^2 + 3 x 2.5^2)/2 x form.
    const fit = fitTrack('level', points);
    expect(trackTerms(fit).start_z_m.value).toBeCloseTo(2.0075, 8);
    expect(fit.meanLoss).toBeCloseTo((((7.5 ** 2 + 3 * 2.5 ** 2) / 2) * 0.01) / 900, 10);
  });

  it('losses decide, not distances: what is free across the row is given up for what is not', () => {
    const strictUp: LossForm = [
      [1e-5, 0, 0],
      [0, 1e-9, 0],
      [0, 0, 1e-4],
    ];
    // Two times of day: best places at like heights, once to the side with a form that forgives sides.
    const points = [0, 1, 2]
      .map((i) => pointAt([i, 0, 2], EVEN, i))
      .concat(pointAt([3, 0.2, 2], strictUp, 3));
    const fit = fitTrack('level', points);
    expect(Math.abs(trackTerms(fit).start_y_m.value)).toBeLessThan(1e-3);
    const plain = fitTrack(
      'level',
      points.map((point) => ({ ...point, lossPerMm2: EVEN })),
    );
    expect(trackTerms(plain).start_y_m.value).toBeCloseTo(0.05, 6);
  });

  it('no track of the same kind nearby loses less', () => {
    const points = pointsOn(ARC, distances, 'least', 0.01);
    for (const fit of fitTracks(points)) {
      const lossOf = (track: Track) =>
        fit.ready.reduce((sum, { point }) => {
          const tries = trackPath(track, fit.from - 0.1, fit.to + 0.1, 1e-3).map((place) =>
            norm(subtract(place, point.position)),
          );
          return sum + Math.min(...tries) ** 2;
        }, 0);
      const least = lossOf(fit.track);
      for (let i = 0; i < fit.parameters.length; i++) {
        for (const step of [-2e-3, 2e-3]) {
          const other = fit.withParameters(
            fit.parameters.map((value, j) => (j === i ? value + step : value)),
          );
          expect(lossOf(other.track)).toBeGreaterThan(least);
        }
      }
    }
  });

  it('richer kinds never lose more, however one-sided the forms', () => {
    for (let seed = 0; seed < 12; seed++) {
      const normal = normalOf(`kinds-${seed}`);
      const points = distances.map((s, i) => {
        const [x, y, z] = trackAt(ARC, s);
        return pointAt(
          [x, y + 0.05 * normal(), z + 0.05 * normal()],
          randomForm(normal),
          i,
          1000 * Math.abs(normal()),
        );
      });
      const [level, tilted, arc, knee] = fitTracks(points);
      expect(tilted.meanLoss).toBeLessThanOrEqual(level.meanLoss + 1e-12);
      expect(arc.meanLoss).toBeLessThanOrEqual(tilted.meanLoss + 1e-12);
      expect(knee.meanLoss).toBeLessThanOrEqual(tilted.meanLoss + 1e-12);
    }
  });

  it('kinds with too few points for them are left out', () => {
    expect(fitTracks(pointsOn(ARC, [0, 1], 'two')).map(({ kind }) => kind)).toEqual(['level', 'tilted']);
  });
});

describe('losses to try', () => {
  /** Nothing lost within 20 mm across the track, all beyond 60. */
  const flat = (offset: Vec3) => {
    const off = norm(rejectFrom(offset, [1, 0, 0])) * 1000;
    const along = Math.abs(offset[0]) * 1000;
    return Math.min(1, Math.max(0, (off - 20) / 40) ** 2 + (along / 200) ** 2);
  };
  const { lossPerMm2: _, ...bare } = pointAt([0, 0, 0], EVEN);

  it('forms from a loss of any quadratic are that quadratic', () => {
    const track = pointsOn(TILTED, spread(-1, 1, 6), 'quadratic', 0.004);
    const tried = track.map(({ lossPerMm2: form, ...point }) => ({
      ...point,
      lossAt: (o: Vec3) => 1e6 * (form?.reduce((sum, row, i) => sum + o[i] * dot(row, o), 0) ?? 0),
    }));
    const [byForm, byTrying] = [fitTrack('tilted', track), fitTrack('tilted', tried)];
    expect(byTrying.meanLoss).toBeCloseTo(byForm.meanLoss, 9);
    expect(norm(subtract(trackAt(byTrying.track, 0), trackAt(byForm.track, 0)))).toBeLessThan(1e-7);
  });

  it('polishing goes where forms cannot tell', () => {
    // Three places in reach of one straight track with room to spare, and a fourth that nothing can serve.
    const points = [
      [0, 0, 2],
      [1, 0, 2.03],
      [2, 0, 2],
      [3, 0, 2.2],
    ].map((position, i) => ({
      ...bare,
      minute: i * 60,
      position: position as unknown as Vec3,
      lossAt: flat,
    }));
    const rough = fitTrack('level', points, { formStep_mm: 40 });
    const fine = fitTrack('level', points, { formStep_mm: 40, polish: true });
    expect(fine.meanLoss).toBeLessThan(rough.meanLoss - 0.1);
    // Nothing lost at three of four: the fourth loses all.
    expect(fine.meanLoss).toBeCloseTo(0.25, 2);
  });
});

describe('what makes no sense is refused', () => {
  const point = pointAt([0, 0, 2], EVEN);
  const { lossPerMm2: _form, ...bare } = point;
  it.each<[string, () => unknown, RegExp]>([
    ['no points', () => fitTrack('level', []), /catch power/],
    ['nothing caught', () => fitTrack('level', [{ ...point, power_w: 0 }]), /catch power/],
    ['too few for an arc', () => fitTrack('arc', [point, pointAt([1, 0, 2], EVEN)]), /needs 3 points/],
    ['all in one place', () => fitTrack('tilted', [point, point]), /one place/],
    [
      'a hole',
      () => fitTrack('level', [point, { ...point, position: [0, Number.NaN, 0] }]),
      /point 1: a number is not finite/,
    ],
    ['power below 0', () => fitTrack('level', [{ ...point, power_w: -1 }]), /below 0/],
    ['no loss', () => fitTrack('level', [bare]), /needs a loss form/],
    [
      'a lopsided form',
      () =>
        fitTrack('level', [
          {
            ...point,
            lossPerMm2: [
              [1, 1, 0],
              [0, 1, 0],
              [0, 0, 1],
            ],
          },
        ]),
      /symmetric/,
    ],
    [
      'a loss that cannot be tried',
      () => fitTrack('level', [{ ...bare, lossAt: () => Number.NaN }]),
      /loss near the best place/,
    ],
    ['a margin below 0', () => fitTrack('level', [point], { margin_m: -1 }), /margin/],
  ])('%s', (_, act, message) => {
    expect(act).toThrow(message);
  });

  it('a margin lengthens both ends', () => {
    const fit = fitTrack('tilted', pointsOn(TILTED, spread(-1, 1, 5), 'margin'), { margin_m: 0.2 });
    expect(fit.to - fit.from).toBeCloseTo(2.4, 6);
    expect(
      norm(subtract(trackAt(fit.track, fit.from), addScaled(trackAt(TILTED, 0), TILTED.direction, -1.2))),
    ).toBeLessThan(1e-6);
  });
});
