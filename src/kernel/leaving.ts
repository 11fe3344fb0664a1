/** Light as it leaves the mirrors, before it meets anything: for studies that move receivers through it. */
import { Books } from './books.js';
import { FLIGHT_REALS, Flights, launch, scatter, shade } from './direct.js';
import { Scratch } from './intersect.js';
import { FACET_INTS, FacetKind, FI_HOME, FI_KIND, type PreparedView } from './layout.js';
import { tallyLayout } from './tally.js';

/** Numbers of a ray: starting point and direction in the home receiver's frame (u, v, w each), watts after the film. */
export const LEAVING_REALS = 7;

export interface LeavingLight {
  /** LEAVING_REALS of each ray. */
  readonly reals: Float64Array;
  /** Receiver that the ray's mirror serves. */
  readonly home: Int32Array;
  /** Mirror the ray leaves. */
  readonly facet: Int32Array;
}

/** This kind of mirror's light cannot be recorded. */
export class NoLeavingLightError extends Error {
  override readonly name = 'NoLeavingLightError';
}

/**
 * Draws one batch of rays as `traceBatch` does, shaded ones left out, and stops when they have left the film. The few that
 * leave at a grazing angle (ten film sigmas of their own mirror), which no receiver is placed to catch, are left out as well.
 * @param log2Rays per facet: 2^k rays, or -1 for a facet that is not traced
 * @param shifts as for `traceBatch`
 * @throws NoLeavingLightError for a toroid facet
 */
export function leavingLight(view: PreparedView, log2Rays: Int32Array, shifts: Int32Array): LeavingLight {
  let rays = 0;
  let most = 0;
  for (let facet = 0; facet < view.facets; facet++) {
    if (log2Rays[facet] < 0) continue;
    if (view.facetInts[facet * FACET_INTS + FI_KIND] === FacetKind.Toroid) {
      throw new NoLeavingLightError('the light of toroid facets cannot be recorded before it flies');
    }
    rays += 2 ** log2Rays[facet];
    most = Math.max(most, 2 ** log2Rays[facet]);
  }
  const layout = tallyLayout(view.cells);
  const books = new Books(new Float64Array(layout.length), layout);
  const scratch = new Scratch(view);
  const flights = new Flights(most);
  const left = new Int32Array(most);
  const reals = new Float64Array(rays * LEAVING_REALS);
  const home = new Int32Array(rays);
  const mirror = new Int32Array(rays);
  let count = 0;
  for (let facet = 0; facet < view.facets; facet++) {
    const log2 = log2Rays[facet];
    if (log2 < 0) continue;
    scratch.startOn(view, facet);
    const launched = launch(view, scratch, facet, log2, shifts, 0, 2 ** log2, flights, left);
    const flying = launched - shade(view, scratch, books, facet, launched, flights);
    scatter(view, facet, log2, shifts, flying, flights);
    for (let n = 0; n < flying; n++) {
      const row = n * FLIGHT_REALS;
      const out = count * LEAVING_REALS;
      for (let c = 0; c < 6; c++) reals[out + c] = flights.reals[row + c];
      reals[out + 6] = flights.reals[row + 7];
      home[count] = view.facetInts[facet * FACET_INTS + FI_HOME];
      mirror[count] = facet;
      count++;
    }
  }
  return {
    reals: reals.slice(0, count * LEAVING_REALS),
    home: home.slice(0, count),
    facet: mirror.slice(0, count),
  };
}
