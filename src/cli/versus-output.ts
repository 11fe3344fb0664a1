/** A comparison as its command reports it. */
import type { RowBars } from '../report/heat-rows.js';
import type { StackedBars } from '../report/season-bars.js';
import type { VersusResult } from '../study/line-points.js';
import { letterOf } from './compare-report.js';
import { BAR_PARTS, COLOURS } from './heat-pictures.js';
import { lineSum } from './heat-text.js';
import type { YearReport } from './season-output.js';
import type { Session } from './session.js';
import { versusCsv, versusText } from './versus-text.js';

function key(result: VersusResult): string {
  return result.entries.map(({ title }, i) => `${letterOf(i)}: ${title}`).join(' · ');
}

export function versusBars(result: VersusResult): StackedBars {
  const { entries } = result;
  const perArea = (keys: readonly string[]) =>
    entries.map((entry) => lineSum(entry.waterfall_kwh, keys) / entry.mirror_area_m2);
  return {
    title: `Side by side: where the sunlight of ${result.year} goes`,
    subtitles: [key(result), `${result.site.name} · sky: ${result.sky}`],
    yLabel: 'energy of the year / (kWh per m² of mirror)',
    bars: entries.map((_, i) => letterOf(i)),
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
      label: letterOf(i),
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

export function versusReport(result: VersusResult, { out }: Session): YearReport {
  return {
    command: 'versus',
    body: result,
    interrupted: null,
    answer: result.answer,
    text: versusText(result, out),
    files: async () => {
      const [{ rowBarsPng }, { stackedBarsPng }] = await Promise.all([
        import('../report/heat-rows.js'),
        import('../report/season-bars.js'),
      ]);
      return [
        { what: 'versus_table', file: 'versus.csv', make: () => versusCsv(result) },
        {
          what: 'versus_losses_figure',
          file: 'versus-losses.png',
          make: () => stackedBarsPng(versusBars(result)),
        },
        { what: 'versus_heat_figure', file: 'versus-heat.png', make: () => rowBarsPng(versusRows(result)) },
      ];
    },
    sections: async () => {
      const { versusSection } = await import('./versus-sections.js');
      return [versusSection(result)];
    },
  };
}
