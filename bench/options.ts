/** Arguments of `npm run bench --`. */
import { parseArgs } from 'node:util';

export const PARTS = ['kernel', 'facets', 'prepare', 'pool', 'precision', 'process', 'sweep'] as const;
export type Part = (typeof PARTS)[number];

/** Rays of the memory run that `--long` adds. */
const LONG_RAYS = 1e9;

export interface BenchOptions {
  readonly json: boolean;
  readonly parts: readonly Part[];
  /** Rays of the memory run; null: none. */
  readonly longRays: number | null;
  /** Commit to be compared with; null: no comparison. */
  readonly against: string | null;
}

function isPart(name: string): name is Part {
  return PARTS.some((part) => part === name);
}

/**
 * @param args what stands behind `npm run bench --`
 * @throws TypeError for an unknown option, RangeError for a value that does not fit
 */
export function parseOptions(args: readonly string[]): BenchOptions {
  const { values } = parseArgs({
    args: [...args],
    options: {
      json: { type: 'boolean', default: false },
      only: { type: 'string', multiple: true },
      long: { type: 'boolean', default: false },
      'long-rays': { type: 'string' },
      against: { type: 'string' },
    },
  });
  const parts = (values.only ?? []).flatMap((text) => text.split(','));
  const known = parts.filter(isPart);
  if (known.length < parts.length) {
    const wrong = parts.find((part) => !isPart(part));
    throw new RangeError(`there is no part "${wrong}"; the parts are ${PARTS.join(', ')}`);
  }
  const given = values['long-rays'];
  const longRays = given !== undefined ? Number(given) : values.long ? LONG_RAYS : null;
  if (longRays !== null && !(longRays >= 1e6 && Number.isFinite(longRays))) {
    throw new RangeError(`--long-rays takes a number of rays from 1e6 on, got "${given}"`);
  }
  if (values.against !== undefined && (longRays !== null || parts.length > 0)) {
    throw new RangeError('--against has cases of its own: leave out --only and --long');
  }
  return {
    json: values.json,
    // A memory run that is asked for beside no other part is wanted with all of them.
    parts: known.length > 0 ? known : PARTS,
    longRays,
    against: values.against ?? null,
  };
}
