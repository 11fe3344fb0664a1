import { readdir, readFile, writeFile } from 'node:fs/promises';
import { describe, expect, it } from 'vitest';
import { type CliResult, runCli, useScratchFolder, withoutRun } from '../support/cli.js';

const folder = useScratchFolder();
const SHORT = ['--rays', '2e4'];

function expectPlainFailure(result: CliResult, code: number, message: RegExp): void {
  expect(result.stderr).toMatch(message);
  expect(result.stderr).not.toMatch(/^\s+at .*:\d+:\d+/m);
  expect(result.stderr).not.toMatch(/fault in rowfocus/);
  expect(result.stdout).toBe('');
  expect(result.code).toBe(code);
}

describe('help and version', () => {
  it('without arguments: a short help with two examples', async () => {
    const { code, stdout, stderr } = await runCli([]);
    expect({ code, stderr }).toEqual({ code: 0, stderr: '' });
    expect(stdout).toMatch(/rowfocus init/);
    expect(stdout).toMatch(/rowfocus trace scene\.yaml/);
    expect(stdout.split('\n').length).toBeLessThan(12);
  });

  it.each(['check', 'trace', 'sweep', 'day', 'track', 'compare', 'verify', 'init', 'schema'])(
    '%s --help has an example',
    async (command) => {
      const { code, stdout } = await runCli([command, '--help']);
      expect(code).toBe(0);
      expect(stdout).toMatch(new RegExp(`Examples?:\\n {2}rowfocus ${command}`));
    },
  );

  it('--version prints the version', async () => {
    const { code, stdout } = await runCli(['--version']);
    expect(code).toBe(0);
    expect(stdout).toMatch(/^\d+\.\d+\.\d+\n$/);
  });
});

describe('bad usage ends with exit code 2 and says why', () => {
  it.each<readonly [readonly string[], RegExp]>([
    [['trce'], /unknown command 'trce'[\s\S]*trace/],
    [['trace'], /missing required argument/],
    [['trace', '@', '--ray', '5'], /unknown option '--ray'[\s\S]*--rays/],
    [['trace', '@', '--rays', 'many'], /whole number of rays/],
    [['trace', '@', '--rays', '0'], /1 to 1e12/],
    [['trace', '@', '--rays', '1e13'], /1 to 1e12/],
    [['trace', '@', '--rays', '1e6', '--to', '1%'], /cannot be used with/],
    [['trace', '@', '--to', '0.5'], /per cent sign/],
    [['trace', '@', '--max-rays', '1e6'], /goes with '--to'/],
    [['trace', '@', '--workers', '257'], /0 .* to 256/],
    [['trace', '@', '--workers', '-1'], /0 .* to 256/],
    [['trace', '@', '--seed', ''], /1 to 200 characters/],
    [['trace', '@', '--replay', 'first'], /BATCH:INDEX/],
    [['trace', '@', '--replay', '99:0'], /there is no ray 99:0/],
    [['trace', '@', '--replay', '0:0', '--out', 'x'], /leave '--out' away/],
    [['trace', '@', '@'], /too many arguments/],
    [['trace', '@', '--out', ''], /'--out' needs the name of a folder/],
    [['trace', '@', '--set', 'films'], /path=value/],
    [['trace', '@', '--set', 'films.roll_a.reflectanse=0.5'], /reflectance/],
    [['trace', '@', '--set', 'films.roll_a.reflectance=7'], /reflectance=7[\s\S]*allowed/],
    [['sweep', '@'], /--vary/],
    [['sweep', '@', '--vary', 'films.roll_a.reflectance'], /path=from:to:step/],
    [['sweep', '@', '--vary', 'films.roll_a.reflectance=0.5:0.9'], /from:to:step/],
    [['sweep', '@', '--vary', 'films.roll_a.reflectance=0.9:0.5:0.1'], /negative/],
    [['sweep', '@', '--vary', 'films.roll_a.reflectanse=0.5:0.9:0.1'], /reflectance/],
    [['sweep', '@', '--vary', 'films.roll_a.reflectance=0.5:1.5:0.1'], /does not allow/],
    [['sweep', '@', '--vary', 'title=1:2:1'], /not a single number/],
    [['sweep', '@', '--vary', 'sun.elevation_deg=40:50:5', '--require', 'spil<=5%'], /spill/],
    [
      ['sweep', '@', '--vary', 'sun.elevation_deg=40:50:5', '--show', 'heat'],
      /no figure "heat"[\s\S]*Known: spill_fraction/,
    ],
    [['compare', '@'], /at least two/],
    [['compare', '-', '-'], /only one/],
  ])('%j', async (args, message) => {
    const given = args.map((arg) => (arg === '@' ? folder.scene() : arg));
    expectPlainFailure(await runCli(given), 2, message);
  });
});

