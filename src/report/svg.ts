/** SVG text, escaped by construction: strings become text, only `Markup` becomes tags. */
import { plainText } from './plain-text.js';

export interface Markup {
  readonly markup: string;
}

export type Attributes = Readonly<Record<string, string | number | undefined>>;

/** @returns text that is harmless inside an element or a quoted attribute */
export function escapeMarkup(text: string): string {
  return plainText(text)
    .replace(/&/g, '&amp;')
    .replace(/</g, '&lt;')
    .replace(/>/g, '&gt;')
    .replace(/"/g, '&quot;')
    .replace(/'/g, '&#39;');
}

function attributeText(name: string, value: string | number): string {
  if (typeof value === 'string') return escapeMarkup(value);
  if (!Number.isFinite(value)) throw new RangeError(`SVG attribute ${name} must be finite, not ${value}`);
  return String(Math.round(value * 1000) / 1000);
}

/**
 * @param name element name, from this program only
 * @param attributes undefined ones are left away; numbers are rounded to 1/1000
 * @param children strings are escaped
 * @throws RangeError for a number that is not finite
 */
export function element(name: string, attributes: Attributes, ...children: (Markup | string)[]): Markup {
  const attributeList = Object.entries(attributes)
    .filter((entry): entry is [string, string | number] => entry[1] !== undefined)
    .map(([key, value]) => ` ${key}="${attributeText(key, value)}"`)
    .join('');
  const content = children
    .map((child) => (typeof child === 'string' ? escapeMarkup(child) : child.markup))
    .join('');
  return {
    markup: content === '' ? `<${name}${attributeList}/>` : `<${name}${attributeList}>${content}</${name}>`,
  };
}

/** @returns the elements one after another */
export function group(attributes: Attributes, children: readonly Markup[]): Markup {
  return element('g', attributes, ...children);
}

/** @returns a whole SVG document on a white ground */
export function svgDocument(width: number, height: number, children: readonly Markup[]): string {
  const ground = element('rect', { x: 0, y: 0, width, height, fill: '#ffffff' });
  return element(
    'svg',
    { xmlns: 'http://www.w3.org/2000/svg', width, height, viewBox: `0 0 ${width} ${height}` },
    ground,
    ...children,
  ).markup;
}
