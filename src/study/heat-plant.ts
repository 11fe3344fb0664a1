/** A scene's receivers and oil as the plant's formulas take them. */
import { layOut } from '../field/layout.js';
import { apertureArea } from '../field/receiver.js';
import type { PlacedReceiver } from '../field/types.js';
import { cavityWallArea } from '../plant/cavity.js';
import { type Channel, channelVolume } from '../plant/film-coefficient.js';
import { type Oil, oilAt, oilNamed } from '../plant/oil.js';
import type { Loop } from '../plant/oil-loop.js';
import { grey } from '../plant/radiation.js';
import { checkReceiver, type Receiver } from '../plant/receiver.js';
import type { HeatStore } from '../plant/receiver-balance.js';
import type { HeatSpec, OwnOil } from '../scene/plant-types.js';
import type { ReceiverDesign, Scene } from '../scene/types.js';

/** Heat or cost that cannot be worked out for the scene as it is; the message is for the user. */
export class PlantError extends Error {
  override readonly name = 'PlantError';
}

/** A field of receivers alike, ready for the balance. SI, K. */
export interface HeatPlant {
  readonly spec: HeatSpec;
  readonly receiver: Receiver;
  readonly receivers: number;
  readonly names: readonly string[];
  readonly design: ReceiverDesign;
  /** Of one receiver, m2. */
  readonly openingArea: number;
  readonly oil: Oil;
  readonly loop: Loop;
  /** Wanted mean oil temperature. */
  readonly mean: number;
  /** Of one receiver, for the time from a stopped pump. */
  readonly store: HeatStore;
  /** J/K of the whole field. */
  readonly heatCapacity: number;
  /** W/K of all pipes. */
  readonly pipeConductance: number;
  /** Pa, of the site. */
  readonly pressure: number;
}

function ownOil(given: OwnOil): Oil {
  const { filmLimit, bulkLimit, flashPoint, autoignition } = given;
  return {
    name: given.name,
    table: {
      temperature: given.temperature,
      density: given.density,
      heatCapacity: given.heatCapacity,
      conductivity: given.conductivity,
      viscosity: given.viscosity,
      ...(given.vapourPressure === null ? {} : { vapourPressure: given.vapourPressure }),
    },
    limits: {
      ...(filmLimit === null ? {} : { film: filmLimit }),
      ...(bulkLimit === null ? {} : { bulk: bulkLimit }),
      ...(flashPoint === null ? {} : { flash: flashPoint }),
      ...(autoignition === null ? {} : { autoignition }),
    },
    source: 'data sheet in the scene',
  };
}

/** Height of a front's normal below the horizon, radians. */
function facingDown(placed: PlacedReceiver): number {
  return Math.asin(Math.min(1, Math.max(-1, -placed.frame.z[2])));
}

function shapeOf(spec: HeatSpec, placed: PlacedReceiver): Receiver['shape'] {
  const { kind, aperture } = placed.design;
  const down = facingDown(placed);
  if (aperture.shape === 'tube')
    return { kind: 'tube', diameter: aperture.diameter, length: aperture.length };
  if (kind === 'cavity') {
    if (spec.cavity === null) throw new PlantError('the receivers are cavities; heat.cavity is missing');
    const openingDiameter = Math.sqrt((4 * apertureArea(placed.design)) / Math.PI);
    const { insideDiameter, depth } = spec.cavity;
    if (insideDiameter < openingDiameter) {
      throw new PlantError(
        `the cavity is ${1000 * insideDiameter} mm wide inside, less than its opening of ${(1000 * openingDiameter).toFixed(0)} mm`,
      );
    }
    return { kind: 'cavity', openingDiameter, insideDiameter, depth, facingDown: Math.max(0, down) };
  }
  const [length, width] =
    aperture.shape === 'round'
      ? [Math.sqrt(apertureArea(placed.design)), Math.sqrt(apertureArea(placed.design))]
      : [aperture.width, aperture.height];
  return { kind: 'plate', length, width, facingDown: down };
}

/** m2 of one receiver that insulation covers where the scene does not say: the cup's walls, or the plate's back. */
function insulatedArea(shape: Receiver['shape']): number {
  if (shape.kind === 'cavity') return cavityWallArea(shape);
  return shape.kind === 'plate' ? shape.length * shape.width : 0;
}

