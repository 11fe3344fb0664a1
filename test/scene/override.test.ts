import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { loadScene } from '../../src/scene/load.js';
import { numberAt, overrideAt, parseOverride, parsePath } from '../../src/scene/override.js';
import { formatSceneErrors } from '../../src/scene/print.js';
import type { Scene } from '../../src/scene/types.js';

function example(name: string): string {
  return readFileSync(new URL(`./examples/${name}`, import.meta.url), 'utf8');
}

const FIELD = example('field.yaml');
const DISH_ROW = example('dish-row.yaml');
const TROUGH = example('trough-tube.yaml');

function read(option: string) {
  const outcome = parseOverride(option);
  if (!outcome.ok) throw new Error(outcome.error.message);
  return outcome.override;
}

function loadWith(text: string, ...options: readonly string[]) {
  return loadScene(text, { file: 'test.yaml', overrides: options.map(read) });
}

function sceneWith(text: string, ...options: readonly string[]): Scene {
  const outcome = loadWith(text, ...options);
  if (!outcome.ok) throw new Error(formatSceneErrors(outcome.errors, text, 'test.yaml', { colour: false }));
  return outcome.scene;
}

function errorsWith(text: string, ...options: readonly string[]) {
  const outcome = loadWith(text, ...options);
  return outcome.ok ? [] : outcome.errors;
}

describe('reading path=value', () => {
  it.each([
    ['films.roll_a.reflectance=0.8', ['films', 'roll_a', 'reflectance'], 0.8],
    ['rows[0].pitch_m=1.5', ['rows', 0, 'pitch_m'], 1.5],
    ['rows.A.pitch_m=1.5', ['rows', 'A', 'pitch_m'], 1.5],
    ['films."roll.a".reflectance=1', ['films', 'roll.a', 'reflectance'], 1],
    ["films.'roll a=b'.reflectance=1", ['films', 'roll a=b', 'reflectance'], 1],
    ['films."say \\"x\\"".reflectance=1', ['films', 'say "x"', 'reflectance'], 1],
    ['rows[0].centre_m[2]=-3', ['rows', 0, 'centre_m', 2], -3],
    ['title=a = b', ['title'], 'a = b'],
    ['title="17"', ['title'], '17'],
    ['sun.sunshape={kind: disc}', ['sun', 'sunshape'], { kind: 'disc' }],
    ['rows[0].centre_m=[1, 2, 3]', ['rows', 0, 'centre_m'], [1, 2, 3]],
    ['bounce_limit=4 # four', ['bounce_limit'], 4],
    ['x=null', ['x'], null],
  ])('%s', (option, path, value) => {
    expect(read(option)).toEqual({ path, value, option });
  });

  it.each([
    'reflectance',
    '=1',
    '.a=1',
    'a..b=1',
    'a.[0]=1',
    '[0]=1',
    'a[x]=1',
    'a[0]b=1',
    'a b=1',
    'a=',
    'a=[1',
    'a=1\nb: 2',
    'a=&x 1',
    'a=*x',
    'a=.nan',
    'a={__proto__: 1}',
    '__proto__.x=1',
    'a.constructor=1',
    `a=${'['.repeat(10_000)}`,
    'a="',
    '',
  ])('refuses %j as an option that cannot be read', (option) => {
    const outcome = parseOverride(option);
    expect(outcome).toMatchObject({ ok: false, error: { code: 'bad_option', option, line: null } });
    if (outcome.ok) return;
    const printed = formatSceneErrors([outcome.error], '', 'test.yaml', { colour: false });
    expect(printed).toContain('--set');
    expect(printed).toContain('allowed:');
  });

  it('paths alone', () => {
    expect(parsePath('rows.A.pitch_m')).toEqual({ ok: true, path: ['rows', 'A', 'pitch_m'] });
    expect(parsePath('rows.A.pitch_m=1').ok).toBe(false);
    expect(overrideAt(['rows', 0, 'pitch_m'], 1.5)).toEqual({
      path: ['rows', 0, 'pitch_m'],
      value: 1.5,
      option: 'rows[0].pitch_m=1.5',
    });
  });
});

