/** `rowfocus season --resettings`: on which days to change a setting, to what, and what each change is worth. */
import type { Scene } from '../scene/types.js';
import type { ReceiverMode } from '../study/optics-table-node.js';
import type { ResettingRules } from '../study/resetting.js';
import type { SettingOptions } from '../study/season-resetting.js';
import type { ResetKind, SettingNodeReply, SettingNodeTask } from '../study/setting-node.js';
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
  const [{ RESET_KINDS }, { dayOfYear }, { createTaskPool }, { catchAtSettings }] = await Promise.all([
    import('../study/season-resetting.js'),
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
  const settingPool = createTaskPool<SettingNodeTask, SettingNodeReply>(opened.pool.workers, {
    name: 'settings',
    runTask: catchAtSettings,
    onNotice: opened.progress.notice,
  });
  const ways: StudiedWay[] = [];
  const missing: string[] = [];
  try {
    for (const kind of kinds) {
      const options: SettingOptions = {
        scene,
        mode,
        season: opened.season,
        seed: flags.seed,
        rays: flags.rays,
        kind,
        values: flags.settings ?? (await usualSettings(kind, scene, mode)),
        pool: opened.pool,
        settingPool,
        stop: session.stop,
        onNodes: opened.progress.nodes,
        onStage: opened.progress.stage,
      };
      const { name } = RESET_KINDS[kind];
      const way = await orStopped(() => studyWay(options, rules));
      if (way === null) missing.push(`${name} was not finished`);
      else {
        ways.push(way);
        if (!way.whole) missing.push(`${name}: plans were not traced with fresh rays`);
      }
    }
  } finally {
    await settingPool.close();
  }
  if (ways.length === 0) {
    throw new InterruptedError('Interrupted before one way was finished; there is nothing to report.');
  }
  return { ways, missing };
}

/** @throws what `settingEnergy` throws; what a stop leaves of the look with fresh rays is kept */
async function studyWay(options: SettingOptions, rules: ResettingRules): Promise<StudiedWay> {
  const [{ atLevel, boundOfLevel, levelOfPlans, settingEnergy }, { studyResettings }] = await Promise.all([
    import('../study/season-resetting.js'),
    import('../study/resetting-study.js'),
  ]);
  const { kind, onStage } = options;
  const other = {
    ...options,
    seed: `${options.seed}${FRESH}`,
    onStage: (text: string) => onStage?.(`checking with fresh rays: ${text}`),
  };
  const made = await settingEnergy(options);
  const { lattice } = made;
  if (lattice === null) {
    const fresh = await orStopped(() => settingEnergy(other));
    const study = studyResettings(made.table, fresh === null ? rules : { ...rules, fresh: fresh.table });
    const bound = Math.max(made.bound ?? 0, fresh?.bound ?? 0);
    return { kind, made, study, level: null, bound, whole: fresh !== null };
  }
  const study = studyResettings(made.table, rules);
  other.onStage(`plans, ${made.table.kind.name}`);
  const plans = study.resettings.map(({ plan }) => plan);
  const level = await orStopped(() => levelOfPlans(other, lattice, plans));
  if (level === null) return { kind, made, study, level, bound: null, whole: false };
  const levelled = studyResettings(atLevel(made.table, level), rules);
  return { kind, made, study: levelled, level, bound: boundOfLevel(level), whole: true };
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
  const { usualSettingsOf } = await import('../study/season-resetting.js');
  return usualSettingsOf(scene, kind, mode);
}
