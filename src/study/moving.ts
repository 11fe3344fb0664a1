/** The same scene with its receivers moved, its mirrors re-set or the sun elsewhere. Nothing here traces. */

import { dishSize } from '../field/dish.js';
import { directionToLocal, directionToParent, levelFrame } from '../field/frame.js';
import { dishOfRow } from '../field/layout.js';
import { placeDishReceiver } from '../field/receiver.js';
import { add, anglesOf } from '../field/vector.js';
import type { RowSpec, Scene, Vec3 } from '../scene/types.js';
import type { Moment } from '../sun/moment.js';

/** From where the scene file puts the receivers: along the row, across it (to the left of its heading), up; metres. */
export type Offset = Vec3;

export const NO_OFFSET: Offset = [0, 0, 0];

/** The first row that a standing receiver serves; null where only facets placed by hand serve it. */
export function rowServing(scene: Scene, receiver: string): RowSpec | null {
  return scene.rows.find((row) => row.receiver === receiver) ?? null;
}

/** Heading of the frame that a standing receiver is moved in: that of its row, or due east where it has none. */
export function movingHeading(scene: Scene, receiver: string): number {
  return rowServing(scene, receiver)?.heading ?? Math.PI / 2;
}

/**
 * All receivers moved by the same offset: those of dishes in the frame of their row, those that stand by themselves in the frame
 * of the first row that serves them. A dish's receiver goes on facing as its design says.
 */
export function withReceiversAt(scene: Scene, offset: Offset): Scene {
  return {
    ...scene,
    dishes: scene.dishes.map((dish) =>
      dish.receiver === null
        ? dish
        : { ...dish, receiver: { ...dish.receiver, offset: add(dish.receiver.offset, offset) } },
    ),
    receivers: scene.receivers.map((receiver) => {
      const frame = levelFrame(receiver.position, movingHeading(scene, receiver.name));
      return { ...receiver, position: add(receiver.position, directionToParent(frame, offset)) };
    }),
  };
}

/** All dishes turned about their row's axis: `tilt` takes the place of the tilt setting in the scene, radians. */
export function withTiltSetting(scene: Scene, tilt: number): Scene {
  return { ...scene, dishes: scene.dishes.map((dish) => ({ ...dish, tiltSetting: tilt })) };
}

/** The scene with its sun and beam irradiance as given. */
export function withMoment(scene: Scene, moment: Moment): Scene {
  const { azimuth, elevation } = anglesOf(moment.sunDirection);
  return {
    ...scene,
    sun: { ...scene.sun, direction: { kind: 'angles', azimuth, elevation }, dni: moment.dni },
  };
}

/** Where the receiver of the first row's dishes stands, from the dish's centre, in the row's frame; null without such a receiver. */
export function receiverFromDish(scene: Scene): Vec3 | null {
  const row = scene.rows.find(({ receiver }) => receiver === null);
  const dish = row && dishOfRow(scene, row);
  if (!dish || dish.receiver === null) return null;
  const own = { origin: [0, 0, 0], x: [1, 0, 0], y: [0, 1, 0], z: [0, 0, 1] } as const;
  return placeDishReceiver(dish.name, dish, dish.receiver, own).frame.origin;
}

/** Ends of one of the first row's dishes along the row, from its centre, metres; null where there is no row of dishes. */
export function dishEnds(scene: Scene): readonly [number, number] | null {
  const row = scene.rows.find(({ receiver }) => receiver === null);
  if (row === undefined) return null;
  const half = dishSize(dishOfRow(scene, row)).along / 2;
  return [-half, half];
}

/** Of long rows only so many dishes are looked at for the best place of the receivers, those at both ends among them. */
const DISHES_OF_SEARCH = 3;

/** A smaller scene whose receivers have their best place where those of the whole scene have it, but for what the ends do. */
export function forSearch(scene: Scene): Scene {
  return {
    ...scene,
    rows: scene.rows.map((row) => ({
      ...row,
      dishes: row.receiver === null ? Math.min(row.dishes, DISHES_OF_SEARCH) : row.dishes,
    })),
  };
}

/** Tilt setting of the first row's dishes, radians; 0 without a row. */
export function tiltSettingOf(scene: Scene): number {
  const [row] = scene.rows;
  return row === undefined ? 0 : dishOfRow(scene, row).tiltSetting;
}

/**
 * All dishes turned so that light of a sun in the plane across the row goes to where the design has the focus: their axes halve the
 * angle between the two. (The tilt setting turns the dish, not its receiver.)
 * @param sun towards the sun at noon, world frame
 */
export function withNoonTilt(scene: Scene, sun: Vec3): Scene {
  const heading = scene.rows[0]?.heading ?? Math.PI / 2;
  const [, left, up] = directionToLocal(levelFrame([0, 0, 0], heading), sun);
  // Tilt leans to the right of the heading.
  const towardsSun = Math.atan2(-left, up);
  return {
    ...scene,
    dishes: scene.dishes.map((dish) => ({ ...dish, tiltSetting: (towardsSun - dish.designTilt) / 2 })),
  };
}
