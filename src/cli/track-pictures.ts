/** What the pictures of a track show. */
import type { DishBox, HourLine, PathPlace, PathPlot } from '../report/path-figure.js';
import type { TrackSheet } from '../report/track-sheet.js';
import { formatNumber } from '../result/number-format.js';
import type { Vec3 } from '../scene/types.js';
import type { BuildableTrack, TrackResult, TrackTableRow } from '../study/day-track-types.js';
import { MOVING_CAUTION } from './day-output.js';
import { originOf } from './day-report.js';
import { degreeText, worstText } from './track-report.js';

function placeOf({ from_dish_mm, offset_mm }: TrackTableRow): PathPlace {
  return from_dish_mm ?? offset_mm;
}

/** A track for all seasons that loses more than this is told and not drawn: it leads nowhere near the places. */
const MOST_LOSS_PCT = 10;

function bestTrack(result: TrackResult, season: number | null): BuildableTrack | null {
  const own = result.tracks.filter((track) => track.season === season && track.path_mm.length > 1);
  return own.length === 0
    ? null
    : own.reduce((a, b) => (b.summary.mean_loss_pct < a.summary.mean_loss_pct ? b : a));
}

function lossWords({ summary: { track, mean_loss_pct } }: BuildableTrack): string {
  return `${track} loses ${formatNumber(mean_loss_pct, 2)} %`;
}

/** The full hours that more than one season has, joined from season to season. */
function hourLinesOf({ rows }: TrackResult): HourLine[] {
  const times = [...new Set(rows.map(({ solar_time }) => solar_time))].filter((time) => time.endsWith(':00'));
  return times.sort().flatMap((time) => {
    const places = rows.filter(({ solar_time }) => solar_time === time).map(placeOf);
    return places.length < 2 ? [] : [{ label: `${Number(time.slice(0, 2))} h`, places }];
  });
}

/**
 * All seasons in plan and elevation, the full hours joined.
 * @param dish drawn where places are counted from its centre
 */
export function trackPathOf(result: TrackResult, dish: DishBox | null): PathPlot {
  const { words, home } = originOf(result.rows);
  const fromOrigin = ([x, y, z]: Vec3): PathPlace => [x + home[0], y + home[1], z + home[2]];
  const shared = bestTrack(result, null);
  const drawn = shared !== null && shared.summary.mean_loss_pct <= MOST_LOSS_PCT ? shared : null;
  const retilted = new Set(result.seasons.map(({ tilt_setting_deg }) => tilt_setting_deg)).size > 1;
  const hourLines = hourLinesOf(result);
  return {
    title: result.title,
    subtitles: [
      `best places of the receiver by season, ${result.year} · hours by the sun, noon is 12 h`,
      `${result.sky} · seed ${result.seed}`,
      ...(shared === null || drawn !== null
        ? []
        : [
            `no one track serves all seasons: the best (${shared.summary.track}) loses ${formatNumber(shared.summary.mean_loss_pct, 2)} % and is not drawn`,
          ]),
    ],
    series: result.seasons.flatMap(({ name }, season) => {
      const rows = result.rows.filter((row) => row.season === season);
      if (rows.length === 0) return [];
      const own = bestTrack(result, season);
      return [
        {
          label: own === null ? name : `${name} (${lossWords(own)})`,
          places: rows.map(placeOf),
          times: rows.map(({ solar_time }) =>
            hourLines.length === 0 && solar_time.endsWith(':00') ? `${Number(solar_time.slice(0, 2))} h` : '',
          ),
          track: own === null ? null : own.path_mm.map(fromOrigin),
        },
      ];
    }),
    hourLines,
    track:
      drawn === null
        ? null
        : { label: `track for all seasons (${lossWords(drawn)})`, places: drawn.path_mm.map(fromOrigin) },
    ownTracksLabel: 'wide and pale: the track that fits the season best, against following freely',
    dish:
      dish === null || result.rows.some(({ from_dish_mm }) => from_dish_mm === null)
        ? null
        : retilted
          ? { ...dish, label: `${dish.label} in the scene, turned anew each season` }
          : dish,
    xLabel: `along the row, from ${words} / mm`,
    acrossLabel: `across the row, to the left, from ${words} / mm`,
    upLabel: `up, from ${words} / mm`,
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