describe('scenes that cannot be read end with exit code 2', () => {
  it('a missing file', async () => {
    expectPlainFailure(await runCli(['check', folder.path('none.yaml')]), 2, /no such file/);
  });

  it('a folder', async () => {
    expectPlainFailure(await runCli(['trace', folder.path()]), 2, /it is a folder/);
  });

  it('a file of bytes', async () => {
    await writeFile(folder.path('bytes.yaml'), Buffer.from([0x89, 0x50, 0, 1, 2, 0xff]));
    expectPlainFailure(await runCli(['trace', folder.path('bytes.yaml')]), 2, /no text file/);
    await writeFile(folder.path('latin.yaml'), Buffer.from('title: caf\xe9\n', 'latin1'));
    expectPlainFailure(await runCli(['check', folder.path('latin.yaml')]), 2, /UTF-8/);
  });

  it('all errors of the file and of the options at once, with place and caret', async () => {
    const text = (await readFile(folder.scene(), 'utf8'))
      .replace('reflectance: 0.84', 'reflectance: 1.84')
      .replace('pitch_m: 1.35', 'pitch_mm: 1350');
    await writeFile(folder.path('two faults.yaml'), text);
    const result = await runCli(['check', folder.path('two faults.yaml'), '--set', 'ground.height_m=low']);
    expectPlainFailure(result, 2, /two faults\.yaml:\d+:\d+ {2}films\.roll_a\.reflectance/);
    expect(result.stderr).toMatch(/pitch_mm/);
    expect(result.stderr).toMatch(/--set ground\.height_m=low/);
    expect(result.stderr).toMatch(/\^/);
    expect(result.stderr).toMatch(/3 errors/);
  });

  it('errors of all files of a comparison', async () => {
    await writeFile(folder.path('bad.yaml'), 'title: 5\n');
    const result = await runCli(['compare', folder.path('bad.yaml'), folder.path('none.yaml')]);
    expectPlainFailure(result, 2, /bad\.yaml:1:\d[\s\S]*none\.yaml: there is no such file/);
  });
});

describe('what cannot be done ends with exit code 1 and one sentence', () => {
  it('no facet faces the sun', async () => {
    const args = ['trace', folder.scene(), '--set', 'sun.azimuth_deg=0', '--set', 'sun.elevation_deg=5'];
    expectPlainFailure(await runCli(args), 1, /^error: No facet faces the sun/);
  });

  it('the sun is below the horizon', async () => {
    const args = ['trace', folder.scene(), '--set', 'sun.date_time=2026-03-20T23:00:00+01:00'];
    expectPlainFailure(await runCli(args), 1, /below the horizon/);
  });

  it('the output folder cannot be made: found out before anything is traced', async () => {
    const args = ['trace', folder.scene(), '--rays', '1e12', '--out', `${folder.scene()}/results`];
    expectPlainFailure(await runCli(args), 1, /cannot write .*results/);
  });

  it('the maps would not fit into memory', async () => {
    const sets = ['rows.A.dishes=15', 'dishes.seven_strip.receiver.cells=1024'];
    const args = ['trace', folder.scene(), ...sets.flatMap((set) => ['--set', set])];
    expectPlainFailure(await runCli(args), 1, /memory.*"cells"/);
  });
});

