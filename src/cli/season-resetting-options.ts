/** Options of re-setting. */
import { InvalidArgumentError } from 'commander';
import { parseRange } from '../study/range.js';
import type { ResetKind } from '../study/setting-node.js';

/** Up to so many changes a year, or only on these days of a common year (0 the first of January). */
export type WantedResettings =
  | { readonly kind: 'most'; readonly most: number }
  | { readonly kind: 'days'; readonly dates: readonly { readonly month: number; readonly day: number }[] };

export interface ResettingFlags {
  readonly resettings?: WantedResettings;
  readonly reset?: readonly ResetKind[];
  readonly settings?: readonly number[];
}

const MOST_CHANGES = 24;
const DAYS_OF_MONTH = [31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];

/** @throws InvalidArgumentError */
export function parseResettings(text: string): WantedResettings {
  if (/^\d{1,3}$/.test(text.trim())) {
    const most = Number(text);
    if (most > MOST_CHANGES) throw new InvalidArgumentError(`Allowed: 0 to ${MOST_CHANGES}.`);
    return { kind: 'most', most };
  }
  const dates = text.split(',').map((part) => {
    const match = /^(\d{2})-(\d{2})$/.exec(part.trim());
    const [month, day] = match === null ? [0, 0] : [Number(match[1]), Number(match[2])];
    if (!(month >= 1 && month <= 12 && day >= 1 && day <= DAYS_OF_MONTH[month - 1])) {
      throw new InvalidArgumentError(
        'Expected a number of changes a year, or days as 03-10,10-01 (month-day).',
      );
    }
    return { month, day };
  });
  if (dates.length > MOST_CHANGES) throw new InvalidArgumentError(`Allowed: up to ${MOST_CHANGES} days.`);
  return { kind: 'days', dates };
}

/** @throws InvalidArgumentError */
export function parseReset(text: string): readonly ResetKind[] {
  const kinds: readonly ResetKind[] = ['tilt', 'across', 'up'];
  const wanted = text.split(',').map((part) => kinds.find((kind) => kind === part.trim()));
  if (wanted.some((kind) => kind === undefined) || new Set(wanted).size < wanted.length) {
    throw new InvalidArgumentError('Expected tilt, across, up, or several of them separated by commas.');
  }
  return wanted.filter((kind) => kind !== undefined);
}

/** @throws InvalidArgumentError */
export function parseSettings(text: string): readonly number[] {
  const range = parseRange(text.trim());
  if (!range.ok) throw new InvalidArgumentError(range.message);
  if (range.value.length > 200) throw new InvalidArgumentError('More than 200 settings; take a larger step.');
  return [...range.value].sort((a, b) => a - b);
}
