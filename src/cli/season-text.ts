/** A year in words, tables and figures. */
import { createColors } from 'picocolors';
import { type CsvCell, toCsv } from '../report/csv.js';
import { plainText } from '../report/plain-text.js';
import { LIGHT_COLOURS, type StackedBars, type Steps } from '../report/season-bars.js';
import { formatFigure, formatNumber, halfWidth } from '../result/number-format.js';
import type { SeasonResult, SeasonSums, TableReport } from '../study/season-types.js';
import type { Channel } from './session.js';
import { textTable } from './text-table.js';

export const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];

/** Column of a table that an interrupt has left incomplete, "yes" in every row; whole tables have none. */
export const PARTIAL_COLUMN = 'interrupted';

/** Losses in the order of the light's way. */
export const LOSSES = [
  ['cosine', 'lost_cosine_kwh'],
  ['shading', 'lost_shading_kwh'],
  ['film', 'lost_film_kwh'],
  ['blocking', 'lost_blocking_kwh'],
  ['spill', 'lost_spill_kwh'],
] as const;

export function receiversText(receivers: SeasonResult['receivers']): string {
  return {
    held: 'receivers held where the scene has them',
    following: "receivers always at the best place for their own dish's light",
    on_track: 'receivers at the best place of their track',
  }[receivers];
}

/** How good the table is, in one sentence. */
export function tableText(table: TableReport): string {
  const percent = (value: number): string => `${(100 * value).toPrecision(2)} %`;
  return (
    `${table.nodes_traced} sun positions traced, about ${table.rays_per_node} rays each${table.mirrored ? ', mornings standing for afternoons' : ''}. ` +
    `Against ${table.checked_places} fresh traces the table is off by ${percent(table.check_bias_fraction)} ± ${percent(table.check_std_err_fraction)} ` +
    `(standard error), at most ${percent(table.error_bound_fraction)}; the noise of its rays is ${percent(table.ray_noise_fraction)}.`
  );
}

export function tiltText({ tilt_settings }: Pick<SeasonResult, 'tilt_settings'>): string {
  const turned = tilt_settings.filter(({ tilt_setting_deg }) => tilt_setting_deg !== 0);
  return turned
    .map(({ dish, tilt_setting_deg }) => `tilt setting of ${dish} ${formatNumber(tilt_setting_deg, 3)}°`)
    .join(', ');
}

/** What the weather file's gaps take, in a sentence; none without gaps. */
export function gapsText({ weather_gaps }: Pick<SeasonResult, 'weather_gaps'>): string[] {
  if (weather_gaps === null) return [];
  const { sun_hours, beam_fraction } = weather_gaps;
  return [
    `The weather file has nothing for ${formatNumber(sun_hours, 3)} hours of sun, which are left out: by the same hours of the 15 days before and after ` +
      `they would have brought about ${formatNumber(100 * beam_fraction, 2)} % of the year's beam.`,
  ];
}

/** Lines that every report of a year ends with. */
export function noticesText(
  { warnings, cautions }: Pick<SeasonResult, 'warnings' | 'cautions'>,
  out: Channel,
): string {
  const { yellow, bold } = createColors(out.colour);
  return [
    ...warnings.map(({ message }) => `${yellow('Note:')} ${plainText(message)}`),
    '',
    bold('Caution'),
    ...cautions.map((line) => `  ${line}`),
    '',
  ].join('\n');
}

function monthRow(name: string, sums: SeasonSums): string[] {
  const share = (kwh: number): string =>
    sums.available_kwh > 0 ? `${((100 * kwh) / sums.available_kwh).toFixed(1)}` : '';
  return [
    name,
    sums.sun_hours.toFixed(0),
    sums.dni_kwh_m2.toFixed(1),
    sums.available_kwh.toFixed(0),
    `${sums.caught.value.toFixed(1)} ± ${halfWidth(sums.caught).toFixed(1)}`,
    sums.caught_per_m2.value.toFixed(1),
    share(sums.caught.value),
    ...LOSSES.map(([, key]) => share(Math.abs(sums[key]) < 1e-9 ? 0 : sums[key])),
  ];
}

