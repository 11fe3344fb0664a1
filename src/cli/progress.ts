/** Progress on standard error: a bar on a terminal, a plain line now and then elsewhere, nothing for short runs. */
import type { SingleBar } from 'cli-progress';
import { plainText } from '../report/plain-text.js';
import { formatCount } from '../result/number-format.js';
import type { Deposit, RunProgress } from '../run/types.js';
import { type Session, say } from './session.js';

const FIRST_AFTER_SECONDS = 0.5;
/** Early enough to tell how long it will take, late enough to keep short runs out of logs. */
const FIRST_PLAIN_AFTER_SECONDS = 2;
const PLAIN_EVERY_SECONDS = 10;
/** Rays must have run so long before they tell how long the rest takes. */
const TELLING_SECONDS = 0.5;

export interface Progress {
  readonly onProgress: (progress: RunProgress) => void;
  readonly onNotice: (message: string) => void;
  /** One of the scenes is finished. */
  readonly nextScene: () => void;
  /** Takes the bar away. */
  readonly end: () => void;
}

/** @returns "4.21 M rays/s" */
function rateText(progress: RunProgress, samples: string): string {
  const rate = progress.seconds > 0 ? progress.rays / progress.seconds : 0;
  const [scaled, letter] = rate >= 1e6 ? [rate / 1e6, ' M'] : rate >= 1e3 ? [rate / 1e3, ' k'] : [rate, ''];
  return `${scaled.toPrecision(3)}${letter} ${samples}/s`;
}

function errorText({ spillError }: RunProgress): string {
  return spillError === null
    ? 'spill not yet known'
    : `spill known to ${(100 * spillError).toPrecision(2)} %`;
}

function leftText(seconds: number, share: number): string {
  if (!(share > 0 && seconds > TELLING_SECONDS)) return '';
  const left = Math.ceil((seconds * (1 - share)) / share);
  if (left < 100) return `, ${left} s left`;
  return left < 6000 ? `, ${Math.ceil(left / 60)} min left` : `, ${(left / 3600).toFixed(1)} h left`;
}

function sentence(progress: RunProgress, samples: string): string {
  const { rays, wanted } = progress;
  const count = wanted === null ? formatCount(rays) : `${formatCount(rays)} of ${formatCount(wanted)}`;
  return `${count} ${samples}, ${rateText(progress, samples)}, ${errorText(progress)}`;
}

/**
 * @param scenes how many scenes will be traced one after the other
 * @param deposit what the samples counted are: rays, or mirror points
 */
export async function startProgress(
  session: Session,
  quiet: boolean,
  scenes: number,
  deposit: Deposit = 'rays',
): Promise<Progress> {
  if (quiet) return { onProgress: () => {}, onNotice: () => {}, nextScene: () => {}, end: () => {} };
  const { err } = session;
  const samples = deposit === 'footprints' ? 'mirror points' : 'rays';
  const started = performance.now();
  // Loaded only where there is something to draw on.
  const pack = err.isTerminal ? (await import('cli-progress')).default : null;
  let bar: SingleBar | null = null;
  let nextPlain = FIRST_PLAIN_AFTER_SECONDS;
  let done = 0;
  // A study may look for places long before its first ray: that time says nothing of the scenes to come.
  let firstRays: number | null = null;

  const draw = (progress: RunProgress): void => {
    const now = performance.now();
    firstRays ??= now - 1000 * progress.seconds;
    const seconds = (now - started) / 1000;
    if (progress.rays === 0 || seconds < (pack === null ? nextPlain : FIRST_AFTER_SECONDS)) return;
    const measurable = progress.wanted !== null || scenes > 1;
    const share = (done + (progress.wanted === null ? 0 : progress.rays / progress.wanted)) / scenes;
    const head = scenes > 1 ? `scene ${done + 1} of ${scenes}: ` : '';
    const words = `${head}${sentence(progress, samples)}${measurable ? leftText((now - firstRays) / 1000, share) : ''}`;
    if (pack === null) {
      nextPlain = seconds + PLAIN_EVERY_SECONDS;
      err.write(`${words}\n`);
      return;
    }
    if (bar === null) {
      bar = new pack.SingleBar({
        stream: err.stream,
        format: `${measurable ? '[{bar}] {percentage} %  ' : ''}{words}`,
        barsize: 20,
        barCompleteChar: '=',
        barIncompleteChar: ' ',
        hideCursor: true,
        clearOnComplete: true,
        gracefulExit: false,
        fps: 8,
      });
      bar.start(1, Math.min(share, 1), { words });
    }
    bar.update(Math.min(share, 1), { words });
  };
  const end = (): void => {
    bar?.stop();
    bar = null;
  };
  return {
    onProgress: draw,
    onNotice: (message) => {
      end();
      say(session, plainText(message));
    },
    nextScene: () => {
      done++;
    },
    end,
  };
}
