import { readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { formatTraceText } from '../../src/report/tables.js';
import type { ReceiverResult } from '../../src/result/types.js';
import { CAVITY, HOSTILE_NAME, receiverOf, TUBE, traceResultOf } from '../support/synthetic-result.js';

const receiversOf = (count: number): ReceiverResult[] =>
  Array.from({ length: count }, (_, i) =>
    receiverOf({ ...CAVITY, name: i === 1 ? HOSTILE_NAME : `A1-${i + 1}`, spill: 0.02 + 0.001 * i }),
  );

describe('formatTraceText', () => {
  it('begins with the answer and ends with the cautions', () => {
    const result = traceResultOf('one dish', receiversOf(1));
    const text = formatTraceText(result, { colour: false, columns: 400 });
    expect(text.startsWith(result.answer)).toBe(true);
    expect(text.trimEnd().endsWith(result.cautions[0])).toBe(true);
    expect(text.indexOf('Warnings')).toBeGreaterThan(text.indexOf('Ledger'));
  });

  it.each([1, 2, 12, 13, 60])('holds no control character for %d receivers without colour', (count) => {
    const result = traceResultOf(HOSTILE_NAME, receiversOf(count));
    const hostile = {
      ...result,
      answer: `${result.answer} ${HOSTILE_NAME}`,
      seed: HOSTILE_NAME,
      warnings: [{ code: 'x', message: HOSTILE_NAME }],
    };
    const text = formatTraceText(hostile, { colour: false, columns: 80 });
    expect(/[\p{Cc}\p{Cf}]/u.test(text.replaceAll('\n', ''))).toBe(false);
  });

  it.each([1, 8, 60])('stays within 80 columns for %d receivers', (count) => {
    const text = formatTraceText(traceResultOf(HOSTILE_NAME, receiversOf(count)), {
      colour: false,
      columns: 80,
    });
    expect(Math.max(...text.split('\n').map((line) => [...line].length))).toBeLessThanOrEqual(80);
  });

  it('lists up to twelve receivers, then the range and the three worst', () => {
    const twelve = formatTraceText(traceResultOf('x', receiversOf(12)), { colour: false, columns: 120 });
    expect(twelve).toMatch(/^ {2}A1-12 /m);
    const many = formatTraceText(traceResultOf('x', receiversOf(13)), { colour: false, columns: 120 });
    expect(many).not.toMatch(/^ {2}A1-1 /m);
    expect(many).toMatch(/^ {2}lowest /m);
    expect(many).toMatch(/The 3 that spill most\n.*\n.*\n {2}A1-13 .*\n {2}A1-12 .*\n {2}A1-11 /);
  });

  it('names the columns there is no room for, and gives the centroids below', () => {
    const result = traceResultOf('x', receiversOf(8));
    const wide = formatTraceText(result, { colour: false, columns: 160 });
    expect(wide).not.toContain('no room for');
    expect(wide.match(/centroid/g)).toHaveLength(1);
    const narrow = formatTraceText(result, { colour: false, columns: 80 });
    expect(narrow).toMatch(/no room for: .*mean kW\/m²/);
    const middling = formatTraceText(result, { colour: false, columns: 90 });
    expect(middling).toContain('centroid u, v / mm');
  });

  it('sets the later lines of a warning in', () => {
    const result = {
      ...traceResultOf('x', receiversOf(1)),
      warnings: [{ code: 'x', message: 'word '.repeat(30).trim() }],
    };
    const text = formatTraceText(result, { colour: false, columns: 80 });
    expect(text).toMatch(/^ {2}- word.*\n {4}word/m);
  });

  it('gives no centroid around a tube', () => {
    const tube = receiverOf({ ...TUBE, spot: { ...TUBE.spot, centre: [7, 33] } });
    for (const columns of [60, 120]) {
      const text = formatTraceText(traceResultOf('x', [tube]), { colour: false, columns });
      expect(text).toContain('7.00 ± 0.22');
      expect(text).not.toContain('33.00');
    }
  });

  it('says that a run was interrupted', () => {
    const result = { ...traceResultOf('x', receiversOf(1)), interrupted: true };
    expect(formatTraceText(result, { colour: false, columns: 80 })).toContain('Interrupted');
  });

  it('differs with colour only by colour codes', () => {
    const result = traceResultOf('x', receiversOf(3));
    const colours = new RegExp(`${String.fromCharCode(27)}\\[[0-9;]*m`, 'g');
    const coloured = formatTraceText(result, { colour: true, columns: 90 });
    expect(coloured).toMatch(colours);
    const bare = coloured.replaceAll(colours, '').replace(/[ ]+$/gm, '');
    expect(bare).toBe(formatTraceText(result, { colour: false, columns: 90 }));
  });
});

describe('light modules', () => {
  // What the command line loads at once must not bring in the picture libraries.
  it.each(['tables.ts', 'json.ts', 'files.ts', 'csv.ts', '../result/number-format.ts'])(
    '%s loads no picture library',
    (start) => {
      const folder = join(dirname(fileURLToPath(import.meta.url)), '../../src/report');
      const seen = new Set<string>();
      const queue = [start];
      for (let file = queue.pop(); file !== undefined; file = queue.pop()) {
        if (seen.has(file)) continue;
        seen.add(file);
        const text = readFileSync(join(folder, file), 'utf8');
        expect(text).not.toMatch(/from '(@resvg|d3-|pngjs)/);
        for (const [, next] of text.matchAll(/^(?:import|export) (?!type)[^;]*? from '\.\/(.+)\.js'/gm))
          queue.push(`${next}.ts`);
      }
    },
  );
});
