/** The price of heat in words and tables. */
import { createColors } from 'picocolors';
import { toCsv } from '../report/csv.js';
import { plainText } from '../report/plain-text.js';
import type { CostDocument } from '../study/cost-result.js';
import type { CostResultDocument, FilmResult, StoreResult } from '../study/cost-types.js';
import { followText, headText, lineSum, spanText } from './heat-text.js';
import { MONTHS, noticesText } from './season-text.js';
import type { Channel } from './session.js';
import { textTable } from './text-table.js';

/** Three digits that matter, never fewer than whole units. */
export function moneyText(value: number): string {
  const size = Math.abs(value);
  return value.toFixed(size >= 100 ? 0 : size >= 1 ? 2 : 4);
}

function linesTable(cost: CostResultDocument, colour: boolean): string {
  const rows = cost.lines.map((line) => [
    line.name,
    moneyText(line.first),
    moneyText(line.replacements - line.residual),
    moneyText(line.yearly),
    moneyText(line.present),
    line.per_kwh.toFixed(4),
    ((100 * line.per_kwh) / cost.per_kwh).toFixed(1),
  ]);
  const sum = (of: (line: CostResultDocument['lines'][number]) => number) =>
    moneyText(cost.lines.reduce((total, line) => total + of(line), 0));
  return textTable(
    ['', 'at first', 'bought\nagain', 'yearly,\nin all', 'present\ncost', `${cost.currency}\nper kWh`, '%'],
    [
      ...rows,
      [
        'together',
        sum((line) => line.first),
        sum((line) => line.replacements - line.residual),
        sum((line) => line.yearly),
        moneyText(cost.present_cost),
        cost.per_kwh.toFixed(4),
        '100.0',
      ],
    ],
    colour,
  );
}

function yearsText(years: number | null): string {
  return years === null ? 'never within the plan' : `${years.toFixed(1)} years`;
}

function fuelText({ fuel, currency, per_kwh }: CostResultDocument): string[] {
  if (fuel === null) return [];
  const word = per_kwh < fuel.heat_per_kwh ? 'less' : 'more';
  return [
    plainText(
      `Against ${fuel.name} at ${moneyText(fuel.price_per_kwh)} ${currency}/kWh and ${(100 * fuel.efficiency).toFixed(0)} % boiler: its heat costs ${moneyText(fuel.heat_per_kwh)} ${currency}/kWh; ` +
        `the sun's costs ${word}. Break-even at ${moneyText(fuel.break_even_per_kwh)} ${currency}/kWh of fuel; paid back in ${yearsText(fuel.simple_payback_years)}, ` +
        `with interest in ${yearsText(fuel.discounted_payback_years)}.`,
    ),
    '',
  ];
}

function storeText(
  store: StoreResult,
  { currency }: CostResultDocument,
  bold: (text: string) => string,
): string[] {
  return [
    bold('Heat at night'),
    `The store holds ${store.capacity_kwh.toFixed(1)} kWh in ${store.volume_m3.toFixed(2)} m³ (${store.mass_kg.toFixed(0)} kg), loses ${store.loss_w.toFixed(0)} W (${(100 * store.loss_per_day).toFixed(0)} % of it a day), ` +
      `serves the load for ${store.hours === null ? 'ever' : `${store.hours.toFixed(1)} h`}; ${(100 * store.delivered_share).toFixed(0)} % of what it held comes out. Pipes at most ${store.pipe_spacing_mm.toFixed(0)} mm apart (common practice).`,
    `By day ${moneyText(store.day_per_kwh)} ${currency}/kWh; at night ${moneyText(store.night_per_kwh)}: ${moneyText(store.losses_per_kwh)} for what is lost, ${moneyText(store.store_per_kwh)} for the store, over ${store.nights.toFixed(0)} nights and ${store.heat_out_kwh.toFixed(0)} kWh.`,
    '',
  ];
}

