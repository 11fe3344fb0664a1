/** The scene in space as data: surfaces, receivers, blockers and real rays of the run, for the picture and its still twin. */
import { directionToParent, pointToParent } from '../field/frame.js';
import { surfaceHeight } from '../field/surface.js';
import type { Frame, PlacedBlocker, PlacedFacet, PlacedReceiver } from '../field/types.js';
import { angleBetween } from '../field/vector.js';
import { FATE_STYLES } from '../report/fate-style.js';
import { apertureSize } from '../result/aperture.js';
import { formatFigure } from '../result/number-format.js';
import { RAY_FATE, type RayPath, recordPaths } from '../run/paths.js';
import type { Vec3 } from '../scene/types.js';
import { packBytes, packFloats } from './pack.js';
import type { SpaceBlocker, SpaceData, SpaceFacet, SpaceRays, SpaceReceiver } from './page-data.js';
import type { TracedScene } from './types.js';

/** Rays drawn of a run, about. */
export const RAYS_SHOWN = 3000;
const DEGREE = Math.PI / 180;

/** Index into `FATE_STYLES` of each fate of the kernel; -1: no light was there. */
const STYLE_OF_FATE: Readonly<Record<number, string | null>> = {
  [RAY_FATE.Unlit]: null,
  [RAY_FATE.Shaded]: 'shaded',
  [RAY_FATE.BlockedByFacet]: 'blocked',
  [RAY_FATE.BlockedByBlocker]: 'blocked',
  [RAY_FATE.BlockedByReceiver]: 'blocked',
  [RAY_FATE.Intercepted]: 'caught',
  [RAY_FATE.InterceptedElsewhere]: 'caught_elsewhere',
  [RAY_FATE.SpilledOnReceiver]: 'spilled',
  [RAY_FATE.SpilledOnGround]: 'spilled',
  [RAY_FATE.SpilledToSky]: 'spilled',
  [RAY_FATE.Lost]: 'lost',
};

function packFrame({ origin, x, y, z }: Frame): number[] {
  return [...origin, ...x, ...y, ...z].map((value) => Number(value.toFixed(7)));
}

/** Half the size of the outline's box and its middle, m. */
export function outlineBox({ outline }: Pick<PlacedFacet, 'outline'>): {
  readonly half: readonly [number, number];
  readonly centre: readonly [number, number];
} {
  return outline.kind === 'rectangle'
    ? { half: [outline.length / 2, outline.width / 2], centre: outline.centre }
    : { half: [outline.diameter / 2, outline.diameter / 2], centre: [0, 0] };
}

/** A place on the facet's surface, in the world. */
export function onFacet({ frame, shape }: Pick<PlacedFacet, 'frame' | 'shape'>, x: number, y: number): Vec3 {
  return pointToParent(frame, [x, y, surfaceHeight(shape, x, y)]);
}

/**
 * Ribs: one line at each end of a dish's strips, through their beds. The scene gives strips and their beds, not the ribs'
 * timber, so what is drawn is where the ribs must run.
 */
export function ribLines(facets: readonly PlacedFacet[]): Vec3[][] {
  const dishes = new Map<string, PlacedFacet[]>();
  for (const facet of facets) {
    if (facet.dish === null) continue;
    const strips = dishes.get(facet.dish);
    if (strips === undefined) dishes.set(facet.dish, [facet]);
    else strips.push(facet);
  }
  const lines: Vec3[][] = [];
  for (const strips of dishes.values()) {
    for (const end of [-0.86, 0.86]) {
      lines.push(
        strips.flatMap((strip) => {
          const { half, centre } = outlineBox(strip);
          const x = centre[0] + end * half[0];
          return [-1, 1].map((side) => onFacet(strip, x, centre[1] + side * half[1]));
        }),
      );
    }
  }
  return lines;
}

function facetData(facet: PlacedFacet, sunlight: number, sun: Vec3): SpaceFacet {
  return {
    name: facet.name,
    dish: facet.dish,
    frame: packFrame(facet.frame),
    shape: facet.shape,
    outline: facet.outline,
    sunlight_w: Number(sunlight.toPrecision(6)),
    incidence_deg: Number((angleBetween(sun, facet.frame.z) / DEGREE).toFixed(3)),
    receiver: facet.receiver,
  };
}

function receiverData({ name, frame, design }: PlacedReceiver, peak: string, map: number): SpaceReceiver {
  return {
    name,
    kind: design.kind,
    frame: packFrame(frame),
    aperture: apertureSize(design),
    window_m: [design.window.width, design.window.height],
    map,
    peak,
  };
}

function blockerData(blocker: PlacedBlocker): SpaceBlocker {
  return {
    name: blocker.name,
    frame: packFrame(blocker.frame),
    box_m: blocker.kind === 'box' ? blocker.size : null,
    cylinder_m: blocker.kind === 'cylinder' ? [2 * blocker.radius, blocker.length] : null,
    body_of: blocker.bodyOf,
  };
}

