/** A day as a part of a report page. */

import { layOut } from '../field/layout.js';
import { directionOf, subtract } from '../field/vector.js';
import { drawDayMaps } from '../report/day-maps.js';
import { drawDayPlot } from '../report/day-plots.js';
import { type DishBox, drawPathFigure } from '../report/path-figure.js';
import type { ReportSection, SectionFigure, SectionTable, ViewStep } from '../report/section.js';
import type { MachineRun } from '../report/types.js';
import { cautionsFor } from '../result/cautions.js';
import { formatFigure } from '../result/number-format.js';
import type { Scene, Vec3 } from '../scene/types.js';
import type { DayResult, DayStudy } from '../study/day-types.js';
import { withReceiversAt } from '../study/moving.js';
import type { Traced } from '../study/trace.js';
import { MOVING_CAUTION } from './day-output.js';
import { mapsOf, pathOf, powerOf, spotOf } from './day-pictures.js';
import { dayCsv, modeWords, originOf, originText, receiverOf, trackText } from './day-report.js';
import { figureCell } from './figure-words.js';
import { tracedScene, writePage } from './page-output.js';
import type { RunFlags } from './run-options.js';
import type { LoadedScene } from './scene-file.js';

const DEGREE = Math.PI / 180;
/** Places of receivers in the picture in space, m: finer than a pixel of any screen. */
const PLACE_DIGITS = 4;

/** Each map is some 10 kB of a page that is to go by mail. */
const MOST_MAPS = 12;

/** The step whose light is shown in full. */
export interface ShownStep {
  /** What the clock shows. */
  readonly clock: string;
  readonly traced: Traced;
}

/**
 * Sun and receivers at the steps of a day, against the scene that is drawn.
 * @param scene with the receivers where the file has them
 * @param drawn receivers of the picture in space, by name and place, m
 */
export function viewStepsOf(
  scene: Scene,
  { steps }: Pick<DayResult, 'steps'>,
  drawn: readonly { readonly name: string; readonly frame: { readonly origin: Vec3 } }[],
): ViewStep[] {
  const places = new Map(drawn.map(({ name, frame }) => [name, frame.origin]));
  const rounded = (value: number): number => Number(value.toFixed(PLACE_DIGITS));
  return steps.map(({ clock, sun, offset_mm: [along, across, up] }) => {
    const moved = layOut(withReceiversAt(scene, [along / 1000, across / 1000, up / 1000]));
    return {
      label: clock,
      sunDirection: directionOf({
        azimuth: sun.azimuth_deg * DEGREE,
        elevation: sun.elevation_deg * DEGREE,
      }),
      receiverOffsets: Object.fromEntries(
        moved.receivers.map(({ name, frame }) => {
          const [x, y, z] = subtract(frame.origin, places.get(name) ?? frame.origin);
          return [name, [rounded(x), rounded(y), rounded(z)] as const];
        }),
      ),
    };
  });
}

function stepTable(result: DayResult, shown: string): SectionTable {
  const moved = result.mode !== 'held';
  const names = ['peak_flux', 'spill_fraction', 'shaded_fraction', 'blocked_fraction'] as const;
  const judged = result.steps[0].of_best !== null;
  const { words, placeOf } = originOf(result.steps);
  return {
    caption: `The steps of the day; ± is the 95 % half width${moved ? `; places from ${words}` : ''}`,
    head: [
      'clock',
      'sun azimuth, °',
      'sun elevation, °',
      'sun along the row, °',
      'sun profile, °',
      'beam, W/m²',
      ...(moved ? ['along, mm', 'across, mm', 'up, mm'] : []),
      'power, W',
      'peak flux, kW/m²',
      'spill, %',
      'shaded, %',
      'blocked, %',
      `spot 90 % of ${shown}, mm`,
      ...(judged ? ['of the best, %'] : []),
    ],
    rows: result.steps.map((step) => [
      step.clock,
      step.sun.azimuth_deg.toFixed(1),
      step.sun.elevation_deg.toFixed(1),
      step.sun.longitudinal_deg.toFixed(1).replace(/^-0\.0$/, '0.0'),
      step.sun.profile_deg.toFixed(1),
      step.dni_w_m2.toFixed(0),
      ...(moved ? placeOf(step).map((value) => value.toFixed(0).replace(/^-0$/, '0')) : []),
      figureCell('intercepted_power', step.figures.intercepted_power),
      ...names.map((name) =>
        name === 'shaded_fraction'
          ? formatFigure(step.figures[name], { bare: true, percent: true })
          : figureCell(name, step.figures[name]),
      ),
      figureCell('spot.holds_90', receiverOf(step, shown).spot.holds_90),
      ...(judged
        ? [step.of_best === null ? '' : formatFigure(step.of_best, { bare: true, percent: true })]
        : []),
    ]),
  };
}

