/** The scene as a still drawing, seen from the south-east and above: for print, and where there is no 3D. */
import { pointToParent } from '../field/frame.js';
import type { PlacedBlocker, PlacedReceiver } from '../field/types.js';
import { FAINT_INK, INK, MARGIN, straightLine, words } from '../report/drawing.js';
import { FATE_STYLES } from '../report/fate-style.js';
import { element, group, type Markup, svgDocument } from '../report/svg.js';
import type { DrawnFigure } from '../report/types.js';
import type { RayPath } from '../run/paths.js';
import type { Vec3 } from '../scene/types.js';
import { onFacet, outlineBox, ribLines, sceneBox, styleOf } from './space-data.js';
import type { TracedScene } from './types.js';

const WIDTH = 640;
const TALLEST = 460;
/** Where the looker stands: azimuth from north, elevation, degrees. */
const LOOKER = { azimuth: 152, elevation: 24 };
/** Rays drawn of each way to end, at most; more would hide the mirrors. */
const RAYS_PER_FATE = 70;
const DEGREE = Math.PI / 180;
const SUN_COLOUR = '#b8860b';

interface Camera {
  readonly right: Vec3;
  readonly up: Vec3;
  readonly toLooker: Vec3;
}

function camera(): Camera {
  const azimuth = LOOKER.azimuth * DEGREE;
  const elevation = LOOKER.elevation * DEGREE;
  const [s, c] = [Math.sin(azimuth), Math.cos(azimuth)];
  const [se, ce] = [Math.sin(elevation), Math.cos(elevation)];
  return { right: [-c, s, 0], up: [-s * se, -c * se, ce], toLooker: [s * ce, c * ce, se] };
}

