/** What lies in what: mirrors inside blockers, mirrors in the same place. */
import type { Outline, Vec3 } from '../scene/types.js';
import { mirrorGrid } from './crossings.js';
import { pointToLocal, pointToParent } from './frame.js';
import { surfaceBounds, surfaceHeight } from './surface.js';
import type { Field, PlacedBlocker, PlacedFacet } from './types.js';
import { dot, norm, subtract } from './vector.js';

/** Radius of a ball about the frame's origin that holds the blocker. */
function blockerRadius(blocker: PlacedBlocker): number {
  return blocker.kind === 'box' ? norm(blocker.size) / 2 : Math.hypot(blocker.radius, blocker.length / 2);
}

function facetRadius({ shape, outline }: PlacedFacet): number {
  const { low, high } = surfaceBounds(shape, outline);
  return Math.hypot(
    Math.max(-low[0], high[0]),
    Math.max(-low[1], high[1]),
    Math.max(Math.abs(low[2]), Math.abs(high[2])),
  );
}

/** Whether a grid point of the mirror lies inside the blocker. */
function pierces(blocker: PlacedBlocker, { frame, shape, outline }: PlacedFacet): boolean {
  return mirrorGrid(outline).some(({ x, y }) => {
    const point = pointToParent(frame, [x, y, surfaceHeight(shape, x, y)]);
    const [ownX, ownY, ownZ] = pointToLocal(blocker.frame, point);
    return blocker.kind === 'box'
      ? Math.abs(ownX) < blocker.size[0] / 2 &&
          Math.abs(ownY) < blocker.size[1] / 2 &&
          Math.abs(ownZ) < blocker.size[2] / 2
      : Math.hypot(ownX, ownY) < blocker.radius && Math.abs(ownZ) < blocker.length / 2;
  });
}

/** Facets in the order of their place along the axis on which the field is longest, so that few need be looked at. */
export interface FacetLine {
  readonly axis: 0 | 1 | 2;
  readonly facets: readonly { readonly facet: PlacedFacet; readonly radius: number }[];
  readonly largestRadius: number;
}

export function facetLine(field: Field): FacetLine {
  const extent = (axis: number): number => {
    let low = Number.POSITIVE_INFINITY;
    let high = Number.NEGATIVE_INFINITY;
    for (const { frame } of field.facets) {
      low = Math.min(low, frame.origin[axis]);
      high = Math.max(high, frame.origin[axis]);
    }
    return high - low;
  };
  const axis = ([0, 1, 2] as const).reduce((a, b) => (extent(b) > extent(a) ? b : a));
  const facets = field.facets.map((facet) => ({ facet, radius: facetRadius(facet) }));
  facets.sort((a, b) => a.facet.frame.origin[axis] - b.facet.frame.origin[axis]);
  return { axis, facets, largestRadius: facets.reduce((most, { radius }) => Math.max(most, radius), 0) };
}

/** @returns the facets whose balls may reach into the ball of that radius about a place, and then some */
function* facetsNear(line: FacetLine, place: Vec3, radius: number): Generator<PlacedFacet> {
  const { axis, facets, largestRadius } = line;
  const from = place[axis] - radius - largestRadius;
  const to = place[axis] + radius + largestRadius;
  let low = 0;
  let high = facets.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (facets[middle].facet.frame.origin[axis] < from) low = middle + 1;
    else high = middle;
  }
  for (let i = low; i < facets.length && facets[i].facet.frame.origin[axis] <= to; i++) {
    const { facet, radius: own } = facets[i];
    if (norm(subtract(facet.frame.origin, place)) < radius + own) yield facet;
  }
}

/** Blockers that a part of a mirror lies inside of. */
export function piercedBlockers(field: Field, line: FacetLine): readonly PlacedBlocker[] {
  return field.blockers.filter((blocker) => {
    for (const facet of facetsNear(line, blocker.frame.origin, blockerRadius(blocker))) {
      if (pierces(blocker, facet)) return true;
    }
    return false;
  });
}

/** Mirrors nearer to one another than this, with normals that differ by less, are one and the same to a ray. */
const SAME_PLACE = 1e-4;
const SAME_FACING = 0.01;
/** Share of a mirror's grid that must lie on the other: neighbours that touch share an edge only. */
const SAME_SHARE = 0.25;

function inside(outline: Outline, x: number, y: number): boolean {
  if (outline.kind === 'rectangle') {
    const { length, width, centre } = outline;
    return (
      Math.abs(x - centre[0]) < length / 2 - SAME_PLACE && Math.abs(y - centre[1]) < width / 2 - SAME_PLACE
    );
  }
  const radius = Math.hypot(x, y);
  return radius < outline.diameter / 2 - SAME_PLACE && radius > outline.holeDiameter / 2 + SAME_PLACE;
}

/** Whether a good part of `one` lies on `other`. */
function liesOn(one: PlacedFacet, other: PlacedFacet): boolean {
  const grid = mirrorGrid(one.outline);
  let common = 0;
  for (const { x, y } of grid) {
    const place = pointToParent(one.frame, [x, y, surfaceHeight(one.shape, x, y)]);
    const [ownX, ownY, ownZ] = pointToLocal(other.frame, place);
    if (!inside(other.outline, ownX, ownY)) continue;
    if (Math.abs(ownZ - surfaceHeight(other.shape, ownX, ownY)) < SAME_PLACE) common++;
  }
  return common >= SAME_SHARE * grid.length;
}

/** Pairs of mirrors in the same place, whole or in good part, that face the same way. */
export function coincidentFacets(line: FacetLine): readonly (readonly [PlacedFacet, PlacedFacet])[] {
  const { axis, facets, largestRadius } = line;
  const pairs: (readonly [PlacedFacet, PlacedFacet])[] = [];
  facets.forEach(({ facet, radius }, i) => {
    const { origin, z } = facet.frame;
    for (let j = i + 1; j < facets.length; j++) {
      const { facet: other, radius: otherRadius } = facets[j];
      if (other.frame.origin[axis] - origin[axis] > radius + largestRadius) break;
      if (dot(z, other.frame.z) < Math.cos(SAME_FACING)) continue;
      if (norm(subtract(other.frame.origin, origin)) >= radius + otherRadius) continue;
      if (liesOn(facet, other) || liesOn(other, facet)) pairs.push([facet, other]);
    }
  });
  return pairs;
}
