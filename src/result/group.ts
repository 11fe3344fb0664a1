/** What the tallies say of one group of mirrors (all that serve one receiver), or of several groups together. */
import { FATES, Fate, type TallyLayout } from '../kernel/tally.js';
import type { PreparedScene } from '../prepare.js';
import {
  exactFigure,
  figureOf,
  powerFigure,
  type Resampled,
  resample,
  type SlotSums,
  shareFigure,
  type TallyReader,
} from './resampled.js';
import type { Figure, Ledger, LedgerLine } from './types.js';

/** Fates of rays that left the mirrors: their watts sum to the reflected power. */
export const REFLECTED_FATES: readonly number[] = [
  Fate.BlockedByFacet,
  Fate.BlockedByBlocker,
  Fate.BlockedByReceiver,
  Fate.Intercepted,
  Fate.InterceptedElsewhere,
  Fate.SpilledOnReceiver,
  Fate.SpilledOnGround,
  Fate.SpilledToSky,
  Fate.Lost,
];

export const BLOCKED_FATES: readonly number[] = [
  Fate.BlockedByFacet,
  Fate.BlockedByBlocker,
  Fate.BlockedByReceiver,
];

/** Spill as the figure `spill_fraction` has it: past the opening of the own receiver, wherever it ends. */
export const SPILLED_FATES: readonly number[] = [
  Fate.InterceptedElsewhere,
  Fate.SpilledOnReceiver,
  Fate.SpilledOnGround,
  Fate.SpilledToSky,
];

/** Light that nothing stopped on its way: what openings and spot diameters are measured against. */
export const UNBLOCKED_FATES: readonly number[] = [Fate.Intercepted, ...SPILLED_FATES];

/** Power of some fates, summed over some groups, W. */
export function fatePower(
  layout: TallyLayout,
  groups: readonly number[],
  fates: readonly number[],
): (read: TallyReader) => number {
  const offsets = groups.flatMap((group) => fates.map((fate) => layout.watts + group * FATES + fate));
  return (read) => {
    let power = 0;
    for (const offset of offsets) power += read(offset);
    return power;
  };
}

/** Rays of some fates over the whole run, summed over some groups. */
export function fateRays(
  layout: TallyLayout,
  sums: SlotSums,
  groups: readonly number[],
  fates: readonly number[],
): number {
  let rays = 0;
  for (const group of groups) {
    for (const fate of fates) rays += sums.sum[layout.counts + group * FATES + fate];
  }
  return rays;
}

/** Where there is no light a share of it can be anything; the error is that of an even spread from 0 to 1. */
const SHARE_OF_NOTHING: Figure = {
  value: 0,
  std_err: 1 / Math.sqrt(12),
  ci95: [0, 1],
  unit: '1',
  limit: 'upper',
};

const ALL_FATES: readonly number[] = Object.values(Fate);

/** Figures of the light of one or more groups, with their leave-one-out values. */
export interface GroupFigures {
  readonly reflected_power: Figure;
  readonly intercepted_power: Figure;
  readonly intercept_factor: Figure;
  readonly spill_fraction: Figure;
  readonly blocked_fraction: Figure;
  readonly resampled: Readonly<
    Record<
      'reflected_power' | 'intercepted_power' | 'intercept_factor' | 'spill_fraction' | 'blocked_fraction',
      Resampled
    >
  >;
  /** Rays that left the mirrors. */
  readonly reflectedRays: number;
  /** Watts one launched ray stands for, on average. */
  readonly rayPower: number;
}

/**
 * Reflected and intercepted power and the fractions of the reflected light.
 *
 * Reflected power is incident - unlit - shaded - absorbed in film; as every ray's watts end in exactly one place, that is
 * the watts of all fates after a mirror. Film losses of all bounces are thus taken off, not only those of the first.
 *
 * Intercepted power is all light through the receivers' openings, that of other dishes included; the intercept factor counts
 * own light only.
 * @param lattices that trace these groups: facets x batches
 */
