/** Placeholder shape, filled in with the packed layout. */
export interface PreparedView {
  readonly facets: number;
  /** Map cells (nu, nv) of each receiver, flat. */
  readonly cells: Int32Array;
}
