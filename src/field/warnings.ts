/** Physics that a checked scene can still get wrong: reported as warnings, never as errors. */
import type { Warning } from '../result/types.js';
import type { Film, ReceiverDesign, Scene, SunshapeSpec } from '../scene/types.js';
import type { Moment } from '../sun/moment.js';
import { coincidentFacets, type FacetLine, facetLine, piercedBlockers } from './contacts.js';
import { type Crossings, facetsByReceiver, idealCrossings } from './crossings.js';
import { depthInPlan, dishSize } from './dish.js';
import { facingWarnings } from './facing.js';
import { dishOfRow } from './layout.js';
import { surfaceBounds } from './surface.js';
import type { Field, PlacedFacet } from './types.js';
import { anglesOf, dot, subtract } from './vector.js';

/** Half angle of the sun's disc, radians (common practice). */
const SUN_HALF_ANGLE = 4.65e-3;
/** Rays a map cell needs before its noise falls under 10 %: relative error 1 / sqrt(rays). */
const RAYS_PER_CELL = 100;

function metres(length: number): string {
  return `${length.toFixed(2)} m`;
}

function degrees(angle: number): string {
  return `${((angle * 180) / Math.PI).toFixed(1)} degrees`;
}

/** "A-1", "A-1 and A-2", "A-1 and 59 others". */
function listed(names: readonly string[]): string {
  if (names.length <= 2) {
    return names.join(' and ');
  }
  return `${names[0]} and ${names.length - 1} others`;
}

function sunReach(sunshape: SunshapeSpec): number {
  switch (sunshape.kind) {
    case 'point':
      return 0;
    case 'disc':
    case 'limb_darkened':
      return sunshape.halfAngle;
    case 'gaussian':
      return 2 * sunshape.sigma;
    case 'circumsolar':
      return SUN_HALF_ANGLE;
    case 'table':
      // The disc of a measured sun ends here; a table that ends sooner holds no light beyond its end.
      return Math.min(SUN_HALF_ANGLE, sunshape.angle[sunshape.angle.length - 1]);
  }
}

/** Half angle by which sun, build and film widen a reflected ray; errors with one standard deviation, radians. */
function beamReach(sunshape: SunshapeSpec, film: Film): number {
  const slope = Math.max(film.slopeErrorAlong, film.slopeErrorAcross);
  return sunReach(sunshape) + 2 * slope + Math.max(...film.lobes.map((lobe) => lobe.sigma));
}

function sunWarnings(field: Field, moment: Moment): Warning[] {
  const { elevation } = anglesOf(moment.sunDirection);
  const warnings: Warning[] = [];
  if (!(elevation > 0)) {
    warnings.push({
      code: 'sun_below_horizon',
      message: `The sun stands ${degrees(-elevation)} below the horizon.`,
    });
  }
  const dark = field.facets.filter((facet) => !(dot(facet.frame.z, moment.sunDirection) > 0));
  if (dark.length > 0 && dark.length === field.facets.length) {
    warnings.push({
      code: 'sun_behind_all_facets',
      message:
        'The sun is behind the middle of every facet: no mirror receives light, or the rims of bent ones alone.',
    });
  } else if (dark.length > 0) {
    warnings.push({
      code: 'sun_behind_some_facets',
      message: `The sun is behind ${dark.length} of ${field.facets.length} facets (${listed(dark.map(({ name }) => name))}).`,
    });
  }
  return warnings;
}

/** Whether the centre of the light falls outside the aperture. */
function besideAperture(design: ReceiverDesign, [u, v]: readonly [number, number]): boolean {
  const { aperture } = design;
  switch (aperture.shape) {
    case 'round':
      return Math.hypot(u, v) > aperture.diameter / 2;
    case 'rectangle':
      return Math.abs(u) > aperture.width / 2 || Math.abs(v) > aperture.height / 2;
    case 'tube':
      return Math.abs(u) > aperture.length / 2 || Math.abs(v) > aperture.diameter / 2;
  }
}

/** Size of the spot with its blur along u and v, as if it lay evenly about its centre, m. */
function spotSize(spot: Crossings, blurAngle: number): readonly [number, number] {
  const blur = blurAngle * spot.distance;
  return [2 * (spot.reach[0] + blur), 2 * (spot.reach[1] + blur)];
}

/** How a spot fits the window of its receiver. */
interface WindowFit {
  readonly name: string;
  /** Size of the spot over that of the window, where it is worst. */
  readonly size: number;
  /** The same with the spot's distance from the window's centre added. */
  readonly reach: number;
  readonly text: string;
}

