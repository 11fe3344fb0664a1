/** Blockers: beams, posts and whatever else stands in the light. */
import type { BlockerSpec } from '../scene/types.js';
import { frameFromZ, frameToParent, levelFrame } from './frame.js';
import { GeometryError } from './geometry-error.js';
import type { Frame, PlacedBlocker } from './types.js';
import { addScaled, norm, scale, subtract } from './vector.js';

/** A blocker in the frame it is given in; a box's heading counts from that frame's y axis towards its x axis. */
export function placeBlocker(blocker: BlockerSpec): PlacedBlocker {
  const { name } = blocker;
  if (blocker.kind === 'box') {
    const frame = levelFrame(blocker.centre, blocker.heading);
    return { kind: 'box', name, frame, size: blocker.size, bodyOf: -1 };
  }
  const axis = subtract(blocker.to, blocker.from);
  const length = norm(axis);
  if (!(length > 0)) {
    throw new GeometryError(`blocker ${name}`, 'both ends are the same point');
  }
  const centre = addScaled(blocker.from, axis, 0.5);
  // Any turn about the axis is the same cylinder: x is laid along the frame's axis that is furthest from the cylinder's.
  const unit = scale(axis, 1 / length);
  const frame = frameFromZ(centre, axis, Math.abs(unit[0]) < 0.8 ? [1, 0, 0] : [0, 1, 0])!;
  return { kind: 'cylinder', name, frame, radius: blocker.diameter / 2, length, bodyOf: -1 };
}

/** A dish's own blocker: given in the row frame at the dish's centre, wherever that dish stands. */
export function placeDishBlocker(blocker: BlockerSpec, dishName: string, rowFrame: Frame): PlacedBlocker {
  const local = placeBlocker(blocker);
  return { ...local, name: `${dishName}/${blocker.name}`, frame: frameToParent(rowFrame, local.frame) };
}