function dot(a: Vec3, b: Vec3): number {
  return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

interface Piece {
  /** Larger is nearer. */
  readonly depth: number;
  readonly markup: Markup;
}

type ToPixel = (place: Vec3) => readonly [number, number];

function path(places: readonly Vec3[], at: ToPixel, close: boolean): string {
  const points = places.map((place) =>
    at(place)
      .map((value) => value.toFixed(1))
      .join(' '),
  );
  return `M${points.join('L')}${close ? 'Z' : ''}`;
}

function meanDepth(places: readonly Vec3[], view: Camera): number {
  return places.reduce((sum, place) => sum + dot(place, view.toLooker), 0) / places.length;
}

function mirrorPieces({ prepared }: TracedScene, view: Camera, at: ToPixel): Piece[] {
  return prepared.field.facets.map((facet) => {
    const { half, centre } = outlineBox(facet);
    const around: [number, number][] = [];
    if (facet.outline.kind === 'round') {
      for (let k = 0; k < 24; k++) {
        around.push([half[0] * Math.cos((k * Math.PI) / 12), half[0] * Math.sin((k * Math.PI) / 12)]);
      }
    } else {
      for (let k = 0; k <= 8; k++) around.push([centre[0] + half[0] * (k / 4 - 1), centre[1] - half[1]]);
      for (let k = 8; k >= 0; k--) around.push([centre[0] + half[0] * (k / 4 - 1), centre[1] + half[1]]);
    }
    const places = around.map(([x, y]) => onFacet(facet, x, y));
    const front = dot(facet.frame.z, view.toLooker) > 0;
    return {
      depth: meanDepth(places, view),
      markup: element('path', {
        d: path(places, at, true),
        fill: front ? '#cfe0ea' : '#b9b2a4',
        stroke: '#51626d',
        'stroke-width': 0.6,
      }),
    };
  });
}

function ring(frame: PlacedReceiver['frame'], radius: number, w: number): Vec3[] {
  return Array.from({ length: 28 }, (_, k) => {
    const turn = (k * Math.PI) / 14;
    return pointToParent(frame, [radius * Math.cos(turn), radius * Math.sin(turn), w]);
  });
}

function receiverPiece(receiver: PlacedReceiver, view: Camera, at: ToPixel): Piece {
  const { frame, design } = receiver;
  const { aperture } = design;
  const box = (u: number, v: number): Vec3[] =>
    [
      [-u, -v],
      [u, -v],
      [u, v],
      [-u, v],
    ].map(([x, y]) => pointToParent(frame, [x, y, 0]));
  const places =
    aperture.shape === 'round'
      ? ring(frame, aperture.diameter / 2, 0)
      : aperture.shape === 'rectangle'
        ? box(aperture.width / 2, aperture.height / 2)
        : box(aperture.length / 2, aperture.diameter / 2);
  return {
    depth: meanDepth(places, view) + 1e-3,
    markup: element('path', {
      d: path(places, at, true),
      fill: '#7a1f2b',
      'fill-opacity': 0.85,
      stroke: '#3d0d14',
      'stroke-width': 1,
    }),
  };
}

function blockerPieces(blocker: PlacedBlocker, view: Camera, at: ToPixel): Piece {
  const { frame } = blocker;
  const outlines: Vec3[][] = [];
  if (blocker.kind === 'cylinder') {
    const half = blocker.length / 2;
    outlines.push(ring(frame, blocker.radius, -half), ring(frame, blocker.radius, half));
  } else {
    const [a, b, c] = blocker.size.map((side) => side / 2);
    for (const w of [-c, c]) {
      outlines.push(
        [
          [-a, -b],
          [a, -b],
          [a, b],
          [-a, b],
        ].map(([x, y]) => pointToParent(frame, [x, y, w])),
      );
    }
  }
  const [low, high] = outlines;
  const quarter = Math.max(1, Math.floor(low.length / 8));
  const edges = low.flatMap((place, k) => (k % quarter === 0 ? [path([place, high[k]], at, false)] : []));
  return {
    depth: meanDepth([...low, ...high], view),
    markup: element('path', {
      d: [path(low, at, true), path(high, at, true), ...edges].join(''),
      fill: blocker.bodyOf < 0 ? '#6b5a45' : '#8a8f94',
      'fill-opacity': 0.25,
      stroke: '#4a4a4a',
      'stroke-width': 0.8,
    }),
  };
}

function rayPieces(rays: readonly RayPath[], view: Camera, at: ToPixel, reach: number): Piece[] {
  const shown = new Map<number, number>();
  const counts = new Map<number, number>();
  for (const { fate } of rays) counts.set(styleOf(fate), (counts.get(styleOf(fate)) ?? 0) + 1);
  const pieces: Piece[] = [];
  rays.forEach((ray) => {
    const style = styleOf(ray.fate);
    const every = Math.max(1, Math.ceil((counts.get(style) ?? 0) / RAYS_PER_FATE));
    const seen = shown.get(style) ?? 0;
    shown.set(style, seen + 1);
    if (style < 0 || seen % every !== 0) return;
    const places: Vec3[] = [];
    for (let k = 0; k < ray.places.length; k += 3) {
      places.push([ray.places[k], ray.places[k + 1], ray.places[k + 2]]);
    }
    const [first] = places;
    const from: Vec3 = ray.shade ?? [
      first[0] + reach * ray.sun[0],
      first[1] + reach * ray.sun[1],
      first[2] + reach * ray.sun[2],
    ];
    const { colour, dash } = FATE_STYLES[style];
    const way = ray.shade === null ? [from, ...places] : [from, first];
    pieces.push({
      depth: meanDepth(way, view),
      markup: element('path', {
        d: path(way, at, false),
        fill: 'none',
        stroke: colour,
        'stroke-width': 0.6,
        'stroke-opacity': 0.7,
        'stroke-dasharray': dash === null ? undefined : dash.join(' '),
      }),
    });
  });
  return pieces;
}

/** @returns the drawing, with the ways light ends told by colour and dash below it */
export function drawStillPicture(traced: TracedScene, rays: readonly RayPath[]): DrawnFigure {
  const view = camera();
  const { low, high } = sceneBox(traced);
  const ground = traced.prepared.field.ground;
  const corners: Vec3[] = [];
  for (const x of [low[0], high[0]])
    for (const y of [low[1], high[1]])
      for (const z of [ground === null ? low[2] : Math.min(ground, low[2]), high[2]]) corners.push([x, y, z]);
  const size = Math.hypot(high[0] - low[0], high[1] - low[1], high[2] - low[2]);
  const across = corners.map((corner) => dot(corner, view.right));
  const upright = corners.map((corner) => dot(corner, view.up));
  const [left, right] = [Math.min(...across), Math.max(...across)];
  const [bottom, top] = [Math.min(...upright), Math.max(...upright)];
  const legendRows = FATE_STYLES.filter((_, i) => rays.some(({ fate }) => styleOf(fate) === i));
  const headroom = 30;
  const scale = Math.min(
    (WIDTH - 2 * MARGIN) / Math.max(1e-9, right - left),
    (TALLEST - headroom) / Math.max(1e-9, top - bottom),
  );
  const height = (top - bottom) * scale + headroom + 2 * MARGIN;
  const offset = (WIDTH - (right - left) * scale) / 2;
  const at: ToPixel = (place) => [
    offset + (dot(place, view.right) - left) * scale,
    MARGIN + headroom + (top - dot(place, view.up)) * scale,
  ];
  const { field, moment } = traced.prepared;
  const pieces = [
    ...mirrorPieces(traced, view, at),
    ...field.receivers.map((receiver) => receiverPiece(receiver, view, at)),
    ...field.blockers.map((blocker) => blockerPieces(blocker, view, at)),
    ...ribLines(field.facets).map((line) => ({
      depth: meanDepth(line, view) - 0.02,
      markup: element('path', {
        d: path(line, at, false),
        fill: 'none',
        stroke: '#8a6d3b',
        'stroke-width': 1.2,
      }),
    })),
    ...rayPieces(rays, view, at, 0.12 * size),
  ].sort((a, b) => a.depth - b.depth);
  const floor =
    ground === null
      ? null
      : element('path', {
          d: path(
            [
              [low[0], low[1], ground],
              [high[0], low[1], ground],
              [high[0], high[1], ground],
              [low[0], high[1], ground],
            ],
            at,
            true,
          ),
          fill: '#efece4',
          stroke: '#c9c2b0',
        });
  const sun = sunArrow(moment.sunDirection, view);
  const legend = legendRows.map(({ label, colour, dash }, i) => {
    const y = height + 6 + 19 * i;
    return group({}, [
      straightLine(MARGIN, y, MARGIN + 40, y, {
        colour,
        width: 2,
        dash: dash === null ? 'none' : dash.join(' '),
      }),
      words(MARGIN + 50, y + 4.5, label, { size: 12.5 }),
    ]);
  });
  const whole = Math.ceil(height + 19 * legendRows.length + 10);
  const clip = element(
    'clipPath',
    { id: 'frame' },
    element('rect', { x: 0, y: 0, width: WIDTH, height: height - 8 }),
  );
  const drawing = group({ 'clip-path': 'url(#frame)' }, [
    ...(floor === null ? [] : [floor]),
    ...pieces.map(({ markup }) => markup),
  ]);
  const svg = svgDocument(WIDTH, whole, [clip, drawing, sun, ...legend]);
  return { svg, width: WIDTH, height: whole, areas: [] };
}

/** An arrow in the corner: the way the sunlight goes, in the drawing's own view. */
function sunArrow(sun: Vec3, view: Camera): Markup {
  const [dx, dy] = [-dot(sun, view.right), dot(sun, view.up)];
  const length = Math.hypot(dx, dy);
  const [x, y] = [MARGIN + 30, MARGIN + 14];
  const note = words(MARGIN + 62, MARGIN + 6, 'sunlight', { size: 12.5, fill: FAINT_INK });
  const turn = words(MARGIN + 62, MARGIN + 22, 'seen from the south-south-east', {
    size: 11,
    fill: FAINT_INK,
  });
  if (length < 0.05)
    return group({}, [element('circle', { cx: x, cy: y, r: 5, fill: SUN_COLOUR }), note, turn]);
  const [ux, uy] = [dx / length, dy / length];
  const [tipX, tipY] = [x + 22 * ux, y + 22 * uy];
  const head = `M${tipX} ${tipY}L${tipX - 9 * ux - 5 * uy} ${tipY - 9 * uy + 5 * ux}L${tipX - 9 * ux + 5 * uy} ${tipY - 9 * uy - 5 * ux}Z`;
  return group({ stroke: INK, 'stroke-width': 0 }, [
    straightLine(x - 22 * ux, y - 22 * uy, tipX - 6 * ux, tipY - 6 * uy, { colour: SUN_COLOUR, width: 3 }),
    element('path', { d: head, fill: SUN_COLOUR }),
    note,
    turn,
  ]);
}
