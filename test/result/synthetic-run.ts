/** Runs made of drawn hits with a known spot, so that every figure has a closed-form answer. No kernel is involved. */
import type { PlacedReceiver } from '../../src/field/types.js';
import { CURVE_BINS, CURVE_MAX_SCALE, FATES, Fate, SPOT_BINS, tallyLayout } from '../../src/kernel/tally.js';
import type { PreparedScene } from '../../src/prepare.js';
import type { RunOutcome } from '../../src/run/types.js';
import type { ReceiverDesign } from '../../src/scene/types.js';

/** Uniform numbers in [0, 1): the 32-bit "sfc" generator (Doty-Humphrey's small fast counting generator, from memory). */
export function uniformSource(seed: number): () => number {
  let a = seed | 0;
  let b = (seed * 0x9e3779b9) | 0;
  let c = 0x2545f491;
  let counter = 1;
  const next = () => {
    const sum = (((a + b) | 0) + counter) | 0;
    counter = (counter + 1) | 0;
    a = b ^ (b >>> 9);
    b = (c + (c << 3)) | 0;
    c = ((c << 21) | (c >>> 11)) + sum;
    return (sum >>> 0) / 4294967296;
  };
  for (let i = 0; i < 15; i++) next();
  return next;
}

export interface SyntheticSpot {
  /** Standard deviation per axis of a Gaussian spot, m; with `flatRadius` unused. */
  readonly sigma: number;
  /** Radius of an even disc instead of the Gaussian, m. */
  readonly flatRadius?: number;
  readonly centre?: readonly [number, number];
  readonly shaded?: number;
  /** Share of the reflected light that a facet blocks. */
  readonly blocked?: number;
}

export interface SyntheticOptions {
  readonly seed: number;
  readonly slots: number;
  readonly batchesPerSlot?: number;
  readonly raysPerBatch: number;
  readonly aperture?: number;
  readonly window?: number;
  readonly cells?: number;
  readonly peakDisc?: number;
  readonly kind?: ReceiverDesign['kind'];
  readonly spotRadius?: number;
}

export const MIRROR_AREA = 1.4;
export const DNI = 850;
/** Sunlight that falls on each group's mirrors, W; the rest of DNI x area is the cosine loss. */
export const INCIDENT = 1000;
export const REFLECTANCE = 0.84;

/** A scene of one receiver per spot, round openings unless told otherwise. */
export function syntheticScene(receivers: number, options: Omit<SyntheticOptions, 'seed'>): PreparedScene {
  const cells = options.cells ?? 64;
  const window = options.window ?? 0.4;
  const kind = options.kind ?? 'plate';
  const size = options.aperture ?? 0.18;
  const design: ReceiverDesign = {
    kind,
    aperture:
      kind === 'line_plate'
        ? { shape: 'rectangle', width: 2, height: size }
        : kind === 'tube'
          ? { shape: 'tube', diameter: size, length: 2 }
          : { shape: 'round', diameter: size },
    window: { width: window, height: window },
    cells: [cells, cells],
    peakDisc: options.peakDisc ?? 0.025,
    body: null,
  };
  const placed: PlacedReceiver[] = Array.from({ length: receivers }, (_, index) => ({
    name: `R${index + 1}`,
    design,
    frame: { origin: [0, 0, 2], x: [1, 0, 0], y: [0, 1, 0], z: [0, 0, -1] },
  }));
  return {
    buffer: new SharedArrayBuffer(8),
    scene: {
      title: 'Drawn spots',
      site: null,
      sun: {
        direction: { kind: 'angles', azimuth: Math.PI, elevation: 1 },
        dni: DNI,
        sunshape: { kind: 'point' },
      },
      sky: null,
      plant: null,
      films: [],
      dishes: [],
      rows: [],
      facets: [],
      receivers: [],
      blockers: [],
      ground: 0,
      bounceLimit: 3,
      hash: '0'.repeat(64),
    },
    field: { facets: [], receivers: placed, blockers: [], ground: 0 },
    moment: { sunDirection: [0, -Math.cos(1), Math.sin(1)], dni: DNI },
    layout: tallyLayout(placed.flatMap(() => [cells, cells])),
    facetPower: new Float64Array(0),
    mirrorArea: new Float64Array(receivers).fill(MIRROR_AREA),
    spots: placed.map(() => ({
      centre: [0, 0] as const,
      radius: options.spotRadius ?? 0.25,
      measure: kind === 'line_plate' || kind === 'tube' ? ('width' as const) : ('diameter' as const),
    })),
  };
}