describe('arguments that carry control characters', () => {
  it.each([
    [['\u001b[31mtrace']],
    [['trace', '--\u001b[31mrays', '1']],
    [['trace', 'scene.yaml', '--rays', '\u001b[31m1']],
  ])('%j: exit 2, and none of them reaches the terminal', async (args) => {
    const { code, stderr } = await runCli(args);
    expect(code).toBe(2);
    expect(stderr.replaceAll('\n', '')).not.toMatch(/\p{Cc}/u);
  });
});

describe('check', () => {
  it('says what was understood and traces nothing', async () => {
    const { code, stdout, stderr } = await runCli(['check', folder.scene()]);
    expect({ code, stderr }).toEqual({ code: 0, stderr: '' });
    for (const part of [
      /7 facets, 1\.18 m²/,
      /focal length +2 m along the row, 2 m across/,
      /f\/D +1\.67/,
      /rim angle +22\.5/,
      /concentration 46\.4/,
      /up 2\.732 m/,
      /incidence +0°/,
      /memory +about/,
      /assuming 4 million rays a second/,
    ]) {
      expect(stdout).toMatch(part);
    }
  });

  it('--json is one document with the same numbers', async () => {
    const { stdout } = await runCli(['check', folder.scene(), '--json', '--rays', '1e8']);
    const document = JSON.parse(stdout);
    expect(document).toMatchObject({ kind: 'check', facets: 7, warnings: [] });
    expect(document.dishes[0].rim_angle_deg).toBeCloseTo(22.58, 2);
    expect(document.estimate.rays).toBeGreaterThan(5e7);
    expect(document.estimate.time_s).toBeGreaterThan(0);
  });

  it('prints warnings of the physics', async () => {
    const sets = [
      'dishes.seven_strip.receiver.window.width_m=0.2',
      'dishes.seven_strip.receiver.window.height_m=0.2',
    ];
    const { code, stdout } = await runCli([
      'check',
      folder.scene(),
      ...sets.flatMap((set) => ['--set', set]),
    ]);
    expect(code).toBe(0);
    expect(stdout).toMatch(/Warnings[\s\S]*window/);
  });

  it('reads a scene from standard input', async () => {
    const { code, stdout } = await runCli(['check', '-'], { input: await readFile(folder.scene(), 'utf8') });
    expect(code).toBe(0);
    expect(stdout).toMatch(/standard input/);
  });
});