function receiverOf(spec: HeatSpec, placed: PlacedReceiver): Receiver {
  const shape = shapeOf(spec, placed);
  const { emittance, emittanceSpread: uncertainty, insulation, cover } = spec;
  const area = insulation === null ? 0 : (insulation.area ?? insulatedArea(shape));
  return {
    shape,
    absorptance: spec.absorptance,
    emittance:
      typeof emittance === 'number'
        ? grey(emittance, uncertainty)
        : { kind: 'table', ...emittance, uncertainty },
    insulation:
      insulation === null || area === 0
        ? []
        : [
            {
              area,
              thickness: insulation.thickness,
              conductivity: insulation.conductivity,
              ...(insulation.outside === null ? {} : { outside: insulation.outside }),
            },
          ],
    supports: spec.supports,
    skyShare: spec.skyShare,
    ...(cover === null ? {} : { cover }),
  };
}

/**
 * @throws PlantError where the scene has no heat, receivers that are not alike, or figures that do not go together
 * @throws GeometryError where the scene cannot be built
 */
export function heatPlant(scene: Scene): HeatPlant {
  const spec = scene.plant?.heat ?? null;
  if (spec === null) {
    throw new PlantError('the scene says nothing of heat: give it the section "heat" (see the README, Heat)');
  }
  const placed = layOut(scene).receivers;
  if (placed.length === 0) throw new PlantError('the scene has no receiver');
  const designs = new Set(placed.map(({ design: { kind, aperture } }) => JSON.stringify({ kind, aperture })));
  if (designs.size > 1) {
    throw new PlantError(
      'the receivers are not alike: heat is worked out for receivers of one kind and size',
    );
  }
  const oil = spec.oil.kind === 'named' ? oilNamed(spec.oil.name) : ownOil(spec.oil.oil);
  if (oil.table === undefined) {
    throw new PlantError(
      `of ${oil.name} only the limits are known: give its data sheet under heat.oil.data to work with it`,
    );
  }
  try {
    return built(scene, spec, placed, oil);
  } catch (error) {
    if (error instanceof RangeError) throw new PlantError(error.message);
    throw error;
  }
}

function built(scene: Scene, spec: HeatSpec, placed: readonly PlacedReceiver[], oil: Oil): HeatPlant {
  const receiver = receiverOf(spec, placed[0]);
  checkReceiver(receiver);
  const channel: Channel = {
    diameter: spec.channel.insideDiameter,
    length: spec.channel.length,
    parallel: spec.channel.parallel,
    wallThickness: spec.channel.wallThickness,
    wallConductivity: spec.channel.wallConductivity,
    fluxRatio: spec.channel.fluxRatio,
  };
  const mean = (spec.inlet + spec.outlet) / 2;
  const at = oilAt(oil, mean);
  const oilMass = spec.receiverOil ?? at.density * channelVolume(channel);
  const heatCapacity =
    spec.metalHeatCapacity * (placed.length * spec.receiverMetal + spec.pipes.metal) +
    at.heatCapacity * (placed.length * oilMass + spec.pipes.oil);
  return {
    spec,
    receiver,
    receivers: placed.length,
    names: placed.map(({ name }) => name),
    design: placed[0].design,
    openingArea: apertureArea(placed[0].design),
    oil,
    loop: {
      oil,
      channel,
      inlet: spec.inlet,
      massFlow: spec.flow,
      ...(spec.pressure === null ? {} : { pressure: spec.pressure }),
    },
    mean,
    store: {
      wallMass: spec.receiverMetal,
      wallHeatCapacity: spec.metalHeatCapacity,
      oilMass,
      oilHeatCapacity: (temperature) => oilAt(oil, temperature).heatCapacity,
    },
    heatCapacity,
    pipeConductance: spec.pipes.length * spec.pipes.loss,
    pressure: scene.site?.pressure ?? 101_325,
  };
}

/** The same plant with openings of another size, all else left: the cup and its insulation, the metal; a plate's insulation grows with it. */
export function withOpening(plant: HeatPlant, scale: number): HeatPlant {
  const { shape } = plant.receiver;
  const resized: Receiver['shape'] | null =
    shape.kind === 'cavity'
      ? { ...shape, openingDiameter: shape.openingDiameter * scale }
      : shape.kind === 'plate'
        ? plant.design.kind === 'line_plate'
          ? { ...shape, width: shape.width * scale }
          : { ...shape, length: shape.length * scale, width: shape.width * scale }
        : null;
  if (resized === null) throw new PlantError('a tube has no opening to vary');
  // The back of a plate grows with it.
  const insulation =
    resized.kind !== 'plate' || shape.kind !== 'plate'
      ? plant.receiver.insulation
      : plant.receiver.insulation.map((layer) => ({
          ...layer,
          area: (layer.area * resized.length * resized.width) / (shape.length * shape.width),
        }));
  return { ...plant, receiver: { ...plant.receiver, shape: resized, insulation } };
}
