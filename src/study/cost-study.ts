/** What a kWh of heat costs: parts, upkeep, levers, fuel, store and film, from a scene and its year of heat. */
import { againstFuel, capitalRecovery, costOfHeat } from '../plant/cost.js';
import { leverStrengths, propagate } from '../plant/cost-uncertainty.js';
import type { TaskPool } from '../run/pool.js';
import { uniformStream } from '../run/seeds.js';
import type { Scene } from '../scene/types.js';
import { filmResult, spreadsToTrace } from './cost-film.js';
import { type Counts, costPlan, costSpec, countsOf } from './cost-plan.js';
import { storeResult } from './cost-store.js';
import type { CostLineResult, CostResultDocument, FilmResult } from './cost-types.js';
import { PlantError } from './heat-plant.js';
import { caughtRatios, specularSpread, withSpecularSpread } from './heat-response.js';
import type { HeatStudy } from './heat-year.js';
import type { NodeReply, NodeTask, ReceiverMode } from './optics-table-node.js';
import { SEARCH_RAYS } from './season.js';

const TRIALS = 4000;

export interface CostOptions {
  readonly scene: Scene;
  readonly heat: HeatStudy;
  readonly mode: ReceiverMode;
  readonly seed: string;
  readonly rays: number;
  readonly pool: TaskPool<NodeTask, NodeReply>;
  readonly stop?: { readonly requested: boolean };
  readonly onStage?: (text: string) => void;
}

/**
 * @throws PlantError where the scene has no prices or brings no heat to pay for; StudyStopped, NodeFailure
 */
export async function studyCost(options: CostOptions): Promise<CostResultDocument> {
  const { scene, heat } = options;
  const spec = costSpec(scene);
  const { year } = heat;
  if (!(year.delivered_kwh.best > 0)) {
    throw new PlantError('the scene delivers no heat in the year: there is nothing to price');
  }
  const film = await filmOf(options);
  try {
    return priced(options, countsOf(scene, heat.plant), film);
  } catch (error) {
    if (error instanceof RangeError) throw new PlantError(error.message);
    throw error;
  }

  function priced({ seed }: CostOptions, counts: Counts, filmOfYear: FilmResult | null): CostResultDocument {
    const { best, low, high } = year.delivered_kwh;
    const plan = costPlan(spec, counts, best);
    const result = costOfHeat(plan);
    const at = (kwh: number) =>
      kwh > 0 ? costOfHeat({ ...plan, heat: kwh }).perHeat : Number.POSITIVE_INFINITY;
    const { uncertainty } = year;
    const heatSpread = Math.hypot(uncertainty.sd_kwh, uncertainty.ray_std_err_kwh) / best;
    const { prices, crewPrice, upkeep } = spec.uncertainty;
    const drawn = propagate(
      ([heatFactor, priceFactor, crewFactor, upkeepFactor]) =>
        costOfHeat({
          ...plan,
          heat: plan.heat * heatFactor,
          parts: plan.parts.map((part) => ({ ...part, price: part.price * priceFactor })),
          crewRate: plan.crewRate * crewFactor,
          upkeep: plan.upkeep.map((work) => ({ ...work, money: work.money * upkeepFactor })),
        }).perHeat,
      [
        { name: 'heat', distribution: { kind: 'lognormal', median: 1, sigma: heatSpread } },
        { name: 'prices', distribution: { kind: 'lognormal', median: 1, sigma: prices } },
        { name: 'crew price', distribution: { kind: 'lognormal', median: 1, sigma: crewPrice } },
        { name: 'upkeep', distribution: { kind: 'lognormal', median: 1, sigma: upkeep } },
      ],
      uniformStream(`${seed}/cost`),
      TRIALS,
    );
    const priceOf = (name: string) =>
      spec.parts.find((part) => part.name === name)?.price ??
      spec.upkeep.find((work) => work.name === name)?.price ??
      0;
    const lines = result.lines.map(
      (line): CostLineResult => ({
        name: line.name,
        kind: line.kind,
        count: plan.parts.find(({ name }) => name === line.name)?.count ?? 1,
        price: priceOf(line.name),
        first: line.first,
        replacements: line.replacements,
        residual: line.residual,
        yearly: line.yearly,
        present: line.present,
        per_kwh: line.perHeat,
      }),
    );
    const fuel = spec.fuel === null ? null : againstFuel(plan, spec.fuel.price, spec.fuel.efficiency);
    const storeSpec = scene.plant?.store ?? null;
    const ambient = heat.plant.spec.ambient ?? scene.site?.temperature ?? 288.15;
    return {
      currency: spec.currency,
      heat_kwh: best,
      years: spec.years,
      rate: spec.rate,
      investment: result.investment,
      capital_recovery: capitalRecovery(spec.rate, spec.years),
      present_cost: result.presentCost,
      present_heat_kwh: result.presentHeat,
      per_kwh: result.perHeat,
      lines,
      formula_span_per_kwh: { low: at(high), best: at(best), high: at(low) },
      mean_per_kwh: drawn.mean,
      sd_per_kwh: drawn.standardDeviation,
      ci95_per_kwh: drawn.interval95,
      trials: drawn.trials,
      levers: leverStrengths(plan).map(({ name, elasticity }) => ({ name, elasticity })),
      fuel:
        fuel === null || spec.fuel === null
          ? null
          : {
              name: spec.fuel.name,
              price_per_kwh: spec.fuel.price,
              efficiency: spec.fuel.efficiency,
              heat_per_kwh: fuel.fuelHeat,
              break_even_per_kwh: fuel.breakEven,
              simple_payback_years: fuel.simplePayback,
              discounted_payback_years: fuel.discountedPayback,
            },
      store: storeSpec === null ? null : storeResult(storeSpec, spec, result.perHeat, best, ambient),
      film: filmOfYear,
    };
  }
}

