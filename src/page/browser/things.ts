/** Mirrors, ribs, receivers, bodies, blockers, ground and sun as bodies in space. */
import {
  BackSide,
  BoxGeometry,
  BufferGeometry,
  CanvasTexture,
  CylinderGeometry,
  DataTexture,
  DoubleSide,
  EdgesGeometry,
  Float32BufferAttribute,
  FrontSide,
  GridHelper,
  Group,
  Line,
  LineBasicMaterial,
  LineLoop,
  LineSegments,
  Matrix4,
  Mesh,
  MeshBasicMaterial,
  MeshLambertMaterial,
  NearestFilter,
  type Object3D,
  PlaneGeometry,
  RGBAFormat,
  Sprite,
  SpriteMaterial,
  SRGBColorSpace,
  Vector3,
} from 'three';
import { surfaceHeight } from '../../field/surface.js';
import type {
  PackedFrame,
  PageData,
  SpaceBlocker,
  SpaceData,
  SpaceFacet,
  SpaceReceiver,
} from '../page-data.js';
import { unpackBytes, unpackLevels } from '../unpack.js';

export interface Things {
  readonly groups: Readonly<Record<'mirrors' | 'ribs' | 'receivers' | 'blockers' | 'ground', Group>>;
  /** @param sun unit vector towards it */
  readonly pointSun: (sun: Vector3) => void;
  readonly moveReceivers: (offsetOf: (name: string) => readonly number[]) => void;
}

const MESH = 10;

/** @returns what is said of a thing under the pointer; null for what says nothing */
export function tipOfThing(object: Object3D): string | null {
  const tip: unknown = object.userData.tip;
  return typeof tip === 'string' ? tip : null;
}

function matrixOf(frame: PackedFrame, centre: Vector3): Matrix4 {
  const [ox, oy, oz, xx, xy, xz, yx, yy, yz, zx, zy, zz] = frame;
  return new Matrix4().set(
    xx,
    yx,
    zx,
    ox - centre.x,
    xy,
    yy,
    zy,
    oy - centre.y,
    xz,
    yz,
    zz,
    oz - centre.z,
    0,
    0,
    0,
    1,
  );
}

function place(object: Object3D, matrix: Matrix4): void {
  object.matrix.copy(matrix);
  object.matrixAutoUpdate = false;
}

/** Grid of the curved surface in the facet frame. */
function facetGeometry({ shape, outline }: SpaceFacet): BufferGeometry {
  const positions: number[] = [];
  const indices: number[] = [];
  for (let i = 0; i <= MESH; i++) {
    for (let j = 0; j <= MESH; j++) {
      let x: number;
      let y: number;
      if (outline.kind === 'rectangle') {
        x = outline.centre[0] + outline.length * (i / MESH - 0.5);
        y = outline.centre[1] + outline.width * (j / MESH - 0.5);
      } else {
        const radius = (outline.holeDiameter + (outline.diameter - outline.holeDiameter) * (i / MESH)) / 2;
        // More corners round the rim than along a side would need.
        const turn = (2 * Math.PI * j) / MESH;
        x = radius * Math.cos(turn);
        y = radius * Math.sin(turn);
      }
      positions.push(x, y, surfaceHeight(shape, x, y));
      if (i < MESH && j < MESH) {
        const a = i * (MESH + 1) + j;
        indices.push(a, a + MESH + 1, a + 1, a + 1, a + MESH + 1, a + MESH + 2);
      }
    }
  }
  const geometry = new BufferGeometry();
  geometry.setAttribute('position', new Float32BufferAttribute(positions, 3));
  geometry.setIndex(indices);
  geometry.computeVertexNormals();
  return geometry;
}

function mirrors(data: SpaceData, centre: Vector3): Group {
  const group = new Group();
  const front = new MeshLambertMaterial({ color: 0xbfd6e3, side: FrontSide });
  const back = new MeshLambertMaterial({ color: 0x9b8f7c, side: BackSide });
  for (const facet of data.facets) {
    const geometry = facetGeometry(facet);
    const tip =
      `mirror ${facet.name}: incidence ${facet.incidence_deg.toFixed(1)}\u00b0 at its middle, ` +
      `${Number(facet.sunlight_w.toPrecision(4))} W of sunlight` +
      (data.receivers[facet.receiver] === undefined ? '' : `, serves ${data.receivers[facet.receiver].name}`);
    for (const material of [front, back]) {
      const mesh = new Mesh(geometry, material);
      place(mesh, matrixOf(facet.frame, centre));
      mesh.userData.tip = tip;
      group.add(mesh);
    }
  }
  return group;
}

