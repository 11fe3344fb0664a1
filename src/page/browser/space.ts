/** The view in space: mirrors, receivers with their flux, blockers, ground, sun and real rays of the run. */
import {
  Color,
  DirectionalLight,
  Group,
  HemisphereLight,
  type Object3D,
  PerspectiveCamera,
  Raycaster,
  Scene,
  Vector2,
  Vector3,
  WebGLRenderer,
} from 'three';
import { OrbitControls } from 'three/examples/jsm/controls/OrbitControls.js';
import type { PageData, SpaceData } from '../page-data.js';
import { find } from './page-elements.js';
import { buildRays, type RaySet } from './rays.js';
import { buildThings, type Things, tipOfThing } from './things.js';

const THINGS = ['mirrors', 'ribs', 'receivers', 'blockers', 'ground'] as const;
const FIELD_OF_VIEW = 36;
const GROUND = 0xeef2f4;

interface Built {
  readonly data: SpaceData;
  readonly root: Group;
  readonly things: Things;
  readonly rays: readonly RaySet[];
  /** Half the diagonal of the box, m. */
  readonly reach: number;
  readonly centre: Vector3;
}

function hasWebGl(): boolean {
  try {
    return document.createElement('canvas').getContext('webgl2') !== null;
  } catch {
    return false;
  }
}

function build(page: PageData, data: SpaceData): Built {
  const low = new Vector3(...data.low);
  const high = new Vector3(...data.high);
  const centre = low.clone().add(high).multiplyScalar(0.5);
  const reach = Math.max(0.2, high.distanceTo(low) / 2);
  const root = new Group();
  const things = buildThings(page, data, centre, reach, sunAway({ data, centre, reach }));
  const rays = buildRays(page, data, centre, reach);
  root.add(...Object.values(things.groups), ...rays.map(({ object }) => object));
  return { data, root, things, rays, reach, centre };
}

