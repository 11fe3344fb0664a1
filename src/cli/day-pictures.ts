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
import type { DayResult, DayStepResult, DayStudy } from '../study/day-types.js';
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

/** A step of the pictures against time: dark ones have no figures. */
interface ShownStep {
  readonly clock: string;
  readonly time_utc: string;
  readonly lit: DayStepResult | null;
}

/** All steps in order of time; a line drawn over dark ones would show energy that nobody caught. */
function shownSteps({ steps, dark_steps }: DayResult): ShownStep[] {
  const lit = steps.map((step) => ({ clock: step.clock, time_utc: step.time_utc, lit: step }));
  const dark = dark_steps.map(({ clock, time_utc }) => ({ clock, time_utc, lit: null }));
  return [...lit, ...dark].sort((a, b) => Date.parse(a.time_utc) - Date.parse(b.time_utc));
}

/** Hours of the clock, rising over midnight. */
function hoursOf(steps: readonly Pick<ShownStep, 'clock' | 'time_utc'>[]): number[] {
  const [first] = steps;
  const start = Date.parse(first.time_utc);
  const [hours, minutes] = first.clock.split(':').map(Number);
  return steps.map(
    ({ time_utc }) => hours + minutes / 60 + Math.round((Date.parse(time_utc) - start) / 1000) / 3600,
  );
}

/** @param figures null where it is dark: `dark` is drawn there, NaN for a gap */
function seriesOf(
  label: string,
  style: number,
  figures: readonly (Figure | null)[],
  { scale = 1, dark = Number.NaN }: { readonly scale?: number; readonly dark?: number } = {},
): DaySeries {
  return {
    label,
    style,
    value: figures.map((figure) => (figure === null ? dark : scale * figure.value)),
    halfWidth: figures.map((figure) => (figure === null ? 0 : scale * halfWidth(figure))),
  };
}

function xLabel(result: DayResult): string {
  return `clock: ${result.clock}`;
}

export function powerOf(result: DayResult): DayPlot {
  const steps = shownSteps(result);
  const of = (name: string): (Figure | null)[] => steps.map(({ lit }) => lit?.figures[name] ?? null);
  const energy =
    result.energy === null
      ? ''
      : ` · ${formatFigure(result.energy)} from ${steps[0].clock} to ${steps[steps.length - 1].clock}`;
  return {
    title: result.title,
    subtitles: subtitles(result, `intercepted power and losses${energy}`),
    xLabel: xLabel(result),
    hours: hoursOf(steps),
    panels: [
      {
        yLabel: 'power / kW',
        series: [
          seriesOf('intercepted power', 0, of('intercepted_power'), { scale: 1e-3, dark: 0 }),
          seriesOf('reflected by the mirrors', 5, of('reflected_power'), { scale: 1e-3, dark: 0 }),
        ],
      },
      {
        yLabel: 'share of the light / %',
        most: 100,
        series: [
          seriesOf('spill (of reflected light)', 1, of('spill_fraction'), { scale: 100 }),
          seriesOf('blocked (of reflected light)', 4, of('blocked_fraction'), { scale: 100 }),
          seriesOf('shaded (of sunlight on the mirrors)', 3, of('shaded_fraction'), { scale: 100 }),
        ],
      },
      { yLabel: 'peak flux / (kW/m²)', series: [seriesOf('peak flux', 2, of('peak_flux'), { dark: 0 })] },
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
  const steps = shownSteps(result);
  const spots = steps.map(({ lit }) => (lit === null ? null : receiverOf(lit, shown).spot));
  const level = openingOf(receiver);
  const bounded = spots.some(
    (spot) => spot !== null && Object.values(spot).some(({ limit }) => limit !== undefined),
  );
  return {
    title: result.title,
    subtitles: [
      ...subtitles(result, `${width ? 'width' : 'diameter'} of the spot on receiver ${shown}`),
      ...(bounded ? ['spots wider than the map can tell are drawn at its limit'] : []),
    ],
    xLabel: xLabel(result),
    hours: hoursOf(steps),
    panels: [
      {
        yLabel: `${width ? 'width of the strip' : 'diameter of the circle'} / mm`,
        series: [
          seriesOf(
            'holds 95 %',
            0,
            spots.map((spot) => spot?.holds_95 ?? null),
          ),
          seriesOf(
            'holds 90 %',
            1,
            spots.map((spot) => spot?.holds_90 ?? null),
          ),
          seriesOf(
            'holds 50 %',
            2,
            spots.map((spot) => spot?.holds_50 ?? null),
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
  const hours = hoursOf(result.steps);
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
