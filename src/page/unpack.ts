/** The page's data back from text, as `pack.ts` wrote it; runs in the page's script as well as here. */
import type { PackedLevels } from './page-data.js';

export function unpackBytes(text: string): Uint8Array {
  const raw = atob(text);
  const bytes = new Uint8Array(raw.length);
  for (let i = 0; i < raw.length; i++) bytes[i] = raw.charCodeAt(i);
  return bytes;
}

export function unpackFloats(text: string): Float32Array {
  const bytes = unpackBytes(text);
  const view = new DataView(bytes.buffer);
  return Float32Array.from({ length: bytes.length / 4 }, (_, i) => view.getFloat32(4 * i, true));
}

export function unpackShorts(text: string): Uint16Array {
  const bytes = unpackBytes(text);
  const view = new DataView(bytes.buffer);
  return Uint16Array.from({ length: bytes.length / 2 }, (_, i) => view.getUint16(2 * i, true));
}

export function unpackLevels({ top, steps }: PackedLevels): Float64Array {
  return Float64Array.from(unpackShorts(steps), (step) => (top * step) / 65_535);
}
