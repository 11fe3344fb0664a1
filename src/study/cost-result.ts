/** Price of heat as the JSON document has it: the year of heat it rests on, then the money. */
import type { Warning } from '../result/types.js';
import type { CostResultDocument } from './cost-types.js';
import type { HeatResult } from './heat-result.js';

export interface CostDocument extends Omit<HeatResult, 'kind'> {
  readonly kind: 'cost';
  readonly cost: CostResultDocument;
}

function costWarnings({ store, film }: CostResultDocument): Warning[] {
  const found: Warning[] = [];
  if (store !== null && store.charge_kwh > store.day_heat_kwh) {
    found.push({
      code: 'store_too_large',
      message: `A full charge of the store takes ${store.charge_kwh.toFixed(1)} kWh, a mean day of the field gives ${store.day_heat_kwh.toFixed(1)} kWh: it is not filled every day, and nothing is left by day.`,
    });
  }
  if (film?.at_end) {
    found.push({
      code: 'film_at_end',
      message:
        'The best time to replace the film lies at the end of what was looked at: replacing does not pay within it.',
    });
  }
  return found;
}

export function costDocument(heat: HeatResult, cost: CostResultDocument): CostDocument {
  return { ...heat, kind: 'cost', cost, warnings: [...heat.warnings, ...costWarnings(cost)] };
}
