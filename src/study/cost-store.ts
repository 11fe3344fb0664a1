/** A store for the night: what it holds, and the price of heat out of it beside the price by day. */
import { capitalRecovery } from '../plant/cost.js';
import {
  deliveredShare,
  nightPrice,
  pipeSpacing,
  type Store,
  type StoreUse,
  storeFigures,
  supplySeconds,
} from '../plant/storage.js';
import type { CostSpec, StoreSpec } from '../scene/plant-types.js';
import type { StoreResult } from './cost-types.js';

/** Hours in which a store is charged, for the spacing of its pipes. */
const CHARGING_HOURS = 6;

/**
 * @param dayPrice money per kWh straight from the field
 * @param yearHeat kWh that the field gives in a year
 * @param ambient K
 * @throws RangeError for figures that cannot be
 */
export function storeResult(
  spec: StoreSpec,
  cost: CostSpec,
  dayPrice: number,
  yearHeat: number,
  ambient: number,
): StoreResult {
  const store: Store = {
    material: spec.material,
    shape: spec.shape,
    fill: spec.fill,
    insulationThickness: spec.insulationThickness,
    insulationConductivity: spec.insulationConductivity,
  };
  const use: StoreUse = { hot: spec.hot, cold: spec.cold, ambient };
  const figures = storeFigures(store, use);
  const share = deliveredShare(figures, use, spec.load);
  if (!(share > 0)) throw new RangeError('the store loses all its heat before the load has any');
  const capacity = figures.capacity / 3.6e6;
  const charge = capacity;
  // A field cannot fill the store more often than it has heat for.
  const nights = Math.min(spec.nights, yearHeat / charge);
  const out = nights * capacity * share;
  const yearly =
    (spec.price + spec.crewHours * cost.crewPrice) *
    (1 + cost.tax) *
    capitalRecovery(cost.rate, spec.lifetime);
  const price = nightPrice(dayPrice, share, yearly, out);
  const seconds = supplySeconds(figures, use, spec.load);
  return {
    volume_m3: figures.volume,
    mass_kg: figures.mass,
    capacity_kwh: capacity,
    loss_w: figures.loss,
    loss_per_day: figures.lossPerDay,
    hours: seconds === null ? null : seconds / 3600,
    delivered_share: share,
    nights,
    heat_out_kwh: out,
    day_per_kwh: price.day,
    losses_per_kwh: price.losses,
    store_per_kwh: price.store,
    night_per_kwh: price.night,
    day_heat_kwh: yearHeat / 365,
    charge_kwh: charge,
    pipe_spacing_mm: 1000 * pipeSpacing(spec.material, CHARGING_HOURS * 3600),
  };
}
