/** Re-settings in words, tables and a figure. */
import { createColors } from 'picocolors';
import { type CsvCell, toCsv } from '../report/csv.js';
import { plainText } from '../report/plain-text.js';
import type { YearCurves } from '../report/season-curves.js';
import type { SectionCsv, SectionTable } from '../report/section.js';
import { wrap } from '../report/terminal-text.js';
import { formatFigure, formatNumber, halfWidth } from '../result/number-format.js';
import type { Figure, Warning } from '../result/types.js';
import {
  changeRows,
  lateRows,
  monthAndDay,
  resettingRows,
  settingEnergyRows,
  wayRows,
} from '../study/resetting-rows.js';
import type { Resetting, ResettingStudy } from '../study/resetting-study.js';
import type { Level, SettingEnergy } from '../study/season-resetting.js';
import { yearCautions, yearHead, yearWarnings } from '../study/season-result.js';
import type { ResetKind } from '../study/setting-node.js';
import { type OpenYear, type YearFlags, yearContext } from './season-options.js';
import type { YearReport } from './season-output.js';
import { noticesText, PARTIAL_COLUMN, receiversText } from './season-text.js';
import type { Channel, Session } from './session.js';
import { textTable } from './text-table.js';

export interface StudiedWay {
  readonly kind: ResetKind;
  readonly made: SettingEnergy;
  readonly study: ResettingStudy;
  /** Of recorded light; null for an optics table, and where the study was stopped before it was found. */
  readonly level: Level | null;
  /** 97.5 % sure to be above the relative error of the table; null where nothing tells. */
  readonly bound: number | null;
  /** False where the study was stopped before plans were looked at with fresh rays. */
  readonly whole: boolean;
}

export interface ResettingsFound {
  readonly ways: readonly StudiedWay[];
  /** What an interrupt has left out, in words; empty where all is there. */
  readonly missing: readonly string[];
}

/** The plan asked for: the largest number of changes. */
function asked({ resettings }: ResettingStudy): Resetting {
  return resettings[resettings.length - 1];
}

/** First or last of the settings tried: what lies beyond may be better. */
function isAtEnd({ table: { settings } }: ResettingStudy, setting: number): boolean {
  return settings.length > 1 && (setting === 0 || setting === settings.length - 1);
}

function planText(study: ResettingStudy, one: Resetting): string {
  const { settings, kind, days } = study.table;
  const text = (setting: number): string =>
    `${formatNumber(settings[setting].value)} ${kind.unit}${isAtEnd(study, setting) ? ' (the end of those tried)' : ''}`;
  if (one.changes === 0) return `all year ${text(one.plan.periods[0].setting)}`;
  return one.plan.periods
    .map(({ day, setting }) => `${monthAndDay(day, days)} to ${text(setting)}`)
    .join(', ');
}

/** Of the plan asked for, where it takes the first or the last setting tried. */
export function endWarnings(studies: readonly ResettingStudy[]): Warning[] {
  return studies.flatMap((study) => {
    const { settings, kind } = study.table;
    const taken = new Set(asked(study).plan.periods.map(({ setting }) => setting));
    const ends = [...taken].filter((setting) => isAtEnd(study, setting)).sort((a, b) => a - b);
    if (ends.length === 0) return [];
    const values = ends
      .map((setting) => `${formatNumber(settings[setting].value)} ${kind.unit}`)
      .join(' and ');
    return [
      {
        code: 'setting_at_end',
        message: `The plan takes the ${kind.name} ${values}, the end of those tried; beyond may be better: widen --settings.`,
      },
    ];
  });
}

function energyText(one: Resetting): string {
  return `${one.checkedEnergy.value.toFixed(0)} ± ${halfWidth(one.checkedEnergy).toFixed(0)}`;
}

function gainText(one: Resetting): string {
  if (one.asked === 0) return '';
  return one.changes < one.asked ? 'none' : formatFigure(one.checkedGain, { bare: true });
}

type Cells = Pick<SectionTable, 'head' | 'rows'>;