describe('trace', () => {
  it('prints figures with errors on standard output, nothing on standard error, and writes no files', async () => {
    const before = await readdir(folder.path());
    const { code, stdout, stderr } = await runCli(['trace', folder.scene(), ...SHORT], {
      cwd: folder.path(),
    });
    expect({ code, stderr }).toEqual({ code: 0, stderr: '' });
    expect(stdout).toMatch(/spill +[\d.]+ ± [\d.]+ %/);
    expect(stdout).toMatch(/Caution/);
    expect(await readdir(folder.path())).toEqual(before);
  });

  it('--json is one document, the same bytes for any number of workers but for `run`', async () => {
    // Quiet: on a busy machine a run takes seconds, and then tells how far it is.
    const args = ['trace', folder.scene(), '--rays', '3e5', '--json', '--quiet', '--workers'];
    const runs: CliResult[] = [];
    for (const workers of ['0', '1', '2', '3']) runs.push(await runCli([...args, workers]));
    for (const { code, stdout, stderr } of runs) {
      expect({ code, stderr }).toEqual({ code: 0, stderr: '' });
      expect(withoutRun(stdout)).toBe(withoutRun(runs[0].stdout));
    }
    const document = JSON.parse(runs[3].stdout);
    expect(document.run.workers).toBe(3);
    expect(document).toMatchObject({ schema_version: 1, kind: 'trace', target: null, target_reached: true });
  });

  it('another seed gives other bytes (so that the check above can fail)', async () => {
    const args = ['trace', folder.scene(), ...SHORT, '--json'];
    const [first, second] = [await runCli(args), await runCli([...args, '--seed', 'other'])];
    expect(withoutRun(first.stdout)).not.toBe(withoutRun(second.stdout));
  });

  it('--out writes the files that the document lists, and no others', async () => {
    const out = folder.path('results of one');
    const { code, stdout } = await runCli(['trace', folder.scene(), ...SHORT, '--out', out, '--json']);
    expect(code).toBe(0);
    const document = JSON.parse(stdout);
    const listed: string[] = document.files.map(({ file }: { file: string }) => file);
    expect((await readdir(out)).sort()).toEqual([...listed].sort());
    expect(listed).toEqual(
      expect.arrayContaining([
        'result.json',
        'ledger.csv',
        'intercept-curve.csv',
        'intercept-curve.png',
        'A-1-flux.csv',
        'A-1-flux.png',
        'A-1-map.png',
      ]),
    );
    expect(await readFile(`${out}/result.json`, 'utf8')).toBe(stdout);
    const png = await readFile(`${out}/A-1-flux.png`);
    expect(png.subarray(1, 4).toString()).toBe('PNG');
  });

  it('with many receivers, their files go into a folder of their own', async () => {
    const out = folder.path('results of many');
    const { code, stdout } = await runCli([
      'trace',
      folder.scene(),
      ...SHORT,
      '--set',
      'rows.A.dishes=13',
      '--set',
      'dishes.seven_strip.receiver.cells=16',
      '--out',
      out,
    ]);
    expect(code).toBe(0);
    expect(stdout).toMatch(/receivers\/ with 39 files/);
    expect((await readdir(`${out}/receivers`)).length).toBe(39);
  });

  it('a target that is not reached within --max-rays is no failure, but told', async () => {
    const args = ['trace', folder.scene(), '--to', '0.001%', '--max-rays', '5e4'];
    const text = await runCli(args);
    expect(text.code).toBe(0);
    expect(text.stdout).toMatch(/was not reached/);
    const json = JSON.parse((await runCli([...args, '--json'])).stdout);
    expect(json).toMatchObject({ target: 1e-5, target_reached: false });
  });

  it('--replay prints one path in words and as JSON', async () => {
    const args = ['trace', folder.scene(), '--replay', '3:120'];
    const text = await runCli(args);
    expect(text.code).toBe(0);
    expect(text.stdout).toMatch(/Ray 3:120[\s\S]*incidence[\s\S]*Fate: /);
    const json = JSON.parse((await runCli([...args, '--json'])).stdout);
    expect(json).toMatchObject({ kind: 'replay', batch: 3, index: 120 });
    expect(json.path.length).toBeGreaterThanOrEqual(2);
  });
});

