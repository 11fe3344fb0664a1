/** What the pictures of a day show. */
import { dishSize } from '../field/dish.js';
import { dishOfRow } from '../field/layout.js';
import type { DayMapsInput } from '../report/day-maps.js';
import type { DayPlot, DaySeries } from '../report/day-plots.js';
import type { DishBox, PathPlace, PathPlot } from '../report/path-figure.js';
import { clockText } from '../report/time-axis.js';
import { formatFigure, formatNumber, formatSamples, halfWidth } from '../result/number-format.js';
import type { Figure, ReceiverResult } from '../result/types.js';
import type { Scene } from '../scene/types.js';
import type { DayResult, DayStudy } from '../study/day-types.js';
import { modeWords, originOf, receiverOf } from './day-report.js';
import { degreeText } from './track-report.js';

/** More maps than this are not drawn: every second step, or third, ... then. */
const MOST_MAPS = 30;

function subtitles(result: DayResult, first: string): string[] {
  const { steps, seed, deposit } = result;
  const samples = formatSamples(steps[0].rays, deposit !== undefined);
  return [
    `${first} · ${result.date} · clock: ${result.clock}`,
    `receivers ${modeWords(result)}`,
    `${result.sky} · seed ${seed} · ${samples} a step`,
  ];
}

function ordinal(every: number): string {
  return { 2: 'second', 3: 'third' }[every] ?? `${every}th`;
}

/** @param most maps drawn */
export function mapsOf(study: DayStudy, shown: string, most = MOST_MAPS): DayMapsInput {
  const { result, views } = study;
  const every = Math.ceil(views.length / most);
  const kept = views.flatMap((view, i) => (i % every === 0 ? [{ view, step: result.steps[i] }] : []));
  const which = every === 1 ? '' : ` · every ${ordinal(every)} step`;
  const tube = views[0].receiver.kind === 'tube';
  return {
    title: result.title,
    subtitles: subtitles(result, `flux maps of receiver ${shown} over the day${which}`),
    maps: kept.map(({ view, step }) => ({
      clock: step.clock,
      lines: [
        `peak ${formatFigure(view.receiver.peak_flux)}`,
        `spill ${formatFigure(view.receiver.spill_fraction, { percent: true })}`,
      ],
      ...view,
    })),
    xLabel: tube ? 'along the tube, u / mm' : 'along row, u / mm',
    yLabel: tube ? 'around the tube / mm' : 'across row, v / mm',
  };
}

/** Hours of the clock, rising over midnight. */
function hoursOf(result: DayResult): number[] {
  const [first] = result.steps;
  const start = Date.parse(first.time_utc);
  const [hours, minutes] = first.clock.split(':').map(Number);
  return result.steps.map(
    ({ time_utc }) => hours + minutes / 60 + Math.round((Date.parse(time_utc) - start) / 1000) / 3600,
  );
}

function seriesOf(label: string, style: number, figures: readonly Figure[], scale = 1): DaySeries {
  return {
    label,
    style,
    value: figures.map(({ value }) => scale * value),
    halfWidth: figures.map((figure) => scale * halfWidth(figure)),
  };
}

function xLabel(result: DayResult): string {
  return `clock: ${result.clock}`;
}

export function powerOf(result: DayResult): DayPlot {
  const of = (name: string): Figure[] => result.steps.map(({ figures }) => figures[name]);
  const energy =
    result.energy === null
      ? ''
      : ` · ${formatFigure(result.energy)} from ${result.steps[0].clock} to ${result.steps[result.steps.length - 1].clock}`;
  return {
    title: result.title,
    subtitles: subtitles(result, `intercepted power and losses${energy}`),
    xLabel: xLabel(result),
    hours: hoursOf(result),
    panels: [
      {
        yLabel: 'power / kW',
        series: [
          seriesOf('intercepted power', 0, of('intercepted_power'), 1e-3),
          seriesOf('reflected by the mirrors', 5, of('reflected_power'), 1e-3),
        ],
      },
      {
        yLabel: 'share of the light / %',
        most: 100,
        series: [
          seriesOf('spill (of reflected light)', 1, of('spill_fraction'), 100),
          seriesOf('blocked (of reflected light)', 4, of('blocked_fraction'), 100),
          seriesOf('shaded (of sunlight on the mirrors)', 3, of('shaded_fraction'), 100),
        ],
      },
      { yLabel: 'peak flux / (kW/m²)', series: [seriesOf('peak flux', 2, of('peak_flux'))] },
    ],
  };
}

