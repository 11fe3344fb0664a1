/** One ray's whole path, hit by hit, as data and in words. */
import { directionToParent, pointToLocal } from '../field/frame.js';
import { surfaceNormal } from '../field/surface.js';
import type { Field } from '../field/types.js';
import { angleBetween, anglesOf, norm, subtract } from '../field/vector.js';
import { viewPrepared } from '../kernel/layout.js';
import { Fate } from '../kernel/tally.js';
import { PathEvent, replayRay } from '../kernel/trace.js';
import type { PreparedScene } from '../prepare.js';
import { plainText } from '../report/plain-text.js';
import { formatNumber } from '../result/number-format.js';
import type { BatchPlan } from '../run/plan.js';
import { batchKey, latticeShifts } from '../run/seeds.js';
import type { Vec3 } from '../scene/types.js';
import { UsageError } from './failure.js';

/** Which ray: its batch, and its index in it. */
export interface RayId {
  readonly batch: number;
  readonly index: number;
}

/** As the user writes it: "BATCH:INDEX", or one number counted over all batches. */
export type RayWish = RayId | { readonly overall: number };

/** @throws UsageError where the run of that plan has no such ray */
export function findRay(wish: RayWish, plan: Pick<BatchPlan, 'raysPerBatch' | 'batches'>): RayId {
  const { raysPerBatch, batches } = plan;
  const { batch, index } =
    'overall' in wish
      ? { batch: Math.floor(wish.overall / raysPerBatch), index: wish.overall % raysPerBatch }
      : wish;
  if (batch >= batches || index >= raysPerBatch) {
    throw new UsageError(
      `there is no ray ${'overall' in wish ? wish.overall : `${batch}:${index}`}: this run has batches 0 to ${batches - 1} of ` +
        `${raysPerBatch} rays each (0 to ${raysPerBatch - 1}), ${batches * raysPerBatch} in all`,
    );
  }
  return { batch, index };
}

/** Key and words of each fate, in the order of `Fate`; the keys are those of the ledger. */
const FATES: Readonly<Record<number, { readonly key: string; readonly words: string }>> = {
  [Fate.Unlit]: { key: 'unlit', words: 'unlit: the mirror faces away from the sun there' },
  [Fate.Shaded]: { key: 'shaded', words: 'shaded: something stands before the mirror' },
  [Fate.BlockedByFacet]: { key: 'blocked_by_facet', words: 'blocked by the back of a mirror' },
  [Fate.BlockedByBlocker]: { key: 'blocked_by_blocker', words: 'blocked by a beam, post or other blocker' },
  [Fate.BlockedByReceiver]: {
    key: 'blocked_by_receiver',
    words: 'blocked by the side or back of a receiver',
  },
  [Fate.Intercepted]: { key: 'intercepted', words: 'intercepted: through the opening of its own receiver' },
  [Fate.InterceptedElsewhere]: {
    key: 'intercepted_elsewhere',
    words: 'spilled for its own receiver: caught by another one',
  },
  [Fate.SpilledOnReceiver]: {
    key: 'spilled_on_receiver',
    words: 'spilled on the front of a receiver, beside the opening',
  },
  [Fate.SpilledOnGround]: { key: 'spilled_on_ground', words: 'spilled on the ground' },
  [Fate.SpilledToSky]: { key: 'spilled_to_sky', words: 'spilled to the sky' },
  [Fate.Lost]: { key: 'lost', words: 'lost between mirrors' },
};

export interface PathStep {
  readonly event: 'on_mirror' | 'shaded' | 'leaves_mirror' | 'crosses_window' | 'end';
  /** What it is on: the name of a facet, receiver or blocker, "ground" or "sky". */
  readonly at: string;
  readonly kind: 'facet' | 'receiver' | 'blocker' | 'ground' | 'sky';
  /** Null where the ray leaves for the sky. */
  readonly position_m: Vec3 | null;
  readonly power_w: number;
  /** On a mirror: angle between where the light comes from and the surface's own normal, without slope error. */
  readonly incidence_deg?: number;
  /** On a receiver's plane, from the aperture's centre (a tube: along its axis and round it). */
  readonly u_mm?: number;
  readonly v_mm?: number;
}

