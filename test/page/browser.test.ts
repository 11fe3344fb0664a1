/** The page as an engineer has it: opened from disk in a real browser, with the network off. */
import { readFile } from 'node:fs/promises';
import type { Page } from 'playwright-core';
import { PNG } from 'pngjs';
import { beforeAll, expect, it } from 'vitest';
import { reportPage } from '../../src/page/page.js';
import type { TracedScene } from '../../src/page/types.js';
import { toCsv } from '../../src/report/csv.js';
import { drawLossFigure } from '../../src/report/loss-figure.js';
import type { ReportSection, ViewStep } from '../../src/report/section.js';
import type { Scene, Vec3 } from '../../src/scene/types.js';
import { describeInBrowser } from '../support/browser.js';
import { demoText, pageInput, sceneOf, tracedDemo, tracedOf } from '../support/pages.js';
import { hostileTexts } from './hostile.js';

const MAP = 'map-0-0';

/** Steps of an invented day: the sun goes from east to west, receivers a metre and a half the other way. */
const STEPS: readonly ViewStep[] = [-40, 0, 40].map((degrees) => {
  const turn = (degrees * Math.PI) / 180;
  const sunDirection: Vec3 = [-Math.sin(turn) * 0.8, -Math.cos(turn) * 0.8, 0.6];
  return {
    label: `${12 + degrees / 20}:00`,
    sunDirection,
    receiverOffsets: { 'A-1': [degrees / 60, 0, 0] },
  };
});

function daySection(traced: TracedScene): ReportSection {
  const drawn = drawLossFigure(traced.summary.result.total.ledger, 'an invented day', 900);
  return {
    id: 'day',
    title: 'An invented day',
    lead: 'Receivers follow their spots.',
    figures: [{ drawn, caption: 'A wide figure.', description: 'bars', csv: null }],
    tables: [
      {
        caption: 'a wide table',
        head: ['clock', ...Array.from({ length: 9 }, (_, i) => `figure ${i}`)],
        rows: [['10:00', ...Array.from({ length: 9 }, () => '123.45 ± 0.67 kW/m²')]],
      },
    ],
    csv: [{ name: 'day.csv', text: toCsv(['hour'], [[10]]) }],
    viewSteps: STEPS,
  };
}

/** How many different colours a picture has, of at most `most` looked for. */
function coloursOf(picture: Buffer, most = 64): number {
  const { data } = PNG.sync.read(picture);
  const seen = new Set<number>();
  for (let i = 0; i < data.length && seen.size < most; i += 4) {
    seen.add((data[i] << 16) | (data[i + 1] << 8) | data[i + 2]);
  }
  return seen.size;
}

/** Waits until what was asked for has been drawn: the view draws in the next frame, the screen shows it in the one after. */
async function framesPassed(page: Page): Promise<void> {
  await page.evaluate(`new Promise((done) => {
    let frames = 4;
    const next = () => (frames-- > 0 ? requestAnimationFrame(next) : done());
    next();
  })`);
}

async function canvasPicture(page: Page): Promise<Buffer> {
  await page.locator('#space-canvas').scrollIntoViewIfNeeded();
  await framesPassed(page);
  return page.locator('#space-canvas').screenshot();
}

/** Share of the pixels that differ between two pictures of one size. */
function difference(a: Buffer, b: Buffer): number {
  const [one, other] = [PNG.sync.read(a), PNG.sync.read(b)];
  if (one.data.length !== other.data.length) return 1;
  let count = 0;
  for (let i = 0; i < one.data.length; i += 4) {
    const apart = Math.abs(one.data[i] - other.data[i]) + Math.abs(one.data[i + 2] - other.data[i + 2]);
    if (apart > 12) count++;
  }
  return count / (one.data.length / 4);
}

/** Where a place of the map stands on the screen. */
async function onMap(page: Page, u: number, v: number): Promise<{ x: number; y: number }> {
  return page.evaluate<{ x: number; y: number }>(`(() => {
    const box = document.querySelector('#${MAP}-figure .reader > rect').getBoundingClientRect();
    const data = JSON.parse(document.getElementById('page-data').textContent).maps[0];
    return {
      x: box.left + box.width * (${u} / data.width_mm + 0.5),
      y: box.top + box.height * (0.5 - ${v} / data.height_mm),
    };
  })()`);
}

function leadingNumber(text: string | null): number {
  return Number.parseFloat(text ?? '');
}

