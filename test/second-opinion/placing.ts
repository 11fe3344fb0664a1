/** Mirrors, receivers and solids of a scene in the world, expanded from the written definitions of the scene's keys. */
import type { DishDesign, FacetShape, Film, Outline, ReceiverDesign, Scene } from '../../src/scene/types.js';
import {
  type Axes,
  bearing,
  cross,
  dot,
  into,
  outOf,
  plus,
  size,
  squareTo,
  turned,
  unit,
  type V3,
} from './vectors.js';

export interface Mirror {
  readonly axes: Axes;
  readonly shape: FacetShape;
  readonly outline: Outline;
  readonly film: Film;
  /** Index of the receiver it serves. */
  readonly home: number;
}

export interface Target {
  readonly name: string;
  readonly axes: Axes;
  readonly design: ReceiverDesign;
}

/** Anything opaque: does the ray from `from` along the unit vector `towards` meet it? */
export interface Solid {
  readonly centre: V3;
  readonly reach: number;
  readonly meets: (from: V3, towards: V3) => boolean;
  /** Index of the mirror it is, else -1. */
  readonly mirror: number;
}

export interface Post {
  readonly from: V3;
  readonly along: V3;
  readonly radius: number;
}

export interface Placed {
  readonly mirrors: readonly Mirror[];
  readonly targets: readonly Target[];
  readonly solids: readonly Solid[];
  readonly posts: readonly Post[];
}

const UP: V3 = [0, 0, 1];

function rowAxes(o: V3, heading: number): Axes {
  const x = bearing(heading, 0);
  return { o, x, y: cross(UP, x), z: UP };
}

/** Turned about x so that z leans towards -y: the right of the heading. */
function leaned(axes: Axes, tilt: number): Axes {
  const [c, s] = [Math.cos(tilt), Math.sin(tilt)];
  return {
    o: axes.o,
    x: axes.x,
    y: plus(plus([0, 0, 0], axes.y, c), axes.z, s),
    z: plus(plus([0, 0, 0], axes.z, c), axes.y, -s),
  };
}

function byFront(o: V3, front: V3, across: V3): Axes {
  const z = unit(front);
  const x = squareTo(across, z);
  return { o, x, y: cross(z, x), z };
}

function byAxis(o: V3, axis: V3, front: V3): Axes {
  const x = unit(axis);
  const z = squareTo(front, x);
  return { o, x, y: cross(z, x), z };
}

/** Strips of a dish in its own frame: centre, normal and curve. */
function stripsOf(dish: DishDesign, sun: V3): { axes: Axes; shape: FacetShape; outline: Outline }[] {
  const { count, width, length, gap, direction, bend, bendFit } = dish.strips;
  const alongRow = direction === 'along_row';
  const [own, other] = alongRow
    ? [dish.focalLengthAlongRow, dish.focalLengthAcrossRow]
    : [dish.focalLengthAcrossRow, dish.focalLengthAlongRow];
  const focus: V3 = dish.focus ?? [0, 0, dish.focalLengthAcrossRow];
  // Strips across the row aim along the line through the focus as far as the light is to come together along the row.
  const aim: V3 = alongRow
    ? focus
    : plus([0, 0, 0], focus, dish.focalLengthAlongRow / dish.focalLengthAcrossRow);
  return Array.from({ length: count }, (_, index) => {
    const away = (index - (count - 1) / 2) * (width + gap);
    const rise = dish.rib === 'parabola' ? away ** 2 / (4 * other) : 0;
    const centre: V3 = alongRow ? [0, away, rise] : [away, 0, rise];
    const toAim = plus(aim, centre, -1);
    const normal = unit(plus(sun, unit(toAim)));
    const focalLength = bendFit === 'common' ? own : (own * size(toAim) * dot(normal, sun)) / other;
    return {
      axes: byFront(centre, normal, alongRow ? [1, 0, 0] : [0, 1, 0]),
      shape: bend === 'straight' ? { kind: 'flat' } : { kind: 'bent', curve: bend, focalLength },
      outline: { kind: 'rectangle', length, width, centre: [0, 0] },
    };
  });
}

/** Height and its slopes over (x, y). */
export function surface(shape: FacetShape, x: number, y: number): readonly [number, number, number] {
  switch (shape.kind) {
    case 'flat':
      return [0, 0, 0];
    case 'bent': {
      const f = shape.focalLength;
      if (shape.curve === 'parabola') return [(x * x) / (4 * f), x / (2 * f), 0];
      const w = Math.sqrt(4 * f * f - x * x);
      return [2 * f - w, x / w, 0];
    }
    case 'paraboloid':
      return [
        (x * x + y * y) / (4 * shape.focalLength),
        x / (2 * shape.focalLength),
        y / (2 * shape.focalLength),
      ];
    case 'toroid': {
      const w = Math.sqrt(shape.radiusAlong ** 2 - x * x);
      const reach = shape.radiusAcross - (shape.radiusAlong - w);
      const depth = Math.sqrt(reach * reach - y * y);
      return [shape.radiusAcross - depth, (reach * x) / (w * depth), y / depth];
    }
  }
}

