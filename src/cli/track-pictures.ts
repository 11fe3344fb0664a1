/** What the pictures of a track show. */
import type { DishBox, HourLine, PathPlace, PathPlot } from '../report/path-figure.js';
import type { SheetColumn, TrackSheet } from '../report/track-sheet.js';
import { cautionsFor } from '../result/cautions.js';
import { formatNumber } from '../result/number-format.js';
import type { Vec3 } from '../scene/types.js';
import type { BuildableTrack, TrackResult, TrackTableRow } from '../study/day-track-types.js';
import { MOVING_CAUTION } from './day-output.js';
import { originOf } from './day-report.js';
import { ANY_PEAK } from './track-output.js';
import { degreeText, worstText } from './track-report.js';

function placeOf({ from_dish_mm, offset_mm }: TrackTableRow): PathPlace {
  return from_dish_mm ?? offset_mm;
}

/** A track for all seasons that loses more than this is told and not drawn: it leads nowhere near the places. */
const MOST_LOSS_PCT = 30;

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
          joined: true,
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

const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];

/** "2026-03-20" as "20 Mar". */
function shortDate(date: string): string {
  return `${Number(date.slice(8))} ${MONTHS[Number(date.slice(5, 7)) - 1]}`;
}

/** What is read off a watch, to the nearest minute: more dates than these are left to the CSV. */
const MOST_CLOCKS = 2;

function sheetColumns(dates: readonly string[], bySun: boolean, dish: boolean): SheetColumn[] {
  const plain = (head: string): SheetColumn => ({ head, strong: false });
  const clocks = dates
    .slice(0, MOST_CLOCKS)
    .map((date): SheetColumn => ({ head: `clock\n${shortDate(date)}`, strong: true }));
  return [
    ...(bySun ? [] : clocks),
    { head: 'sun\ntime', strong: bySun },
    plain('along\nmm'),
    plain('across\nmm'),
    plain('up\nmm'),
    plain('way\nmm'),
    plain('speed\nmm/min'),
    ...(dish ? [plain('over\nmm')] : []),
  ];
}

/** What a watch read 5 minutes wrong costs over a season's rows, per cent; empty where nothing moves. */
function watchText(rows: readonly TrackTableRow[]): string {
  const losses = rows.flatMap(({ loss_at_5_min_pct }) =>
    loss_at_5_min_pct === null ? [] : [loss_at_5_min_pct],
  );
  if (losses.length === 0) return '';
  const [least, most] = [Math.min(...losses), Math.max(...losses)].map((loss) =>
    Math.max(0, loss).toFixed(losses.some((one) => one >= 1) ? 0 : 1),
  );
  return ` · 5 min off costs ${least} to ${most} %`;
}

/** For someone who stands in the yard with a watch: a block for each season. */
export function sheetOf(result: TrackResult): TrackSheet {
  const { words } = originOf(result.rows);
  const dish = result.rows.every(({ from_dish_mm }) => from_dish_mm !== null);
  const bySun = result.rows.every(({ clock, solar_time }) => clock === solar_time);
  const whole = (value: number): string => value.toFixed(0).replace(/^-0$/, '0');
  return {
    title: result.title,
    subtitles: [
      `Where the receivers stand, by watch and by sun. mm from ${words}: along the row (+ towards its heading), across it (+ to the left of the heading, - to the right), up. ` +
        'Way: along the path from the first place of the day. Speed: along the path, about that time.' +
        (dish ? " Over: the middle of the last dish's receiver beyond the row's end." : ''),
      bySun
        ? 'Times: true solar time, noon is when the sun is highest.'
        : `Clock: ${result.clock}, ${result.year}, to the nearest minute, on the dates named. Sun: true solar time, noon is when the sun is highest.`,
      `On other days take the season whose date is nearest and go by the sun's time: the clock moves against it from day to day, by as much as noon does. 5 min off: power lost where the receivers stand 5 minutes late or early, whichever is worse.`,
      `${result.sky} · seed ${result.seed}`,
    ],
    blocks: result.seasons.flatMap((season, index) => {
      const rows = result.rows.filter((row) => row.season === index);
      if (rows.length === 0) return [];
      const { name, dates, declination_deg, tilt_setting_deg, clock_at_solar_noon, days } = season;
      const noons = dates.map((date, k) => `${shortDate(date)} ${clock_at_solar_noon[k]}`).join(', ');
      return [
        {
          title: name,
          subtitles: [
            `sun's declination ${degreeText(declination_deg)} · tilt setting of the dishes ${degreeText(tilt_setting_deg)} · stands for ${days} days`,
            `${bySun ? '' : `noon by the sun: ${noons}`}${watchText(rows)}`.replace(/^ · /, ''),
          ].filter((line) => line !== ''),
          columns: sheetColumns(dates, bySun, dish),
          rows: rows.map((row) => [
            ...(bySun ? [] : row.clock_on_dates.slice(0, MOST_CLOCKS)),
            row.solar_time,
            ...placeOf(row).map(whole),
            whole(row.along_path_mm),
            row.speed_mm_per_min === null ? '' : row.speed_mm_per_min.toFixed(1),
            ...(dish ? [row.overhang_mm === null ? '' : whole(row.overhang_mm)] : []),
          ]),
        },
      ];
    }),
    notes: [`${worstText(result)}.`],
    cautions: [...cautionsFor(ANY_PEAK), MOVING_CAUTION],
  };
}