describeInBrowser('the report page in a browser', ({ open }) => {
  let dish: TracedScene;
  let html: string;
  beforeAll(async () => {
    dish = await tracedDemo('one-dish.yaml');
    const { cautions } = dish.summary.result;
    html = reportPage(pageInput([dish], { sections: [daySection(dish)], cautions }));
  });

  it('opens without network, messages or requests, and draws the scene', async () => {
    const opened = await open(html);
    const picture = await canvasPicture(opened.page);
    expect(coloursOf(picture)).toBeGreaterThan(40);
    expect(opened.console).toEqual([]);
    expect(opened.requests).toEqual([]);
    expect(await opened.page.locator('.still').isVisible()).toBe(false);
  });

  it('is whole without script: the still picture, all figures and tables', async () => {
    const opened = await open(html, { script: false });
    expect(await opened.page.locator('.still').isVisible()).toBe(true);
    expect(await opened.page.locator(`#${MAP}-figure`).isVisible()).toBe(true);
    expect(await opened.page.locator(`#${MAP}-tools`).isVisible()).toBe(false);
    expect(await opened.page.locator('#space-controls').isVisible()).toBe(false);
    expect(opened.requests).toEqual([]);
  });

  it('keeps the still picture, without a word, where the browser has no WebGL', async () => {
    const before = `const get = HTMLCanvasElement.prototype.getContext;
      HTMLCanvasElement.prototype.getContext = function (kind, ...rest) {
        return kind.startsWith('webgl') ? null : get.call(this, kind, ...rest);
      };`;
    const opened = await open(html, { before });
    expect(await opened.page.locator('.still').isVisible()).toBe(true);
    expect(await opened.page.locator('#space-canvas').count()).toBe(0);
    expect(await opened.page.locator(`#${MAP}-tools`).isVisible()).toBe(true);
    expect(opened.console).toEqual([]);
  });

  it('reads the map under the pointer: place, flux and error of that cell', async () => {
    const { page } = await open(html);
    await page.locator(`#${MAP}-figure`).scrollIntoViewIfNeeded();
    const { x, y } = await onMap(page, 21.3, -33.4);
    await page.mouse.move(x, y);
    const text = (await page.locator(`#${MAP}-readout`).textContent()) ?? '';
    const match = /^u ([-\d.]+) mm, v ([-\d.]+) mm: ([\d.]+) ± ([\d.]+) kW\/m²$/.exec(text);
    expect(match, text).not.toBeNull();
    const [u, v, flux, half] = (match ?? []).slice(1).map(Number);
    expect(Math.abs(u - 21.3)).toBeLessThan(1.5);
    expect(Math.abs(v + 33.4)).toBeLessThan(1.5);
    const [grid] = dish.summary.grids;
    const iu = Math.floor((u / (1000 * grid.width) + 0.5) * grid.nu);
    const iv = Math.floor((v / (1000 * grid.height) + 0.5) * grid.nv);
    const cell = iv * grid.nu + iu;
    expect(Math.abs(flux - grid.flux[cell])).toBeLessThan(0.02 * grid.flux[cell]);
    expect(Math.abs(half - 1.96 * grid.stdErr[cell])).toBeLessThan(0.1 * half);
  });

  it('an opening pulled smaller gives what the engine finds for it, within 1 %', async () => {
    const { page } = await open(html);
    await page.locator(`#${MAP}-figure`).scrollIntoViewIfNeeded();
    const [receiver] = dish.summary.result.receivers;
    const power = page.locator(`#${MAP}-power`);
    expect(leadingNumber(await power.textContent())).toBeCloseTo(receiver.intercepted_power.value, 0);
    const from = await onMap(page, 90, 0);
    const to = await onMap(page, 60, 0);
    await page.mouse.move(from.x, from.y);
    await page.mouse.down();
    await page.mouse.move(to.x, to.y, { steps: 4 });
    await page.mouse.up();
    const size = Number(await page.locator(`#${MAP}-size`).inputValue());
    expect(Math.abs(size - 120)).toBeLessThan(3);
    const traced = await tracedOf(
      sceneOf(dish.text.replace('diameter_m: 0.18', `diameter_m: ${size / 1000}`)),
      4e5,
    );
    const [found] = traced.summary.result.receivers;
    const pulled = leadingNumber(await power.textContent());
    expect(Math.abs(pulled / found.intercepted_power.value - 1)).toBeLessThan(0.01);
    const spill = leadingNumber(await page.locator(`#${MAP}-spill`).textContent()) / 100;
    expect(Math.abs(spill - found.spill_fraction.value)).toBeLessThan(0.01);
    // The one as built would have failed.
    expect(Math.abs(receiver.intercepted_power.value / found.intercepted_power.value - 1)).toBeGreaterThan(
      0.01,
    );
    // Moved by its middle, then typed, then put back.
    const middle = await onMap(page, 10, 10);
    const aside = await onMap(page, 40, 10);
    await page.mouse.move(middle.x, middle.y);
    await page.mouse.down();
    await page.mouse.move(aside.x, aside.y, { steps: 4 });
    await page.mouse.up();
    expect(Math.abs(Number(await page.locator(`#${MAP}-u`).inputValue()) - 30)).toBeLessThan(3);
    expect(leadingNumber(await power.textContent())).toBeLessThan(pulled);
    await page.locator(`#${MAP}-shape`).selectOption('rectangle');
    await page.locator(`#${MAP}-width`).fill('50');
    await page.locator(`#${MAP}-height`).fill('60');
    expect(await page.locator(`#${MAP}-size`).isVisible()).toBe(false);
    expect(leadingNumber(await power.textContent())).toBeLessThan(pulled);
    await page.locator(`#${MAP}-width`).fill('900');
    expect(await page.locator(`#${MAP}-note`).textContent()).toContain('beyond the map');
    await page.locator(`#${MAP}-reset`).click();
    expect(leadingNumber(await power.textContent())).toBeCloseTo(receiver.intercepted_power.value, 0);
    expect(await page.locator(`#${MAP}-shape`).inputValue()).toBe('round');
  });

  it('hands out the map as numbers', async () => {
    const { page } = await open(html);
    const [download] = await Promise.all([
      page.waitForEvent('download'),
      page.locator(`#${MAP}-csv`).click(),
    ]);
    const text = await readFile((await download.path()) ?? '', 'utf8');
    const [head, ...lines] = text.trim().split('\n');
    expect(head).toBe('u_mm,v_mm,flux_kw_m2,std_err_kw_m2');
    const [grid] = dish.summary.grids;
    expect(lines).toHaveLength(grid.nu * grid.nv);
    const top = grid.flux.reduce((a, b) => Math.max(a, b));
    lines.forEach((line, cell) => {
      expect(Math.abs(Number(line.split(',')[2]) - grid.flux[cell])).toBeLessThanOrEqual(top / 65_000);
    });
    const [named] = await Promise.all([
      page.waitForEvent('download'),
      page.locator('a[download="ledger-1.csv"]').click(),
    ]);
    expect((await readFile((await named.path()) ?? '', 'utf8')).split('\n')[0]).toContain('power_w');
  });

  it('each control of the view does what it says', async () => {
    const opened = await open(html);
    const { page } = opened;
    let before = await canvasPicture(page);
    const changes = async (least: number): Promise<number> => {
      const after = await canvasPicture(page);
      const share = difference(before, after);
      before = after;
      expect(share).toBeGreaterThan(least);
      return share;
    };
    for (const view of ['south', 'east', 'above', 'sun']) {
      await page.locator(`#view-${view}`).click();
      await changes(0.02);
    }
    await page.locator('#view-south').click();
    await changes(0.02);
    for (const share of ['100', '10']) {
      await page.locator('#space-share').fill(share);
      await changes(0.001);
    }
    for (const box of [
      'fate-caught',
      'fate-spilled',
      'thing-ground',
      'thing-receivers',
      'thing-ribs',
      'thing-mirrors',
    ]) {
      await page.locator(`#${box}`).uncheck();
      await changes(0.0002);
    }
    await page.locator('#space-share').fill('100');
    for (const box of ['thing-mirrors', 'thing-receivers', 'fate-caught']) {
      await page.locator(`#${box}`).check();
      await changes(0.0002);
    }
    await page.locator('#space-canvas').focus();
    for (const key of ['ArrowLeft', 'ArrowUp', '+', '-']) {
      await page.keyboard.press(key);
      await changes(0.005);
    }
    const box = await page.locator('#space-canvas').boundingBox();
    if (box === null) throw new Error('no canvas');
    await page.mouse.move(box.x + 200, box.y + 200);
    await page.mouse.down();
    await page.mouse.move(box.x + 300, box.y + 230, { steps: 4 });
    await page.mouse.up();
    await changes(0.02);
    await page.mouse.wheel(0, -300);
    await changes(0.01);
    expect(opened.console).toEqual([]);
  });

  it('the time slider moves receivers and sun, and takes the rays away', async () => {
    const { page } = await open(html);
    const traced = await canvasPicture(page);
    const pictures: Buffer[] = [];
    for (let step = 1; step <= STEPS.length; step++) {
      await page.locator('#space-step').fill(String(step));
      expect(await page.locator('#space-clock').textContent()).toContain(STEPS[step - 1].label);
      pictures.push(await canvasPicture(page));
    }
    expect(difference(traced, pictures[1])).toBeGreaterThan(0.01);
    expect(difference(pictures[0], pictures[2])).toBeGreaterThan(0.003);
    await page.locator('#space-step').fill('0');
    expect(difference(traced, await canvasPicture(page))).toBeLessThan(0.001);
  });

  it('tells what is under the pointer in space: name, incidence and watts', async () => {
    const { page } = await open(html);
    for (const { key } of [{ key: 'caught' }, { key: 'spilled' }, { key: 'shaded' }]) {
      await page.locator(`#fate-${key}`).uncheck();
    }
    await page.locator('#view-above').click();
    const box = await page.locator('#space-canvas').boundingBox();
    await canvasPicture(page);
    const now = await page.locator('#space-canvas').boundingBox();
    if (box === null || now === null) throw new Error('no canvas');
    const tips = new Set<string>();
    for (let i = 1; i < 10; i++) {
      await page.mouse.move(now.x + now.width * (0.25 + 0.05 * i), now.y + now.height * (0.3 + 0.04 * i));
      await framesPassed(page);
      const tip = page.locator('#space-tip');
      if (await tip.isVisible()) tips.add((await tip.textContent()) ?? '');
    }
    const mirror = [...tips].find((tip) => tip.startsWith('mirror '));
    expect(mirror, [...tips].join(' | ')).toMatch(
      /^mirror A-1\/s\d: incidence \d+\.\d° at its middle, \d+(\.\d+)? W of sunlight/,
    );
    await page.locator('#fate-caught').check();
    await page.locator('#space-share').fill('100');
    const rays = new Set<string>();
    for (let i = 1; i < 12; i++) {
      await page.mouse.move(now.x + now.width * (0.3 + 0.033 * i), now.y + now.height * (0.35 + 0.021 * i));
      await framesPassed(page);
      rays.add((await page.locator('#space-tip').textContent()) ?? '');
    }
    expect([...rays].join('\n')).toMatch(
      /ray off A-1\/s\d: incidence \d+\.\d°, [\d.e-]+ W of sunlight, [\d.e-]+ W at its end; through/,
    );
  });

  it('is readable at phone width: nothing is wider than the page, figures and tables scroll in their own boxes', async () => {
    const { page } = await open(html, { width: 390, height: 844, touch: true });
    expect(await page.evaluate<number>('document.documentElement.scrollWidth')).toBeLessThanOrEqual(390);
    // The lettering of the figures that shrink: at least 8 pixels high.
    const sizes = await page.evaluate<number[]>(`
      Array.from(document.querySelectorAll('.figure:not(.still) svg.drawing'), (svg) => {
        const scale = svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
        return scale * Math.min(...Array.from(svg.querySelectorAll('text'), (text) => Number(text.getAttribute('font-size'))));
      })`);
    expect(sizes.length).toBeGreaterThan(2);
    for (const size of sizes) expect(size).toBeGreaterThan(8);
  });

  it('prints with the still picture, no controls, and no figure wider or taller than a sheet', async () => {
    const { page } = await open(html);
    await framesPassed(page);
    await page.emulateMedia({ media: 'print' });
    // A4 less its margins: 184 mm at 96 pixels an inch.
    await page.setViewportSize({ width: 695, height: 1016 });
    expect(await page.locator('.still').isVisible()).toBe(true);
    expect(await page.locator('#space-canvas').isVisible()).toBe(false);
    expect(await page.locator(`#${MAP}-tools`).isVisible()).toBe(false);
    const boxes = await page.evaluate<{ left: number; right: number; height: number; name: string }[]>(`
      Array.from(document.querySelectorAll('svg.drawing, table, pre'), (thing) => {
        const { left, right, height } = thing.getBoundingClientRect();
        return { left, right, height, name: thing.tagName };
      }).filter(({ height }) => height > 0)`);
    expect(boxes.length).toBeGreaterThan(6);
    for (const { left, right, height, name } of boxes) {
      expect(left).toBeGreaterThanOrEqual(-1);
      expect(right, name).toBeLessThanOrEqual(696);
      if (name === 'svg') expect(height).toBeLessThan(1016);
    }
    const pdf = await page.pdf({ preferCSSPageSize: true, printBackground: true });
    expect(pdf.subarray(0, 5).toString()).toBe('%PDF-');
  });

  it('shows scenes one by one in space, and each map of a row by its receiver', async () => {
    const row = await tracedDemo('row-of-eight.yaml', 1e5);
    const opened = await open(reportPage(pageInput([row])));
    const { page } = opened;
    expect(await page.locator('.map-card:visible').count()).toBe(1);
    await page.locator('#receiver-0').selectOption('map-0-5');
    expect(await page.locator('#map-0-5-card').isVisible()).toBe(true);
    expect(await page.locator('#map-0-0-card').isVisible()).toBe(false);
    const both = await open(reportPage(pageInput([row, dish])));
    const first = await canvasPicture(both.page);
    await both.page.locator('#space-scene').selectOption('1');
    expect(difference(first, await canvasPicture(both.page))).toBeGreaterThan(0.01);
    expect(await both.page.locator('.map-card:visible').count()).toBe(2);
    expect(both.console).toEqual([]);
    expect(opened.console).toEqual([]);
  });

  it('200 hostile names and titles are text: nothing runs, nothing is fetched', async () => {
    const texts = hostileTexts(200);
    const opened = await open(reportPage(await hostilePage(texts)));
    const { page } = opened;
    await canvasPicture(page);
    await page.locator('#view-above').click();
    for (const tip of ['details summary']) {
      for (const summary of await page.locator(tip).all())
        if (await summary.isVisible()) await summary.click();
    }
    await page.locator('#space-step').fill('2');
    await framesPassed(page);
    expect(await page.evaluate('window.ran')).toBeUndefined();
    expect(opened.console).toEqual([]);
    expect(opened.requests).toEqual([]);
    expect(page.url()).toMatch(/^file:/);
    // They are there, as text.
    const shown = (await page.locator('body').textContent()) ?? '';
    for (const text of texts) expect(shown).toContain(text);
    // The page's own elements and no others.
    const foreign =
      'iframe, object, embed, base, link, form, video, math, template, textarea, [onload], [onerror]';
    expect(await page.locator(foreign).count()).toBe(0);
    // The check sees what it must: the same name as markup runs, once the policy is gone.
    const careless = await open(`<!DOCTYPE html><body><img src=x onerror=window.ran=1></body>`);
    await careless.page.waitForTimeout(200);
    expect(await careless.page.evaluate('window.ran')).toBe(1);
  });
});

