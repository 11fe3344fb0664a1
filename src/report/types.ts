/** What the pictures and files are made from, beside the results themselves. */
import type { FluxGrid, ReceiverResult } from '../result/types.js';

/** One line of a sweep plot. */
export interface SweepSeries {
  readonly label: string;
  /** One per x. NaN leaves a gap. */
  readonly value: readonly number[];
  /** 95 % half width, one per x. */
  readonly halfWidth: readonly number[];
}

/** A sweep over one quantity. */
export interface SweepPlot {
  readonly title: string;
  readonly subtitle: string;
  /** With its unit, e.g. "slope error across / mrad". */
  readonly xLabel: string;
  readonly yLabel: string;
  /** Rising. */
  readonly x: readonly number[];
  readonly series: readonly SweepSeries[];
  readonly requirement?: {
    readonly value: number;
    /** In words, e.g. "spill at most 5 %". */
    readonly label: string;
    /** The side that meets it. */
    readonly relation: '<=' | '>=';
  };
  /** Where the first series meets the requirement, with its 95 % interval. */
  readonly crossing?: { readonly value: number; readonly interval: readonly [number, number] };
}

/** A sweep over two quantities. */
export interface SweepMap {
  readonly title: string;
  readonly subtitle: string;
  readonly xLabel: string;
  readonly yLabel: string;
  /** Rising. */
  readonly x: readonly number[];
  /** Rising. */
  readonly y: readonly number[];
  /** value[iy][ix]; NaN where there is none. */
  readonly value: readonly (readonly number[])[];
  /** 95 % half widths in the same order, for the digits of the numbers; NaN where there is none. */
  readonly halfWidth?: readonly (readonly number[])[];
  readonly valueLabel: string;
  /** A line to draw through the map, e.g. the requirement. */
  readonly requirement?: { readonly value: number; readonly label: string };
}

/** What a figure says about the run it came from. */
export interface RunStamp {
  /** The scene's title. */
  readonly title: string;
  readonly seed: string;
  readonly rays: number;
  /** True where `rays` are mirror points that left footprints. */
  readonly points?: boolean;
  readonly sceneHash: string;
}

/** One of the maps of a comparison. */
export interface ComparePanel {
  /** What tells this scene from the others. */
  readonly title: string;
  readonly receiver: ReceiverResult;
  readonly grid: FluxGrid;
}

export interface CompareFigureInput {
  readonly title: string;
  readonly subtitle: string;
  /** Two to four. */
  readonly panels: readonly ComparePanel[];
}

/** Where data came to stand inside a figure, in the SVG's own pixels (the PNG has FIGURE_SCALE times as many). */
export interface PlotArea {
  readonly left: number;
  readonly top: number;
  readonly width: number;
  readonly height: number;
  /** Data values at the left and right edge, and at the bottom and top edge. */
  readonly x: readonly [number, number];
  readonly y: readonly [number, number];
}

/** A finished picture. */
export interface DrawnFigure {
  readonly svg: string;
  /** SVG pixels. */
  readonly width: number;
  readonly height: number;
  /** One per map or plot, from left to right. */
  readonly areas: readonly PlotArea[];
}

/** A file that a run left, as the JSON document lists it. */
export interface WrittenFile {
  /** What it is, e.g. "flux_map". */
  readonly what: string;
  /** Receiver it belongs to; null for the whole scene. */
  readonly receiver: string | null;
  /** Path relative to the output folder. */
  readonly file: string;
}

/** The only part of the JSON document that depends on the machine. */
export interface MachineRun {
  readonly wall_time_s: number;
  readonly workers: number;
}
