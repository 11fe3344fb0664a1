/**
 * A mirror chip far from a sheet of paper: with a chip small against its image the paper shows the angles of the light
 * alone. The sun stands in the south, so the plane of incidence is the paper's v axis and the cross direction its u axis.
 */

const RADIANS = Math.PI / 180;

export interface PaperScene {
  readonly sunshape: string;
  readonly film?: string;
  /** Incidence on the chip, degrees: at 10 the paper is out of the sunlight's way. */
  readonly incidence?: number;
  /** From chip to paper, m. */
  readonly distance?: number;
  /** Side of the chip along u and across, m. */
  readonly chip?: readonly [number, number];
  readonly aperture: string;
  /** Width and height of the map window, m. */
  readonly window?: readonly [number, number];
  readonly cells?: number | readonly [number, number];
  readonly peakDisc?: number;
}

export const PERFECT = '{ reflectance: 1, slope_error_mrad: 0, specularity_mrad: 0 }';
export const DISTANCE = 100;

/** Radius or half width on the paper of an angle in milliradians. */
export function onPaper(mrad: number, distance = DISTANCE): number {
  return distance * Math.tan(mrad / 1000);
}

export function roundAperture(radius: number): string {
  return `{ shape: round, diameter_m: ${2 * radius} }`;
}

export function paperScene(parts: PaperScene): string {
  const { sunshape, film = PERFECT, incidence = 10, distance = DISTANCE, chip = [0.0002, 0.0002] } = parts;
  const { aperture, window, cells = 8, peakDisc } = parts;
  const north = distance * Math.sin(incidence * RADIANS);
  const up = distance * Math.cos(incidence * RADIANS);
  return `
title: A mirror chip and a sheet of paper
sun: { azimuth_deg: 180, elevation_deg: ${90 - incidence}, dni_w_m2: 1000, sunshape: ${sunshape} }
films: { film: ${film} }
facets:
  - { name: chip, film: film, outline: { kind: rectangle, length_m: ${chip[0]}, width_m: ${chip[1]} } }
receivers:
  - name: paper
    kind: plate
    aperture: ${aperture}
    ${window === undefined ? '' : `window: { width_m: ${window[0]}, height_m: ${window[1]} }`}
    cells: ${JSON.stringify(cells)}
    ${peakDisc === undefined ? '' : `peak_disc_m: ${peakDisc}`}
    position_m: [0, ${north}, ${up}]
    facing: { azimuth_deg: 180, elevation_deg: ${incidence - 90} }
`;
}
