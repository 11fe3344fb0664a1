/** Numbers as text inside the page: little-endian arrays in base64, read back by `unpack.ts`. */

import type { PackedLevels } from './page-data.js';

const STEPS = 65_535;

/** @returns base64 of the bytes */
export function packBytes(bytes: Uint8Array): string {
  return Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength).toString('base64');
}

/** @returns base64 of single-precision numbers */
export function packFloats(values: ArrayLike<number>): string {
  const bytes = Buffer.alloc(4 * values.length);
  for (let i = 0; i < values.length; i++) bytes.writeFloatLE(values[i], 4 * i);
  return bytes.toString('base64');
}

/** @returns the values in 65535 even steps from 0 to the highest of them, each two bytes; none may be below 0 */
export function packLevels(values: ArrayLike<number>): PackedLevels {
  let top = 0;
  for (let i = 0; i < values.length; i++) top = Math.max(top, values[i]);
  const bytes = Buffer.alloc(2 * values.length);
  if (top > 0) {
    for (let i = 0; i < values.length; i++) bytes.writeUInt16LE(Math.round((STEPS * values[i]) / top), 2 * i);
  }
  return { top, steps: bytes.toString('base64') };
}

/** @returns JSON that can stand inside a script element: no tag and no comment can begin in it */
export function scriptJson(value: unknown): string {
  return JSON.stringify(value)
    .replace(/</g, '\\u003c')
    .replace(/>/g, '\\u003e')
    .replace(/\u2028/g, '\\u2028')
    .replace(/\u2029/g, '\\u2029');
}