export function wayAnswer({ study }: StudiedWay): string {
  const best = asked(study);
  const base = study.resettings[0];
  const gain = base.checkedEnergy.value > 0 ? best.checkedEnergy.value / base.checkedEnergy.value - 1 : 0;
  return (
    `${best.changes} changes a year catch ${energyText(best)} kWh, ${(100 * gain).toFixed(1)} % more than none; ` +
    `the best setting every day would catch ${study.checkedEveryDay.value.toFixed(0)} kWh.`
  );
}

/** The same with the way's name. */
export function titledAnswer(way: StudiedWay): string {
  return `Re-set ${way.study.table.kind.name}: ${wayAnswer(way)}`;
}

/** A line for each number of changes; heads in two lines, the second the unit. */
export function changesCells({ study }: StudiedWay): Cells {
  return {
    head: [
      'changes',
      'caught\nkWh',
      'last change\nbrings kWh',
      'sure',
      'of every day\n%',
      'leave one out\ncosts kWh',
    ],
    rows: study.resettings.map((one) => [
      String(one.asked),
      energyText(one),
      gainText(one),
      one.asked === 0 || one.changes < one.asked || one.gainIsSure === null
        ? ''
        : one.gainIsSure
          ? 'yes'
          : 'may be noise',
      `${(100 * one.shareOfEveryDay).toFixed(1)}`,
      one.skip_kwh.length === 0 ? '' : Math.min(...one.skip_kwh).toFixed(0),
    ]),
  };
}

/** Number of changes and the plan of each, where one more brings anything. */
export function planCells({ study }: StudiedWay): Cells {
  return {
    head: ['changes', 'plan (month-day)'],
    rows: study.resettings
      .filter(({ asked: n, changes }) => n === changes)
      .map((one) => [String(one.asked), planText(study, one)]),
  };
}

/** The changes of the plan asked for. */
export function dateCells({ study }: StudiedWay): Cells {
  return {
    head: ['from', study.table.kind.name, 'step', 'days', 'may move\ndays', 'left out\ncosts kWh'],
    rows: changeRows(study, asked(study).asked).map((row) => [
      row.month_day,
      `${formatNumber(row.value)} ${row.unit}`,
      `${row.step > 0 ? '+' : ''}${formatNumber(row.step)}`,
      String(row.held_days),
      `-${row.may_be_earlier_days} / +${row.may_be_later_days}`,
      row.left_out_kwh.toFixed(0),
    ]),
  };
}

/** What lateness costs the plan asked for. */
export function lateCells({ study }: StudiedWay): Cells {
  const { changes } = asked(study);
  return {
    head: ['days late', 'worst single\nkWh', 'all late\nkWh', 'all late\n%'],
    rows: lateRows(study)
      .filter(({ changes_asked }) => changes_asked === changes)
      .map((row) => [
        String(row.late_days),
        row.worst_one_kwh.toFixed(1),
        row.all_late_kwh.toFixed(1),
        row.all_late_pct.toFixed(2),
      ]),
  };
}

const READ_ON: Readonly<Record<ResettingStudy['checked'], string>> = {
  'fresh table': 'Read on a fresh table, traced with other random numbers than the plans were made on.',
  'left-out folds': 'Read on parts of the rays that the plans were not made on, in turns.',
  'own table': 'Read on the table that the plans were made on, whose luck makes them too good.',
};

/** The same for a line below a title. */
const READ_ON_SHORT: Readonly<Record<ResettingStudy['checked'], string>> = {
  'fresh table': 'a fresh table',
  'left-out folds': 'rays left out of the plans',
  'own table': 'the own table',
};

export function methodText({ made, study, level, bound }: StudiedWay): string {
  const read = READ_ON[study.checked];
  const sums = study.table.settings.length;
  if (made.lattice === null) {
    const off =
      bound === null
        ? ''
        : `; it is off by at most ${(100 * bound).toPrecision(2)} %, much alike at all settings, which the ± does not hold`;
    return `${read} All settings from one optics table, ${made.traced} sun positions${off}.`;
  }
  if (level?.places === 0)
    return `At none of these ${sums} settings do the receivers catch anything of their mirrors' light.`;
  const traced =
    level === null || bound === null
      ? 'no traces have told how far off that is: shadows of receivers and light of neighbours are not in it.'
      : `traces of ${level.places} moments of these plans found ${level.ratio.toFixed(3)} times as much and set the level: ` +
        `it is known to ${(100 * bound).toPrecision(2)} %, which the ± of energies, gains and differences holds. ` +
        'What one setting is off against another stays unknown.';
  return `${read} From recorded light of ${made.traced} sun positions at ${sums} settings; ${traced}`;
}

