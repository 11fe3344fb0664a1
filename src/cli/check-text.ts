/** What `check` found, for people. */
import { createColors } from 'picocolors';
import { plainText } from '../report/plain-text.js';
import { wrap } from '../report/terminal-text.js';
import { formatAperture, formatCount, formatNumber } from '../result/number-format.js';
import type { CheckReport } from './check-report.js';
import type { Channel } from './session.js';

/** With more receivers than this the first and the last are shown. */
const MOST_LISTED = 12;
const ENDS_LISTED = 3;
const LABEL_WIDTH = 24;

type Line = readonly [label: string, text: string];

function number(value: number, digits = 4): string {
  return formatNumber(value, digits);
}

/** Degrees to two places; rounding noise of the geometry is no angle. */
function degrees(value: number): string {
  return `${number(Math.round(value * 100) / 100, 6)}°`;
}

/** Metres to the millimetre. */
function metres(value: number): string {
  return number(Math.round(value * 1000) / 1000, 8);
}

function bytes(count: number): string {
  if (count >= 1e9) return `${(count / 1e9).toFixed(1)} GB`;
  if (count >= 1e6) return `${(count / 1e6).toFixed(0)} MB`;
  return `${Math.ceil(count / 1e3)} kB`;
}

function duration(seconds: number): string {
  if (seconds < 0.1) return 'less than 0.1 s';
  if (seconds < 120) return `${number(seconds, 2)} s`;
  return seconds < 7200 ? `${number(seconds / 60, 2)} min` : `${number(seconds / 3600, 2)} h`;
}

function watts(power: number): string {
  return power >= 1e4 ? `${number(power / 1000)} kW` : `${number(power)} W`;
}

function sunshapeText(sunshape: CheckReport['sun']['sunshape']): string {
  switch (sunshape.kind) {
    case 'point':
      return 'a point';
    case 'disc':
      return `even disc, half angle ${number(sunshape.half_angle_mrad)} mrad`;
    case 'limb_darkened':
      return `limb-darkened disc, half angle ${number(sunshape.half_angle_mrad)} mrad`;
    case 'gaussian':
      return `Gaussian, ${number(sunshape.sigma_mrad)} mrad per axis`;
    case 'circumsolar':
      return `circumsolar, ratio ${number(sunshape.circumsolar_ratio)}`;
    case 'table':
      return `table of ${sunshape.entries} entries`;
  }
}

function count(amount: number, one: string, many = `${one}s`): string {
  return `${formatCount(amount)} ${amount === 1 ? one : many}`;
}

function dishLines(dish: CheckReport['dishes'][number]): Line[] {
  const bend = dish.bend_focal_lengths_m;
  const bent =
    bend === null
      ? 'straight strips'
      : `bent to focal lengths ${bend[1] - bend[0] < 5e-4 ? `of ${metres(bend[0])} m` : `from ${metres(bend[0])} to ${metres(bend[1])} m`}`;
  return [
    [
      'strips',
      `${dish.strips}, ${dish.strip_direction === 'along_row' ? 'along' : 'across'} the row, ${bent}`,
    ],
    ['size', `${metres(dish.size_along_row_m)} m along the row, ${metres(dish.size_across_row_m)} m across`],
    ['mirror area', `${number(dish.mirror_area_m2)} m²`],
    [
      'focal length',
      `${metres(dish.focal_length_along_row_m)} m along the row, ${metres(dish.focal_length_across_row_m)} m across`,
    ],
    [
      'f/D',
      `${number(dish.focal_ratio_along_row, 3)} along the row, ${number(dish.focal_ratio_across_row, 3)} across`,
    ],
    ['rim angle', degrees(dish.rim_angle_deg)],
    ['tilt', `${degrees(dish.design_tilt_deg)} by design, set ${degrees(dish.tilt_setting_deg)} from it`],
  ];
}

function rowLines(row: CheckReport['rows'][number]): Line[] {
  const dishes = `${count(row.dishes, 'dish', 'dishes')} "${plainText(row.dish)}"`;
  const pitch = row.dishes > 1 ? ` at a pitch of ${metres(row.pitch_m)} m` : '';
  const rows = row.rows > 1 ? `${row.rows} rows ${metres(row.row_spacing_m)} m apart, each of ` : '';
  return [
    ['made of', `${rows}${dishes}${pitch}`],
    ['mirrors', `${count(row.facets, 'facet')}, ${number(row.mirror_area_m2)} m²`],
    ['length, heading', `${metres(row.length_m)} m, ${degrees(row.heading_deg)} from north`],
    ['incidence', `${degrees(row.incidence_deg)} between the sun and the dishes' axis`],
  ];
}

