/** What the pictures of a track show. */
import type { PathPlace, PathPlot } from '../report/path-figure.js';
import type { TrackSheet } from '../report/track-sheet.js';
import type { TrackResult, TrackTableRow } from '../study/day-track-types.js';
import { MOVING_CAUTION } from './day-output.js';
import { degreeText, worstText } from './track-report.js';

function placeOf({ from_dish_mm, offset_mm }: TrackTableRow): PathPlace {
  return from_dish_mm ?? offset_mm;
}

/** All seasons in plan and elevation, the full hours marked. */
export function trackPathOf(result: TrackResult): PathPlot {
  const dish = result.rows.every(({ from_dish_mm }) => from_dish_mm !== null);
  const from = dish ? "from the dish's centre" : 'from where the scene has the receiver';
  return {
    title: result.title,
    subtitles: [
      `best places of the receiver by season, ${result.year} · times by the sun`,
      `${result.sky} · seed ${result.seed}`,
    ],
    series: result.seasons.flatMap(({ name }, season) => {
      const rows = result.rows.filter((row) => row.season === season);
      if (rows.length === 0) return [];
      return [
        {
          label: name,
          places: rows.map(placeOf),
          times: rows.map(({ solar_time }) =>
            solar_time.endsWith(':00') ? String(Number(solar_time.slice(0, 2))) : '',
          ),
          style: season,
        },
      ];
    }),
    track: null,
    ends: dish ? result.dish_ends_mm : null,
    endsLabel: 'ends of a dish: beyond them the receivers of the last dishes overhang the row',
    xLabel: `along the row, ${from} / mm`,
    acrossLabel: 'across the row, to the left / mm',
    upLabel: 'up / mm',
  };
}

export function sheetOf(result: TrackResult): TrackSheet {
  const dish = result.rows.every(({ from_dish_mm }) => from_dish_mm !== null);
  const whole = (value: number): string => value.toFixed(0).replace(/^-0$/, '0');
  return {
    title: result.title,
    subtitles: [
      `Places of the receiver in mm ${dish ? "from the dish's centre" : 'from where the scene has it'}: along the row, across it (to the left of its heading), up. ` +
        `Sun: true solar time. Clock: ${result.clock}, on the first day named, ${result.year}. Way: along the path from the first place of the day. ` +
        "Over: beyond the row's end.",
      `${result.sky} · seed ${result.seed}`,
    ],
    heads: ['sun', 'clock', 'along', 'across', 'up', 'way', 'mm/\nmin', ...(dish ? ['over'] : [])],
    blocks: result.seasons.flatMap(
      ({ name, declination_deg, tilt_setting_deg, clock_at_solar_noon }, season) => {
        const rows = result.rows.filter((row) => row.season === season);
        if (rows.length === 0) return [];
        return [
          {
            title: name,
            subtitle: `declination ${degreeText(declination_deg)} · dishes at ${degreeText(tilt_setting_deg)} · sun noon: clock ${[...new Set(clock_at_solar_noon)].join(', ')}`,
            rows: rows.map((row) => [
              row.solar_time,
              row.clock,
              ...placeOf(row).map(whole),
              whole(row.along_path_mm),
              row.speed_mm_per_min === null ? '' : row.speed_mm_per_min.toFixed(1),
              ...(dish ? [row.overhang_mm === null ? '' : whole(row.overhang_mm)] : []),
            ]),
          },
        ];
      },
    ),
    notes: [`${worstText(result)}.`, `Caution: ${MOVING_CAUTION}`],
  };
}
