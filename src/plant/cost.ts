/** Cost of heat. Money in plain numbers of one currency and one year's prices; heat in any one unit, price per that unit. */

import { aboveZero, wholeFrom, within } from './inputs.js';

export interface Part {
  readonly name: string;
  /** Of one piece, without tax. */
  readonly price: number;
  readonly count: number;
  /** Years until it is bought again; Infinity for what outlives all. */
  readonly lifetime: number;
  /** Crew hours to put one in. */
  readonly crewHours: number;
}

/** Something paid every year: film replacement, re-settings, washing. */
export interface Upkeep {
  readonly name: string;
  readonly money: number;
  readonly crewHours: number;
}

/** Rules of reckoning. */
export interface Convention {
  /** Real yearly rate, 0.05 for 5 %; 0 is allowed. */
  readonly rate: number;
  /** Value added tax on parts, crew and upkeep, 0.19 for 19 %. */
  readonly tax: number;
  /** What a part is still worth at the end: nothing, or its price (without crew) in proportion to the years it has left. */
  readonly residual: 'none' | 'straight_line';
}

/** Discounted, with tax left out, nothing left at the end: the plain levelised cost. */
export function discounted(rate: number): Convention {
  return { rate, tax: 0, residual: 'none' };
}

/**
 * 0 % rate and no VAT: the convention of an IEA heating and cooling task on price reduction (Task 54) for homes (its news of 2018, read;
 * Louvet et al., Solar Energy 193 (2019) 85, abstract read).
 */
export const ZERO_RATE_NO_TAX: Convention = { rate: 0, tax: 0, residual: 'none' };

export interface CostPlan {
  readonly parts: readonly Part[];
  readonly upkeep: readonly Upkeep[];
  /** Per crew hour. */
  readonly crewRate: number;
  /** Years reckoned over, a whole number. */
  readonly years: number;
  /** Heat of the first year. */
  readonly heat: number;
  /** Share lost each year after the first: E_t = E (1 - fall)^(t - 1). */
  readonly yieldFall: number;
  readonly convention: Convention;
}

export interface CostLine {
  readonly name: string;
  readonly kind: 'part' | 'upkeep';
  /** Bought at the start. */
  readonly first: number;
  /** Discounted later purchases. */
  readonly replacements: number;
  /** Discounted worth at the end, taken off. */
  readonly residual: number;
  /** Discounted yearly payments. */
  readonly yearly: number;
  readonly present: number;
  readonly perHeat: number;
}

export interface CostResult {
  readonly investment: number;
  readonly presentCost: number;
  readonly presentHeat: number;
  /** Levelised cost per unit of heat. */
  readonly perHeat: number;
  readonly lines: readonly CostLine[];
}

/**
 * Capital recovery i (1 + i)^n / ((1 + i)^n - 1); 1/n at rate 0 (its limit). By expm1, so that tiny rates keep their digits.
 * @throws RangeError for a rate of -100 % or less, or years not above 0
 */
export function capitalRecovery(rate: number, years: number): number {
  within('rate', rate, -0.99, 10);
  aboveZero('years', years);
  return rate === 0 ? 1 / years : rate / -Math.expm1(-years * Math.log1p(rate));
}

/** Sum of 1/(1 + r)^t over t = 1..n. */
function annuity(rate: number, years: number): number {
  return 1 / capitalRecovery(rate, years);
}

/** Sum of E (1 - fall)^(t - 1) / (1 + r)^t over t = 1..n. */
export function presentHeat(heat: number, fall: number, rate: number, years: number): number {
  let sum = 0;
  for (let year = 1; year <= years; year++) sum += (1 - fall) ** (year - 1) / (1 + rate) ** year;
  return heat * sum;
}

/** @throws RangeError naming the first figure that cannot be */
export function checkPlan(plan: CostPlan): void {
  wholeFrom('years', plan.years, 1);
  aboveZero('heat of a year', plan.heat);
  within('yearly fall of the yield', plan.yieldFall, 0, 0.999);
  within('crew rate', plan.crewRate, 0);
  within('rate', plan.convention.rate, -0.99, 10);
  within('tax', plan.convention.tax, 0, 10);
  const names = new Set<string>();
  for (const { name } of [...plan.parts, ...plan.upkeep]) {
    if (names.has(name)) throw new RangeError(`two entries of the cost plan are called "${name}"`);
    names.add(name);
  }
  for (const part of plan.parts) {
    within(`price of ${part.name}`, part.price, 0);
    within(`count of ${part.name}`, part.count, 0);
    within(`crew hours of ${part.name}`, part.crewHours, 0);
    if (!(part.lifetime > 0)) {
      throw new RangeError(`lifetime of ${part.name} must be above 0, got ${part.lifetime}`);
    }
    if (plan.years / part.lifetime > 10_000) {
      throw new RangeError(`${part.name} would be bought more than 10,000 times`);
    }
  }
  for (const entry of plan.upkeep) {
    within(`yearly money of ${entry.name}`, entry.money, 0);
    within(`yearly crew hours of ${entry.name}`, entry.crewHours, 0);
  }
}

