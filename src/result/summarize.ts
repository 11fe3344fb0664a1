/** From the slots of a run to everything the program reports of it. */

import { apertureArea } from '../field/receiver.js';
import { NODES } from '../kernel/footprint.js';
import type { PreparedScene } from '../prepare.js';
import type { RunOutcome } from '../run/types.js';
import { answerOf } from './answer.js';
import { cautionsFor } from './cautions.js';
import { byRaysFraction } from './clump.js';
import { fluxErrors, fluxGrid, fluxMap, type MapOfRun } from './grid.js';
import { countMirrors, groupFigures, latticesOf, ledgerOf, type MirrorCounts } from './group.js';
import { hottestReadings } from './peak.js';
import { type ReceiverFigures, receiverFigures } from './receiver.js';
import {
  figureOf,
  type Resampled,
  resampledMean,
  type SlotSums,
  scaleFigure,
  scaleResampled,
  sumSlots,
} from './resampled.js';
import type { FluxGrid, Summary, TotalResult, TraceResult, Warning } from './types.js';

/**
 * Every figure of a trace with its error.
 *
 * Each batch estimates the full watts, so a value is the sum over the slots divided by the number of batches. Errors come
 * from leaving out one slot at a time (jackknife), intervals from Student's t with slots - 1 degrees of freedom, cut to
 * what the figure can be. A share with fewer than 10 rays inside or outside gets Wilson's interval on the ray counts, and
 * none at all makes it a bound (`limit`). The peak is cross-validated (see `peak.ts`).
 *
 * A single slot has no spread: its errors come from ray counts as if rays were independent, and a warning says so.
 *
 * `intercepted_power` (and the mean flux and concentration from it) of a receiver is all light through its opening. Light
 * that strays in from other dishes stands in the ledger line "caught by another receiver" of the dishes it came from.
 *
 * @param prepared the scene that was traced
 * @param outcome its slots: sums over equal runs of consecutive batches
 * @param version of the program
 * @param warnings to carry into the result, before those found here
 * @returns the JSON result, the flux maps, and the leave-one-out values of each scalar figure
 * @throws RangeError where no slot was finished, or the tallies do not fit the scene
 */
export function summarize(
  prepared: PreparedScene,
  outcome: RunOutcome,
  version: string,
  warnings: readonly Warning[],
): Summary {
  const { layout, field, scene, moment } = prepared;
  const sums = sumSlots(outcome.slots, outcome.batchesPerSlot);
  if (sums.sum.length !== layout.length) {
    throw new RangeError(
      `a tally of ${sums.sum.length} numbers does not fit a scene that needs ${layout.length}`,
    );
  }
  const mirrors = countMirrors(prepared);
  const figures = field.receivers.map((_, index) => receiverFigures(prepared, mirrors, sums, index));
  const receivers = figures.map((entry) => entry.result);
  const total = totalFigures(prepared, mirrors, sums, figures);
  const maps = field.receivers.map(
    (receiver, index): MapOfRun => ({
      layout,
      sums,
      receiver,
      index,
      wattsPerRay: figures[index].wattsPerRay,
    }),
  );

  const replicates: Record<string, Float64Array> = {};
  for (const [name, quantity] of total.resampled) replicates[`total.${name}`] = quantity.replicates;
  for (const { result, resampled } of figures) {
    for (const [name, quantity] of resampled) {
      replicates[`receivers.${result.name}.${name}`] = quantity.replicates;
    }
  }

  const [east, north, up] = moment.sunDirection;
  const result: TraceResult = {
    schema_version: 1,
    program: { name: 'rowfocus', version },
    kind: 'trace',
    title: scene.title,
    scene_hash: scene.hash,
    seed: outcome.seed,
    rays: outcome.rays,
    batches: outcome.batches,
    groups: outcome.slots.length,
    interrupted: outcome.interrupted,
    ...(outcome.deposit === 'footprints'
      ? {
          deposit: {
            kind: 'footprints' as const,
            rays_per_point: NODES,
            by_rays_fraction: byRaysFraction(layout, sums),
          },
        }
      : {}),
    sun: {
      azimuth_deg: degrees((Math.atan2(east, north) + 2 * Math.PI) % (2 * Math.PI)),
      elevation_deg: degrees(Math.atan2(up, Math.hypot(east, north))),
      dni_w_m2: moment.dni,
    },
    answer: answerOf(total.result, receivers),
    total: total.result,
    receivers,
    warnings: [...warnings, ...warningsOf(outcome, receivers), ...coarseSpots(maps)],
    cautions: cautionsFor(total.result.peak_flux.value),
  };
  let grids: readonly FluxGrid[] | null = null;
  return {
    result,
    // Made when they are asked for: a sweep never does, and their errors take as long as the peak.
    get grids() {
      grids ??= maps.map(fluxGrid);
      return grids;
    },
    replicates,
  };
}

function degrees(radians: number): number {
  return (radians * 180) / Math.PI;
}