function wayText(way: StudiedWay, out: Channel): string {
  const { bold } = createColors(out.colour);
  const { study } = way;
  const table = ({ head, rows }: Cells): string => textTable(head, rows, out.colour);
  const dates = dateCells(way);
  const late = lateCells(way);
  return [
    bold(`Re-set: ${study.table.kind.name}`),
    wrap(wayAnswer(way), out.columns),
    '',
    table(changesCells(way)),
    '',
    'Plans (month-day):',
    ...planCells(way).rows.map(([n, plan]) => wrap(plan, out.columns - 4, `${n}:`.padEnd(4), '    ')),
    ...(dates.rows.length === 0 ? [] : ['', `The plan of ${asked(study).changes}:`, table(dates)]),
    ...(late.rows.length === 0 ? [] : ['', table(late)]),
    '',
    wrap(methodText(way), out.columns),
  ].join('\n');
}

/** The ways side by side; no rows where there is one way. */
export function sideCells(ways: readonly StudiedWay[]): Cells {
  const studies = ways.length < 2 ? [] : ways.map(({ study }) => study);
  return {
    head: ['way', 'changes', 'caught\nkWh', 'above the first\nkWh', '± kWh', 'for as much\nthe first needs'],
    rows: (studies.length === 0 ? [] : wayRows(studies)).map((row) => [
      row.way,
      String(row.changes_asked),
      row.energy_kwh.toFixed(0),
      row.above_first_way_kwh.toFixed(0),
      row.above_first_way_std_err_kwh === null ? '' : (2 * row.above_first_way_std_err_kwh).toFixed(0),
      row.first_way_needs_changes === null ? 'more' : String(row.first_way_needs_changes),
    ]),
  };
}

/** Which rows an interrupt has left on less than was asked for: a column where any has. */
function partialColumn(ways: readonly StudiedWay[], interrupted: boolean): readonly string[] {
  return interrupted && ways.some(({ whole }) => !whole) ? [PARTIAL_COLUMN] : [];
}

/** A table of flat rows of all ways, the way first. */
function waysCsv(
  { ways, missing }: ResettingsFound,
  rowsOf: (study: ResettingStudy) => readonly object[],
): string {
  const partial = partialColumn(ways, missing.length > 0);
  return rowsCsv(
    ways.flatMap((way) =>
      rowsOf(way.study).map((row) => ({
        setting: way.study.table.kind.name,
        ...row,
        ...Object.fromEntries(partial.map((name) => [name, way.whole ? 'no' : 'yes'])),
      })),
    ),
  );
}

function rowsCsv(rows: readonly object[]): string {
  const header = Object.keys(rows[0] ?? {});
  const cell = (value: unknown): CsvCell => (typeof value === 'number' ? value : String(value ?? ''));
  return toCsv(
    header,
    rows.map((row) => Object.values(row).map(cell)),
  );
}

/** Column of a setting's value, by the way of re-setting. */
const VALUE_COLUMNS: Readonly<Record<ResetKind, string>> = {
  tilt: 'tilt_deg',
  across: 'across_mm',
  up: 'up_mm',
};

/** The changes of the plans asked for: a column of numbers for each way of re-setting. */
export function datesCsv(ways: readonly StudiedWay[], interrupted = false): string {
  const columns = ways.map(({ kind }) => VALUE_COLUMNS[kind]);
  const partial = partialColumn(ways, interrupted);
  const header = [
    'setting',
    'change',
    'day_of_year',
    'month_day',
    ...columns,
    ...columns.map((name) => `step_${name}`),
    'held_days',
    'may_be_earlier_days',
    'may_be_later_days',
    'left_out_kwh',
    ...partial,
  ];
  const rows = ways.flatMap(({ study }, way) =>
    changeRows(study, asked(study).asked).map((row): CsvCell[] => [
      study.table.kind.name,
      row.change,
      row.day_of_year,
      row.month_day,
      ...columns.map((_, i) => (i === way ? row.value : '')),
      ...columns.map((_, i) => (i === way ? row.step : '')),
      row.held_days,
      row.may_be_earlier_days,
      row.may_be_later_days,
      row.left_out_kwh,
      ...partial.map(() => (ways[way].whole ? 'no' : 'yes')),
    ]),
  );
  return toCsv(header, rows);
}

