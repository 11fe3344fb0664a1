/** Rays as lines, one object for each way to end, so that each has its colour and dash and can be hidden. */
import {
  BufferGeometry,
  Float32BufferAttribute,
  LineBasicMaterial,
  LineDashedMaterial,
  LineSegments,
  type Vector3,
} from 'three';
import type { PageData, SpaceData } from '../page-data.js';
import { unpackBytes, unpackFloats, unpackShorts } from '../unpack.js';

/** Numbers of a ray in `SpaceRays.figures`. */
const FIGURES = 7;
/** Length drawn of a ray before it meets its first mirror, in half diagonals of the scene. */
const SUNWARD = 0.2;

export interface RaySet {
  readonly key: string;
  readonly object: LineSegments;
  readonly count: number;
  /** Draws only that share of the rays, evenly picked. */
  readonly thin: (share: number) => void;
  /** What is said of the ray whose line was met. @param vertex first of the two of the stretch */
  readonly tip: (vertex: number) => string;
}

/** @returns one set per fate, in the page's order */
export function buildRays(page: PageData, data: SpaceData, centre: Vector3, reach: number): RaySet[] {
  const { rays } = data;
  const fates = unpackBytes(rays.fates);
  const counts = unpackBytes(rays.counts);
  const facets = unpackShorts(rays.facets);
  const figures = unpackFloats(rays.figures);
  const places = unpackFloats(rays.places);
  const vertices: number[][] = page.fates.map(() => []);
  const owners: number[][] = page.fates.map(() => []);
  const totals = page.fates.map(() => 0);
  /** Vertices up to and with each ray of a fate. */
  const ends: number[][] = page.fates.map(() => []);
  for (const { ray, first } of evenOrder(counts)) {
    const fate = fates[ray];
    const last = first + 3 * (counts[ray] - 1);
    totals[fate]++;
    const base = FIGURES * ray;
    const shaded = figures[base + 6] === 1;
    const point = (from: number): number[] => [
      places[from] - centre.x,
      places[from + 1] - centre.y,
      places[from + 2] - centre.z,
    ];
    const stretch = (a: readonly number[], b: readonly number[]): void => {
      vertices[fate].push(...a, ...b);
      owners[fate].push(ray, ray);
    };
    if (!shaded) {
      // From the sun: a stretch before the first mirror.
      const mirror = point(first);
      stretch(
        mirror.map((value, c) => value + SUNWARD * reach * figures[base + 3 + c]),
        mirror,
      );
    }
    for (let from = first; from < last; from += 3) stretch(point(from), point(from + 3));
    ends[fate].push(owners[fate].length);
  }
  return page.fates.map(({ key, colour, dash, label }, fate) => {
    const geometry = new BufferGeometry();
    geometry.setAttribute('position', new Float32BufferAttribute(vertices[fate], 3));
    const look = {
      color: colour,
      transparent: true,
      opacity: fate === 0 ? 0.3 : 0.6,
      depthWrite: false,
    };
    const unit = reach / 260;
    const material =
      dash === null
        ? new LineBasicMaterial(look)
        : new LineDashedMaterial({ ...look, dashSize: dash[0] * unit, gapSize: dash[1] * unit });
    const object = new LineSegments(geometry, material);
    if (dash !== null) object.computeLineDistances();
    const tip = (vertex: number): string => {
      const ray = owners[fate][vertex];
      const base = FIGURES * ray;
      const end =
        fate === page.fates.findIndex((entry) => entry.key === 'shaded')
          ? ''
          : `, ${watts(figures[base + 1])} at its end`;
      return `ray off ${data.facets[facets[ray]].name}: incidence ${figures[base + 2].toFixed(1)}\u00b0, ${watts(figures[base])} of sunlight${end}; ${label}`;
    };
    const thin = (share: number): void => {
      const shown = Math.min(totals[fate], Math.ceil(share * totals[fate]));
      geometry.setDrawRange(0, shown === 0 ? 0 : ends[fate][shown - 1]);
    };
    return { key, object, count: totals[fate], thin, tip };
  });
}

/**
 * Rays in an order whose beginning, however short, is spread over all of them: by the parts of multiples of the golden ratio.
 * @returns with each ray where its places begin
 */
function evenOrder(counts: Uint8Array): { readonly ray: number; readonly first: number }[] {
  const ratio = (Math.sqrt(5) - 1) / 2;
  let first = 0;
  const rays = Array.from(counts, (count, ray) => {
    const entry = { ray, first, key: (ray * ratio) % 1 };
    first += 3 * count;
    return entry;
  });
  return rays.sort((a, b) => a.key - b.key);
}

function watts(power: number): string {
  return `${Number(power.toPrecision(3))} W`;
}