function windowFit(
  name: string,
  { kind, window }: ReceiverDesign,
  spot: Crossings,
  blurAngle: number,
): WindowFit {
  const [sizeU, sizeV] = spotSize(spot, blurAngle);
  const [u, v] = spot.centroid;
  const ratios = [
    [sizeU / window.width, (sizeU + 2 * Math.abs(u)) / window.width],
    [sizeV / window.height, (sizeV + 2 * Math.abs(v)) / window.height],
  ];
  // What leaves a line by its ends is end loss, which no window could help.
  const used = kind === 'line_plate' ? ratios.slice(1) : ratios;
  const text =
    kind === 'line_plate'
      ? `${metres(sizeV)} wide, centred ${metres(v)} off the line; the window is ${metres(window.height)} wide`
      : `${metres(sizeU)} by ${metres(sizeV)}, centred at (${metres(u)}, ${metres(v)}); ` +
        `the window measures ${metres(window.width)} by ${metres(window.height)}`;
  return {
    name,
    size: Math.max(...used.map(([size]) => size)),
    reach: Math.max(...used.map(([, reach]) => reach)),
    text,
  };
}

function receiverWarnings(scene: Scene, field: Field, moment: Moment): Warning[] {
  const facetsOf = facetsByReceiver(field);
  const unserved: string[] = [];
  const behind: string[] = [];
  const frontDark: string[] = [];
  const beside: string[] = [];
  const fits: WindowFit[] = [];
  for (const [index, receiver] of field.receivers.entries()) {
    const { name, design, frame } = receiver;
    const home = facetsOf[index];
    if (home.length === 0) {
      unserved.push(name);
      continue;
    }
    if (home.some((facet) => !(dot(subtract(frame.origin, facet.frame.origin), facet.frame.z) > 0))) {
      behind.push(name);
    }
    const spot = idealCrossings(receiver, home, moment.sunDirection);
    if (spot.litArea === 0) {
      continue;
    }
    if (spot.distance === 0) {
      frontDark.push(name);
      continue;
    }
    if (besideAperture(design, spot.centroid)) {
      beside.push(name);
    }
    // A tube's window is its own surface, which light passes by.
    if (design.kind === 'tube') {
      continue;
    }
    const films = new Set(home.map((facet) => scene.films[facet.film]));
    const blurAngle = Math.max(...[...films].map((film) => beamReach(scene.sun.sunshape, film)));
    fits.push(windowFit(name, design, spot, blurAngle));
  }

  const warnings: Warning[] = [];
  const warn = (code: string, names: readonly string[], sentence: string) => {
    if (names.length > 0) {
      warnings.push({ code, message: `Receiver ${listed(names)}: ${sentence}` });
    }
  };
  warn('receiver_unserved', unserved, 'no facet serves it.');
  warn('receiver_behind_mirror', behind, 'it stands behind the plane of a facet that serves it.');
  warn(
    'receiver_front_unlit',
    frontDark,
    'no light comes to its front straight from its own mirrors at this sun (by way of a second mirror it may).',
  );
  warn('spot_beside_aperture', beside, 'the centre of its light falls outside the aperture at this sun.');
  const wide = fits.filter(({ size }) => size > 1).sort((a, b) => b.size - a.size);
  const off = fits.filter(({ size, reach }) => size <= 1 && reach > 1).sort((a, b) => b.reach - a.reach);
  if (wide.length > 0) {
    const sentence = `its spot is wider than its window, so part of it is not mapped (${wide[0].text}).`;
    warn(
      'spot_wider_than_window',
      wide.map(({ name }) => name),
      sentence,
    );
  }
  if (off.length > 0) {
    const sentence = `part of its spot falls beside its window and is not mapped (${off[0].text}).`;
    warn(
      'spot_beside_window',
      off.map(({ name }) => name),
      sentence,
    );
  }
  return warnings;
}

function rowWarnings(scene: Scene): Warning[] {
  const warnings: Warning[] = [];
  for (const row of scene.rows) {
    const design = dishOfRow(scene, row);
    const { along } = dishSize(design);
    if (row.dishes > 1 && row.pitch < along) {
      warnings.push({
        code: 'dishes_overlap',
        message: `Row ${row.name}: dishes ${metres(along)} long stand at a pitch of ${metres(row.pitch)}, so they overlap.`,
      });
    }
    const depth = depthInPlan(design);
    if (row.rows > 1 && row.rowSpacing < depth) {
      warnings.push({
        code: 'rows_overlap',
        message: `Row ${row.name}: dishes ${metres(depth)} deep in plan stand in rows ${metres(row.rowSpacing)} apart, so they overlap.`,
      });
    }
  }
  return warnings;
}

