/**
 * Published formulas for convection on outer surfaces, as bare Nusselt numbers. Constants are from memory unless a test beside
 * them quotes a printed example.
 */

import { aboveZero, within } from './inputs.js';

/** m/s2. */
export const GRAVITY = 9.80665;

/** g beta dT L^3 / (nu alpha). */
export function rayleighNumber(
  dT: number,
  length: number,
  air: { readonly expansion: number; readonly kinematicViscosity: number; readonly diffusivity: number },
  gravity = GRAVITY,
): number {
  return (gravity * air.expansion * Math.abs(dT) * length ** 3) / (air.kinematicViscosity * air.diffusivity);
}

/** Churchill & Chu, Int. J. Heat Mass Transfer 18 (1975) 1049: horizontal cylinder, Ra up to 1e12, over its diameter. */
export function churchillChuCylinder(ra: number, pr: number): number {
  const pull = (1 + (0.559 / pr) ** (9 / 16)) ** (8 / 27);
  return (0.6 + (0.387 * ra ** (1 / 6)) / pull) ** 2;
}

/** Churchill & Chu 1975, laminar form: horizontal cylinder, Ra 1e-6 to 1e9. */
export function churchillChuCylinderLaminar(ra: number, pr: number): number {
  return 0.36 + (0.518 * ra ** 0.25) / (1 + (0.559 / pr) ** (9 / 16)) ** (4 / 9);
}

/** Morgan, Adv. Heat Transfer 11 (1975) 199: horizontal cylinder, C Ra^n by decades, Ra 1e-10 to 1e12. */
export function morganCylinder(ra: number): number {
  if (ra < 1e-2) return 0.675 * ra ** 0.058;
  if (ra < 1e2) return 1.02 * ra ** 0.148;
  if (ra < 1e4) return 0.85 * ra ** 0.188;
  if (ra < 1e7) return 0.48 * ra ** 0.25;
  return 0.125 * ra ** 0.333;
}

/** Churchill & Chu, Int. J. Heat Mass Transfer 18 (1975) 1323: vertical plate, all Ra, over its height. */
export function churchillChuPlate(ra: number, pr: number): number {
  const pull = (1 + (0.492 / pr) ** (9 / 16)) ** (8 / 27);
  return (0.825 + (0.387 * ra ** (1 / 6)) / pull) ** 2;
}

/** Churchill & Chu 1975: vertical plate, laminar form, Ra up to 1e9. */
export function churchillChuPlateLaminar(ra: number, pr: number): number {
  return 0.68 + (0.67 * ra ** 0.25) / (1 + (0.492 / pr) ** (9 / 16)) ** (4 / 9);
}

/** McAdams, Heat Transmission, 3rd ed. 1954: vertical plate, 0.59 Ra^(1/4) from 1e4 to 1e9, 0.10 Ra^(1/3) from 1e9 to 1e13. */
export function mcAdamsPlate(ra: number): number {
  return ra < 1e9 ? 0.59 * ra ** 0.25 : 0.1 * ra ** (1 / 3);
}

/** McAdams 1954: hot plate facing down, Ra 1e5 to 1e10, over area / perimeter. */
export function mcAdamsFacingDown(ra: number): number {
  return 0.27 * ra ** 0.25;
}

/** McAdams 1954 as given later over area / perimeter: hot plate facing up, 1e4 to 1e7 and 1e7 to 1e11. */
export function mcAdamsFacingUp(ra: number): number {
  return ra < 1e7 ? 0.54 * ra ** 0.25 : 0.15 * ra ** (1 / 3);
}

/** Fujii & Imura, Int. J. Heat Mass Transfer 15 (1972) 755: hot inclined plate facing down, 0.56 (Ra cos a)^(1/4), 1e5 to 1e11. */
export function fujiiImuraInclined(raCosine: number): number {
  return 0.56 * raCosine ** 0.25;
}

/** Fujii & Imura 1972: hot horizontal plate facing down, 0.58 Ra^(1/5), 1e6 to 1e11, over the plate's length. */
export function fujiiImuraFacingDown(ra: number): number {
  return 0.58 * ra ** 0.2;
}

/** Laminar flow along a flat plate, mean: 0.664 Re^(1/2) Pr^(1/3), Re up to 5e5 (Pohlhausen). */
export function plateLaminar(re: number, pr: number): number {
  return 0.664 * Math.sqrt(re) * pr ** (1 / 3);
}

/** Flat plate, mean: laminar to Re 5e5, then mixed (0.037 Re^0.8 - 871) Pr^(1/3), Re up to 1e8. */
export function plateForced(re: number, pr: number): number {
  return re <= 5e5 ? plateLaminar(re, pr) : (0.037 * re ** 0.8 - 871) * pr ** (1 / 3);
}

/** Churchill & Bernstein, J. Heat Transfer 99 (1977) 300: cylinder in cross flow, Re Pr above 0.2, film properties. */
export function churchillBernstein(re: number, pr: number): number {
  const laminar = (0.62 * Math.sqrt(re) * pr ** (1 / 3)) / (1 + (0.4 / pr) ** (2 / 3)) ** 0.25;
  return 0.3 + laminar * (1 + (re / 282_000) ** (5 / 8)) ** (4 / 5);
}

/** Zukauskas, Adv. Heat Transfer 8 (1972) 93: cylinder in cross flow, Re 1 to 1e6, properties of the free stream, Pr at the wall. */
export function zukauskasCylinder(re: number, pr: number, prWall: number): number {
  const [c, m] = re < 40 ? [0.75, 0.4] : re < 1e3 ? [0.51, 0.5] : re < 2e5 ? [0.26, 0.6] : [0.076, 0.7];
  return c * re ** m * pr ** (pr <= 10 ? 0.37 : 0.36) * (pr / prWall) ** 0.25;
}

/** W/m2 K: 5.7 + 3.8 V (McAdams 1954, after Juerges), V below 5 m/s; holds some radiation and free convection. */
export function mcAdamsWind(speed: number): number {
  return 5.7 + 3.8 * within('wind, m/s,', speed, 0);
}

/** W/m2 K: 2.8 + 3.0 V (Watmuff, Charters & Proctor 1977), V below 7 m/s. */
export function watmuffWind(speed: number): number {
  return 2.8 + 3 * within('wind, m/s,', speed, 0);
}

/** W/m2 K: max(5, 8.6 V^0.6 / L^0.4) (Mitchell, as in Duffie & Beckman): made for whole houses and collectors, L some metres. */
export function mitchellWind(speed: number, length: number): number {
  return Math.max(5, (8.6 * within('wind, m/s,', speed, 0) ** 0.6) / aboveZero('length, m,', length) ** 0.4);
}
