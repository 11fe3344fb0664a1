/**
 * One dish: where its strips lie, which way they look and how much they are bent, all in the dish frame
 * (x along the row, z the dish's axis, y to the left; origin at the dish's centre).
 */
import type { DishDesign, FacetShape, Outline, Vec3 } from '../scene/types.js';
import { directionToLocal, frameFromZ, turnAboutX } from './frame.js';
import { GeometryError } from './geometry-error.js';
import type { Frame } from './types.js';
import { add, directionOf, dot, norm, normalise, scale, subtract } from './vector.js';

/** A strip in the dish frame. */
export interface Strip {
  readonly frame: Frame;
  readonly shape: FacetShape;
  readonly outline: Outline;
}

/**
 * Dish frame at a place in a row: the row frame leaned by the design tilt. The tilt setting is not in it: what was
 * fixed when the dish was built (focus, receiver) is measured here.
 */
export function designFrame(design: DishDesign, rowFrame: Frame): Frame {
  return turnAboutX(rowFrame, design.designTilt);
}

/** Dish frame as the dish stands now: leaned by the design tilt and the tilt setting. The strips are fixed to it. */
export function standingFrame(design: DishDesign, rowFrame: Frame): Frame {
  return turnAboutX(rowFrame, design.designTilt + design.tiltSetting);
}

/** Design focus, dish frame. */
export function designFocus(design: DishDesign): Vec3 {
  return design.focus ?? [0, 0, design.focalLengthAcrossRow];
}

/** Towards the sun for which the strips are aimed: dish frame, unit. */
export function designSun(design: DishDesign, frame: Frame): Vec3 {
  return design.designSun === null ? [0, 0, 1] : directionToLocal(frame, directionOf(design.designSun));
}

/** From the outer edge of the first strip to that of the last, measured straight across, m. */
export function bedWidth(design: DishDesign): number {
  const { count, width, gap } = design.strips;
  return count * width + (count - 1) * gap;
}

/** Size of the dish along the row's axis and across it, m, measured in its own plane. */
export function dishSize(design: DishDesign): { readonly along: number; readonly across: number } {
  const bed = bedWidth(design);
  const { length, direction } = design.strips;
  return direction === 'along_row' ? { along: length, across: bed } : { along: bed, across: length };
}

/** How much room the dish as it stands takes up across the row, seen from above, m. */
export function depthInPlan(design: DishDesign): number {
  return dishSize(design).across * Math.abs(Math.cos(design.designTilt + design.tiltSetting));
}

/**
 * Point at which the strips' centres throw the design sun, dish frame. Strips along the row steer the light across
 * the row only by their canting, so they aim at the design focus itself. Strips across the row steer it along the
 * row, where the dish's focal length is another: they aim as far along the line through the focus as the two focal
 * lengths differ.
 */
export function aimPoint(design: DishDesign): Vec3 {
  const focus = designFocus(design);
  return design.strips.direction === 'along_row'
    ? focus
    : scale(focus, design.focalLengthAlongRow / design.focalLengthAcrossRow);
}

function stripShape(design: DishDesign, reach: number, cosIncidence: number): FacetShape {
  const { bend, bendFit, direction } = design.strips;
  if (bend === 'straight') {
    return { kind: 'flat' };
  }
  const [own, other] =
    direction === 'along_row'
      ? [design.focalLengthAlongRow, design.focalLengthAcrossRow]
      : [design.focalLengthAcrossRow, design.focalLengthAlongRow];
  // Light that meets a strip of focal length f at an incidence theta in the plane across it comes together
  // f / cos theta away (the sagittal focus, Coddington). So a strip at the distance rho needs rho cos theta. Where the
  // two focal lengths of the dish differ, the bend keeps their ratio at every strip.
  const focalLength = bendFit === 'common' ? own : (own * reach * cosIncidence) / other;
  return { kind: 'bent', curve: bend, focalLength };
}

/**
 * The strips of a dish, in the dish frame.
 * @param sun towards the sun the strips are aimed for: dish frame, unit
 * @throws GeometryError where a strip would have to turn its back on the sun, or stand on edge
 */
export function dishStrips(design: DishDesign, sun: Vec3): Strip[] {
  const { count, width, length, gap, direction } = design.strips;
  const alongRow = direction === 'along_row';
  const ribFocalLength = alongRow ? design.focalLengthAcrossRow : design.focalLengthAlongRow;
  const lengthwise: Vec3 = alongRow ? [1, 0, 0] : [0, 1, 0];
  const aim = aimPoint(design);
  const strips: Strip[] = [];
  for (let index = 0; index < count; index++) {
    const place = `dish ${design.name}, strip ${index + 1}`;
    const offset = (index - (count - 1) / 2) * (width + gap);
    const rise = design.rib === 'flat' ? 0 : offset ** 2 / (4 * ribFocalLength);
    const centre: Vec3 = alongRow ? [0, offset, rise] : [offset, 0, rise];
    const towardsAim = subtract(aim, centre);
    const reach = norm(towardsAim);
    if (!(reach > 0)) {
      throw new GeometryError(place, 'the focus lies on the strip');
    }
    const bisector = add(sun, scale(towardsAim, 1 / reach));
    const normal = normalise(bisector);
    const cosIncidence = dot(normal, sun);
    if (!(cosIncidence > 1e-6)) {
      throw new GeometryError(place, 'the design sun and the focus lie on opposite sides of it');
    }
    const frame = frameFromZ(centre, normal, lengthwise);
    if (frame === null) {
      throw new GeometryError(place, 'it would have to stand on its end to send the design sun to the focus');
    }
    strips.push({
      frame,
      shape: stripShape(design, reach, cosIncidence),
      outline: { kind: 'rectangle', length, width, centre: [0, 0] },
    });
  }
  return strips;
}
