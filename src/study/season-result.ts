/** A study of a year as the JSON document has it. */

import { facingWarnings } from '../field/facing.js';
import { cautionsFor } from '../result/cautions.js';
import type { Warning } from '../result/types.js';
import type { Scene } from '../scene/types.js';
import type { Clock } from '../sun/clock.js';
import { NoSiteError, type Sky } from '../sun/sky.js';
import { VERSION } from '../version.js';
import type { ReceiverMode } from './optics-table-node.js';
import type { SeasonStudy } from './season.js';
import { type WeatherGaps, weatherGaps } from './season-gaps.js';
import type { SeasonResult, TableReport } from './season-types.js';

export interface SeasonContext {
  readonly scene: Scene;
  readonly mode: ReceiverMode;
  readonly sky: Sky;
  readonly clock: Clock;
  readonly seed: string;
  readonly year: number;
  /** Minutes. */
  readonly sunStep: number;
}

const DEGREE = Math.PI / 180;

/** What every result of a year begins with. */
export function yearHead({ scene, sky, clock, seed, year, mode, sunStep }: SeasonContext) {
  const { site } = scene;
  if (site === null) throw new NoSiteError();
  return {
    schema_version: 1,
    program: { name: 'rowfocus', version: VERSION },
    title: scene.title,
    scene_hash: scene.hash,
    seed,
    year,
    clock: clock.name,
    site: {
      name: site.name,
      latitude_deg: site.latitude / DEGREE,
      longitude_deg: site.longitude / DEGREE,
    },
    sky: sky.describe(),
    sky_assumed: sky.assumed,
    receivers: mode.kind,
    tilt_settings: scene.dishes.map(({ name, tiltSetting }) => ({
      dish: name,
      tilt_setting_deg: tiltSetting / DEGREE,
    })),
    sun_step_minutes: sunStep,
  } as const;
}

/** Gaps of the weather, an assumed sky, a table that did not become as good as wanted. */
export function yearWarnings(sky: Sky, report: TableReport | null): Warning[] {
  const warnings: Warning[] = sky.notices.map((message) => ({ code: 'sky', message }));
  if (sky.assumed) {
    warnings.push({
      code: 'sky_assumed',
      message:
        'The scene says nothing of its sky (key "sky"): a clear one is assumed, and real weather gives less.',
    });
  }
  if (report !== null && !report.reached) {
    warnings.push({
      code: 'table_too_coarse',
      message:
        `The error of the year may be as large as ${(100 * report.error_bound_fraction).toPrecision(2)} %, more than the ` +
        `${(100 * report.wanted_fraction).toPrecision(2)} % wanted: the optics change too fast from place to place.`,
    });
  }
  return warnings;
}

/** The flux is not looked at over a year; where mirrors gather light to a spot, the cautions hold at some hour. */
export function yearCautions(): readonly string[] {
  return cautionsFor(Number.POSITIVE_INFINITY);
}

/** With nothing caught the table has nothing to be off from: its errors of 0 % tell nothing. */
function nothingCaught({ total }: Pick<SeasonStudy, 'total'>): Warning[] {
  if (total.caught.value > 0) return [];
  return [
    {
      code: 'nothing_caught',
      message:
        'Nothing was caught in the whole year, so the errors of the table tell nothing. See how the rows head, how the dishes are ' +
        'tilted and where the receivers stand (rowfocus check), or whether the sky has any beam.',
    },
  ];
}

function gapsOf({ scene, clock, sky, year }: SeasonContext): WeatherGaps | null {
  return scene.site === null || scene.sky?.kind !== 'weather'
    ? null
    : weatherGaps(scene.site, clock, sky, year);
}

export function seasonResult(study: SeasonStudy, context: SeasonContext): SeasonResult {
  return {
    ...yearHead(context),
    kind: 'season',
    weather_gaps: gapsOf(context),
    mirror_area_m2: study.mirrorArea,
    total: study.total,
    months: study.months,
    table: study.report,
    warnings: [
      ...nothingCaught(study),
      ...facingWarnings(context.scene),
      ...yearWarnings(context.sky, study.report),
    ],
    cautions: yearCautions(),
  };
}
