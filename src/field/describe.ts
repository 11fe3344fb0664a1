/** What a scene amounts to before any ray is traced: plain data for people to check, SI units and radians. */
import type { Angles, DishDesign, ReceiverDesign, RowSpec, Scene, Vec3 } from '../scene/types.js';
import type { Moment } from '../sun/moment.js';
import { type Crossings, facetsByReceiver, idealCrossings } from './crossings.js';
import {
  designFocus,
  designFrame,
  designSun,
  dishSize,
  dishStrips,
  type Strip,
  standingFrame,
} from './dish.js';
import { levelFrame, pointToParent } from './frame.js';
import { dishOfRow } from './layout.js';
import { apertureArea } from './receiver.js';
import { surfaceArea, surfaceHeight } from './surface.js';
import type { Field, PlacedFacet } from './types.js';
import { angleBetween, anglesOf, subtract } from './vector.js';

export interface DishDescription {
  readonly name: string;
  readonly strips: number;
  readonly stripDirection: 'along_row' | 'across_row';
  /** True mirror area of one dish, m2. */
  readonly mirrorArea: number;
  /** Size of the dish in its own plane, gaps included, m. */
  readonly size: { readonly alongRow: number; readonly acrossRow: number };
  readonly focalLengthAlongRow: number;
  readonly focalLengthAcrossRow: number;
  /** Focal length over the dish's size in the same plane (f/D). */
  readonly focalRatioAlongRow: number;
  readonly focalRatioAcrossRow: number;
  /** Largest angle between the dish's axis and the corner of a strip, seen from the design focus. */
  readonly rimAngle: number;
  /** Focal lengths the strips are bent to, shortest and longest; null: straight strips. */
  readonly bendFocalLengths: readonly [number, number] | null;
  readonly designTilt: number;
  readonly tiltSetting: number;
}

export interface RowDescription {
  readonly name: string;
  readonly dish: string;
  readonly rows: number;
  /** In each row. */
  readonly dishes: number;
  readonly facets: number;
  readonly mirrorArea: number;
  readonly pitch: number;
  readonly rowSpacing: number;
  readonly heading: number;
  /** From end to end of one row, m. */
  readonly length: number;
  /** Angle between the sun's centre and the axis of the row's dishes as they stand. */
  readonly incidence: number;
}

export interface ReceiverDescription {
  readonly name: string;
  readonly kind: ReceiverDesign['kind'];
  readonly position: Vec3;
  /** Where the front looks. */
  readonly facing: Angles;
  readonly facets: number;
  readonly mirrorArea: number;
  readonly apertureArea: number;
  /** Mirror area / aperture area. */
  readonly geometricConcentration: number;
  /** Spot of a faultless build for the sun's centre. */
  readonly spot: Crossings;
}

export interface FieldDescription {
  readonly sun: Angles & { readonly dni: number };
  readonly facets: number;
  /** Facets placed by hand, out of `facets`. */
  readonly singleFacets: number;
  readonly blockers: number;
  readonly mirrorArea: number;
  readonly apertureArea: number;
  readonly geometricConcentration: number;
  /** Beam irradiance x mirror area, W. */
  readonly availablePower: number;
  readonly dishes: readonly DishDescription[];
  readonly rows: readonly RowDescription[];
  readonly receivers: readonly ReceiverDescription[];
}

/**
 * Largest angle between the dish's axis and a strip's corner, seen from a point of the dish frame, radians.
 * For a paraboloid seen from its focus f/D = 1 / (4 tan(rim angle / 2)).
 */
export function rimAngle(strips: readonly Strip[], focus: Vec3): number {
  let largest = 0;
  for (const { frame, shape, outline } of strips) {
    if (outline.kind === 'round') {
      continue;
    }
    for (const x of [-outline.length / 2, outline.length / 2]) {
      for (const y of [-outline.width / 2, outline.width / 2]) {
        const corner = pointToParent(frame, [x, y, surfaceHeight(shape, x, y)]);
        largest = Math.max(largest, angleBetween(subtract(corner, focus), [0, 0, -1]));
      }
    }
  }
  return largest;
}

