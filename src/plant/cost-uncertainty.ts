/** Which inputs move the cost of heat most, and how wide it is when they are uncertain. */

import { type CostPlan, costOfHeat } from './cost.js';
import { aboveZero, wholeFrom, within } from './inputs.js';

/** An input of a plan that can be multiplied by a factor; names are `heat`, `rate`, `crew rate`, `price of X`, ... */
export interface Lever {
  readonly name: string;
  readonly apply: (plan: CostPlan, factor: number) => CostPlan;
}

/** Every lever that a plan has. */
export function leversOf(plan: CostPlan): readonly Lever[] {
  const partLevers = plan.parts.flatMap(({ name }): Lever[] => [
    { name: `price of ${name}`, apply: partLever(name, 'price') },
    { name: `lifetime of ${name}`, apply: partLever(name, 'lifetime') },
    { name: `crew hours of ${name}`, apply: partLever(name, 'crewHours') },
  ]);
  const upkeepLevers = plan.upkeep.map(
    ({ name }): Lever => ({
      name: `upkeep: ${name}`,
      apply: (from, factor) => ({
        ...from,
        upkeep: from.upkeep.map((entry) =>
          entry.name === name
            ? { ...entry, money: entry.money * factor, crewHours: entry.crewHours * factor }
            : entry,
        ),
      }),
    }),
  );
  return [
    { name: 'heat', apply: (from, factor) => ({ ...from, heat: from.heat * factor }) },
    { name: 'crew rate', apply: (from, factor) => ({ ...from, crewRate: from.crewRate * factor }) },
    { name: 'fall of the yield', apply: (from, factor) => ({ ...from, yieldFall: from.yieldFall * factor }) },
    {
      name: 'rate',
      apply: (from, factor) => ({
        ...from,
        convention: { ...from.convention, rate: from.convention.rate * factor },
      }),
    },
    ...partLevers,
    ...upkeepLevers,
  ];
}

function partLever(name: string, key: 'price' | 'lifetime' | 'crewHours'): Lever['apply'] {
  return (plan, factor) => ({
    ...plan,
    parts: plan.parts.map((part) => (part.name === name ? { ...part, [key]: part[key] * factor } : part)),
  });
}

export interface LeverStrength {
  readonly name: string;
  /** Per cent of cost for one per cent of the input. */
  readonly elasticity: number;
}

/**
 * Elasticity d ln(cost) / d ln(input) of every lever, the strongest first.
 * @param step relative, both ways. The default of 5 % is wide on purpose: a lifetime acts in jumps (one purchase more or less), which a
 *   hair's breadth would miss or make endless.
 */
export function leverStrengths(plan: CostPlan, step = 0.05): readonly LeverStrength[] {
  within('step', aboveZero('step', step), 0, 0.5);
  const cost = (lever: Lever, factor: number) => costOfHeat(lever.apply(plan, factor)).perHeat;
  return leversOf(plan)
    .map((lever) => ({
      name: lever.name,
      elasticity: Math.log(cost(lever, 1 + step) / cost(lever, 1 - step)) / Math.log((1 + step) / (1 - step)),
    }))
    .map((entry) => (Number.isFinite(entry.elasticity) ? entry : { ...entry, elasticity: 0 }))
    .sort((one, other) => Math.abs(other.elasticity) - Math.abs(one.elasticity));
}

/** Of a factor on an input: 1 is the value in the plan. */
export type Distribution =
  | { readonly kind: 'uniform'; readonly from: number; readonly to: number }
  | { readonly kind: 'triangular'; readonly from: number; readonly mode: number; readonly to: number }
  | { readonly kind: 'normal'; readonly mean: number; readonly sigma: number }
  | { readonly kind: 'lognormal'; readonly median: number; readonly sigma: number };

/** Uniform on [0, 1), seeded by whoever calls. */
export type Draw = () => number;

/** One value of a distribution by the inverse of its distribution function; normal by Box & Muller (two draws). */
export function sample(distribution: Distribution, draw: Draw): number {
  switch (distribution.kind) {
    case 'uniform':
      return distribution.from + (distribution.to - distribution.from) * draw();
    case 'triangular': {
      const { from, mode, to } = distribution;
      const u = draw();
      const share = (mode - from) / (to - from);
      return u < share
        ? from + Math.sqrt(u * (to - from) * (mode - from))
        : to - Math.sqrt((1 - u) * (to - from) * (to - mode));
    }
    case 'normal':
      return distribution.mean + distribution.sigma * standardNormal(draw);
    case 'lognormal':
      return distribution.median * Math.exp(distribution.sigma * standardNormal(draw));
  }
}