const KINDS: Readonly<Record<CheckReport['receivers'][number]['kind'], string>> = {
  plate: 'plate',
  cavity: 'cavity opening',
  line_plate: 'line plate',
  tube: 'tube',
};

function receiverLine(receiver: CheckReport['receivers'][number]): Line {
  const [east, north, up] = receiver.position_m.map(metres);
  const faces =
    receiver.kind === 'tube'
      ? ''
      : `, faces azimuth ${degrees(receiver.facing_azimuth_deg)} elevation ${degrees(receiver.facing_elevation_deg)}`;
  const spot = receiver.faultless_spot;
  const [u, v] = spot.centre_mm.map((value) => number(Math.round(value), 5));
  const reach = `±${number(Math.round(spot.reach_u_mm), 5)} by ±${number(Math.round(spot.reach_v_mm), 5)} mm`;
  const light =
    spot.farthest_mirror_m === 0
      ? 'no light comes to its front straight from its mirrors'
      : `perfect mirrors would throw the sun's centre within ${reach} of u ${u}, v ${v} mm`;
  return [
    receiver.name,
    `${KINDS[receiver.kind]} ${formatAperture(receiver.aperture)}; east ${east}, north ${north}, up ${up} m${faces}; ` +
      `${count(receiver.facets, 'facet')}, concentration ${number(receiver.geometric_concentration, 3)}; ${light}`,
  ];
}

/** @returns the whole text */
export function checkText(
  found: CheckReport,
  file: string,
  channel: Pick<Channel, 'colour' | 'columns'>,
): string {
  const { bold, yellow, green } = createColors(channel.colour);
  const width = Math.max(40, channel.columns - LABEL_WIDTH - 4);
  const indent = ' '.repeat(LABEL_WIDTH + 2);
  const block = (title: string, lines: readonly Line[]): string =>
    [
      bold(plainText(title)),
      ...lines.map(([label, text]) => {
        const name = plainText(label).slice(0, LABEL_WIDTH - 1);
        return `  ${name.padEnd(LABEL_WIDTH)}${wrap(text, width, '', indent)}`;
      }),
    ].join('\n');

  const { sun, estimate, receivers } = found;
  const listed =
    receivers.length > MOST_LISTED
      ? [...receivers.slice(0, ENDS_LISTED), ...receivers.slice(-ENDS_LISTED)]
      : receivers;
  const left = receivers.length - listed.length;
  const receiverLines: Line[] = listed.map(receiverLine);
  if (left > 0) receiverLines.splice(ENDS_LISTED, 0, ['...', `${left} more (--json lists them all)`]);

  const parts = [
    block(found.title, [
      ['file', file],
      ['scene', found.scene_hash.slice(0, 16)],
      [
        'sun',
        `azimuth ${degrees(sun.azimuth_deg)}, elevation ${degrees(sun.elevation_deg)}, beam ${number(sun.dni_w_m2)} W/m²; ${sunshapeText(sun.sunshape)}`,
      ],
      [
        'mirrors',
        `${count(found.facets, 'facet')}, ${number(found.mirror_area_m2)} m²; beam x area ${watts(found.available_w)}`,
      ],
      [
        'receivers',
        `${formatCount(receivers.length)}, openings of ${number(found.aperture_area_m2)} m² in all; geometric concentration ${number(found.geometric_concentration, 3)}`,
      ],
      ['blockers', `${formatCount(found.blockers)}, receivers' bodies included`],
    ]),
    ...found.dishes.map((dish) => block(`Dish ${dish.name}`, dishLines(dish))),
    ...found.rows.map((row) => block(`Row ${row.name}`, rowLines(row))),
    block('Receivers', receiverLines),
    block(`A trace of ${formatCount(estimate.rays)} rays`, [
      [
        'time',
        `about ${duration(estimate.time_s)}${estimate.workers > 1 ? ` on ${estimate.workers} cores` : ''}, assuming ${estimate.assumed_rays_per_s_per_core / 1e6} million rays a second on each core`,
      ],
      [
        'memory',
        `about ${bytes(estimate.memory_bytes)}: the scene ${bytes(estimate.prepared_bytes)}, maps and tallies ${bytes(estimate.tally_bytes)}, the rest the program itself`,
      ],
    ]),
  ];
  if (found.warnings.length === 0) parts.push(green('Nothing looks wrong.'));
  else {
    const lines = found.warnings.map(({ message }) => wrap(message, channel.columns - 2, '- ', '  '));
    parts.push([yellow(bold('Warnings')), ...lines].join('\n'));
  }
  return `${parts.join('\n\n')}\n`;
}
