import { mkdtemp, readdir, readFile, rm, symlink, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { basename, join, resolve } from 'node:path';
import fc from 'fast-check';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { fileSlugs, OutputError, outputError, probeFolder, writeFiles } from '../../src/report/files.js';
import { HOSTILE_NAME } from '../support/synthetic-result.js';

describe('fileSlugs', () => {
  it('keeps plain names', () => {
    expect(fileSlugs(['A1-04', 'line_2', 'v1.5'])).toEqual(['A1-04', 'line_2', 'v1.5']);
  });

  it.each([
    '',
    '.',
    '..',
    '../x',
    '/etc/passwd',
    'a\\b',
    'CON',
    'nul.txt',
    'com1',
    'Empfänger',
    '受信機',
    ' ',
    '-rf',
    '.hidden',
    HOSTILE_NAME,
    'x'.repeat(400),
  ])('makes a file name of %j', (name) => {
    const [slug] = fileSlugs([name]);
    expect(slug).toMatch(/^[A-Za-z0-9_][A-Za-z0-9._-]*$/);
    expect(slug.length).toBeLessThanOrEqual(100);
    expect(slug).not.toMatch(/^(con|prn|aux|nul|com\d|lpt\d)(\.|$)/i);
    expect(slug.endsWith('.')).toBe(false);
  });

  it('tells names apart that differ in case, in signs or not at all', () => {
    const slugs = fileSlugs(['a', 'A', 'a', 'a/b', 'a b', 'a?b', 'ä', '']);
    expect(new Set(slugs.map((slug) => slug.toLowerCase())).size).toBe(slugs.length);
  });

  it('does not let a strange name take the file of a plain one', () => {
    const [strange] = fileSlugs(['a b']);
    const both = fileSlugs(['a b', strange]);
    expect(both[1]).toBe(strange);
    expect(both[0]).not.toBe(strange);
  });

  it('never collides, leaves the folder or is empty, for any names', () => {
    const name = fc.oneof(
      fc.string({ unit: 'binary' }),
      fc.constantFrom('a', 'A', 'a-2', 'a b', '..', 'CON'),
    );
    fc.assert(
      fc.property(fc.array(name, { maxLength: 12 }), (names) => {
        const slugs = fileSlugs(names);
        expect(new Set(slugs.map((slug) => slug.toLowerCase())).size).toBe(names.length);
        const escaping = slugs.filter(
          (slug) => basename(resolve('/out', slug)) !== slug || !/^[\x21-\x7e]+$/.test(slug),
        );
        expect(escaping).toEqual([]);
      }),
      { seed: 7, numRuns: 200 },
    );
  });
});

describe('writeFiles', () => {
  let folder = '';
  beforeEach(async () => {
    folder = await mkdtemp(join(tmpdir(), 'rowfocus-files-'));
  });
  afterEach(async () => {
    await rm(folder, { recursive: true, force: true });
  });

  it('makes the folder, writes text and bytes, and leaves no temporary file', async () => {
    const target = join(folder, 'deep', 'er');
    const bytes = Uint8Array.from([0, 255, 10, 13]);
    const paths = await writeFiles(target, [
      { name: 'a.txt', data: 'µ²' },
      { name: 'b.bin', data: bytes },
    ]);
    expect(paths).toEqual([join(target, 'a.txt'), join(target, 'b.bin')]);
    expect(await readFile(paths[0], 'utf8')).toBe('µ²');
    expect(new Uint8Array(await readFile(paths[1]))).toEqual(bytes);
    expect((await readdir(target)).sort()).toEqual(['a.txt', 'b.bin']);
  });

  it('replaces a file that is there', async () => {
    await writeFiles(folder, [{ name: 'a.txt', data: 'a long first text' }]);
    await writeFiles(folder, [{ name: 'a.txt', data: 'short' }]);
    expect(await readFile(join(folder, 'a.txt'), 'utf8')).toBe('short');
  });

  it.each(['', '.', '..', 'a/b', 'a\\b', 'a\0b'])('refuses the name %j', async (name) => {
    await expect(writeFiles(folder, [{ name, data: '' }])).rejects.toThrow(OutputError);
    expect(await readdir(folder)).toEqual([]);
  });

  it('says plainly that the folder is a file', async () => {
    const path = join(folder, 'taken');
    await writeFile(path, '');
    await expect(writeFiles(path, [{ name: 'a', data: '' }])).rejects.toThrow(/cannot write .*taken: .*file/);
    await expect(writeFiles(join(path, 'below'), [{ name: 'a', data: '' }])).rejects.toThrow(OutputError);
  });

  it('says plainly that a folder stands where the file should', async () => {
    await writeFiles(join(folder, 'a.txt'), []);
    const error = await writeFiles(folder, [{ name: 'a.txt', data: 'x' }]).catch((thrown: unknown) => thrown);
    expect(error).toBeInstanceOf(OutputError);
    expect(String((error as Error).message)).toMatch(/a folder of that name/);
    expect(await readdir(folder)).toEqual(['a.txt']);
  });

  it('turns a place that takes no files into a plain message', async () => {
    // A link into a place where nobody, not even the superuser, can make files.
    await symlink('/proc/self', join(folder, 'nowhere'));
    await expect(writeFiles(join(folder, 'nowhere', 'sub'), [{ name: 'a', data: 'x' }])).rejects.toThrow(
      /^cannot write .*: the system keeps that place for itself, so no files or folders can be made there$/,
    );
    await expect(probeFolder(join(folder, 'nowhere'))).rejects.toThrow(/keeps that place for itself/);
  });

  it('tries whether a folder takes files, makes it where it is not there, and leaves nothing in it', async () => {
    const target = join(folder, 'new', 'place');
    await probeFolder(target);
    expect(await readdir(target)).toEqual([]);
    await writeFile(join(folder, 'taken'), '');
    await expect(probeFolder(join(folder, 'taken'))).rejects.toThrow(/a file of that name is there already/);
  });

  it('names the code of a failure that has no words of its own', () => {
    const failure = Object.assign(new Error('ENODEV: no such device, mkdir'), {
      code: 'ENODEV',
      syscall: 'mkdir',
    });
    expect(outputError('x', failure).message).toBe('cannot write x: the system refuses it (ENODEV)');
  });
});