describe('values from options', () => {
  it('replace values of the file before it is checked', () => {
    expect(sceneWith(FIELD, 'films.roll_a.reflectance=0.7').films[0].reflectance.value).toEqual([0.7]);
    expect(sceneWith(FIELD, 'rows.A.pitch_m=1.5').rows[0].pitch).toBe(1.5);
    expect(sceneWith(FIELD, 'rows[0].centre_m[2]=2').rows[0].centre).toEqual([0, 0, 2]);
    expect(sceneWith(FIELD, 'blockers.wall.size_m[2]=2').blockers[0]).toMatchObject({ size: [30, 0.2, 2] });
    const aperture = '{ shape: rectangle, width_m: 0.2, height_m: 0.16 }';
    const repaired = FIELD.replace(aperture, '{ shape: rectangle, width_m: -1, height_m: 0.16 }');
    expect(errorsWith(repaired)).not.toEqual([]);
    expect(sceneWith(repaired, 'dishes.seven_strip.receiver.aperture.width_m=0.2').hash).toBe(
      sceneWith(FIELD).hash,
    );
  });

  it('apply in order, the last one holds', () => {
    expect(sceneWith(FIELD, 'bounce_limit=5', 'bounce_limit=6').bounceLimit).toBe(6);
  });

  it('give a scene without a sky one, and change its kind', () => {
    const row = example('dish-row.yaml');
    expect(sceneWith(row, 'sky.kind=meinel').sky).toEqual({ kind: 'meinel', clearness: 1 });
    const hazy = sceneWith(row, 'sky.kind=hottel', 'sky.visibility=5_km', 'sky.clearness=0.9');
    expect(hazy.sky).toMatchObject({ kind: 'hottel', visibility: 5000, clearness: 0.9 });
    const changed = sceneWith(row, 'sky.kind=hottel', 'sky.visibility=5_km', 'sky.kind=meinel');
    expect(changed.sky).toEqual({ kind: 'meinel', clearness: 1 });
  });

  it('change the hash as the same change of the file does', () => {
    const edited = FIELD.replace('pitch_m: 1.35', 'pitch_m: 1.5');
    expect(sceneWith(FIELD, 'rows.A.pitch_m=1.5').hash).toBe(sceneWith(edited).hash);
    expect(sceneWith(FIELD, 'rows.A.pitch_m=1.35').hash).toBe(sceneWith(FIELD).hash);
  });

  it('create a key that is absent but known, starting from its default', () => {
    expect(sceneWith(DISH_ROW, 'dishes.seven_strip.tilt_setting_deg=5').dishes[0].tiltSetting).toBeCloseTo(
      0.0872665,
      6,
    );
    expect(sceneWith(DISH_ROW, 'sun.sunshape.circumsolar_ratio=0.2').sun.sunshape).toEqual({
      kind: 'circumsolar',
      circumsolarRatio: 0.2,
    });
    expect(
      sceneWith(DISH_ROW, 'dishes.seven_strip.receiver.offset_m[0]=0.1').dishes[0].receiver?.offset,
    ).toEqual([0.1, 0, 0]);
    expect(sceneWith(TROUGH, 'ground.height_m=-1').ground).toBe(-1);
    expect(sceneWith(TROUGH, 'facets.trough.facing.elevation_deg=80').facets[0].facing.azimuth).toBe(0);
  });

  it('replace both slope errors by one, and one by two', () => {
    const both = sceneWith(DISH_ROW, 'films.roll_a.slope_error_mrad=7').films[0];
    expect([both.slopeErrorAlong, both.slopeErrorAcross]).toEqual([0.007, 0.007]);
    const along = sceneWith(TROUGH, 'films.plain.slope_error_along_mrad=7').films[0];
    expect([along.slopeErrorAlong, along.slopeErrorAcross]).toEqual([0.007, 0.002]);
    const one = sceneWith(DISH_ROW, 'films.roll_a.slope_error_across_mrad=7').films[0];
    expect([one.slopeErrorAlong, one.slopeErrorAcross]).toEqual([0.004, 0.007]);
  });

  it('replace the other ways to say the same', () => {
    const film = sceneWith(TROUGH, 'films.plain.specularity_mrad=3', 'films.plain.reflectance=0.5').films[0];
    expect(film.lobes).toEqual([{ weight: 1, sigma: 0.003 }]);
    expect(film.reflectance).toEqual({ incidence: [0], value: [0.5] });
    const sun = sceneWith(DISH_ROW, 'sun.azimuth_deg=180', 'sun.elevation_deg=45').sun;
    expect(sun.direction.kind).toBe('angles');
  });

  it('drop the keys of the former kind', () => {
    expect(sceneWith(FIELD, 'sun.sunshape.kind=disc').sun.sunshape).toEqual({
      kind: 'disc',
      halfAngle: 4.65 / 1000,
    });
    expect(sceneWith(DISH_ROW, 'sun.sunshape.kind=point').sun.sunshape).toEqual({ kind: 'point' });
  });

  it('are themselves left as they were', () => {
    const override = read('sun.sunshape={kind: disc}');
    loadScene(FIELD, { file: 'x', overrides: [override, read('sun.sunshape.kind=point')] });
    expect(override.value).toEqual({ kind: 'disc' });
  });

  it.each([
    ['films.roll_a.reflectance=8', 'out_of_range', 'allowed: a number, 0 to 1'],
    ['films.roll_a.reflectence=0.8', 'unknown_key', 'nearest: reflectance'],
    ['films.roll_b.reflectance=0.8', 'bad_option', 'nearest: roll_a'],
    ['film.roll_a.reflectance=0.8', 'unknown_key', 'nearest: films'],
    ['rows.B.pitch_m=1', 'bad_option', 'allowed: A'],
    ['rows[7].pitch_m=1', 'bad_option', 'allowed: A'],
    ['rows.A.pitch_mm=1350', 'wrong_unit', 'nearest: pitch_m'],
    ['rows.A.pitch_m=wide', 'wrong_type', 'allowed: a number'],
    ['rows.A.pitch_m=0.2', 'inconsistent', 'allowed: at least 1.2 m'],
    ['rows.A.dish=seven_stripes', 'unknown_name', 'nearest: seven_strip'],
    ['title.x=1', 'bad_option', 'there is nothing inside it'],
    ['sun[0]=1', 'bad_option', 'sun is not a list'],
    ['toString.x=1', 'unknown_key', 'the keys title'],
    ['facets[0].film=roll_a', 'bad_option', 'the list is empty'],
    ['films.roll_a.lobes[0].sigma_mrad=3', 'bad_option', 'allowed: the whole list'],
    ['rows=3', 'wrong_type', 'allowed: a list'],
  ])('%s is refused: %s', (option, code, says) => {
    // `facets` is absent from the field, `rows` is there.
    const errors = errorsWith(FIELD, option);
    expect(errors).toHaveLength(1);
    expect(errors[0]).toMatchObject({ code, option, line: null, column: null, endColumn: null });
    const printed = formatSceneErrors(errors, FIELD, 'test.yaml', { colour: false });
    expect(printed).toContain(`--set ${option}`);
    expect(printed).toContain(says);
    expect(printed).not.toContain('^');
  });

  it('stand after the errors of the file', () => {
    const text = FIELD.replace('bounce_limit: 2', 'bounce_limit: 200');
    expect(errorsWith(text, 'sun.dni_w_m2=9000').map((error) => error.path)).toEqual([
      'bounce_limit',
      'sun.dni_w_m2',
    ]);
  });
});

