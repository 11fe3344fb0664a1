/** All figures of one receiver. */

import { apertureArea } from '../field/receiver.js';
import { CURVE_BINS, CURVE_MAX_SCALE, SPOT_BINS } from '../kernel/tally.js';
import type { PreparedScene } from '../prepare.js';
import { jackknife } from '../run/statistics.js';
import { apertureSize, leadingSize } from './aperture.js';
import { footprintClump } from './clump.js';
import {
  type EnclosedLight,
  type EnclosingSize,
  enclosedAt,
  enclosedLight,
  enclosingSize,
} from './enclosed.js';
import {
  fatePower,
  fateRays,
  groupFigures,
  latticesOf,
  ledgerOf,
  type MirrorCounts,
  REFLECTED_FATES,
  UNBLOCKED_FATES,
} from './group.js';
import { countedArea, type DiscGeometry, type PeakSearch, searchPeak } from './peak.js';
import {
  COUNT_ERROR,
  FEW_RAYS,
  figureOf,
  latticeError,
  type Resampled,
  resample,
  resampledMean,
  type SlotSums,
  scaleFigure,
  scaleResampled,
  shareError,
} from './resampled.js';
import type { CurvePoint, Figure, ReceiverResult, Spot } from './types.js';

/** Openings of the intercept curve relative to the scene's: 0.1 to 2 by 0.05, on to 4 by 0.1; 1 is exactly among them. */
function curveScales(): number[] {
  const scales: number[] = [];
  for (let twentieths = 2; twentieths <= 40; twentieths++) scales.push(twentieths / 20);
  for (let tenths = 21; tenths <= 10 * CURVE_MAX_SCALE; tenths++) scales.push(tenths / 10);
  return scales;
}

export interface ReceiverFigures {
  readonly result: ReceiverResult;
  /** Leave-one-out values of each scalar figure, by its name within the receiver. */
  readonly resampled: ReadonlyMap<string, Resampled>;
  readonly peak: PeakSearch;
  /** Power that comes down in a cell as one, W: a ray's, or a footprint's part. */
  readonly wattsPerRay: number;
  /** Error of the peak from ray counts, kW/m2. */
  readonly peakCountError: number;
}

/**
 * @param index of the receiver and of the group of mirrors that serve it
 */
