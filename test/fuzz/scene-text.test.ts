import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { loadScene } from '../../src/scene/load.js';
import type { Scene } from '../../src/scene/types.js';
import { CAMPAIGN_TIMEOUT, cases, SEED } from './campaign.js';
import { drawnScene } from './drawn-scenes.js';
import { faultOf, placeFault, runInProcess } from './in-process.js';
import { mutatedScene } from './mutations.js';

/** What a trace of milliseconds can bear. */
function isSmall(scene: Scene): boolean {
  const dishes = scene.rows.reduce((sum, row) => sum + row.dishes * row.rows, 0);
  const strips = Math.max(0, ...scene.dishes.map(({ strips: { count } }) => count));
  const designs = [
    ...scene.receivers.map(({ design }) => design),
    ...scene.dishes.flatMap(({ receiver }) => (receiver === null ? [] : [receiver.design])),
  ];
  const cells = Math.max(0, ...designs.map((design) => design.cells[0] * design.cells[1]));
  return dishes * strips + scene.facets.length <= 60 && cells * (dishes + scene.receivers.length) <= 40_000;
}

const counts = { refused: 0, checked: 0, traced: 0 };

/** Checks a text and, where it is a small valid scene, traces it. @returns what is wrong; null where nothing is */
async function faultOfText(text: string, bytes: Buffer): Promise<string | null> {
  const checked = await runInProcess(['check', '-'], bytes);
  const fault = faultOf(checked, text) ?? placeFault(checked);
  if (fault !== null) return `check ${fault}`;
  if (checked.code === 2) counts.refused++;
  if (checked.code !== 0) return null;
  counts.checked++;
  const loaded = loadScene(text, { file: 'scene' });
  if (!loaded.ok || !isSmall(loaded.scene)) return null;
  const options = counts.traced % 2 === 0 ? ['--json'] : [];
  const traced = await runInProcess(
    ['trace', '-', '--rays', '500', '--workers', '0', '--quiet', ...options],
    bytes,
  );
  counts.traced++;
  const wrong = faultOf(traced, text);
  return wrong === null ? null : `trace ${wrong}`;
}

describe('scene texts', () => {
  const mutated = cases(100_000, 800);
  it(
    `${mutated} mutated ones are refused with a place, or described, and never crash, hang or print NaN`,
    async () => {
      await fc.assert(
        fc.asyncProperty(mutatedScene(), async (bytes) => {
          expect(await faultOfText(bytes.toString('utf8'), bytes)).toBeNull();
        }),
        { seed: SEED, numRuns: mutated },
      );
      // Else the campaign looked at one side only.
      expect(counts.refused).toBeGreaterThan(mutated / 4);
      expect(counts.checked).toBeGreaterThan(mutated / 50);
    },
    CAMPAIGN_TIMEOUT,
  );

  const drawn = cases(5000, 40);
  it(
    `${drawn} drawn ones are traced to finite figures`,
    async () => {
      counts.traced = 0;
      for (let i = 0; counts.traced < drawn && i < 40 * drawn; i++) {
        const seed = `${SEED}/${i}`;
        const text = drawnScene(seed);
        // Of those that are refused, one in ten goes the whole way: bad scenes are the other campaign's business.
        if (i % 10 !== 0 && !loadScene(text, { file: 'scene' }).ok) continue;
        expect(await faultOfText(text, Buffer.from(text)), `drawn from seed ${seed}`).toBeNull();
      }
      expect(counts.traced).toBe(drawn);
    },
    CAMPAIGN_TIMEOUT,
  );
});