describe('the number at a path', () => {
  const at = (text: string, path: string) => {
    const parsed = parsePath(path);
    if (!parsed.ok) throw new Error(parsed.error.message);
    return numberAt(text, parsed.path);
  };

  it.each([
    ['films.roll_a.reflectance', 0.84, 0, 1],
    ['rows.A.pitch_m', 1.35, 0.0001, 200],
    ['rows[0].dishes', 20, 1, 2000],
    ['dishes.seven_strip.receiver.aperture.width_m', 0.2, 0.0001, 50],
    ['rows.A.centre_m[2]', 1, -20_000, 20_000],
    ['sun.sunshape.darkening', 0.6, 0, 1],
    ['sun.sunshape.half_angle_mrad', null, 0.1, 50],
    ['films.roll_a.slope_error_along_mrad', null, 0, 60],
    ['dishes.seven_strip.receiver.offset_m[1]', 0, -20_000, 20_000],
  ])('%s is %s, from %s to %s', (path, value, min, max) => {
    expect(at(FIELD, path)).toEqual({ ok: true, value, allowed: { min, max } });
  });

  it.each([
    'title',
    'rows',
    'rows.A.dish',
    'films.roll_a',
    'films.roll_b.reflectance',
    'films.roll_a.reflectence',
    'sun.sunshape',
    'x.y.z',
  ])('%s is no number', (path) => {
    const outcome = at(FIELD, path);
    expect(outcome).toMatchObject({ ok: false, errors: [{ code: 'bad_option', line: null }] });
  });

  it('names the nearest key', () => {
    expect(at(FIELD, 'films.roll_a.reflectence')).toMatchObject({ errors: [{ suggestion: 'reflectance' }] });
  });

  it('leaves the reasons of an unreadable file to it', () => {
    expect(at('a: [', 'a')).toMatchObject({ ok: false, errors: [{ code: 'syntax', line: 1 }] });
  });
});