/** A page on which every text that a stranger can write is hostile. */
async function hostilePage(texts: readonly string[]): Promise<Parameters<typeof reportPage>[0]> {
  const at = (i: number): string => texts[i % texts.length];
  const base = sceneOf(demoText('row-of-eight.yaml'));
  const scene: Scene = {
    ...base,
    title: at(0),
    films: base.films.map((film) => ({ ...film, name: at(1) })),
    dishes: base.dishes.map((dish) => ({ ...dish, name: at(2), film: at(1) })),
    rows: base.rows.map((row) => ({ ...row, name: at(3), dish: at(2), dishes: 3 })),
    receivers: [4, 5, 6].map((i) => ({
      name: at(i),
      design: {
        kind: 'plate',
        aperture: { shape: 'round', diameter: 0.1 },
        window: { width: 0.2, height: 0.2 },
        cells: [8, 8],
        peakDisc: 0.02,
        body: null,
      },
      position: [20 + i, 0, 3],
      facing: { azimuth: Math.PI, elevation: -1 },
      alongAzimuth: Math.PI / 2,
    })),
    blockers: [{ kind: 'box', name: at(7), centre: [30, 0, 1], size: [0.1, 0.1, 0.1], heading: 0 }],
    hash: at(8),
  };
  const traced = await tracedOf(scene, 2e4, texts.slice(0, 40).join('\n'), at(9));
  const drawn = drawLossFigure(traced.summary.result.total.ledger, at(10));
  const section: ReportSection = {
    id: 'hostile',
    title: at(11),
    lead: at(12),
    figures: [{ drawn, caption: at(13), description: at(14), csv: at(15) }],
    tables: [{ caption: at(16), head: [at(17), at(18)], rows: texts.map((text) => [text, text]) }],
    csv: [
      {
        name: at(15),
        text: toCsv(
          [at(19)],
          texts.map((text) => [text]),
        ),
      },
    ],
    methods: texts,
    viewSteps: texts.slice(0, 5).map((label, i) => ({
      label,
      sunDirection: [0, -0.6, 0.8],
      receiverOffsets: { [at(4 + i)]: [0.1, 0, 0] },
    })),
  };
  return pageInput([traced], {
    seed: at(20),
    overrides: texts.slice(20, 40),
    sections: [section],
    answer: texts.slice(40, 60),
    cautions: texts.slice(60, 80),
    warnings: texts.slice(80, 100),
  });
}