/** Traces the light against the film's spread, then works out when to replace it; null where the scene does not say how it ages. */
async function filmOf(options: CostOptions): Promise<FilmResult | null> {
  const { scene, heat, mode, seed, rays, pool, stop, onStage } = options;
  const ageing = scene.plant?.filmAgeing ?? null;
  if (ageing === null) return null;
  const spec = costSpec(scene);
  if (scene.films.length !== 1) {
    throw new PlantError('the scene has several films: when to replace film is worked out for one');
  }
  onStage?.('film');
  const [film] = scene.films;
  const spreads = spreadsToTrace(film, ageing);
  const own = specularSpread(film);
  const ratios = await caughtRatios({
    table: heat.table,
    scenes: [scene, ...spreads.map((spread) => (spread === own ? scene : withSpecularSpread(scene, spread)))],
    mode,
    seed,
    rays,
    searchRays: SEARCH_RAYS,
    pool,
    ...(stop === undefined ? {} : { stop }),
  });
  const counts = countsOf(scene, heat.plant);
  const plan = costPlan(spec, counts, heat.year.delivered_kwh.best);
  const price =
    spec.fuel === null
      ? { value: costOfHeat(plan).perHeat, of: 'the price of heat itself, as no fuel is given' }
      : { value: spec.fuel.price / spec.fuel.efficiency, of: `heat from ${spec.fuel.name}` };
  try {
    return filmResult({
      scene,
      cost: spec,
      spec: ageing,
      mirrorArea: heat.mirrorArea,
      monthlyHeat: heat.year.months.map(({ delivered_kwh }) => delivered_kwh.best),
      heatAtFactor: (factor) => heat.heatAtFactor(factor).best,
      heatPrice: price.value,
      heatPriceOf: price.of,
      spreads,
      ratios: ratios.slice(1),
    });
  } catch (error) {
    if (error instanceof RangeError) throw new PlantError(error.message);
    throw error;
  }
}