/** Energy of each day at each setting: a column of settings for each way. */
export function energyCsv(ways: readonly StudiedWay[], interrupted = false): string {
  const columns = ways.map(({ kind }) => VALUE_COLUMNS[kind]);
  const partial = partialColumn(ways, interrupted);
  const rows = ways.flatMap(({ study: { table } }, way) =>
    settingEnergyRows(table).map((row): CsvCell[] => [
      table.kind.name,
      row.day_of_year,
      row.month_day,
      ...columns.map((_, i) => (i === way ? row.value : '')),
      row.energy_kwh,
      row.energy_std_err_kwh ?? '',
      ...partial.map(() => (ways[way].whole ? 'no' : 'yes')),
    ]),
  );
  return toCsv(
    ['setting', 'day_of_year', 'month_day', ...columns, 'energy_kwh', 'energy_std_err_kwh', ...partial],
    rows,
  );
}

/** Plans with more changes stand in the table alone. */
const LONGEST_NOTE = 8;

export function curves(ways: readonly StudiedWay[], subtitles: readonly string[]): YearCurves {
  const [{ study }] = ways;
  const half = (figure: Figure): number => {
    const own = halfWidth(figure);
    return Number.isFinite(own) ? own : 0;
  };
  const changed = ways.map(({ study: own }) => own.resettings.filter(({ asked: n }) => n > 0));
  const some = changed.some((list) => list.length > 0);
  return {
    title: 'Energy of the year against the number of re-settings',
    subtitles: [
      ...subtitles,
      `read on ${READ_ON_SHORT[study.checked]} · error bars: 95 %, of the rays${ways.some(({ level }) => level !== null) ? ' and the level' : ' alone'}; of gains of the difference, day by day with the same rays`,
    ],
    xLabel: 're-settings a year',
    yLabel: 'caught in the year / kWh',
    curves: ways.map(({ study: own }) => ({
      label: own.table.kind.name,
      x: own.resettings.map(({ asked: n }) => n),
      y: own.resettings.map(({ checkedEnergy }) => checkedEnergy.value),
      halfWidth: own.resettings.map(({ checkedEnergy }) => half(checkedEnergy)),
    })),
    level: { value: study.checkedEveryDay.value, label: `best ${study.table.kind.name} every day` },
    xTicks: study.resettings.map(({ asked: n }) => n),
    fromZero: false,
    ...(some
      ? {
          steps: {
            yLabel: 'worth of the last one / kWh a year',
            bars: ways.map(({ study: own }, way) => ({
              label: `${own.table.kind.name}: what the last re-setting brings, so what one fewer costs, all days planned anew`,
              x: changed[way].map(({ asked: n }) => n),
              y: changed[way].map(({ checkedGain }) => checkedGain.value),
              halfWidth: changed[way].map(({ checkedGain }) => half(checkedGain)),
              text: changed[way].map(({ checkedGain, changes, asked: n }) =>
                changes < n ? 'none' : formatFigure(checkedGain, { bare: true }),
              ),
              sure: changed[way].map(
                ({ gainIsSure, changes, asked: n }) => changes < n || gainIsSure === true,
              ),
            })),
            marks: ways.map((_, way) => {
              const skipped = changed[way].filter(
                ({ skip_kwh, changes, asked: n }) => changes === n && skip_kwh.length > 0,
              );
              return {
                x: skipped.map(({ asked: n }) => n),
                y: skipped.map(({ skip_kwh }) => Math.min(...skip_kwh)),
              };
            }),
            hollowLabel: 'hollow: may be noise',
            markLabel: 'leaving out the one that is missed least, the other days kept',
          },
        }
      : {}),
    notes: ways.flatMap(({ study: own }) =>
      own.resettings
        .filter(({ asked: n, changes }) => n === changes && n <= LONGEST_NOTE)
        .map(
          (one) => `${ways.length > 1 ? `${own.table.kind.name}, ` : ''}${one.asked}: ${planText(own, one)}`,
        ),
    ),
  };
}

