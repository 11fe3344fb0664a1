/** The flux maps: figures that can be read with the pointer, and all maps of a scene on one sheet. */
import { FLUX_COLOURS } from '../report/colour-scale.js';
import { drawFluxFigure } from '../report/flux-figure.js';
import { highestFlux, writeRawMap } from '../report/heatmap.js';
import type { Markup } from '../report/svg.js';
import type { RunStamp } from '../report/types.js';
import { formatAperture, formatFigure, formatNumber, halfWidth } from '../result/number-format.js';
import type { FluxGrid, ReceiverResult } from '../result/types.js';
import { figureBlock } from './figure-block.js';
import { many, type PlainTable, tag } from './html.js';
import { packBytes, packLevels } from './pack.js';
import type { MapData } from './page-data.js';
import type { TracedScene } from './types.js';

/** Width of figures inside the page, pixels: readable on a phone, two beside each other on a desk. */
export const FIGURE_WIDTH = 500;
/** Maps of one scene that can be read with the pointer; more would swell the page. */
export const MOST_MAPS = 8;
/** Maps on the sheet of one scene. */
const MOST_ON_SHEET = 60;

export interface MapsPart {
  readonly markup: Markup;
  readonly maps: readonly MapData[];
  readonly scaleMax: number;
  readonly colours: string;
}

/** @returns receivers whose maps the page holds: all of a few; of many those that spill most, and the hottest */
function chosenReceivers({ result }: TracedScene['summary'], most: number): number[] {
  const { receivers, total } = result;
  const order = receivers.map((_, i) => i);
  const hottest = receivers.findIndex(({ name }) => name === total.peak_receiver);
  if (order.length <= most) return order;
  const spill = (i: number): number => receivers[i].spill_fraction.value;
  const worst = [...order].sort((a, b) => spill(b) - spill(a) || a - b);
  const kept = hottest < 0 ? worst : [hottest, ...worst.filter((i) => i !== hottest)];
  return kept.slice(0, most).sort((a, b) => a - b);
}

function stampOf({ summary }: TracedScene): RunStamp {
  const { result } = summary;
  return {
    title: result.title,
    seed: result.seed,
    rays: result.rays,
    ...(result.deposit === undefined ? {} : { points: true }),
    sceneHash: result.scene_hash,
  };
}

/** What the map says in figures, for those who do not see it. */
export function receiverTable(receiver: ReceiverResult): PlainTable {
  const percent = { percent: true };
  const { spot } = receiver;
  return {
    caption: `Receiver ${receiver.name} in figures`,
    head: ['figure', 'value ± 95 % half width'],
    rows: [
      ['opening', formatAperture(receiver.aperture)],
      [
        'peak flux',
        `${formatFigure(receiver.peak_flux)}, mean over a disc of ${formatNumber(receiver.peak_disc_mm, 3)} mm`,
      ],
      [
        'place of the peak',
        `u ${formatNumber(receiver.peak_position_mm[0], 3)}, v ${formatNumber(receiver.peak_position_mm[1], 3)} mm`,
      ],
      ['mean flux over the opening', formatFigure(receiver.mean_flux)],
      ['power through the opening', formatFigure(receiver.intercepted_power)],
      ['reflected by its mirrors', formatFigure(receiver.reflected_power)],
      ['intercept factor', formatFigure(receiver.intercept_factor, percent)],
      ['spill', formatFigure(receiver.spill_fraction, percent)],
      ['blocked', formatFigure(receiver.blocked_fraction, percent)],
      [`${spot.measure} with 50 % of the light`, formatFigure(spot.holds_50)],
      [`${spot.measure} with 90 %`, formatFigure(spot.holds_90)],
      [`${spot.measure} with 95 %`, formatFigure(spot.holds_95)],
      ['centroid u', formatFigure(spot.centroid_u)],
      ...(receiver.kind === 'tube' ? [] : [['centroid v', formatFigure(spot.centroid_v)]]),
      ['smallest opening for 5 % spill', formatFigure(receiver.opening_for_5_percent_spill_mm)],
      ['concentration ratio', formatFigure(receiver.concentration_ratio)],
    ],
  };
}

function describe(receiver: ReceiverResult): string {
  return (
    `Flux in kW/m2 over the receiver's plane, seen from its front, u to the right and v up, in mm. ` +
    `Peak ${formatFigure(receiver.peak_flux)} at u ${formatNumber(receiver.peak_position_mm[0], 3)}, ` +
    `v ${formatNumber(receiver.peak_position_mm[1], 3)} mm; spill ${formatFigure(receiver.spill_fraction, { percent: true })}.`
  );
}

