/** The report: one HTML file that holds all it shows and loads nothing. */
import { FATE_STYLES } from '../report/fate-style.js';
import { many, tag } from './html.js';
import { mapsPart } from './maps-part.js';
import { methodsOf } from './methods.js';
import { scriptJson } from './pack.js';
import type { PageData } from './page-data.js';
import {
  answerPart,
  cautionPart,
  curvePart,
  inputsPart,
  keyBlock,
  lossPart,
  methodsPart,
  part,
  receiversPart,
  sectionPart,
  warningPart,
} from './parts.js';
import { raysPart } from './rays-part.js';
import { browserScript, contentHash } from './script.js';
import { raysOf, spaceData } from './space-data.js';
import { STYLE } from './style.js';
import type { PageInput } from './types.js';

/** Licence of what the script holds of others, for people; the script carries the full text. */
const NOTICE =
  'The view in space is drawn with three.js, copyright its authors, MIT licence; its text stands in the script of this page.';

function titleOf({ traced, inputs }: PageInput): string {
  const titles =
    traced.length > 0 ? traced.map(({ summary }) => summary.result.title) : inputs.map(({ title }) => title);
  return titles.length > 3 ? `${titles.length} scenes compared` : titles.join('  |  ');
}

/**
 * Writes the page. It may load nothing (Content-Security-Policy: no source but its own script and style, told by their hash,
 * and pictures inside it), so it can be mailed and opened from disk; every text from a scene stands in it as text.
 * @returns a whole HTML document
 * @throws Error where the program was built without its page script
 */
export function reportPage(input: PageInput): string {
  const { traced } = input;
  const maps = mapsPart(traced);
  const rays = traced.map((scene) => raysOf(scene));
  const steps = input.sections.flatMap(({ viewSteps }) => viewSteps ?? []);
  const data: PageData = {
    maps: maps.maps,
    spaces: traced.map((scene, at) =>
      spaceData(scene, rays[at], (receiver) =>
        maps.maps.findIndex((map) => map.scene === at && map.receiver === receiver),
      ),
    ),
    fates: FATE_STYLES.map(({ key, label, colour, dash }) => ({ key, label, colour, dash })),
    steps,
    scale_kw_m2: maps.scaleMax,
    colours: maps.colours,
  };
  const script = traced.length > 0 ? browserScript() : null;
  const footprints = traced.some(({ summary }) => summary.result.deposit !== undefined);
  const methods = [
    ...methodsOf(traced, footprints),
    ...input.sections.flatMap((section) => section.methods ?? []),
  ];
  const title = titleOf(input);
  const links: (readonly [string, string])[] = [
    ...(traced.length > 0
      ? ([
          ['maps', 'Flux maps'],
          ['opening', 'How large an opening'],
          ['losses', 'Where the sunlight goes'],
          ['rays', 'The rays in space'],
        ] as const)
      : []),
    ...input.sections.map((section) => [`section-${section.id}`, section.title] as const),
    ['inputs', 'Inputs'],
    ['methods', 'Methods and sources'],
  ];
  const policy = [
    "default-src 'none'",
    script === null ? null : `script-src ${contentHash(script)}`,
    `style-src ${contentHash(STYLE)}`,
    'img-src data:',
    "base-uri 'none'",
    "form-action 'none'",
  ].filter((rule) => rule !== null);
  const head = many([
    tag('meta', { charset: 'utf-8' }),
    tag('meta', { 'http-equiv': 'Content-Security-Policy', content: policy.join('; ') }),
    tag('meta', { name: 'viewport', content: 'width=device-width, initial-scale=1' }),
    tag('meta', { name: 'generator', content: `rowfocus ${input.version}` }),
    tag('meta', { name: 'referrer', content: 'no-referrer' }),
    tag('title', {}, `${title} - rowfocus report`),
    tag('style', {}, { markup: STYLE }),
  ]);
  const body = many([
    tag(
      'header',
      {},
      tag('h1', {}, title),
      tag(
        'p',
        { class: 'stamp' },
        `rowfocus ${input.version} report · seed ${input.seed} · written ${input.written}`,
      ),
      traced.length === 1
        ? tag('div', { class: 'summary' }, tag('div', {}, answerPart(input)), keyBlock(traced))
        : answerPart(input),
      cautionPart(input.cautions),
      traced.length > 1 ? keyBlock(traced) : null,
    ),
    tag(
      'nav',
      { 'aria-label': 'parts of the page' },
      tag('ul', {}, ...links.map(([id, label]) => tag('li', {}, tag('a', { href: `#${id}` }, label)))),
    ),
    tag(
      'main',
      {},
      warningPart(input.warnings),
      ...(traced.length > 0
        ? [
            part('maps', 'Flux maps', maps.markup),
            receiversPart(traced),
            curvePart(traced),
            lossPart(traced),
            raysPart(traced, rays, steps.length > 0),
          ]
        : []),
      ...input.sections.map(sectionPart),
      inputsPart(input),
      methodsPart(methods),
    ),
    tag('footer', {}, traced.length > 0 ? NOTICE : null),
    ...(script === null
      ? []
      : [
          tag('script', { type: 'application/json', id: 'page-data' }, { markup: scriptJson(data) }),
          tag('script', {}, { markup: script }),
        ]),
  ]);
  return `<!DOCTYPE html>\n<html lang="en"><head>${head.markup}</head>\n<body>${body.markup}</body></html>\n`;
}