function ribs(data: SpaceData, centre: Vector3, reach: number): Group {
  const group = new Group();
  const material = new MeshLambertMaterial({ color: 0x8a6d3b, side: DoubleSide });
  const depth = Math.min(0.04, 0.02 * reach);
  for (const line of data.ribs) {
    const positions: number[] = [];
    const indices: number[] = [];
    line.forEach(([x, y, z], k) => {
      positions.push(
        x - centre.x,
        y - centre.y,
        z - centre.z,
        x - centre.x,
        y - centre.y,
        z - centre.z - depth,
      );
      if (k > 0) indices.push(2 * k - 2, 2 * k - 1, 2 * k, 2 * k, 2 * k - 1, 2 * k + 1);
    });
    const geometry = new BufferGeometry();
    geometry.setAttribute('position', new Float32BufferAttribute(positions, 3));
    geometry.setIndex(indices);
    geometry.computeVertexNormals();
    group.add(new Mesh(geometry, material));
  }
  return group;
}

/** The flux map as colours; where there is next to no light it is clear. */
function fluxTexture(page: PageData, map: number): DataTexture {
  const { nu, nv, flux } = page.maps[map];
  const values = unpackLevels(flux);
  const colours = unpackBytes(page.colours);
  const bytes = new Uint8Array(4 * nu * nv);
  for (let cell = 0; cell < values.length; cell++) {
    const share = page.scale_kw_m2 > 0 ? Math.min(1, values[cell] / page.scale_kw_m2) : 0;
    const at = 3 * Math.round(share * 255);
    bytes.set([colours[at], colours[at + 1], colours[at + 2], share > 0.015 ? 255 : 0], 4 * cell);
  }
  const texture = new DataTexture(bytes, nu, nv, RGBAFormat);
  texture.colorSpace = SRGBColorSpace;
  texture.magFilter = NearestFilter;
  texture.needsUpdate = true;
  return texture;
}

function tubeGeometry(length: number, radius: number): BufferGeometry {
  const turns = 48;
  const positions: number[] = [];
  const uvs: number[] = [];
  const indices: number[] = [];
  for (let k = 0; k <= turns; k++) {
    // The map goes round from -180 to 180 degrees, counted from +v towards +w.
    const turn = 2 * Math.PI * (k / turns - 0.5);
    for (const end of [0, 1]) {
      positions.push(length * (end - 0.5), radius * Math.cos(turn), radius * Math.sin(turn));
      uvs.push(end, k / turns);
    }
    if (k > 0) indices.push(2 * k - 2, 2 * k, 2 * k - 1, 2 * k - 1, 2 * k, 2 * k + 1);
  }
  const geometry = new BufferGeometry();
  geometry.setAttribute('position', new Float32BufferAttribute(positions, 3));
  geometry.setAttribute('uv', new Float32BufferAttribute(uvs, 2));
  geometry.setIndex(indices);
  return geometry;
}

function openingLine({ aperture }: SpaceReceiver): number[] {
  if (aperture.shape === 'round') {
    return Array.from({ length: 48 }, (_, k) => (2 * Math.PI * k) / 48).flatMap((turn) => [
      (aperture.diameter_mm / 2000) * Math.cos(turn),
      (aperture.diameter_mm / 2000) * Math.sin(turn),
      0,
    ]);
  }
  const [u, v] =
    aperture.shape === 'rectangle'
      ? [aperture.width_mm / 2000, aperture.height_mm / 2000]
      : [aperture.length_mm / 2000, aperture.diameter_mm / 2000];
  return [-u, -v, 0, u, -v, 0, u, v, 0, -u, v, 0];
}

function receiverBody(page: PageData, receiver: SpaceReceiver): Object3D[] {
  const tip = `receiver ${receiver.name}: peak ${receiver.peak}`;
  const { aperture } = receiver;
  const parts: Object3D[] = [];
  const isTube = aperture.shape === 'tube';
  const geometry = isTube
    ? tubeGeometry(aperture.length_mm / 1000, aperture.diameter_mm / 2000)
    : new PlaneGeometry(...receiver.window_m);
  if (receiver.map >= 0) {
    const material = new MeshBasicMaterial({
      map: fluxTexture(page, receiver.map),
      side: DoubleSide,
      alphaTest: isTube ? 0 : 0.5,
    });
    const mesh = new Mesh(geometry, material);
    mesh.userData.tip = tip;
    parts.push(mesh);
  } else if (isTube) {
    parts.push(new Mesh(geometry, new MeshLambertMaterial({ color: 0x7a1f2b, side: DoubleSide })));
  }
  const outline = new BufferGeometry();
  outline.setAttribute('position', new Float32BufferAttribute(openingLine(receiver), 3));
  const line = new LineLoop(outline, new LineBasicMaterial({ color: 0x7a1f2b }));
  line.userData.tip = tip;
  parts.push(line);
  return parts;
}

