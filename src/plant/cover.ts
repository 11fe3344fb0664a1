/** Heat through the gap behind a glass cover. All formulas from memory. */

import { airAt } from './air.js';
import { type Band, bandOfFormulas, type FormulaValue } from './band.js';
import { rayleighNumber } from './nusselt.js';

/** ElSherbiny, Raithby & Hollands 1982: upright air layer, hot on one side, height over gap 5 to 110. */
export function uprightLayer(ra: number, heightOverGap: number): number {
  const turbulent = 0.0605 * Math.cbrt(ra);
  const blend = ra === 0 ? 0 : (0.104 * ra ** 0.293) / (1 + (6310 / ra) ** 1.36);
  const boundary = 0.242 * (ra / heightOverGap) ** 0.272;
  return Math.max(turbulent, Math.cbrt(1 + blend ** 3), boundary);
}

/** Catton 1978: upright layer, 0.42 Ra^(1/4) Pr^0.012 (H/L)^-0.3, H/L 10 to 40, Ra 1e4 to 1e7. */
export function cattonLayer(ra: number, pr: number, heightOverGap: number): number {
  return Math.max(1, 0.42 * ra ** 0.25 * pr ** 0.012 * heightOverGap ** -0.3);
}

/** Hollands, Unny, Raithby & Konicek 1976: layer heated from below, leaning by up to 60 degrees from lying. @param lean radians */
export function leaningLayer(ra: number, lean: number): number {
  const pull = ra * Math.cos(lean);
  if (pull <= 0) return 1;
  const positive = (value: number) => Math.max(0, value);
  const first = 1.44 * (1 - (1708 * Math.sin(1.8 * lean) ** 1.6) / pull) * positive(1 - 1708 / pull);
  return 1 + positive(first) + positive(Math.cbrt(pull / 5830) - 1);
}

const THIRD_TURN = Math.PI / 3;

/**
 * W/m2 K through a flat air layer between a hot wall and a cover, by two formulas and bare conduction (low).
 * Turned down (hot side above): 1 + (Nu_upright - 1) sin(lean) (Arnold, Catton & Edwards 1976); turned up: Hollands to 60 degrees,
 * then a straight line to upright.
 * @param facingDown of the wall's normal, radians; 0 sideways
 */
export function layerCoefficient(
  hot: number,
  cold: number,
  gap: number,
  height: number,
  facingDown: number,
  pressure?: number,
): Band {
  const air = airAt((hot + cold) / 2, pressure);
  const ra = rayleighNumber(hot - cold, gap, air);
  const aspect = Math.max(1, height / gap);
  const lean = Math.PI / 2 + facingDown;
  // A layer cooled from the side that faces up is the hot-above case, whichever way the wall looks.
  const turned = hot >= cold ? lean : Math.PI - lean;
  const upright: FormulaValue[] = [
    { name: 'ElSherbiny, Raithby & Hollands 1982', value: uprightLayer(ra, aspect), inRange: true },
    {
      name: 'Catton 1978',
      value: cattonLayer(ra, air.prandtl, aspect),
      inRange: ra >= 1e4 && ra <= 1e7 && aspect >= 10 && aspect <= 40,
    },
  ];
  const nusselt = (atUpright: number) => {
    if (turned >= Math.PI / 2) return 1 + (Math.max(1, atUpright) - 1) * Math.max(0, Math.sin(turned));
    if (turned <= THIRD_TURN) return leaningLayer(ra, turned);
    const share = (turned - THIRD_TURN) / (Math.PI / 2 - THIRD_TURN);
    return leaningLayer(ra, THIRD_TURN) * (1 - share) + Math.max(1, atUpright) * share;
  };
  const band = bandOfFormulas(upright.map((entry) => ({ ...entry, value: nusselt(entry.value) })));
  const perNusselt = air.conductivity / gap;
  return { low: perNusselt, best: perNusselt * band.best, high: perNusselt * band.high };
}

/**
 * W/m K: heat per metre and kelvin through the air between a tube and the glass round it, 2 pi k_eff / ln(D2/D1).
 * Raithby & Hollands 1975 (best); Liu, Mueller & Landis 1961 as in textbooks, 0.11 Ra^0.29 to Ra 1e6, 0.40 Ra^0.20 to 1e8; bare
 * conduction (low).
 */
export function annulusConductance(
  hot: number,
  cold: number,
  inner: number,
  outer: number,
  pressure?: number,
): Band {
  const air = airAt((hot + cold) / 2, pressure);
  const gap = (outer - inner) / 2;
  const ra = rayleighNumber(hot - cold, gap, air);
  const log = Math.log(outer / inner);
  const raRing = (log ** 4 / (gap ** 3 * (inner ** -0.6 + outer ** -0.6) ** 5)) * ra;
  const raithby = 0.386 * (air.prandtl / (0.861 + air.prandtl)) ** 0.25 * raRing ** 0.25;
  const liu = ra < 1e6 ? 0.11 * ra ** 0.29 : 0.4 * ra ** 0.2;
  const band = bandOfFormulas([
    { name: 'Raithby & Hollands 1975', value: Math.max(1, raithby), inRange: true },
    { name: 'Liu, Mueller & Landis 1961', value: Math.max(1, liu), inRange: ra >= 6e3 && ra <= 1e8 },
  ]);
  const bare = (2 * Math.PI * air.conductivity) / log;
  return { low: bare, best: bare * band.best, high: bare * band.high };
}
