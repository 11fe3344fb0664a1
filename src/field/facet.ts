/** Facets: single ones placed by hand, and the strips of a dish where the dish stands. */
import type { FacetSpec } from '../scene/types.js';
import type { Strip } from './dish.js';
import { frameFromZ, frameToParent, levelFrame } from './frame.js';
import { GeometryError } from './geometry-error.js';
import { reachesAll } from './surface.js';
import type { Frame, PlacedFacet, PlacedReceiver } from './types.js';
import { directionOf, dot, norm, subtract } from './vector.js';

/** What a facet is tied to: index of its film in the scene, and of its home receiver in the field. */
export interface FacetTies {
  readonly film: number;
  readonly receiver: number;
}

function refuseTooWide(facet: PlacedFacet): PlacedFacet {
  if (!reachesAll(facet.shape, facet.outline)) {
    throw new GeometryError(`facet ${facet.name}`, 'its outline is wider than the circle it is bent to');
  }
  return facet;
}

/**
 * A facet placed by hand.
 * @throws GeometryError where its length points along its normal, or its outline is wider than its circle
 */
export function placeFacet(spec: FacetSpec, ties: FacetTies): PlacedFacet {
  const along = levelFrame(spec.position, spec.alongAzimuth).x;
  const frame = frameFromZ(spec.position, directionOf(spec.facing), along);
  if (frame === null) {
    throw new GeometryError(
      `facet ${spec.name}`,
      'it faces along its own length, which leaves its turn undecided',
    );
  }
  const { name, shape, outline } = spec;
  return refuseTooWide({ name, dish: null, frame, shape, outline, ...ties });
}

/**
 * A dish's strip in the world.
 * @param frame the dish frame as the dish stands now
 * @throws GeometryError where the strip is longer than the circle it is bent to is wide
 */
export function placeStrip(
  strip: Strip,
  index: number,
  dishName: string,
  frame: Frame,
  ties: FacetTies,
): PlacedFacet {
  return refuseTooWide({
    name: `${dishName}/s${index + 1}`,
    dish: dishName,
    frame: frameToParent(frame, strip.frame),
    shape: strip.shape,
    outline: strip.outline,
    ...ties,
  });
}

/**
 * Receiver that a facet without a named one serves: of those in front of its vertex plane the one nearest to the
 * vertex; where none is in front, the nearest of all.
 * @returns index, -1 where there are no receivers
 */
export function nearestReceiver(frame: Frame, receivers: readonly PlacedReceiver[]): number {
  let best = -1;
  let bestInFront = false;
  let bestDistance = Number.POSITIVE_INFINITY;
  for (const [index, receiver] of receivers.entries()) {
    const way = subtract(receiver.frame.origin, frame.origin);
    const inFront = dot(way, frame.z) > 0;
    const distance = norm(way);
    if (inFront === bestInFront ? distance < bestDistance : inFront) {
      best = index;
      bestInFront = inFront;
      bestDistance = distance;
    }
  }
  return best;
}
