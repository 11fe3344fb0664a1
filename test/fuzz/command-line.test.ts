import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { parseOverride } from '../../src/scene/override.js';
import { sceneTemplate } from '../../src/scene/template.js';
import { parseVary } from '../../src/study/range.js';
import { parseRequirement } from '../../src/study/requirement.js';
import { CAMPAIGN_TIMEOUT, cases, SEED } from './campaign.js';
import { faultOf, runInProcess } from './in-process.js';

const before = process.cwd();
let folder = '';
beforeAll(() => {
  // `init` writes where it stands.
  folder = mkdtempSync(join(tmpdir(), 'rowfocus-fuzz-'));
  writeFileSync(join(folder, 'good.yaml'), sceneTemplate());
  writeFileSync(join(folder, 'bad.yaml'), 'title: [');
  writeFileSync(join(folder, 'taken'), '');
  process.chdir(folder);
});
afterAll(() => {
  process.chdir(before);
  rmSync(folder, { recursive: true, force: true });
});

const PATHS = [
  ...[
    'films.roll_a.reflectance',
    'films.roll_a.slope_error_across_mrad',
    'films.roll_a.slope_error_mrad',
    'films.roll_a.lobes',
  ],
  ...[
    'sun.elevation_deg',
    'sun.azimuth_deg',
    'sun.dni_w_m2',
    'sun.sunshape.kind',
    'sun.sunshape',
    'sun.date_time',
    'sun',
  ],
  ...[
    'dishes.seven_strip.strips.count',
    'dishes.seven_strip.strips.gap_m',
    'dishes.seven_strip.tilt_setting_deg',
  ],
  ...[
    'dishes.seven_strip.receiver.aperture.diameter_m',
    'dishes.seven_strip.receiver',
    'rows[0].pitch_m',
    'rows.A.centre_m[2]',
  ],
  ...[
    'rows[99999]',
    'rows',
    'title',
    'facets[0].name',
    '"films"."roll_a"',
    'a.b',
    '',
    '.',
    '[0]',
    '__proto__.x',
    'constructor',
    'films.toString',
  ],
];
const VALUES = [
  ...[
    '0',
    '-0',
    '1',
    '0.5',
    '-1',
    '1e308',
    '1e-320',
    '.nan',
    '.inf',
    '1e999',
    '0x1f',
    'null',
    '~',
    '[]',
    '{}',
    '{kind: disc}',
    '[1, 2, 3]',
  ],
  ...[
    'circle',
    '"',
    "'",
    '[',
    '{a: &b 1}',
    '*a',
    '!!int 3',
    '- 1',
    '# x',
    '',
    ' ',
    '\t',
    '\u0000',
    '\u001b[2J',
    '2026-01-01',
    '=',
    ':',
    '1:2:3',
  ],
];

const junk = fc.string({ unit: 'binary', maxLength: 10 });
const path = fc.oneof({ weight: 8, arbitrary: fc.constantFrom(...PATHS) }, { weight: 1, arbitrary: junk });
const value = fc.oneof(
  { weight: 5, arbitrary: fc.constantFrom(...VALUES) },
  { weight: 2, arbitrary: fc.double({ noNaN: true }).map(String) },
  { weight: 1, arbitrary: junk },
);
const setText = fc.oneof(
  { weight: 9, arbitrary: fc.tuple(path, value).map((parts) => parts.join('=')) },
  { weight: 1, arbitrary: junk },
);
const number = fc.oneof(
  { weight: 6, arbitrary: fc.constantFrom('0', '1', '2', '0.1', '5', '45', '60', '-1', '0.001') },
  { weight: 1, arbitrary: fc.double({ noNaN: true, noDefaultInfinity: true }).map(String) },
  {
    weight: 1,
    arbitrary: fc.constantFrom('', 'x', '1e999', '-0', '1e-320', 'NaN', '0x1', '1_000', '5e-324', '٣'),
  },
);
/** At most a few points: what a range of ten thousand costs is known. */
const range = fc.oneof(
  {
    weight: 6,
    arbitrary: fc
      .tuple(fc.constantFrom(0.1, 1, 5, 40, 60, -3), fc.constantFrom(0, 1, 2), fc.constantFrom(0.01, 1, -1))
      .map(([from, steps, step]) => `${from}:${from + steps * step}:${step}`),
  },
  { weight: 3, arbitrary: fc.array(number, { minLength: 1, maxLength: 4 }).map((parts) => parts.join(':')) },
  { weight: 1, arbitrary: junk },
);
const varyText = fc.tuple(path, range).map((parts) => parts.join('='));
const requirement = fc
  .tuple(
    fc.constantFrom(
      'spill',
      'spill_fraction',
      'peak_flux',
      'receivers.A-1.spill',
      'receivers..x',
      'toString',
      '',
      'intercept_factor',
    ),
    fc.constantFrom('<=', '<', '>=', '>', '=', '=<', ''),
    fc.constantFrom('5%', '0.05', '40', '-1', '1e999', '%', '', 'NaN', '5 %', '1e-320'),
  )
  .map((parts) => parts.join(''));

