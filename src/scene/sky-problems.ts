/** What does not fit together about the site's clock and the sky of a scene file. */
import type { Problem } from './errors.js';
import { valueText } from './errors.js';
import type { SceneFile } from './schema.js';
import { offsetSeconds, timeZoneOf } from './time-zone.js';

/** Heights above the sea, metres, up to which the clear-sky formulas are used. */
const HIGHEST = {
  /** Hottel, Solar Energy 18 (1976) 129. */
  hottel: 2500,
  /** Our bound: the height enters linearly, which holds for a few kilometres. */
  meinel: 5000,
} as const;

function timeZoneProblems({ site }: SceneFile): Problem[] {
  if (site?.time_zone === undefined || timeZoneOf(site.time_zone) !== null) return [];
  return [
    {
      code: 'bad_text',
      at: 'value',
      path: ['site', 'time_zone'],
      message: `There is no time zone ${valueText(site.time_zone)}.`,
      allowed:
        'a name of the time zone list as Africa/Casablanca, an offset from -14:00 to +14:00, solar, or mean_solar',
    },
  ];
}

function heightProblems({ site, sky }: SceneFile): Problem[] {
  if (site === undefined || (sky?.kind !== 'hottel' && sky?.kind !== 'meinel')) return [];
  const highest = HIGHEST[sky.kind];
  if (site.height_m <= highest) return [];
  const other = sky.kind === 'hottel' ? ' or kind: meinel' : ' or a weather file';
  return [
    {
      code: 'inconsistent',
      at: 'value',
      path: ['sky', 'kind'],
      message: `The site lies ${site.height_m} m high; the ${sky.kind} sky is for heights up to ${highest} m.`,
      allowed: `a site of at most ${highest} m,${other}`,
    },
  ];
}

function csvProblems({ sky }: SceneFile): Problem[] {
  if (sky?.kind !== 'csv') return [];
  const found: Problem[] = [];
  if (60 % sky.interval_minutes !== 0) {
    found.push({
      code: 'inconsistent',
      at: 'value',
      path: ['sky', 'interval_minutes'],
      message: `Intervals of ${sky.interval_minutes} minutes do not fill an hour.`,
      allowed: '1, 2, 3, 4, 5, 6, 10, 12, 15, 20, 30, 60',
    });
  }
  if (sky.utc_offset !== undefined && Number.isNaN(offsetSeconds(sky.utc_offset))) {
    found.push({
      code: 'bad_text',
      at: 'value',
      path: ['sky', 'utc_offset'],
      message: `There is no offset ${valueText(sky.utc_offset)}.`,
      allowed: '-14:00 to +14:00',
    });
  }
  const headings = new Map<string, string>();
  for (const [key, heading] of Object.entries(sky.columns)) {
    if (heading === undefined) continue;
    const earlier = headings.get(heading);
    if (earlier === undefined) headings.set(heading, key);
    else {
      found.push({
        code: 'duplicate_name',
        at: 'value',
        path: ['sky', 'columns', key],
        message: `The column ${valueText(heading)} is taken by ${earlier}.`,
      });
    }
  }
  return found;
}

/** @returns what does not fit together in a file that passed the schema, about clock and sky */
export function skyProblems(file: SceneFile): Problem[] {
  const siteless: Problem[] =
    file.sky === undefined || file.site !== undefined
      ? []
      : [
          {
            code: 'missing_key',
            at: 'key',
            path: ['sky'],
            message: 'A sky needs a site: where the sun stands depends on the place.',
            allowed: 'site with latitude_deg, longitude_deg and height_m',
          },
        ];
  return [...timeZoneProblems(file), ...siteless, ...heightProblems(file), ...csvProblems(file)];
}
