/**
 * The scene as the rest of the program sees it: checked, in SI units and radians, defaults filled in.
 * Only `scene/` turns a file into this; nothing after it meets a degree, a milliradian or a missing key.
 *
 * World frame: x east, y north, z up, metres. Azimuth from north, clockwise; elevation up from the horizon.
 * Row frame (per row): x along the row (its heading), z up, y to the left of the heading (north for a row that
 * runs east). Dish frame: the row frame turned about the row's axis by the tilt, so that z is the dish's axis.
 */

import type { PlantSpec } from './plant-types.js';

export type Vec3 = readonly [number, number, number];

/** A direction given by azimuth and elevation, radians. */
export interface Angles {
  readonly azimuth: number;
  readonly elevation: number;
}

/** How clocks are set at a site. */
export type TimeZoneSpec =
  /** A name of the IANA time zone list, as written. */
  | { readonly kind: 'iana'; readonly name: string }
  /** Seconds east of UTC. */
  | { readonly kind: 'offset'; readonly seconds: number }
  /** True solar time: noon is where the sun crosses the meridian. */
  | { readonly kind: 'solar' }
  /** Mean solar time of the site's longitude. */
  | { readonly kind: 'mean_solar' };

export interface Site {
  readonly name: string;
  /** Radians, north positive. */
  readonly latitude: number;
  /** Radians, east positive. */
  readonly longitude: number;
  /** Metres above the sea. */
  readonly height: number;
  /** Air pressure for refraction, Pa. */
  readonly pressure: number;
  /** Air temperature for refraction, K. */
  readonly temperature: number;
  /** Null: the scene does not say. */
  readonly timeZone: TimeZoneSpec | null;
}

export type SunshapeSpec =
  /** All light from one direction. */
  | { readonly kind: 'point' }
  | { readonly kind: 'disc'; readonly halfAngle: number }
  /** Radiance 1 - u (1 - mu), u = darkening, mu = sqrt(1 - (theta / halfAngle)^2). */
  | { readonly kind: 'limb_darkened'; readonly halfAngle: number; readonly darkening: number }
  /** Standard deviation per axis. */
  | { readonly kind: 'gaussian'; readonly sigma: number }
  /** The true circumsolar ratio, 0 (disc only) to 0.6: not the chi of the published formula. */
  | { readonly kind: 'circumsolar'; readonly circumsolarRatio: number }
  /** Relative radiance at rising angles from the centre, linear between; the first angle is 0. */
  | { readonly kind: 'table'; readonly angle: readonly number[]; readonly radiance: readonly number[] };

export interface SunSpec {
  /** Towards the sun's centre: given directly, or by an instant at the scene's site (milliseconds since 1970 UTC). */
  readonly direction:
    | ({ readonly kind: 'angles' } & Angles)
    | { readonly kind: 'moment'; readonly time: number };
  /** Beam (direct normal) irradiance, W/m2. */
  readonly dni: number;
  readonly sunshape: SunshapeSpec;
}

/** How a weather file is laid out. */
export type WeatherLayout = { readonly kind: 'epw' } | ColumnLayout;

export interface ColumnLayout {
  readonly kind: 'columns';
  /** Headings; null where the file has no such column. Irradiance W/m2, temperature deg C, wind m/s, pressure hPa. */
  readonly columns: {
    readonly time: string;
    readonly dni: string;
    readonly temperature: string | null;
    readonly wind: string | null;
    readonly pressure: string | null;
  };
  readonly timeMarks: 'start' | 'middle' | 'end';
  /** Seconds east of UTC of times without an offset of their own; null: there must be none. */
  readonly utcOffset: number | null;
  /** Seconds. */
  readonly interval: number;
  /** From 1. */
  readonly headingLine: number;
  readonly delimiter: ',' | ';' | '\t';
  readonly missing: readonly number[];
}

export type HottelClimate = 'tropical' | 'midlatitude_summer' | 'subarctic_summer' | 'midlatitude_winter';

/** A clear sky by a formula; `clearness` multiplies its irradiance. */
export type ClearSkySpec =
  | {
      readonly kind: 'hottel';
      readonly climate: HottelClimate;
      /** Metres. */
      readonly visibility: 23_000 | 5000;
      readonly clearness: number;
    }
  | { readonly kind: 'meinel'; readonly clearness: number };

