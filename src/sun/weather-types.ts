/** Weather over hours, as read from a file. */

/** Where a weather file's station stands. */
export interface WeatherPlace {
  readonly name: string;
  /** Radians, north positive. */
  readonly latitude: number;
  /** Radians, east positive. */
  readonly longitude: number;
  /** Metres above the sea. */
  readonly height: number;
}

/** What was done about the file's gaps; `text` is a sentence for people. */
export interface WeatherNotice {
  /** `interpolated`: filled from both neighbours; `left_out`: no such hours; `other_values`: the site's own values stand in. */
  readonly kind: 'interpolated' | 'left_out' | 'other_values';
  /** Intervals. */
  readonly count: number;
  readonly text: string;
}

/**
 * Intervals whose beam irradiance is known, in order of time. Arrays are of one length; a temperature, wind or pressure that
 * is not known is not a number.
 */
export interface Weather {
  /** Name of the file, for people. */
  readonly file: string;
  /** SHA-256 of the file's text, 64 hex digits. */
  readonly sha256: string;
  /** Null where the file does not say. */
  readonly place: WeatherPlace | null;
  /** Milliseconds that the file's clock is ahead of UTC. */
  readonly utcOffset: number;
  /** Length of an interval, milliseconds. */
  readonly interval: number;
  /** Milliseconds since 1970 UTC. */
  readonly start: Float64Array;
  readonly end: Float64Array;
  /** Mean beam (direct normal) irradiance of the interval, W/m2. */
  readonly dni: Float64Array;
  /** Air temperature, K. */
  readonly temperature: Float64Array;
  /** Wind speed, m/s. */
  readonly wind: Float64Array;
  /** Air pressure at the station, Pa. */
  readonly pressure: Float64Array;
  /** The file is of one year, which stands for any: month, day and hour count, not the year. */
  readonly repeats: boolean;
  readonly notices: readonly WeatherNotice[];
}

export interface WeatherError {
  /** Line of the file, from 1; null for the file as a whole. */
  readonly line: number | null;
  /** Heading, or number and meaning, of the column; null for the line as a whole. */
  readonly column: string | null;
  readonly message: string;
  readonly allowed?: string;
}

export type WeatherOutcome =
  | { readonly ok: true; readonly weather: Weather }
  | { readonly ok: false; readonly errors: readonly WeatherError[] };
