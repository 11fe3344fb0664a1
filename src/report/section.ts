/** What a study hands in for the report page: pictures, tables and files, each with its words. */
import type { Vec3 } from '../scene/types.js';
import type { DrawnFigure } from './types.js';

export interface SectionFigure {
  readonly drawn: DrawnFigure;
  /** One sentence under the figure; also its name for those who do not see it. */
  readonly caption: string;
  /** What the picture shows, in words, for those who do not see it. */
  readonly description: string;
  /** Name of the file of `ReportSection.csv` that holds the figure's data; null where none does. */
  readonly csv: string | null;
}

export interface SectionTable {
  readonly caption: string;
  readonly head: readonly string[];
  /** As people read them, each with unit and error; as many cells as the head. The first is the row's name. */
  readonly rows: readonly (readonly string[])[];
}

export interface SectionCsv {
  /** Bare file name, e.g. "day.csv". */
  readonly name: string;
  /** As `toCsv` makes it: cells that a spreadsheet could run are neutralised there. */
  readonly text: string;
}

/** A moment of a day, for the picture in space. */
export interface ViewStep {
  /** What the clock shows. */
  readonly label: string;
  /** Unit vector to the sun: east, north, up. */
  readonly sunDirection: Vec3;
  /** Receivers against where the scene has them, by name: east, north, up, m. One that is not named stays. */
  readonly receiverOffsets: Readonly<Record<string, Vec3>>;
}

/** One part of the report page. All texts are plain text; markup in them is shown, never followed. */
export interface ReportSection {
  /** Letters, digits and dashes, different from the other sections'. */
  readonly id: string;
  readonly title: string;
  /** The finding in one or two sentences. */
  readonly lead: string;
  readonly figures: readonly SectionFigure[];
  readonly tables: readonly SectionTable[];
  readonly csv: readonly SectionCsv[];
  /** Formulas and their sources, one sentence each; they go to the end of the page. */
  readonly methods?: readonly string[];
  /** Steps of a day in their order, for the time slider of the picture in space. */
  readonly viewSteps?: readonly ViewStep[];
}