export interface Replay {
  readonly seed: string;
  readonly batch: number;
  readonly index: number;
  readonly rays_per_batch: number;
  /** Unit vector towards the part of the sun the ray came from (east, north, up). */
  readonly sun_direction: Vec3;
  readonly sun_azimuth_deg: number;
  readonly sun_elevation_deg: number;
  /** From the sun's centre. */
  readonly off_sun_centre_mrad: number;
  readonly path: readonly PathStep[];
  readonly fate: string;
  readonly fate_words: string;
}

const DEGREE = Math.PI / 180;

interface RawStep {
  readonly event: number;
  readonly primitive: number;
  readonly place: Vec3;
  readonly watts: number;
}

function kindOf(field: Field, primitive: number, fate: number): { kind: PathStep['kind']; name: string } {
  if (primitive < 0) {
    return fate === Fate.SpilledOnGround ? { kind: 'ground', name: 'ground' } : { kind: 'sky', name: 'sky' };
  }
  if (primitive < field.facets.length) return { kind: 'facet', name: field.facets[primitive].name };
  const receiver = primitive - field.facets.length;
  if (receiver < field.receivers.length) return { kind: 'receiver', name: field.receivers[receiver].name };
  return { kind: 'blocker', name: field.blockers[receiver - field.receivers.length].name };
}

/** Where on a receiver's map, mm; a tube's v goes round it from the side of +v. */
function onReceiver(field: Field, index: number, place: Vec3): Pick<PathStep, 'u_mm' | 'v_mm'> {
  const { frame, design } = field.receivers[index];
  const [u, v, w] = pointToLocal(frame, place);
  if (design.aperture.shape !== 'tube') return { u_mm: 1000 * u, v_mm: 1000 * v };
  return { u_mm: 1000 * u, v_mm: 500 * design.aperture.diameter * Math.atan2(w, v) };
}

const EVENTS: Readonly<Record<number, PathStep['event']>> = {
  [PathEvent.Launch]: 'on_mirror',
  [PathEvent.Shaded]: 'shaded',
  [PathEvent.Reflected]: 'leaves_mirror',
  [PathEvent.Window]: 'crosses_window',
  [PathEvent.End]: 'end',
};

/**
 * Traces one ray of a run alone, as it goes in the whole run.
 * @param plan of the run
 */
export function replay(
  prepared: PreparedScene,
  plan: Pick<BatchPlan, 'log2Rays' | 'raysPerBatch'>,
  seed: string,
  ray: RayId,
): Replay {
  const { field } = prepared;
  const raw: RawStep[] = [];
  let sun: Vec3 = prepared.moment.sunDirection;
  let fate: number = Fate.Lost;
  replayRay(
    viewPrepared(prepared.buffer),
    plan.log2Rays,
    latticeShifts(seed, ray.batch, plan.log2Rays),
    batchKey(seed, ray.batch),
    ray.index,
    {
      step: (event, primitive, x, y, z, watts) => raw.push({ event, primitive, place: [x, y, z], watts }),
      sun: (x, y, z) => {
        sun = [x, y, z];
      },
      end: (end) => {
        fate = end;
      },
    },
  );
  // The light of a mirror comes from the sun, then from the mirror before.
  let from: Vec3 | null = null;
  const path = raw.map(({ event, primitive, place, watts }): PathStep => {
    const { kind, name } = kindOf(field, primitive, fate);
    const onMirror = kind === 'facet' && (event === PathEvent.Launch || event === PathEvent.Reflected);
    let incidence: number | null = null;
    if (onMirror) {
      const facet = field.facets[primitive];
      const local = pointToLocal(facet.frame, place);
      const normal = directionToParent(facet.frame, surfaceNormal(facet.shape, local[0], local[1]));
      const towards = from === null || norm(subtract(from, place)) === 0 ? sun : subtract(from, place);
      incidence = angleBetween(towards, normal) / DEGREE;
      from = event === PathEvent.Reflected ? place : null;
    }
    return {
      event: EVENTS[event],
      at: name,
      kind,
      position_m: kind === 'sky' ? null : place,
      power_w: watts,
      ...(incidence === null ? {} : { incidence_deg: incidence }),
      ...(kind === 'receiver' ? onReceiver(field, primitive - field.facets.length, place) : {}),
    };
  });
  const { azimuth, elevation } = anglesOf(sun);
  return {
    seed,
    batch: ray.batch,
    index: ray.index,
    rays_per_batch: plan.raysPerBatch,
    sun_direction: sun,
    sun_azimuth_deg: azimuth / DEGREE,
    sun_elevation_deg: elevation / DEGREE,
    off_sun_centre_mrad: 1000 * angleBetween(sun, prepared.moment.sunDirection),
    path,
    fate: FATES[fate].key,
    fate_words: FATES[fate].words,
  };
}