function filmText(
  film: FilmResult,
  { currency }: CostResultDocument,
  bold: (text: string) => string,
): string[] {
  const { best } = film;
  const months =
    best.month === null
      ? 'any month, as it moves through the year'
      : film.flat_months.length === 12
        ? `${MONTHS[best.month - 1]}, though any month will do`
        : `${MONTHS[best.month - 1]} (as good within 1 %: ${film.flat_months.map((month) => MONTHS[month - 1]).join(', ')})`;
  const better = !film.better_given
    ? []
    : [
        film.break_even_per_m2 === null
          ? 'The better film is not worth having even as a gift.'
          : `The better film may cost up to ${moneyText(film.break_even_per_m2)} ${currency}/m².`,
      ];
  return [
    bold('Film'),
    plainText(
      `Replace it every ${best.interval_months} months${film.at_end ? ' or later' : ''}, best in ${months}; from ${film.flat_from_months} to ${film.flat_to_months} months less than 1 % is lost. ` +
        `A replacement costs ${moneyText(film.film_price + film.work_price)} ${currency}; heat counts ${moneyText(film.heat_price)} ${currency}/kWh (${film.heat_price_of}); 1 % less light is ${film.heat_per_light.toFixed(1)} % less heat.`,
    ),
    ...better,
    ...film.strategies.map(
      ({ name, worth, heat_kwh }) =>
        `  ${name.padEnd(20)}  worth ${moneyText(worth)} ${currency} a year, ${heat_kwh.toFixed(0)} kWh`,
    ),
    '',
  ];
}

/** From one kWh of sunlight to its price. */
export function followToPrice({ cost, heat }: CostDocument): string[] {
  if (heat === null) return [];
  const delivered = heat.follow_one_kwh.at(-1)?.value ?? 0;
  return [
    ...followText(heat.follow_one_kwh),
    `  ${delivered.toFixed(3)} kWh are delivered, at ${moneyText(cost.per_kwh)} ${cost.currency}/kWh: ${moneyText(delivered * cost.per_kwh)} ${cost.currency} is what the heat of one kWh of sunlight costs;`,
    `  one kWh of heat takes ${(delivered > 0 ? 1 / delivered : Number.POSITIVE_INFINITY).toFixed(2)} kWh of sunlight.`,
  ];
}

export function costText(result: CostDocument, out: Channel): string {
  const { bold } = createColors(out.colour);
  const { cost, heat } = result;
  const unit = `${cost.currency}/kWh`;
  const lost = heat === null ? 0 : lineSum(heat.waterfall_kwh, ['receiver_losses', 'pipes']);
  const levers = cost.levers.slice(0, 3);
  const wide = Math.max(...levers.map(({ name }) => name.length));
  return [
    headText(result, 'the price of heat', out),
    '',
    plainText(
      `A kWh of heat costs ${moneyText(cost.per_kwh)} ${unit} over ${cost.years} years at ${(100 * cost.rate).toFixed(1)} % (capital recovery ${cost.capital_recovery.toFixed(4)} a year); ` +
        `95 % from ${moneyText(cost.ci95_per_kwh[0])} to ${moneyText(cost.ci95_per_kwh[1])} for uncertain heat and prices (${cost.trials} draws, JCGM 101), ` +
        `${spanText(cost.formula_span_per_kwh, 4)} by the loss formulas.`,
    ),
    `It rests on ${cost.heat_kwh.toFixed(0)} kWh in the first year (${lost.toFixed(0)} kWh go to hot receivers and pipes) and ${moneyText(cost.investment)} ${cost.currency} at first.`,
    '',
    linesTable(cost, out.colour),
    '',
    bold('What moves it most'),
    ...levers.map(
      ({ name, elasticity }) =>
        `  ${plainText(name).padEnd(wide)}  1 % more of it: ${elasticity >= 0 ? '+' : ''}${elasticity.toFixed(2)} % on the price`,
    ),
    '',
    ...fuelText(cost),
    bold('Follow one kWh of sunlight to its price'),
    ...followToPrice(result),
    '',
    ...(cost.store === null ? [] : storeText(cost.store, cost, bold)),
    ...(cost.film === null ? [] : filmText(cost.film, cost, bold)),
    noticesText(result, out),
  ].join('\n');
}

export function costCsv({ cost }: CostDocument): string {
  return toCsv(
    ['name', 'kind', 'count', 'price', 'first', 'replacements', 'residual', 'yearly', 'present', 'per_kwh'],
    cost.lines.map((line) => [
      line.name,
      line.kind,
      line.count,
      line.price,
      line.first,
      line.replacements,
      line.residual,
      line.yearly,
      line.present,
      line.per_kwh,
    ]),
  );
}

export function filmCsv(film: FilmResult): string {
  return toCsv(
    ['interval_months', 'best_month', 'heat_kwh', 'worth'],
    film.by_interval.map((worth) => [worth.interval_months, worth.month ?? '', worth.heat_kwh, worth.worth]),
  );
}
