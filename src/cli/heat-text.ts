/** Heat in words and tables. */
import { createColors } from 'picocolors';
import { type CsvCell, toCsv } from '../report/csv.js';
import { plainText } from '../report/plain-text.js';
import { formatFigure, formatNumber } from '../result/number-format.js';
import type { HeatResult } from '../study/heat-result.js';
import type { BookLine, HeatMoment, HeatYear, OpeningStudy, Span } from '../study/heat-types.js';
import { MONTHS, noticesText, receiversText, tableText, tiltText } from './season-text.js';
import type { Channel } from './session.js';
import { textTable } from './text-table.js';

const digits = (value: number, places: number): string =>
  value.toFixed(places).replace(/^-(0(\.0*)?)$/, '$1');

/** "412 (398 to 431)" */
export function spanText({ low, best, high }: Span, places = 0): string {
  const [l, b, h] = [low, best, high].map((value) => digits(value, places));
  return l === b && b === h ? b : `${b} (${l} to ${h})`;
}

/** Lines of a waterfall with what is left after each, and shares of the first. */
export function waterfallTable(
  lines: readonly BookLine[],
  unit: string,
  colour: boolean,
  places = 0,
): string {
  const [first, ...rest] = lines;
  const share = (value: number) => (first.value > 0 ? digits((100 * value) / first.value, 1) : '');
  let left = first.value;
  const rows = rest.map(({ label, value, key }) => {
    if (key === 'delivered') return [label, digits(value, places), share(value), ''];
    left -= value;
    return [
      label,
      `-${digits(Math.abs(value), places)}`.replace('--', '-'),
      share(value),
      digits(left, places),
    ];
  });
  return textTable(
    ['', unit, '%', `left, ${unit}`],
    [[first.label, digits(first.value, places), '100.0', digits(first.value, places)], ...rows],
    colour,
  );
}

function limitText(value: number | null): string {
  return value === null ? 'not known here, see its data sheet' : `${digits(value, 0)} °C`;
}

function formulasTable(moment: HeatMoment, colour: boolean): string {
  const { convection_formulas: formulas } = moment.hardest;
  const rows = [
    ...formulas.still_air.map((line) => ['still air', line] as const),
    ...formulas.wind.map((line) => ['wind', line] as const),
  ].map(([kind, { formula, value, in_range }]) => [
    `${formula}, ${kind}`,
    formatNumber(value, 3),
    in_range ? '' : 'outside its range',
  ]);
  return textTable(
    ['formula', formulas.unit, ''],
    [...rows, ['together, low to high', `${spanText(formulas.together, 2)}`, '']],
    colour,
  );
}

function minutesText(minutes: number | null): string {
  return minutes === null ? 'never, or no limit known' : `${digits(minutes, minutes < 3 ? 1 : 0)} min`;
}

