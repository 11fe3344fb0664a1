/** How the figures of a page were found, with the sources of the formulas. */
import type { SunshapeSpec } from '../scene/types.js';
import type { TracedScene } from './types.js';

const SUNSHAPES: Readonly<Record<SunshapeSpec['kind'], string>> = {
  point: 'Sun: a point; all its light comes from one direction.',
  disc: 'Sun: a disc of even radiance.',
  limb_darkened: 'Sun: a disc that darkens towards its edge.',
  gaussian: 'Sun: a Gaussian of the width given.',
  circumsolar:
    'Sun: disc with aureole after Buie, Monger & Dey, Solar Energy 74 (2003) 113, constants from memory; the parameter of their ' +
    'formula is solved for so that the circumsolar ratio is the true one.',
  table: 'Sun: the radial profile given in the scene.',
};

const ALWAYS: readonly string[] = [
  'Rays start on the mirrors, evenly over each strip; a ray carries beam irradiance x outline area x (normal . sun), which holds ' +
    'the cosine and the true area of the curved surface.',
  'Slope error leans the normal by Gaussian amounts along and across the strip; the reflection about the leaning normal is exact.',
  'Points are rank-1 lattices with a random shift for each batch (built component by component: Nuyens & Cools, Math. Comp. 75 ' +
    '(2006) 903; embedded: Cools, Kuo & Nuyens, SIAM J. Sci. Comput. 28 (2006) 2162). The same seed gives the same figures on any machine.',
  'Errors come from the spread of independent groups of batches; ± is the half width of the 95 % interval (Student). A figure that ' +
    'too few rays carry is given as a bound (< or >).',
  'The peak is the mean over the disc stated, found on one half of the groups and read on the other, so that noise does not lift it.',
  'The ledger: every ray ends in exactly one place, and the watts of all lines sum to beam irradiance x mirror area.',
  'An opening dragged on a map: power is the sum of the map cells inside it; cells that its edge cuts are shared out by a plane ' +
    'through their neighbours. Intercept and spill start from the traced values and change by the power gained or lost, over the ' +
    'reflected power. Light outside the map is counted as spill, the shade of the opening on the mirrors stays as traced, and the error ' +
    'takes cells as independent of one another.',
  'The first change named in the answer is the opening where the spot does not fit, else the largest loss of the ledger that a ' +
    'builder can act on. What a change brings has to be traced.',
  'Not modelled: diffuse scattering by dirt, polarisation, bending under wind or heat, waviness with a pattern.',
];

/** @returns plain sentences, each with its source where it has one; without a traced scene only what holds for all */
export function methodsOf(traced: readonly TracedScene[], footprints: boolean): string[] {
  const shapes = [...new Set(traced.map(({ prepared }) => prepared.scene.sun.sunshape.kind))];
  const lobes = traced.some(({ prepared }) => prepared.scene.films.some((film) => film.lobes.length > 1));
  return [
    ...shapes.map((kind) => SUNSHAPES[kind]),
    ...ALWAYS.slice(0, 2),
    ...(lobes
      ? [
          'Film scatter: two Gaussian lobes after Pettit, Solar Energy 19 (1977) 733, from memory, added once, in beam angle.',
        ]
      : ['Film scatter: a Gaussian lobe in beam angle, added once to the reflected ray.']),
    ...(footprints
      ? [
          'Maps are laid down as footprints: slope error and film move the light of each mirror point to first order, an elliptical Gaussian per lobe.',
        ]
      : []),
    ...ALWAYS.slice(2),
  ];
}
