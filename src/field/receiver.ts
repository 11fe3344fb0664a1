/** Receivers: their frames, apertures and opaque bodies. */
import type { DishDesign, DishReceiver, ReceiverDesign, StandingReceiver, Vec3 } from '../scene/types.js';
import { designFocus, designFrame } from './dish.js';
import { directionToParent, frameFromX, frameFromZ, levelFrame, pointToParent, UP } from './frame.js';
import { GeometryError } from './geometry-error.js';
import type { Frame, PlacedBlocker, PlacedReceiver } from './types.js';
import { add, addScaled, directionOf, norm, subtract } from './vector.js';

/** A body's front lies this far behind the aperture plane, m: light from the front meets the aperture first. */
export const BODY_GAP = 1e-4;

/** Area that takes in light, m2. A tube counts with its whole circumference. */
export function apertureArea(design: ReceiverDesign): number {
  const { aperture } = design;
  switch (aperture.shape) {
    case 'round':
      return (Math.PI / 4) * aperture.diameter ** 2;
    case 'rectangle':
      return aperture.width * aperture.height;
    case 'tube':
      return Math.PI * aperture.diameter * aperture.length;
  }
}

/** Least width of an opening, m: misplacements of its light are measured by it. */
export function leastWidth(aperture: ReceiverDesign['aperture']): number {
  return aperture.shape === 'rectangle' ? Math.min(aperture.width, aperture.height) : aperture.diameter;
}

/** True for the kinds whose u axis is the level axis of a line. */
function isLine(design: ReceiverDesign): boolean {
  return design.kind === 'tube' || design.kind === 'line_plate';
}

/**
 * A receiver that stands by itself. Its w axis is the direction it faces and u lies as near to `alongAzimuth` as
 * it can; for a line plate and a tube u is exactly level at that azimuth instead, and w as near to the facing
 * direction (a tube: to straight up) as it can.
 * @throws GeometryError where the facing direction is parallel to the axis it is to be perpendicular to
 */
export function placeStandingReceiver(receiver: StandingReceiver): PlacedReceiver {
  const { design, name, position } = receiver;
  const along = levelFrame(position, receiver.alongAzimuth).x;
  const facing = directionOf(receiver.facing);
  let frame: Frame | null;
  if (design.kind === 'tube') {
    frame = frameFromX(position, along, UP);
  } else if (design.kind === 'line_plate') {
    frame = frameFromX(position, along, facing);
  } else {
    frame = frameFromZ(position, facing, along);
  }
  if (frame === null) {
    throw new GeometryError(
      `receiver ${name}`,
      'it faces along its own azimuth, which leaves its turn undecided',
    );
  }
  return { name, design, frame };
}

/**
 * The receiver of one dish: at the design focus, moved by the offset. It does not follow the tilt setting.
 * @param rowFrame row frame at the dish's centre
 * @throws GeometryError where the offset puts it on the dish's centre, or on the row's axis through it
 */
export function placeDishReceiver(
  name: string,
  dish: DishDesign,
  receiver: DishReceiver,
  rowFrame: Frame,
): PlacedReceiver {
  const focus = pointToParent(designFrame(dish, rowFrame), designFocus(dish));
  const position = add(focus, directionToParent(rowFrame, receiver.offset));
  return { name, design: receiver.design, frame: dishReceiverFrame(name, receiver, position, rowFrame) };
}

/**
 * Frame of a dish's receiver wherever it stands: it faces the dish's centre, or down.
 * @param position in the parent of the row frame
 * @throws GeometryError where it stands on the dish's centre, or on the row's axis through it
 */
export function dishReceiverFrame(
  name: string,
  { design, faces }: Pick<DishReceiver, 'design' | 'faces'>,
  position: Vec3,
  rowFrame: Frame,
): Frame {
  const towardsDish = subtract(rowFrame.origin, position);
  if (!(norm(towardsDish) > 0)) {
    throw new GeometryError(`receiver ${name}`, "it stands on the dish's centre");
  }
  const front: Vec3 = faces === 'down' ? [0, 0, -1] : towardsDish;
  // A tube is round: its w is up however it came to its place, so that all tubes' maps read alike.
  const frame = isLine(design)
    ? frameFromX(position, rowFrame.x, design.kind === 'tube' ? UP : front)
    : frameFromZ(position, front, rowFrame.x);
  if (frame === null) {
    throw new GeometryError(
      `receiver ${name}`,
      "it looks along the row's axis, which leaves its turn undecided",
    );
  }
  return frame;
}

/**
 * The opaque body behind a receiver's aperture, or null where the design has none.
 * @param index of the receiver in the field
 * @throws GeometryError for a tube, which has no back
 */
export function placeBody(receiver: PlacedReceiver, index: number): PlacedBlocker | null {
  const { design, frame, name } = receiver;
  const { body } = design;
  if (body === null) {
    return null;
  }
  if (design.kind === 'tube') {
    throw new GeometryError(`receiver ${name}`, 'a tube has no body: light reaches it from all sides');
  }
  const centre = addScaled(frame.origin, frame.z, -(BODY_GAP + body.depth / 2));
  const placed = { name: `${name} body`, frame: { ...frame, origin: centre }, bodyOf: index };
  return body.shape === 'round'
    ? { kind: 'cylinder', ...placed, radius: body.diameter / 2, length: body.depth }
    : { kind: 'box', ...placed, size: [body.width, body.height, body.depth] };
}