/** What the study is of, in words. */
export interface ResettingWords {
  readonly title: string;
  readonly year: number;
  readonly subtitle: string;
  readonly sky: string;
}

export function subtitlesOf({ title, subtitle, sky }: ResettingWords): readonly string[] {
  return [title, subtitle, `sky: ${sky}`];
}

export function resettingReport(
  found: ResettingsFound,
  opened: OpenYear,
  flags: YearFlags,
  { out }: Session,
): YearReport {
  const { scene, mode, sky } = opened;
  const { ways, missing } = found;
  const head = yearHead(yearContext(opened, flags));
  const studies = ways.map(({ study }) => study);
  const interrupted = missing.length === 0 ? null : `Interrupted: ${missing.join('; ')}.`;
  const body = {
    ...head,
    kind: 'resettings',
    ways: ways.map(({ made, study, level, bound }) => ({
      setting: study.table.kind.name,
      settings: study.table.settings.map(({ value }) => value),
      setting_unit: study.table.kind.unit,
      read_on: study.checked,
      sun_positions_traced: made.traced,
      one_table: made.lattice === null,
      table_error_bound_fraction: bound,
      recorded_light_level: level,
      every_day: study.checkedEveryDay,
      plans: resettingRows(study),
      changes: changeRows(study, asked(study).asked),
      late: lateRows(study),
    })),
    side_by_side: wayRows(studies),
    interrupted: interrupted !== null,
    warnings: [...endWarnings(studies), ...yearWarnings(sky, null)],
    cautions: yearCautions(),
  };
  const { bold, yellow } = createColors(out.colour);
  const words: ResettingWords = {
    title: scene.title,
    year: flags.year,
    subtitle: `${flags.year}, ${receiversText(mode.kind)}${mode.kind === 'following' && mode.free ? ' of those they can reach' : ''} · ${head.site.name} · seed ${flags.seed}`,
    sky: head.sky,
  };
  const side = sideCells(ways);
  const text = [
    bold(plainText(`${scene.title}: re-settings in ${flags.year}`)),
    plainText(`${words.subtitle}.`),
    plainText(`Sky: ${head.sky}.`),
    ...(interrupted === null ? [] : [yellow(wrap(interrupted, out.columns))]),
    '',
    ...ways.map((way) => `${wayText(way, out)}\n`),
    ...(side.rows.length === 0
      ? []
      : ['The ways side by side:', textTable(side.head, side.rows, out.colour), '']),
    noticesText(body, out),
  ].join('\n');
  return {
    command: 'season',
    body,
    interrupted,
    answer: ways.map(titledAnswer),
    text,
    files: async () => {
      const { yearCurvesPng } = await import('../report/season-curves.js');
      return [
        ...resettingTables(found).map(({ what, name, text: table }) => ({
          what,
          file: name,
          make: () => table,
        })),
        {
          what: 'resettings_figure',
          file: 'resettings.png',
          make: () => yearCurvesPng(curves(ways, subtitlesOf(words))),
        },
      ];
    },
    sections: async () => {
      const { resettingSection } = await import('./season-resetting-sections.js');
      return [resettingSection(found, words)];
    },
  };
}

/** All tables of the study as files. */
export function resettingTables(found: ResettingsFound): readonly (SectionCsv & { readonly what: string })[] {
  const interrupted = found.missing.length > 0;
  return [
    { what: 'resettings_table', name: 'resettings.csv', text: waysCsv(found, resettingRows) },
    { what: 'changes_table', name: 'resetting-dates.csv', text: datesCsv(found.ways, interrupted) },
    { what: 'setting_energy_table', name: 'resetting-energy.csv', text: energyCsv(found.ways, interrupted) },
    { what: 'late_table', name: 'resetting-late.csv', text: waysCsv(found, lateRows) },
  ];
}