/** @returns about `RAYS_SHOWN` rays of the run's first batch that carried light */
export function raysOf({ prepared, plan, summary }: TracedScene, wanted = RAYS_SHOWN): RayPath[] {
  return recordPaths(prepared, plan, summary.result.seed, 0, wanted).filter(
    ({ fate }) => STYLE_OF_FATE[fate] !== null,
  );
}

/** @returns index into `FATE_STYLES`, -1 for none */
export function styleOf(fate: number): number {
  return FATE_STYLES.findIndex(({ key }) => key === STYLE_OF_FATE[fate]);
}

function incidenceOf(ray: RayPath, facet: PlacedFacet): number {
  const [x, y, z] = ray.places;
  const from = facet.frame.origin;
  const way: Vec3 = [x - from[0], y - from[1], z - from[2]];
  const { x: ex, y: ey } = facet.frame;
  const at = (axis: Vec3): number => way[0] * axis[0] + way[1] * axis[1] + way[2] * axis[2];
  const h = 1e-6;
  const [u, v] = [at(ex), at(ey)];
  const rise = (du: number, dv: number): number => surfaceHeight(facet.shape, u + du, v + dv);
  const slopeX = (rise(h, 0) - rise(-h, 0)) / (2 * h);
  const slopeY = (rise(0, h) - rise(0, -h)) / (2 * h);
  const normal = directionToParent(facet.frame, [-slopeX, -slopeY, 1]);
  const angle = angleBetween(ray.sun, normal) / DEGREE;
  // At the very edge of a circle's reach the surface has no slope on one side.
  return Number.isFinite(angle) ? angle : angleBetween(ray.sun, facet.frame.z) / DEGREE;
}

function packRays(rays: readonly RayPath[], facets: readonly PlacedFacet[]): SpaceRays {
  const index = new Uint8Array(2 * rays.length);
  const counts = new Uint8Array(rays.length);
  const figures: number[] = [];
  const places: number[] = [];
  rays.forEach((ray, i) => {
    index[2 * i] = ray.facet & 0xff;
    index[2 * i + 1] = ray.facet >> 8;
    const all = ray.shade === null ? ray.places : [...ray.shade, ...ray.places.slice(0, 3)];
    counts[i] = all.length / 3;
    figures.push(
      ray.sunlight,
      ray.watts,
      incidenceOf(ray, facets[ray.facet]),
      ...ray.sun,
      ray.shade === null ? 0 : 1,
    );
    places.push(...all);
  });
  return {
    count: rays.length,
    fates: packBytes(Uint8Array.from(rays, ({ fate }) => styleOf(fate))),
    counts: packBytes(counts),
    facets: packBytes(index),
    figures: packFloats(figures),
    places: packFloats(places),
  };
}

function halfOpening(aperture: PlacedReceiver['design']['aperture']): readonly [number, number] {
  switch (aperture.shape) {
    case 'round':
      return [aperture.diameter / 2, aperture.diameter / 2];
    case 'rectangle':
      return [aperture.width / 2, aperture.height / 2];
    case 'tube':
      return [aperture.length / 2, aperture.diameter / 2];
  }
}

/** The box round all mirrors and openings. */
export function sceneBox({ prepared }: TracedScene): { readonly low: Vec3; readonly high: Vec3 } {
  const { field } = prepared;
  const low = [Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY];
  const high = low.map((value) => -value);
  const include = (place: Vec3): void => {
    for (let c = 0; c < 3; c++) {
      low[c] = Math.min(low[c], place[c]);
      high[c] = Math.max(high[c], place[c]);
    }
  };
  for (const facet of field.facets) {
    const { half, centre } = outlineBox(facet);
    for (const u of [-1, 1])
      for (const v of [-1, 1]) include(onFacet(facet, centre[0] + u * half[0], centre[1] + v * half[1]));
  }
  for (const { frame, design } of field.receivers) {
    const half = halfOpening(design.aperture);
    for (const u of [-1, 1])
      for (const v of [-1, 1]) include(pointToParent(frame, [u * half[0], v * half[1], 0]));
  }
  return { low: [low[0], low[1], low[2]], high: [high[0], high[1], high[2]] };
}

/** @param mapOf index of a receiver's map in the page, -1 for none */
export function spaceData(
  traced: TracedScene,
  rays: readonly RayPath[],
  mapOf: (receiver: number) => number,
): SpaceData {
  const { prepared, summary } = traced;
  const { field, moment, facetPower } = prepared;
  return {
    label: summary.result.title,
    sun: moment.sunDirection,
    facets: field.facets.map((facet, i) => facetData(facet, facetPower[i], moment.sunDirection)),
    ribs: ribLines(field.facets),
    receivers: field.receivers.map((receiver, i) =>
      receiverData(receiver, formatFigure(summary.result.receivers[i].peak_flux), mapOf(i)),
    ),
    blockers: field.blockers.map(blockerData),
    ground_m: field.ground,
    ...sceneBox(traced),
    rays: packRays(rays, field.facets),
  };
}
