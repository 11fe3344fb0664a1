/**
 * Mirrors that stand still: point sun off the axis, screen square to the chief ray, on the far side of the axis. Tangential is
 * the screen's v, sagittal its u; distances are along the chief ray from the vertex.
 */

import type { Traced } from '../study/trace.js';
import { centroid, concentration, interceptFactor, ofMap, rmsAlong } from './reading.js';
import type { Check, Reading, Source } from './types.js';

const RAYS = 2 ** 17;
const DEGREES = Math.PI / 180;

type Part = Pick<Check, 'name' | 'what' | 'expected' | 'source' | 'sabotage'> & Partial<Check>;

function still(part: Part): Check {
  return {
    group: 'Mirrors that stand still',
    scenes: [part.name],
    rays: RAYS,
    judged: 'sampled',
    unit: '1',
    tolerance: 0,
    tolerated: 'not one ray may miss',
    read: interceptFactor,
    ...part,
  };
}

/** Half the height of the two outer rays of the scenes, m. */
const RAY_HEIGHT = 0.002;

/** Where two rays meet that close at 2 h / f, from how far apart they are just before. */
const tangentialFocus =
  (near: number) =>
  ([trace]: readonly Traced[]): Reading => {
    const upper = centroid(trace, 0, 'v');
    const lower = centroid(trace, 1, 'v');
    const slope = 2 * RAY_HEIGHT;
    return {
      value: near + Math.abs(upper.value - lower.value) / slope,
      std_err: Math.hypot(upper.std_err, lower.std_err) / slope,
    };
  };

/** Where a ray beside the plane of incidence meets the chief ray, on which it closes at h cos i / f. */
const sagittalFocus =
  (near: number, incidence: number) =>
  ([trace]: readonly Traced[]): Reading => {
    const { value, std_err } = centroid(trace, 2, 'u');
    const slope = RAY_HEIGHT * Math.cos(incidence * DEGREES);
    return { value: near + Math.abs(value) / slope, std_err: std_err / slope };
  };

function foci(scene: string, mirror: string, incidence: number, fault: readonly string[]): readonly Check[] {
  const cosine = Math.cos(incidence * DEGREES);
  const part = (kind: 'tangential' | 'sagittal', expected: number, formula: string) => ({
    name: `${scene}-${kind === 'tangential' ? 't' : 's'}`,
    what: `${kind} focus of a small ${mirror}, f = 1 m, ${incidence} degrees off its axis`,
    scenes: [scene],
    rays: 2 ** 15,
    expected,
    unit: 'm',
    tolerance: 1e-5,
    tolerated: 'rays 2 mm off the chief ray',
    source: {
      kind: 'closed form',
      text: `${formula}: Coddington, from two rays side by side`,
    } satisfies Source,
    sabotage: { fault: 'curvature 1.0001 x', set: fault },
  });
  // The screens stand at 0.99 of the foci, to 12 digits.
  const at = (focus: number) => Number((0.99 * focus).toPrecision(12));
  return [
    still({ ...part('tangential', cosine, 'f cos i'), read: tangentialFocus(at(cosine)) }),
    still({ ...part('sagittal', 1 / cosine, 'f / cos i'), read: sagittalFocus(at(1 / cosine), incidence) }),
  ];
}

const everyFacet = (settings: readonly string[]) =>
  [0, 1, 2].flatMap((index) => settings.map((setting) => `facets[${index}].shape.${setting}`));

/** Watts per metre of the wire where the light of the zone at `angle` meets it, over G R; R = 2 m, wire from 0.98 m on. */
const bowlPower = (angle: number) =>
  ofMap(({ nu, nv, width, watts }) => {
    const from = 2 / (2 * Math.cos(angle * DEGREES)) - 0.98;
    const middle = Math.floor((from / width) * nu);
    let power = 0;
    for (let iu = middle - 2; iu <= middle + 2; iu++) {
      for (let iv = 0; iv < nv; iv++) power += watts(iu, iv);
    }
    return power / ((5 * width) / nu) / (1000 * 2);
  });

const ZONE_SLOPE = Math.tan(2 * Math.asin(0.5 / 2));
const ZONE_CROSSING = 2 - 2 / (2 * Math.cos(Math.asin(0.5 / 2)));
const CIRCLE: Source = {
  kind: 'closed form',
  text: 'inscribed angle: turning the sun by t moves the focus on the circle by 2 t',
};
const oneFacetTurned = (setting: string) => ({
  fault: 'one facet turned by 0.0002 degrees',
  set: [setting],
});

