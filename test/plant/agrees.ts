/** One yes or no for a check and for its sabotage. */
export function agrees(got: number, expected: number, tolerance: number): boolean {
  return Math.abs(got - expected) <= tolerance;
}

/** The same with a tolerance relative to what is expected. */
export function near(got: number, expected: number, relative: number): boolean {
  return agrees(got, expected, relative * Math.abs(expected));
}

export const CELSIUS = 273.15;
export const DEGREE = Math.PI / 180;