function placeText(place: Vec3 | null): string {
  if (place === null) return '';
  const [east, north, up] = place.map((metres) => metres.toFixed(4));
  return `east ${east}, north ${north}, up ${up} m`;
}

function receiverPlace({ u_mm: u, v_mm: v }: PathStep): string {
  return u === undefined || v === undefined ? '' : ` at u ${u.toFixed(1)}, v ${v.toFixed(1)} mm`;
}

function watts(power: number): string {
  return `${formatNumber(power, 4)} W`;
}

function stepText(step: PathStep, before: PathStep | undefined): string {
  const name = plainText(step.at);
  const place = placeText(step.position_m);
  const incidence =
    step.incidence_deg === undefined ? '' : `incidence ${step.incidence_deg.toFixed(2)} degrees`;
  switch (step.event) {
    case 'on_mirror':
      return `Sunlight of ${watts(step.power_w)} is bound for mirror ${name} (${place}; ${incidence}).`;
    case 'shaded':
      return `It is stopped before the mirror by ${step.kind} ${name} (${place}).`;
    case 'leaves_mirror': {
      const first = before === undefined || before.event === 'on_mirror';
      const head = first
        ? `It leaves mirror ${name}`
        : `It meets mirror ${name} (${place}; ${incidence}) and leaves it`;
      const taken = before === undefined ? 0 : before.power_w - step.power_w;
      return `${head} with ${watts(step.power_w)}; the film keeps ${watts(taken)}.`;
    }
    case 'crosses_window':
      return `It crosses the map window of receiver ${name}${receiverPlace(step)}, outside the opening.`;
    case 'end':
      if (step.kind === 'sky') return 'It meets nothing more.';
      if (step.kind === 'ground') return `It meets the ground (${place}).`;
      return `It meets ${step.kind} ${name}${receiverPlace(step)} (${place}) with ${watts(step.power_w)}.`;
  }
}

/** @returns the path in words, one numbered line a step */
export function replayText(title: string, ray: Replay): string {
  const { path } = ray;
  const lines = [
    plainText(title),
    `Ray ${ray.batch}:${ray.index} (batch ${ray.batch}, ray ${ray.index} of 0 to ${ray.rays_per_batch - 1}; seed ${JSON.stringify(plainText(ray.seed))})`,
    `From the sun at azimuth ${ray.sun_azimuth_deg.toFixed(3)}, elevation ${ray.sun_elevation_deg.toFixed(3)} degrees, ${ray.off_sun_centre_mrad.toFixed(2)} mrad from its centre.`,
    '',
    ...path.map((step, index) => `${String(index + 1).padStart(3)}. ${stepText(step, path[index - 1])}`),
    '',
    `Fate: ${ray.fate_words}.`,
  ];
  return `${lines.join('\n')}\n`;
}