/** Starts the view where the browser can draw it; the still picture stays where it cannot. */
export function startSpace(page: PageData): void {
  if (page.spaces.length === 0 || !hasWebGl()) return;
  const stage = find('stage');
  const canvas = document.createElement('canvas');
  canvas.tabIndex = 0;
  canvas.id = 'space-canvas';
  canvas.setAttribute('role', 'img');
  canvas.setAttribute(
    'aria-label',
    'Mirrors, receivers and rays in space; arrow keys turn, plus and minus zoom',
  );
  let renderer: WebGLRenderer;
  try {
    renderer = new WebGLRenderer({ canvas, antialias: true });
  } catch {
    return;
  }
  renderer.setPixelRatio(Math.min(2, window.devicePixelRatio));
  stage.prepend(canvas);
  stage.classList.add('live');
  find('space-controls').hidden = false;

  const scene = new Scene();
  scene.background = new Color(GROUND);
  const camera = new PerspectiveCamera(FIELD_OF_VIEW, 1, 0.01, 1000);
  camera.up.set(0, 0, 1);
  const controls = new OrbitControls(camera, canvas);
  const lamp = new DirectionalLight(0xffffff, 2.2);
  scene.add(new HemisphereLight(0xffffff, 0x9a948a, 1.6), lamp);

  const built: (Built | undefined)[] = [];
  let shown: Built | undefined;
  let waiting = false;
  const render = (): void => {
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => {
      waiting = false;
      renderer.render(scene, camera);
    });
  };
  controls.addEventListener('change', render);

  const lookFrom = (towards: Vector3): void => {
    if (shown === undefined) return;
    const direction = towards.clone().normalize();
    const right = new Vector3().crossVectors(camera.up, direction);
    if (right.lengthSq() < 1e-6) right.set(1, 0, 0);
    right.normalize();
    const up = new Vector3().crossVectors(direction, right);
    const tangent = Math.tan((FIELD_OF_VIEW * Math.PI) / 360);
    let distance = 0.5;
    const disc = new Vector3(...shown.data.sun).multiplyScalar(sunAway(shown));
    for (const corner of [...cornersOf(shown), disc]) {
      const near = corner.dot(direction);
      distance = Math.max(
        distance,
        near + (1.1 * Math.abs(corner.dot(right))) / (tangent * camera.aspect),
        near + (1.15 * Math.abs(corner.dot(up))) / tangent,
      );
    }
    controls.target.set(0, 0, 0);
    camera.position.copy(direction.multiplyScalar(distance));
    camera.near = distance / 200;
    camera.far = distance * 20 + 20 * shown.reach;
    camera.updateProjectionMatrix();
    controls.update();
    render();
  };

  const size = (): void => {
    const { clientWidth, clientHeight } = canvas;
    if (clientWidth === 0 || clientHeight === 0) return;
    renderer.setSize(clientWidth, clientHeight, false);
    camera.aspect = clientWidth / clientHeight;
    camera.updateProjectionMatrix();
    render();
  };

  const checked = (id: string): boolean => find<HTMLInputElement>(id).checked;
  const slider = document.getElementById('space-step') as HTMLInputElement | null;
  const stepAt = (): number => (slider === null ? 0 : Number(slider.value));

  const applyChoices = (): void => {
    if (shown === undefined) return;
    const step = stepAt();
    for (const key of THINGS) shown.things.groups[key].visible = checked(`thing-${key}`);
    // Rays belong to the moment that was traced.
    const share = Number(find<HTMLInputElement>('space-share').value) / 100;
    for (const { key, object, thin } of shown.rays) {
      object.visible = step === 0 && checked(`fate-${key}`);
      thin(share);
    }
    render();
  };

  const applyStep = (): void => {
    if (shown === undefined) return;
    const at = stepAt();
    const step = at === 0 ? null : page.steps[at - 1];
    const sun = new Vector3(...(step === null ? shown.data.sun : step.sunDirection));
    shown.things.pointSun(sun);
    lamp.position.copy(sun);
    shown.things.moveReceivers((name) =>
      step !== null && Object.hasOwn(step.receiverOffsets, name) ? step.receiverOffsets[name] : [0, 0, 0],
    );
    const clock = document.getElementById('space-clock');
    if (clock !== null) clock.textContent = step === null ? ' as traced' : ` ${step.label}`;
    applyChoices();
  };

  const show = (index: number): void => {
    if (shown !== undefined) scene.remove(shown.root);
    shown = built[index] ?? build(page, page.spaces[index]);
    built[index] = shown;
    scene.add(shown.root);
    page.fates.forEach(({ key }, i) => {
      const count = shown?.rays[i].count ?? 0;
      find<HTMLInputElement>(`fate-${key}`).disabled = count === 0;
      find(`fate-${key}-count`).textContent = ` (${count})`;
    });
    applyStep();
    lookFrom(new Vector3(0.42, -0.8, 0.42));
  };

  for (const key of THINGS) find(`thing-${key}`).addEventListener('change', applyChoices);
  for (const { key } of page.fates) find(`fate-${key}`).addEventListener('change', applyChoices);
  find('space-share').addEventListener('input', applyChoices);
  if (slider !== null) {
    slider.max = String(page.steps.length);
    slider.addEventListener('input', applyStep);
  }
  const chooser = document.getElementById('space-scene') as HTMLSelectElement | null;
  chooser?.addEventListener('change', () => show(Number(chooser.value)));
  const sunNow = (): Vector3 => {
    const at = stepAt();
    return new Vector3(
      ...(at === 0 ? (shown?.data.sun ?? page.spaces[0].sun) : page.steps[at - 1].sunDirection),
    );
  };
  find('view-south').addEventListener('click', () => lookFrom(new Vector3(0, -1, 0.03)));
  find('view-east').addEventListener('click', () => lookFrom(new Vector3(1, 0, 0.03)));
  find('view-above').addEventListener('click', () => lookFrom(new Vector3(0, -0.001, 1)));
  find('view-sun').addEventListener('click', () => lookFrom(sunNow()));

  turnByKeys(canvas, camera, controls, render);
  tellUnderPointer(canvas, camera, () => shown);
  new ResizeObserver(size).observe(canvas);
  size();
  show(0);
}

