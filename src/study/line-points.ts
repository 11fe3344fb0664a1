/** Line against points: scenes of equal mirror area side by side, each with what a closed form says of it. */

import { describeField } from '../field/describe.js';
import { layOut } from '../field/layout.js';
import { surfaceArea } from '../field/surface.js';
import { dot } from '../field/vector.js';
import {
  cavityAbsorptance,
  emittanceAt,
  radiantSurroundings,
  radiativeEfficiency,
} from '../plant/radiation.js';
import { areaRatio, lightShares } from '../plant/receiver.js';
import type { Figure } from '../result/types.js';
import type { Scene } from '../scene/types.js';
import type { Moment } from '../sun/moment.js';
import type { CostDocument } from './cost-result.js';
import type { HeatPlant } from './heat-plant.js';
import type { HeatResult } from './heat-result.js';
import type { BookLine, Span } from './heat-types.js';
import { mirrorArea } from './season.js';
import type { SunSeason } from './season-sun.js';

/** Mirror areas that differ by no more than this count as equal. */
export const AREA_TOLERANCE = 0.005;

export interface VersusEntry {
  readonly title: string;
  readonly file: string;
  readonly scene_hash: string;
  readonly kind: HeatPlant['design']['kind'];
  readonly receivers: number;
  readonly mirror_area_m2: number;
  readonly opening_area_m2: number;
  readonly geometric_concentration: number;
  readonly caught_kwh: Figure;
  readonly delivered_kwh: Span;
  readonly delivered_per_m2_kwh: number;
  /** Standard error from rays and table. */
  readonly ray_std_err_kwh: number;
  readonly ci95_kwh: readonly [number, number];
  readonly hours: Span;
  readonly waterfall_kwh: readonly BookLine[];
  readonly peak_flux_kw_m2: Figure;
  readonly film_temperature_c: Span;
  readonly stagnation_c: Span | null;
  readonly best_opening_mm: number | null;
  readonly present_opening_mm: number | null;
  /** Null where a scene has no prices. */
  readonly price: {
    readonly currency: string;
    readonly per_kwh: number;
    readonly ci95_per_kwh: readonly [number, number];
    readonly formula_span_per_kwh: Span;
    readonly investment: number;
  } | null;
  readonly closed_forms: {
    /** Share of the beam lost to the cosine: traced, and summed over the facets' normals and the sun's places without rays. */
    readonly cosine_traced: number;
    readonly cosine_summed: number;
    /** Highest flux that any mirror of this rim angle could give: sin^2 p / sin^2 s, of a line (4/pi) sin p / sin s, times film and beam. */
    readonly flux_ceiling_kw_m2: number | null;
    readonly rim_angle_deg: number | null;
    /** Efficiency in the brightest hour with radiation as the only loss. */
    readonly radiation_only_efficiency: number;
    readonly efficiency: number;
  };
}

export interface VersusResult {
  readonly schema_version: 1;
  readonly program: HeatResult['program'];
  readonly kind: 'versus';
  readonly year: number;
  readonly seed: string;
  readonly sky: string;
  readonly site: HeatResult['site'];
  readonly receivers: HeatResult['receivers'];
  readonly equal_area: boolean;
  /** What is not the same in all scenes. */
  readonly differences: readonly string[];
  readonly entries: readonly VersusEntry[];
  readonly answer: readonly string[];
  readonly warnings: HeatResult['warnings'];
  readonly cautions: readonly string[];
}

/** Half angle of the sun's disc for the ceilings, radians: 959.63 arc seconds (IAU 1976 mean, from memory). */
const SUN_HALF_ANGLE = (959.63 / 3600) * (Math.PI / 180);

/** Rim angle of the first dish design, radians; null where the scene has no dishes. */
function rimAngle(scene: Scene, moment: Moment): number | null {
  const described = describeField(scene, layOut(scene), moment);
  return described.dishes[0]?.rimAngle ?? null;
}

/** Share lost to the cosine over a year: beam energy times each facet's area and the angle at its middle, no rays at all. */
export function summedCosine(scene: Scene, season: SunSeason): number {
  const facets = layOut(scene).facets.map(({ frame, shape, outline }) => ({
    normal: frame.z,
    area: surfaceArea(shape, outline),
  }));
  let lit = 0;
  let full = 0;
  for (const { sun, energy } of season.points) {
    for (const { normal, area } of facets) {
      lit += energy * area * Math.max(0, dot(normal, sun));
      full += energy * area;
    }
  }
  return full > 0 ? 1 - lit / full : 0;
}

