/** The tracer's figures beside those of the second opinion. */
import type { Figure } from '../../src/result/types.js';
import { runScene } from '../../src/run/run.js';
import { type Traced, traceScene } from '../../src/study/trace.js';
import { sceneOf } from '../support/trace-text.js';
import type { Fault } from './landing.js';
import { OPENINGS, type Opinion, type Orders, secondOpinion } from './reference.js';
import type { OpinionScene } from './scenes.js';

export interface Compared {
  readonly scene: string;
  readonly figure: string;
  readonly tracer: number;
  readonly reference: number;
  /** Standard error of the tracer, with the allowance for whole rays. */
  readonly standardError: number;
  /** How far the reference can be off: the change to its coarser self. */
  readonly referenceError: number;
  readonly z: number;
}

/**
 * Where a figure hangs on one number of a ray alone, all shifted lattices count the same rays to within one, and the spread of batches
 * says less than the rounding of the count: this many rays per batch are allowed on top, in quadrature.
 */
const RAY_ALLOWANCE = 0.3;

/** Relative accuracy of the tracer's tables of directions and deviates, which the spread of batches cannot show. */
const TABLE_ALLOWANCE = 1e-6;

interface Reading {
  readonly value: number;
  readonly error: number;
}

function readingOf(values: readonly number[]): Reading {
  const count = values.length;
  const value = values.reduce((sum, entry) => sum + entry, 0) / count;
  const squares = values.reduce((sum, entry) => sum + (entry - value) ** 2, 0);
  return { value, error: Math.sqrt(squares / (count * (count - 1))) };
}

/** Mean squares about the receiver's middle from the maps of the slots; cells taken out by Sheppard's correction. */
function secondMoments(traced: Traced, receiver: number): { uu: Reading; vv: Reading; uv: Reading } {
  const { map, nu, nv } = traced.prepared.layout.receivers[receiver];
  const { width, height } = traced.prepared.field.receivers[receiver].design.window;
  const [cu, cv] = [width / nu, height / nv];
  const slots = traced.outcome.slots.map((slot) => {
    const sums = { power: 0, uu: 0, vv: 0, uv: 0 };
    for (let iv = 0; iv < nv; iv++) {
      for (let iu = 0; iu < nu; iu++) {
        const power = slot[map + iv * nu + iu];
        const u = (iu + 0.5) * cu - width / 2;
        const v = (iv + 0.5) * cv - height / 2;
        sums.power += power;
        sums.uu += power * u * u;
        sums.vv += power * v * v;
        sums.uv += power * u * v;
      }
    }
    return sums;
  });
  const of = (key: 'uu' | 'vv' | 'uv', correction: number) =>
    readingOf(slots.map((sums) => sums[key] / sums.power - correction));
  return { uu: of('uu', (cu * cu) / 12), vv: of('vv', (cv * cv) / 12), uv: of('uv', 0) };
}

export interface TracerFigures {
  readonly scene: OpinionScene;
  readonly figures: ReadonlyMap<string, Reading>;
  /** Share of the light one ray of a batch stands for, over the square root of the batches' number. */
  readonly rayShare: number;
  readonly reflected: number;
}

export async function traceFigures(
  scene: OpinionScene,
  rays: number,
  seed: string,
  workers: 0 | 2,
): Promise<TracerFigures> {
  const parsed = sceneOf(scene.text);
  const traced = await traceScene(parsed, runScene, { rays, seed, target: null, maxRays: rays, workers });
  const index = scene.receiver ?? 0;
  const result = traced.summary.result.receivers[index];
  const figures = new Map<string, Reading>();
  const add = (name: string, figure: Figure, scale = 1) =>
    figures.set(name, { value: figure.value * scale, error: figure.std_err * scale });
  const line = (key: string) => result.ledger.lines.find((entry) => entry.key === key)!.power;
  const cosine = line('cosine');
  figures.set('incident W', { value: result.ledger.available_w - cosine.value, error: cosine.std_err });
  add('shaded W', line('shaded'));
  add('reflected W', result.reflected_power);
  add('intercepted W', result.intercepted_power);
  add('intercept factor', result.intercept_factor);
  add('spill', result.spill_fraction);
  add('blocked', result.blocked_fraction);
  for (const scale of OPENINGS) {
    if (scale === 1) continue;
    const point = result.intercept_curve.find((entry) => entry.scale === scale)!;
    figures.set(`within ${scale}`, { value: point.intercept, error: point.std_err });
  }
  const inner = figures.get(`within ${OPENINGS[0]}`)!;
  const flux = result.reflected_power.value / (result.aperture_area_m2 * OPENINGS[0] ** 2);
  const round = result.aperture.shape === 'round';
  if (round) figures.set('centre flux W/m2', { value: inner.value * flux, error: inner.error * flux });
  if (result.kind !== 'tube') {
    add('centroid u mm', result.spot.centroid_u);
    add('centroid v mm', result.spot.centroid_v);
    const moments = secondMoments(traced, index);
    for (const key of ['uu', 'vv', 'uv'] as const) {
      figures.set(`second moment ${key} mm2`, {
        value: 1e6 * moments[key].value,
        error: 1e6 * moments[key].error,
      });
    }
  }
  const groupRays = result.ledger.rays / traced.outcome.batches;
  return {
    scene,
    figures,
    rayShare: 1 / (groupRays * Math.sqrt(traced.outcome.slots.length)),
    reflected: result.reflected_power.value,
  };
}