function sumOf(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0);
}

/** True area of mirrors, m2. */
function mirrorAreaOf(mirrors: readonly Pick<PlacedFacet, 'shape' | 'outline'>[]): number {
  return sumOf(mirrors.map(({ shape, outline }) => surfaceArea(shape, outline)));
}

function describeDish(scene: Scene, design: DishDesign): DishDescription {
  // Only a design sun given as a direction in the world makes strips depend on the row's heading.
  const heading = scene.rows.find((row) => row.dish === design.name)?.heading ?? Math.PI / 2;
  const frame = designFrame(design, levelFrame([0, 0, 0], heading));
  const strips = dishStrips(design, designSun(design, frame));
  const size = dishSize(design);
  const bends = strips.flatMap(({ shape }) => (shape.kind === 'bent' ? [shape.focalLength] : []));
  return {
    name: design.name,
    strips: strips.length,
    stripDirection: design.strips.direction,
    mirrorArea: mirrorAreaOf(strips),
    size: { alongRow: size.along, acrossRow: size.across },
    focalLengthAlongRow: design.focalLengthAlongRow,
    focalLengthAcrossRow: design.focalLengthAcrossRow,
    focalRatioAlongRow: design.focalLengthAlongRow / size.along,
    focalRatioAcrossRow: design.focalLengthAcrossRow / size.across,
    rimAngle: rimAngle(strips, designFocus(design)),
    bendFocalLengths: bends.length > 0 ? [Math.min(...bends), Math.max(...bends)] : null,
    designTilt: design.designTilt,
    tiltSetting: design.tiltSetting,
  };
}

function describeRow(
  scene: Scene,
  row: RowSpec,
  dishes: readonly DishDescription[],
  sun: Vec3,
): RowDescription {
  const design = dishOfRow(scene, row);
  const dish = dishes.find(({ name }) => name === design.name)!;
  const total = row.rows * row.dishes;
  return {
    name: row.name,
    dish: row.dish,
    rows: row.rows,
    dishes: row.dishes,
    facets: total * dish.strips,
    mirrorArea: total * dish.mirrorArea,
    pitch: row.pitch,
    rowSpacing: row.rowSpacing,
    heading: row.heading,
    length: (row.dishes - 1) * row.pitch + dish.size.alongRow,
    incidence: angleBetween(sun, standingFrame(design, levelFrame(row.centre, row.heading)).z),
  };
}

/**
 * Describes a field at one moment: sizes, focal lengths, f/D, rim angles, areas, concentrations, where receivers stand.
 * @param field `layOut(scene)`
 */
export function describeField(scene: Scene, field: Field, moment: Moment): FieldDescription {
  const sun = moment.sunDirection;
  const dishes = scene.dishes.map((design) => describeDish(scene, design));
  const facetsOf = facetsByReceiver(field);
  const receivers = field.receivers.map((receiver, index): ReceiverDescription => {
    const mirrorArea = mirrorAreaOf(facetsOf[index]);
    const opening = apertureArea(receiver.design);
    return {
      name: receiver.name,
      kind: receiver.design.kind,
      position: receiver.frame.origin,
      facing: anglesOf(receiver.frame.z),
      facets: facetsOf[index].length,
      mirrorArea,
      apertureArea: opening,
      geometricConcentration: mirrorArea / opening,
      spot: idealCrossings(receiver, facetsOf[index], sun),
    };
  });
  const mirrorArea = mirrorAreaOf(field.facets);
  const opening = sumOf(receivers.map((receiver) => receiver.apertureArea));
  return {
    sun: { ...anglesOf(sun), dni: moment.dni },
    facets: field.facets.length,
    singleFacets: scene.facets.length,
    blockers: field.blockers.length,
    mirrorArea,
    apertureArea: opening,
    geometricConcentration: opening > 0 ? mirrorArea / opening : 0,
    availablePower: moment.dni * mirrorArea,
    dishes,
    rows: scene.rows.map((row) => describeRow(scene, row, dishes, sun)),
    receivers,
  };
}
