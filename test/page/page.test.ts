import { createHash } from 'node:crypto';
import { beforeAll, describe, expect, it } from 'vitest';
import { reportPage } from '../../src/page/page.js';
import type { PageData } from '../../src/page/page-data.js';
import type { TracedScene } from '../../src/page/types.js';
import { verdictOf } from '../../src/page/verdict.js';
import { toCsv } from '../../src/report/csv.js';
import { drawLossFigure } from '../../src/report/loss-figure.js';
import type { ReportSection } from '../../src/report/section.js';
import { pageInput, sceneOf, tracedDemo, tracedOf } from '../support/pages.js';
import { hostileTexts } from './hostile.js';

/** The page's parts that a browser would run or read as style. */
function inlined(html: string): { scripts: string[]; styles: string[]; policy: string } {
  const scripts = Array.from(html.matchAll(/<script>([\s\S]*?)<\/script>/g), (match) => match[1]);
  const styles = Array.from(html.matchAll(/<style>([\s\S]*?)<\/style>/g), (match) => match[1]);
  const policy = /http-equiv="Content-Security-Policy" content="([^"]*)"/.exec(html)?.[1] ?? '';
  return { scripts, styles, policy: policy.replaceAll('&#39;', "'") };
}

function dataOf(html: string): PageData {
  const text = /<script type="application\/json" id="page-data">([\s\S]*?)<\/script>/.exec(html)?.[1];
  return JSON.parse(text ?? '') as PageData;
}

function hash(text: string): string {
  return `'sha256-${createHash('sha256').update(text).digest('base64')}'`;
}

