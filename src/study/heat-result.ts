/** Heat of a scene as the JSON document has it. */
import type { Warning } from '../result/types.js';
import { limitsC } from './heat-moment.js';
import type { HeatPlant } from './heat-plant.js';
import type { HeatMoment, HeatYear, OilLimitsC } from './heat-types.js';
import { type SeasonContext, yearCautions, yearHead, yearWarnings } from './season-result.js';

/** Said wherever oil is heated by mirrors. */
export const HOT_OIL_CAUTIONS: readonly string[] = [
  'Hot oil burns: a leak above its flash point can be set on fire, above its autoignition point it needs no spark, and soaked insulation smoulders.',
  'When the pump stops the light goes on: the wall passes the film limit within the minutes given; mirrors must be turned off or covered before.',
  'Oil that expands, boils or meets water bursts closed vessels: pressure parts, relief and fire protection belong to local codes and licensed practice.',
];

export interface HeatResult extends ReturnType<typeof yearHead> {
  readonly kind: 'heat';
  readonly oil: {
    readonly name: string;
    readonly source: string;
    readonly inlet_c: number;
    readonly outlet_c: number;
  };
  readonly limits: OilLimitsC;
  /** At the moment asked for, or in the year's brightest hour. */
  readonly moment: HeatMoment;
  /** Null where a moment was asked for. */
  readonly heat: HeatYear | null;
  readonly warnings: readonly Warning[];
  readonly cautions: readonly string[];
}

function heatWarnings(plant: HeatPlant, heat: HeatYear | null, weather: boolean): Warning[] {
  const found: Warning[] = [];
  if (heat === null) return found;
  if (!heat.wind_known) {
    found.push({
      code: 'wind_assumed',
      message: `The sky does not know the wind; ${plant.spec.wind} m/s is taken all year (heat.wind_m_s).`,
    });
  }
  if (!weather) {
    found.push({
      code: 'clear_sky_year',
      message:
        'The year is reckoned with a clear sky by formula, day after day; passing clouds are in its clearness factor alone. A weather file tells more.',
    });
  }
  if (heat.opening?.at_end) {
    found.push({
      code: 'opening_at_end',
      message: 'The best opening lies at the end of the sizes looked at: it may lie beyond.',
    });
  }
  return found;
}

export function heatResult(
  plant: HeatPlant,
  moment: HeatMoment,
  heat: HeatYear | null,
  context: SeasonContext,
): HeatResult {
  const { spec, oil } = plant;
  return {
    ...yearHead(context),
    kind: 'heat',
    oil: { name: oil.name, source: oil.source, inlet_c: spec.inlet - 273.15, outlet_c: spec.outlet - 273.15 },
    limits: limitsC(plant),
    moment,
    heat,
    warnings: [
      ...yearWarnings(context.sky, heat?.table ?? null),
      ...heatWarnings(plant, heat, context.scene.sky?.kind === 'weather'),
    ],
    cautions: [...moment.cautions, ...HOT_OIL_CAUTIONS, ...yearCautions()],
  };
}
