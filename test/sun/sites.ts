import type { Scene, Site } from '../../src/scene/types.js';

export const DEGREE = Math.PI / 180;

/** An invented place with the air of the refraction formula's norm. */
export function siteAt(latitudeDeg: number, longitudeDeg: number, changes: Partial<Site> = {}): Site {
  return {
    name: 'Tarn Hollow (invented)',
    latitude: latitudeDeg * DEGREE,
    longitude: longitudeDeg * DEGREE,
    height: 0,
    pressure: 101_000,
    temperature: 283.15,
    timeZone: null,
    ...changes,
  };
}

/** The part of a scene that a sky is made of. */
export function under(sky: Scene['sky'], site: Site | null): Pick<Scene, 'site' | 'sky'> {
  return { site, sky };
}
