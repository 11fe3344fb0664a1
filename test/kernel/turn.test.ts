import { describe, expect, it } from 'vitest';
import { buildTurnTable, TURN_CELLS, turnLookup } from '../../src/kernel/turn.js';

/** Largest radius error, largest angle error and mean square radius over a regular sweep of the turn. */
function sweepTurn(table: Float64Array): { radius: number; angle: number; meanSquare: number } {
  const out = new Float64Array(2);
  const points = TURN_CELLS * 64;
  let radius = 0;
  let angle = 0;
  let square = 0;
  for (let index = 0; index < points; index++) {
    const bits = (index / points) * 2 ** 32 + 2 ** 32 / points / 2;
    turnLookup(out, table, bits | 0);
    const exact = (2 * Math.PI * bits) / 2 ** 32;
    const size = Math.hypot(out[0], out[1]);
    const sine = (out[1] * Math.cos(exact) - out[0] * Math.sin(exact)) / size;
    radius = Math.max(radius, Math.abs(size - 1));
    angle = Math.max(angle, Math.abs(Math.asin(sine)));
    square += size * size;
  }
  return { radius, angle, meanSquare: square / points };
}

describe('turn table', () => {
  it('keeps the radius within 5.1e-5, the angle within 2.5e-7 rad and the mean square radius at 1', () => {
    const { radius, angle, meanSquare } = sweepTurn(buildTurnTable());
    expect(radius).toBeLessThan(5.1e-5);
    expect(angle).toBeLessThan(2.5e-7);
    expect(Math.abs(meanSquare - 1)).toBeLessThan(1e-7);
  });

  it('sabotage: a polygon drawn inside the circle fails the mean square radius', () => {
    const inside = buildTurnTable().map(
      (value) => value * Math.sqrt(1 - (2 / 3) * Math.sin(Math.PI / TURN_CELLS) ** 2),
    );
    expect(Math.abs(sweepTurn(inside).meanSquare - 1)).toBeGreaterThan(5e-5);
  });

  it('takes signed and unsigned integers alike and joins up at the full turn', () => {
    const table = buildTurnTable();
    const signed = turnLookup(new Float64Array(2), table, -1);
    const unsigned = turnLookup(new Float64Array(2), table, 2 ** 32 - 1);
    expect(signed).toEqual(unsigned);
    const start = turnLookup(new Float64Array(2), table, 0);
    expect(Math.abs(signed[0] - start[0])).toBeLessThan(1e-8);
    expect(Math.abs(signed[1] - start[1])).toBeLessThan(1e-8);
  });

  it('names the quarters of the turn', () => {
    const table = buildTurnTable();
    const corner = 1 / Math.sqrt(1 - (2 / 3) * Math.sin(Math.PI / TURN_CELLS) ** 2);
    const expected = [
      [corner, 0],
      [0, corner],
      [-corner, 0],
      [0, -corner],
    ];
    for (let quarter = 0; quarter < 4; quarter++) {
      const out = turnLookup(new Float64Array(2), table, quarter * 2 ** 30);
      expect(out[0]).toBeCloseTo(expected[quarter][0], 12);
      expect(out[1]).toBeCloseTo(expected[quarter][1], 12);
    }
  });
});