export function seasonText(result: SeasonResult, out: Channel): string {
  const { bold } = createColors(out.colour);
  const { total } = result;
  const share = total.available_kwh > 0 ? (100 * total.caught.value) / total.available_kwh : 0;
  const tilt = tiltText(result);
  const table = textTable(
    [
      'month',
      'sun\nh',
      'DNI\nkWh/m²',
      'DNI x area\nkWh',
      'caught\nkWh',
      'per m²\nkWh/m²',
      'caught\n%',
      'cosine\n%',
      'shading\n%',
      'film\n%',
      'blocking\n%',
      'spill\n%',
    ],
    [...result.months.map((sums) => monthRow(MONTHS[sums.month - 1], sums)), monthRow('year', total)],
    out.colour,
  );
  return [
    bold(plainText(`${result.title}: the year ${result.year}`)),
    plainText(
      `${result.site.name}, ${result.site.latitude_deg.toFixed(2)}°, ${result.site.longitude_deg.toFixed(2)}°; days by ${result.clock}; ${receiversText(result.receivers)}${tilt === '' ? '' : `; ${tilt}`}.`,
    ),
    plainText(`Sky: ${result.sky}.`),
    '',
    `Caught in the year: ${formatFigure(total.caught)}, ${formatFigure(total.caught_per_m2)} of mirror, ${share.toFixed(1)} % of the beam on ${formatNumber(result.mirror_area_m2, 4)} m².`,
    '',
    table,
    '',
    'Heat that reaches the openings, before losses of the receivers. ± is the 95 % half width.',
    tableText(result.table),
    ...gapsText(result),
    noticesText(result, out),
  ].join('\n');
}

export function seasonCsv(result: SeasonResult): string {
  const row = (name: string, sums: SeasonSums): CsvCell[] => [
    name,
    sums.sun_hours,
    sums.dni_kwh_m2,
    sums.available_kwh,
    sums.caught.value,
    sums.caught.std_err,
    sums.caught_per_m2.value,
    sums.caught_per_m2.std_err,
    ...LOSSES.map(([, key]) => sums[key]),
  ];
  return toCsv(
    [
      'month',
      'sun_hours',
      'dni_kwh_m2',
      'available_kwh',
      'caught_kwh',
      'caught_std_err_kwh',
      'caught_per_m2_kwh_m2',
      'caught_per_m2_std_err_kwh_m2',
      ...LOSSES.map(([, key]) => key),
    ],
    [...result.months.map((sums) => row(String(sums.month), sums)), row('year', result.total)],
  );
}

function subtitles(result: SeasonResult): string[] {
  const { total } = result;
  return [
    `${result.year}, ${receiversText(result.receivers)} · caught ${formatFigure(total.caught)}, ${formatFigure(total.caught_per_m2)} of mirror`,
    `sky: ${result.sky}`,
    `${result.site.name} · seed ${result.seed} · scene ${result.scene_hash.slice(0, 12)} · error marks: 95 %`,
  ];
}

export function monthBars(result: SeasonResult): StackedBars {
  const { months } = result;
  const area = result.mirror_area_m2;
  const losses = [...LOSSES].reverse();
  return {
    title: 'Where the sunlight goes, month by month',
    subtitles: [result.title, ...subtitles(result)],
    yLabel: 'beam energy on the mirrors / (kWh per m² of mirror)',
    bars: months.map(({ month }) => MONTHS[month - 1]),
    parts: [
      {
        label: 'caught',
        colour: LIGHT_COLOURS.caught,
        value: months.map(({ caught }) => caught.value / area),
      },
      ...losses.map(([name, key]) => ({
        label: `lost to ${name}`,
        colour: LIGHT_COLOURS[name],
        value: months.map((sums) => sums[key] / area),
      })),
    ],
    notes: months.map(({ caught_per_m2 }) => caught_per_m2.value.toFixed(0)),
    halfWidth: months.map(({ caught_per_m2 }) => halfWidth(caught_per_m2)),
  };
}

export function yearSteps(result: SeasonResult): Steps {
  const { total } = result;
  const area = result.mirror_area_m2;
  const share = total.available_kwh > 0 ? (100 * total.caught.value) / total.available_kwh : 0;
  return {
    title: 'Where the sunlight of the year goes',
    subtitles: [result.title, ...subtitles(result)],
    yLabel: 'energy of the year / (kWh per m² of mirror)',
    available: { label: 'DNI x area', value: total.available_kwh / area },
    losses: LOSSES.map(([name, key]) => ({
      label: name,
      value: total[key] / area,
      colour: LIGHT_COLOURS[name],
    })),
    left: {
      label: 'caught',
      value: total.caught.value / area,
      halfWidth: halfWidth(total.caught_per_m2),
      note: `${share.toFixed(1)} %`,
    },
  };
}