/** W/m2 of the ceiling. */
function fluxCeiling(plant: HeatPlant, scene: Scene, rim: number | null, dni: number): number | null {
  if (rim === null) return null;
  const reflectance = Math.max(...scene.films.map((film) => Math.max(...film.reflectance.value)));
  const [p, s] = [Math.sin(rim), Math.sin(SUN_HALF_ANGLE)];
  const concentration = plant.design.kind === 'line_plate' ? ((4 / Math.PI) * p) / s : (p * p) / (s * s);
  return plant.design.kind === 'tube' ? null : reflectance * dni * concentration;
}

function radiationOnly(plant: HeatPlant, { moment }: Pick<HeatResult, 'moment'>): number {
  const { receiver, spec } = plant;
  const { hardest } = moment;
  const wall = hardest.wall_c + 273.15;
  const ratio = areaRatio(receiver);
  const emittance = emittanceAt(receiver.emittance, wall);
  const { absorbed } = lightShares(receiver, 1);
  return radiativeEfficiency(
    absorbed,
    ratio === null ? emittance : cavityAbsorptance(emittance, ratio),
    wall,
    radiantSurroundings(moment.ambient_c + 273.15, spec.skyShare),
    hardest.light_w / plant.openingArea,
  );
}

export interface Compared {
  readonly file: string;
  readonly scene: Scene;
  readonly plant: HeatPlant;
  readonly season: SunSeason;
  readonly result: HeatResult | CostDocument;
}

/** @throws RangeError where a result has no year */
export function versusEntry({ file, scene, plant, season, result }: Compared): VersusEntry {
  const { heat, moment } = result;
  if (heat === null) throw new RangeError('a year is needed');
  const cost = 'cost' in result ? result.cost : null;
  const radians = Math.PI / 180;
  const [azimuth, elevation] = [moment.sun_azimuth_deg * radians, moment.sun_elevation_deg * radians];
  const sun = {
    sunDirection: [
      Math.sin(azimuth) * Math.cos(elevation),
      Math.cos(azimuth) * Math.cos(elevation),
      Math.sin(elevation),
    ] as const,
    dni: moment.dni_w_m2,
  };
  const rim = rimAngle(scene, sun);
  const ceiling = fluxCeiling(plant, scene, rim, moment.dni_w_m2);
  const line = (key: string) => heat.waterfall_kwh.find((entry) => entry.key === key)?.value ?? 0;
  const { hardest } = moment;
  return {
    title: scene.title,
    file,
    scene_hash: scene.hash,
    kind: plant.design.kind,
    receivers: plant.receivers,
    mirror_area_m2: heat.mirror_area_m2,
    opening_area_m2: plant.receivers * plant.openingArea,
    geometric_concentration: heat.mirror_area_m2 / (plant.receivers * plant.openingArea),
    caught_kwh: heat.caught_kwh,
    delivered_kwh: heat.delivered_kwh,
    delivered_per_m2_kwh: heat.delivered_per_m2_kwh,
    ray_std_err_kwh: heat.uncertainty.ray_std_err_kwh,
    ci95_kwh: heat.uncertainty.ci95_kwh,
    hours: heat.hours,
    waterfall_kwh: heat.waterfall_kwh,
    peak_flux_kw_m2: hardest.peak_flux_kw_m2,
    film_temperature_c: hardest.film_temperature_c,
    stagnation_c: hardest.stagnation_c,
    best_opening_mm: heat.opening?.best_mm ?? null,
    present_opening_mm: heat.opening?.present_mm ?? null,
    price:
      cost === null
        ? null
        : {
            currency: cost.currency,
            per_kwh: cost.per_kwh,
            ci95_per_kwh: cost.ci95_per_kwh,
            formula_span_per_kwh: cost.formula_span_per_kwh,
            investment: cost.investment,
          },
    closed_forms: {
      cosine_traced: line('cosine') / Math.max(line('on_mirrors'), 1e-300),
      cosine_summed: summedCosine(scene, season),
      flux_ceiling_kw_m2: ceiling === null ? null : ceiling / 1000,
      rim_angle_deg: rim === null ? null : rim / radians,
      radiation_only_efficiency: radiationOnly(plant, result),
      efficiency: hardest.efficiency.best,
    },
  };
}