function blockerWarnings(field: Field, line: FacetLine): Warning[] {
  const piercing = piercedBlockers(field, line);
  return piercing.length === 0
    ? []
    : [
        {
          code: 'blocker_on_mirror',
          message: `Blocker ${listed(piercing.map(({ name }) => name))}: part of a mirror lies inside it.`,
        },
      ];
}

function coincidenceWarnings(line: FacetLine): Warning[] {
  const pairs = coincidentFacets(line);
  if (pairs.length === 0) return [];
  const [first, second] = pairs[0];
  const more = pairs.length > 1 ? ` So do ${pairs.length - 1} other pairs.` : '';
  return [
    {
      code: 'facets_coincide',
      message:
        `Facets ${first.name} and ${second.name} lie in the same place, so the same sunlight is counted on both or lost between ` +
        `them.${more} Take one of the two out, or move it (its position, the row's centre, pitch or spacing).`,
    },
  ];
}

/** Height of the lowest corner of the box round a facet. */
function lowestPoint({ frame, shape, outline }: PlacedFacet): number {
  const { low, high } = surfaceBounds(shape, outline);
  let lowest = frame.origin[2];
  for (let axis = 0; axis < 3; axis++) {
    const rise = [frame.x, frame.y, frame.z][axis][2];
    lowest += Math.min(rise * low[axis], rise * high[axis]);
  }
  return lowest;
}

function groundWarnings(field: Field): Warning[] {
  const { ground } = field;
  if (ground === null) {
    return [];
  }
  const warnings: Warning[] = [];
  const mirrors = field.facets.filter((facet) => lowestPoint(facet) < ground).map(({ name }) => name);
  if (mirrors.length > 0) {
    warnings.push({
      code: 'mirror_below_ground',
      message: `Facet ${listed(mirrors)}: it reaches below the ground at ${metres(ground)}.`,
    });
  }
  const receivers = field.receivers.filter(({ frame }) => frame.origin[2] < ground).map(({ name }) => name);
  if (receivers.length > 0) {
    warnings.push({
      code: 'receiver_below_ground',
      message: `Receiver ${listed(receivers)}: it stands below the ground at ${metres(ground)}.`,
    });
  }
  return warnings;
}

/**
 * Looks for physics that makes a scene useless or its figures misleading. Each kind of trouble is told once, with
 * the first name and how many more. Codes: sun_below_horizon, sun_behind_all_facets, sun_behind_some_facets,
 * receiver_unserved, receiver_behind_mirror, receiver_front_unlit, spot_beside_aperture, spot_wider_than_window,
 * spot_beside_window, dishes_overlap, rows_overlap, dishes_face_away, facets_coincide, blocker_on_mirror, mirror_below_ground, receiver_below_ground.
 * @param field `layOut(scene)`
 */
export function physicsWarnings(scene: Scene, field: Field, moment: Moment): Warning[] {
  const line = facetLine(field);
  return [
    ...sunWarnings(field, moment),
    ...receiverWarnings(scene, field, moment),
    ...rowWarnings(scene),
    ...facingWarnings(scene),
    ...coincidenceWarnings(line),
    ...blockerWarnings(field, line),
    ...groundWarnings(field),
  ];
}

/**
 * Warns where a flux map has finer cells than the rays can fill (fewer than 100 rays a cell, noise above 10 %).
 * @param raysPerReceiver rays that are expected to reach one receiver
 * @param cells map cells along u and v
 * @param spotCells how many of the cells the spot covers
 * @returns null where the rays suffice
 */
export function cellNoiseWarning(
  raysPerReceiver: number,
  cells: readonly [number, number],
  spotCells: number,
): Warning | null {
  const covered = Math.max(1, Math.min(spotCells, cells[0] * cells[1]));
  const raysPerCell = raysPerReceiver / covered;
  if (raysPerCell >= RAYS_PER_CELL) {
    return null;
  }
  const noise =
    raysPerCell > 1 ? `a noise of about ${Math.round(100 / Math.sqrt(raysPerCell))} %` : 'mostly noise';
  return {
    code: 'cells_finer_than_rays',
    message:
      `A flux map of ${cells[0]} by ${cells[1]} cells gets about ${raysPerCell.toPrecision(2)} rays in each cell of the ` +
      `spot: ${noise}. Use fewer cells or at least ${Math.ceil((RAYS_PER_CELL * covered) / 1000) * 1000} rays at each receiver.`,
  };
}