/** Fields and buttons for a map; hidden until the script finds them. */
function mapTools(id: string, receiver: ReceiverResult): Markup {
  const tube = receiver.kind === 'tube';
  const { aperture } = receiver;
  const round = aperture.shape === 'round';
  const [width, height] =
    aperture.shape === 'round'
      ? [aperture.diameter_mm, aperture.diameter_mm]
      : aperture.shape === 'rectangle'
        ? [aperture.width_mm, aperture.height_mm]
        : [aperture.length_mm, Number((Math.PI * aperture.diameter_mm).toFixed(1))];
  const field = (name: string, label: string, value: number, hidden = false): Markup =>
    tag(
      'label',
      { class: 'field', id: `${id}-${name}-label`, hidden },
      label,
      tag('input', { type: 'number', id: `${id}-${name}`, value, step: 'any', inputmode: 'decimal' }),
      ' mm',
    );
  return tag(
    'div',
    { class: 'tools', id: `${id}-tools`, hidden: true },
    tag(
      'p',
      { class: 'readout', id: `${id}-readout`, role: 'status' },
      'Move the pointer over the map to read it.',
    ),
    tag(
      'fieldset',
      {},
      tag('legend', {}, tube ? 'A patch of the tube' : 'Another opening'),
      tag(
        'label',
        { class: 'field' },
        'shape ',
        tag(
          'select',
          { id: `${id}-shape` },
          ...(tube ? [] : [tag('option', { value: 'round', selected: round }, 'round')]),
          tag('option', { value: 'rectangle', selected: !round }, 'rectangle'),
        ),
      ),
      field('size', 'diameter ', width, !round),
      field('width', 'width along u ', width, round),
      field('height', 'height along v ', height, round),
      field('u', 'centre u ', 0),
      field('v', 'centre v ', 0),
      tag('button', { type: 'button', id: `${id}-reset` }, 'as built'),
    ),
    tag('p', { class: 'hint' }, 'Drag the dashed line to change its size, its middle to move it; or type.'),
    tag(
      'dl',
      { class: 'result', 'aria-live': 'polite' },
      tag('dt', {}, 'power through it'),
      tag('dd', { id: `${id}-power` }),
      tag('dt', { hidden: tube }, 'intercept factor'),
      tag('dd', { id: `${id}-intercept`, hidden: tube }),
      tag('dt', { hidden: tube }, 'spill'),
      tag('dd', { id: `${id}-spill`, hidden: tube }),
      tag('dt', {}, 'mean flux over it'),
      tag('dd', { id: `${id}-mean` }),
    ),
    tag('p', { class: 'hint', id: `${id}-note` }),
    tag('button', { type: 'button', id: `${id}-csv` }, 'map as CSV'),
  );
}

/** Below this share of the common scale a map is too dark to read, and its caption says why. */
const DARK_SHARE = 0.1;

function darkNote(grid: FluxGrid, scaleMax: number): string {
  const share = scaleMax > 0 ? highestFlux([grid]) / scaleMax : 1;
  return share < DARK_SHARE
    ? ` Dark here: its highest cell is ${formatNumber(100 * share, 2)} % of the common scale.`
    : '';
}

interface Drawn {
  readonly markup: Markup;
  readonly data: MapData;
}

function mapCard(
  traced: TracedScene,
  scene: number,
  index: number,
  scaleMax: number,
  hidden: boolean,
): Drawn {
  const { result, grids } = traced.summary;
  const receiver = result.receivers[index];
  const grid = grids[index];
  const id = `map-${scene}-${index}`;
  const drawn = drawFluxFigure(receiver, grid, stampOf(traced), {
    scaleMax,
    width: FIGURE_WIDTH,
    bare: true,
  });
  const markup = tag(
    'div',
    { class: 'map-card', id: `${id}-card`, 'data-later': hidden ? 'yes' : null },
    figureBlock({
      id,
      drawn,
      caption: `Flux on the plane of receiver ${receiver.name}.${darkNote(grid, scaleMax)}`,
      description: describe(receiver),
      table: receiverTable(receiver),
    }),
    mapTools(id, receiver),
  );
  return { markup, data: mapData(id, drawn.areas[0], scene, index, receiver, grid) };
}