function blockerBody(blocker: SpaceBlocker, centre: Vector3): Group {
  const geometry =
    blocker.box_m !== null
      ? new BoxGeometry(...blocker.box_m)
      : // Its axis is z here.
        new CylinderGeometry(
          (blocker.cylinder_m?.[0] ?? 0) / 2,
          (blocker.cylinder_m?.[0] ?? 0) / 2,
          blocker.cylinder_m?.[1] ?? 0,
          28,
        ).rotateX(Math.PI / 2);
  const body = blocker.body_of >= 0;
  const solid = new Mesh(
    geometry,
    new MeshLambertMaterial({
      color: body ? 0x8a8f94 : 0x6b5a45,
      transparent: body,
      opacity: body ? 0.45 : 1,
    }),
  );
  solid.userData.tip = body ? `body of the receiver: ${blocker.name}` : `blocker ${blocker.name}`;
  const edges = new LineSegments(new EdgesGeometry(geometry, 30), new LineBasicMaterial({ color: 0x444444 }));
  const group = new Group();
  for (const part of [solid, edges]) {
    place(part, matrixOf(blocker.frame, centre));
    group.add(part);
  }
  return group;
}

/** A word that always faces the looker. */
function label(text: string, size: number): Sprite {
  const canvas = document.createElement('canvas');
  canvas.width = 256;
  canvas.height = 64;
  const pen = canvas.getContext('2d');
  if (pen !== null) {
    pen.font = 'bold 40px sans-serif';
    pen.textAlign = 'center';
    pen.textBaseline = 'middle';
    pen.fillStyle = '#333333';
    pen.fillText(text, 128, 32);
  }
  const sprite = new Sprite(new SpriteMaterial({ map: new CanvasTexture(canvas), depthTest: false }));
  sprite.scale.set(4 * size, size, 1);
  return sprite;
}

function groundOf(
  data: SpaceData,
  centre: Vector3,
  reach: number,
  away: number,
): { group: Group; pointSun: Things['pointSun'] } {
  const group = new Group();
  const level = (data.ground_m ?? data.low[2]) - centre.z;
  // A grid with round spacing: 0.1, 1 or 10 m.
  const spacing = 10 ** Math.floor(Math.log10(reach / 1.5));
  const half = spacing * Math.ceil((1.3 * reach) / spacing);
  const grid = new GridHelper(2 * half, (2 * half) / spacing, 0xa9a18e, 0xd4cfc2);
  grid.rotateX(Math.PI / 2);
  grid.position.set(0, 0, level);
  const size = 0.07 * reach;
  const marks: readonly (readonly [string, number, number])[] = [
    ['north', 0, 1],
    ['south', 0, -1],
    ['east', 1, 0],
    ['west', -1, 0],
  ];
  group.add(grid);
  for (const [text, x, y] of marks) {
    const sprite = label(text, size);
    sprite.position.set(1.08 * half * x, 1.08 * half * y, level);
    group.add(sprite);
  }
  const start = new BufferGeometry();
  const line = new Line(start, new LineBasicMaterial({ color: 0xb8860b }));
  const disc = new Mesh(
    new CylinderGeometry(0.035 * reach, 0.035 * reach, 0.006 * reach, 28),
    new MeshBasicMaterial({ color: 0xe0a100 }),
  );
  const word = label('sun', size);
  group.add(line, disc, word);
  const pointSun = (sun: Vector3): void => {
    const far = sun.clone().multiplyScalar(away);
    start.setAttribute('position', new Float32BufferAttribute([0, 0, 0, far.x, far.y, far.z], 3));
    start.computeBoundingSphere();
    disc.position.copy(far);
    disc.quaternion.setFromUnitVectors(new Vector3(0, 1, 0), sun);
    word.position.copy(far).addScaledVector(new Vector3(0, 0, 1), 0.08 * reach);
  };
  return { group, pointSun };
}

/** @param centre of the scene, which becomes the origin; reach its half diagonal, m; away the distance of the sun's disc, m */
export function buildThings(
  page: PageData,
  data: SpaceData,
  centre: Vector3,
  reach: number,
  away: number,
): Things {
  const receivers = new Group();
  const blockers = new Group();
  const moved = new Map<string, Group[]>();
  data.receivers.forEach((receiver, index) => {
    const group = new Group();
    for (const part of receiverBody(page, receiver)) {
      place(part, matrixOf(receiver.frame, centre));
      group.add(part);
    }
    receivers.add(group);
    const bodies = data.blockers
      .filter(({ body_of: of }) => of === index)
      .map((blocker) => blockerBody(blocker, centre));
    // With nothing to add, `add` would complain.
    if (bodies.length > 0) blockers.add(...bodies);
    moved.set(receiver.name, [group, ...bodies]);
  });
  const others = data.blockers
    .filter(({ body_of: of }) => of < 0)
    .map((blocker) => blockerBody(blocker, centre));
  if (others.length > 0) blockers.add(...others);
  const { group: ground, pointSun } = groundOf(data, centre, reach, away);
  return {
    groups: { mirrors: mirrors(data, centre), ribs: ribs(data, centre, reach), receivers, blockers, ground },
    pointSun,
    moveReceivers: (offsetOf) => {
      for (const [name, parts] of moved) {
        const [x, y, z] = offsetOf(name);
        for (const part of parts) part.position.set(x, y, z);
      }
    },
  };
}