function within(outline: Outline, x: number, y: number): boolean {
  if (outline.kind === 'round') {
    const far = 2 * Math.hypot(x, y);
    return far <= outline.diameter && far >= outline.holeDiameter;
  }
  return (
    Math.abs(x - outline.centre[0]) <= outline.length / 2 &&
    Math.abs(y - outline.centre[1]) <= outline.width / 2
  );
}

function mirrorSolid(mirror: Mirror, index: number): Solid {
  const { axes, shape, outline } = mirror;
  const reach =
    outline.kind === 'round' ? outline.diameter / 2 : Math.hypot(outline.length, outline.width) / 2;
  return {
    centre: axes.o,
    reach: 1.2 * reach,
    mirror: index,
    meets: (from, towards) => {
      const p = into(axes, from);
      const d = turned(axes, towards);
      let t = -p[2] / d[2];
      for (let step = 0; step < 8; step++) {
        const [h, hx, hy] = surface(shape, p[0] + t * d[0], p[1] + t * d[1]);
        t -= (p[2] + t * d[2] - h) / (d[2] - hx * d[0] - hy * d[1]);
      }
      return t > 1e-9 && within(outline, p[0] + t * d[0], p[1] + t * d[1]);
    },
  };
}

/** A closed cylinder from the origin of `axes` to `length` along its z. */
function cylinderSolid(axes: Axes, radius: number, length: number): Solid {
  return {
    centre: plus(axes.o, axes.z, length / 2),
    reach: Math.hypot(radius, length / 2),
    mirror: -1,
    meets: (from, towards) => {
      const p = into(axes, from);
      const d = turned(axes, towards);
      const dd = d[0] ** 2 + d[1] ** 2;
      const pd = p[0] * d[0] + p[1] * d[1];
      const root = pd * pd - dd * (p[0] ** 2 + p[1] ** 2 - radius ** 2);
      if (root <= 0) return false;
      const caps = [-p[2] / d[2], (length - p[2]) / d[2]];
      const enter = Math.max((-pd - Math.sqrt(root)) / dd, Math.min(...caps), 0);
      return enter < Math.min((-pd + Math.sqrt(root)) / dd, Math.max(...caps));
    },
  };
}

/** A box about the origin of `axes`. */
function boxSolid(axes: Axes, full: V3): Solid {
  return {
    centre: axes.o,
    reach: size(full) / 2,
    mirror: -1,
    meets: (from, towards) => {
      const p = into(axes, from);
      const d = turned(axes, towards);
      let enter = 0;
      let leave = Number.POSITIVE_INFINITY;
      for (let axis = 0; axis < 3; axis++) {
        const ends = [(-full[axis] / 2 - p[axis]) / d[axis], (full[axis] / 2 - p[axis]) / d[axis]];
        enter = Math.max(enter, Math.min(...ends));
        leave = Math.min(leave, Math.max(...ends));
      }
      return enter < leave;
    },
  };
}

/** A receiver's aperture stops light from behind; a tube from all sides. */
function targetSolids(target: Target): Solid[] {
  const { axes, design } = target;
  const { aperture, body } = design;
  if (aperture.shape === 'tube') {
    const along = { o: plus(axes.o, axes.x, -aperture.length / 2), x: axes.y, y: axes.z, z: axes.x };
    return [cylinderSolid(along, aperture.diameter / 2, aperture.length)];
  }
  const half: readonly [number, number] =
    aperture.shape === 'round'
      ? [aperture.diameter / 2, aperture.diameter / 2]
      : [aperture.width / 2, aperture.height / 2];
  const solids: Solid[] = [
    {
      centre: axes.o,
      reach: Math.hypot(...half),
      mirror: -1,
      meets: (from, towards) => {
        const p = into(axes, from);
        const d = turned(axes, towards);
        const t = -p[2] / d[2];
        const u = (p[0] + t * d[0]) / half[0];
        const v = (p[1] + t * d[1]) / half[1];
        if (!(t > 0)) return false;
        return aperture.shape === 'round' ? u * u + v * v <= 1 : Math.max(Math.abs(u), Math.abs(v)) <= 1;
      },
    },
  ];
  if (body !== null) {
    // The body begins a tenth of a millimetre behind the aperture.
    const face = plus(axes.o, axes.z, -1e-4);
    solids.push(
      body.shape === 'round'
        ? cylinderSolid(
            { o: plus(face, axes.z, -body.depth), x: axes.x, y: axes.y, z: axes.z },
            body.diameter / 2,
            body.depth,
          )
        : boxSolid({ ...axes, o: plus(face, axes.z, -body.depth / 2) }, [
            body.width,
            body.height,
            body.depth,
          ]),
    );
  }
  return solids;
}

