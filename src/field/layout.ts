/** From a scene's design numbers to surfaces in the world. */
import type { DishDesign, RowSpec, Scene } from '../scene/types.js';
import { placeBlocker, placeDishBlocker } from './blocker.js';
import { designFrame, designSun, dishStrips, standingFrame } from './dish.js';
import { nearestReceiver, placeFacet, placeStrip } from './facet.js';
import { GeometryError } from './geometry-error.js';
import { placeBody, placeDishReceiver, placeStandingReceiver } from './receiver.js';
import { dishPlaces } from './row.js';
import type { Field, PlacedBlocker, PlacedFacet, PlacedReceiver } from './types.js';

function indexByName(things: readonly { readonly name: string }[]): Map<string, number> {
  return new Map(things.map((thing, index) => [thing.name, index]));
}

function lookUp(names: Map<string, number>, what: string, name: string, place: string): number {
  const index = names.get(name);
  if (index === undefined) {
    throw new GeometryError(place, `there is no ${what} named ${name}`);
  }
  return index;
}

/** The design of a row's dishes. */
export function dishOfRow(scene: Scene, row: RowSpec): DishDesign {
  const index = lookUp(indexByName(scene.dishes), 'dish', row.dish, `row ${row.name}`);
  return scene.dishes[index];
}

/**
 * Lays the whole scene out in the world frame. Order: receivers that stand by themselves, then those of dishes, row
 * by row; facets of rows, dish by dish, then single facets; bodies of receivers, blockers of dishes, blockers
 * of the scene. Where a row names a receiver, its dishes' own receivers are not built.
 * @throws GeometryError where the numbers cannot be built, a name is unknown, or two receivers share a name
 */
export function layOut(scene: Scene): Field {
  const films = indexByName(scene.films);
  const standing = indexByName(scene.receivers);
  const receivers: PlacedReceiver[] = scene.receivers.map(placeStandingReceiver);
  const facets: PlacedFacet[] = [];
  const dishBlockers: PlacedBlocker[] = [];

  for (const row of scene.rows) {
    const place = `row ${row.name}`;
    const design = dishOfRow(scene, row);
    const film = lookUp(films, 'film', design.film, `dish ${design.name}`);
    const shared = row.receiver === null ? null : lookUp(standing, 'receiver', row.receiver, place);
    for (const dish of dishPlaces(row)) {
      let receiver = shared;
      if (receiver === null) {
        if (design.receiver === null) {
          throw new GeometryError(place, `neither the row nor its dish ${design.name} names a receiver`);
        }
        receiver = receivers.length;
        receivers.push(placeDishReceiver(dish.name, design, design.receiver, dish.frame));
      }
      const strips = dishStrips(design, designSun(design, designFrame(design, dish.frame)));
      const frame = standingFrame(design, dish.frame);
      for (const [index, strip] of strips.entries()) {
        facets.push(placeStrip(strip, index, dish.name, frame, { film, receiver }));
      }
      for (const blocker of design.blockers) {
        dishBlockers.push(placeDishBlocker(blocker, dish.name, dish.frame));
      }
    }
  }

  for (const spec of scene.facets) {
    const place = `facet ${spec.name}`;
    const film = lookUp(films, 'film', spec.film, place);
    const facet = placeFacet(spec, { film, receiver: -1 });
    const receiver =
      spec.receiver === null
        ? nearestReceiver(facet.frame, receivers)
        : lookUp(standing, 'receiver', spec.receiver, place);
    if (receiver < 0) {
      throw new GeometryError(place, 'there is no receiver for it to serve');
    }
    facets.push({ ...facet, receiver });
  }

  const names = new Set<string>();
  for (const { name } of receivers) {
    if (names.has(name)) {
      throw new GeometryError(`receiver ${name}`, 'another receiver has the same name');
    }
    names.add(name);
  }

  const bodies = receivers.map(placeBody).filter((body) => body !== null);
  const blockers = [...bodies, ...dishBlockers, ...scene.blockers.map(placeBlocker)];
  return { facets, receivers, blockers, ground: scene.ground };
}
