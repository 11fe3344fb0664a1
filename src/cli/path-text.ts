/** Paths of receivers in words, and as `--path` takes them. */
import { formatNumber } from '../result/number-format.js';
import type { Vec3 } from '../scene/types.js';
import { circleOfPath, type PathShape, pathLength } from '../study/path-shape.js';

/** Whole millimetres, no minus nought. */
export function wholeMm(value: number): string {
  return value.toFixed(0).replace(/^-0$/, '0');
}

function placeText(place: Vec3): string {
  return place.map(wholeMm).join(', ');
}

/** Radius, centre and plane of an arc; empty for what is none. */
export function arcText({ arc }: Pick<PathShape, 'arc'>): string {
  if (arc === null) return '';
  const { radius_mm, centre_mm, plane_normal } = arc;
  const across = plane_normal.map((part) => part.toFixed(3).replace(/^-0\.000$/, '0.000')).join(', ');
  return `radius ${formatNumber(radius_mm, 4)} mm about ${placeText(centre_mm)} mm, in the plane across the direction ${across} (along, across, up)`;
}

const KINDS: Readonly<Record<PathShape['kind'], string>> = {
  level: 'straight, along the row',
  tilted: 'straight, tilted',
  arc: 'arc',
  knee: 'two straight pieces',
  given: 'as given',
};

/** The whole path in a sentence without its stop. @param shape counted from where the reader measures */
export function shapeText(shape: PathShape): string {
  const [from, to] = shape.ends_mm;
  return [
    `${KINDS[shape.kind]}, from ${placeText(from)} to ${placeText(to)} mm`,
    `${wholeMm(shape.length_mm)} mm long`,
    ...(shape.knee_mm === null ? [] : [`bent at ${placeText(shape.knee_mm)} mm`]),
    ...(shape.arc === null ? [] : [arcText(shape)]),
  ].join('; ');
}

/** Drawn on a screen an arc cuts its corners by no more than this, mm; the finer path stands in result.json. */
const CUT_MM = 5;

/** Few places that draw the path of a track: its ends, its knee, or as many as an arc needs. */
function fewPlaces(path: readonly Vec3[]): readonly Vec3[] {
  if (path.length <= 3) return path;
  const circle = circleOfPath(path);
  if (circle === null) return [path[0], path[path.length - 1]];
  // A chord of length c stands c^2 / 8 r off its circle.
  const pieces = Math.min(
    path.length - 1,
    Math.ceil(pathLength(path) / Math.sqrt(8 * circle.radius * CUT_MM)),
  );
  return Array.from({ length: pieces + 1 }, (_, i) => path[Math.round((i * (path.length - 1)) / pieces)]);
}

/** @param path from where the scene has the receivers, mm */
export function pathOption(path: readonly Vec3[]): string {
  return `--path="${fewPlaces(path)
    .map((place) => place.map(wholeMm).join(','))
    .join(' ')}"`;
}
