/** A flux map that tells what lies under the pointer, and what another opening would take in. */
import { type FluxCells, type Opening, openingFigures } from '../opening.js';
import type { MapData } from '../page-data.js';
import { unpackLevels } from '../unpack.js';
import { find, saveText, svgElement, withError } from './page-elements.js';

const COVERAGE = 1.96;
const HALO = { stroke: '#000000', 'stroke-width': 5, 'stroke-opacity': 0.6, fill: 'none' };
const LINE = { stroke: '#ffe14d', 'stroke-width': 2.2, 'stroke-dasharray': '7 5', fill: 'none' };
const SMALLEST = 1;

type Grip = 'middle' | 'right' | 'left' | 'top' | 'bottom';

function ownOpening({ aperture }: MapData): Opening {
  if (aperture.shape === 'round') return { shape: 'round', size_mm: aperture.diameter_mm, u_mm: 0, v_mm: 0 };
  // All round a tube counts as its opening.
  const [width, height] =
    aperture.shape === 'rectangle'
      ? [aperture.width_mm, aperture.height_mm]
      : [aperture.length_mm, Math.PI * aperture.diameter_mm];
  return { shape: 'rectangle', width_mm: width, height_mm: height, u_mm: 0, v_mm: 0 };
}

function halfSides(opening: Opening): readonly [number, number] {
  return opening.shape === 'round'
    ? [opening.size_mm / 2, opening.size_mm / 2]
    : [opening.width_mm / 2, opening.height_mm / 2];
}

