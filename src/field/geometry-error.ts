/** A scene whose numbers are each in range but which cannot be built: e.g. a strip that would have to face the ground. */
export class GeometryError extends Error {
  override readonly name = 'GeometryError';

  /** @param place what could not be built, in the scene's own names, e.g. "dish seven, strip 3" */
  constructor(
    readonly place: string,
    reason: string,
  ) {
    super(`${place}: ${reason}`);
  }
}
