/** Weather files: text in, weather or all errors out. Reading the file itself is for the command line. */
import { createHash } from 'node:crypto';
import type { WeatherLayout } from '../scene/types.js';
import { parseEpw } from './epw.js';
import { parseColumns } from './weather-columns.js';
import type { WeatherError, WeatherOutcome } from './weather-types.js';

/**
 * @param text of the weather file
 * @param layout as the scene declares it (`scene.sky.layout`)
 * @param file name of the file, for people
 * @returns the weather in SI units, or every error found (up to 40), in the order of the file. Bad text never throws.
 */
export function parseWeather(text: string, layout: WeatherLayout, file: string): WeatherOutcome {
  const sha256 = createHash('sha256').update(text).digest('hex');
  return layout.kind === 'epw' ? parseEpw(text, file, sha256) : parseColumns(text, layout, file, sha256);
}

/** @returns the errors as lines `file:line, column: what`; no trailing newline */
export function formatWeatherErrors(errors: readonly WeatherError[], file: string): string {
  return errors
    .map(({ line, column, message, allowed }) => {
      const place = line === null ? file : `${file}:${line}`;
      const where = column === null ? place : `${place}, column ${column}`;
      return `${where}: ${message}${allowed === undefined ? '' : `\n  allowed: ${allowed}`}`;
    })
    .join('\n');
}