export const STILL_CHECKS: readonly Check[] = [
  ...foci('coddington-sphere', 'sphere', 45, everyFacet(['radius_along_m=2.0002', 'radius_across_m=2.0002'])),
  ...foci('coddington-paraboloid', 'paraboloid', 30, everyFacet(['focal_length_m=1.0001'])),
  still({
    name: 'least-blur-size',
    what: 'least blur of a small still mirror, D = 20 mm, 45 degrees off, at distance f: round',
    expected: 20 * (1 - Math.SQRT1_2),
    unit: 'mm',
    tolerance: 0.03 * 20 * (1 - Math.SQRT1_2),
    tolerated: 'coma; stated with the formula',
    // Along each axis an even disc has an rms of a quarter of its diameter.
    read: ofMap((map) => 4000 * rmsAlong('v', map)),
    source: { kind: 'closed form', text: 'D (1 - cos i): at f the light from both foci is equally wide' },
    sabotage: {
      fault: 'the screen 4 % farther',
      set: ['receivers.screen.position_m=[0, 0.735391, 0.735391]'],
    },
  }),
  still({
    name: 'least-blur-concentration',
    what: 'concentration in the least blur of a small still mirror 45 degrees off, whatever its size',
    expected: Math.SQRT1_2 / (1 - Math.SQRT1_2) ** 2,
    tolerance: 0.0075 * 8.2426,
    tolerated: 'coma, a quarter of that above at a quarter of the size',
    read: concentration,
    source: {
      kind: 'closed form',
      text: 'cos i / (1 - cos i)^2: light of the mirror over the area of its least blur',
    },
    sabotage: {
      fault: 'the screen 1 % farther',
      set: ['receivers.screen.position_m=[0, 0.7141778, 0.7141778]'],
    },
  }),
  still({
    name: 'astigmatism-removed',
    what: 'two radii as 1 : cos^2 30 degrees bring all light within 0.3 % of D / 2, 30 degrees off',
    expected: 1,
    judged: 'exact',
    source: { kind: 'closed form', text: 'f cos i and f / cos i made equal: radii as 1 / cos^2 i' },
    sabotage: { fault: 'one radius of 1.005 x', set: ['facets.mirror.shape.radius_along_m=26.8'] },
  }),
  still({
    name: 'coma-paraboloid',
    what: 'rms radius of the spot of a paraboloid of f/2, f = 1 m, 1 degree off its axis',
    expected: 0.22266,
    unit: 'mm',
    tolerance: 0.05 * 0.22266,
    tolerated: 'third order; astigmatism adds to it; stated with the formula',
    read: ofMap((map) => 1000 * Math.hypot(rmsAlong('u', map), rmsAlong('v', map))),
    source: {
      kind: 'closed form',
      text: 'sqrt(2/3) i / (16 N^2), third order: a zone at r lights a circle of radius r^2 i / (16 N^2), twice that off the image',
    },
    sabotage: { fault: 'a dish 1.03 x as wide', set: ['facets.mirror.outline.diameter_m=0.515'] },
  }),
  still({
    name: 'sphere-zone',
    what: 'where the zone 0.5 m off the axis of a sphere of R = 2 m crosses the axis',
    expected: ZONE_CROSSING,
    rays: 2 ** 15,
    unit: 'm',
    tolerance: 1e-6,
    tolerated: 'size of the mirror patch',
    read: ([trace]) => {
      const { value, std_err } = centroid(trace, 0, 'v');
      return {
        value: Number((0.9 * 0.967204).toPrecision(12)) + Math.abs(value) / ZONE_SLOPE,
        std_err: std_err / ZONE_SLOPE,
      };
    },
    source: {
      kind: 'closed form',
      text: 'R - R / (2 cos a), sin a = h / R: triangle of ray, radius and axis',
    },
    sabotage: {
      fault: 'a radius of 1.00001 x',
      set: ['facets.mirror.shape.radius_along_m=2.00002', 'facets.mirror.shape.radius_across_m=2.00002'],
    },
  }),
  still({
    name: 'sphere-smallest-blur',
    what: 'all light of a sphere of f/4 lies in its smallest blur, 1.2288e-4 f wide at 0.9985298 f',
    expected: 1,
    judged: 'exact',
    tolerated: 'an opening 0.1 % wider than the blur; not one ray may miss',
    source: {
      kind: 'closed form',
      text: 'least circle about all rays, each crossing the axis at R - R / (2 cos a): f / (128 N^3) and 0.66 % more beyond third order',
    },
    sabotage: {
      fault: 'an opening of 0.995 x',
      set: ['receivers.screen.aperture.diameter_m=0.001223878'],
    },
  }),
  ...[10, 30, 50].map((angle) =>
    still({
      name: `bowl-axial-power-${angle}`,
      what: `power per length of the axis of a spherical bowl, from its zone at ${angle} degrees, over G R`,
      scenes: ['bowl-axial-power'],
      rays: 2 ** 17,
      expected: 4 * Math.PI * Math.cos(angle * DEGREES) ** 3,
      tolerance: 0.01 * 4 * Math.PI * Math.cos(angle * DEGREES) ** 3,
      tolerated: 'five cells of the wire',
      read: bowlPower(angle),
      source: {
        kind: 'closed form',
        text: '4 pi R G cos^3 a at R / (2 cos a) from the centre: light of a zone over the length where it crosses',
      },
      sabotage: {
        fault: 'a film that takes 4 %',
        set: ['films.film.reflectance=0.96'],
      },
    }),
  ),
  still({
    name: 'facets-on-circle-aimed',
    what: 'five facets on a circle of 100 m, aimed at its top, light a wire of 0.3 mm there',
    expected: 1,
    judged: 'exact',
    source: CIRCLE,
    sabotage: oneFacetTurned('facets[0].facing.elevation_deg=61.2502'),
  }),
  still({
    name: 'facets-on-circle-turned',
    what: 'five facets on a circle of 100 m: the sun turned by 20 degrees, all light a wire 40 degrees on along the circle',
    expected: 1,
    judged: 'exact',
    source: CIRCLE,
    sabotage: oneFacetTurned('facets[0].facing.elevation_deg=61.2502'),
  }),
];
