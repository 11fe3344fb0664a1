/** Where a comparison goes: files, then standard output. */
import type { RowBars } from '../report/heat-rows.js';
import type { StackedBars } from '../report/season-bars.js';
import type { MachineRun } from '../report/types.js';
import type { VersusResult } from '../study/line-points.js';
import { BAR_PARTS, COLOURS } from './heat-pictures.js';
import { lineSum } from './heat-text.js';
import type { YearFlags } from './season-options.js';
import { reportYear, type YearFile } from './season-output.js';
import type { Session } from './session.js';
import { versusCsv, versusText } from './versus-text.js';

function nameOf(index: number): string {
  return String.fromCharCode(65 + index);
}

function key(result: VersusResult): string {
  return result.entries.map(({ title }, i) => `${nameOf(i)}: ${title}`).join(' · ');
}

export function versusBars(result: VersusResult): StackedBars {
  const { entries } = result;
  const perArea = (keys: readonly string[]) =>
    entries.map((entry) => lineSum(entry.waterfall_kwh, keys) / entry.mirror_area_m2);
  return {
    title: `Side by side: where the sunlight of ${result.year} goes`,
    subtitles: [key(result), `${result.site.name} · sky: ${result.sky}`],
    yLabel: 'energy of the year / (kWh per m² of mirror)',
    bars: entries.map((_, i) => nameOf(i)),
    parts: [
      { label: 'heat delivered', colour: COLOURS.delivered, value: perArea(['delivered']) },
      ...BAR_PARTS.map(([colour, label, keys]) => ({ label, colour: COLOURS[colour], value: perArea(keys) })),
    ],
    notes: entries.map(({ delivered_per_m2_kwh }) => delivered_per_m2_kwh.toFixed(0)),
    halfWidth: entries.map(() => 0),
  };
}

export function versusRows(result: VersusResult): RowBars {
  return {
    title: 'Side by side: heat of the year',
    subtitles: [
      key(result),
      `${result.site.name} · seed ${result.seed} · error marks: span of the loss formulas`,
    ],
    xLabel: 'heat delivered / (kWh per m² of mirror)',
    bars: result.entries.map((entry, i) => ({
      label: nameOf(i),
      from: 0,
      to: entry.delivered_per_m2_kwh,
      colour: COLOURS.delivered,
      note:
        entry.price === null
          ? entry.delivered_per_m2_kwh.toFixed(0)
          : `${entry.delivered_per_m2_kwh.toFixed(0)} · ${entry.price.per_kwh.toFixed(3)} ${entry.price.currency}/kWh`,
      mark: [
        entry.delivered_kwh.low / entry.mirror_area_m2,
        entry.delivered_kwh.high / entry.mirror_area_m2,
      ] as const,
    })),
    steps: false,
  };
}

/** @throws as `reportYear` */
export async function reportVersus(
  result: VersusResult,
  flags: Pick<YearFlags, 'out' | 'json'>,
  machine: MachineRun,
  session: Session,
): Promise<void> {
  const files: YearFile[] = [];
  if (flags.out !== undefined) {
    const [{ openFolder }, { rowBarsPng }, { stackedBarsPng }] = await Promise.all([
      import('./trace-files.js'),
      import('../report/heat-rows.js'),
      import('../report/season-bars.js'),
    ]);
    await openFolder(flags.out);
    files.push(
      { what: 'versus_table', file: 'versus.csv', make: () => versusCsv(result) },
      {
        what: 'versus_losses_figure',
        file: 'versus-losses.png',
        make: () => stackedBarsPng(versusBars(result)),
      },
      { what: 'versus_heat_figure', file: 'versus-heat.png', make: () => rowBarsPng(versusRows(result)) },
    );
  }
  await reportYear(result, versusText(result, session.out), files, flags, machine, session);
}
