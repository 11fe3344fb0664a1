/**
 * The result of a trace, written as it appears in the JSON document: units in the key or in the figure, every sampled
 * figure with its standard error. Lists that would swell the document (maps) live beside it in `FluxGrid`.
 */

export interface Figure {
  readonly value: number;
  /** Standard error. */
  readonly std_err: number;
  /** 95 % interval. */
  readonly ci95: readonly [number, number];
  readonly unit: string;
  /** Set where the value is only a bound: e.g. nothing was hit, or the spot is wider than the map can tell. */
  readonly limit?: 'upper' | 'lower';
}

export type ApertureSize =
  | { readonly shape: 'round'; readonly diameter_mm: number }
  | { readonly shape: 'rectangle'; readonly width_mm: number; readonly height_mm: number }
  | { readonly shape: 'tube'; readonly diameter_mm: number; readonly length_mm: number };

export interface LedgerLine {
  /** Stable key: cosine, unlit, shaded, film, blocked_by_facet, blocked_by_blocker, blocked_by_receiver, intercepted, ... */
  readonly key: string;
  /** For people. */
  readonly label: string;
  /** Whole rays; null for lines that are no fate of a ray (cosine, film). */
  readonly rays: number | null;
  readonly power: Figure;
  /** Of beam irradiance x mirror area. */
  readonly share: number;
}

export interface Ledger {
  readonly mirror_area_m2: number;
  /** Beam irradiance x mirror area, W. The lines sum to it. */
  readonly available_w: number;
  readonly rays: number;
  readonly lines: readonly LedgerLine[];
}

export interface CurvePoint {
  /** Opening relative to the aperture of the scene. */
  readonly scale: number;
  /** The opening itself: diameter, or the width across (rectangle: both sides scale; value is the width), mm. */
  readonly size_mm: number;
  readonly intercept: number;
  readonly std_err: number;
}

export interface Spot {
  /** Circles (diameter), or strips across a line receiver's or tube's axis (width). */
  readonly measure: 'diameter' | 'width';
  readonly holds_50: Figure;
  readonly holds_90: Figure;
  readonly holds_95: Figure;
  /** Centre of all light in the window, receiver frame, mm. */
  readonly centroid_u: Figure;
  readonly centroid_v: Figure;
  /** The centre about which the circles are drawn (centre of unblocked, error-free light), mm. */
  readonly centre_mm: readonly [number, number];
}

export interface ReceiverResult {
  readonly name: string;
  readonly kind: 'plate' | 'cavity' | 'line_plate' | 'tube';
  readonly aperture: ApertureSize;
  readonly aperture_area_m2: number;
  readonly mirror_area_m2: number;
  /** Mirror area / aperture area. */
  readonly geometric_concentration: number;
  /** kW/m2, mean over the averaging disc. */
  readonly peak_flux: Figure;
  readonly peak_disc_mm: number;
  readonly peak_position_mm: readonly [number, number];
  /** kW/m2 over the aperture. */
  readonly mean_flux: Figure;
  /** Mean flux / beam irradiance. */
  readonly concentration_ratio: Figure;
  /** Peak flux / beam irradiance. */
  readonly peak_concentration: Figure;
  /** Light that leaves the mirrors that serve this receiver, W. */
  readonly reflected_power: Figure;
  /** All light through the aperture, W. */
  readonly intercepted_power: Figure;
  /** Own light through the aperture / reflected. */
  readonly intercept_factor: Figure;
  /** Own light that met nothing but ground, sky, the receiver's front or another receiver / reflected. */
  readonly spill_fraction: Figure;
  /** Own light stopped on its way / reflected. */
  readonly blocked_fraction: Figure;
  readonly spot: Spot;
  readonly intercept_curve: readonly CurvePoint[];
  /** Smallest opening (size as in the curve) that spills at most 5 % of the light not blocked; a limit if none does. */
  readonly opening_for_5_percent_spill_mm: Figure;
  readonly ledger: Ledger;
}

export interface TotalResult {
  readonly mirror_area_m2: number;
  readonly aperture_area_m2: number;
  readonly geometric_concentration: number;
  /** Highest of the receivers', with the name of the one that has it. */
  readonly peak_flux: Figure;
  readonly peak_receiver: string;
  readonly mean_flux: Figure;
  readonly concentration_ratio: Figure;
  readonly reflected_power: Figure;
  readonly intercepted_power: Figure;
  readonly intercept_factor: Figure;
  readonly spill_fraction: Figure;
  readonly blocked_fraction: Figure;
  readonly ledger: Ledger;
}

export interface Warning {
  readonly code: string;
  readonly message: string;
}

/** Only where footprints were laid down; `rays` of the result and of its ledgers then count mirror points. */
export interface FootprintNote {
  readonly kind: 'footprints';
  /** Rays in a point's fan, which is what fates, spill, spot and curve are counted from. */
  readonly rays_per_point: number;
  /** Share of the light off the mirrors whose map was made by rays all the same. */
  readonly by_rays_fraction: number;
}

export interface TraceResult {
  readonly schema_version: 1;
  readonly program: { readonly name: 'rowfocus'; readonly version: string };
  readonly kind: 'trace';
  readonly title: string;
  readonly scene_hash: string;
  readonly seed: string;
  readonly rays: number;
  readonly batches: number;
  /** Runs of consecutive batches whose spread gives the errors. */
  readonly groups: number;
  readonly interrupted: boolean;
  readonly deposit?: FootprintNote;
  readonly sun: { readonly azimuth_deg: number; readonly elevation_deg: number; readonly dni_w_m2: number };
  /** Plain sentences: does the spot fit, by how much, what is lost, the smallest opening. */
  readonly answer: string;
  readonly total: TotalResult;
  readonly receivers: readonly ReceiverResult[];
  readonly warnings: readonly Warning[];
  readonly cautions: readonly string[];
}

/** A flux map with its noise, beside the JSON document. */
export interface FluxGrid {
  readonly receiver: string;
  readonly kind: ReceiverResult['kind'];
  readonly aperture: ApertureSize;
  readonly nu: number;
  readonly nv: number;
  /** Size of the window, m. */
  readonly width: number;
  readonly height: number;
  /** kW/m2, row by row: cell (iu, iv) at iv * nu + iu, from the low corner (u = -width/2, v = -height/2). */
  readonly flux: Float64Array;
  /** Standard error of each cell, kW/m2. */
  readonly stdErr: Float64Array;
}

/**
 * Leave-one-out values of each scalar figure, keyed "total.spill_fraction" or "receivers.<name>.spill_fraction":
 * entry j is the figure with group j of batches left out. Paired differences and tolerances get their errors from these.
 */
export type Replicates = Readonly<Record<string, Float64Array>>;

export interface Summary {
  readonly result: TraceResult;
  /** Made when they are first read. */
  readonly grids: readonly FluxGrid[];
  readonly replicates: Replicates;
}