describe('the report page', () => {
  let row: TracedScene;
  let html: string;
  beforeAll(async () => {
    row = await tracedDemo('row-of-eight.yaml');
    html = reportPage(pageInput([row], { cautions: row.summary.result.cautions }));
  });

  it('may load nothing: its policy names its own script and style by hash, and nothing else', () => {
    const { scripts, styles, policy } = inlined(html);
    expect(scripts).toHaveLength(1);
    expect(styles).toHaveLength(1);
    expect(policy).toBe(
      `default-src 'none'; script-src ${hash(scripts[0])}; style-src ${hash(styles[0])}; img-src data:; base-uri 'none'; form-action 'none'`,
    );
    // Before anything that it rules.
    expect(html.indexOf('Content-Security-Policy')).toBeLessThan(html.indexOf('<style>'));
  });

  it('refers to nothing outside itself', () => {
    const markup = html.replace(/<script>[\s\S]*?<\/script>/g, '');
    const references = Array.from(
      markup.matchAll(/\s(?:src|href|action|data|xlink:href)="([^"]*)"/g),
      (m) => m[1],
    );
    expect(references.length).toBeGreaterThan(20);
    for (const reference of references) expect(reference).toMatch(/^(data:|#)/);
    expect(markup).not.toMatch(/\sstyle="|\son[a-z]+="/);
  });

  it('is smaller than 2 MB for a demo row, and carries the licence of what it holds of others', () => {
    expect(Buffer.byteLength(html)).toBeLessThan(2e6);
    expect(html).toContain('Permission is hereby granted, free of charge');
  });

  it('begins with the answer, then maps, opening, losses, rays, inputs, methods', () => {
    const places = [
      'class="answer"',
      'Caution: concentrated light',
      'id="maps"',
      'id="opening"',
      'id="losses"',
      'id="rays"',
      'id="inputs"',
      'id="methods"',
    ].map((mark) => html.indexOf(mark));
    expect(places).not.toContain(-1);
    expect([...places].sort((a, b) => a - b)).toEqual(places);
  });

  it('holds seed, version, scene hash, ray count, wall time and the scene as written', () => {
    const { result } = row.summary;
    for (const text of [result.seed, '0.0.0', result.scene_hash, '2031-05-04', '1.5 s', 'pitch_m: 1.35']) {
      expect(html).toContain(text);
    }
    expect(html).toContain('rays in 32 batches, errors from 32 groups');
  });

  it('gives names, ids and descriptions to all its figures, each id once', () => {
    const ids = Array.from(html.matchAll(/\sid="([^"]*)"/g), (match) => match[1]);
    expect(ids.length).toBe(new Set(ids).size);
    for (const [, label] of html.matchAll(/role="img" aria-labelledby="([^"]*)"/g)) {
      for (const id of label.split(' ')) expect(ids).toContain(id);
    }
    for (const [, target] of html.matchAll(/url\(#([^)]*)\)/g)) {
      if (!target.includes('$')) expect(ids).toContain(target);
    }
  });

  it('is the same bytes again', () => {
    expect(reportPage(pageInput([row], { cautions: row.summary.result.cautions }))).toBe(html);
  });

  it('holds maps to 16 bits of their highest cell, and rays in the shares of the ledger', () => {
    const data = dataOf(html);
    expect(data.maps).toHaveLength(8);
    expect(data.maps[3].flux.top).toBe(row.summary.grids[3].flux.reduce((a, b) => Math.max(a, b)));
    const [space] = data.spaces;
    expect(space.facets).toHaveLength(56);
    expect(space.ribs).toHaveLength(16);
    const fates = Buffer.from(space.rays.fates, 'base64');
    const { lines, rays } = row.summary.result.total.ledger;
    for (const [i, keys] of [
      [0, ['intercepted']],
      [2, ['spilled_on_receiver', 'spilled_on_ground', 'spilled_to_sky']],
      [4, ['shaded']],
    ] as const) {
      const share = fates.filter((fate) => fate === i).length / fates.length;
      const truth =
        lines.reduce((sum, line) => (keys.includes(line.key as never) ? sum + (line.rays ?? 0) : sum), 0) /
        rays;
      // Four standard errors of a share counted in so many independent rays; lattices do better.
      expect(Math.abs(share - truth)).toBeLessThan(4 * Math.sqrt((truth * (1 - truth)) / fates.length));
    }
  });

  it('sets scenes side by side, one colour scale for all', async () => {
    const other = await tracedDemo('badly-built.yaml');
    const page = reportPage(pageInput([row, other]));
    expect(page).toContain('class="columns columns-2"');
    const data = dataOf(page);
    expect(data.maps.map(({ scene }) => scene)).toEqual([0, 1]);
    const highest = Math.max(...data.maps.map(({ flux }) => flux.top));
    expect(data.scale_kw_m2).toBe(highest);
  });

  it('keeps a section as text, and its numbers as a file that a spreadsheet does not run', () => {
    const drawn = drawLossFigure(row.summary.result.total.ledger, 'x');
    const [title, lead, caption, cell, head] = hostileTexts(5);
    const section: ReportSection = {
      id: 'day',
      title,
      lead,
      figures: [{ drawn, caption, description: caption, csv: 'day.csv' }],
      tables: [{ caption, head: [head, 'power'], rows: [[cell, '3.1 ± 0.2 kW']] }],
      csv: [{ name: 'day.csv', text: toCsv(['name'], [['=1+1']]) }],
      methods: [lead],
    };
    const page = reportPage(pageInput([row], { sections: [section] }));
    expect(page).toContain('id="section-day"');
    expect(page).toContain('3.1 ± 0.2 kW');
    expect(page).not.toContain(cell);
    const file = /download="day.csv" href="data:text\/csv;charset=utf-8;base64,([^"]*)"/.exec(page);
    expect(Buffer.from(file?.[1] ?? '', 'base64').toString()).toBe("name\n'=1+1\n");
    // After the losses and before the inputs.
    expect(page.indexOf('id="section-day"')).toBeGreaterThan(page.indexOf('id="rays"'));
    expect(page.indexOf('id="section-day"')).toBeLessThan(page.indexOf('id="inputs"'));
  });

  it('can do without a traced scene, and then needs no script', () => {
    const page = reportPage(
      pageInput([], {
        answer: ['It holds up to 5.1 mrad.'],
        inputs: [{ file: 'a.yaml', text: 'title: a', title: 'a', hash: 'f00' }],
      }),
    );
    expect(page).toContain('It holds up to 5.1 mrad.');
    expect(page).not.toContain('<script');
    expect(inlined(page).policy).not.toContain('script-src');
  });
});

describe('the answer in one sentence', () => {
  it('says of a spot that fits what takes most', async () => {
    const { summary } = await tracedDemo('one-dish.yaml');
    expect(verdictOf(summary.result)).toMatch(
      /^The spot fits its opening: .* misses it; of the sunlight .* is caught, the largest loss being the film \(.* %\); change first: the film/,
    );
  });

  it('says of a receiver beside its light where to move it', async () => {
    const text = (await tracedDemo('one-dish.yaml')).text.replace(
      'faces: dish',
      'faces: dish\n      offset_m: [0.06, 0, 0]',
    );
    const { summary } = await tracedOf(sceneOf(text));
    expect(verdictOf(summary.result)).toMatch(
      /^The spot does not fit its opening: .* change first: move the receiver to where the light is, (59|60|61) mm towards −u/,
    );
  });

  it('says of too small an opening how large it must be', async () => {
    const text = (await tracedDemo('one-dish.yaml')).text.replace('diameter_m: 0.18', 'diameter_m: 0.1');
    const { summary } = await tracedOf(sceneOf(text));
    expect(verdictOf(summary.result)).toMatch(
      /change first: the opening \(.* mm spills 5 % of the light not blocked\)/,
    );
  });
});
