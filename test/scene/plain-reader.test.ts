import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { readDocument } from '../../src/scene/document.js';
import { fullSchema } from '../../src/scene/json-schema.js';
import { plainReader } from '../../src/scene/plain-reader.js';
import { sceneFileSchema } from '../../src/scene/schema.js';
import { CAMPAIGN_TIMEOUT, cases, SEED } from '../fuzz/campaign.js';
import { drawnScene } from '../fuzz/drawn-scenes.js';
import { BASE_TEXTS, mutatedScene } from '../fuzz/mutations.js';

const readPlain = plainReader(sceneFileSchema);
const full = fullSchema();

/** Both answers as text, so that the order of keys and the sign of zeros count; null for a text that holds no data. */
function bothOf(text: string): { readonly plain: string; readonly full: string } | null {
  const read = readDocument(text);
  if (!read.ok) return null;
  const { data } = read.document;
  const checked = full.check(structuredClone(data));
  const plain = readPlain(structuredClone(data));
  return { plain: JSON.stringify(plain), full: JSON.stringify(checked.success ? checked.data : null) };
}

describe('the plain reader', () => {
  it(
    'takes in the same as the schema package, of whole scenes and of mutated ones',
    () => {
      for (const text of BASE_TEXTS) {
        const both = bothOf(text);
        expect(both?.plain).not.toBe('null');
        expect(both?.plain).toBe(both?.full);
      }
      let refused = 0;
      let taken = 0;
      fc.assert(
        fc.property(mutatedScene(), (bytes) => {
          const both = bothOf(bytes.toString('utf8'));
          if (both === null) return;
          expect(both.plain).toBe(both.full);
          if (both.plain === 'null') refused++;
          else taken++;
        }),
        { seed: SEED, numRuns: cases(100_000, 600) },
      );
      // Else the campaign looked at one side only.
      expect(refused).toBeGreaterThan(60);
      expect(taken).toBeGreaterThan(20);
    },
    CAMPAIGN_TIMEOUT,
  );

  it(
    'takes in the same of scenes drawn from the schema itself',
    () => {
      let taken = 0;
      for (let i = 0; i < cases(5000, 300); i++) {
        const both = bothOf(drawnScene(`plain/${SEED}/${i}`));
        expect(both?.plain, `drawn from seed plain/${SEED}/${i}`).toBe(both?.full);
        if (both?.plain !== 'null') taken++;
      }
      expect(taken).toBeGreaterThan(100);
    },
    CAMPAIGN_TIMEOUT,
  );

  it.each([
    ['an unknown key', 'title: a', 'title: a\ntitel: b'],
    ['a number out of range', 'dni_w_m2: 850', 'dni_w_m2: 1421'],
    ['text for a number', 'dni_w_m2: 850', 'dni_w_m2: high'],
    ['a count that is not whole', 'bounce_limit: 4', 'bounce_limit: 4.5'],
    ['an unknown kind', 'kind: point', 'kind: disk'],
    ['a name without a letter', 'roll_a: { refl', '"  ": { refl'],
    ['a list of the wrong length', '[0, 0, 2]', '[0, 0]'],
    ['a key that is missing', 'title: a', ''],
  ])('refuses %s', (_what, good, bad) => {
    const text = [
      'title: a',
      'sun: { azimuth_deg: 180, elevation_deg: 60, dni_w_m2: 850, sunshape: { kind: point } }',
      'films: { roll_a: { reflectance: 0.9, slope_error_mrad: 0, specularity_mrad: 0 } }',
      'blockers: [{ kind: cylinder, from_m: [0, 0, 2], to_m: [0, 0, 3], diameter_m: 0.1 }]',
      'bounce_limit: 4',
    ].join('\n');
    expect(text).toContain(good);
    expect(bothOf(text)?.plain).not.toBe('null');
    const both = bothOf(text.replace(good, bad));
    expect(both).toEqual({ plain: 'null', full: 'null' });
  });
});
