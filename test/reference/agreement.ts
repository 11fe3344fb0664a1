/**
 * How a traced figure is held against a published or derived value: it may be off by 4 of its own standard errors plus
 * the tolerance that the reference states for itself (rounding, first-order formula), never by more.
 */
import { expect, test } from 'vitest';
import type { Ledger, Summary } from '../../src/result/types.js';
import { traceText } from '../support/trace-text.js';

export interface Measured {
  readonly value: number;
  readonly std_err: number;
}

export interface Check {
  readonly label: string;
  readonly expected: number;
  /** What the reference allows itself, in the unit of the value; on top come 4 standard errors. */
  readonly tolerance: number;
  readonly read: (summary: Summary) => Measured;
}

export interface ReferenceCase {
  /** Row of the reference table and the numbers that tell this case from others; also the seed. */
  readonly id: string;
  readonly scene: string;
  readonly rays: number;
  readonly checks: readonly Check[];
  /** The same scene with one small fault put in, each in turn: at least one check must then fail. */
  readonly sabotage?: readonly { readonly fault: string; readonly scene: string }[];
  /** Highest concentration that light can have here (IMG-04), where there is a limit. */
  readonly limit?: number;
}

const STANDARD_ERRORS = 4;
/** Of power sums: rounding of some 1e6 additions, far below any physics. */
const LEDGER_TOLERANCE = 1e-12;

/** How far off, in units of what is allowed: up to 1 agrees. */
export function strain(check: Check, measured: Measured): number {
  const deviation = Math.abs(measured.value - check.expected);
  return deviation === 0 ? 0 : deviation / (STANDARD_ERRORS * measured.std_err + check.tolerance);
}

function expectBalanced(ledger: Ledger): void {
  let rays = 0;
  let watts = 0;
  for (const line of ledger.lines) {
    rays += line.rays ?? 0;
    watts += line.power.value;
  }
  expect(rays).toBe(ledger.rays);
  expect(Math.abs(watts / ledger.available_w - 1)).toBeLessThan(LEDGER_TOLERANCE);
}

/** Ledger: counts exact, watts to 1e-12. Concentration: never above the limit by more than 5 standard errors. */
export function expectSound(summary: Summary, limit = Number.POSITIVE_INFINITY): void {
  const { result } = summary;
  expect(result.total.ledger.rays).toBe(result.rays);
  expectBalanced(result.total.ledger);
  for (const receiver of result.receivers) {
    expectBalanced(receiver.ledger);
    for (const figure of [receiver.peak_concentration, receiver.concentration_ratio]) {
      expect(figure.value - 5 * figure.std_err).toBeLessThanOrEqual(limit);
    }
  }
}

/** One test per case, and one more for each fault put in. */
export function testCases(cases: readonly ReferenceCase[]): void {
  for (const { id, scene, rays, checks, sabotage = [], limit } of cases) {
    test(id, async ({ annotate }) => {
      const summary = await traceText(scene, { rays, seed: id });
      expectSound(summary, limit);
      for (const check of checks) {
        const measured = check.read(summary);
        await annotate(sentence(check, measured));
        expect(strain(check, measured), sentence(check, measured)).toBeLessThanOrEqual(1);
      }
    });
    for (const { fault, scene: faulty } of sabotage) {
      test(`${id}: fails with ${fault}`, async ({ annotate }) => {
        const summary = await traceText(faulty, { rays, seed: id });
        const strains = checks.map((check) => strain(check, check.read(summary)));
        await annotate(`off by ${Math.max(...strains).toPrecision(3)} x what is allowed`);
        expect(Math.max(...strains)).toBeGreaterThan(1);
      });
    }
  }
}

function sentence(check: Check, { value, std_err }: Measured): string {
  const deviation = value - check.expected;
  return (
    `${check.label}: expected ${check.expected}, got ${value.toPrecision(7)} +- ${std_err.toPrecision(2)}, ` +
    `off by ${deviation.toExponential(2)} (allowed 4 x +- and ${check.tolerance.toExponential(1)})`
  );
}

/** The figure of the only receiver by which most cases are judged. */
export function interceptFactor(summary: Summary): Measured {
  return summary.result.receivers[0].intercept_factor;
}

/** The same where nothing may miss: a standard error would let a few lost rays pass. */
export function wholeShare(summary: Summary): Measured {
  return { value: interceptFactor(summary).value, std_err: 0 };
}
