/** What the commands that move receivers through a day take from the command line. */
import { InvalidArgumentError } from 'commander';
import type { Offset } from '../study/moving.js';

const DEGREE = Math.PI / 180;

/**
 * Reads minutes between steps: 30, 10, 2.5.
 * @throws InvalidArgumentError
 */
export function parseEvery(text: string): number {
  const minutes = /^\d+(\.\d+)?$/.test(text.trim()) ? Number(text) : Number.NaN;
  if (!(minutes >= 1 && minutes <= 720)) throw new InvalidArgumentError('Allowed: 1 to 720 minutes.');
  return 60 * minutes;
}

/**
 * Reads clock times: 9:00,10:30.
 * @throws InvalidArgumentError
 */
export function parseAt(text: string): readonly number[] {
  const times = text.split(',').map((part) => {
    const [, hours, minutes] = /^\s*(\d{1,2}):(\d{2})\s*$/.exec(part) ?? [];
    const seconds = 60 * (60 * Number(hours) + Number(minutes));
    if (!(Number(hours) < 24 && Number(minutes) < 60)) {
      throw new InvalidArgumentError('Expected clock times separated by commas, e.g. 9:00,10:30,12:00.');
    }
    return seconds;
  });
  return [...new Set(times)];
}

/**
 * Reads a least elevation of the sun, degrees.
 * @throws InvalidArgumentError
 */
export function parseAbove(text: string): number {
  const degrees = /^\d+(\.\d+)?$/.test(text.trim()) ? Number(text) : Number.NaN;
  if (!(degrees >= 0 && degrees <= 85)) throw new InvalidArgumentError('Allowed: 0 to 85 degrees.');
  return degrees * DEGREE;
}

/**
 * Reads a path: points of three numbers (along, across, up; mm from where the scene has the receivers), with a space or semicolon
 * between points.
 * @throws InvalidArgumentError
 */
export function parsePath(text: string): readonly Offset[] {
  const points = text
    .trim()
    .split(/[;\s]+/)
    .map((point): Offset => {
      const numbers = point.split(',').map((part) => (part.trim() === '' ? Number.NaN : Number(part) / 1000));
      if (numbers.length !== 3 || !numbers.every((n) => Number.isFinite(n) && Math.abs(n) <= 1000)) {
        throw new InvalidArgumentError(
          'Expected points ALONG,ACROSS,UP in mm with spaces between them, e.g. "-500,0,-40 0,0,0 500,0,-40".',
        );
      }
      return [numbers[0], numbers[1], numbers[2]];
    });
  const apart = points.filter((point, i) => i === 0 || point.some((n, axis) => n !== points[i - 1][axis]));
  if (apart.length < 2) throw new InvalidArgumentError('A path takes two different points or more.');
  return apart;
}
