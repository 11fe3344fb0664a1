/** Errors of a scene file as data: code, path and place first; `print.ts` makes text of them. */

export type SceneErrorCode =
  /** Not YAML. */
  | 'syntax'
  | 'too_large'
  | 'too_deep'
  | 'several_documents'
  | 'empty'
  | 'not_a_map'
  | 'duplicate_key'
  /** A key with a special meaning to JavaScript or YAML. */
  | 'forbidden_key'
  /** Alias, anchor, tag or directive. */
  | 'forbidden_yaml'
  | 'not_finite'
  | 'unknown_key'
  /** A known key with another unit at its end. */
  | 'wrong_unit'
  | 'missing_key'
  | 'wrong_type'
  | 'out_of_range'
  /** None of the listed words. */
  | 'unknown_choice'
  | 'bad_length'
  | 'bad_text'
  | 'duplicate_name'
  /** A reference to a film, dish or receiver that the file does not define. */
  | 'unknown_name'
  /** Two keys of which only one may be given. */
  | 'conflict'
  /** Values that are each in range but do not fit together. */
  | 'inconsistent'
  | 'too_many'
  /** A `path=value` option that cannot be read or applied. */
  | 'bad_option';

export interface SceneError {
  readonly code: SceneErrorCode;
  /** Dotted, e.g. `films.roll_a.reflectance` or `rows[0].dish`; empty for the file as a whole. */
  readonly path: string;
  readonly message: string;
  /** What may stand there. */
  readonly allowed?: string;
  /** The nearest known key, name or word. */
  readonly suggestion?: string;
  /** From 1; null for a value given by an option. */
  readonly line: number | null;
  /** From 1; null for a value given by an option. */
  readonly column: number | null;
  /** Column after the last character on that line; null for a value given by an option. */
  readonly endColumn: number | null;
  /** Text of the option (`path=value`) that gave the value. */
  readonly option?: string;
}

/** Errors of one kind of mistake can run into thousands in a large file; more than this help nobody. */
export const MAX_ERRORS = 200;

export type PathSegment = string | number;

/** An error that knows its path but not yet its line. */
export interface Problem {
  readonly code: SceneErrorCode;
  readonly path: readonly PathSegment[];
  /** What to point at: the key, the value, or (for a missing key) the key of the map it is missing from. */
  readonly at: 'key' | 'value' | 'parent';
  readonly message: string;
  readonly allowed?: string;
  readonly suggestion?: string;
}

/** @returns the path as written in messages and options: `rows[0].pitch_m`, `films."roll.a".reflectance` */
export function pathText(path: readonly PathSegment[]): string {
  let written = '';
  for (const segment of path) {
    if (typeof segment === 'number') written += `[${segment}]`;
    else {
      const plain = /^[^\s."'=[\]]+$/u.test(segment) ? segment : JSON.stringify(segment);
      written += written === '' ? plain : `.${plain}`;
    }
  }
  return written;
}

/** @returns whether `path` is `start` or lies below it */
export function startsWith(path: readonly PathSegment[], start: readonly PathSegment[]): boolean {
  return start.length <= path.length && start.every((segment, index) => path[index] === segment);
}

/** @returns a value as it may stand in a message: short, on one line */
export function valueText(value: unknown): string {
  if (value === null || value === undefined) return 'nothing';
  if (Array.isArray(value)) return value.length === 0 ? 'an empty list' : `a list of ${value.length}`;
  if (typeof value === 'object') return 'a group of keys';
  const written = typeof value === 'string' ? JSON.stringify(value) : String(value);
  return written.length > 60 ? `${written.slice(0, 57)}...` : written;
}
