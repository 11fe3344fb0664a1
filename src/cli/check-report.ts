/** What `check` found, as data with the unit in each key. */
import {
  type DishDescription,
  describeField,
  type ReceiverDescription,
  type RowDescription,
} from '../field/describe.js';
import { layOut } from '../field/layout.js';
import { physicsWarnings } from '../field/warnings.js';
import { prepareScene } from '../prepare.js';
import type { ApertureSize, Warning } from '../result/types.js';
import { planBatches, tallyBytes } from '../run/plan.js';
import type { ReceiverDesign, Scene, SunshapeSpec } from '../scene/types.js';
import { momentOf } from '../sun/direction.js';
import { VERSION } from '../version.js';

/** Rays per second and core that the estimate of time assumes: a middling machine, everything switched on. */
export const ASSUMED_RATE = 4e6;
/** What Node itself and the program take, bytes: found by measuring small runs. */
const BASE_BYTES = 120e6;
const WORKER_BYTES = 25e6;

const DEGREE = Math.PI / 180;

function dishData(dish: DishDescription) {
  return {
    name: dish.name,
    strips: dish.strips,
    strip_direction: dish.stripDirection,
    mirror_area_m2: dish.mirrorArea,
    size_along_row_m: dish.size.alongRow,
    size_across_row_m: dish.size.acrossRow,
    focal_length_along_row_m: dish.focalLengthAlongRow,
    focal_length_across_row_m: dish.focalLengthAcrossRow,
    focal_ratio_along_row: dish.focalRatioAlongRow,
    focal_ratio_across_row: dish.focalRatioAcrossRow,
    rim_angle_deg: dish.rimAngle / DEGREE,
    bend_focal_lengths_m: dish.bendFocalLengths,
    design_tilt_deg: dish.designTilt / DEGREE,
    tilt_setting_deg: dish.tiltSetting / DEGREE,
  };
}

function rowData(row: RowDescription) {
  return {
    name: row.name,
    dish: row.dish,
    rows: row.rows,
    dishes: row.dishes,
    facets: row.facets,
    mirror_area_m2: row.mirrorArea,
    pitch_m: row.pitch,
    row_spacing_m: row.rowSpacing,
    heading_deg: row.heading / DEGREE,
    length_m: row.length,
    incidence_deg: row.incidence / DEGREE,
  };
}

function apertureData({ aperture }: ReceiverDesign): ApertureSize {
  switch (aperture.shape) {
    case 'round':
      return { shape: 'round', diameter_mm: 1000 * aperture.diameter };
    case 'rectangle':
      return { shape: 'rectangle', width_mm: 1000 * aperture.width, height_mm: 1000 * aperture.height };
    case 'tube':
      return { shape: 'tube', diameter_mm: 1000 * aperture.diameter, length_mm: 1000 * aperture.length };
  }
}

function receiverData(receiver: ReceiverDescription, design: ReceiverDesign) {
  const { spot } = receiver;
  return {
    name: receiver.name,
    kind: receiver.kind,
    aperture: apertureData(design),
    aperture_area_m2: receiver.apertureArea,
    position_m: receiver.position,
    facing_azimuth_deg: receiver.facing.azimuth / DEGREE,
    facing_elevation_deg: receiver.facing.elevation / DEGREE,
    facets: receiver.facets,
    mirror_area_m2: receiver.mirrorArea,
    geometric_concentration: receiver.geometricConcentration,
    map_cells: design.cells,
    map_window_mm: [1000 * design.window.width, 1000 * design.window.height],
    /** Of perfect mirrors and the sun's centre alone. */
    faultless_spot: {
      centre_mm: [1000 * spot.centroid[0], 1000 * spot.centroid[1]],
      reach_u_mm: 1000 * spot.reach[0],
      reach_v_mm: 1000 * spot.reach[1],
      lit_area_m2: spot.litArea,
      missed_share: spot.missed,
      farthest_mirror_m: spot.distance,
    },
  };
}

function sunshapeData(sunshape: SunshapeSpec) {
  switch (sunshape.kind) {
    case 'point':
      return { kind: sunshape.kind };
    case 'disc':
      return { kind: sunshape.kind, half_angle_mrad: 1000 * sunshape.halfAngle };
    case 'limb_darkened':
      return {
        kind: sunshape.kind,
        half_angle_mrad: 1000 * sunshape.halfAngle,
        darkening: sunshape.darkening,
      };
    case 'gaussian':
      return { kind: sunshape.kind, sigma_mrad: 1000 * sunshape.sigma };
    case 'circumsolar':
      return { kind: sunshape.kind, circumsolar_ratio: sunshape.circumsolarRatio };
    case 'table':
      return { kind: sunshape.kind, entries: sunshape.angle.length };
  }
}

/**
 * Everything `check` has to say.
 * @param rays of the trace whose needs are estimated
 * @param workers threads of that trace
 * @param skyNotices what a user should know of the scene's sky
 * @throws GeometryError, SunBelowHorizonError, NothingLitError
 */
export function describeScene(
  scene: Scene,
  rays: number,
  workers: number,
  skyNotices: readonly string[] = [],
) {
  const moment = momentOf(scene);
  const field = layOut(scene);
  const described = describeField(scene, field, moment);
  const prepared = prepareScene(scene, field, moment);
  const warnings: readonly Warning[] = [
    ...physicsWarnings(scene, field, moment),
    ...skyNotices.map((message) => ({ code: 'sky', message })),
  ];
  const lit = prepared.facetPower.some((watts) => watts > 0);
  const plan = lit ? planBatches(prepared, rays) : null;
  const planned = plan === null ? 0 : plan.raysPerBatch * plan.batches;
  const tallies = tallyBytes(prepared.layout, workers);
  return {
    schema_version: 1,
    program: { name: 'rowfocus', version: VERSION },
    kind: 'check',
    title: scene.title,
    scene_hash: scene.hash,
    sun: {
      azimuth_deg: described.sun.azimuth / DEGREE,
      elevation_deg: described.sun.elevation / DEGREE,
      dni_w_m2: described.sun.dni,
      sunshape: sunshapeData(scene.sun.sunshape),
    },
    facets: described.facets,
    single_facets: described.singleFacets,
    blockers: described.blockers,
    mirror_area_m2: described.mirrorArea,
    aperture_area_m2: described.apertureArea,
    geometric_concentration: described.geometricConcentration,
    available_w: described.availablePower,
    dishes: described.dishes.map(dishData),
    rows: described.rows.map(rowData),
    receivers: described.receivers.map((receiver, index) =>
      receiverData(receiver, field.receivers[index].design),
    ),
    estimate: {
      rays: planned,
      workers,
      assumed_rays_per_s_per_core: ASSUMED_RATE,
      time_s: planned / (ASSUMED_RATE * Math.max(1, workers)),
      prepared_bytes: prepared.buffer.byteLength,
      tally_bytes: tallies,
      memory_bytes: BASE_BYTES + WORKER_BYTES * workers + prepared.buffer.byteLength + tallies,
    },
    warnings,
  } as const;
}

export type CheckReport = ReturnType<typeof describeScene>;