function mapData(
  figure: string,
  area: MapData['area'],
  scene: number,
  index: number,
  receiver: ReceiverResult,
  grid: FluxGrid,
): MapData {
  return {
    figure,
    area: { left: area.left, top: area.top, width: area.width, height: area.height },
    scene,
    receiver: index,
    name: receiver.name,
    file: `flux-${scene + 1}-${index + 1}.csv`,
    kind: receiver.kind,
    aperture: receiver.aperture,
    nu: grid.nu,
    nv: grid.nv,
    width_mm: 1000 * grid.width,
    height_mm: 1000 * grid.height,
    flux: packLevels(grid.flux),
    std_err: packLevels(grid.stdErr),
    reflected_w: receiver.reflected_power.value,
    intercepted_w: receiver.intercepted_power.value,
    intercepted_half_w: halfWidth(receiver.intercepted_power),
    intercept: receiver.intercept_factor.value,
    intercept_half: halfWidth(receiver.intercept_factor),
    spill: receiver.spill_fraction.value,
    spill_half: halfWidth(receiver.spill_fraction),
    blocked: receiver.blocked_fraction.value,
  };
}

/** All maps of a scene, small, on the scale of the large ones. */
function sheet(traced: TracedScene, scene: number, scaleMax: number): Markup | null {
  const { result, grids } = traced.summary;
  if (result.receivers.length < 2) return null;
  const shown = result.receivers.slice(0, MOST_ON_SHEET);
  const rest = result.receivers.length - shown.length;
  const tiles = shown.map((receiver, i) => {
    const picture = Buffer.from(writeRawMap(grids[i], scaleMax)).toString('base64');
    return tag(
      'figure',
      { class: 'tile' },
      tag('img', {
        src: `data:image/png;base64,${picture}`,
        alt: `flux map of receiver ${receiver.name}`,
        width: 96,
        height: 96,
      }),
      tag(
        'figcaption',
        {},
        tag('b', {}, receiver.name),
        tag('span', {}, formatFigure(receiver.peak_flux)),
        tag('span', {}, `spill ${formatFigure(receiver.spill_fraction, { percent: true })}`),
      ),
    );
  });
  return tag(
    'div',
    { class: 'sheet-box' },
    tag('h3', { id: `sheet-${scene}` }, 'All receivers on the same scale'),
    tag('div', { class: 'sheet' }, ...tiles),
    rest > 0
      ? tag('p', { class: 'hint' }, `and ${rest} more: their maps are in the files of trace --out.`)
      : null,
  );
}

function chooser(traced: TracedScene, scene: number, chosen: readonly number[]): Markup | null {
  if (chosen.length < 2) return null;
  const { receivers } = traced.summary.result;
  const left = receivers.length - chosen.length;
  return tag(
    'p',
    { class: 'chooser', id: `chooser-${scene}`, hidden: true },
    tag(
      'label',
      {},
      'receiver ',
      tag(
        'select',
        { id: `receiver-${scene}` },
        ...chosen.map((i, at) =>
          tag('option', { value: `map-${scene}-${i}`, selected: at === 0 }, receivers[i].name),
        ),
      ),
    ),
    left > 0
      ? ` (the ${chosen.length} that spill most or are hottest; ${left} more are in the tables)`
      : null,
  );
}

/** @returns the maps of all scenes on one scale, in columns where there are several scenes */
export function mapsPart(traced: readonly TracedScene[]): MapsPart {
  const several = traced.length > 1;
  const chosen = traced.map(({ summary }) => {
    if (!several) return chosenReceivers(summary, MOST_MAPS);
    const hottest = summary.result.receivers.findIndex(
      ({ name }) => name === summary.result.total.peak_receiver,
    );
    return summary.result.receivers.length === 0 ? [] : [Math.max(0, hottest)];
  });
  const scaleMax = highestFlux(
    traced.flatMap(({ summary }, i) => chosen[i].map((index) => summary.grids[index])),
  );
  const maps: MapData[] = [];
  const columns = traced.map((scene, at) => {
    const cards = chosen[at].map((index, place) => {
      const { markup, data } = mapCard(scene, at, index, scaleMax, place > 0);
      maps.push(data);
      return markup;
    });
    return tag(
      'div',
      { class: 'column' },
      several ? tag('h3', {}, `${letterOf(at)}: ${scene.summary.result.title}`) : null,
      chooser(scene, at, chosen[at]),
      ...cards,
      several ? null : sheet(scene, at, scaleMax),
    );
  });
  const note = several
    ? 'The hottest receiver of each scene; all maps on one colour scale, each from 0.'
    : 'Colours run from 0 to the highest cell of all maps; ± is the 95 % half width.';
  return {
    markup: many([
      tag('p', { class: 'note' }, note),
      tag('div', { class: several ? `columns columns-${Math.min(4, traced.length)}` : 'single' }, ...columns),
    ]),
    maps,
    scaleMax,
    colours: packBytes(Uint8Array.from(FLUX_COLOURS.flat())),
  };
}

/** A, B, C, ... of the scenes of a comparison. */
export function letterOf(index: number): string {
  return String.fromCharCode(65 + (index % 26));
}
