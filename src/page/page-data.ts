/** What the page's script reads: one JSON document inside the page. Lengths in mm or m as the keys say. */
import type { ViewStep } from '../report/section.js';
import type { ApertureSize, ReceiverResult } from '../result/types.js';
import type { FacetShape, Outline, Vec3 } from '../scene/types.js';

/** Numbers from 0 up in even steps. */
export interface PackedLevels {
  /** Value of the highest step, 65535; 0 is 0. */
  readonly top: number;
  /** Two bytes each, little-endian, in base64. */
  readonly steps: string;
}

/** A map that can be read with the pointer. */
export interface MapData {
  /** Id of its figure in the page. */
  readonly figure: string;
  /** Where the map stands in the drawing, in the drawing's own pixels. */
  readonly area: {
    readonly left: number;
    readonly top: number;
    readonly width: number;
    readonly height: number;
  };
  readonly scene: number;
  /** Index of the receiver in its scene. */
  readonly receiver: number;
  readonly name: string;
  readonly file: string;
  readonly kind: ReceiverResult['kind'];
  readonly aperture: ApertureSize;
  readonly nu: number;
  readonly nv: number;
  readonly width_mm: number;
  readonly height_mm: number;
  /** kW/m2. */
  readonly flux: PackedLevels;
  readonly std_err: PackedLevels;
  /** What the engine found for the scene's own opening. */
  readonly reflected_w: number;
  readonly intercepted_w: number;
  readonly intercepted_half_w: number;
  readonly intercept: number;
  readonly intercept_half: number;
  readonly spill: number;
  readonly spill_half: number;
  readonly blocked: number;
}

/** Origin, then the three axes, 12 numbers, world frame, m. */
export type PackedFrame = readonly number[];

export interface SpaceFacet {
  readonly name: string;
  readonly dish: string | null;
  readonly frame: PackedFrame;
  readonly shape: FacetShape;
  readonly outline: Outline;
  /** Sunlight on it were nothing in the way, W. */
  readonly sunlight_w: number;
  /** Of the sun's centre at its vertex. */
  readonly incidence_deg: number;
  readonly receiver: number;
}

export interface SpaceReceiver {
  readonly name: string;
  readonly kind: ReceiverResult['kind'];
  readonly frame: PackedFrame;
  readonly aperture: ApertureSize;
  readonly window_m: readonly [number, number];
  /** Index into `PageData.maps`; -1 where the page holds no map of it. */
  readonly map: number;
  readonly peak: string;
}

export interface SpaceBlocker {
  readonly name: string;
  readonly frame: PackedFrame;
  /** Box: full sizes along its axes; cylinder: diameter and length along its z. */
  readonly box_m: Vec3 | null;
  readonly cylinder_m: readonly [number, number] | null;
  /** Receiver whose body it is, -1 for none. */
  readonly body_of: number;
}

/** Rays in the order of the run; each has `counts[i]` places. */
export interface SpaceRays {
  readonly count: number;
  /** One byte each: index into `fates`. */
  readonly fates: string;
  readonly counts: string;
  /** Two bytes each, little-endian. */
  readonly facets: string;
  /** Per ray: sunlight W, watts at the end, incidence deg, direction to the sun (3), 1 where it was shaded. */
  readonly figures: string;
  /** x y z of all places of all rays; a shaded ray begins at what shades it. */
  readonly places: string;
}

export interface SpaceFate {
  readonly key: string;
  readonly label: string;
  readonly colour: string;
  readonly dash: readonly [number, number] | null;
}

export interface SpaceData {
  readonly label: string;
  readonly sun: Vec3;
  readonly facets: readonly SpaceFacet[];
  /** Ribs under the strips: places of a line through the beds, one line at each end of a dish's strips. */
  readonly ribs: readonly (readonly Vec3[])[];
  readonly receivers: readonly SpaceReceiver[];
  readonly blockers: readonly SpaceBlocker[];
  readonly ground_m: number | null;
  /** Corners of the box round mirrors and receivers. */
  readonly low: Vec3;
  readonly high: Vec3;
  readonly rays: SpaceRays;
}

export interface PageData {
  readonly maps: readonly MapData[];
  readonly spaces: readonly SpaceData[];
  readonly fates: readonly SpaceFate[];
  readonly steps: readonly ViewStep[];
  /** kW/m2 at the top of the colour scale that all maps share. */
  readonly scale_kw_m2: number;
  /** 256 colours, three bytes each. */
  readonly colours: string;
}