export function groupFigures(
  layout: TallyLayout,
  sums: SlotSums,
  groups: readonly number[],
  lattices: number,
): GroupFigures {
  const reflected = fatePower(layout, groups, REFLECTED_FATES);
  const own = fatePower(layout, groups, [Fate.Intercepted]);
  const ofReflected = (fates: readonly number[]) => {
    const power = fatePower(layout, groups, fates);
    return resample(sums, (read) => {
      const all = reflected(read);
      return all > 0 ? power(read) / all : 0;
    });
  };
  const resampled = {
    reflected_power: resample(sums, reflected),
    intercepted_power: resample(
      sums,
      (read) => own(read) + sumOver(groups, (group) => read(layout.strayWatts + group)),
    ),
    intercept_factor: ofReflected([Fate.Intercepted]),
    spill_fraction: ofReflected(SPILLED_FATES),
    blocked_fraction: ofReflected(BLOCKED_FATES),
  };
  const rays = (fates: readonly number[]) => fateRays(layout, sums, groups, fates);
  const caughtRays =
    rays([Fate.Intercepted]) + sumOver(groups, (group) => sums.sum[layout.strayRays + group]);
  const launched = rays(ALL_FATES);
  const reflectedRays = rays(REFLECTED_FATES);
  const incident = resample(sums, (read) => sumOver(groups, (group) => read(layout.incident + group))).value;
  const rayPower = launched > 0 ? incident / launched : 0;
  const against = (misses: number) => ({ misses: Math.max(0, misses), lattices });
  const shaded = rays([Fate.Shaded]);
  // Rays that a black film sends on carry nothing: their number says nothing of any share.
  const share = (quantity: Resampled, fates: readonly number[]) =>
    resampled.reflected_power.value > 0
      ? shareFigure(quantity, rays(fates), reflectedRays, lattices)
      : SHARE_OF_NOTHING;
  return {
    reflected_power: powerFigure(
      resampled.reflected_power,
      reflectedRays,
      launched,
      rayPower,
      shaded > 0 ? against(shaded) : null,
    ),
    intercepted_power: powerFigure(
      resampled.intercepted_power,
      caughtRays,
      launched,
      rayPower,
      against(launched - caughtRays),
    ),
    intercept_factor: share(resampled.intercept_factor, [Fate.Intercepted]),
    spill_fraction: share(resampled.spill_fraction, SPILLED_FATES),
    blocked_fraction: share(resampled.blocked_fraction, BLOCKED_FATES),
    resampled,
    reflectedRays,
    rayPower,
  };
}

/** Facets of each group (all that serve one receiver) that get sunlight, and those turned from the sun as a whole. */
export interface MirrorCounts {
  readonly lit: Uint32Array;
  readonly turned: Uint32Array;
}

/** Counted once for all groups: a field has as many groups as receivers. */
export function countMirrors(prepared: PreparedScene): MirrorCounts {
  const { field, facetPower } = prepared;
  const lit = new Uint32Array(field.receivers.length);
  const turned = new Uint32Array(field.receivers.length);
  field.facets.forEach(({ receiver }, i) => {
    (facetPower[i] > 0 ? lit : turned)[receiver]++;
  });
  return { lit, turned };
}

/** Lattices that trace the mirrors of some groups in a run: one per lit facet and batch. */
export function latticesOf(mirrors: MirrorCounts, sums: SlotSums, groups: readonly number[]): number {
  return sumOver(groups, (group) => mirrors.lit[group]) * sums.slots.length * sums.batchesPerSlot;
}

function sumOver(groups: readonly number[], value: (group: number) => number): number {
  let sum = 0;
  for (const group of groups) sum += value(group);
  return sum;
}

const COSINE_ALONE = 'cosine: mirrors not square to the sun';
/** A mirror that is turned away gets no rays, or such as carry nothing: its share of beam x area is part of this line. */
export const COSINE_AND_TURNED = 'cosine, and mirrors turned from the sun';

const LINES_BEFORE_FILM: readonly { readonly key: string; readonly label: string; readonly fate: number }[] =
  [
    { key: 'unlit', label: 'turned from the sun: watts under cosine', fate: Fate.Unlit },
    { key: 'shaded', label: 'shaded before the mirror', fate: Fate.Shaded },
  ];

