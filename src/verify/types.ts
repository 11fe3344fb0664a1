/** What a check of the whole program is, and what it found. */
import type { Traced } from '../study/trace.js';

/** A figure as traced, with its standard error. */
export interface Reading {
  readonly value: number;
  readonly std_err: number;
}

export interface Source {
  /**
   * `closed form`: worked out on paper; anyone can do so anew. `publication`: figure or formula were read there, or where
   * they are quoted, which the text then says. `from memory`: a figure, formula or constant of a publication as remembered,
   * not read again.
   */
  readonly kind: 'publication' | 'closed form' | 'common practice' | 'from memory';
  /** The formula and how it comes about, or the publication and how far it was read. */
  readonly text: string;
}

export interface Fault {
  /** The fault in words. */
  readonly fault: string;
  /** Values put into one of the check's scenes, as `--set` takes them. */
  readonly set: readonly string[];
  /** Which of its scenes; the first unless stated. */
  readonly scene?: number;
}

export interface Check {
  /** Words and figures joined by hyphens: the name for `--only`. */
  readonly name: string;
  readonly group: string;
  /** What must come out, in one plain line. */
  readonly what: string;
  /** Names of the scene files, without folder and ending. */
  readonly scenes: readonly string[];
  /** About this many rays for each scene. */
  readonly rays: number;
  /**
   * `sampled`: off by no more than the tolerance and 4 standard errors. `exact`: off by no more than the tolerance. `at most`:
   * above the expected value by no more than the tolerance and 4 standard errors.
   */
  readonly judged: 'sampled' | 'exact' | 'at most';
  readonly expected: number;
  /** Of `expected`; "1" for a pure number. */
  readonly unit: string;
  /** What the expected value allows itself, in its own unit. */
  readonly tolerance: number;
  /** Why that much. */
  readonly tolerated: string;
  /** Takes the figure from the traces of the scenes, in their order. */
  readonly read: (traces: readonly Traced[]) => Reading;
  readonly source: Source;
  /** A small fault of the scene that must make the check fail; where there is none, why not. */
  readonly sabotage: Fault | { readonly none: string };
}

/** What one check found, as it appears in the JSON document. */
export interface Verdict {
  readonly name: string;
  readonly group: string;
  readonly what: string;
  readonly scenes: readonly string[];
  readonly judged: Check['judged'];
  readonly expected: number;
  readonly unit: string;
  readonly tolerance: number;
  readonly tolerated: string;
  readonly got: number;
  readonly std_err: number;
  /**
   * What the deviation is beyond the tolerance, in standard errors; null for exact checks, and where it is beyond a
   * tolerance without any standard error.
   */
  readonly z: number | null;
  readonly passed: boolean;
  /** How often luck of the draw fails it where the expected value is right; 0 for exact checks. */
  readonly chance_of_false_alarm: number;
  readonly source: Source;
  /** The fault that was put into its scene, in words; null for none. */
  readonly fault: string | null;
  readonly seed: string;
  readonly rays: number;
}

/** What all checks found. */
export interface VerifyResult {
  readonly schema_version: 1;
  readonly program: { readonly name: 'rowfocus'; readonly version: string };
  readonly kind: 'verify';
  /** The checks' own seeds begin with it. */
  readonly seed: string;
  /** Each check has its own small fault put in, where it has one: those must fail. */
  readonly with_faults: boolean;
  readonly rays: number;
  readonly checks: readonly Verdict[];
  readonly passed: number;
  readonly failed: number;
  /** Checks that passed with a fault in them. */
  readonly missed: number;
  /** Largest z of all and the check that has it; null where none has a z. */
  readonly worst_z: { readonly z: number; readonly check: string } | null;
  /** Largest z that passes. */
  readonly most_z: number;
  /** How often a run of these checks fails by luck of the draw, all expected values being right. */
  readonly chance_of_false_alarm: number;
  /** How many expected values come from where. */
  readonly by_source: Readonly<Record<Source['kind'], number>>;
  readonly interrupted: boolean;
}