export function receiverFigures(
  prepared: PreparedScene,
  mirrors: MirrorCounts,
  sums: SlotSums,
  index: number,
): ReceiverFigures {
  const { layout, moment } = prepared;
  const placed = prepared.field.receivers[index];
  const { design } = placed;
  const place = layout.receivers[index];
  const group = [index];
  const area = apertureArea(design);
  const mirrorArea = prepared.mirrorArea[index];
  const lattices = latticesOf(mirrors, sums, group);
  const light = groupFigures(layout, sums, group, lattices);
  const resampled = new Map<string, Resampled>(Object.entries(light.resampled));
  const note = (name: string, quantity: Resampled): Resampled => {
    resampled.set(name, quantity);
    return quantity;
  };

  const perArea = 1e-3 / area;
  note('mean_flux', scaleResampled(light.resampled.intercepted_power, perArea));
  const meanFlux = scaleFigure(light.intercepted_power, perArea, 'kW/m2');
  const perDni = moment.dni > 0 ? 1000 / moment.dni : 0;
  note('concentration_ratio', scaleResampled(light.resampled.intercepted_power, perArea * perDni));

  // Peak flux.
  const unblockedRays = fateRays(layout, sums, group, UNBLOCKED_FATES);
  const unblocked = fatePower(layout, group, UNBLOCKED_FATES);
  const unblockedPower = resample(sums, unblocked).value;
  const wattsPerRay =
    (unblockedRays > 0 ? unblockedPower / unblockedRays : light.rayPower) * batchCount(sums);
  const map: DiscGeometry = {
    nu: place.nu,
    nv: place.nv,
    width: design.window.width,
    height: design.window.height,
    discDiameter: design.peakDisc,
    wrapsInV: design.kind === 'tube',
  };
  const peak = searchPeak(map, sums.sum, sums.slots, sums.batchesPerSlot, place.map);
  const peakArea = countedArea(map);
  const wattsInDisc = footprintClump(layout, sums, index, peakArea) ?? wattsPerRay;
  const peakCountError = poissonFluxError(peak.plainMaximum, peakArea, wattsInDisc, batchCount(sums));
  const peakFlux = note('peak_flux', scaleResampled(peakQuantity(peak), 1e-3));
  note('peak_concentration', scaleResampled(peakFlux, perDni));
  const raysInDisc =
    (peak.plainMaximum * peakArea * batchCount(sums)) / Math.max(wattsInDisc, Number.MIN_VALUE);
  const peakFigure = fluxFigure(peakFlux, peakCountError, 1e-3 * peak.placeError, raysInDisc, lattices);

  // Spot.
  const measured = prepared.spots[index];
  const spotLight = enclosedLight(sums, {
    offset: place.spot,
    bins: SPOT_BINS,
    limit: measured.radius,
    within: measured.measure === 'diameter' ? 'area' : 'distance',
  });
  const holding = (share: number, name: string): Figure => {
    const found = enclosingSize(spotLight, unblocked, share, unblockedRays, lattices);
    const across = note(`spot.${name}`, scaleResampled(found.size, 2000));
    const figure = sizeFigure(across, found, 2000);
    return found.bounded ? { ...figure, limit: 'lower' } : figure;
  };
  const centroid = (axis: 1 | 2, name: string, extent: number): Figure => {
    const quantity = note(
      `spot.${name}`,
      resample(sums, (read) => {
        const power = read(place.moments);
        return power > 0 ? (1000 * read(place.moments + axis)) / power : 0;
      }),
    );
    const reach = 500 * extent;
    if (sums.sum[place.moments] <= 0) {
      return { value: 0, std_err: reach / Math.sqrt(3), ci95: [-reach, reach], unit: 'mm' };
    }
    // A single slot: no light can be spread wider than evenly over the window, near enough.
    const singleSlotError = reach / Math.sqrt(3 * Math.max(1, unblockedRays));
    // So it is for few rays, which may lie in one slot or two.
    const rays = wattsPerRay > 0 ? sums.sum[place.moments] / wattsPerRay : 0;
    const furtherError = rays < FEW_RAYS ? reach / Math.sqrt(3 * Math.max(1, rays)) : 0;
    return figureOf(quantity, 'mm', { min: -reach, max: reach, singleSlotError, furtherError });
  };
  const spot: Spot = {
    measure: measured.measure,
    holds_50: holding(0.5, 'holds_50'),
    holds_90: holding(0.9, 'holds_90'),
    holds_95: holding(0.95, 'holds_95'),
    centroid_u: centroid(1, 'centroid_u', design.window.width),
    centroid_v: centroid(2, 'centroid_v', design.window.height),
    centre_mm: [measured.centre[0] * 1000, measured.centre[1] * 1000],
  };

  // Intercept against opening.
  const curveLight = enclosedLight(sums, {
    offset: place.curve,
    bins: CURVE_BINS,
    limit: CURVE_MAX_SCALE,
    within: measured.measure === 'diameter' ? 'area' : 'distance',
  });
  const leading = leadingSize(design);
  const opening = enclosingSize(curveLight, unblocked, 0.95, unblockedRays, lattices);
  const openingSize = note('opening_for_5_percent_spill_mm', scaleResampled(opening.size, leading));
  const openingFigure = sizeFigure(openingSize, opening, leading);

  const [cellU, cellV] = [peak.cell % place.nu, Math.floor(peak.cell / place.nu)];
  const result: ReceiverResult = {
    name: placed.name,
    kind: design.kind,
    aperture: apertureSize(design),
    aperture_area_m2: area,
    mirror_area_m2: mirrorArea,
    geometric_concentration: mirrorArea / area,
    peak_flux: peakFigure,
    peak_disc_mm: Number((design.peakDisc * 1000).toPrecision(12)),
    peak_position_mm: [
      1000 * design.window.width * ((cellU + 0.5) / place.nu - 0.5),
      1000 * design.window.height * ((cellV + 0.5) / place.nv - 0.5),
    ],
    mean_flux: meanFlux,
    concentration_ratio: scaleFigure(meanFlux, perDni, '1'),
    peak_concentration: scaleFigure(peakFigure, perDni, '1'),
    reflected_power: light.reflected_power,
    intercepted_power: light.intercepted_power,
    intercept_factor: light.intercept_factor,
    spill_fraction: light.spill_fraction,
    blocked_fraction: light.blocked_fraction,
    spot,
    intercept_curve: interceptCurve(curveLight, {
      reflected: fatePower(layout, group, REFLECTED_FATES),
      rays: light.reflectedRays,
      lattices,
      leading,
    }),
    opening_for_5_percent_spill_mm: opening.bounded ? { ...openingFigure, limit: 'lower' } : openingFigure,
    ledger: ledgerOf(prepared, mirrors, sums, group),
  };
  const cellArea = (design.window.width / place.nu) * (design.window.height / place.nv);
  const wattsInCell = footprintClump(layout, sums, index, cellArea) ?? wattsPerRay;
  return { result, resampled, peak, wattsPerRay: wattsInCell, peakCountError };
}

