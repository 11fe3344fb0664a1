/** Re-settings in words, tables and a figure. */
import { createColors } from 'picocolors';
import { type CsvCell, toCsv } from '../report/csv.js';
import { plainText } from '../report/plain-text.js';
import type { YearCurves } from '../report/season-curves.js';
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
import type { ResetKind, SettingEnergy } from '../study/season-resetting.js';
import { yearCautions, yearHead, yearWarnings } from '../study/season-result.js';
import { type OpenYear, type YearFlags, yearContext } from './season-options.js';
import { reportYear, type YearFile } from './season-output.js';
import { noticesText, receiversText } from './season-text.js';
import type { Channel, Session } from './session.js';
import { textTable } from './text-table.js';

export interface StudiedWay {
  readonly kind: ResetKind;
  readonly made: SettingEnergy;
  readonly study: ResettingStudy;
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

function wayText({ made, study }: StudiedWay, out: Channel): string {
  const { bold } = createColors(out.colour);
  const { kind } = study.table;
  const best = asked(study);
  const base = study.resettings[0];
  const gain = base.checkedEnergy.value > 0 ? best.checkedEnergy.value / base.checkedEnergy.value - 1 : 0;
  const rows = study.resettings.map((one) => [
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
  ]);
  const changes = changeRows(study, best.asked).map((row) => [
    row.month_day,
    `${formatNumber(row.value)} ${row.unit}`,
    `${row.step > 0 ? '+' : ''}${formatNumber(row.step)}`,
    String(row.held_days),
    `-${row.may_be_earlier_days} / +${row.may_be_later_days}`,
    row.left_out_kwh.toFixed(0),
  ]);
  const late = lateRows(study)
    .filter(({ changes_asked }) => changes_asked === best.changes)
    .map((row) => [
      String(row.late_days),
      row.worst_one_kwh.toFixed(1),
      row.all_late_kwh.toFixed(1),
      row.all_late_pct.toFixed(2),
    ]);
  return [
    bold(`Re-set: ${kind.name}`),
    `${best.changes} changes a year catch ${energyText(best)} kWh, ${(100 * gain).toFixed(1)} % more than none; the best setting every day would catch ${study.checkedEveryDay.value.toFixed(0)} kWh.`,
    '',
    textTable(
      [
        'changes',
        'caught\nkWh',
        'last change\nbrings kWh',
        'sure',
        'of every day\n%',
        'leave one out\ncosts kWh',
      ],
      rows,
      out.colour,
    ),
    '',
    'Plans (month-day):',
    ...study.resettings
      .filter(({ asked: n, changes: made }) => n === made)
      .map((one) => wrap(planText(study, one), out.columns - 4, `${one.asked}:`.padEnd(4), '    ')),
    ...(changes.length === 0
      ? []
      : [
          '',
          `The plan of ${best.changes}:`,
          textTable(
            ['from', kind.name, 'step', 'days', 'may move\ndays', 'left out\ncosts kWh'],
            changes,
            out.colour,
          ),
        ]),
    ...(late.length === 0
      ? []
      : [
          '',
          textTable(['days late', 'worst single\nkWh', 'all late\nkWh', 'all late\n%'], late, out.colour),
        ]),
    '',
    `Read on ${study.checked}: a table traced with other random numbers than the plans were made on. ` +
      `${made.shared ? 'All settings from one optics table' : `${study.table.settings.length} optics tables`}, ${made.traced} sun positions; ` +
      `each table is off by at most ${(100 * made.bound).toPrecision(2)} %, much alike at all settings, which the ± does not hold.`,
  ].join('\n');
}

function waysText(ways: readonly StudiedWay[], out: Channel): string {
  if (ways.length < 2) return '';
  const rows = wayRows(ways.map(({ study }) => study)).map((row) => [
    row.way,
    String(row.changes_asked),
    row.energy_kwh.toFixed(0),
    row.above_first_way_kwh.toFixed(0),
    row.above_first_way_std_err_kwh === null ? '' : (2 * row.above_first_way_std_err_kwh).toFixed(0),
  ]);
  return `\nThe ways side by side:\n${textTable(['way', 'changes', 'caught\nkWh', 'above the first\nkWh', '± kWh'], rows, out.colour)}\n`;
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
export function datesCsv(ways: readonly StudiedWay[]): string {
  const columns = ways.map(({ kind }) => VALUE_COLUMNS[kind]);
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
    ]),
  );
  return toCsv(header, rows);
}