describe('sweep', () => {
  const vary = ['--vary', 'dishes.seven_strip.receiver.aperture.diameter_m=0.16:0.24:0.04'];

  it('gives a table, the build tolerance in a sentence, CSV and pictures', async () => {
    const out = folder.path('sweep of one');
    const args = [
      'sweep',
      folder.scene(),
      ...vary,
      ...SHORT,
      '--require',
      'spill_fraction<=0.05',
      '--out',
      out,
      // On a busy machine it lasts long enough for a progress line.
      '--quiet',
    ];
    const { code, stdout, stderr } = await runCli(args);
    expect({ code, stderr }).toEqual({ code: 0, stderr: '' });
    expect(stdout).toMatch(/spill_fraction<=0\.05 holds from .*diameter_m = 0\.17\d* \(95 % interval/);
    expect(await readdir(out)).toEqual(
      expect.arrayContaining(['result.json', 'sweep.csv', 'sweep-spill_fraction.png']),
    );
    expect((await readFile(`${out}/sweep.csv`, 'utf8')).trim().split('\n').length).toBe(4);
  });

  it('of two keys, as one JSON document, the same bytes for any number of workers', async () => {
    const args = [
      'sweep',
      folder.scene(),
      ...vary,
      '--vary',
      'sun.elevation_deg=59:61:1',
      '--rays',
      '1e4',
      '--json',
    ];
    const [first, second] = [
      await runCli([...args, '--workers', '0']),
      await runCli([...args, '--workers', '2']),
    ];
    expect(JSON.parse(first.stdout).points.length).toBe(9);
    expect(JSON.parse(first.stdout).cautions.join(' ')).toContain('licensed practice');
    expect(withoutRun(first.stdout)).toBe(withoutRun(second.stdout));
  });

  it.each<readonly [string, RegExp]>([
    ['dishes.seven_strip.strips.count=1:2:0.5', /^At .*count=1\.5, from --vary:\n\n--vary .*count=1\.5 /],
    [
      'dishes.seven_strip.receiver.aperture.diameter_m=0.2:0.4:0.1',
      /^At .*diameter_m=0\.3, from --vary:[\s\S]*:\d+:\d+ {2}dishes\.seven_strip\.receiver\.body/,
    ],
  ])('a value of --vary that the scene does not allow is not blamed on --set: %s', async (text, message) => {
    const result = await runCli(['sweep', folder.scene(), ...SHORT, '--vary', text]);
    expectPlainFailure(result, 2, message);
    expect(result.stderr).not.toContain('--set');
  });

  it('a mistake in --set stays one of --set', async () => {
    const result = await runCli(['sweep', folder.scene(), ...vary, '--set', 'ground.height_m=low']);
    expectPlainFailure(result, 2, /^--set ground\.height_m=low/);
  });

  it('names the point that cannot be built before anything is traced', async () => {
    const args = [
      'sweep',
      folder.scene(),
      '--vary',
      'sun.azimuth_deg=0:180:180',
      '--set',
      'sun.elevation_deg=5',
      ...SHORT,
    ];
    const { code, stderr } = await runCli(args);
    expect(code).toBe(1);
    expect(stderr).toMatch(/No facet faces the sun/);
  });
});

describe('compare', () => {
  it('gives paired differences, CSV and a picture', async () => {
    const text = await readFile(folder.scene(), 'utf8');
    await writeFile(folder.path('better film.yaml'), text.replace('reflectance: 0.84', 'reflectance: 0.94'));
    const out = folder.path('compared');
    const args = [
      'compare',
      folder.scene(),
      folder.path('better film.yaml'),
      ...SHORT,
      '--out',
      out,
      '--quiet',
    ];
    const { code, stdout, stderr } = await runCli(args);
    expect({ code, stderr }).toEqual({ code: 0, stderr: '' });
    expect(stdout).toMatch(/B puts more power through its openings/);
    expect(await readdir(out)).toEqual(expect.arrayContaining(['result.json', 'compare.csv', 'compare.png']));
    const document = JSON.parse(await readFile(`${out}/result.json`, 'utf8'));
    expect(document.differences[0].figures.intercepted_power.paired).toBe(true);
    expect(document.cautions.join(' ')).toContain('licensed practice');
    expect(document.differences[0].figures.intercepted_power.ratio.value).toBeCloseTo(0.94 / 0.84, 9);
  });
});

describe('init and schema', () => {
  it('init writes a scene that checks, and never overwrites', async () => {
    const file = folder.path('new folder/first.yaml');
    const first = await runCli(['init', file]);
    expect(first.code).toBe(0);
    expect(first.stdout).toMatch(/rowfocus check/);
    expect((await runCli(['check', file])).code).toBe(0);
    await writeFile(file, 'mine');
    expectPlainFailure(await runCli(['init', file]), 1, /is there already/);
    expect(await readFile(file, 'utf8')).toBe('mine');
    const other = await runCli(['init', folder.path('new folder/second.yaml')]);
    expect(other.code).toBe(0);
    expect(other.stdout).toMatch(/Left as it is: .*rowfocus\.schema\.json/);
  });

  it('schema prints what init writes', async () => {
    const { code, stdout } = await runCli(['schema']);
    expect(code).toBe(0);
    expect(JSON.parse(stdout).properties.films).toBeDefined();
    await runCli(['init', folder.path('third/scene.yaml')]);
    expect(await readFile(folder.path('third/rowfocus.schema.json'), 'utf8')).toBe(stdout);
  });

  it('a reader that stops early is no failure', async () => {
    const result = await runCli(['schema'], { closeStdout: true });
    expect(result).toMatchObject({ code: 0, stderr: '' });
  });
});

describe('colour', () => {
  it('none where the stream is no terminal', async () => {
    const bad = await runCli(['check', folder.path('none.yaml')]);
    const good = await runCli(['trace', folder.scene(), ...SHORT]);
    expect(bad.stderr + good.stdout).not.toContain('\u001b');
  });
});