/** Makes one map of the page readable. */
export function startMapReader(data: MapData): void {
  const { figure: id, area } = data;
  const cells: FluxCells = {
    nu: data.nu,
    nv: data.nv,
    width_mm: data.width_mm,
    height_mm: data.height_mm,
    flux: unpackLevels(data.flux),
    std_err: unpackLevels(data.std_err),
  };
  const own = ownOpening(data);
  let opening: Opening = own;

  const drawing = find(`${id}-figure`).querySelector('svg.drawing');
  const box = drawing?.parentElement;
  if (drawing === null || drawing === undefined || box == null) return;
  const viewBox = drawing.getAttribute('viewBox') ?? '0 0 1 1';
  const [left, top, width, height] = viewBox.split(' ').map(Number);
  const layer = svgElement('svg', { class: 'reader', viewBox });
  const clip = `${id}-reader-clip`;
  const clipPath = svgElement('clipPath', { id: clip });
  clipPath.append(svgElement('rect', { x: area.left, y: area.top, width: area.width, height: area.height }));
  const ground = svgElement('rect', {
    x: area.left,
    y: area.top,
    width: area.width,
    height: area.height,
    fill: 'transparent',
  });
  ground.style.cursor = 'crosshair';
  const shapes = svgElement('g', { 'clip-path': `url(#${clip})` });
  const grips = svgElement('g', {});
  layer.append(clipPath, ground, shapes, grips);
  box.append(layer);

  const perMmU = area.width / data.width_mm;
  const perMmV = area.height / data.height_mm;
  const toX = (u: number): number => area.left + area.width / 2 + u * perMmU;
  const toY = (v: number): number => area.top + area.height / 2 - v * perMmV;
  const place = (event: PointerEvent): readonly [number, number] => {
    const frame = layer.getBoundingClientRect();
    const x = left + ((event.clientX - frame.left) * width) / frame.width;
    const y = top + ((event.clientY - frame.top) * height) / frame.height;
    return [(x - area.left - area.width / 2) / perMmU, -(y - area.top - area.height / 2) / perMmV];
  };

  const readout = find(`${id}-readout`);
  const read = (u: number, v: number): void => {
    const iu = Math.floor((u / data.width_mm + 0.5) * data.nu);
    const iv = Math.floor((v / data.height_mm + 0.5) * data.nv);
    if (iu < 0 || iv < 0 || iu >= data.nu || iv >= data.nv) return;
    const at = iv * data.nu + iu;
    const flux = withError(cells.flux[at], COVERAGE * cells.std_err[at]);
    readout.textContent = `u ${u.toFixed(1)} mm, v ${v.toFixed(1)} mm: ${flux} kW/m\u00b2`;
  };

  const inputs = {
    size: find<HTMLInputElement>(`${id}-size`),
    width: find<HTMLInputElement>(`${id}-width`),
    height: find<HTMLInputElement>(`${id}-height`),
    u: find<HTMLInputElement>(`${id}-u`),
    v: find<HTMLInputElement>(`${id}-v`),
  };
  const shapeField = find<HTMLSelectElement>(`${id}-shape`);

  const draw = (): void => {
    const [halfU, halfV] = halfSides(opening);
    const [x, y] = [toX(opening.u_mm), toY(opening.v_mm)];
    const [rx, ry] = [halfU * perMmU, halfV * perMmV];
    const round = opening.shape === 'round';
    const name = round ? 'ellipse' : 'rect';
    const geometry = round
      ? { cx: x, cy: y, rx, ry }
      : { x: x - rx, y: y - ry, width: 2 * rx, height: 2 * ry };
    const grab = svgElement(name, { ...geometry, fill: 'transparent', stroke: 'none' });
    grab.style.cursor = 'move';
    grab.style.touchAction = 'none';
    grab.dataset.grip = 'middle';
    shapes.replaceChildren(
      grab,
      svgElement(name, { ...geometry, ...HALO }),
      svgElement(name, { ...geometry, ...LINE, 'pointer-events': 'none' }),
    );
    const ends: readonly (readonly [Grip, number, number, string])[] = [
      ['right', x + rx, y, 'ew-resize'],
      ['left', x - rx, y, 'ew-resize'],
      ['top', x, y - ry, 'ns-resize'],
      ['bottom', x, y + ry, 'ns-resize'],
    ];
    grips.replaceChildren(
      ...ends.flatMap(([grip, gx, gy, cursor]) => {
        if (gx < area.left - 8 || gx > area.left + area.width + 8) return [];
        if (gy < area.top - 8 || gy > area.top + area.height + 8) return [];
        const knob = svgElement('circle', {
          cx: gx,
          cy: gy,
          r: 5.5,
          fill: '#ffe14d',
          stroke: '#000000',
          'stroke-width': 1.5,
        });
        // A finger is wider than the knob that is seen.
        const reach = svgElement('circle', { cx: gx, cy: gy, r: 14, fill: 'transparent' });
        for (const part of [knob, reach]) {
          part.style.cursor = cursor;
          part.style.touchAction = 'none';
          part.dataset.grip = grip;
        }
        return [knob, reach];
      }),
    );
  };

  const tell = (): void => {
    const isOwn = JSON.stringify(opening) === JSON.stringify(own);
    const figures = openingFigures(cells, own, data, opening);
    const percent = (value: number, half: number): string => `${withError(100 * value, 100 * half)} %`;
    find(`${id}-power`).textContent = isOwn
      ? `${withError(data.intercepted_w, data.intercepted_half_w)} W`
      : `${withError(figures.power_w, figures.half_w)} W`;
    find(`${id}-intercept`).textContent = isOwn
      ? percent(data.intercept, data.intercept_half)
      : percent(figures.intercept, figures.half);
    find(`${id}-spill`).textContent = isOwn
      ? percent(data.spill, data.spill_half)
      : percent(figures.spill, figures.half);
    const area = figures.mean_kw_m2 > 0 ? figures.power_w / figures.mean_kw_m2 : 0;
    const half = isOwn ? data.intercepted_half_w : figures.half_w;
    find(`${id}-mean`).textContent =
      `${withError(figures.mean_kw_m2, area > 0 ? half / area : 0)} kW/m\u00b2`;
    find(`${id}-note`).textContent = isOwn
      ? 'This is the opening as built, as traced.'
      : figures.beyond
        ? 'The opening reaches beyond the map: light out there is not counted, so it catches at least this much.'
        : 'From the cells of the map, with the shade on the mirrors as traced; trace the scene with this opening before you build it.';
  };

  const fillFields = (): void => {
    const round = opening.shape === 'round';
    shapeField.value = opening.shape;
    find(`${id}-size-label`).hidden = !round;
    find(`${id}-width-label`).hidden = round;
    find(`${id}-height-label`).hidden = round;
    const [halfU, halfV] = halfSides(opening);
    inputs.size.value = String(Number((2 * Math.min(halfU, halfV)).toFixed(2)));
    inputs.width.value = String(Number((2 * halfU).toFixed(2)));
    inputs.height.value = String(Number((2 * halfV).toFixed(2)));
    inputs.u.value = String(Number(opening.u_mm.toFixed(2)));
    inputs.v.value = String(Number(opening.v_mm.toFixed(2)));
  };

  const change = (next: Opening): void => {
    opening = next;
    draw();
    tell();
  };

  const fromFields = (): void => {
    const read = (input: HTMLInputElement, least: number, fallback: number): number => {
      const value = Number(input.value);
      return input.value.trim() === '' || !Number.isFinite(value) ? fallback : Math.max(least, value);
    };
    const [halfU, halfV] = halfSides(opening);
    const u_mm = read(inputs.u, Number.NEGATIVE_INFINITY, opening.u_mm);
    const v_mm = read(inputs.v, Number.NEGATIVE_INFINITY, opening.v_mm);
    const round = shapeField.value === 'round';
    change(
      round
        ? { shape: 'round', size_mm: read(inputs.size, SMALLEST, 2 * halfU), u_mm, v_mm }
        : {
            shape: 'rectangle',
            width_mm: read(inputs.width, SMALLEST, 2 * halfU),
            height_mm: read(inputs.height, SMALLEST, 2 * halfV),
            u_mm,
            v_mm,
          },
    );
  };
  for (const input of Object.values(inputs)) input.addEventListener('input', fromFields);
  shapeField.addEventListener('change', () => {
    fromFields();
    fillFields();
  });
  find(`${id}-reset`).addEventListener('click', () => {
    change(own);
    fillFields();
  });

  let held: Grip | null = null;
  let from: readonly [number, number] = [0, 0];
  let start: Opening = opening;
  layer.addEventListener('pointerdown', (event) => {
    const grip = (event.target as SVGElement).dataset.grip as Grip | undefined;
    if (grip === undefined) return;
    held = grip;
    from = place(event);
    start = opening;
    layer.setPointerCapture(event.pointerId);
    event.preventDefault();
  });
  layer.addEventListener('pointermove', (event) => {
    const [u, v] = place(event);
    if (held === null) {
      read(u, v);
      return;
    }
    change(pulled(start, held, from, [u, v]));
    fillFields();
  });
  const release = (): void => {
    held = null;
  };
  layer.addEventListener('pointerup', release);
  layer.addEventListener('pointercancel', release);
  layer.addEventListener('pointerdown', (event) => read(...place(event)));

  find(`${id}-csv`).addEventListener('click', () => saveText(data.file, mapCsv(data, cells)));
  fillFields();
  draw();
  tell();
  find(`${id}-tools`).hidden = false;
}

