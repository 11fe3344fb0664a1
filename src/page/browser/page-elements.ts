/** What the script finds in the page. */

/** @throws Error where the page has no such element, which only a fault of the program can bring about */
export function find<T extends Element = HTMLElement>(id: string): T {
  const found = document.getElementById(id);
  if (found === null) throw new Error(`the page has no element ${id}`);
  return found as unknown as T;
}

export function svgElement(name: string, attributes: Readonly<Record<string, string | number>>): SVGElement {
  const made = document.createElementNS('http://www.w3.org/2000/svg', name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, String(value));
  return made;
}

/** Hands the text to the reader as a file. */
export function saveText(name: string, text: string): void {
  const address = URL.createObjectURL(new Blob([text], { type: 'text/csv;charset=utf-8' }));
  const link = document.createElement('a');
  link.href = address;
  link.download = name;
  document.body.append(link);
  link.click();
  link.remove();
  // The browser has taken the text once the click has gone through.
  setTimeout(() => URL.revokeObjectURL(address), 10_000);
}

/** @returns the value to the place that two digits of its half width leave, with it */
export function withError(value: number, half: number): string {
  if (!(half > 0)) return Number(value.toPrecision(5)).toString();
  const place = Math.floor(Math.log10(half)) - 1;
  const decimals = Math.max(0, -place);
  const rounded = (number: number): string =>
    place > 0 ? String(Math.round(number / 10 ** place) * 10 ** place) : number.toFixed(decimals);
  return `${rounded(value)} \u00b1 ${rounded(half)}`;
}