/** Figures of all receivers together. */
function totalFigures(
  prepared: PreparedScene,
  mirrors: MirrorCounts,
  sums: SlotSums,
  receivers: readonly ReceiverFigures[],
): { readonly result: TotalResult; readonly resampled: ReadonlyMap<string, Resampled> } {
  const { layout, moment, field } = prepared;
  const groups = receivers.map((_, index) => index);
  const light = groupFigures(layout, sums, groups, latticesOf(mirrors, sums, groups));
  const resampled = new Map<string, Resampled>(Object.entries(light.resampled));
  const area = field.receivers.reduce((sum, receiver) => sum + apertureArea(receiver.design), 0);
  const perArea = 1e-3 / area;
  const perDni = moment.dni > 0 ? 1000 / moment.dni : 0;
  const meanFlux = scaleFigure(light.intercepted_power, perArea, 'kW/m2');
  resampled.set('mean_flux', scaleResampled(light.resampled.intercepted_power, perArea));
  resampled.set('concentration_ratio', scaleResampled(light.resampled.intercepted_power, perArea * perDni));

  let hottest = receivers[0];
  for (const entry of receivers) {
    if (entry.result.peak_flux.value > hottest.result.peak_flux.value) hottest = entry;
  }
  let peakFlux = hottest.result.peak_flux;
  if (receivers.length > 1 && sums.slots.length > 1) {
    const { readings, placeError } = hottestReadings(receivers.map((entry) => entry.peak));
    const quantity = scaleResampled(resampledMean(readings), 1e-3);
    resampled.set('peak_flux', quantity);
    peakFlux = figureOf(quantity, 'kW/m2', {
      min: 0,
      singleSlotError: hottest.peakCountError,
      furtherError: 1e-3 * placeError,
    });
  } else {
    const own = hottest.resampled.get('peak_flux');
    if (own) resampled.set('peak_flux', own);
  }

  const ledger = ledgerOf(prepared, mirrors, sums, groups);
  return {
    resampled,
    result: {
      mirror_area_m2: ledger.mirror_area_m2,
      aperture_area_m2: area,
      geometric_concentration: ledger.mirror_area_m2 / area,
      peak_flux: peakFlux,
      peak_receiver: hottest.result.name,
      mean_flux: meanFlux,
      concentration_ratio: scaleFigure(meanFlux, perDni, '1'),
      reflected_power: light.reflected_power,
      intercepted_power: light.intercepted_power,
      intercept_factor: light.intercept_factor,
      spill_fraction: light.spill_fraction,
      blocked_fraction: light.blocked_fraction,
      ledger,
    },
  };
}

/** What a reader of the figures must know about how they came about. */
function warningsOf(outcome: RunOutcome, receivers: readonly TraceResult['receivers'][number][]): Warning[] {
  const warnings: Warning[] = [];
  if (outcome.slots.length < 2) {
    warnings.push({
      code: 'errors_from_ray_counts',
      message:
        'Only one group of batches was traced, so the errors are estimates from ray counts and the peak flux reads too high. Trace more rays for honest errors.',
    });
  }
  if (!outcome.targetReached) {
    warnings.push({
      code: 'target_not_reached',
      message:
        'The run ended before the wanted error was reached; the errors stated are those of the rays traced.',
    });
  }
  const dark = receivers.filter((receiver) => receiver.reflected_power.value <= 0);
  if (dark.length > 0) {
    warnings.push({
      code: 'no_light',
      message: `No light leaves the mirrors that serve ${nameList(dark)}; the figures there say nothing.`,
    });
  }
  const wide = receivers.filter(
    (receiver) => receiver.reflected_power.value > 0 && receiver.spot.holds_90.limit === 'lower',
  );
  if (wide.length > 0) {
    warnings.push({
      code: 'spot_wider_than_measured',
      message: `The spot on ${nameList(wide)} is wider than the map window can tell: its size is a lower bound. Enlarge the window.`,
    });
  }
  return warnings;
}

/** A spot on fewer cells than this, along u or along v, has its peak smoothed by the cells themselves. */
const FEWEST_SPOT_CELLS = 6;
/** Share of the highest cell from which a cell belongs to the spot. */
const SPOT_EDGE = 0.1;
/** The highest cell must stand this many standard errors above nothing: stray rays make no spot. */
const CLEAR_OF_NOISE = 5;

/** Columns and rows of the map that the spot reaches over; null where the map is too dark or too noisy to tell. */
function spotCells(map: MapOfRun): readonly [number, number] | null {
  const { nu, nv } = map.layout.receivers[map.index];
  const flux = fluxMap(map);
  let highest = 0;
  for (let cell = 1; cell < flux.length; cell++) if (flux[cell] > flux[highest]) highest = cell;
  const [error] = fluxErrors(map, flux, highest, highest + 1);
  if (!(flux[highest] > CLEAR_OF_NOISE * error)) return null;
  const columns = new Uint8Array(nu);
  const rows = new Uint8Array(nv);
  const edge = SPOT_EDGE * flux[highest];
  for (let cell = 0; cell < flux.length; cell++) {
    if (flux[cell] < edge) continue;
    columns[cell % nu] = 1;
    rows[Math.floor(cell / nu)] = 1;
  }
  const count = (marks: Uint8Array) => marks.reduce((sum, mark) => sum + mark, 0);
  return [count(columns), count(rows)];
}

/** One warning for all spots that few map cells cover; the coarsest is described. */
function coarseSpots(maps: readonly MapOfRun[]): Warning[] {
  const coarse = maps
    .flatMap((map) => {
      const cells = spotCells(map);
      return cells === null || Math.min(...cells) >= FEWEST_SPOT_CELLS
        ? []
        : [{ name: map.receiver.name, cells }];
    })
    .sort((a, b) => Math.min(...a.cells) - Math.min(...b.cells));
  if (coarse.length === 0) return [];
  const [u, v] = coarse[0].cells;
  return [
    {
      code: 'spot_on_few_cells',
      message:
        `The spot on ${nameList(coarse)} covers about ${u} by ${v} cells of its map${coarse.length > 1 ? ' or little more' : ''}, so the ` +
        'peak flux is smoothed and reads too low. Take more cells or a smaller window, so that the spot covers ten cells or more each way.',
    },
  ];
}

function nameList(receivers: readonly { readonly name: string }[]): string {
  const names = receivers.slice(0, 3).map((receiver) => receiver.name);
  const more = receivers.length - names.length;
  return `${names.join(', ')}${more > 0 ? ` and ${more} more` : ''}`;
}
