/** Geometry at rest, in the world frame: what `field/` makes of a scene and `prepare.ts` packs for the kernel. */
import type { FacetShape, Outline, ReceiverDesign, Vec3 } from '../scene/types.js';

/** Right-handed and orthonormal. */
export interface Frame {
  readonly origin: Vec3;
  readonly x: Vec3;
  readonly y: Vec3;
  readonly z: Vec3;
}

export interface PlacedFacet {
  readonly name: string;
  /** Name of the dish it belongs to, e.g. "A2-07"; null for a facet placed by hand. */
  readonly dish: string | null;
  /** Index into `scene.films`. */
  readonly film: number;
  readonly frame: Frame;
  readonly shape: FacetShape;
  readonly outline: Outline;
  /** Index into `Field.receivers` of the receiver this facet serves (its home receiver). */
  readonly receiver: number;
}

export interface PlacedReceiver {
  readonly name: string;
  readonly design: ReceiverDesign;
  /** Origin at the aperture's centre (a tube's: middle of its axis); x = u, y = v, z out of the front. */
  readonly frame: Frame;
}

export type PlacedBlocker =
  /** Origin at the centre; `size` is the full size along the frame's axes. */
  | {
      readonly kind: 'box';
      readonly name: string;
      readonly frame: Frame;
      readonly size: Vec3;
      readonly bodyOf: number;
    }
  /** Origin at the centre; the axis is the frame's z. Closed at both ends. */
  | {
      readonly kind: 'cylinder';
      readonly name: string;
      readonly frame: Frame;
      readonly radius: number;
      readonly length: number;
      readonly bodyOf: number;
    };
// bodyOf: index of the receiver whose body this is, -1 otherwise. A body's front is its +z end.

export interface Field {
  readonly facets: readonly PlacedFacet[];
  readonly receivers: readonly PlacedReceiver[];
  readonly blockers: readonly PlacedBlocker[];
  /** Height of the ground, metres, or null. */
  readonly ground: number | null;
}
