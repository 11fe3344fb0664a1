/** `rowfocus season --resettings`: on which days to change a setting, to what, and what each change is worth. */
import type { Scene } from '../scene/types.js';
import type { ReceiverMode } from '../study/optics-table-node.js';
import type { ResetKind, SettingEnergy } from '../study/season-resetting.js';
import { InterruptedError, UsageError } from './failure.js';
import type { SeasonFlags } from './season.js';
import type { OpenYear } from './season-options.js';
import type { WantedResettings } from './season-resetting-options.js';
import type { ResettingsFound, StudiedWay } from './season-resetting-text.js';
import type { Session } from './session.js';
import type { YearWork } from './year-command.js';

/** A second table with other random numbers: plans are read on what they were not made on. */
const FRESH = '/fresh';

/** The study of each way of re-setting, and its report. */
export function resettingWork(
  flags: SeasonFlags,
  wanted: WantedResettings,
  session: Session,
): YearWork<ResettingsFound> {
  return {
    study: (opened) => studyWays(opened, flags, wanted, session),
    report: async (found, opened) => {
      const { resettingReport } = await import('./season-resetting-text.js');
      return resettingReport(found, opened, flags, session);
    },
  };
}

/** @throws UsageError, InterruptedError where nothing is left to plan on, and what the studies throw */
async function studyWays(
  opened: OpenYear,
  flags: SeasonFlags,
  wanted: WantedResettings,
  session: Session,
): Promise<ResettingsFound> {
  const { scene, mode } = opened;
  const kinds = flags.reset ?? ['tilt'];
  if (kinds.length > 1 && flags.settings !== undefined) {
    throw new UsageError("option '--settings' goes with one way of re-setting only");
  }
  if (kinds.includes('tilt') && scene.rows.length === 0) {
    throw new UsageError(
      'the tilt of dishes in rows is re-set; the scene has none (try --reset across or --reset up)',
    );
  }
  refuseFreeWays(kinds, mode);
  const [{ settingEnergy, RESET_KINDS }, { studyResettings }, { dayOfYear }] = await Promise.all([
    import('../study/season-resetting.js'),
    import('../study/resetting-study.js'),
    import('../sun/calendar.js'),
  ]);
  const days = opened.season.days;
  const allowed = new Array<boolean>(days).fill(wanted.kind === 'most');
  if (wanted.kind === 'days') {
    for (const { month, day } of wanted.dates) {
      // The 29th of February of a common year is the 1st of March.
      allowed[Math.min(days, dayOfYear({ year: days === 366 ? 2024 : 2023, month, day })) - 1] = true;
    }
  }
  const rules = {
    most: wanted.kind === 'most' ? wanted.most : wanted.dates.length,
    ...(wanted.kind === 'days' ? { allowedDays: allowed } : {}),
  };
  const ways: StudiedWay[] = [];
  const missing: string[] = [];
  for (const kind of kinds) {
    const values = flags.settings ?? (await usualSettings(kind, scene, mode));
    const energyOf = (seed: string, part: string): Promise<SettingEnergy> =>
      settingEnergy({
        scene,
        mode,
        season: opened.season,
        seed,
        rays: flags.rays,
        kind,
        values,
        pool: opened.pool,
        stop: session.stop,
        onNodes: opened.progress.nodes,
        onStage: (text) => opened.progress.stage(`${part}${text}`),
      });
    const { name } = RESET_KINDS[kind];
    const made = await orStopped(() => energyOf(flags.seed, ''));
    if (made === null) {
      missing.push(`${name} was not finished`);
      continue;
    }
    const done = made.table.settings.length;
    const fresh = await orStopped(() => energyOf(`${flags.seed}${FRESH}`, 'checking with fresh rays: '));
    const whole = fresh !== null && fresh.table.settings.length === values.length;
    ways.push({
      kind,
      made,
      study: studyResettings(made.table, whole ? { ...rules, fresh: fresh.table } : rules),
    });
    if (done < values.length)
      missing.push(`${name}: only ${done} of ${values.length} settings were finished`);
    else if (!whole) missing.push(`${name}: plans were not read on fresh rays`);
  }
  if (ways.length === 0) {
    throw new InterruptedError(
      'Interrupted before there were settings to plan on; there is nothing to report.',
    );
  }
  return { ways, missing };
}

/** @returns null where the work was stopped before it had anything to give */
async function orStopped<T>(work: () => Promise<T>): Promise<T | null> {
  try {
    return await work();
  } catch (error) {
    if (error instanceof Error && error.name === 'StudyStopped') return null;
    throw error;
  }
}

/** Receivers that go somewhere by themselves at every hour gain nothing from being moved there on a date. */
function refuseFreeWays(kinds: readonly ResetKind[], mode: ReceiverMode): void {
  if (mode.kind !== 'following') return;
  const [, across, up] = mode.free ?? [true, true, true];
  if ((kinds.includes('across') && across) || (kinds.includes('up') && up)) {
    throw new UsageError(
      "receivers that follow across the row and up need no re-setting there: give the ways they can go with '--move', e.g. --move along",
    );
  }
}

async function usualSettings(kind: ResetKind, scene: Scene, mode: ReceiverMode): Promise<readonly number[]> {
  const { turnsAsOne } = await import('../study/season-resetting.js');
  const [reach, step] = kind !== 'tilt' ? [300, 60] : turnsAsOne(scene, mode) ? [24, 1.5] : [24, 3];
  return Array.from({ length: (2 * reach) / step + 1 }, (_, i) => i * step - reach);
}