/** Energy of each day at each setting: a column of settings for each way. */
export function energyCsv(ways: readonly StudiedWay[]): string {
  const columns = ways.map(({ kind }) => VALUE_COLUMNS[kind]);
  const rows = ways.flatMap(({ study: { table } }, way) =>
    settingEnergyRows(table).map((row): CsvCell[] => [
      table.kind.name,
      row.day_of_year,
      row.month_day,
      ...columns.map((_, i) => (i === way ? row.value : '')),
      row.energy_kwh,
      row.energy_std_err_kwh ?? '',
    ]),
  );
  return toCsv(['setting', 'day_of_year', 'month_day', ...columns, 'energy_kwh', 'energy_std_err_kwh'], rows);
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
      `read on: ${study.checked} · error bars: 95 %, of the rays alone; of gains that of the difference, day by day with the same rays`,
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

/** @throws OutputError, after the result was printed */
export async function reportResettings(
  ways: readonly StudiedWay[],
  opened: OpenYear,
  flags: YearFlags,
  session: Session,
): Promise<void> {
  const { scene, mode, sky } = opened;
  const head = yearHead(yearContext(opened, flags));
  const studies = ways.map(({ study }) => study);
  const body = {
    ...head,
    kind: 'resettings',
    ways: ways.map(({ made, study }) => ({
      setting: study.table.kind.name,
      settings: study.table.settings.map(({ value }) => value),
      setting_unit: study.table.kind.unit,
      read_on: study.checked,
      sun_positions_traced: made.traced,
      one_table: made.shared,
      table_error_bound_fraction: made.bound,
      every_day: study.checkedEveryDay,
      plans: resettingRows(study),
      changes: changeRows(study, asked(study).asked),
      late: lateRows(study),
    })),
    side_by_side: wayRows(studies),
    warnings: [...endWarnings(studies), ...yearWarnings(sky, null)],
    cautions: yearCautions(),
  };
  const { bold } = createColors(session.out.colour);
  const subtitle = `${flags.year}, ${receiversText(mode.kind)}${mode.kind === 'following' && mode.free ? ' of those they can reach' : ''} · ${head.site.name} · seed ${flags.seed}`;
  const text = [
    bold(plainText(`${scene.title}: re-settings in ${flags.year}`)),
    plainText(`${subtitle}.`),
    plainText(`Sky: ${head.sky}.`),
    '',
    ...ways.map((way) => `${wayText(way, session.out)}\n`),
    waysText(ways, session.out),
    noticesText(body, session.out),
  ].join('\n');
  const figure = flags.out === undefined ? null : await import('../report/season-curves.js');
  const files: YearFile[] = [
    { what: 'resettings_table', file: 'resettings.csv', make: () => rowsCsv(studies.flatMap(resettingRows)) },
    {
      what: 'changes_table',
      file: 'resetting-dates.csv',
      make: () => datesCsv(ways),
    },
    { what: 'setting_energy_table', file: 'resetting-energy.csv', make: () => energyCsv(ways) },
    { what: 'late_table', file: 'resetting-late.csv', make: () => rowsCsv(studies.flatMap(lateRows)) },
  ];
  if (figure !== null) {
    files.push({
      what: 'resettings_figure',
      file: 'resettings.png',
      make: () => figure.yearCurvesPng(curves(ways, [scene.title, subtitle, `sky: ${head.sky}`])),
    });
  }
  await reportYear(body, text, files, flags, opened.machine(), session);
}