function referenceFigures(opinion: Opinion, text: string): ReadonlyMap<string, number> {
  const figures = new Map<string, number>();
  const { reflected, moments, within } = opinion;
  const caught = within[OPENINGS.indexOf(1)];
  figures.set('incident W', opinion.incident);
  figures.set('shaded W', opinion.shaded);
  figures.set('reflected W', reflected);
  figures.set('intercepted W', caught);
  figures.set('intercept factor', caught / reflected);
  figures.set('spill', 1 - (caught + opinion.blocked) / reflected);
  figures.set('blocked', opinion.blocked / reflected);
  OPENINGS.forEach((scale, i) => {
    if (scale !== 1) figures.set(`within ${scale}`, within[i] / reflected);
  });
  const { aperture } = sceneDesign(text);
  if (aperture.shape === 'round') {
    figures.set('centre flux W/m2', within[0] / ((Math.PI / 4) * (aperture.diameter * OPENINGS[0]) ** 2));
  }
  if (moments !== null) {
    figures.set('centroid u mm', 1e3 * moments.u);
    figures.set('centroid v mm', 1e3 * moments.v);
    for (const key of ['uu', 'vv', 'uv'] as const)
      figures.set(`second moment ${key} mm2`, 1e6 * moments[key]);
  }
  return figures;
}

/** Design of the receiver looked at: a standing one, or that of the last dish. */
function sceneDesign(text: string) {
  const scene = sceneOf(text);
  return scene.receivers[0]?.design ?? scene.dishes.at(-1)!.receiver!.design;
}

/** The rule with every number of nodes multiplied and rounded. */
export function scaled(orders: Orders, factor: number): Orders {
  const times = (count: number, least: number) => Math.max(least, Math.round(count * factor));
  return {
    ...orders,
    disc: [times(orders.disc[0], 1), times(orders.disc[1], 3)],
    aureole: [times(orders.aureole[0], 1), times(orders.aureole[1], 3)],
    mirror: [times(orders.mirror[0], 2), times(orders.mirror[1], 2)],
    lobes: orders.lobes.map(([rings, turns]) => [times(rings, 1), times(turns, 4)] as const),
    edgeStep: Math.min(1.3, orders.edgeStep / factor),
  };
}

export interface OpinionPair {
  readonly fine: Opinion;
  readonly coarse: Opinion;
}

/** @param factors of the scene's orders: for the figures, and for the estimate of their error */
export function opinionPair(
  scene: OpinionScene,
  factors: readonly [number, number],
  fault: Fault = 'none',
): OpinionPair {
  const parsed = sceneOf(scene.text);
  const [fine, coarse] = factors.map((factor) =>
    secondOpinion(parsed, { orders: scaled(scene.orders, factor), fault, receiver: scene.receiver ?? 0 }),
  );
  return { fine, coarse };
}

export function compareWith(traced: TracerFigures, { fine, coarse }: OpinionPair): Compared[] {
  const { scene, figures, rayShare } = traced;
  const finer = referenceFigures(fine, scene.text);
  const coarser = referenceFigures(coarse, scene.text);
  const compared: Compared[] = [];
  for (const [figure, { value, error }] of figures) {
    const reference = finer.get(figure);
    if (reference === undefined) continue;
    // Neither side has any: nothing to compare.
    if (Math.abs(reference) < 1e-13 && value === 0) continue;
    const isShare = figure.startsWith('within') || ['spill', 'blocked', 'intercept factor'].includes(figure);
    const one = figure.startsWith('centre flux')
      ? reference / (fine.within[0] / fine.reflected)
      : figure.endsWith(' W')
        ? traced.reflected
        : isShare
          ? 1
          : 0;
    const standardError = Math.hypot(
      error,
      RAY_ALLOWANCE * rayShare * one,
      TABLE_ALLOWANCE * Math.abs(value),
    );
    const referenceError = Math.abs(reference - coarser.get(figure)!);
    compared.push({
      scene: scene.name,
      figure,
      tracer: value,
      reference,
      standardError,
      referenceError,
      z: (value - reference) / standardError,
    });
  }
  return compared;
}

export function tableOf(rows: readonly Compared[]): string {
  const lines = rows.map(({ scene, figure, tracer, reference, standardError, referenceError, z }) =>
    [
      scene.padEnd(58),
      figure.padEnd(22),
      tracer.toPrecision(9).padStart(14),
      reference.toPrecision(9).padStart(14),
      standardError.toExponential(1).padStart(9),
      referenceError.toExponential(1).padStart(9),
      z.toFixed(2).padStart(7),
    ].join(' '),
  );
  return lines.join('\n');
}
