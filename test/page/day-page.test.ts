/** The page of a day as the program writes it, and as a browser shows it. */
import { readFile, writeFile } from 'node:fs/promises';
import { beforeAll, describe, expect, it } from 'vitest';
import { viewStepsOf } from '../../src/cli/day-sections.js';
import { layOut } from '../../src/field/layout.js';
import { withReceiversAt } from '../../src/study/moving.js';
import { describeInBrowser } from '../support/browser.js';
import { runCli, useScratchFolder } from '../support/cli.js';
import { demoText, sceneOf } from '../support/pages.js';

const folder = useScratchFolder();
const SHORT = [
  '--date',
  '2026-03-20',
  '--at',
  '10:00,12:00,14:00',
  '--rays',
  '2000',
  '--workers',
  '0',
  '--quiet',
];

interface PageSteps {
  readonly spaces: readonly {
    readonly sun: readonly number[];
    readonly receivers: readonly { name: string }[];
  }[];
  readonly steps: readonly {
    readonly label: string;
    readonly sunDirection: readonly number[];
    readonly receiverOffsets: Readonly<Record<string, readonly number[]>>;
  }[];
}

function dataOf(html: string): PageSteps {
  const found = /<script type="application\/json" id="page-data">(.*?)<\/script>/s.exec(html);
  if (found === null) throw new Error('the page has no data');
  return JSON.parse(found[1]);
}

async function dayPage(name: string, more: readonly string[] = []): Promise<string> {
  await writeFile(folder.path('dish.yaml'), demoText('one-dish.yaml'));
  const args = ['day', folder.path('dish.yaml'), ...SHORT, '--report', folder.path(name), ...more];
  const { code, stdout, stderr } = await runCli(args);
  expect({ code, stderr }).toEqual({ code: 0, stderr: '' });
  expect(stdout).toContain(`Report page: ${folder.path(name)}`);
  return readFile(folder.path(name), 'utf8');
}

describe('steps of a day in the picture in space', () => {
  const step = (clock: string, along: number) => ({
    clock,
    sun: { azimuth_deg: 90, elevation_deg: 30 },
    offset_mm: [along, 0, 50] as const,
  });
  // A row that runs north, so that "along" is not east.
  const scene = sceneOf(demoText('row-of-eight.yaml').replace(/heading_deg: 90/, 'heading_deg: 0'));

  it('are told in the world, against the receivers drawn', () => {
    const drawn = layOut(withReceiversAt(scene, [0.1, 0, 0.05])).receivers;
    const steps = viewStepsOf(scene, { steps: [step('8:00', -400), step('12:00', 100)] as never }, drawn);
    expect(Object.keys(steps[0].receiverOffsets)).toHaveLength(8);
    for (const offset of Object.values(steps[0].receiverOffsets)) {
      expect(offset[0]).toBeCloseTo(0, 9);
      expect(offset[1]).toBeCloseTo(-0.5, 9);
      expect(offset[2]).toBeCloseTo(0, 9);
    }
    for (const offset of Object.values(steps[1].receiverOffsets)) {
      for (const value of offset) expect(value).toBeCloseTo(0, 9);
    }
    expect(steps[0].sunDirection[0]).toBeCloseTo(Math.cos(Math.PI / 6), 12);
    expect(steps[0].sunDirection[2]).toBeCloseTo(0.5, 12);
  });
});

describe('day --report', () => {
  it('shows the day: figures, table, CSV, cautions, and three steps on the slider', async () => {
    const html = await dayPage('day.html', ['--receivers', 'following']);
    for (const words of [
      'The day',
      'Power, losses and peak flux over the day',
      'Flux on receiver',
      'Size of the spot',
      'Path of the receiver',
      'The steps of the day',
      'download="day.csv"',
      'parked, late or lost',
      'are those of 12:00',
      'id="space-step"',
    ])
      expect(html).toContain(words);
    expect(html).not.toMatch(/\bsafe\b/i);
    const { steps, spaces } = dataOf(html);
    expect(steps.map(({ label }) => label)).toEqual(['10:00', '12:00', '14:00']);
    const [{ sun, receivers }] = spaces;
    // The step that is drawn stands where it was traced; the others on both sides of it.
    const along = steps.map(({ receiverOffsets }) => receiverOffsets[receivers[0].name][0]);
    expect(along[1]).toBe(0);
    expect(along[0] * along[2]).toBeLessThan(0);
    expect(Math.abs(along[0])).toBeGreaterThan(0.1);
    steps[1].sunDirection.forEach((value, axis) => {
      expect(value).toBeCloseTo(sun[axis], 6);
    });
  });

  it('refuses a page that is none before anything is traced', async () => {
    const { code, stderr } = await runCli(['day', folder.scene(), ...SHORT, '--report', 'day.pdf']);
    expect(code).toBe(2);
    expect(stderr).toContain('ends in .html');
  });
});

describeInBrowser('the page of a day in a browser', ({ open }) => {
  let html = '';
  beforeAll(async () => {
    html = await dayPage('browser.html', ['--receivers', 'following']);
  });

  it('moves sun and receivers with the slider, without a message or a request', async () => {
    const opened = await open(html);
    const { page } = opened;
    const picture = async (): Promise<Buffer> => {
      await page.locator('#space-canvas').scrollIntoViewIfNeeded();
      await page.evaluate(`new Promise((done) => {
        let frames = 4;
        const next = () => (frames-- > 0 ? requestAnimationFrame(next) : done());
        next();
      })`);
      return page.locator('#space-canvas').screenshot();
    };
    expect(await page.locator('#space-step').getAttribute('max')).toBe('3');
    const seen: Buffer[] = [];
    for (const [value, clock] of [
      ['1', '10:00'],
      ['3', '14:00'],
    ]) {
      await page.locator('#space-step').fill(value);
      expect(await page.locator('#space-clock').textContent()).toContain(clock);
      seen.push(await picture());
    }
    expect(seen[0].equals(seen[1])).toBe(false);
    // The same step again is the same picture: what differed was the step.
    await page.locator('#space-step').fill('1');
    expect((await picture()).equals(seen[0])).toBe(true);
    expect(opened.console).toEqual([]);
    expect(opened.requests).toEqual([]);
  });
});