/** The corners of the scene's box, from its middle. */
function cornersOf({ data, centre }: Pick<Built, 'data' | 'centre'>): Vector3[] {
  const { low, high } = data;
  return [low[0], high[0]].flatMap((x) =>
    [low[1], high[1]].flatMap((y) => [low[2], high[2]].map((z) => new Vector3(x, y, z).sub(centre))),
  );
}

/** How far from the middle the sun's disc stands: beyond mirrors and receivers, and still in the picture. */
function sunAway(built: Pick<Built, 'data' | 'centre' | 'reach'>): number {
  const sun = new Vector3(...built.data.sun);
  const farthest = Math.max(...cornersOf(built).map((corner) => corner.dot(sun)));
  return Math.max(1.3 * farthest, 0.5 * built.reach);
}

/** Arrow keys turn about the target, + and - move nearer and away. */
function turnByKeys(
  canvas: HTMLCanvasElement,
  camera: PerspectiveCamera,
  controls: OrbitControls,
  render: () => void,
): void {
  const STEP = Math.PI / 36;
  canvas.addEventListener('keydown', (event) => {
    const away = camera.position.clone().sub(controls.target);
    const distance = away.length();
    let azimuth = Math.atan2(away.y, away.x);
    let elevation = Math.asin(away.z / distance);
    let factor = 1;
    if (event.key === 'ArrowLeft') azimuth -= STEP;
    else if (event.key === 'ArrowRight') azimuth += STEP;
    else if (event.key === 'ArrowUp') elevation = Math.min(1.55, elevation + STEP);
    else if (event.key === 'ArrowDown') elevation = Math.max(-1.55, elevation - STEP);
    else if (event.key === '+' || event.key === '=') factor = 1 / 1.15;
    else if (event.key === '-') factor = 1.15;
    else return;
    event.preventDefault();
    const flat = Math.cos(elevation);
    camera.position
      .set(flat * Math.cos(azimuth), flat * Math.sin(azimuth), Math.sin(elevation))
      .multiplyScalar(distance * factor)
      .add(controls.target);
    controls.update();
    render();
  });
}

/** Says what lies under the pointer: a ray, a mirror or a receiver. */
function tellUnderPointer(
  canvas: HTMLCanvasElement,
  camera: PerspectiveCamera,
  shown: () => Built | undefined,
): void {
  const tip = find('space-tip');
  const caster = new Raycaster();
  const pointer = new Vector2();
  let queued = false;
  const tell = (): void => {
    queued = false;
    const built = shown();
    if (built === undefined) return;
    caster.setFromCamera(pointer, camera);
    caster.params.Line.threshold = camera.position.length() * 0.0022;
    const { groups } = built.things;
    const solid: Object3D[] = [groups.mirrors, groups.receivers, groups.blockers].filter(
      ({ visible }) => visible,
    );
    const lines = built.rays.filter(({ object }) => object.visible);
    const thing = caster.intersectObjects(solid, true).find(({ object }) => tipOfThing(object) !== null);
    const line = caster.intersectObjects(
      lines.map(({ object }) => object),
      false,
    )[0];
    let text: string | null = null;
    if (line !== undefined && (thing === undefined || line.distance <= thing.distance + 1e-3)) {
      const set = lines.find(({ object }) => object === line.object);
      if (set !== undefined) text = set.tip(line.index ?? 0);
    } else if (thing !== undefined) text = tipOfThing(thing.object);
    tip.hidden = text === null;
    if (text !== null) tip.textContent = text;
  };
  const later = (event: PointerEvent): void => {
    const frame = canvas.getBoundingClientRect();
    pointer.set(
      ((event.clientX - frame.left) / frame.width) * 2 - 1,
      1 - ((event.clientY - frame.top) / frame.height) * 2,
    );
    if (queued || event.buttons > 1) return;
    queued = true;
    requestAnimationFrame(tell);
  };
  canvas.addEventListener('pointermove', later);
  canvas.addEventListener('pointerdown', later);
  canvas.addEventListener('pointerleave', () => {
    tip.hidden = true;
  });
}