function openingOf({ aperture, spot }: ReceiverResult): { value: number; label: string } | null {
  switch (aperture.shape) {
    case 'round':
      return { value: aperture.diameter_mm, label: `opening, ${aperture.diameter_mm} mm` };
    case 'rectangle': {
      const side =
        spot.measure === 'width' ? aperture.height_mm : Math.min(aperture.width_mm, aperture.height_mm);
      return { value: side, label: `opening, ${Number(side.toFixed(1))} mm across` };
    }
    case 'tube':
      return { value: aperture.diameter_mm, label: `tube, ${aperture.diameter_mm} mm` };
  }
}

export function spotOf(study: DayStudy, shown: string): DayPlot {
  const { result, views } = study;
  const [{ receiver }] = views;
  const width = receiver.spot.measure === 'width';
  const spots = result.steps.map((step) => receiverOf(step, shown).spot);
  const level = openingOf(receiver);
  const bounded = spots.some((spot) => Object.values(spot).some(({ limit }) => limit !== undefined));
  return {
    title: result.title,
    subtitles: [
      ...subtitles(result, `${width ? 'width' : 'diameter'} of the spot on receiver ${shown}`),
      ...(bounded ? ['spots wider than the map can tell are drawn at its limit'] : []),
    ],
    xLabel: xLabel(result),
    hours: hoursOf(result),
    panels: [
      {
        yLabel: `${width ? 'width of the strip' : 'diameter of the circle'} / mm`,
        series: [
          seriesOf(
            'holds 95 %',
            0,
            spots.map((spot) => spot.holds_95),
          ),
          seriesOf(
            'holds 90 %',
            1,
            spots.map((spot) => spot.holds_90),
          ),
          seriesOf(
            'holds 50 %',
            2,
            spots.map((spot) => spot.holds_50),
          ),
        ],
        ...(level === null ? {} : { level }),
      },
    ],
  };
}

/** What the mirrors of one of the first row's dishes cover, as a flat plate leaned by its tilt; null without a row of dishes. */
export function dishBoxOf(scene: Scene): DishBox | null {
  const row = scene.rows.find(({ receiver }) => receiver === null);
  if (row === undefined) return null;
  const design = dishOfRow(scene, row);
  const { along, across } = dishSize(design);
  const tilt = design.designTilt + design.tiltSetting;
  const about = (size: number): [number, number] => [-500 * Math.abs(size), 500 * Math.abs(size)];
  return {
    label: `mirrors of the dish, tilted ${degreeText((tilt * 180) / Math.PI)}`,
    along: about(along),
    across: about(across * Math.cos(tilt)),
    up: about(across * Math.sin(tilt)),
  };
}

function arcOf({ path }: DayResult): string {
  return path === null || path.arc === null ? '' : `, radius ${formatNumber(path.arc.radius_mm, 4)} mm`;
}

/**
 * @param dish drawn where places are counted from its centre
 * @returns null where receivers are held
 */
export function pathOf(result: DayResult, dish: DishBox | null): PathPlot | null {
  if (result.mode === 'held') return null;
  const { words, placeOf, home } = originOf(result.steps);
  const hours = hoursOf(result);
  return {
    title: result.title,
    subtitles: subtitles(result, 'path of the receiver'),
    series: [
      {
        label: 'receiver, with the time by the clock',
        places: result.steps.map(placeOf),
        times: hours.map(clockText),
        joined: result.path_mm === null,
        track: null,
      },
    ],
    hourLines: [],
    track:
      result.path_mm === null
        ? null
        : {
            label:
              result.fitted_track === null
                ? 'track as given'
                : `${result.fitted_track} track, fitted to the day${arcOf(result)}`,
            places: result.path_mm.map(([x, y, z]): PathPlace => [x + home[0], y + home[1], z + home[2]]),
          },
    ownTracksLabel: '',
    dish: result.steps.every(({ from_dish_mm }) => from_dish_mm !== null) ? dish : null,
    xLabel: `along the row, from ${words} / mm`,
    acrossLabel: `across the row, to the left, from ${words} / mm`,
    upLabel: `up, from ${words} / mm`,
  };
}
