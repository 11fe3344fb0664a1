/** A day for people and spreadsheets: text and CSV. */
import { createColors } from 'picocolors';
import { add } from '../field/vector.js';
import { type CsvCell, figureColumns, toCsv } from '../report/csv.js';
import { plainText } from '../report/plain-text.js';
import { cautionLines, wrap } from '../report/terminal-text.js';
import { formatFigure, formatSamples } from '../result/number-format.js';
import type { Figure } from '../result/types.js';
import type { Vec3 } from '../scene/types.js';
import type { DayReceiver, DayResult, DayStepResult } from '../study/day-types.js';
import { TOTAL_FIGURES } from '../study/figures.js';
import { pathShape } from '../study/path-shape.js';
import { figureCell } from './figure-words.js';
import { wholeMm as mm, pathOption, shapeText } from './path-text.js';
import { textTable } from './text-table.js';

const MODE_WORDS: Readonly<Record<DayResult['mode'], string>> = {
  held: 'held where the scene has them',
  following: 'following: at the best place of each step',
  on_track: 'on a track, at its best place of each step',
};

export function modeWords({ mode, fitted_track }: Pick<DayResult, 'mode' | 'fitted_track'>): string {
  return fitted_track === null ? MODE_WORDS[mode] : `on the ${fitted_track} track that fits the day best`;
}

export function receiverOf({ receivers }: DayStepResult, name: string): DayReceiver {
  return receivers.find((one) => one.name === name) ?? receivers[0];
}

/** Where a day's places are counted from in table and picture: what can be measured on the dish, where there is one. */
export interface PlaceOrigin {
  /** e.g. "the dish's centre". */
  readonly words: string;
  /** From the origin: along the row, across it, up; mm. */
  readonly placeOf: (step: Pick<DayStepResult, 'offset_mm' | 'from_dish_mm'>) => Vec3;
  /** Where the scene has the receivers, from the origin, mm. */
  readonly home: Vec3;
}

export function originOf(steps: readonly Pick<DayStepResult, 'offset_mm' | 'from_dish_mm'>[]): PlaceOrigin {
  const [{ offset_mm, from_dish_mm }] = steps;
  if (from_dish_mm === null) {
    return {
      words: 'where the scene has the receivers',
      placeOf: (step) => step.offset_mm,
      home: [0, 0, 0],
    };
  }
  const [x, y, z] = from_dish_mm;
  return {
    words: "the dish's centre",
    placeOf: (step) => step.from_dish_mm ?? step.offset_mm,
    home: [x - offset_mm[0], y - offset_mm[1], z - offset_mm[2]],
  };
}

/** Says the origin of the places, and how to get from it to that of `--path`. */
export function originText(result: Pick<DayResult, 'steps'>): string {
  const { words, home } = originOf(result.steps);
  const where = `Along the row, across it (to the left of its heading) and up: from ${words}.`;
  return home.every((one) => one === 0)
    ? where
    : `${where} The scene has the receivers at ${home.map(mm).join(', ')} mm; --path counts from there.`;
}

/** What the track is, places from where those of the table are counted; empty without one. */
export function trackText(result: Pick<DayResult, 'steps' | 'path_mm' | 'fitted_track'>): string {
  const { path_mm, fitted_track } = result;
  if (path_mm === null) return '';
  const { words, home } = originOf(result.steps);
  const shape = pathShape(
    path_mm.map((place) => add(place, home)),
    fitted_track,
  );
  return `Track, from ${words} (along, across, up): ${shapeText(shape)}.`;
}

