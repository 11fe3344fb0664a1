/** How the ends of light are told apart in pictures: by colour, by dash and by name. */

export interface FateStyle {
  readonly key: 'caught' | 'caught_elsewhere' | 'spilled' | 'blocked' | 'shaded' | 'lost';
  readonly label: string;
  readonly colour: string;
  /** Lengths drawn and left away, in units of the picture's own choosing; null is a full line. */
  readonly dash: readonly [number, number] | null;
  /** Lines of the ledger that it gathers. */
  readonly ledger: readonly string[];
}

// Colours of Okabe & Ito's palette for the colour blind (2008), those that show on a light ground; from memory.
export const FATE_STYLES: readonly FateStyle[] = [
  {
    key: 'caught',
    label: 'through the opening of its own receiver',
    colour: '#0072b2',
    dash: null,
    ledger: ['intercepted'],
  },
  {
    key: 'caught_elsewhere',
    label: 'through the opening of another receiver',
    colour: '#009e73',
    dash: [10, 3],
    ledger: ['intercepted_elsewhere'],
  },
  {
    key: 'spilled',
    label: 'spilled: beside the opening, on the ground or to the sky',
    colour: '#d55e00',
    dash: [6, 3],
    ledger: ['spilled_on_receiver', 'spilled_on_ground', 'spilled_to_sky'],
  },
  {
    key: 'blocked',
    label: 'blocked on its way to the receiver',
    colour: '#1a1a1a',
    dash: [2, 2],
    ledger: ['blocked_by_facet', 'blocked_by_blocker', 'blocked_by_receiver'],
  },
  {
    key: 'shaded',
    label: 'shaded before the mirror',
    colour: '#a8487f',
    dash: [4, 6],
    ledger: ['shaded'],
  },
  {
    key: 'lost',
    label: 'lost between mirrors',
    colour: '#7a6a00',
    dash: [1, 4],
    ledger: ['lost'],
  },
];

/** What takes watts off every ray, or never was a ray. */
export const FILM_COLOUR = '#e69f00';
export const COSINE_COLOUR = '#8c8c8c';
