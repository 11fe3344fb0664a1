/** Rows of dishes that look away from where the sun stands at noon. */
import type { Warning } from '../result/types.js';
import type { Scene } from '../scene/types.js';
import { dishOfRow } from './layout.js';

const DEGREE = Math.PI / 180;
/** No noon sun comes nearer than this to an axis that leans farther from the noon of the equinox: the tilt of the earth's axis. */
const SEASONS = 23.44 * DEGREE;

/**
 * Rows whose dishes' axes stand farther from the noon sun of the equinox than the seasons bring it, and would not if the row
 * ran the other way. Only leans to the north or south count; a row that runs north tells nothing. Code: dishes_face_away.
 * @returns nothing without a site
 */
export function facingWarnings(scene: Scene): Warning[] {
  const { site } = scene;
  if (site === null) return [];
  return scene.rows.flatMap((row) => {
    const dish = dishOfRow(scene, row);
    const lean = dish.designTilt + dish.tiltSetting;
    // To the right of the heading; the noon sun of the equinox stands the latitude south of straight up.
    const south = Math.atan2(Math.sin(lean) * Math.sin(row.heading), Math.cos(lean));
    const off = Math.abs(south - site.latitude);
    const turned = Math.abs(-south - site.latitude);
    if (!(off > SEASONS && turned < off / 2)) return [];
    const heading = (Math.round(row.heading / DEGREE) + 180) % 360;
    return [
      {
        code: 'dishes_face_away',
        message: `Row ${row.name}: the dishes face away from the sun at noon; heading ${heading}?`,
      },
    ];
  });
}