/** A deliberate fault of the reference: focal lengths of bends taken as radii. */
function halved(shape: FacetShape): FacetShape {
  return 'focalLength' in shape ? { ...shape, focalLength: shape.focalLength / 2 } : shape;
}

export function placeScene(scene: Scene, radiusForFocalLength = false): Placed {
  const mirrors: Mirror[] = [];
  const targets: Target[] = scene.receivers.map((receiver) => {
    const along = bearing(receiver.alongAzimuth, 0);
    const front = bearing(receiver.facing.azimuth, receiver.facing.elevation);
    const { kind } = receiver.design;
    const axes =
      kind === 'tube'
        ? byAxis(receiver.position, along, UP)
        : kind === 'line_plate'
          ? byAxis(receiver.position, along, front)
          : byFront(receiver.position, front, along);
    return { name: receiver.name, axes, design: receiver.design };
  });
  const film = (name: string) => scene.films.find((entry) => entry.name === name)!;
  const posts: Post[] = [];
  const solids: Solid[] = [];
  const addBlocker = (blocker: Scene['blockers'][number], frame: Axes) => {
    if (blocker.kind !== 'cylinder') throw new Error('the second opinion knows posts only');
    const from = outOf(frame, blocker.from);
    const to = outOf(frame, blocker.to);
    const along = unit(plus(to, from, -1));
    posts.push({ from, along, radius: blocker.diameter / 2 });
    const sideways = squareTo(Math.abs(along[2]) < 0.9 ? UP : [1, 0, 0], along);
    const axes = { o: from, x: sideways, y: cross(along, sideways), z: along };
    solids.push(cylinderSolid(axes, blocker.diameter / 2, size(plus(to, from, -1))));
  };
  for (const row of scene.rows) {
    const dish = scene.dishes.find((entry) => entry.name === row.dish)!;
    const first = rowAxes(row.centre, row.heading);
    for (let line = 0; line < row.rows; line++) {
      for (let place = 0; place < row.dishes; place++) {
        const centre = outOf(first, [
          (place - (row.dishes - 1) / 2) * (row.dishes > 1 ? row.pitch : 0),
          line > 0 ? line * row.rowSpacing : 0,
          0,
        ]);
        const here = { ...first, o: centre };
        const built = leaned(here, dish.designTilt);
        const standing = leaned(here, dish.designTilt + dish.tiltSetting);
        const sun: V3 =
          dish.designSun === null
            ? [0, 0, 1]
            : turned(built, bearing(dish.designSun.azimuth, dish.designSun.elevation));
        let home = scene.receivers.findIndex((receiver) => receiver.name === row.receiver);
        if (row.receiver === null) {
          const { design, offset, faces } = dish.receiver!;
          const focus = outOf(built, dish.focus ?? [0, 0, dish.focalLengthAcrossRow]);
          const o = plus(focus, outOf({ ...here, o: [0, 0, 0] }, offset));
          const front: V3 = faces === 'down' ? [0, 0, -1] : plus(centre, o, -1);
          const line = design.kind === 'tube' || design.kind === 'line_plate';
          home = targets.length;
          targets.push({
            name: `${row.name}${targets.length}`,
            design,
            axes: line ? byAxis(o, here.x, front) : byFront(o, front, here.x),
          });
        }
        for (const strip of stripsOf(dish, sun)) {
          mirrors.push({
            axes: {
              o: outOf(standing, strip.axes.o),
              x: outOf({ ...standing, o: [0, 0, 0] }, strip.axes.x),
              y: outOf({ ...standing, o: [0, 0, 0] }, strip.axes.y),
              z: outOf({ ...standing, o: [0, 0, 0] }, strip.axes.z),
            },
            shape: radiusForFocalLength ? halved(strip.shape) : strip.shape,
            outline: strip.outline,
            film: film(dish.film),
            home,
          });
        }
        for (const blocker of dish.blockers) addBlocker(blocker, here);
      }
    }
  }
  for (const facet of scene.facets) {
    const normal = bearing(facet.facing.azimuth, facet.facing.elevation);
    mirrors.push({
      axes: byFront(facet.position, normal, bearing(facet.alongAzimuth, 0)),
      shape: radiusForFocalLength ? halved(facet.shape) : facet.shape,
      outline: facet.outline,
      film: film(facet.film),
      home: facet.receiver === null ? 0 : scene.receivers.findIndex((entry) => entry.name === facet.receiver),
    });
  }
  const world: Axes = { o: [0, 0, 0], x: [1, 0, 0], y: [0, 1, 0], z: UP };
  for (const blocker of scene.blockers) addBlocker(blocker, world);
  solids.push(...mirrors.map(mirrorSolid), ...targets.flatMap(targetSolids));
  return { mirrors, targets, solids, posts };
}
