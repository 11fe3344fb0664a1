/**
 * Exact trace of a point sun over a square grid of mirror points, written anew for the tests and independent of the engine:
 * plain vectors, no sampling. Round dish about the vertex, screen square to the chief ray.
 */

export interface StillDish {
  /** 'toroid': circles both ways, the circle along turned about the line across. 'translation': x^2/(2A) + y^2/(2B). */
  readonly surface: 'toroid' | 'translation';
  /** Radii in the plane of incidence (x) and across it (y), m. */
  readonly along: number;
  readonly across: number;
  readonly diameter: number;
  /** Sun off the axis, radians. */
  readonly lean: number;
  /** Screen's distance along the chief ray, m. */
  readonly distance: number;
}

/** Height and gradient of the surface. */
function surfaceAt({ surface, along, across }: StillDish, x: number, y: number): [number, number, number] {
  if (surface === 'translation') {
    return [x ** 2 / (2 * along) + y ** 2 / (2 * across), x / along, y / across];
  }
  const drop = Math.sqrt(along ** 2 - x ** 2);
  const arm = across - along + drop;
  const rise = Math.sqrt(arm ** 2 - y ** 2);
  return [across - rise, ((arm / rise) * x) / drop, y / rise];
}

/** Radius about the power-weighted centroid that holds 90 % of the power, m. */
export function pupilR90(dish: StillDish, steps = 201): number {
  const [sine, cosine] = [Math.sin(dish.lean), Math.cos(dish.lean)];
  const hits: { u: number; v: number; power: number }[] = [];
  for (let row = 0; row < steps; row++) {
    for (let column = 0; column < steps; column++) {
      const x = (((column + 0.5) / steps) * 2 - 1) * (dish.diameter / 2);
      const y = (((row + 0.5) / steps) * 2 - 1) * (dish.diameter / 2);
      if (Math.hypot(x, y) > dish.diameter / 2) continue;
      const [z, slopeX, slopeY] = surfaceAt(dish, x, y);
      // Sun at (-sine, 0, cosine), chief ray to (sine, 0, cosine).
      const power = cosine + slopeX * sine;
      const twice = (2 * power) / (1 + slopeX ** 2 + slopeY ** 2);
      const ray = [-twice * slopeX + sine, -twice * slopeY, twice - cosine];
      const reach = (dish.distance - (x * sine + z * cosine)) / (ray[0] * sine + ray[2] * cosine);
      const [atX, atY, atZ] = [x + reach * ray[0], y + reach * ray[1], z + reach * ray[2]];
      hits.push({ u: atX * cosine - atZ * sine, v: atY, power });
    }
  }
  const total = hits.reduce((sum, { power }) => sum + power, 0);
  const centre = hits.reduce((sum, { u, power }) => sum + u * power, 0) / total;
  const rings = hits
    .map(({ u, v, power }) => ({ radius: Math.hypot(u - centre, v), power }))
    .sort((a, b) => a.radius - b.radius);
  let held = 0;
  for (const { radius, power } of rings) {
    held += power;
    if (held >= 0.9 * total) return radius;
  }
  return Number.NaN;
}