/** Where beam irradiance and air come from over days and years. */
export type SkySpec =
  | ClearSkySpec
  /** The file as written in the scene: relative to the scene file. */
  | { readonly kind: 'weather'; readonly file: string; readonly layout: WeatherLayout };

/** One Gaussian part of the film's scatter: share of the reflected light, and rms per axis of the reflected ray. */
export interface Lobe {
  readonly weight: number;
  readonly sigma: number;
}

export interface Film {
  readonly name: string;
  /** Reflectance at rising incidence angles (radians), linear between; one entry means a constant. */
  readonly reflectance: { readonly incidence: readonly number[]; readonly value: readonly number[] };
  readonly soilingFactor: number;
  readonly ageingFactor: number;
  /** Rms tilt of the normal per axis, radians: in the plane along the strip, and in the plane across it. */
  readonly slopeErrorAlong: number;
  readonly slopeErrorAcross: number;
  /** One or two lobes; weights sum to 1; sigma may be 0. */
  readonly lobes: readonly Lobe[];
}

/** Facet frame: z the normal at the vertex, x along the strip, y across it. Every surface is z = h(x, y), h(0,0) = 0. */
export type FacetShape =
  | { readonly kind: 'flat' }
  /** Bent along its length only. Parabola: h = x^2/(4f). Circle: radius 2f. */
  | { readonly kind: 'bent'; readonly curve: 'parabola' | 'circle'; readonly focalLength: number }
  /** h = (x^2 + y^2)/(4f). */
  | { readonly kind: 'paraboloid'; readonly focalLength: number }
  /** The circle of radius `radiusAlong` in the x-z plane turned about the line parallel to x at height `radiusAcross`. */
  | { readonly kind: 'toroid'; readonly radiusAlong: number; readonly radiusAcross: number };

/** Outline projected on the facet's x-y plane. */
export type Outline =
  | {
      readonly kind: 'rectangle';
      readonly length: number;
      readonly width: number;
      readonly centre: readonly [number, number];
    }
  | { readonly kind: 'round'; readonly diameter: number; readonly holeDiameter: number };

/** A single facet placed by hand. */
export interface FacetSpec {
  readonly name: string;
  readonly film: string;
  readonly shape: FacetShape;
  readonly outline: Outline;
  readonly position: Vec3;
  /** Direction of the normal at the vertex. */
  readonly facing: Angles;
  /** Azimuth of the strip's length (x axis); projected perpendicular to the normal. */
  readonly alongAzimuth: number;
  /** Name of the standing receiver this facet serves; null: the nearest one. */
  readonly receiver: string | null;
}

/** What a receiver is, wherever it stands. Receiver frame: x = u, y = v, z = w points out of the front. */
export interface ReceiverDesign {
  readonly kind: 'plate' | 'cavity' | 'line_plate' | 'tube';
  readonly aperture:
    | { readonly shape: 'round'; readonly diameter: number }
    /** width along u, height along v. A line plate's long side lies along u. */
    | { readonly shape: 'rectangle'; readonly width: number; readonly height: number }
    /** A tube's axis lies along u. */
    | { readonly shape: 'tube'; readonly diameter: number; readonly length: number };
  /** Flux map window on the receiver plane (u by v), wider than the aperture. For a tube: length by circumference. */
  readonly window: { readonly width: number; readonly height: number };
  /** Map cells along u and v. */
  readonly cells: readonly [number, number];
  /** Diameter of the disc over which the quoted peak flux is averaged, metres. */
  readonly peakDisc: number;
  /** Opaque body behind the aperture plane: it shades and blocks. */
  readonly body:
    | null
    | { readonly shape: 'round'; readonly diameter: number; readonly depth: number }
    | {
        readonly shape: 'rectangle';
        readonly width: number;
        readonly height: number;
        readonly depth: number;
      };
}

