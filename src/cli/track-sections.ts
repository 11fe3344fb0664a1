/** A track over the seasons as a part of a report page. */

import { basename } from 'node:path';
import { type DishBox, drawPathFigure } from '../report/path-figure.js';
import type { ReportSection, SectionTable } from '../report/section.js';
import type { MachineRun } from '../report/types.js';
import { cautionsFor } from '../result/cautions.js';
import { formatFigure } from '../result/number-format.js';
import type { TrackResult } from '../study/day-track-types.js';
import { MOVING_CAUTION } from './day-output.js';
import { dishBoxOf } from './day-pictures.js';
import { writePage } from './page-output.js';
import type { RunFlags } from './run-options.js';
import type { LoadedScene } from './scene-file.js';
import { ANY_PEAK } from './track-output.js';
import { trackPathOf } from './track-pictures.js';
import { seasonLines, trackCells, trackCsv, tracksCsv, worstText } from './track-report.js';

function whole(value: number): string {
  return value.toFixed(0).replace(/^-0$/, '0');
}

function seasonTables(result: TrackResult): SectionTable[] {
  const dish = result.rows.every(({ from_dish_mm }) => from_dish_mm !== null);
  const head = [
    'sun time',
    'clock',
    'along, mm',
    'across, mm',
    'up, mm',
    ...(dish ? ['from dish: along, mm', 'across, mm', 'up, mm'] : []),
    'way, mm',
    'mm/min',
    ...(dish ? ['over the end, mm'] : []),
    'power, W',
    'of the best, %',
    'loss 5 min late or early, %',
  ];
  const lines = seasonLines(result);
  return result.seasons.flatMap((_, season): SectionTable[] => {
    const rows = result.rows.filter((row) => row.season === season);
    if (rows.length === 0) return [];
    return [
      {
        caption: lines[season],
        head,
        rows: rows.map((row) => [
          row.solar_time,
          row.clock,
          ...row.offset_mm.map(whole),
          ...(dish ? (row.from_dish_mm ?? []).map(whole) : []),
          whole(row.along_path_mm),
          row.speed_mm_per_min === null ? '' : row.speed_mm_per_min.toFixed(1),
          ...(dish ? [row.overhang_mm === null ? '' : whole(row.overhang_mm)] : []),
          formatFigure(row.intercepted_power, { bare: true }),
          formatFigure(row.of_best, { bare: true, percent: true }),
          row.loss_at_5_min_pct === null ? '' : row.loss_at_5_min_pct.toFixed(2).replace(/^-0\.00$/, '0.00'),
        ]),
      },
    ];
  });
}

/** @param dish to draw in the picture of the path */
export function trackSection(result: TrackResult, dish: DishBox | null): ReportSection {
  const { tracks, rows } = result;
  const { head, rows: cells } = trackCells(result);
  const toBuild: SectionTable = {
    caption: 'Tracks to build, against following freely',
    head: head.map((text) => text.replace('\n', ', ')),
    rows: cells,
  };
  return {
    id: 'track',
    title: 'The track',
    lead:
      `Places of the receiver on ${result.seasons.length} ways of the sun, by true solar time; the clock beside it: ${result.clock}, on the first day named, ${result.year}. ` +
      `${worstText(result)}${result.worst === null ? '' : '. '}Sky: ${result.sky}. Along the row, across it (to the left of its heading) and up, from where the scene has the receivers.`,
    figures: [
      {
        drawn: drawPathFigure(trackPathOf(result, dish)),
        caption: 'Best places of the receiver by season, in plan and elevation, to one scale.',
        description: `${rows.length} places with their times; all in the tables below.`,
        csv: 'track.csv',
      },
    ],
    tables: [...(tracks.length > 0 ? [toBuild] : []), ...seasonTables(result)],
    csv: [
      { name: 'track.csv', text: trackCsv(result) },
      ...(tracks.length > 0 ? [{ name: 'tracks.csv', text: tracksCsv(result) }] : []),
    ],
    methods: [
      'Track: best places are looked for in recorded light, and traced again with other random numbers at the place as printed, in whole mm.',
    ],
  };
}

/** @throws OutputError */
export async function writeTrackPage(
  file: string,
  { file: sceneFile, text, scene }: LoadedScene,
  result: TrackResult,
  flags: Pick<RunFlags, 'seed' | 'set'>,
  machine: MachineRun,
): Promise<void> {
  await writePage(
    file,
    {
      command: 'track',
      inputs: [{ file: basename(sceneFile), text, title: scene.title, hash: scene.hash }],
      sections: [trackSection(result, dishBoxOf(scene))],
      answer: [
        `${worstText(result)}.`,
        ...(result.interrupted ? ['Interrupted: only the rows that were finished are given.'] : []),
      ],
      cautions: [...cautionsFor(ANY_PEAK), MOVING_CAUTION],
      warnings: result.warnings,
    },
    flags,
    machine,
  );
}