/** The opening after a grip was pulled. */
function pulled(
  start: Opening,
  grip: Grip,
  from: readonly [number, number],
  to: readonly [number, number],
): Opening {
  const [du, dv] = [to[0] - from[0], to[1] - from[1]];
  if (grip === 'middle') {
    return { ...start, u_mm: rounded(start.u_mm + du), v_mm: rounded(start.v_mm + dv) };
  }
  const outward = { right: du, left: -du, top: dv, bottom: -dv }[grip];
  const grown = (size: number): number => rounded(Math.max(SMALLEST, size + 2 * outward));
  if (start.shape === 'round') return { ...start, size_mm: grown(start.size_mm) };
  return grip === 'left' || grip === 'right'
    ? { ...start, width_mm: grown(start.width_mm) }
    : { ...start, height_mm: grown(start.height_mm) };
}

/** To a tenth of a millimetre: finer is no hand's work. */
function rounded(value: number): number {
  return Math.round(10 * value) / 10;
}

/** One cell a line; nothing but numbers below a fixed head, so there is nothing that a spreadsheet could run. */
function mapCsv(data: MapData, cells: FluxCells): string {
  const lines = ['u_mm,v_mm,flux_kw_m2,std_err_kw_m2'];
  const number = (value: number): string => String(Number(value.toPrecision(6)));
  for (let iv = 0; iv < data.nv; iv++) {
    for (let iu = 0; iu < data.nu; iu++) {
      const at = iv * data.nu + iu;
      lines.push(
        [
          ((iu + 0.5) / data.nu - 0.5) * data.width_mm,
          ((iv + 0.5) / data.nv - 0.5) * data.height_mm,
          cells.flux[at],
          cells.std_err[at],
        ]
          .map(number)
          .join(','),
      );
    }
  }
  return `${lines.join('\n')}\n`;
}