export function dayText(
  result: DayResult,
  shown: string,
  cautions: readonly string[],
  { colour, columns }: { readonly colour: boolean; readonly columns: number },
): string {
  const colours = createColors(colour);
  const { bold, yellow } = colours;
  const { steps } = result;
  const several = steps[0].receivers.length > 1;
  const moved = result.mode !== 'held';
  const { placeOf } = originOf(steps);
  const lines = [
    bold(plainText(result.title)),
    wrap(`${result.sun_day}. Times by the clock: ${result.clock}.`, columns),
    wrap(`Beam irradiance: ${result.sky}.`, columns),
    wrap(`Receivers: ${modeWords(result)}.`, columns),
  ];
  if (result.interrupted) lines.push(yellow('Interrupted: only the steps that were finished are given.'));
  const header = [
    'clock',
    'sun\naz °',
    'sun\nel °',
    'beam\nW/m²',
    ...(moved ? ['along\nmm', 'across\nmm', 'up\nmm'] : []),
    'power\nW',
    'peak flux\nkW/m²',
    'spill\n%',
  ];
  const rows = steps.map((step) => [
    step.clock,
    step.sun.azimuth_deg.toFixed(1),
    step.sun.elevation_deg.toFixed(1),
    step.dni_w_m2.toFixed(0),
    ...(moved ? placeOf(step).map(mm) : []),
    figureCell('intercepted_power', step.figures.intercepted_power),
    figureCell('peak_flux', step.figures.peak_flux),
    figureCell('spill_fraction', step.figures.spill_fraction),
  ]);
  const spots = [
    'clock',
    'concen-\ntration',
    'shaded\n%',
    'blocked\n%',
    'spot 50 %\nmm',
    'spot 90 %\nmm',
    'spot 95 %\nmm',
    ...(steps[0].of_best === null ? [] : ['of the best\n%']),
  ];
  const spotRows = steps.map((step) => {
    const { spot } = receiverOf(step, shown);
    return [
      step.clock,
      figureCell('concentration_ratio', step.figures.concentration_ratio),
      percentCell(step.figures.shaded_fraction),
      figureCell('blocked_fraction', step.figures.blocked_fraction),
      figureCell('spot.holds_50', spot.holds_50),
      figureCell('spot.holds_90', spot.holds_90),
      figureCell('spot.holds_95', spot.holds_95),
      ...(step.of_best === null ? [] : [percentCell(step.of_best)]),
    ];
  });
  lines.push('', textTable(header, rows, colour), '', textTable(spots, spotRows, colour));
  for (const { clock, reason } of result.dark_steps) lines.push(`${clock}: ${plainText(reason)}; no power`);
  lines.push('');
  if (result.energy !== null) {
    lines.push(
      bold(`Intercepted from ${firstClock(result)} to ${lastClock(result)}: ${formatFigure(result.energy)}`),
    );
  }
  if (moved) {
    lines.push(wrap(originText(result), columns));
  }
  if (result.path_mm !== null) {
    lines.push(wrap(trackText(result), columns));
    if (result.fitted_track !== null) lines.push(pathOption(result.path_mm));
  }
  lines.push(
    wrap(
      `${several ? `Power, peak and spill of all receivers together, spot of ${plainText(shown)}. ` : ''}` +
        `${steps.length} steps, some ${formatSamples(steps[0].rays, result.deposit !== undefined)} each, all with seed ${JSON.stringify(plainText(result.seed))}. ` +
        '± is half the 95 % interval.',
      columns,
    ),
  );
  if (result.warnings.length > 0) {
    lines.push(
      '',
      yellow(bold('Warnings')),
      ...result.warnings.map(({ message }) => wrap(message, columns - 2, '- ', '  ')),
    );
  }
  lines.push(...cautionLines(cautions, columns, colours));
  return `${lines.join('\n')}\n`;
}

function percentCell(figure: Figure): string {
  return formatFigure(figure, { bare: true, percent: true });
}

function firstClock({ steps, dark_steps }: DayResult): string {
  return [...steps, ...dark_steps].reduce((a, b) => (b.time_utc < a.time_utc ? b : a)).clock;
}

function lastClock({ steps, dark_steps }: DayResult): string {
  return [...steps, ...dark_steps].reduce((a, b) => (b.time_utc > a.time_utc ? b : a)).clock;
}

/** One row per step, dark ones left away; units in the heads. The spot is that of the receiver named `shown`. */
export function dayCsv(result: DayResult, shown: string): string {
  const spotNames = ['holds_50', 'holds_90', 'holds_95'] as const;
  const names = [...TOTAL_FIGURES, 'shaded_fraction'];
  const { figures } = result.steps[0];
  const header = [
    'clock',
    'solar_time_h',
    'time_utc',
    'sun_azimuth_deg',
    'sun_elevation_deg',
    'sun_longitudinal_deg',
    'sun_profile_deg',
    'dni_w_m2',
    'offset_along_mm',
    'offset_across_mm',
    'offset_up_mm',
    'from_dish_along_mm',
    'from_dish_across_mm',
    'from_dish_up_mm',
    'along_path_mm',
    ...figureColumns('of_best', '1'),
    ...names.flatMap((name) => figureColumns(name, figures[name].unit)),
    'spot_receiver',
    ...spotNames.flatMap((name) => figureColumns(`spot.${name}`, 'mm')),
  ];
  const rows = result.steps.map((step): CsvCell[] => {
    const { spot } = receiverOf(step, shown);
    const cells = (figure: Figure): CsvCell[] => [figure.value, figure.std_err];
    return [
      step.clock,
      step.solar_time_h,
      step.time_utc,
      step.sun.azimuth_deg,
      step.sun.elevation_deg,
      step.sun.longitudinal_deg,
      step.sun.profile_deg,
      step.dni_w_m2,
      ...step.offset_mm,
      ...(step.from_dish_mm ?? ['', '', '']),
      step.along_path_mm ?? '',
      ...(step.of_best === null ? ['', ''] : [step.of_best.value, step.of_best.std_err]),
      ...names.flatMap((name) => cells(step.figures[name])),
      receiverOf(step, shown).name,
      ...spotNames.flatMap((name) => cells(spot[name])),
    ];
  });
  return toCsv(header, rows);
}
