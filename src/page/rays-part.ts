/** Mirrors, receivers and real rays in space: the 3D view's frame and controls, and the still picture in its place. */
import { FATE_STYLES, type FateStyle } from '../report/fate-style.js';
import { element, type Markup } from '../report/svg.js';
import { formatCount, formatNumber } from '../result/number-format.js';
import type { RayPath } from '../run/paths.js';
import { inlineFigure } from './figure-block.js';
import { many, tag } from './html.js';
import { letterOf } from './maps-part.js';
import { part } from './parts.js';
import { styleOf } from './space-data.js';
import { drawStillPicture } from './still-picture.js';
import type { TracedScene } from './types.js';

const VIEWS: readonly (readonly [string, string])[] = [
  ['south', 'from the south'],
  ['east', 'from the east'],
  ['above', 'from above'],
  ['sun', 'along the sun'],
];

const THINGS: readonly (readonly [string, string])[] = [
  ['mirrors', 'mirrors'],
  ['ribs', 'rib beds'],
  ['receivers', 'receivers and flux'],
  ['blockers', 'bodies and blockers'],
  ['ground', 'ground and directions'],
];

/** Per cent of the rays that are drawn at first: all of them would hide the mirrors, the more so the fewer mirrors there are. */
function shareAtFirst(facets: number): number {
  return Math.min(25, 5 * Math.ceil(facets / 14));
}

function sample({ colour, dash }: FateStyle): Markup {
  return tag(
    'svg',
    { class: 'sample', width: 36, height: 8, viewBox: '0 0 36 8', 'aria-hidden': 'true' },
    element('line', {
      x1: 0,
      x2: 36,
      y1: 4,
      y2: 4,
      stroke: colour,
      'stroke-width': 2.5,
      'stroke-dasharray': dash === null ? undefined : dash.join(' '),
    }),
  );
}

function check(id: string, label: string, before: Markup | null = null): Markup {
  return tag('label', {}, tag('input', { type: 'checkbox', id, checked: true }), ' ', before, label);
}

function controls(
  counts: readonly number[],
  labels: readonly string[],
  steps: boolean,
  share: number,
): Markup {
  return tag(
    'div',
    { class: 'controls', id: 'space-controls', hidden: true },
    labels.length > 1
      ? tag(
          'p',
          {},
          tag(
            'label',
            {},
            'scene ',
            tag(
              'select',
              { id: 'space-scene' },
              ...labels.map((label, i) => tag('option', { value: i }, `${letterOf(i)}: ${label}`)),
            ),
          ),
        )
      : null,
    tag(
      'fieldset',
      {},
      tag('legend', {}, 'View'),
      tag(
        'div',
        { class: 'views' },
        ...VIEWS.map(([key, label]) => tag('button', { type: 'button', id: `view-${key}` }, label)),
      ),
    ),
    tag(
      'fieldset',
      {},
      tag('legend', {}, 'Rays, by where they end'),
      ...FATE_STYLES.map((style, i) =>
        tag(
          'label',
          {},
          tag('input', {
            type: 'checkbox',
            id: `fate-${style.key}`,
            checked: true,
            disabled: counts[i] === 0,
          }),
          ' ',
          sample(style),
          style.label,
          tag('span', { id: `fate-${style.key}-count` }, ` (${formatCount(counts[i])})`),
        ),
      ),
      tag(
        'label',
        {},
        'how many ',
        tag('input', { type: 'range', id: 'space-share', min: 5, max: 100, step: 5, value: share }),
      ),
      tag(
        'p',
        { class: 'hint' },
        'What the film absorbs is no ray: it takes its part of the watts of every one.',
      ),
    ),
    tag(
      'fieldset',
      {},
      tag('legend', {}, 'Things'),
      ...THINGS.map(([key, label]) => check(`thing-${key}`, label)),
    ),
    steps
      ? tag(
          'fieldset',
          { id: 'space-time' },
          tag('legend', {}, 'Time'),
          tag('input', {
            type: 'range',
            id: 'space-step',
            min: 0,
            step: 1,
            value: 0,
            'aria-label': 'time of day',
          }),
          tag('output', { id: 'space-clock', for: 'space-step' }),
          tag(
            'p',
            { class: 'hint' },
            'Receivers and sun move; rays and maps are those of the moment traced.',
          ),
        )
      : null,
    tag(
      'p',
      { class: 'hint' },
      'Drag to turn, scroll or pinch to zoom, right-drag to shift. With the picture in focus: arrow keys turn, + and - zoom.',
    ),
  );
}

/**
 * @param rays drawn of each scene
 * @param steps true where a day's steps were handed in
 */
export function raysPart(
  traced: readonly TracedScene[],
  rays: readonly (readonly RayPath[])[],
  steps: boolean,
): Markup {
  const counts = FATE_STYLES.map((_, i) => rays[0].filter(({ fate }) => styleOf(fate) === i).length);
  const [first] = traced;
  const { result } = first.summary;
  const footprints = result.deposit !== undefined;
  const share = rays[0].length / Math.max(1, result.rays);
  const which = footprints
    ? `The ${formatCount(rays[0].length)} rays held here are plain rays of the same seed, followed from mirror to end; this run laid its maps down as footprints.`
    : `The ${formatCount(rays[0].length)} rays held here are rays of this very run (first batch, evenly picked; one in ${formatNumber(1 / share, 2)}), followed again from mirror to end.`;
  return part(
    'rays',
    'The rays in space',
    tag('p', { class: 'note' }, which),
    tag(
      'div',
      { class: 'space', id: 'space' },
      tag(
        'div',
        { class: 'stage', id: 'stage' },
        tag('div', { class: 'tip', id: 'space-tip', hidden: true, role: 'status' }),
        many(
          traced.map((scene, i) => {
            const drawn = drawStillPicture(scene, rays[i]);
            const letter = traced.length > 1 ? `${letterOf(i)}: ` : '';
            return tag(
              'figure',
              { class: 'figure still' },
              inlineFigure(
                drawn,
                `still-${i}`,
                `${letter}mirrors, receivers and rays in space`,
                'Mirrors, ribs, receivers and some of the rays, seen from the south-south-east and above. Lines differ in colour and dash by where the ray ends.',
              ),
              traced.length > 1 ? tag('figcaption', {}, `${letter}${scene.summary.result.title}`) : null,
            );
          }),
        ),
      ),
      controls(
        counts,
        traced.map(({ summary }) => summary.result.title),
        steps,
        shareAtFirst(first.prepared.field.facets.length),
      ),
    ),
    tag(
      'p',
      { class: 'note' },
      'Ribs are drawn where the strips’ beds lie; their timber is not in the scene.',
    ),
  );
}