function partLine(part: Part, plan: CostPlan, heat: number): CostLine {
  const { rate, tax, residual } = plan.convention;
  const material = part.count * part.price * (1 + tax);
  const placed = material + part.count * part.crewHours * plan.crewRate * (1 + tax);
  let replacements = 0;
  let lastBought = 0;
  // A part that ends with the horizon is not bought again; the margin keeps 3 x 6.666 years from counting as short of 20.
  for (let time = part.lifetime; time < plan.years * (1 - 1e-9); time += part.lifetime) {
    replacements += placed / (1 + rate) ** time;
    lastBought = time;
  }
  const left = Math.max(0, 1 - (plan.years - lastBought) / part.lifetime);
  const worth = residual === 'none' ? 0 : (material * left) / (1 + rate) ** plan.years;
  const present = placed + replacements - worth;
  return {
    name: part.name,
    kind: 'part',
    first: placed,
    replacements,
    residual: worth,
    yearly: 0,
    present,
    perHeat: present / heat,
  };
}

function upkeepLine(entry: Upkeep, plan: CostPlan, heat: number): CostLine {
  const { rate, tax } = plan.convention;
  const yearly = (entry.money + entry.crewHours * plan.crewRate) * (1 + tax) * annuity(rate, plan.years);
  return {
    name: entry.name,
    kind: 'upkeep',
    first: 0,
    replacements: 0,
    residual: 0,
    yearly,
    present: yearly,
    perHeat: yearly / heat,
  };
}

/**
 * Levelised cost of heat: (I + sum A_t/(1 + r)^t) / (sum E_t/(1 + r)^t), with parts bought again when they wear out. Replacements
 * are paid at the moment they fall due, whole year or not. The lines' `perHeat` add up to the total.
 * @throws RangeError for a plan that cannot be
 */
export function costOfHeat(plan: CostPlan): CostResult {
  checkPlan(plan);
  const heat = presentHeat(plan.heat, plan.yieldFall, plan.convention.rate, plan.years);
  const lines = [
    ...plan.parts.map((part) => partLine(part, plan, heat)),
    ...plan.upkeep.map((entry) => upkeepLine(entry, plan, heat)),
  ];
  const presentCost = lines.reduce((sum, line) => sum + line.present, 0);
  return {
    investment: lines.reduce((sum, line) => sum + line.first, 0),
    presentCost,
    presentHeat: heat,
    perHeat: presentCost / heat,
    lines,
  };
}

export interface FuelComparison {
  /** Price of heat from the fuel: fuel price over efficiency. */
  readonly fuelHeat: number;
  readonly solarHeat: number;
  /** Fuel price at which both cost the same. */
  readonly breakEven: number;
  /** Years until the saved fuel, less upkeep, has paid the investment; undiscounted, null where it never does within the plan. */
  readonly simplePayback: number | null;
  /** The same with the plan's rate, replacements paid when due. */
  readonly discountedPayback: number | null;
}

/**
 * Held against a fuel.
 * @param fuelPrice per unit of heat in the fuel, 0 or more
 * @param efficiency of the burner, above 0 up to 1.1 (condensing, on the lower heating value)
 */
export function againstFuel(plan: CostPlan, fuelPrice: number, efficiency: number): FuelComparison {
  within('fuel price', fuelPrice, 0);
  within('efficiency', aboveZero('efficiency', efficiency), 0, 1.1);
  const { perHeat } = costOfHeat(plan);
  const price = fuelPrice / efficiency;
  return {
    fuelHeat: price,
    solarHeat: perHeat,
    breakEven: perHeat * efficiency,
    simplePayback: payback(plan, price, 0),
    discountedPayback: payback(plan, price, plan.convention.rate),
  };
}

/** First moment from which what was saved has paid for what was spent and does so till the plan ends; savings flow evenly over a year. */
function payback(plan: CostPlan, heatPrice: number, rate: number): number | null {
  const { tax } = plan.convention;
  const spent = (year: number) =>
    plan.parts.reduce((sum, part) => {
      const placed = part.count * (part.price + part.crewHours * plan.crewRate) * (1 + tax);
      let paid = 0;
      for (let time = 0; time <= year && time < plan.years * (1 - 1e-9); time += part.lifetime) {
        paid += placed / (1 + rate) ** time;
        if (!Number.isFinite(part.lifetime)) break;
      }
      return sum + paid;
    }, 0);
  const upkeep = plan.upkeep.reduce(
    (sum, entry) => sum + (entry.money + entry.crewHours * plan.crewRate) * (1 + tax),
    0,
  );
  const balances = [-spent(0)];
  let saved = 0;
  for (let year = 1; year <= plan.years; year++) {
    saved += (plan.heat * (1 - plan.yieldFall) ** (year - 1) * heatPrice - upkeep) / (1 + rate) ** year;
    balances.push(saved - spent(year));
  }
  if (balances[plan.years] < 0) return null;
  let first = plan.years;
  while (first > 0 && balances[first - 1] >= 0) first--;
  if (first === 0) return 0;
  const [before, after] = [balances[first - 1], balances[first]];
  return first - 1 + -before / (after - before);
}