const LINES_AFTER_FILM: readonly { readonly key: string; readonly label: string; readonly fate: number }[] = [
  { key: 'blocked_by_facet', label: 'blocked by another mirror', fate: Fate.BlockedByFacet },
  {
    key: 'blocked_by_blocker',
    label: 'blocked by a beam, post or other blocker',
    fate: Fate.BlockedByBlocker,
  },
  {
    key: 'blocked_by_receiver',
    label: 'blocked by the side or back of a receiver',
    fate: Fate.BlockedByReceiver,
  },
  { key: 'intercepted', label: 'through the opening of its own receiver', fate: Fate.Intercepted },
  { key: 'intercepted_elsewhere', label: 'caught by another receiver', fate: Fate.InterceptedElsewhere },
  {
    key: 'spilled_on_receiver',
    label: 'spilled on a receiver front beside the opening',
    fate: Fate.SpilledOnReceiver,
  },
  { key: 'spilled_on_ground', label: 'spilled on the ground', fate: Fate.SpilledOnGround },
  { key: 'spilled_to_sky', label: 'spilled to the sky', fate: Fate.SpilledToSky },
  { key: 'lost', label: 'lost between mirrors', fate: Fate.Lost },
];

/** Fates that cannot happen in a scene: no ray there is a fact, not a small sample. */
function impossibleFates(prepared: PreparedScene): ReadonlySet<number> {
  const { field } = prepared;
  const fates = new Set<number>();
  if (!field.blockers.some((blocker) => blocker.bodyOf < 0)) fates.add(Fate.BlockedByBlocker);
  if (field.receivers.length < 2) fates.add(Fate.InterceptedElsewhere);
  if (field.ground === null) fates.add(Fate.SpilledOnGround);
  return fates;
}

/**
 * Where all sunlight on the mirrors' area goes. The lines sum to beam irradiance x mirror area: the cosine line is what is
 * missing between that and the light that would fall on the unshaded mirrors.
 */
export function ledgerOf(
  prepared: PreparedScene,
  mirrors: MirrorCounts,
  sums: SlotSums,
  groups: readonly number[],
): Ledger {
  const { layout } = prepared;
  const mirrorArea = sumOver(groups, (group) => prepared.mirrorArea[group]);
  const available = prepared.moment.dni * mirrorArea;
  const rays = fateRays(layout, sums, groups, ALL_FATES);
  const incident = resample(sums, (read) => sumOver(groups, (group) => read(layout.incident + group)));
  const rayPower = rays > 0 ? incident.value / rays : 0;
  const never = impossibleFates(prepared);
  const lattices = latticesOf(mirrors, sums, groups);

  const line = (key: string, label: string, count: number | null, power: Figure): LedgerLine => ({
    key,
    label,
    rays: count,
    power,
    share: available > 0 ? power.value / available : 0,
  });
  const fateLine = ({ key, label, fate }: (typeof LINES_BEFORE_FILM)[number]): LedgerLine => {
    const count = fateRays(layout, sums, groups, [fate]);
    const power = resample(sums, fatePower(layout, groups, [fate]));
    const exact = fate === Fate.Unlit || (count === 0 && never.has(fate));
    return line(
      key,
      label,
      count,
      exact
        ? exactFigure(power.value, 'W')
        : powerFigure(power, count, rays, rayPower, { misses: rays - count, lattices }),
    );
  };

  const turned =
    fateRays(layout, sums, groups, [Fate.Unlit]) > 0 || groups.some((group) => mirrors.turned[group] > 0);

  // A single slot cannot show the spread of these two; as if each ray had carried a whole share or none.
  const singleSlotError = (power: number) => (rays > 0 ? Math.abs(power) / Math.sqrt(rays) : 0);
  const cosine = {
    value: available - incident.value,
    replicates: incident.replicates.map((entry) => available - entry),
  };
  const film = resample(sums, (read) => sumOver(groups, (group) => read(layout.absorbed + group)));
  return {
    mirror_area_m2: mirrorArea,
    available_w: available,
    rays,
    lines: [
      line(
        'cosine',
        turned ? COSINE_AND_TURNED : COSINE_ALONE,
        null,
        figureOf(cosine, 'W', { singleSlotError: singleSlotError(cosine.value) }),
      ),
      ...LINES_BEFORE_FILM.map(fateLine),
      line(
        'film',
        'absorbed in the film',
        null,
        figureOf(film, 'W', { min: 0, singleSlotError: singleSlotError(film.value) }),
      ),
      ...LINES_AFTER_FILM.map(fateLine),
    ],
  };
}