/** A receiver that stands by itself. */
export interface StandingReceiver {
  readonly name: string;
  readonly design: ReceiverDesign;
  readonly position: Vec3;
  /** Direction the front faces (ignored for a tube). */
  readonly facing: Angles;
  /** Azimuth of u; projected perpendicular to the front's direction. A tube's or line plate's axis is level at this azimuth. */
  readonly alongAzimuth: number;
}

/** A receiver that belongs to each dish of a design: it stands at the design focus, moved by `offset` (row frame). */
export interface DishReceiver {
  readonly design: ReceiverDesign;
  readonly offset: Vec3;
  /** 'dish': the front looks at the dish's centre. 'down': straight down. */
  readonly faces: 'dish' | 'down';
}

export type BlockerSpec =
  /** Size along x, y, z of its own frame, turned about the vertical so that x points along `heading` (azimuth). */
  | {
      readonly kind: 'box';
      readonly name: string;
      readonly centre: Vec3;
      readonly size: Vec3;
      readonly heading: number;
    }
  | {
      readonly kind: 'cylinder';
      readonly name: string;
      readonly from: Vec3;
      readonly to: Vec3;
      readonly diameter: number;
    };

export interface DishDesign {
  readonly name: string;
  readonly film: string;
  /** Focal length in the plane that holds the row's axis (east-west for a row that runs east). */
  readonly focalLengthAlongRow: number;
  /** Focal length in the plane across the row (north-south); the design focus lies this far along the dish's axis. */
  readonly focalLengthAcrossRow: number;
  readonly strips: {
    readonly count: number;
    /** Across the strip, metres, measured straight across. */
    readonly width: number;
    /** Along the strip, metres, measured straight from end to end. */
    readonly length: number;
    readonly gap: number;
    readonly direction: 'along_row' | 'across_row';
    readonly bend: 'parabola' | 'circle' | 'straight';
    /** 'each_strip': bent to suit its own distance from the focus. 'common': all alike, to the focal length itself. */
    readonly bendFit: 'each_strip' | 'common';
  };
  /** Where the strips' centres lie: on a flat bed, or on ribs of parabolic profile. */
  readonly rib: 'flat' | 'parabola';
  /** Lean of the dish's axis from straight up towards the right of the row's heading (south for a row that runs east). */
  readonly designTilt: number;
  /** Sun direction for which the strips are aimed at the focus; null: along the dish's axis. */
  readonly designSun: Angles | null;
  /** Turn about the row's axis after building, same sense as the tilt; the receiver does not move with it. */
  readonly tiltSetting: number;
  /** Design focus in the dish frame; null: on the axis at focalLengthAcrossRow. */
  readonly focus: Vec3 | null;
  readonly receiver: DishReceiver | null;
  /** In the row frame about the dish's centre, without the tilt. */
  readonly blockers: readonly BlockerSpec[];
}

export interface RowSpec {
  readonly name: string;
  readonly dish: string;
  readonly dishes: number;
  readonly pitch: number;
  /** Azimuth of the row's axis. */
  readonly heading: number;
  /** Middle of the first row. */
  readonly centre: Vec3;
  readonly rows: number;
  /** From row to row, towards the left of the heading (north for rows that run east). */
  readonly rowSpacing: number;
  /** Name of a standing receiver that all dishes of the row serve; null: each dish has its own. */
  readonly receiver: string | null;
}

export interface Scene {
  readonly title: string;
  readonly site: Site | null;
  readonly sun: SunSpec;
  /** Null: the scene does not say. */
  readonly sky: SkySpec | null;
  readonly films: readonly Film[];
  readonly dishes: readonly DishDesign[];
  readonly rows: readonly RowSpec[];
  readonly facets: readonly FacetSpec[];
  readonly receivers: readonly StandingReceiver[];
  readonly blockers: readonly BlockerSpec[];
  /** Height of the ground plane, metres; null: no ground. */
  readonly ground: number | null;
  /** How often one ray may meet a mirror's front before it counts as lost. */
  readonly bounceLimit: number;
  /** Heat and cost; null: the scene does not speak of them. */
  readonly plant: PlantSpec | null;
  /** SHA-256 of the scene's meaning (after defaults and `--set`), 64 hex digits; comments and key order do not matter. */
  readonly hash: string;
}