/** Draws the hits. Two runs with the same seed and ray numbers use the same draws whatever their spots are. */
export function syntheticOutcome(
  prepared: PreparedScene,
  spots: readonly SyntheticSpot[],
  options: SyntheticOptions,
): RunOutcome {
  const { layout, field } = prepared;
  const batchesPerSlot = options.batchesPerSlot ?? 1;
  const random = uniformSource(options.seed);
  const rays = options.raysPerBatch;
  const weight = INCIDENT / rays;
  const slots: Float64Array[] = [];
  for (let j = 0; j < options.slots; j++) {
    const tally = new Float64Array(layout.length);
    for (let group = 0; group < spots.length; group++) {
      const spot = spots[group];
      const place = layout.receivers[group];
      const { design } = field.receivers[group];
      const line = design.kind === 'line_plate' || design.kind === 'tube';
      const half =
        (design.aperture.shape === 'rectangle' ? design.aperture.height : design.aperture.diameter) / 2;
      const spotRadius = prepared.spots[group].radius;
      const end = (fate: number, watts: number) => {
        tally[layout.counts + group * FATES + fate] += 1;
        tally[layout.watts + group * FATES + fate] += watts;
      };
      for (let ray = 0; ray < rays * batchesPerSlot; ray++) {
        const first = random();
        const second = random();
        const radial = random();
        const turn = 2 * Math.PI * random();
        tally[layout.incident + group] += weight;
        if (first < (spot.shaded ?? 0)) {
          end(Fate.Shaded, weight);
          continue;
        }
        const watts = weight * REFLECTANCE;
        tally[layout.absorbed + group] += weight - watts;
        if (second < (spot.blocked ?? 0)) {
          end(Fate.BlockedByFacet, watts);
          continue;
        }
        const r =
          spot.flatRadius === undefined
            ? spot.sigma * Math.sqrt(-2 * Math.log(1 - radial))
            : spot.flatRadius * Math.sqrt(radial);
        const u = r * Math.cos(turn) + (spot.centre?.[0] ?? 0);
        const v = r * Math.sin(turn) + (spot.centre?.[1] ?? 0);
        const distance = line ? Math.abs(v) : Math.hypot(u, v);
        end(distance <= half ? Fate.Intercepted : ray % 2 ? Fate.SpilledOnGround : Fate.SpilledToSky, watts);
        const curveBin = Math.floor((distance / half / CURVE_MAX_SCALE) ** 2 * CURVE_BINS);
        tally[place.curve + Math.min(curveBin, CURVE_BINS)] += watts;
        const spotBin = Math.floor((distance / spotRadius) ** 2 * SPOT_BINS);
        tally[place.spot + Math.min(spotBin, SPOT_BINS)] += watts;
        const iu = Math.floor((u / design.window.width + 0.5) * place.nu);
        const iv = Math.floor((v / design.window.height + 0.5) * place.nv);
        if (iu >= 0 && iu < place.nu && iv >= 0 && iv < place.nv) {
          tally[place.map + iv * place.nu + iu] += watts;
          tally[place.moments] += watts;
          tally[place.moments + 1] += watts * u;
          tally[place.moments + 2] += watts * v;
        }
      }
    }
    slots.push(tally);
  }
  const batches = options.slots * batchesPerSlot;
  return {
    seed: String(options.seed),
    slots,
    batchesPerSlot,
    batches,
    rays: batches * rays * spots.length,
    interrupted: false,
    targetReached: true,
    seconds: 0,
    workers: 0,
  };
}
