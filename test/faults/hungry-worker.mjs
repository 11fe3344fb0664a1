/** A worker thread that takes memory until there is none. */
export function trace() {
  const taken = [];
  for (;;) taken.push(new Array(1e5).fill({}));
}