/** A size in mm. @param factor from the size found to mm */
function sizeFigure(quantity: Resampled, found: EnclosingSize, factor: number): Figure {
  return figureOf(quantity, 'mm', {
    min: 0,
    singleSlotError: factor * found.countError,
    leastSpread: factor * found.leastSpread,
    furtherError: factor * found.furtherError,
  });
}

/** 97.5 % upper limit of a Poisson mean where none was seen: -ln 0.025. */
const POISSON_UPPER_OF_NONE = 3.6888794541139363;

/** Batches in all slots. */
function batchCount(sums: SlotSums): number {
  return sums.slots.length * sums.batchesPerSlot;
}

/** The peak as a mean over slots; of a single slot only the plain (too high) maximum can be had. W/m2. */
function peakQuantity(peak: PeakSearch): Resampled {
  if (peak.readings.length < 2) return { value: peak.plainMaximum, replicates: new Float64Array(0) };
  return resampledMean(peak.readings);
}

/** Standard error, kW/m2, of a flux over an area from the number of rays that made it; never 0. */
function poissonFluxError(flux: number, area: number, wattsPerRay: number, batches: number): number {
  const rays = Math.max(1, (flux * area * batches) / Math.max(wattsPerRay, Number.MIN_VALUE));
  return (1e-3 * Math.sqrt(rays) * wattsPerRay) / (area * batches);
}

/** A flux from `rays` rays; with few of them the ray count speaks as well, and none at all gives an upper limit. */
function fluxFigure(
  quantity: Resampled,
  countError: number,
  placeError: number,
  rays: number,
  lattices: number,
): Figure {
  const perRay = rays > 0 ? quantity.value / rays : 0;
  const figure = figureOf(quantity, 'kW/m2', {
    min: 0,
    singleSlotError: countError,
    leastSpread: perRay * latticeError(rays, rays, lattices),
    furtherError: perRay * COUNT_ERROR,
    // A place beside the top reads too low, never too high.
    errorUpwards: placeError,
  });
  if (rays >= FEW_RAYS || figure.std_err >= countError) return figure;
  const high = Math.max(figure.ci95[1], figure.value + POISSON_UPPER_OF_NONE * countError);
  const widened = { ...figure, std_err: countError, ci95: [0, high] as const };
  return rays > 0 ? widened : { ...widened, limit: 'upper' };
}

function interceptCurve(
  curve: EnclosedLight,
  light: {
    readonly reflected: (read: (offset: number) => number) => number;
    readonly rays: number;
    readonly lattices: number;
    readonly leading: number;
  },
): CurvePoint[] {
  const { sums } = curve;
  const count = sums.slots.length;
  const scales = curveScales();
  const whole = new Float64Array(scales.length);
  // One array for all scales: many small ones cost more than what is put into them.
  const replicates = new Float64Array(scales.length * count);
  resample(sums, (read, slot) => {
    const reflected = light.reflected(read);
    const enclosed = slot < 0 ? curve.whole : curve.without[slot];
    scales.forEach((scale, i) => {
      const share = reflected > 0 ? enclosedAt(curve, enclosed, scale) / reflected : 0;
      if (slot < 0) whole[i] = share;
      else replicates[i * count + slot] = share;
    });
    return 0;
  });
  return scales.map((scale, i) => {
    const byCount = shareError(whole[i], light.rays);
    const few = Math.min(whole[i], 1 - whole[i]) * light.rays < FEW_RAYS;
    const inside = whole[i] * light.rays;
    const perRay = light.rays > 0 ? 1 / light.rays : 0;
    const spread =
      count < 2
        ? byCount
        : Math.hypot(
            Math.max(
              jackknife(replicates.subarray(i * count, (i + 1) * count), whole[i]).std_err,
              latticeError(inside, light.rays - inside, light.lattices) * perRay,
            ),
            COUNT_ERROR * perRay,
          );
    return {
      scale,
      size_mm: scale * light.leading,
      intercept: whole[i],
      std_err: few ? Math.max(spread, byCount) : spread,
    };
  });
}
