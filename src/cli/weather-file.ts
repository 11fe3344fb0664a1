/** The weather file that a scene names, read from the folder of the scene. */
import { readFile, stat } from 'node:fs/promises';
import { dirname, isAbsolute, join } from 'node:path';
import { plainLines, plainText } from '../report/plain-text.js';
import type { Scene } from '../scene/types.js';
import type { Weather } from '../sun/weather-types.js';
import { BadSceneError } from './failure.js';

/** A year of minutes takes some 30 MB. */
const MOST_BYTES = 200 * 1024 * 1024;

/**
 * @param scenePath as on the command line; relative weather files start at its folder ("-": at the working folder)
 * @returns null where the scene takes its sky from no file
 * @throws BadSceneError where the file cannot be read or is wrong, with all that is wrong in it
 */
export async function readWeather(scene: Scene, scenePath: string): Promise<Weather | null> {
  const { sky } = scene;
  if (sky?.kind !== 'weather') return null;
  const folder = scenePath === '-' ? '.' : dirname(scenePath);
  const path = isAbsolute(sky.file) ? sky.file : join(folder, sky.file);
  let text: string;
  try {
    const found = await stat(path);
    if (found.isDirectory()) throw new Error('it is a folder, not a weather file');
    if (found.size > MOST_BYTES) throw new Error('it is larger than 200 MB');
    text = await readFile(path, 'utf8');
  } catch (error) {
    const missing = (error as NodeJS.ErrnoException).code === 'ENOENT';
    const reason = missing
      ? 'there is no such file (a relative path starts at the folder of the scene)'
      : error instanceof Error
        ? error.message
        : String(error);
    throw new BadSceneError(`error: cannot read the weather file ${plainText(path)}: ${plainText(reason)}.`);
  }
  const { formatWeatherErrors, parseWeather } = await import('../sun/weather.js');
  const outcome = parseWeather(text, sky.layout, sky.file);
  if (outcome.ok) return outcome.weather;
  throw new BadSceneError(plainLines(formatWeatherErrors(outcome.errors, path)));
}
