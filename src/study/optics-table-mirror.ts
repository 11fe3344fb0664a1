/**
 * Whether a scene looks the same in a mirror that stands across its rows: then mornings and afternoons are alike, and half of an
 * optics table is enough. Looked at is the laid-out scene, piece by piece; what is in doubt counts as unlike.
 */
import { directionToLocal, levelFrame, pointToLocal, pointToParent } from '../field/frame.js';
import { layOut } from '../field/layout.js';
import type { Field, Frame, PlacedBlocker, PlacedFacet, PlacedReceiver } from '../field/types.js';
import type { Scene, Vec3 } from '../scene/types.js';
import { tableHeading } from './optics-table-angles.js';
import type { ReceiverMode } from './optics-table-node.js';

/** Lengths and parts of unit vectors closer than about this are taken as equal, metres. */
const GRAIN = 1e-6;

/** Rounds a number; the odd shift keeps plain decimals away from the borders. */
function grain(value: number): number {
  return Math.round(value / GRAIN + 0.1234);
}

type Sides = 1 | -1;

/** A point or direction, mirrored or not, in whole grains. */
function words(vector: Vec3, side: Sides): string {
  return `${grain(side * vector[0])},${grain(vector[1])},${grain(vector[2])}`;
}

/** A direction whose sign does not matter. */
function lineWords(direction: Vec3, side: Sides): string {
  const both = [words(direction, side), words([-direction[0], -direction[1], -direction[2]], side)];
  return both.sort().join('|');
}

/** Descriptions of everything that stands in the field, from one side of the mirror. */
function description(field: Field, axes: Frame, side: Sides): string[] {
  const place = (point: Vec3) => words(pointToLocal(axes, point), side);
  const way = (direction: Vec3) => words(directionToLocal(axes, direction), side);
  const line = (direction: Vec3) => lineWords(directionToLocal(axes, direction), side);
  // Every surface is even in x and in y: only where its middle is and which way it lies count.
  const facet = ({ frame, outline, shape, film, receiver }: PlacedFacet) => {
    const { kind } = outline;
    const middle = kind === 'rectangle' ? pointToParent(frame, [...outline.centre, 0]) : frame.origin;
    const size =
      kind === 'rectangle' ? [outline.length, outline.width] : [outline.diameter, outline.holeDiameter];
    const home = place(field.receivers[receiver].frame.origin);
    return [
      'facet',
      place(frame.origin),
      place(middle),
      way(frame.z),
      line(frame.x),
      JSON.stringify(shape),
      kind,
      size,
      film,
      home,
    ];
  };
  const receiver = ({ frame, design }: PlacedReceiver) => [
    'receiver',
    place(frame.origin),
    way(frame.z),
    line(frame.x),
    JSON.stringify(design),
  ];
  const blocker = (piece: PlacedBlocker) => [
    piece.kind,
    place(piece.frame.origin),
    line(piece.frame.z),
    ...(piece.kind === 'box'
      ? [line(piece.frame.x), piece.size.map(grain)]
      : [grain(piece.radius), grain(piece.length)]),
  ];
  return [...field.facets.map(facet), ...field.receivers.map(receiver), ...field.blockers.map(blocker)]
    .map((parts) => parts.join(' '))
    .sort();
}

/** @throws GeometryError where the scene cannot be built */
export function isMirrored(scene: Scene, mode: ReceiverMode): boolean {
  const field = layOut(scene);
  const heading = tableHeading(scene);
  if (scene.rows.some((row) => Math.abs(Math.sin(row.heading - heading)) > GRAIN)) return false;
  const level = levelFrame([0, 0, 0], heading);
  const middle =
    field.facets.reduce((sum, { frame }) => sum + pointToLocal(level, frame.origin)[0], 0) /
    Math.max(1, field.facets.length);
  const axes = { ...level, origin: pointToParent(level, [middle, 0, 0]) };
  const here = description(field, axes, 1);
  const there = description(field, axes, -1);
  if (here.some((piece, i) => piece !== there[i])) return false;
  if (mode.kind !== 'on_track') return true;
  const track = mode.path.map((offset) => words(offset, 1));
  const mirrored = mode.path.map((offset) => words(offset, -1));
  return track.every((piece, i) => piece === mirrored[mirrored.length - 1 - i]);
}