export function momentText(moment: HeatMoment, out: Channel): string {
  const { bold } = createColors(out.colour);
  const { hardest, limits } = moment;
  const rows: readonly (readonly [string, string])[] = [
    ['light on it', `${digits(hardest.light_w, 0)} W, peak flux ${formatFigure(hardest.peak_flux_kw_m2)}`],
    ['absorbed', `${digits(hardest.absorbed_w, 0)} W; reflected ${digits(hardest.reflected_w, 0)} W`],
    [
      'lost',
      `radiation ${digits(hardest.radiation_w, 0)} W, convection ${digits(hardest.convection_w, 0)} W, conduction ${digits(hardest.conduction_w, 0)} W`,
    ],
    ['useful', `${spanText(hardest.useful_w)} W, efficiency ${spanText(percent(hardest.efficiency), 1)} %`],
    [
      'oil',
      `in ${digits(hardest.inlet_c, 1)} °C, out ${spanText(hardest.outlet_c, 1)} °C, ${formatNumber(hardest.flow_kg_s, 3)} kg/s, Re ${digits(hardest.reynolds, 0)}`,
    ],
    [
      'wall',
      `${digits(hardest.wall_c, 0)} °C on the whole, under the spot ${spanText(hardest.hottest_wall_c)} °C`,
    ],
    [
      'oil film under the spot',
      `${spanText(hardest.film_temperature_c)} °C; limit ${limitText(limits.film_limit_c)}${hardest.film_margin_k === null ? '' : `, ${digits(hardest.film_margin_k, 0)} K left`}`,
    ],
    ['flash point', limitText(limits.flash_point_c)],
    ['autoignition', limitText(limits.autoignition_c)],
    [
      'without flow',
      hardest.stagnation_c === null
        ? 'nothing that was counted ends the heating'
        : `${spanText(hardest.stagnation_c)} °C on the whole${hardest.hot_spot_stagnation_c === null ? '' : `, the hot spot alone ${spanText(hardest.hot_spot_stagnation_c)} °C`}`,
    ],
    [
      'pump stop to film limit',
      `${minutesText(hardest.minutes_to_film_limit)} on the whole, ${minutesText(hardest.hot_spot_minutes_to_film_limit)} at the hot spot`,
    ],
    [
      'least flow',
      hardest.least_flow_kg_s === null
        ? 'none found that keeps the film limit'
        : `${formatNumber(hardest.least_flow_kg_s, 2)} kg/s keeps film and bulk limits`,
    ],
  ];
  const width = Math.max(...rows.map(([name]) => name.length));
  return [
    bold(
      plainText(
        `${moment.time ?? 'The moment of the scene'}: sun ${digits(moment.sun_azimuth_deg, 1)}° azimuth, ${digits(moment.sun_elevation_deg, 1)}° up; beam ${digits(moment.dni_w_m2, 0)} W/m²; air ${digits(moment.ambient_c, 1)} °C, wind ${digits(moment.wind_m_s, 1)} m/s`,
      ),
    ),
    `Delivered ${spanText(moment.delivered_w)} W, ${digits(100 * moment.field_efficiency, 1)} % of the beam on the mirrors; oil out ${spanText(moment.outlet_c, 1)} °C.`,
    '',
    waterfallTable(moment.waterfall_w, 'W', out.colour),
    '',
    bold(plainText(`The hardest place: ${hardest.name}, taken as the last of its string`)),
    ...rows.map(([name, text]) => `  ${name.padEnd(width)}  ${text}`),
    '',
    bold('Convection by formula'),
    formulasTable(moment, out.colour),
    `In brackets: the span of the published formulas; no interval of chance.`,
  ].join('\n');
}

function percent({ low, best, high }: Span): Span {
  return { low: 100 * low, best: 100 * best, high: 100 * high };
}

/** Which lines of the waterfall a month's row shows, summed. */
const MONTH_COLUMNS: readonly (readonly [string, readonly string[]])[] = [
  ['sunlight\nkWh', ['on_mirrors']],
  ['optics\nkWh', ['cosine', 'shading', 'film', 'blocking', 'spill']],
  ['reflected\nkWh', ['reflected']],
  ['standing,\nwarming kWh', ['too_little', 'start_up']],
  ['receivers\nkWh', ['receiver_losses']],
  ['pipes\nkWh', ['pipes']],
];

export function lineSum(lines: readonly BookLine[], keys: readonly string[]): number {
  return lines.filter(({ key }) => keys.includes(key)).reduce((sum, { value }) => sum + value, 0);
}

function monthsTable(heat: HeatYear, colour: boolean): string {
  const row = (name: string, lines: readonly BookLine[], delivered: Span) => [
    name,
    ...MONTH_COLUMNS.map(([, keys]) => digits(lineSum(lines, keys), 0)),
    spanText(delivered),
  ];
  return textTable(
    ['month', ...MONTH_COLUMNS.map(([title]) => title), 'delivered\nkWh (low to high)'],
    [
      ...heat.months.map(({ month, waterfall_kwh, delivered_kwh }) =>
        row(MONTHS[month - 1], waterfall_kwh, delivered_kwh),
      ),
      row('year', heat.waterfall_kwh, heat.delivered_kwh),
    ],
    colour,
  );
}

export function openingText(opening: OpeningStudy): string {
  const { best_mm, flat_from_mm, flat_to_mm, measure, present_mm } = opening;
  const present = opening.points.find(({ scale }) => scale === 1);
  const lost = present === undefined ? 0 : 1 - present.delivered_kwh / opening.best_delivered_kwh;
  return (
    `Best opening: ${measure} ${digits(best_mm, 0)} mm (${digits(Math.min(opening.best_low_loss_mm, opening.best_high_loss_mm), 0)} to ` +
    `${digits(Math.max(opening.best_low_loss_mm, opening.best_high_loss_mm), 0)} by the loss formulas)${opening.at_end ? ', at the end of what was looked at' : ''}; ` +
    `from ${digits(flat_from_mm, 0)} to ${digits(flat_to_mm, 0)} mm less than 1 % is lost. ` +
    `The scene has ${digits(present_mm, 0)} mm: ${digits(100 * lost, 1)} % less than the best.`
  );
}