function leadOf(result: DayResult): string {
  const { steps, energy, date } = result;
  const times = `${steps[0].clock} to ${steps[steps.length - 1].clock}`;
  const found =
    energy === null
      ? `Power at ${steps[0].clock} of ${date}: ${formatFigure(steps[0].figures.intercepted_power)}`
      : `Intercepted on ${date}, steps from ${times}: ${formatFigure(energy)}`;
  return `${found}; receivers ${modeWords(result)}. Times by the clock: ${result.clock}. Beam irradiance: ${result.sky}.${result.mode === 'held' ? '' : ` ${originText(result)}`}${result.path_mm === null ? '' : ` ${trackText(result)}`}`;
}

/** @param dish to draw in the picture of the path */
export function daySection(
  study: DayStudy,
  shown: string,
  dish: DishBox | null,
  viewSteps: readonly ViewStep[],
): ReportSection {
  const { result } = study;
  const { steps, dark_steps } = result;
  const brightest = steps.reduce((a, b) =>
    b.figures.intercepted_power.value > a.figures.intercepted_power.value ? b : a,
  );
  const spots = steps.map((step) => receiverOf(step, shown).spot.holds_90);
  const widest = spots.reduce((a, b) => (b.value > a.value ? b : a));
  const path = pathOf(result, dish);
  const figures: SectionFigure[] = [
    {
      drawn: drawDayPlot(powerOf(result)),
      caption: 'Power, losses and peak flux over the day.',
      description: `Most power at ${brightest.clock}: ${formatFigure(brightest.figures.intercepted_power)}.`,
      csv: 'day.csv',
    },
    {
      drawn: drawDayMaps(mapsOf(study, shown, MOST_MAPS)),
      caption: `Flux on receiver ${shown} from step to step, on one colour scale.`,
      description:
        'Maps with their time, peak flux and spill; the figures of all steps are in the table below.',
      csv: null,
    },
    {
      drawn: drawDayPlot(spotOf(study, shown)),
      caption: `Size of the spot on receiver ${shown} over the day.`,
      description: `The spot that holds 90 % is widest at ${steps[spots.indexOf(widest)].clock}: ${formatFigure(widest)}.`,
      csv: 'day.csv',
    },
  ];
  if (path !== null) {
    figures.push({
      drawn: drawPathFigure(path),
      caption: 'Path of the receiver, in plan and elevation, to one scale.',
      description: 'Places of the receiver with their times; all in the table below.',
      csv: 'day.csv',
    });
  }
  const dark: SectionTable = {
    caption: 'Steps without power',
    head: ['clock', ''],
    rows: dark_steps.map(({ clock, reason }) => [clock, reason]),
  };
  return {
    id: 'day',
    title: 'The day',
    lead: leadOf(result),
    figures,
    tables: [stepTable(result, shown), ...(dark_steps.length > 0 ? [dark] : [])],
    csv: [{ name: 'day.csv', text: dayCsv(result, shown) }],
    methods: [
      "Sun along the row: its angle out of the plane across the row, towards the row's heading. Sun profile: in that plane, up from the horizon on the right of the heading, over 90° beyond the zenith.",
      'Day: every step is a trace of its own with the same seed; energy by straight lines between the steps, its error from what the steps share.',
      ...(result.mode === 'held'
        ? []
        : [
            'Places of receivers: where recorded light of other random numbers than the figures are traced with is caught best.',
          ]),
    ],
    viewSteps,
  };
}

/**
 * Writes the page of a day: the light of one step in full, the others on the time slider.
 * @throws OutputError
 */
export async function writeDayPage(
  file: string,
  loaded: LoadedScene,
  { study, shown, dish, step }: PagedDay,
  flags: RunFlags,
  machine: MachineRun,
): Promise<void> {
  const { result } = study;
  const viewSteps = viewStepsOf(loaded.scene, result, step.traced.prepared.field.receivers);
  const section = daySection(study, shown, dish, viewSteps);
  const cautions = cautionsFor(Math.max(...result.steps.map(({ figures }) => figures.peak_flux.value)));
  await writePage(
    file,
    {
      command: 'day',
      traced: [await tracedScene(loaded, step.traced, flags)],
      sections: [section],
      answer: [
        section.lead,
        `The sentence at the top, the key figures, the maps to point at and the rays are those of ${step.clock}, the step with the highest sun.`,
        ...(result.interrupted ? ['Interrupted: only the steps that were finished are given.'] : []),
      ],
      cautions: cautions.length > 0 ? [...cautions, MOVING_CAUTION] : [],
      warnings: result.warnings,
    },
    flags,
    machine,
  );
}

export interface PagedDay {
  readonly study: DayStudy;
  /** Receiver whose spot and maps are shown. */
  readonly shown: string;
  readonly dish: DishBox | null;
  readonly step: ShownStep;
}