function standardNormal(draw: Draw): number {
  // 1 - u is never 0.
  return Math.sqrt(-2 * Math.log(1 - draw())) * Math.cos(2 * Math.PI * draw());
}

function checkDistribution(name: string, distribution: Distribution): void {
  for (const [key, value] of Object.entries(distribution)) {
    if (typeof value === 'number' && !Number.isFinite(value)) {
      throw new RangeError(`${name}: ${key} is ${value}`);
    }
  }
  switch (distribution.kind) {
    case 'uniform':
    case 'triangular': {
      const { from, to } = distribution;
      aboveZero(`${name}: to less from`, to - from);
      if (distribution.kind === 'triangular') within(`${name}: mode`, distribution.mode, from, to);
      break;
    }
    case 'normal':
      within(`${name}: sigma`, distribution.sigma, 0);
      break;
    case 'lognormal':
      aboveZero(`${name}: median`, distribution.median);
      within(`${name}: sigma`, distribution.sigma, 0);
      break;
  }
}

export interface Propagated {
  readonly mean: number;
  readonly median: number;
  readonly standardDeviation: number;
  /** Of the mean, from the number of draws. */
  readonly meanError: number;
  /** The probabilistically symmetric interval that holds 95 %. */
  readonly interval95: readonly [number, number];
  readonly trials: number;
  /** Draws that made no plan (a price below 0, ...) and were drawn anew. */
  readonly redrawn: number;
}

/**
 * Propagation of distributions (JCGM 101:2008, sections 5 to 7; from memory): the model is worked out for many draws of its inputs;
 * mean, standard deviation and the symmetric 95 % interval come from the sorted values.
 * @param model throws a RangeError for inputs that cannot be
 * @param trials 100 or more; 10,000 give the ends of the interval to about 2 % of its width
 * @throws RangeError for distributions that cannot be, or more impossible draws than possible ones
 */
export function propagate(
  model: (factors: readonly number[]) => number,
  inputs: readonly { readonly name: string; readonly distribution: Distribution }[],
  draw: Draw,
  trials: number,
): Propagated {
  wholeFrom('trials', trials, 100);
  for (const { name, distribution } of inputs) checkDistribution(name, distribution);
  const values: number[] = [];
  let redrawn = 0;
  while (values.length < trials) {
    const factors = inputs.map(({ distribution }) => sample(distribution, draw));
    try {
      values.push(model(factors));
    } catch (error) {
      if (!(error instanceof RangeError)) throw error;
      redrawn++;
      if (redrawn > trials) throw new RangeError(`most draws make no plan: ${error.message}`);
    }
  }
  return { ...summaryOf(values), redrawn };
}

function summaryOf(values: readonly number[]): Omit<Propagated, 'redrawn'> {
  const trials = values.length;
  const mean = values.reduce((sum, value) => sum + value, 0) / trials;
  const variance = values.reduce((sum, value) => sum + (value - mean) ** 2, 0) / (trials - 1);
  const sorted = [...values].sort((one, other) => one - other);
  const quantile = (share: number) => {
    const place = share * (trials - 1);
    const row = Math.min(trials - 2, Math.floor(place));
    return sorted[row] + (place - row) * (sorted[row + 1] - sorted[row]);
  };
  const standardDeviation = Math.sqrt(variance);
  return {
    mean,
    median: quantile(0.5),
    standardDeviation,
    meanError: standardDeviation / Math.sqrt(trials),
    interval95: [quantile(0.025), quantile(0.975)],
    trials,
  };
}

/**
 * Cost of heat with uncertain inputs.
 * @param uncertain names of levers with the distribution of their factors
 * @throws RangeError for a lever that the plan does not have, with those it has
 */
export function costBand(
  plan: CostPlan,
  uncertain: readonly { readonly name: string; readonly distribution: Distribution }[],
  draw: Draw,
  trials: number,
): Propagated {
  const levers = leversOf(plan);
  const chosen = uncertain.map(({ name }) => {
    const lever = levers.find((entry) => entry.name === name);
    if (lever === undefined) {
      throw new RangeError(`no input "${name}"; there are ${levers.map((entry) => entry.name).join(', ')}`);
    }
    return lever;
  });
  const model = (factors: readonly number[]) =>
    costOfHeat(chosen.reduce((from, lever, index) => lever.apply(from, factors[index]), plan)).perHeat;
  return propagate(model, uncertain, draw, trials);
}
