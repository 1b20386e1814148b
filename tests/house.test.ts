import { readdirSync, readFileSync, statSync } from 'node:fs';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, test } from 'vitest';

const root = path.resolve(path.dirname(fileURLToPath(import.meta.url)), '..');

function filesUnder(folder: string): string[] {
  return readdirSync(path.join(root, folder)).flatMap((entry) => {
    const relative = path.join(folder, entry);
    return statSync(path.join(root, relative)).isDirectory() ? filesUnder(relative) : [relative];
  });
}
const sources = filesUnder('src').filter((file) => file.endsWith('.ts'));

describe('the house keeps its own rules', () => {
  test('no file or folder has a name that excludes nothing', () => {
    const buckets = sources.filter((file) =>
      file.split(path.sep).some((part) => /^(utils?|helpers?|common|misc)(\.ts)?$|manager/i.test(part)),
    );
    expect(buckets).toEqual([]);
  });

  test("no two files differ by capitals alone, which half the world's file systems cannot hold", () => {
    const lower = sources.map((file) => file.toLowerCase());
    expect(sources.filter((_, i) => lower.indexOf(lower[i]) !== i)).toEqual([]);
  });

  test('a pixel is branded in one place only', () => {
    const casts = sources.filter(
      (file) =>
        file !== path.join('src', 'camera', 'pixel.ts') &&
        /\bas (unknown as )?(UvPx|ColourPx)\b/.test(readFileSync(path.join(root, file), 'utf8')),
    );
    expect(casts).toEqual([]);
  });

  test('every floor says in a README what lives in it and where to start', () => {
    const floors = readdirSync(path.join(root, 'src')).filter((entry) =>
      statSync(path.join(root, 'src', entry)).isDirectory(),
    );
    const silent = floors.filter((floor) => {
      try {
        return readFileSync(path.join(root, 'src', floor, 'README.md'), 'utf8').split('\n').length < 4;
      } catch {
        return true;
      }
    });
    expect(silent).toEqual([]);
  });

  test('the invented world imports mathematics and nothing else of ours', () => {
    const strangers = sources
      .filter((file) => file.startsWith(path.join('src', 'simulate')))
      .flatMap((file) =>
        [...readFileSync(path.join(root, file), 'utf8').matchAll(/from '(\.\.?\/[^']+)'/g)]
          .map((match) => path.normalize(path.join(path.dirname(file), match[1])))
          .filter((target) => !/^src\/(simulate|maths)\//.test(target.split(path.sep).join('/')))
          .map((target) => `${file} -> ${target}`),
      );
    expect(strangers).toEqual([]);
  });
});