/** What makes a comparison lame: in plain sentences, none where all is alike. */
export function differences(
  compared: readonly { readonly file: string; readonly scene: Scene; readonly plant: HeatPlant }[],
): readonly string[] {
  const found: string[] = [];
  const areas = compared.map(({ scene }) => mirrorArea(scene));
  if (Math.max(...areas) > (1 + AREA_TOLERANCE) * Math.min(...areas)) {
    found.push(
      `mirror area: ${compared.map(({ file }, i) => `${file} ${areas[i].toPrecision(4)} m2`).join(', ')}`,
    );
  }
  const tell = (
    what: string,
    of: (entry: (typeof compared)[number]) => unknown,
    text?: (entry: (typeof compared)[number]) => string,
  ) => {
    if (new Set(compared.map((entry) => JSON.stringify(of(entry)))).size < 2) return;
    found.push(
      text === undefined
        ? what
        : `${what}: ${compared.map((entry) => `${entry.file} ${text(entry)}`).join(', ')}`,
    );
  };
  tell(
    'site (latitude, longitude, height)',
    ({ scene: { site } }) => site && [site.latitude, site.longitude, site.height],
  );
  tell('sky', ({ scene }) => scene.sky);
  tell('sunshape', ({ scene }) => scene.sun.sunshape);
  tell('film', ({ scene }) => scene.films.map(({ name: _name, ...film }) => film));
  tell(
    'oil temperatures',
    ({ plant }) => [plant.spec.inlet, plant.spec.outlet],
    ({ plant }) =>
      `${(plant.spec.inlet - 273.15).toFixed(0)} to ${(plant.spec.outlet - 273.15).toFixed(0)} C`,
  );
  tell('air', ({ plant }) => [plant.spec.ambient, plant.spec.wind]);
  return found;
}

function overlap(one: Span, other: Span): boolean {
  return one.low <= other.high && other.low <= one.high;
}

/** Who gives the most heat, who the cheapest, and how sure that is. */
export function versusAnswer(entries: readonly VersusEntry[], perArea: boolean): readonly string[] {
  const heatOf = (entry: VersusEntry) => (perArea ? entry.delivered_per_m2_kwh : entry.delivered_kwh.best);
  const unit = perArea ? 'kWh per m2 of mirror' : 'kWh';
  const [most, next] = [...entries].sort((one, other) => heatOf(other) - heatOf(one));
  const scale = (entry: VersusEntry) => (perArea ? 1 / entry.mirror_area_m2 : 1);
  const gap = heatOf(most) - heatOf(next);
  const error = 1.96 * Math.hypot(most.ray_std_err_kwh * scale(most), next.ray_std_err_kwh * scale(next));
  const answer = [
    `Most heat: ${most.title} (${most.file}), ${heatOf(most).toFixed(0)} ${unit}, ${gap.toFixed(0)} +- ${error.toFixed(0)} more than ${next.title} (95 % from rays and table). ` +
      (gap <= error
        ? 'That is no more than the noise: both are alike.'
        : overlap(most.delivered_kwh, next.delivered_kwh)
          ? 'The spans of the loss formulas overlap: where both have the same kind of receiver their errors go the same way, else the order is open.'
          : 'The spans of the loss formulas do not overlap.'),
  ];
  const priced = entries.filter((entry) => entry.price !== null);
  if (priced.length < 2) return answer;
  const [cheap, second] = [...priced].sort((one, other) => one.price!.per_kwh - other.price!.per_kwh);
  const [low, high] = cheap.price!.ci95_per_kwh;
  const [from, to] = second.price!.ci95_per_kwh;
  answer.push(
    `Cheapest heat: ${cheap.title} (${cheap.file}), ${cheap.price!.per_kwh.toPrecision(3)} ${cheap.price!.currency}/kWh against ${second.price!.per_kwh.toPrecision(3)}; ` +
      `95 % from ${low.toPrecision(2)} to ${high.toPrecision(2)} and ${from.toPrecision(2)} to ${to.toPrecision(2)}.` +
      (cheap.price!.per_kwh > from && second.price!.per_kwh < high
        ? ' Each lies within the other’s band: the order is open.'
        : ''),
  );
  return answer;
}
