/** Names of clocks: IANA time zones, fixed offsets, solar time. */
import type { TimeZoneSpec } from './types.js';

const OFFSET = /^([+-])(\d{2}):(\d{2})$/u;
/** Clocks on Earth run from UTC-12:00 to UTC+14:00. */
const LARGEST_OFFSET = 14 * 3600;

/** @returns seconds east of UTC of an offset like +02:00, or NaN when there is no such offset */
export function offsetSeconds(text: string): number {
  const [, sign, hours, minutes] = OFFSET.exec(text) ?? [];
  if (sign === undefined || Number(minutes) > 59) return Number.NaN;
  const seconds = (Number(hours) * 60 + Number(minutes)) * 60;
  return seconds > LARGEST_OFFSET ? Number.NaN : sign === '-' && seconds > 0 ? -seconds : seconds;
}

function isIanaName(name: string): boolean {
  try {
    new Intl.DateTimeFormat('en', { timeZone: name });
    return true;
  } catch {
    return false;
  }
}

/**
 * @param text a name of the IANA time zone list, an offset like +02:00, `solar` or `mean_solar`
 * @returns null when there is no such time zone
 */
export function timeZoneOf(text: string): TimeZoneSpec | null {
  if (text === 'solar' || text === 'mean_solar') return { kind: text };
  if (OFFSET.test(text)) {
    const seconds = offsetSeconds(text);
    return Number.isNaN(seconds) ? null : { kind: 'offset', seconds };
  }
  // Intl also reads offsets in other spellings, which nothing else here does.
  return /^[A-Za-z]/u.test(text) && isIanaName(text) ? { kind: 'iana', name: text } : null;
}
