/** How facets are laid down where receivers are unlike. */
import { describe, expect, it } from 'vitest';
import { layOut } from '../../src/field/layout.js';
import { footprintPlan } from '../../src/kernel/footprint.js';
import { viewPrepared } from '../../src/kernel/layout.js';
import { prepareScene } from '../../src/prepare.js';
import { momentOf } from '../../src/sun/direction.js';
import { sevenStripDish, textbookTrough } from '../support/scenes.js';

describe('a tube and a plate in one field', () => {
  it.each([0, 1])("each facet goes by its own receiver: the tube's (receiver %d) by rays", (tubeAt) => {
    const scene = sevenStripDish({ row: { dishes: 2 } });
    const field = layOut(scene);
    const tube = layOut(textbookTrough()).receivers[0].design;
    const receivers = field.receivers.map((receiver, index) =>
      index === tubeAt ? { ...receiver, design: tube } : receiver,
    );
    const { buffer } = prepareScene(scene, { ...field, receivers }, momentOf(scene));
    const view = viewPrepared(buffer);
    field.facets.forEach(({ receiver }, facet) => {
      expect(footprintPlan(view, facet).prints > 0).toBe(receiver !== tubeAt);
    });
  });
});
