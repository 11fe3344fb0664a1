/** What must be said where light is concentrated. */

/**
 * kW/m2 from which cautions are given. Guides of the process industry on thermal radiation put pain on bare skin within
 * seconds at 4 to 6 kW/m2 (from memory); the smallest flux on record to ignite wood under long exposure is 4.3 kW/m2
 * (Babrauskas, Ignition of wood: a review of the state of the art, Interflam 2001; from memory).
 */
export const CAUTION_FLUX = 4;

/**
 * @param peakFlux highest flux anywhere, kW/m2
 * @returns plain lines to print under the result; none at or below `CAUTION_FLUX`
 */
export function cautionsFor(peakFlux: number): readonly string[] {
  if (!(peakFlux > CAUTION_FLUX)) return [];
  return [
    'Light this concentrated burns skin and eyes within seconds and sets wood, foam and film on fire.',
    'Never look into the beam, at the spot or at the mirrors from near the focus.',
    'The spot moves on its own, about 15 degrees of sun an hour, and falls on whatever stands there when the receiver is away.',
    'Cover the mirrors or turn them off the sun before working on them.',
    'Local codes and licensed practice decide what may be built and how it is guarded; these figures do not.',
  ];
}
