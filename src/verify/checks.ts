/** All checks of the program, in the order in which they are told. */
import { BOOK_CHECKS } from './book-checks.js';
import { DISH_CHECKS } from './dish-checks.js';
import { LINE_CHECKS } from './line-checks.js';
import { MIRROR_CHECKS } from './mirror-checks.js';
import { STILL_CHECKS } from './still-checks.js';
import { SCATTER_CHECKS, SUN_CHECKS } from './sun-checks.js';
import type { Check } from './types.js';

const IN_ORDER: readonly Check[] = [
  ...SUN_CHECKS,
  ...MIRROR_CHECKS,
  ...SCATTER_CHECKS,
  ...LINE_CHECKS,
  ...DISH_CHECKS,
  ...STILL_CHECKS,
  ...BOOK_CHECKS,
];

/** Every check once, those of one group together. */
export const CHECKS: readonly Check[] = [...new Set(IN_ORDER.map(({ group }) => group))].flatMap((group) =>
  IN_ORDER.filter((check) => check.group === group),
);
