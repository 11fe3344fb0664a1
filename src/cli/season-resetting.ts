/** `rowfocus season --resettings`: on which days to change a setting, to what, and what each change is worth. */
import type { Scene } from '../scene/types.js';
import type { ReceiverMode } from '../study/optics-table-node.js';
import type { SettingOptions } from '../study/season-resetting.js';
import type { ResetKind, SettingNodeReply, SettingNodeTask } from '../study/setting-node.js';
import { UsageError } from './failure.js';
import { type OpenYear, type YearFlags, yearFailure } from './season-options.js';
import type { ResettingFlags, WantedResettings } from './season-resetting-options.js';
import type { StudiedWay } from './season-resetting-text.js';
import type { Session } from './session.js';

/** A second table with other random numbers: plans are read on what they were not made on. */
const FRESH = '/fresh';

/**
 * Studies each way of re-setting, prints and writes.
 * @throws UsageError, InterruptedError, OutputError
 */
export async function runResettings(
  opened: OpenYear,
  flags: YearFlags & ResettingFlags,
  wanted: WantedResettings,
  session: Session,
): Promise<void> {
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
  const [
    { atLevel, boundOfLevel, levelOfPlans, settingEnergy },
    { studyResettings },
    { dayOfYear },
    { createTaskPool },
    { catchAtSettings },
  ] = await Promise.all([
    import('../study/season-resetting.js'),
    import('../study/resetting-study.js'),
    import('../sun/calendar.js'),
    import('../run/pool.js'),
    import('../study/setting-node.js'),
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
  const studies: StudiedWay[] = [];
  const settingPool = createTaskPool<SettingNodeTask, SettingNodeReply>(opened.pool.workers, {
    name: 'settings',
    runTask: catchAtSettings,
    onNotice: opened.progress.notice,
  });
  try {
    for (const kind of kinds) {
      const values = flags.settings ?? (await usualSettings(kind, scene, mode));
      const options = (seed: string, part: string): SettingOptions => ({
        scene,
        mode,
        season: opened.season,
        seed,
        rays: flags.rays,
        kind,
        values,
        pool: opened.pool,
        settingPool,
        stop: session.stop,
        onNodes: opened.progress.nodes,
        onStage: (text) => opened.progress.stage(`${part}${text}`),
      });
      const first = options(flags.seed, '');
      const made = await settingEnergy(first);
      if (made.lattice === null) {
        const fresh = await settingEnergy(options(`${flags.seed}${FRESH}`, 'checking with fresh rays: '));
        const study = studyResettings(made.table, { ...rules, fresh: fresh.table });
        studies.push({ kind, made, study, level: null, bound: Math.max(made.bound ?? 0, fresh.bound ?? 0) });
      } else {
        opened.progress.stage(`tracing plans: ${made.table.kind.name}`);
        const plans = studyResettings(made.table, rules).resettings.map(({ plan }) => plan);
        const level = await levelOfPlans(options(`${flags.seed}${FRESH}`, ''), made.lattice, plans);
        const study = studyResettings(atLevel(made.table, level), rules);
        studies.push({ kind, made, study, level, bound: boundOfLevel(level) });
      }
    }
  } catch (error) {
    throw yearFailure(error);
  } finally {
    await Promise.all([settingPool.close(), opened.close()]);
  }
  const { reportResettings } = await import('./season-resetting-text.js');
  await reportResettings(studies, opened, flags, session);
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
  const { usualSettingsOf } = await import('../study/season-resetting.js');
  return usualSettingsOf(scene, kind, mode);
}