const option = fc.oneof(
  fc.tuple(fc.constant('--set'), setText),
  fc.tuple(fc.constant('--vary'), varyText),
  fc.tuple(fc.constant('--require'), requirement),
  fc.tuple(
    fc.constant('--show'),
    fc.constantFrom('spill_fraction', 'spill', 'p', '', ',', 'x', 'peak_flux,mean_flux', 'constructor'),
  ),
  fc.tuple(
    fc.constant('--seed'),
    fc.oneof(junk, fc.constantFrom('a', '', '--json', 'x'.repeat(201), '\u001b[31m')),
  ),
  // Nothing large: a trace of a million rays is no test of the command line.
  fc.tuple(
    fc.constant('--rays'),
    fc.constantFrom('0', '1', '200', '1e3', '-5', '1.5', 'k', '1e13', '', '0x10', '1__0'),
  ),
  fc.tuple(fc.constant('--to'), fc.constantFrom('0', '50%', '51%', '-1%', '0.1', 'x', '', '1e-9')),
  fc.tuple(fc.constant('--max-rays'), fc.constantFrom('0', '1e3', 'x', '')),
  fc.tuple(fc.constant('--workers'), fc.constantFrom('0', '257', '-1', 'x', '', '0.5', '1e1')),
  fc.tuple(
    fc.constant('--replay'),
    fc.constantFrom('0', '0:0', '3:12', '99:0', ':', '-1', '1e3', '', '999999999999999:999999999999999'),
  ),
  fc.tuple(
    fc.constant('--out'),
    fc.constantFrom('taken', 'taken/x', '/proc/x', '', '\u0000', 'x'.repeat(300), '/dev/null'),
  ),
  fc.tuple(
    fc.constantFrom('--json', '--quiet', '--resume', '--help', '--version', '-h', '--', '-', '--nope', '-x'),
  ),
  fc.tuple(fc.oneof(junk, fc.constantFrom('good.yaml', 'bad.yaml', 'taken', '.', 'none.yaml', '-'))),
);

const commandLine = fc
  .record({
    command: fc.oneof(
      { weight: 12, arbitrary: fc.constantFrom('check', 'trace', 'sweep', 'compare') },
      { weight: 1, arbitrary: fc.constantFrom('init', 'schema', 'help', 'trce', '', '--help') },
    ),
    scenes: fc.array(fc.constantFrom('good.yaml', 'good.yaml', 'good.yaml', '-', 'bad.yaml', 'none'), {
      minLength: 1,
      maxLength: 2,
    }),
    vary: fc.option(varyText, { freq: 8 }),
    options: fc.array(option, { maxLength: 5 }),
    target: fc.boolean(),
  })
  .map(({ command, scenes, vary, options, target }) => {
    const limited = target ? ['--to', '50%', '--max-rays', '1e3'] : ['--rays', '200'];
    const traces = ['trace', 'sweep', 'compare'].includes(command);
    return [
      command,
      ...(traces ? [...limited, '--workers', '0'] : []),
      ...(command === 'sweep' && vary !== null ? ['--vary', vary] : []),
      ...(command === 'compare' ? scenes : scenes.slice(0, 1)),
      ...options.flat(),
    ];
  });

describe('command lines', () => {
  const tried = cases(20_000, 250);
  it(
    `${tried} of them end with a documented exit code, a message, and no crash, hang or NaN`,
    async () => {
      const codes = new Map<number, number>();
      await fc.assert(
        fc.asyncProperty(commandLine, async (args) => {
          const ended = await runInProcess(args, sceneTemplate());
          codes.set(ended.code, (codes.get(ended.code) ?? 0) + 1);
          expect(faultOf(ended, args.join(' '))).toBeNull();
        }),
        { seed: SEED, numRuns: tried },
      );
      expect([...codes.keys()]).toEqual(expect.arrayContaining([0, 2]));
    },
    CAMPAIGN_TIMEOUT,
  );

  const texts = cases(100_000, 3000);
  it(
    `${texts} texts of --set, --vary and --require are read or refused in words, never thrown at`,
    () => {
      fc.assert(
        fc.property(setText, varyText, requirement, (set, vary, condition) => {
          const override = parseOverride(set);
          if (!override.ok) expect(override.error.option).toBe(set);
          const varied = parseVary(vary);
          if (varied.ok) expect(varied.value.values.every(Number.isFinite)).toBe(true);
          else expect(varied.message).toMatch(/\S/);
          const required = parseRequirement(condition);
          if (required.ok) expect(Number.isFinite(required.value.bound)).toBe(true);
          else expect(required.message).toMatch(/\S/);
        }),
        { seed: SEED, numRuns: texts },
      );
    },
    CAMPAIGN_TIMEOUT,
  );
});