export function followText(lines: readonly BookLine[]): string[] {
  const width = Math.max(...lines.map(({ label }) => label.length));
  return lines.map(({ label, value }) => `  ${label.padEnd(width)}  ${value.toFixed(3)} kWh`);
}

function uncertaintyText({ uncertainty: u }: HeatYear): string[] {
  const inputs = u.inputs
    .map(
      ({ name, relative_sd, elasticity }) =>
        `${name} ${digits(100 * relative_sd, 0)} % (1 % of it moves the heat ${digits(elasticity, 2)} %)`,
    )
    .join(', ');
  return [
    `Uncertain inputs, as standard deviations: ${inputs}.`,
    `They put the year's heat at ${digits(u.mean_kwh, 0)} kWh, 95 % from ${digits(u.ci95_kwh[0], 0)} to ${digits(u.ci95_kwh[1], 0)} (${u.trials} draws, JCGM 101). ` +
      `Rays and table add ± ${digits(1.96 * u.ray_std_err_kwh, 1)} kWh; the loss formulas span ${digits(u.formula_span_kwh.low, 0)} to ${digits(u.formula_span_kwh.high, 0)} kWh.`,
  ];
}

export function yearText(heat: HeatYear, result: HeatResult, out: Channel): string {
  const { bold } = createColors(out.colour);
  return [
    bold(`The year ${result.year}`),
    `Delivered: ${spanText(heat.delivered_kwh)} kWh, ${digits(heat.delivered_per_m2_kwh, 0)} kWh per m² of mirror, at ${digits(heat.mean_oil_c, 0)} °C mean oil (wall ${digits(heat.wall_c, 0)} °C), ` +
      `in ${spanText(heat.hours)} hours; ${digits(heat.idle_hours, 0)} hours with too little light; ${heat.starts} starts.`,
    `Light caught: ${formatFigure(heat.caught_kwh)}.`,
    '',
    waterfallTable(heat.waterfall_kwh, 'kWh', out.colour),
    '',
    monthsTable(heat, out.colour),
    '',
    bold('Follow one kWh of sunlight'),
    ...followText(heat.follow_one_kwh),
    '',
    ...(heat.opening === null ? [] : [openingText(heat.opening), '']),
    ...uncertaintyText(heat),
    tableText(heat.table),
  ].join('\n');
}

/** @param of what the report is about */
export function headText(result: Omit<HeatResult, 'kind'>, of: string, out: Channel): string {
  const { bold } = createColors(out.colour);
  const tilt = tiltText(result);
  return [
    bold(plainText(`${result.title}: ${of}`)),
    plainText(
      `${result.site.name}, ${result.site.latitude_deg.toFixed(2)}°, ${result.site.longitude_deg.toFixed(2)}°; ${receiversText(result.receivers)}${tilt === '' ? '' : `; ${tilt}`}.`,
    ),
    plainText(`Sky: ${result.sky}.`),
    plainText(
      `Oil: ${result.oil.name}, ${result.oil.inlet_c.toFixed(0)} to ${result.oil.outlet_c.toFixed(0)} °C (${result.oil.source}).`,
    ),
  ].join('\n');
}

export function heatText(result: HeatResult, out: Channel): string {
  return [
    headText(result, 'heat', out),
    '',
    ...(result.heat === null ? [] : [yearText(result.heat, result, out), '', 'The brightest hour:']),
    momentText(result.moment, out),
    noticesText(result, out),
  ].join('\n');
}

export function monthsCsv(heat: HeatYear): string {
  const keys = heat.waterfall_kwh.map(({ key }) => key);
  const row = (name: string, lines: readonly BookLine[], delivered: Span): CsvCell[] => [
    name,
    ...lines.map(({ value }) => value),
    delivered.low,
    delivered.high,
  ];
  return toCsv(
    ['month', ...keys.map((key) => `${key}_kwh`), 'delivered_low_kwh', 'delivered_high_kwh'],
    [
      ...heat.months.map((month) => row(String(month.month), month.waterfall_kwh, month.delivered_kwh)),
      row('year', heat.waterfall_kwh, heat.delivered_kwh),
    ],
  );
}

export function openingCsv(opening: OpeningStudy): string {
  return toCsv(
    [
      'scale',
      `${opening.measure}_mm`,
      'caught_kwh',
      'delivered_kwh',
      'delivered_low_kwh',
      'delivered_high_kwh',
    ],
    opening.points.map((point) => [
      point.scale,
      point.size_mm,
      point.caught_kwh,
      point.delivered_kwh,
      point.delivered_low_kwh,
      point.delivered_high_kwh,
    ]),
  );
}
